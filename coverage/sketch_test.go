package coverage

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// paper is where the tests draw: metres around an invented place.
var paper = geo.LocalAt(orb.Point{11.5, 48.2})

// sketch is a field and its track, drawn in metres.
type sketch struct {
	rings [][]plane.XY // boundary, then obstacles
	lines [][]plane.XY // parts of one track
	times [][]float64  // s, nil: not logged
	state [][]geo.WorkState
}

func rectangle(x0, y0, x1, y1 float64) []plane.XY {
	return []plane.XY{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

// straight is a line of fixes about step metres apart.
func straight(a, b plane.XY, step float64) []plane.XY {
	n := max(1, int(math.Round(a.Dist(b)/step)))
	var line []plane.XY
	for i := range n + 1 {
		line = append(line, a.Lerp(b, float64(i)/float64(n)))
	}
	return line
}

// arc is a line of fixes on a circle around c, angles in degrees.
func arc(c plane.XY, radius, from, to float64, n int) []plane.XY {
	var line []plane.XY
	for i := range n + 1 {
		sin, cos := math.Sincos((from + (to-from)*float64(i)/float64(n)) * math.Pi / 180)
		line = append(line, c.Add(plane.XY{X: cos, Y: sin}.Scale(radius)))
	}
	return line
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

func (s sketch) track() geo.Track {
	t := geo.Track{Source: "sketch.geojson", Line: geom.NewMultiLineString(geom.XYM)}
	for k, line := range s.lines {
		var flat []float64
		for i, p := range line {
			q, sec := paper.Point(p), math.NaN()
			if s.times != nil {
				sec = s.times[k][i]
			}
			flat = append(flat, q[0], q[1], sec)
		}
		if err := t.Line.Push(geom.NewLineStringFlat(geom.XYM, flat)); err != nil {
			panic(err) // a sketch that go-geom does not take is a fault of the test
		}
		if s.state != nil {
			t.State = append(t.State, s.state[k]...)
		}
	}
	return t
}

func (s sketch) check(t *testing.T, w Work) Result {
	t.Helper()
	r, err := Check(t.Context(), s.field(), []geo.Track{s.track()}, w)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// moved is the sketch with every point taken elsewhere; mirrored ones need their
// rings turned, which onPlane does.
func (s sketch) moved(f func(plane.XY) plane.XY) sketch {
	o := s
	o.rings, o.lines = nil, nil
	for _, r := range s.rings {
		o.rings = append(o.rings, apply(r, f))
	}
	for _, l := range s.lines {
		o.lines = append(o.lines, apply(l, f))
	}
	return o
}

func apply(line []plane.XY, f func(plane.XY) plane.XY) []plane.XY {
	out := make([]plane.XY, len(line))
	for i, p := range line {
		out[i] = f(p)
	}
	return out
}

// reversed is the sketch driven backwards.
func (s sketch) reversed() sketch {
	o := s
	o.lines = nil
	for _, l := range s.lines {
		l = slices.Clone(l)
		slices.Reverse(l)
		o.lines = append(o.lines, l)
	}
	slices.Reverse(o.lines)
	return o
}

// split cuts every part at some of its fixes, which end one part and start the
// next.
func (s sketch) split(rng *rand.Rand) sketch {
	o := s
	o.lines = nil
	for _, l := range s.lines {
		for len(l) > 4 {
			k := 2 + rng.IntN(len(l)-3)
			o.lines = append(o.lines, l[:k+1])
			l = l[k:]
		}
		o.lines = append(o.lines, l)
	}
	return o
}

// operation is a field of 1 to 4 ha worked in boustrophedon with wander, tight
// turns, a spiral and a stray loop: everything a swath can do wrong.
func operation(rng *rand.Rand) sketch {
	long, wide := 120+80*rng.Float64(), 80+60*rng.Float64()
	s := sketch{rings: [][]plane.XY{rectangle(-long/2, -wide/2, long/2, wide/2)}}
	if rng.IntN(2) == 0 {
		s.rings = append(s.rings, rectangle(-8, -6, 9, 7))
	}
	wander := func(line []plane.XY) []plane.XY {
		return apply(line, func(p plane.XY) plane.XY {
			return plane.XY{X: p.X + 0.02*rng.NormFloat64(), Y: p.Y + 0.02*rng.NormFloat64()}
		})
	}
	pitch, step := 4.7+0.6*rng.Float64(), 0.6+1.8*rng.Float64()
	var all []plane.XY
	dir := 1.0
	for y := -wide/2 + 2.5; y < wide/2; y += pitch {
		all = append(all, straight(plane.XY{X: -dir * (long/2 - 4), Y: y}, plane.XY{X: dir * (long/2 - 4), Y: y}, step)...)
		if y+pitch < wide/2 { // turn with half the pitch as radius: the inner end runs backwards
			turn := arc(plane.XY{X: dir * (long/2 - 4), Y: y + pitch/2}, pitch/2, -90, 90*1, 7)
			if dir < 0 {
				turn = apply(turn, func(p plane.XY) plane.XY { return plane.XY{X: -2*(long/2-4) - p.X, Y: p.Y} })
			}
			all = append(all, turn[1:7]...)
		}
		dir = -dir
	}
	s.lines = append(s.lines, wander(all))
	s.lines = append(s.lines, wander(arc(plane.XY{X: 10, Y: 5}, 4+6*rng.Float64(), 0, 900, 90)))
	s.lines = append(s.lines, wander(arc(plane.XY{X: -10, Y: 5}, 1+rng.Float64(), 90, 500, 40)))
	return s
}
