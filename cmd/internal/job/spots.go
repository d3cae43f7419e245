package job

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"time"

	"balk/cmd/internal/farm"
	"balk/coverage/spots"
	"balk/export/answer"
	"balk/export/vector"
	"balk/export/words"
	"balk/geo"
	"balk/geo/read"
)

// SpotsReadSpec says what spot checks are held against.
type SpotsReadSpec struct {
	Checks []string `json:"checks"`         // files of spot checks; at least one
	Zone   string   `json:"zone,omitempty"` // time zone of their times that name none; "" = UTC
	Keep   int64    `json:"keep,omitempty"` // operation of the farm whose field and logs are taken, and with which they are kept; 0 = none
	Spec
	Wanted spots.Wanted `json:"wanted,omitzero"`
}

// Validate says what is wrong with s; it opens no files.
func (s SpotsReadSpec) Validate() error {
	if len(s.Checks) == 0 {
		return fmt.Errorf("no file of spot checks named")
	}
	if _, err := zoneOf("spot checks", s.Zone); err != nil {
		return err
	}
	if err := s.Wanted.Validate(); err != nil {
		return err
	}
	if s.Keep != 0 {
		if s.Keep < 0 || s.Farm == "" {
			return fmt.Errorf("kept with operation %d: must be one of a farm, whose folder is named (--farm)", s.Keep)
		}
		return nil // the rest of Spec is the farm's
	}
	return s.Spec.Validate()
}

// SpotsReport is what spot checks prove. Lengths are m, places lon/lat.
type SpotsReport struct {
	Answer   []string        `json:"answer"` // what was found in sentences, in the language of Spec
	Spec     SpotsReadSpec   `json:"spec"`
	Field    FieldName       `json:"field"`
	Checks   []geo.SpotCheck `json:"checks"`
	Found    spots.Found     `json:"found"`
	Kept     *SpotsKept      `json:"kept,omitempty"` // absent: they are not to be kept
	Findings []geo.Finding   `json:"findings"`
	Placed
}

// SpotsKept is what was put into a farm.
type SpotsKept struct {
	Operation int64 `json:"operation"`
	Fresh     int   `json:"fresh"` // new ones; the others were there
}

// The files of spot checks in a result folder.
const (
	spotsLayer = "spots"
	spotsTable = "spots.csv"
)

// ReadSpots reads spot checks and says what they prove of an operation. A *WrongCall is the caller's fault.
func ReadSpots(ctx context.Context, s SpotsReadSpec, call *Call) (SpotsReport, error) {
	call = call.ready()
	rep := SpotsReport{Spec: s, Answer: []string{}, Checks: []geo.SpotCheck{}, Findings: []geo.Finding{}}
	if err := s.Validate(); err != nil {
		return rep, &WrongCall{err}
	}
	zone, err := zoneOf("spot checks", s.Zone)
	if err != nil {
		return rep, &WrongCall{err}
	}
	var findings []geo.Finding
	for _, path := range s.Checks {
		list, found, err := found(ctx, func() ([]geo.SpotCheck, []geo.Finding, error) {
			return read.Spots(path, read.SpotOptions{Zone: zone, Files: &call.opened})
		})
		findings = append(findings, found...)
		if err != nil {
			rep.Findings = append(rep.Findings, findings...)
			return rep, sorted(err)
		}
		rep.Checks = append(rep.Checks, list...)
	}
	var in *inputs
	if s.Keep != 0 {
		again, findings, err := ofFarm(ctx, s.Farm, s.Keep, call)
		rep.Findings = append(rep.Findings, findings...)
		if err != nil {
			return rep, err
		}
		again.spec.Out, again.spec.Drawn, in = s.Out, s.Drawn, &again.in
		s.Spec = again.spec
	}
	judged, result, err := judge(ctx, s.Spec, in, &targets{sure: []string{spotsTable, spotsLayer + ".geojson", reportFile}}, call)
	rep.Findings = append(append(rep.Findings, findings...), judged.Findings...)
	if err != nil {
		return rep, err
	}
	rep.Spec.Spec, rep.Field = judged.Spec, judged.Field
	if rep.Spec.Wanted.Overlap == 0 {
		rep.Spec.Wanted.Overlap = judged.Spec.Work.Overlap
	}
	op := spots.OperationOf("", result)
	if rep.Found, err = spots.Of(rep.Checks, []spots.Operation{op}, rep.Spec.Wanted); err != nil {
		return rep, err
	}
	rep.odd(op)
	rep.Answer = append(rep.Answer, answer.Spots(rep.Found, s.Language)...)
	if s.Keep != 0 {
		if rep.Kept, err = keepSpots(ctx, s.Farm, s.Keep, rep.Checks); err != nil {
			return rep, err
		}
	}
	if s.Out == "" {
		return rep, nil
	}
	l := spotLayer(rep.Checks, rep.Found)
	files := []output{
		{name: spotsTable, write: func(w io.Writer) error { return read.WriteSpots(w, rep.Checks, s.Language == words.German) }},
		{name: spotsLayer + ".geojson", write: func(w io.Writer) error { return vector.WriteGeoJSON(w, l) }},
	}
	return rep, call.fill(ctx, s.Out, "spots", files, &rep.Placed, func(w io.Writer) error { return rep.JSON(w) })
}

