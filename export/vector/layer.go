package vector

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"
)

// Kind is what the features of a layer are.
type Kind uint8

const (
	Areas  Kind = iota + 1 // orb.Polygon or orb.MultiPolygon
	Lines                  // orb.LineString or orb.MultiLineString
	Points                 // orb.Point
)

func (k Kind) String() string {
	return map[Kind]string{Areas: "areas", Lines: "lines", Points: "points"}[k]
}

// Holds is what a property holds. In every row a value is of this Go type, or
// nil for none.
type Holds uint8

const (
	Words   Holds = iota + 1 // string
	Whole                    // int
	Number                   // float64, finite
	Truth                    // bool
	Instant                  // time.Time, written in UTC
	Wholes                   // []int
)

// Property is a column of a layer, the same in every format.
type Property struct {
	Name     string // with its unit, like "area_m2"; a to z, digits and "_", a letter first, at most 60
	Short    string // for tables whose names have at most 10 characters; "" = made from Name, see shortNames
	Title    string // for people, without unit; "" = Name
	Unit     string // for people; "" = none
	Holds    Holds
	Listed   bool      // Words that are a list, with ", " between: where they are cut, they are cut there
	Size     int       // characters that a shapefile's column has at least
	Said     [2]string // for people, a Truth that does not hold and one that does; "" = no and yes
	Comma    bool      // for people, a Number with a decimal comma
	Decimals int       // of a Number where it is written as text, and to which LayersOf rounds; 0 to 15
}

// Fact is a number about a layer as a whole.
type Fact struct {
	Property
	Value any
}

// Feature is one thing of a layer with its row, in the order of the columns.
//
// Coordinates are degrees on WGS84, longitude first. Rings are closed, outer rings run
// counter-clockwise, holes clockwise; each format turns them as it wants them.
type Feature struct {
	Geometry orb.Geometry
	Row      []any
}

// Layer is a set of features of one kind that have the same properties.
type Layer struct {
	Name     string // of files, tables and folders; made like the name of a property
	Title    string // for people; "" = Name
	Kind     Kind
	Label    string // name of the property that names a feature; "" = none
	Style    Style
	Columns  []Property
	Facts    []Fact
	Hidden   bool // it is not shown until somebody asks for it, where a format can say so
	LeftOut  int  // rings and lines that vanish when rounded, see LayersOf
	Features []Feature
}

// Style is how a layer looks where a format can say so. Colours are #RRGGBB.
type Style struct {
	Line   string  // "" = black
	Width  float64 // of lines, pixels; 0 = 1
	Dashed bool
	Fill   string  // "" = not filled
	Cover  float64 // how much the fill covers what is below, 0 to 1
}

// LayerError is a layer that cannot be written, and why.
type LayerError struct {
	Layer   string
	Feature int        // from 1; 0 = the whole layer
	At      *orb.Point // lon, lat in degrees, when there is a place
	What    string
}

func (e *LayerError) Error() string {
	s := fmt.Sprintf("layer %q", e.Layer)
	if e.Feature > 0 {
		s += fmt.Sprintf(", feature %d", e.Feature)
	}
	if e.At != nil {
		s += fmt.Sprintf(", at %.6f, %.6f", e.At[0], e.At[1])
	}
	return s + ": " + e.What
}

