package rework

import (
	"math"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// paper is where the tests draw: metres around an invented place, which is the middle of
// every field drawn.
var paper = geo.LocalAt(orb.Point{11.5, 48.2})

func rectangle(x0, y0, x1, y1 float64) []plane.XY {
	return []plane.XY{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func straight(x0, y0, x1, y1, step float64) []plane.XY {
	return spaced([]plane.XY{{X: x0, Y: y0}, {X: x1, Y: y1}}, step)
}

func arc(c plane.XY, radius, from, to float64, n int) []plane.XY {
	var line []plane.XY
	for i := range n + 1 {
		sin, cos := math.Sincos((from + (to-from)*float64(i)/float64(n)) * math.Pi / 180)
		line = append(line, c.Add(plane.XY{X: cos, Y: sin}.Scale(radius)))
	}
	return line
}

// sketch is a field and the passes of an operation on it.
type sketch struct {
	rings  [][]plane.XY
	passes [][]plane.XY
}

func (s sketch) field() geo.Field {
	var poly orb.Polygon
	for _, r := range s.rings {
		var ring orb.Ring
		for _, p := range r {
			ring = append(ring, paper.Point(p))
		}
		poly = append(poly, append(ring, ring[0]))
	}
	return geo.Field{Name: "sketch", Number: 1, Source: "sketch.geojson", Boundary: orb.MultiPolygon{poly}}
}

func trackOf(local geo.Local, lines [][]plane.XY) geo.Track {
	t := geo.Track{Source: "sketch.geojson", Line: geom.NewMultiLineString(geom.XYM)}
	for _, line := range lines {
		var flat []float64
		for _, p := range line {
			q := local.Point(p)
			flat = append(flat, q[0], q[1], math.NaN())
		}
		if err := t.Line.Push(geom.NewLineStringFlat(geom.XYM, flat)); err != nil {
			panic(err) // a sketch that go-geom does not take is a fault of the test
		}
	}
	return t
}

func (s sketch) moved(f func(plane.XY) plane.XY) sketch {
	all := func(lines [][]plane.XY) (out [][]plane.XY) {
		for _, l := range lines {
			var moved []plane.XY
			for _, p := range l {
				moved = append(moved, f(p))
			}
			out = append(out, moved)
		}
		return out
	}
	return sketch{all(s.rings), all(s.passes)}
}

func (s sketch) check(t testing.TB, w drive.Work) coverage.Result {
	t.Helper()
	r, err := coverage.Check(t.Context(), s.field(), []geo.Track{trackOf(paper, s.passes)}, w)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func planOf(t testing.TB, r coverage.Result, im rig.Implement, o Options) Plan {
	t.Helper()
	p, err := Of(t.Context(), r, im, o)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// five is a mounted set of 5 m without overlap that turns on 6 m; nothing is known of its outline.
var five = rig.Implement{Width: 5, Turning: rig.Turning{Radius: 6}}

// rowsWith is a field of 200 by 100 m worked in full, but for the ground named: passes 5 m wide
// along x, from −100 to 100, the bar's middle at the given heights.
func rowsWith(heights ...float64) sketch {
	s := sketch{rings: [][]plane.XY{rectangle(-100, -50, 100, 50)}}
	for _, y := range heights {
		s.passes = append(s.passes, straight(-100, y, 100, y, 2))
	}
	return s
}

// heights are rows from y0 (edge of the first) upward, 5 m each, n of them.
func heights(y0 float64, n int) []float64 {
	var out []float64
	for k := range n {
		out = append(out, y0+2.5+5*float64(k))
	}
	return out
}

// audit holds a plan to its contract, whatever the case.
func audit(t *testing.T, r coverage.Result, im rig.Implement, p Plan) {
	t.Helper()
	field := r.Balance.Field
	near := func(what string, got, want, tolerance float64) {
		t.Helper()
		if !(math.Abs(got-want) <= tolerance) {
			t.Errorf("%s: %.6f, want %.6f within %.2g", what, got, want, tolerance)
		}
	}
	sum, seen := p.Rounding, map[int]bool{}
	for _, v := range p.Chosen {
		sum += v.Area
		if seen[v.Strip] {
			t.Errorf("strip %d is chosen or left out twice", v.Strip)
		}
		seen[v.Strip] = true
		near("visit, covered + left", v.Covered+v.Left, v.Area, 1e-3+1e-5*v.Area)
		if len(v.Passes) == 0 {
			t.Errorf("strip %d is chosen, but no pass goes there", v.Strip)
		}
		// A strip with an arm round a corner keeps a wedge of it where its pass begins on a bend: 0.17 of 7.2 m² in the real log.
		if v.Left > 0.024*v.Area+0.01 {
			t.Errorf("strip %d of %.2f m²: %.2f m² left", v.Strip, v.Area, v.Left)
		}
	}
	for _, s := range p.Skipped {
		sum += s.Area
		if s.Strip > 0 && seen[s.Strip] {
			t.Errorf("strip %d is chosen or left out twice", s.Strip)
		}
		seen[s.Strip] = s.Strip > 0
		if s.Why == "" {
			t.Errorf("strip %d is left out without a reason", s.Strip)
		}
	}
	for _, s := range r.Strips {
		if !seen[s.Number] {
			t.Errorf("strip %d is neither chosen nor left out", s.Number)
		}
	}
	near("chosen + left out", sum, r.Balance.Missed, 1e-9*field)
	near("rounding", p.Rounding, 0, 1e-5*field)
	near("covered + left", p.Covered+p.Left, p.Missed, 1e-9*field)
	near("swath", p.Covered+p.ExtraDouble+p.Unknown+p.Outside, p.Swath, 1e-9*field)
	if p.ExtraDouble < -1e-6*field || p.Left < -1e-6*field {
		t.Errorf("extra double %g m², left %g m²: must not be below 0", p.ExtraDouble, p.Left)
	}
	var length, time float64
	passes := 0
	for i, piece := range p.Route {
		length, time = length+piece.Length, time+piece.Time
		if l := plane.Length(piece.Line); math.Abs(l-piece.Length) > 0.004*l+0.01 { // chords of circles are up to wayBow/(3·radius) shorter
			t.Errorf("piece %d, pass %d: %.2f m, drawn are %.2f m", i+1, piece.Pass, piece.Length, l)
		}
		if piece.Pass > 0 {
			passes++
		}
		if wantPass := i%2 == 1; wantPass != (piece.Pass > 0) {
			t.Errorf("piece %d of the way, pass %d: ways and passes must alternate", i+1, piece.Pass)
		}
	}
	near("length", length, p.Length, 1e-6)
	near("time", time, p.Time, 1e-6)
	if passes != len(p.Passes) {
		t.Errorf("%d passes on the way, want %d", passes, len(p.Passes))
	}
}
