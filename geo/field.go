package geo

import (
	"fmt"

	"github.com/paulmach/orb"
)

// Field is one field: its boundary and its obstacles.
type Field struct {
	Name     string           // as the file names it; "" if it does not
	Number   int              // 1, 2, 3 ... in the order of the file
	Source   string           // the file it came from
	Boundary orb.MultiPolygon // WGS84 degrees; outer rings counter-clockwise, holes (obstacles) clockwise, rings closed
}

// Bearing is degrees clockwise from true north.
type Bearing float64

// Heading is radians counter-clockwise from east, in the plane.
type Heading float64

// Finding is an oddity in a file that work can go on with.
type Finding struct {
	File   string     `json:"file"`
	Record int        `json:"record,omitempty"` // feature, record or line, counted from 1; 0 = the whole file
	At     *orb.Point `json:"at,omitempty"`     // lon, lat in degrees, when there is a place
	What   string     `json:"what"`             // lower case, no full stop, value and limit shown
	Lost   bool       `json:"lost,omitempty"`   // true: something of the input could not be used (exit 3)
}

func (f Finding) String() string {
	s := f.File
	if f.Record > 0 {
		s += fmt.Sprintf(", record %d", f.Record)
	}
	if f.At != nil {
		s += fmt.Sprintf(", at %.6f, %.6f", f.At[0], f.At[1])
	}
	return s + ": " + f.What
}

// RingRule is what a boundary ring must keep.
type RingRule string

const (
	RingClosed RingRule = "has at least three different points"
	RingSimple RingRule = "does not cross itself"
	RingFinite RingRule = "has finite coordinates within ±180, ±90"
	RingApart  RingRule = "does not cross another ring"
	RingInside RingRule = "a hole lies inside its outer ring"
)

// RingError says which ring of a boundary breaks which rule, and where.
type RingError struct {
	File   string
	Record int // feature or record, from 1
	Ring   int // from 1
	Rule   RingRule
	At     orb.Point
}

func (e *RingError) Error() string {
	format := "%.6f, %.6f"
	if !OnEarth(e.At[0], e.At[1]) { // which can have hundreds of digits
		format = "%g, %g"
	}
	return fmt.Sprintf("%s, record %d: boundary ring %d at "+format+" breaks the rule %q", e.File, e.Record, e.Ring, e.At[0], e.At[1], string(e.Rule))
}