// check holds a layer to what its types promise. Every writer calls it before
// the first byte is written.
func (l Layer) check() error {
	bad := func(format string, args ...any) error {
		return &LayerError{Layer: l.Name, What: fmt.Sprintf(format, args...)}
	}
	if !plainName(l.Name) {
		return bad("its name must be of a to z, digits and _, a letter first, and at most %d long", nameLimit)
	}
	if l.Kind < Areas || l.Kind > Points {
		return bad("its kind is %d: areas, lines or points are wanted", l.Kind)
	}
	seen := map[string]bool{}
	for _, c := range l.Columns {
		switch {
		case !plainName(c.Name):
			return bad("property %q: its name must be of a to z, digits and _, a letter first, and at most %d long", c.Name, nameLimit)
		case seen[c.Name]:
			return bad("two properties are called %q", c.Name)
		case c.Holds < Words || c.Holds > Wholes:
			return bad("property %q: it is not said what it holds", c.Name)
		case c.Decimals < 0 || c.Decimals > 15:
			return bad("property %q has %d decimals: 0 to 15 are wanted", c.Name, c.Decimals)
		}
		seen[c.Name] = true
	}
	if err := l.Style.check(); err != nil {
		return bad("%v", err)
	}
	if l.Label != "" && !seen[l.Label] {
		return bad("its label %q is none of its properties", l.Label)
	}
	for _, f := range l.Facts {
		if err := f.fits(f.Value); err != nil {
			return bad("%v", err)
		}
	}
	for i, f := range l.Features {
		if err := l.checkFeature(f); err != nil {
			err.Layer, err.Feature = l.Name, i+1
			return err
		}
	}
	return nil
}

// check holds a style to what its comments say.
func (s Style) check() error {
	for _, rgb := range []string{s.Line, s.Fill} {
		if _, ok := colour(rgb); !ok {
			return fmt.Errorf("colour %q: #RRGGBB is wanted", rgb)
		}
	}
	if !(s.Cover >= 0 && s.Cover <= 1) {
		return fmt.Errorf("its fill covers %g: 0 to 1 is wanted", s.Cover)
	}
	if !(s.Width >= 0 && s.Width <= 100) {
		return fmt.Errorf("its lines are %g pixels wide: 0 to 100 is wanted", s.Width)
	}
	return nil
}

// colour reads #RRGGBB; "" is black.
func colour(rgb string) (v uint32, ok bool) {
	if rgb == "" {
		return 0, true
	}
	n, err := strconv.ParseUint(strings.TrimPrefix(rgb, "#"), 16, 24)
	return uint32(n), err == nil && len(rgb) == 7 && rgb[0] == '#'
}

func (l Layer) checkFeature(f Feature) *LayerError {
	if err := l.checkGeometry(f.Geometry); err != nil {
		return err
	}
	if len(f.Row) != len(l.Columns) {
		return &LayerError{What: fmt.Sprintf("%d values for %d properties", len(f.Row), len(l.Columns))}
	}
	for i, v := range f.Row {
		if err := l.Columns[i].fits(v); err != nil {
			return &LayerError{What: err.Error()}
		}
	}
	return nil
}

func (l Layer) checkGeometry(geometry orb.Geometry) *LayerError {
	wrong := &LayerError{What: fmt.Sprintf("a %T in a layer of %s", geometry, l.Kind)}
	switch g := geometry.(type) {
	case orb.Polygon:
		if l.Kind != Areas {
			return wrong
		}
		return checkRings(g)
	case orb.MultiPolygon:
		if l.Kind != Areas || len(g) == 0 {
			return wrong
		}
		for _, p := range g {
			if err := checkRings(p); err != nil {
				return err
			}
		}
	case orb.LineString:
		if l.Kind != Lines {
			return wrong
		}
		return checkLine(g, 2)
	case orb.MultiLineString:
		if l.Kind != Lines || len(g) == 0 {
			return wrong
		}
		for _, s := range g {
			if err := checkLine(s, 2); err != nil {
				return err
			}
		}
	case orb.Point:
		if l.Kind != Points {
			return wrong
		}
		return checkLine([]orb.Point{g}, 1)
	default:
		return wrong
	}
	return nil
}

