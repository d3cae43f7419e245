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
	b.projection, b.whole = p, doc.whole
	for i, raw := range doc.features {
		b.feature(i+1, raw, doc.bare)
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
	whole      bool  // the record is the whole file
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
	b.fields = append(b.fields, geo.Field{Name: o.name, Number: len(b.fields) + 1, Source: b.notes.file, Boundary: m})
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
	features []json.RawMessage
	bare     bool // one geometry, not features
	whole    bool // one record, which is the whole file
	crs      geojsonCRS
}

// splitGeoJSON takes a GeoJSON text apart into features, so that a bad one does
// not lose the others. cut says where the text broke off after good features.
func splitGeoJSON(r io.Reader) (s split, cut, err error) {
	data, err := io.ReadAll(r)
	if err != nil {
		return split{}, nil, err
	}
	data = bytes.TrimPrefix(data, bom)
	p := pullBytes(data)
	if p.peek() != '{' {
		p.take('{') // which says so
		return split{}, nil, p.err
	}
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
					s.features = append(s.features, data[from:p.offset()])
				}
			}
		default:
			p.skip()
		}
	}
	if p.err == nil && !p.atEnd() && p.err == nil {
		p.fail("more text after the end of the GeoJSON")
	}
	if p.err != nil && len(s.features) == 0 {
		return split{}, nil, p.err
	}
	switch kind {
	case "FeatureCollection":
	case "Feature":
		s.features, s.whole = []json.RawMessage{data}, true
	case "":
		if p.err == nil { // cut off before the type came: the features are enough
			return split{}, nil, errors.New("it has no type")
		}
	default:
		s.features, s.bare, s.whole = []json.RawMessage{data}, true, true
	}
	if p.err != nil && kind != "FeatureCollection" && kind != "" {
		return split{}, nil, p.err
	}
	return s, p.err, nil
}

// feature reads one Feature, or a bare geometry.
func (b *boundaryRead) feature(record int, raw []byte, bare bool) {
	if bytes.Equal(raw, []byte("null")) {
		b.notes.count(record, true, "a feature that is null")
		return
	}
	f, err := scanFeature(raw, b.whole, bare)
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
