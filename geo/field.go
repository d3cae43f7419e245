package geo

import (
	"fmt"
	"math"
	"time"

	"balk/geo/crs"

	"github.com/paulmach/orb"
)

// Field is one field: its boundary and its obstacles.
type Field struct {
	Name     string           // as the file names it; "" if it does not
	Number   int              // 1, 2, 3 ... in the order of the file
	Source   string           // the file it came from
	Frame    string           // of the plate that its file is in, such as ETRS89; "" = WGS84, or not told
	Boundary orb.MultiPolygon // WGS84 degrees; outer rings counter-clockwise, holes (obstacles) clockwise, rings closed
}

// Drift is how far the field has moved in the satellites' frame by then, see crs.DriftAt.
func (f Field) Drift(at time.Time) (crs.Drift, bool) {
	c := f.Local().Centre
	return crs.DriftAt(f.Frame, c[0], c[1], at)
}

// Rough is the area of the field on a sphere, m²: to a hundredth, for fields of any size.
func (f Field) Rough() float64 {
	const radius, rad = 6371e3, math.Pi / 180 // m, mean of the earth
	var sum float64
	for _, p := range f.Boundary {
		for _, r := range p {
			for i := 1; i < len(r); i++ {
				// Between two meridians, from the equator up to a latitude, lies radius²·Δλ·sin φ (Archimedes).
				sum += (r[i-1][0] - r[i][0]) * rad * (math.Sin(r[i-1][1]*rad) + math.Sin(r[i][1]*rad)) / 2
			}
		}
	}
	return sum * radius * radius
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
	if s != "" { // what is of no file alone
		s += ": "
	}
	return s + f.What
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