func checkRings(p orb.Polygon) *LayerError {
	if len(p) == 0 {
		return &LayerError{What: "a polygon without rings"}
	}
	for i, r := range p {
		if err := checkLine(orb.LineString(r), 4); err != nil {
			return err
		}
		if r[0] != r[len(r)-1] {
			return &LayerError{At: &r[0], What: fmt.Sprintf("ring %d is open", i+1)}
		}
		if a := squareDegrees(r); i == 0 && a <= 0 || i > 0 && a >= 0 {
			return &LayerError{At: &r[0], What: fmt.Sprintf("ring %d runs the wrong way or has no area: outer rings run counter-clockwise, holes clockwise", i+1)}
		}
	}
	return nil
}

func checkLine(pts []orb.Point, least int) *LayerError {
	if len(pts) < least {
		return &LayerError{What: fmt.Sprintf("%d positions: at least %d are wanted", len(pts), least)}
	}
	for i := range pts {
		if !onEarth(pts[i]) {
			return &LayerError{At: &pts[i], What: noPlace}
		}
		if i > 0 && math.Abs(pts[i][0]-pts[i-1][0]) > halfTurn {
			return &LayerError{At: &pts[i], What: acrossAntimeridian}
		}
	}
	return nil
}

// Faults of places. What lies on both sides of the antimeridian is written in parts that lie on one each.
const (
	noPlace            = "a position that is not a number, or not within ±180°, ±90°"
	acrossAntimeridian = "it lies across the antimeridian (180° east and west)"
	halfTurn           = 180 // degrees of longitude between neighbours that can only mean the way round the other side
)

// onEarth is false for NaN too.
func onEarth(p orb.Point) bool { return math.Abs(p[0]) <= 180 && math.Abs(p[1]) <= 90 }

// squareDegrees is the signed area of a closed ring, for its direction only.
func squareDegrees(r orb.Ring) float64 {
	var s float64
	for i := 1; i+1 < len(r); i++ {
		s += (r[i][0]-r[0][0])*(r[i+1][1]-r[0][1]) - (r[i][1]-r[0][1])*(r[i+1][0]-r[0][0])
	}
	return s / 2
}

// fits says whether a value may stand in a column.
func (p Property) fits(v any) error {
	ok := false
	switch v := v.(type) {
	case nil:
		ok = true
	case string:
		ok = p.Holds == Words
	case int:
		ok = p.Holds == Whole
	case float64:
		if ok = p.Holds == Number; ok && (math.IsNaN(v) || math.IsInf(v, 0)) {
			return fmt.Errorf("property %q is %v: a finite number is wanted, or nil for none", p.Name, v)
		}
	case bool:
		ok = p.Holds == Truth
	case time.Time:
		ok = p.Holds == Instant
	case []int:
		ok = p.Holds == Wholes
	}
	if !ok {
		return fmt.Errorf("property %q has a value of type %T, which it does not hold", p.Name, v)
	}
	return nil
}

// nameLimit is far below what any format takes; it bounds tables and messages.
const nameLimit = 60

// plainName says whether a name needs no quotes in any format.
func plainName(s string) bool {
	if s == "" || len(s) > nameLimit {
		return false
	}
	for i := range len(s) {
		c := s[i]
		letter := c >= 'a' && c <= 'z'
		if !letter && (i == 0 || c != '_' && (c < '0' || c > '9')) {
			return false
		}
	}
	return true
}

// title is the name for people.
func (p Property) title() string {
	if p.Title != "" {
		return p.Title
	}
	return p.Name
}

func (l Layer) title() string {
	if l.Title != "" {
		return l.Title
	}
	return l.Name
}

// label is the place of the property that names a feature, -1 for none.
func (l Layer) label() int {
	for i, c := range l.Columns {
		if c.Name == l.Label {
			return i
		}
	}
	return -1
}

// bound is the box around all features; false: there are none.
func (l Layer) bound() (orb.Bound, bool) {
	var b orb.Bound
	for i, f := range l.Features {
		if i == 0 {
			b = f.Geometry.Bound()
		} else {
			b = b.Union(f.Geometry.Bound())
		}
	}
	return b, len(l.Features) > 0
}
