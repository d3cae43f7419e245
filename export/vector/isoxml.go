package vector

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"balk/geo"

	"github.com/paulmach/orb"
)

// Numbers and letters of ISO 11783-10, version 4. Seen in open task data of a
// real terminal (VersionMajor 4, VersionMinor 1): the attributes of CTR, FRM,
// PFD, PLN, LSG and PNT used here, PLN type 1 = boundary, LSG type 1 = outer ring, PNT type
// 2 in rings, nine decimals. From memory: the rest, that is PLN type 2 =
// treatment zone and its attributes B designator and C area; LSG type 2 = inner
// ring, 5 = guidance pattern; PNT types 6 = reference A, 7 = reference B, 9 =
// point between; GGP and GPN, GPN type 1 = straight line through A and B, 3 =
// curve; DataTransferOrigin 1 = farm management software; 32 characters for a
// designator, 14 for an id; areas as whole m² of 31 bits. From memory too: version 3 (there 3.3) has neither GGP nor GPN, whose lines are LSG of type 5
// of the part field itself, with a designator and plain points.
const (
	isoPolygonBoundary = "1"
	isoPolygonZone     = "2"
	isoLineOuter       = "1"
	isoLineInner       = "2"
	isoLineGuidance    = "5"
	isoPointPlain      = "2"
	isoPointA          = "6"
	isoPointB          = "7"
	isoPointBetween    = "9"
	isoGuideStraight   = "1"
	isoGuideCurve      = "3"
	isoDecimals        = 9
	isoDesignator      = 32
	isoMaxArea         = 1<<31 - 1
)

// TaskData is a set of ISO 11783-10 task data for a terminal in the tractor.
type TaskData struct {
	Maker, Version string // of the software that writes it
	Customer, Farm string // "": left out
	Third          bool   // in version 3, which older terminals read
	Fields         []TaskField
}

// TaskField is a part field with what belongs to it.
type TaskField struct {
	Name     string
	Area     float64          // m²
	Boundary orb.MultiPolygon // as geo.Field has it
	Zones    []Layer          // areas, like strips to be worked again; each polygon becomes a treatment zone
	Guidance []Layer          // lines to drive along; each layer becomes a guidance group
}

// WriteISOXML writes TASKDATA.XML of ISO 11783-10, version 4: customer, farm,
// and for each field a PFD with its boundary (a PLN with a ring outside and one for
// each obstacle), treatment zones (a PLN for each polygon, with its area where the layer has
// the property area_m2) and guidance groups. Lines of two positions are straight
// (A, B), others curves; in version 3 they are lines of the field. Ids are CTR1, FRM1, PFD1, PFD2 ..., GGP1 ..., GPN1 ...
// Degrees have nine decimals (0.1 mm), areas are whole m².
//
// A polygon that touches or crosses itself once it is rounded is written as the polygons it falls into. Findings say
// which names had to be cut to the 32 characters of the standard and which rings vanish at nine decimals.
func WriteISOXML(w io.Writer, t TaskData) ([]geo.Finding, error) {
	for _, f := range t.Fields {
		if err := f.check(); err != nil {
			return nil, err
		}
	}
	x := isoxml{markup: newMarkup(w), round: rounding{steps: []int{isoDecimals}}, third: t.Third}
	version := `VersionMajor="4" VersionMinor="1"`
	if t.Third {
		version = `VersionMajor="3" VersionMinor="3"`
	}
	x.raw(`<ISO11783_TaskData `, version)
	x.named("ManagementSoftwareManufacturer", t.Maker)
	x.named("ManagementSoftwareVersion", t.Version)
	x.raw(` DataTransferOrigin="1">`)
	if t.Customer != "" {
		x.raw("\n<CTR A=\"CTR1\"")
		x.named("B", t.Customer)
		x.raw("/>")
	}
	if t.Farm != "" {
		x.raw("\n<FRM A=\"FRM1\"")
		x.named("B", t.Farm)
		if t.Customer != "" {
			x.raw(` I="CTR1"`)
		}
		x.raw("/>")
	}
	for i, f := range t.Fields {
		x.record = i + 1
		if err := x.field(t, f); err != nil {
			return nil, err
		}
	}
	x.raw("\n</ISO11783_TaskData>\n")
	return x.findings, x.close()
}

