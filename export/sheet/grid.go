package sheet

import (
	"math"
	"slices"

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

// degrees is a number of the grid; step is how far its lines lie apart.
func (s *setting) degrees(axis int, v, step float64) string {
	decimals := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	towards := [2][2]string{{s.Word("W"), s.Word("E")}, {s.Word("S"), s.Word("N")}}[axis]
	side := towards[1]
	if v < 0 {
		side = towards[0]
	}
	return s.Say("%.*f° %s", decimals, math.Abs(v), side)
}

// grid draws a grid of longitude and latitude over a map, with its numbers outside the frame.
func (s *setting) grid(l *leaf, v view) {
	to, from := s.local.Point, s.local.XY
	f := v.frame
	lo, hi := orb.Point{math.Inf(1), math.Inf(1)}, orb.Point{math.Inf(-1), math.Inf(-1)}
	for _, c := range []orb.Point{{f.X, f.Y}, {f.X + f.W, f.Y}, {f.X, f.Y + f.H}, {f.X + f.W, f.Y + f.H}} {
		q := to(v.back(c))
		for axis := range 2 {
			lo[axis], hi[axis] = min(lo[axis], q[axis]), max(hi[axis], q[axis])
		}
	}
	var taken []paper.Box
	for axis := range 2 {
		// How many mm a unit takes: from the middle one step along the axis.
		a := to(v.middle)
		b := a
		b[axis] += (hi[axis] - lo[axis]) / 10
		p, q := v.at(from(a)), v.at(from(b))
		unit := math.Hypot(p[0]-q[0], p[1]-q[1]) / (b[axis] - a[axis])
		step := roundUp(max(gridApart/unit, (hi[axis]-lo[axis])/mostLines), 1, 2, 5)
		for k := math.Ceil(lo[axis] / step); k*step <= hi[axis]; k++ {
			line := make([]plane.XY, 9) // enough for the bend of a parallel within a field
			for i := range line {
				var at orb.Point
				at[axis] = k * step
				at[1-axis] = lo[1-axis] + (hi[1-axis]-lo[1-axis])*float64(i)/float64(len(line)-1)
				line[i] = from(at)
			}
			for _, part := range v.lines(line) {
				l.Stroke([]orb.LineString{part}, paper.Pen{Colour: "#5F6F6F", Width: 0.1, Dash: []float64{0.6, 1.6}})
				for _, end := range []orb.Point{part[0], part[len(part)-1]} {
					taken = s.gridNumber(l, f, end, s.degrees(axis, k*step, step), taken)
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
	switch {
	case math.Abs(y-f.Y) < near:
		y -= 1.1
	case math.Abs(y-f.Y-f.H) < near:
		y += 2.7
	case math.Abs(x-f.X) < near:
		t.Turn, x = 90, x-1.1
	case math.Abs(x-f.X-f.W) < near:
		t.Turn, x = 90, x+2.7
	default:
		return taken
	}
	box := paper.Rect(x-w/2, y-2, w, 2.5)
	if t.Turn != 0 {
		box = paper.Rect(x-2, y-w/2, 2.5, w)
	}
	if !box.Within(f.Inset(-gridGutter)) || slices.ContainsFunc(taken, box.Inset(-0.8).Meets) {
		return taken
	}
	l.Text(x, y, t, words)
	return append(taken, box)
}

// roundUp is the least of some numbers × 10^n not below v; the numbers begin with 1 and end below 10.
func roundUp(v float64, of ...float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(v)))
	for _, k := range of {
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
