package read

import (
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"balk/geo"
	"balk/geo/crs"

	"github.com/paulmach/orb"
	"github.com/twpayne/go-geom"
)

// GeoJSONFields reads field boundaries from GeoJSON. file is the name for
// messages.
//
// Every Feature with polygons is a field, and so is a bare Polygon, MultiPolygon
// or GeometryCollection of polygons; inner rings are obstacles. The name comes
// from a property (see fieldNames), else from the feature's id. Ring order and
// direction do not matter, heights are left out, open rings are closed with a
// finding. "crs" of the older GeoJSON is honoured or refused, never ignored.
func GeoJSONFields(r io.Reader, file string, o Options) ([]geo.Field, []geo.Finding, error) {
	b := boundaryRead{notes: tally{file: file}, options: o}
	doc, cut, err := splitGeoJSON(r)
	if err != nil {
		return nil, nil, &FileError{File: file, What: "no GeoJSON", Err: err}
	}
	p, what, err := doc.crs.projection()
	if err != nil {
		return nil, nil, &FileError{File: file, Place: "crs", Err: err}
	}
	if what != "" {
		b.notes.add(0, nil, false, what)
	}
	b.projection, b.unnamed = p, !doc.crs.present
	for i, part := range doc.features {
		b.feature(i+1, part)
	}
	if cut != nil {
		b.notes.add(len(doc.features), nil, true, "unreadable after this record, what comes before is used: "+cut.Error())
	}
	return b.result("a boundary is a Polygon or MultiPolygon")
}

// boundaryRead is the state of reading boundaries, of any format.
type boundaryRead struct {
	notes      tally
	options    Options
	projection crs.Projection // nil: degrees already
	fields     []geo.Field
	first      error // why the first record was lost
	unnamed    bool  // the file names no system, and has longitude and latitude by its standard
}

// outline is a boundary as read, and its name.
type outline struct {
	geo.Outline
	name string
}

func newOutline(record int, name string) outline {
	return outline{geo.Outline{Record: record}, name}
}

// take makes a field of an outline, or notes why not.
func (b *boundaryRead) take(o outline) {
	if len(o.Rings) == 0 {
		b.notes.count(o.Record, true, "an empty geometry: left out")
		return
	}
	if b.unnamed && b.options.CRS != 0 && len(o.Rings[0]) > 0 && !geo.OnEarth(o.Rings[0][0][0], o.Rings[0][0][1]) {
		var err error
		if b.unnamed = false; b.projection == nil {
			if b.projection, err = b.options.unnamed(&b.notes); err != nil {
				b.lose(o.Record, err)
				return
			}
		}
	}
	if b.projection != nil {
		for _, r := range o.Rings {
			for i, p := range r {
				r[i][0], r[i][1] = b.projection.Inverse(p[0], p[1])
			}
		}
	}
	o.File = b.notes.file
	m, found, err := o.Boundary(b.options.Mend)
	b.notes.take(found)
	if err != nil {
		b.lose(o.Record, err)
		return
	}
	b.fields = append(b.fields, geo.Field{Name: o.name, Number: len(b.fields) + 1, Source: b.notes.file, Frame: crs.FrameOf(b.projection), Boundary: m})
}

// row takes a row of a table with its geometry.
func (b *boundaryRead) row(record int, shape geom.T, row cells) {
	out := newOutline(record, nameOf(row))
	if layer := layerOf(row); layer != "" {
		b.notes.leaveOwn(record, layer)
		return
	}
	if !out.polygons(shape) {
		b.notes.count(record, true, fmt.Sprintf("a %s is no boundary: left out", geometryTitle(shape)))
		return
	}
	b.take(out)
}

// lose notes a record that could not be used, and why.
func (b *boundaryRead) lose(record int, err error) {
	if b.first == nil {
		b.first = err
	}
	var at *orb.Point
	if re, ok := errors.AsType[*geo.RingError](err); ok {
		at = geo.Place(re.At[0], re.At[1])
	}
	b.notes.add(record, at, true, lossText(err))
}

// lossText is an error on one line, for a finding, without the file and record
// that the finding names itself.
func lossText(err error) string {
	s := err.Error()
	if re, ok := errors.AsType[*geo.RingError](err); ok {
		s = strings.Replace(s, fmt.Sprintf("%s, record %d: ", re.File, re.Record), "", 1)
	} else if fe, ok := errors.AsType[*FileError](err); ok {
		bare := *fe
		bare.File, bare.Record = "", 0
		s = strings.TrimPrefix(strings.TrimPrefix(bare.Error(), ", "), ": ")
	}
	return "left out: " + strings.ReplaceAll(s, "\n", "; ")
}