// check holds a field to what its types promise.
func (f TaskField) check() error {
	if !(f.Area >= 0 && f.Area <= isoMaxArea) {
		return fmt.Errorf("field %q of %g m²: 0 to %d m² are wanted", f.Name, f.Area, isoMaxArea)
	}
	if len(f.Boundary) == 0 {
		return fmt.Errorf("field %q has no boundary", f.Name)
	}
	whole := Layer{Name: "field", Kind: Areas, Features: []Feature{{Geometry: f.Boundary}}}
	if err := whole.check(); err != nil {
		return fmt.Errorf("field %q: %w", f.Name, err)
	}
	if err := checkAll(append(f.Zones[:len(f.Zones):len(f.Zones)], f.Guidance...)); err != nil {
		return err
	}
	for _, l := range f.Zones {
		if l.Kind != Areas {
			return &LayerError{Layer: l.Name, What: fmt.Sprintf("a treatment zone of %s: areas are wanted", l.Kind)}
		}
	}
	for _, l := range f.Guidance {
		if l.Kind != Lines {
			return &LayerError{Layer: l.Name, What: fmt.Sprintf("a guidance group of %s: lines are wanted", l.Kind)}
		}
	}
	return nil
}

type isoxml struct {
	markup
	round            rounding
	third            bool
	buf              []byte
	record           int // of the field under way
	groups, patterns int // written so far
	findings         []geo.Finding
}

func (x *isoxml) find(lost bool, format string, args ...any) {
	x.findings = append(x.findings, geo.Finding{File: "TASKDATA.XML", Record: x.record, What: fmt.Sprintf(format, args...), Lost: lost})
}

// named writes a designator, cut to what the standard takes.
func (x *isoxml) named(attribute, name string) {
	name = wellFormed(name)
	if utf8.RuneCountInString(name) > isoDesignator {
		cut := string([]rune(name)[:isoDesignator-1]) + "…"
		x.find(false, "name %q is longer than %d characters: written as %q", name, isoDesignator, cut)
		name = cut
	}
	x.attribute(attribute, name)
}

func (x *isoxml) field(t TaskData, f TaskField) error {
	x.raw(fmt.Sprintf("\n<PFD A=\"PFD%d\"", x.record))
	if f.Name == "" {
		x.named("C", fmt.Sprintf("field %d", x.record)) // a designator must be there
	} else {
		x.named("C", f.Name)
	}
	x.raw(fmt.Sprintf(` D="%.0f"`, f.Area))
	if t.Customer != "" {
		x.raw(` E="CTR1"`)
	}
	if t.Farm != "" {
		x.raw(` F="FRM1"`)
	}
	x.raw(">")
	for _, p := range f.Boundary {
		if !x.polygon(isoPolygonBoundary, "", math.NaN(), p) {
			return fmt.Errorf("field %q: its boundary vanishes at %d decimals of a degree", f.Name, isoDecimals)
		}
	}
	for _, l := range f.Zones {
		x.zones(l)
	}
	for _, l := range f.Guidance {
		x.group(l)
	}
	x.raw("\n</PFD>")
	return nil
}

// polygon writes a PLN, or several where rounding makes its ground touch itself; false: nothing of it is left at nine
// decimals.
func (x *isoxml) polygon(kind, name string, area float64, p orb.Polygon) bool {
	before := x.round.leftOut
	rings, dec := x.round.polygon(len(p), func(ring, dec int) {
		x.round.addAll(p[ring], dec)
	})
	if lost := x.round.leftOut - before; lost > 0 {
		x.find(true, "%d rings of a polygon %q vanish at %d decimals of a degree: left out", lost, name, isoDecimals)
	}
	if len(rings) == 0 {
		return false
	}
	parts := [][][]place{rings}
	if isMoved(p, isoDecimals) && !x.round.simple(rings) { // one that touches itself as given is none of our doing
		if cut, ok := x.round.untangled(rings); ok {
			parts = cut
		} else {
			x.find(false, "a polygon %q touches or crosses itself at %d decimals of a degree", name, isoDecimals)
		}
	}
	whole := 0.0
	for _, one := range parts {
		whole += netArea(one)
	}
	for _, one := range parts {
		x.rings(kind, name, area*netArea(one)/whole, one, dec)
	}
	return true
}

// rings writes a PLN of rings that lie as they should.
func (x *isoxml) rings(kind, name string, area float64, rings [][]place, dec int) {
	x.raw("\n<PLN A=\"", kind, `"`)
	x.named("B", name)
	if !math.IsNaN(area) {
		x.raw(fmt.Sprintf(` C="%.0f"`, area))
	}
	x.raw(">")
	for i, r := range rings {
		x.raw("\n<LSG A=\"", map[bool]string{true: isoLineOuter, false: isoLineInner}[i == 0], `">`)
		for _, q := range append(r, r[0]) {
			x.point(isoPointPlain, q, dec)
		}
		x.raw("</LSG>")
	}
	x.raw("</PLN>")
}

