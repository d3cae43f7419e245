package isobus

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"balk/geo"
)

// Data dictionary identifiers of ISO 11783-11 used here, with their units. The
// numbers are those of the open dictionary copy named in the check values; the
// meaning of single states is from memory.
const (
	ddiActualWidth  = 67  // mm
	ddiDefaultWidth = 68  // mm
	ddiMaxWidth     = 70  // mm
	ddiWorking      = 117 // effective distance, mm
	ddiIdle         = 118 // ineffective distance, mm
	ddiOffsetX      = 134 // of an element, mm, ahead of the device's reference point
	ddiOffsetY      = 135 // of an element, mm, to the right of the device's reference point
	ddiWorkState    = 141 // 0 off, 1 on, 2 error, 3 not installed
	ddiSections     = 161 // states of sections 1 to 16, two bits each; 162: 17 to 32 ... 176
	ddiSectionsLast = 176
	ddiSpeed        = 397 // mm/s
)

// counters are the DDIs that a log's Counted is made of, each with what one of its steps is in the
// unit there. Numbers and units of 7, 12, 57 and 148 are from memory, the others those of the open
// dictionary copy.
var counters = map[int]struct {
	name string
	mean bool // over the fixes at work; else by how much it rose
	unit float64
	of   func(*geo.Counted) *float64
}{
	7:          {"mass per area", true, 1e-6, func(c *geo.Counted) *float64 { return &c.Mass }},   // actual mass per area, mg/m²
	12:         {"count per area", true, 1e-3, func(c *geo.Counted) *float64 { return &c.Count }}, // actual count per area, 0.001/m²
	52:         {"tillage depth", true, 1e-3, func(c *geo.Counted) *float64 { return &c.Depth }},  // actual tillage depth, mm
	57:         {"seeding depth", true, 1e-3, func(c *geo.Counted) *float64 { return &c.Depth }},  // actual seeding depth, mm
	116:        {"area", false, 1, func(c *geo.Counted) *float64 { return &c.Area }},              // total area, m²
	ddiWorking: {"working distance", false, 1e-3, func(c *geo.Counted) *float64 { return &c.Working }},
	ddiIdle:    {"idle distance", false, 1e-3, func(c *geo.Counted) *float64 { return &c.Idle }},
	119:        {"working time", false, 1, func(c *geo.Counted) *float64 { return &c.WorkingTime }}, // effective total time, s
	120:        {"idle time", false, 1, func(c *geo.Counted) *float64 { return &c.IdleTime }},       // ineffective total time, s
	148:        {"fuel", false, 1e-3, func(c *geo.Counted) *float64 { return &c.Fuel }},             // total fuel consumption, ml
}

// Kinds of device elements (DET attribute C), ISO 11783-10, from memory.
const (
	detDevice     = 1
	detFunction   = 2
	detSection    = 4
	detUnit       = 5
	detConnector  = 6
	detNavigation = 7
)

type Device struct { // DVC
	ID         string     `xml:"A,attr"`
	Designator string     `xml:"B,attr"`
	Elements   []Element  `xml:"DET"`
	Properties []Property `xml:"DPT"`
}

type Element struct { // DET
	ID         string `xml:"A,attr"`
	Object     string `xml:"B,attr"`
	Type       string `xml:"C,attr"`
	Designator string `xml:"D,attr"`
	Number     string `xml:"E,attr"`
	Parent     string `xml:"F,attr"`
	Refs       []Ref  `xml:"DOR"`
}

type Ref struct { // DOR
	Object string `xml:"A,attr"`
}

type Property struct { // DPT
	Object string `xml:"A,attr"`
	DDI    string `xml:"B,attr"`
	Value  string `xml:"C,attr"`
}

// ddiOf reads a DDI: four hexadecimal digits.
func ddiOf(s string) (int, bool) {
	v, err := strconv.ParseUint(strings.TrimSpace(s), 16, 16)
	return int(v), err == nil
}

// kind is the kind of an element, 0 where it is none.
func (e Element) kind() int {
	n, err := strconv.Atoi(strings.TrimSpace(e.Type))
	if err != nil {
		return 0
	}
	return n
}

// property is the fixed value of an element, in the unit of its DDI.
func (v Device) property(e Element, ddi int) (float64, bool) {
	for _, ref := range e.Refs {
		for _, p := range v.Properties {
			if p.Object != ref.Object {
				continue
			}
			if d, ok := ddiOf(p.DDI); ok && d == ddi {
				x, err := strconv.ParseInt(strings.TrimSpace(p.Value), 10, 32)
				return float64(x), err == nil
			}
		}
	}
	return 0, false
}

// width is the fixed width of an element in m: actual, default or greatest.
func (v Device) width(e Element) float64 {
	for _, ddi := range []int{ddiActualWidth, ddiDefaultWidth, ddiMaxWidth} {
		if x, ok := v.property(e, ddi); ok && x > 0 {
			return x / 1000
		}
	}
	return math.NaN()
}

// right is how far an element lies right of the device's reference point, m.
func (v Device) right(e Element) float64 {
	if x, ok := v.property(e, ddiOffsetY); ok {
		return x / 1000
	}
	return math.NaN()
}

// below lists the elements of a kind below element e, in the order of their
// numbers.
func (v Device) below(e Element, kind int) []Element {
	parent := map[string]string{}
	for _, x := range v.Elements {
		parent[x.Object] = x.Parent
	}
	var out []Element
	for _, x := range v.Elements {
		if x.kind() != kind {
			continue
		}
		up := x.Parent
		for range len(v.Elements) { // a ring of parents ends as well
			if up == e.Object {
				out = append(out, x)
				break
			}
			next, ok := parent[up]
			if !ok {
				break
			}
			up = next
		}
	}
	slices.SortStableFunc(out, func(a, b Element) int { return number(a) - number(b) })
	return out
}

func number(e Element) int {
	n, err := strconv.ParseInt(strings.TrimSpace(e.Number), 10, 32)
	if err != nil {
		return 0
	}
	return int(n)
}

// antennaRight is how far the antenna lies right of the reference point of the
// working device, m. The receiver is an element of that device or of another
// one; two devices are taken to meet with the first connector of each.
func antennaRight(devices []Device, work int) float64 {
	first := func(v Device, kind int) (float64, bool) {
		for _, e := range v.Elements {
			if e.kind() == kind {
				y := v.right(e)
				if math.IsNaN(y) {
					y = 0
				}
				return y, true
			}
		}
		return 0, false
	}
	if y, ok := first(devices[work], detNavigation); ok {
		return y
	}
	for i, v := range devices {
		if y, ok := first(v, detNavigation); ok && i != work {
			there, _ := first(v, detConnector)
			here, _ := first(devices[work], detConnector)
			return y - there + here
		}
	}
	return 0
}
