package read

import (
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"balk/geo"

	"github.com/paulmach/orb"
)

// Types of polygons (PLN) and of line strings in them (LSG), ISO 11783-10, from
// memory; 1 = boundary and 1 = outer ring as seen in the open data.
const (
	isoBoundary  = "1"
	isoTreatment = "2" // treatment zone
	isoMain      = "9" // main field
	isoOuter     = "1"
	isoInner     = "2"
)

var isoPolygons = map[string]string{
	"1": "boundary", isoTreatment: "treatment zone", "3": "water", "4": "building", "5": "road", "6": "obstacle", "7": "flag", "8": "other", "9": "main field",
	"10": "headland", "11": "buffer zone", "12": "windbreak",
}

// isoNoGo are the polygons that nobody works on.
var isoNoGo = map[string]bool{"3": true, "4": true, "5": true, "6": true, "12": true}

// ISOXMLFields reads the part fields (PFD) of a set of ISO 11783-10 task data:
// TASKDATA.XML at name in fsys. file is the name for messages.
//
// The boundary is the polygons of type boundary; where there is none, those of
// type main field, with a finding. Which ring is a hole is told by how the rings
// lie in each other; a finding says where the file names it otherwise. Water,
// buildings, roads, windbreaks and obstacles that lie inside become holes.
// Treatment zones say what is to be done on the ground, not where it ends: they are passed over without a word, so that task
// data with strips to be worked again, as a handover has it, is a field like any other. Headlands and the like are no boundary
// and are named in a finding. A field without designator is named by its id, and of two with the
// same designator each by both.
func ISOXMLFields(fsys fs.FS, name, file string, o Options) ([]geo.Field, []geo.Finding, error) {
	d, err := openTaskData(fsys, name, file)
	if err != nil {
		return nil, nil, err
	}
	b := boundaryRead{notes: d.notes, options: o}
	for i := range d.fields {
		d.takeField(&b, i)
	}
	return b.result("a boundary is a part field (PFD) with a polygon (PLN) of type 1")
}

// fieldTitle is the name of a field, different for every field of the set as
// long as the ids are.
func (d *taskData) fieldTitle(i int) string {
	f := d.fields[i]
	title := strings.TrimSpace(f.Designator)
	if title == "" {
		return f.ID
	}
	for j, other := range d.fields {
		if j != i && strings.TrimSpace(other.Designator) == title {
			return fmt.Sprintf("%s (%s)", title, f.ID)
		}
	}
	return title
}

// takeField makes a field of a PFD.
func (d *taskData) takeField(b *boundaryRead, i int) {
	f := d.fields[i]
	record := i + 1
	kind := isoBoundary
	has := func(kind string) bool {
		return slices.ContainsFunc(f.Polygons, func(p isoPolygon) bool { return p.Type == kind })
	}
	if !has(isoBoundary) {
		if !has(isoMain) {
			b.notes.count(record, true, "a part field without boundary: left out")
			return
		}
		kind = isoMain
		b.notes.count(record, false, "a part field without boundary: its main field is taken")
	}
	rings := isoFieldRings{boundaryRead: b, outline: newOutline(record, d.fieldTitle(i))}
	for _, p := range f.Polygons {
		switch {
		case p.Type == isoTreatment:
		case p.Type == kind || isoNoGo[p.Type]:
			if !rings.add(p) {
				return
			}
		default:
			title, known := isoPolygons[p.Type]
			if !known {
				title = fmt.Sprintf("%q", p.Type)
			}
			b.notes.count(record, false, fmt.Sprintf("a polygon of type %s is no boundary: not used", title))
		}
	}
	before := len(b.fields)
	b.take(rings.outline)
	if len(b.fields) == before {
		return
	}
	field := &b.fields[before]
	if holes := countHoles(field.Boundary); holes != rings.inner {
		b.notes.add(record, nil, false, fmt.Sprintf("%d rings are named as holes, %d lie inside others: how they lie decides", rings.inner, holes))
	}
	d.cutOut(b, field, record, rings.noGo)
}