// isMoved says whether rounding moves a corner.
func isMoved(p orb.Polygon, dec int) bool {
	for _, r := range p {
		for _, q := range r {
			if placeOf(q, dec).point(dec) != q {
				return true
			}
		}
	}
	return false
}

func (x *isoxml) zones(l Layer) {
	area := -1
	for i, c := range l.Columns {
		if c.Name == "area_m2" && c.Holds == Number {
			area = i
		}
	}
	for _, f := range l.Features {
		var parts orb.MultiPolygon
		switch g := f.Geometry.(type) {
		case orb.Polygon:
			parts = orb.MultiPolygon{g}
		case orb.MultiPolygon:
			parts = g
		}
		size := math.NaN()
		if area >= 0 && len(parts) == 1 {
			if v, ok := f.Row[area].(float64); ok && v >= 0 && v <= isoMaxArea {
				size = v
			}
		}
		for _, p := range parts {
			x.polygon(isoPolygonZone, l.called(f.Row), size, p)
		}
	}
}

// called is what a terminal shows of a feature: the layer's title and the feature's label, or the label where that begins with it or both are too
// long for a designator.
func (l Layer) called(row []any) string {
	title, label := l.title(), l.labelOf(row)
	if n := len(title); len(label) >= n && strings.EqualFold(label[:n], title) {
		return label
	}
	if name := strings.TrimSpace(title + " " + label); utf8.RuneCountInString(name) <= isoDesignator || label == "" {
		return name
	}
	return label // the group says the title
}

// group writes the lines of a layer as a guidance group. A group without lines
// may be refused by a terminal (from memory): it is left out with a finding.
func (x *isoxml) group(l Layer) {
	open := false
	for i, f := range l.Features {
		var parts orb.MultiLineString
		switch g := f.Geometry.(type) {
		case orb.LineString:
			parts = orb.MultiLineString{g}
		case orb.MultiLineString:
			parts = g
		}
		for _, s := range parts {
			line := x.round.line(func() { x.round.addAll(s, isoDecimals) })
			if line == nil {
				x.find(true, "line %d of %s vanishes at %d decimals of a degree: left out", i+1, l.Name, isoDecimals)
				continue
			}
			if x.third {
				x.line(l.called(f.Row), line)
				open = true
				continue
			}
			if !open {
				open = true
				x.groups++
				x.raw(fmt.Sprintf("\n<GGP A=\"GGP%d\"", x.groups))
				x.named("B", l.title())
				x.raw(">")
			}
			x.pattern(l.called(f.Row), line)
		}
	}
	switch {
	case open && !x.third:
		x.raw("</GGP>")
	case !open:
		x.find(false, "layer %s has no line: no guidance group", l.Name)
	}
}

// line is one to drive along in version 3.
func (x *isoxml) line(name string, line []place) {
	x.raw("\n<LSG A=\"", isoLineGuidance, `"`)
	x.named("B", name)
	x.raw(">")
	for _, p := range line {
		x.point(isoPointPlain, p, isoDecimals)
	}
	x.raw("</LSG>")
}

func (x *isoxml) pattern(name string, line []place) {
	kind := isoGuideCurve
	if len(line) == 2 {
		kind = isoGuideStraight
	}
	x.patterns++
	x.raw(fmt.Sprintf("\n<GPN A=\"GPN%d\"", x.patterns))
	x.named("B", name)
	x.raw(` C="`, kind, `"><LSG A="`, isoLineGuidance, `">`)
	for i, p := range line {
		switch i {
		case 0:
			x.point(isoPointA, p, isoDecimals)
		case len(line) - 1:
			x.point(isoPointB, p, isoDecimals)
		default:
			x.point(isoPointBetween, p, isoDecimals)
		}
	}
	x.raw("</LSG></GPN>")
}

func (x *isoxml) point(kind string, p place, dec int) {
	x.buf = append(x.buf[:0], "\n<PNT A=\""...)
	x.buf = append(append(x.buf, kind...), `" C="`...)
	x.buf = appendDegrees(x.buf, p.lat, dec)
	x.buf = append(x.buf, `" D="`...)
	x.buf = appendDegrees(x.buf, p.lon, dec)
	x.bytes(append(x.buf, `"/>`...))
}