// result is the fields and findings, or the error of a file without any field.
func (b *boundaryRead) result(hint string) ([]geo.Field, []geo.Finding, error) {
	if len(b.fields) > 0 {
		return b.fields, b.notes.findings(), nil
	}
	if b.first != nil {
		return nil, nil, b.first
	}
	return nil, nil, b.notes.nothing("no field boundary in it", hint, false)
}

// split is a GeoJSON text taken apart.
type split struct {
	features []splitPart
	crs      geojsonCRS
}

// splitPart is a feature, or a geometry that is none.
type splitPart struct {
	raw           json.RawMessage
	bare          bool  // a geometry
	whole         bool  // it is a text of its own, which may name a crs
	fault, beyond error // why it could not be taken apart, and what is wrong with the text behind it; nil: nothing
}

// splitGeoJSON takes a GeoJSON text, or several that follow each other, apart into features, so that a bad one does
// not lose the others. cut says where the text broke off after good features.
func splitGeoJSON(r io.Reader) (s split, cut, err error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return split{}, nil, err
	}
	data = bytes.TrimLeft(bytes.TrimPrefix(data, bom), " \t\r\n")
	p := pullBytes(data)
	p.divided()
	for more := true; more; more = p.another() {
		p.enter()
		cut, err = s.text(p, data)
		if fault, whole := p.leave(); whole {
			s.features[len(s.features)-1].beyond = fault
		} else if fault != nil {
			s.features = append(s.features, splitPart{fault: fault})
			cut, err = nil, nil
		}
		if err != nil || cut != nil {
			break
		}
	}
	if cut == nil {
		cut = p.err
	}
	if (err != nil || cut != nil) && len(s.features) == 0 {
		return split{}, nil, cmp.Or(err, cut)
	}
	return s, cmp.Or(err, cut), nil
}

// text takes one GeoJSON text apart, out of data.
func (s *split) text(p *pull, data []byte) (cut, err error) {
	if p.peek() != '{' {
		p.take('{') // which says so
		return nil, p.err
	}
	begin, before := p.offset(), len(s.features)
	kind := ""
	for key := range p.members() {
		switch string(key) {
		case "type":
			if p.peek() != '"' {
				p.fail("a type that is no text")
				break
			}
			kind = string(p.text())
		case "crs":
			s.crs = p.crs()
		case "features":
			if p.peek() != '[' {
				p.fail("features that are no list")
				break
			}
			for range p.items() {
				from := p.offset()
				p.skip()
				if p.err == nil {
					s.features = append(s.features, splitPart{raw: data[from:p.offset()]})
				}
			}
		default:
			p.skip()
		}
	}
	switch {
	case p.err != nil && len(s.features) == before:
		return nil, p.err
	case kind == "FeatureCollection", kind == "" && p.err != nil: // cut off before the type came: the features are enough
		return p.err, nil
	case kind == "":
		return nil, errors.New("it has no type")
	case p.err != nil:
		return nil, p.err
	}
	s.features = append(s.features[:before], splitPart{raw: data[begin:p.offset()], bare: kind != "Feature", whole: true})
	return nil, nil
}

// feature reads one Feature, or a bare geometry.
func (b *boundaryRead) feature(record int, part splitPart) {
	raw, bare := part.raw, part.bare
	if part.fault != nil {
		b.lose(record, &FileError{File: b.notes.file, Record: record, What: "broken", Err: part.fault})
		return
	}
	if bytes.Equal(raw, []byte("null")) {
		b.notes.count(record, true, "a feature that is null")
		return
	}
	if part.beyond != nil {
		b.notes.add(record, nil, true, part.beyond.Error())
	}
	f, err := scanFeature(raw, part.whole, bare)
	if err == nil && !f.geometry {
		b.notes.count(record, true, "a feature without geometry")
		return
	}
	if err == nil && !bare && f.kind != "Feature" {
		err = fmt.Errorf("no GeoJSON feature: its type is %.40q", f.kind)
	}
	for i := 0; err == nil && i < len(f.shapes); i++ {
		err = f.shapes[i].fault()
	}
	if err != nil {
		b.lose(record, &FileError{File: b.notes.file, Record: record, What: err.Error()})
		return
	}
	if layer := layerOf(f.row); layer != "" {
		b.notes.leaveOwn(record, layer)
		return
	}
	o := newOutline(record, cmp.Or(nameOf(f.row), strings.TrimSpace(f.id)))
	boundary := f.collection
	for i := range f.shapes {
		if o.gather(&f.shapes[i]) {
			boundary = true
			continue
		}
		b.notes.count(record, true, fmt.Sprintf("a %s is no boundary: left out", f.shapes[i].kind))
	}
	if boundary {
		b.take(o)
	}
}
