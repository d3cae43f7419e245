package farm

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"

	"balk/geo"

	"github.com/paulmach/orb"
)

// Field is a field of the farm.
type Field struct {
	Number   int64            `json:"number"` // in this farm
	Name     string           `json:"name"`
	Official string           `json:"official,omitempty"` // the number that offices know it by
	Frame    string           `json:"frame,omitempty"`    // of the plate that its boundary is in; "" = WGS84, or not told
	Boundary orb.MultiPolygon `json:"-"`                  // degrees on WGS84
}

// Geo is the field as files of boundaries give it.
func (f Field) Geo(source string) geo.Field {
	return geo.Field{Name: f.Name, Number: int(f.Number), Source: source, Frame: f.Frame, Boundary: f.Boundary}
}

// field is the number of a field, which is added where it is new. One that the farm knows otherwise is refused.
func (t *tx) field(want Field) (int64, error) {
	all, err := t.Fields(t.ctx)
	if err != nil {
		return 0, err
	}
	for _, have := range all {
		sameName, sameOfficial := have.Name == want.Name, want.Official != "" && have.Official == want.Official
		sameGround := orb.Equal(have.Boundary, want.Boundary)
		switch {
		case !sameName && sameOfficial:
			return 0, fmt.Errorf("the field of the official number %s is %q in this farm, and %q here: one field has one name", have.Official, have.Name, want.Name)
		case !sameName && sameGround:
			return 0, fmt.Errorf("the field %q has the boundary of %q, which is in this farm: one field has one name", want.Name, have.Name)
		case sameName && want.Official != "" && have.Official != "" && !sameOfficial:
			return 0, fmt.Errorf("the field %q has the official number %s in this farm, and %s here", want.Name, have.Official, want.Official)
		case sameName && !sameGround:
			return 0, fmt.Errorf("the field %q has another boundary in this farm: %.4f ha there, %.4f ha here\nhint: a boundary that changed is a correction of kind boundary, or a field of another name (balk help farm)",
				want.Name, have.Geo("").Rough()/1e4, want.Geo("").Rough()/1e4)
		case sameName:
			if have.Official == "" && want.Official != "" {
				err = t.do("UPDATE field SET official = ? WHERE fid = ?", want.Official, have.Number)
			}
			return have.Number, err
		}
	}
	shape, err := blob(want.Boundary)
	if err != nil {
		return 0, err
	}
	return t.insert("INSERT INTO field (geom, name, official, frame) VALUES (?, ?, ?, ?)", shape, want.Name, said(want.Official), want.Frame)
}

// Fields are all fields, by name.
func (f *Farm) Fields(ctx context.Context) (all []Field, err error) {
	err = f.rows(ctx, func(r *sql.Rows) error {
		var one Field
		var shape []byte
		var official sql.NullString
		if err := r.Scan(&one.Number, &shape, &one.Name, &official, &one.Frame); err != nil {
			return err
		}
		one.Official = official.String
		place, err := placeOf(shape)
		if err == nil {
			one.Boundary, err = ground(place)
		}
		if err != nil {
			return fmt.Errorf("%s: field %d (%q): %w", f.path, one.Number, one.Name, err)
		}
		all = append(all, one)
		return nil
	}, "SELECT fid, geom, name, official, frame FROM field ORDER BY name")
	return all, err
}

// ground is a place as areas.
func ground(g orb.Geometry) (orb.MultiPolygon, error) {
	switch g := g.(type) {
	case orb.MultiPolygon:
		return g, nil
	case orb.Polygon:
		return orb.MultiPolygon{g}, nil
	case nil:
		return nil, errors.New("has no place")
	}
	return nil, fmt.Errorf("is a %s: must be an area", g.GeoJSONType())
}

// Find is the field of a name, an official number or a number of this farm, with # before it or without; or the only one whose name
// has the words in it, whatever their case.
func (f *Farm) Find(ctx context.Context, want string) (Field, error) {
	all, err := f.Fields(ctx)
	if err != nil {
		return Field{}, err
	}
	for _, is := range []func(Field) bool{
		func(x Field) bool { return x.Name == want }, func(x Field) bool { return x.Official == want && want != "" },
		func(x Field) bool { return strings.EqualFold(x.Name, want) }, func(x Field) bool { return fmt.Sprint("#", x.Number) == want },
		func(x Field) bool { return fmt.Sprint(x.Number) == want },
	} {
		if i := slices.IndexFunc(all, is); i >= 0 {
			return all[i], nil
		}
	}
	var meant []Field
	for _, x := range all {
		if want != "" && strings.Contains(strings.ToLower(x.Name), strings.ToLower(want)) {
			meant = append(meant, x)
		}
	}
	if len(meant) == 1 {
		return meant[0], nil
	}
	several := len(meant) > 1
	if several {
		all = meant
	}
	var names []string
	for _, x := range all[:min(len(all), mostNamed)] {
		names = append(names, fmt.Sprintf("  #%d  %s", x.Number, x.Name))
	}
	more := ""
	if len(all) > mostNamed {
		more = fmt.Sprintf("\n  and %d more", len(all)-mostNamed)
	}
	return Field{}, &NoField{want, strings.Join(names, "\n") + more, several}
}

// mostNamed is how many fields an error names.
const mostNamed = 10

// NoField is the error of a field that is not there, or of one of Several that may be meant.
type NoField struct {
	Want, Have string
	Several    bool
}

func (e *NoField) Error() string {
	if e.Several {
		return fmt.Sprintf("field %q may be one of several in this farm:\n%s", e.Want, e.Have)
	}
	if e.Have == "" {
		return fmt.Sprintf("no field %q: this farm has none", e.Want)
	}
	return fmt.Sprintf("no field %q in this farm; it has:\n%s", e.Want, e.Have)
}