// odd notes checks that belong to nothing.
func (r *SpotsReport) odd(o spots.Operation) {
	for k, t := range r.Found.Ties {
		c := r.Checks[k]
		note := func(what string) {
			r.Findings = append(r.Findings, geo.Finding{File: c.File, Record: c.Record, At: c.At, What: what})
		}
		switch {
		case c.At == nil && t.Pass == 0:
			note("no place, and no pass of this log is named: the spot check is tied to no pass")
		case t.Ground == spots.GroundOutside:
			note("the place lies outside the boundary")
		case t.Pass == 0:
			note("no pass went there: the spot check is tied to none")
		}
		if c.Pass > 0 && t.Pass != c.Pass && t.Pass > 0 {
			note(fmt.Sprintf("pass %d is named, and lies farther than the error of the place: tied to pass %d", c.Pass, t.Pass))
		}
		if c.Section > len(o.Sections) {
			note(fmt.Sprintf("section %d is named: the bar has %d", c.Section, len(o.Sections)))
		}
		if !c.Time.IsZero() && !o.From.IsZero() && c.Time.Before(o.From) {
			note(fmt.Sprintf("it was made at %s, before the operation began", c.Time.UTC().Format(time.RFC3339)))
		}
	}
}

// JSON writes the report.
func (r SpotsReport) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SpotsReport
	}{madeBy(), r})
}

// spotLayer is where spot checks were made, and what was seen.
func spotLayer(checks []geo.SpotCheck, f spots.Found) vector.Layer {
	l := vector.Layer{
		Name: spotsLayer, Title: "Spot checks", Kind: vector.Points, Label: "name", Style: vector.Style{Line: "#27364A", Width: 2},
		Columns: []vector.Property{
			{Name: "name", Holds: vector.Words}, {Name: "time", Holds: vector.Instant}, {Name: "why", Title: "chosen", Holds: vector.Words}, {Name: "pass", Holds: vector.Whole}, {Name: "section", Holds: vector.Whole},
			{Name: "seen", Holds: vector.Words}, {Name: "map", Title: "the map says", Holds: vector.Words}, {Name: "against", Title: "against the map", Holds: vector.Truth},
			{Name: "depth_cm", Title: "depth", Unit: "cm", Holds: vector.Number, Decimals: 1}, {Name: "note", Holds: vector.Words},
		},
	}
	against := map[int]bool{}
	for _, a := range f.Against {
		against[a.Check] = true
	}
	for k, c := range checks {
		if c.At == nil {
			continue
		}
		t := f.Ties[k]
		row := []any{c.ID, nil, string(c.Why), nil, nil, seen(c), string(t.Ground), against[k], nil, geo.Shown(c.Note)}
		if !c.Time.IsZero() {
			row[1] = c.Time
		}
		if c.ID == "" {
			row[0] = strconv.Itoa(c.Record)
		}
		if t.Pass > 0 {
			row[3] = t.Pass
		}
		if t.Section > 0 {
			row[4] = t.Section
		}
		if len(c.Depths) > 0 {
			sum := 0.0
			for _, d := range c.Depths {
				sum += d.Value
			}
			row[8] = 100 * sum / float64(len(c.Depths))
		}
		l.Features = append(l.Features, vector.Feature{Geometry: *c.At, Row: row})
	}
	return vector.Marked(l)
}

// seen is what a check says of the cut.
func seen(c geo.SpotCheck) string {
	switch {
	case len(c.Ribs) > 0:
		return fmt.Sprintf("ribs: %d", len(c.Ribs))
	case c.Cut == geo.NotSo:
		return "uncut"
	case c.Cut == geo.IsSo:
		return "cut"
	}
	return "not looked at"
}

// ofFarm is an operation of a farm, read again.
func ofFarm(ctx context.Context, dir string, number int64, call *Call) (one drivenAgain, findings []geo.Finding, err error) {
	f, err := farm.Open(ctx, dir)
	if err != nil {
		return one, nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	all, err := f.Operations(ctx, 0)
	if err != nil {
		return one, nil, err
	}
	k := slices.IndexFunc(all, func(o farm.Operation) bool { return o.Number == number })
	if k < 0 {
		return one, nil, &WrongCall{&farm.NoOperation{Number: number}}
	}
	r := SeasonReport{Spec: SeasonShow{Farm: dir}}
	if r.Field, err = f.Find(ctx, all[k].Field); err != nil {
		return one, nil, err
	}
	one, err = r.again(ctx, f, all[k], call)
	return one, one.findings, err
}

// keepSpots puts spot checks into a farm.
func keepSpots(ctx context.Context, dir string, operation int64, checks []geo.SpotCheck) (_ *SpotsKept, err error) {
	f, err := farm.OpenToChange(ctx, dir)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	fresh, err := f.AddSpots(ctx, operation, checks)
	return &SpotsKept{operation, fresh}, err
}