// isoFieldRings are the rings of a part field.
type isoFieldRings struct {
	*boundaryRead
	outline outline
	inner   int // rings that are named as holes
	noGo    []orb.Ring
}

// add takes the rings of a polygon; false: one cannot be read, and half a boundary is none.
func (r *isoFieldRings) add(p isoPolygon) bool {
	record, isNoGo := r.outline.Record, isoNoGo[p.Type]
	for k, line := range p.Rings {
		if line.Type != isoOuter && line.Type != isoInner && line.Type != "" {
			r.notes.count(record, true, fmt.Sprintf("a line of type %q in a polygon is no ring: left out", line.Type))
			continue
		}
		ring, err := isoRingOf(line)
		if err != nil {
			err = &FileError{File: r.notes.file, Record: record, What: fmt.Sprintf("line %d of a polygon of type %q", k+1, p.Type), Err: err}
			if !isNoGo {
				r.lose(record, err)
				return false
			}
			r.notes.add(record, nil, true, "an obstacle is "+lossText(err))
			continue
		}
		if n := len(ring); n > 2 && ring[0] != ring[n-1] { // usual in task data: one finding for all
			ring = append(ring, ring[0])
			r.notes.count(record, false, "a ring is open: closed")
		}
		switch {
		case !isNoGo:
			if line.Type == isoInner {
				r.inner++
			}
			r.outline.Rings = append(r.outline.Rings, ring)
		case line.Type != isoInner:
			r.noGo = append(r.noGo, ring)
		}
	}
	return true
}

func countHoles(m orb.MultiPolygon) int {
	n := 0
	for _, p := range m {
		n += len(p) - 1
	}
	return n
}

// cutOut makes holes of the no-go rings that lie on the field's ground.
func (d *taskData) cutOut(b *boundaryRead, f *geo.Field, record int, noGo []orb.Ring) {
	with := func(rings ...orb.Ring) (orb.MultiPolygon, error) {
		o := newOutline(record, f.Name)
		for _, p := range f.Boundary {
			o.Rings = append(o.Rings, p...)
		}
		o.Rings = append(o.Rings, rings...)
		o.File = b.notes.file
		m, _, err := o.Boundary(false)
		return m, err
	}
	fits := func(m orb.MultiPolygon, more int) bool {
		return len(m) == len(f.Boundary) && countHoles(m) == countHoles(f.Boundary)+more
	}
	if len(noGo) == 0 {
		return
	}
	if m, err := with(noGo...); err == nil && fits(m, len(noGo)) {
		f.Boundary = m
		return
	}
	for _, r := range noGo { // one by one, to keep the good ones
		var at *orb.Point
		if len(r) > 0 {
			at = geo.Place(r[0][0], r[0][1])
		}
		m, err := with(r)
		switch {
		case err != nil:
			b.notes.add(record, at, true, "an obstacle is "+lossText(err))
		case !fits(m, 1):
			b.notes.add(record, at, false, "an obstacle does not lie on the ground of the field: not used")
		default:
			f.Boundary = m
		}
	}
}

// isoRingOf is the ring of an LSG, in degrees.
func isoRingOf(r isoRing) (orb.Ring, error) {
	out := make(orb.Ring, 0, len(r.Points))
	for i, p := range r.Points {
		if p.File != "" {
			return nil, fmt.Errorf("point %d: points in a file of their own (%s) are not read", i+1, p.File)
		}
		y, ok1 := plainNumber([]byte(strings.TrimSpace(p.North)))
		x, ok2 := plainNumber([]byte(strings.TrimSpace(p.East)))
		if !ok1 || !ok2 {
			return nil, fmt.Errorf("point %d has north %.20q, east %.20q: degrees are wanted", i+1, p.North, p.East)
		}
		out = append(out, orb.Point{x, y})
	}
	return out, nil
}
