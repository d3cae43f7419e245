package sheet

import (
	"math"

	"balk/export/sheet/paper"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// gridApart is how near lines of the coordinate grid may come, in mm.
const gridApart = 38.0

// mostLines bounds the lines of a kind: where meridians meet, near a pole, some lie
// closer than in the middle.
const mostLines = 30

// gridGutter is the room for the grid's numbers around a map, in mm.
const gridGutter = 4.0

// gridKind is a coordinate grid: from the plane to its numbers and back.
type gridKind struct {
	to   func(plane.XY) orb.Point
	from func(orb.Point) plane.XY
	word func(axis int, v, step float64) string
}

// gridKind is the grid that the page asks for.
func (s *setting) gridKind() gridKind {
	if s.page.Grid == "metres" {
		return gridKind{
			to:   func(p plane.XY) orb.Point { return orb.Point{p.X, p.Y} },
			from: func(p orb.Point) plane.XY { return plane.XY{X: p[0], Y: p[1]} },
			word: func(axis int, v, _ float64) string {
				return s.say("%g m %s", math.Abs(v), s.towards(axis, v))
			},
		}
	}
	return gridKind{
		to:   s.local.Point,
		from: s.local.XY,
		word: func(axis int, v, step float64) string {
			decimals := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
			return s.say("%.*f° %s", decimals, math.Abs(v), s.towards(axis, v))
		},
	}
}

// towards is the letter of the direction in which a value lies along an axis.
func (s *setting) towards(axis int, v float64) string {
	switch {
	case axis == 0 && v < 0:
		return s.word("W")
	case axis == 0:
		return s.word("E")
	case v < 0:
		return s.word("S")
	}
	return s.word("N")
}

// grid draws a coordinate grid over a map, with its numbers outside the frame.
func (s *setting) grid(l *leaf, v view) {
	kind := s.gridKind()
	f := v.frame
	lo, hi := orb.Point{math.Inf(1), math.Inf(1)}, orb.Point{math.Inf(-1), math.Inf(-1)}
	for _, c := range []orb.Point{{f.X, f.Y}, {f.X + f.W, f.Y}, {f.X, f.Y + f.H}, {f.X + f.W, f.Y + f.H}} {
		q := kind.to(v.back(c))
		for axis := range 2 {
			lo[axis], hi[axis] = min(lo[axis], q[axis]), max(hi[axis], q[axis])
		}
	}
	var taken []paper.Box
	for axis := range 2 {
		// How many mm a unit takes: from the middle one step along the axis.
		a := kind.to(v.middle)
		b := a
		b[axis] += (hi[axis] - lo[axis]) / 10
		p, q := v.at(kind.from(a)), v.at(kind.from(b))
		unit := math.Hypot(p[0]-q[0], p[1]-q[1]) / (b[axis] - a[axis])
		step := roundUp(max(gridApart/unit, (hi[axis]-lo[axis])/mostLines))
		for k := math.Ceil(lo[axis] / step); k*step <= hi[axis]; k++ {
			line := make([]plane.XY, 9) // enough for the bend of a parallel within a field
			for i := range line {
				var at orb.Point
				at[axis] = k * step
				at[1-axis] = lo[1-axis] + (hi[1-axis]-lo[1-axis])*float64(i)/float64(len(line)-1)
				line[i] = kind.from(at)
			}
			for _, part := range v.lines(line) {
				l.Stroke([]orb.LineString{part}, paper.Pen{Colour: "#5F6F6F", Width: 0.1, Dash: []float64{0.6, 1.6}})
				for _, end := range []orb.Point{part[0], part[len(part)-1]} {
					taken = s.gridNumber(l, f, end, kind.word(axis, k*step, step), taken)
				}
			}
		}
	}
}

// gridNumber writes a number outside the frame where a line of the grid ends, if
// it does not run into another.
func (s *setting) gridNumber(l *leaf, f paper.Box, end orb.Point, words string, taken []paper.Box) []paper.Box {
	const near = 0.05 // mm from the frame: what cutting off leaves
	t := paper.Lettering{Size: 6, Grey: true, Align: paper.Centre}
	w := l.Fonts.Width(t, words)
	x, y := end[0], end[1]
	var box paper.Box
	switch {
	case math.Abs(y-f.Y) < near:
		y -= 1.1
		box = paper.Rect(x-w/2, y-2, w, 2.5)
	case math.Abs(y-f.Y-f.H) < near:
		y += 2.7
		box = paper.Rect(x-w/2, y-2, w, 2.5)
	case math.Abs(x-f.X) < near:
		t.Turn, x = 90, x-1.1
		box = paper.Rect(x-2, y-w/2, 2.5, w)
	case math.Abs(x-f.X-f.W) < near:
		t.Turn, x = 90, x+2.7
		box = paper.Rect(x-2, y-w/2, 2.5, w)
	default:
		return taken
	}
	if !box.Within(f.Inset(-gridGutter)) {
		return taken
	}
	for _, other := range taken {
		if box.Inset(-0.8).Meets(other) {
			return taken
		}
	}
	l.Text(x, y, t, words)
	return append(taken, box)
}

// roundUp is the least of 1, 2, 5 × 10^n not below v.
func roundUp(v float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, k := range []float64{1, 2, 5} {
		if k*p >= v {
			return k * p
		}
	}
	return 10 * p
}

// roundLength is the largest of 1, 2, 5 × 10^n not above m.
func roundLength(m float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(m)))
	for _, k := range []float64{5, 2} {
		if k*p <= m {
			return k * p
		}
	}
	return p
}
