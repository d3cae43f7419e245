// Package trial draws fields and tracks for tests, and reads the real ones kept outside the repository. Only tests import
// it.
//
// In: metres around an invented place (Paper), or the name of a file of the shared folder. Out: geo.Field and geo.Track.
package trial

import (
	"math"
	"math/rand/v2"
	"slices"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// BigOperation is a square field of about n fixes at 2.5 m: two headland rounds
// with rounded corners, then passes of 5 m with 2 cm of wander.
func BigOperation(n int) Sketch {
	rng := rand.New(rand.NewPCG(uint64(n), 5))
	const pitch, step = 4.9, 2.5
	side := 10.0
	for side*side/(pitch*step) < float64(n) {
		side *= 1.002
	}
	h := side / 2
	s := Sketch{Rings: [][]plane.XY{Rectangle(-h, -h, h, h)}}
	wander := func(line []plane.XY) []plane.XY {
		return Apply(line, func(p plane.XY) plane.XY {
			return plane.XY{X: p.X + 0.02*rng.NormFloat64(), Y: p.Y + 0.02*rng.NormFloat64()}
		})
	}
	for k := range 2 {
		d, r := h-2.5-float64(k)*pitch, 6.0
		var round []plane.XY
		for q := range 4 {
			sin, cos := []float64{0, 1, 0, -1}[q], []float64{1, 0, -1, 0}[q]
			leg := append(Straight(plane.XY{X: -d + r, Y: -d}, plane.XY{X: d - r, Y: -d}, step), Arc(plane.XY{X: d - r, Y: -d + r}, r, -90, 0, 5)[1:5]...)
			round = append(round, Apply(leg, func(p plane.XY) plane.XY { return plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y} })...)
		}
		s.Lines = append(s.Lines, wander(round))
	}
	dir := 1.0
	for y := -h + 2*pitch + 2.5; y < h-2*pitch; y += pitch {
		s.Lines = append(s.Lines, wander(Straight(plane.XY{X: -dir * (h - 2*pitch), Y: y}, plane.XY{X: dir * (h - 2*pitch), Y: y}, step)))
		dir = -dir
	}
	return s
}

var BenchSizes = []int{15_000, 150_000, 1_500_000}

// Slope has passes east and west, 5 m apart.
func Slope() Sketch {
	s := Sketch{Rings: [][]plane.XY{Rectangle(0, 0, 200, 60)}}
	for i := range 10 {
		y := 5 + 5*float64(i)
		a, b := plane.XY{X: 5, Y: y}, plane.XY{X: 195, Y: y}
		if i%2 == 1 {
			a, b = b, a
		}
		s.Lines = append(s.Lines, Straight(a, b, 2))
	}
	return s
}

// Headed adds the headings of a set that crabs by angle degrees where downhill is
// south, and of a sensor that looks so many degrees to the left.
func (s Sketch) Headed(angle, sensor float64) geo.Track {
	track := s.Track()
	for _, line := range s.Lines {
		east := line[1].X > line[0].X
		for range line {
			b := 90 - angle - sensor // driven east: uphill is left, a smaller bearing
			if !east {
				b = 270 + angle - sensor
			}
			track.Heading = append(track.Heading, geo.Bearing(b))
		}
	}
	return track
}

// Paper is where the tests draw: metres around an invented place.
var Paper = geo.LocalAt(orb.Point{11.5, 48.2})

// Sketch is a field and its track, drawn in metres.
type Sketch struct {
	Rings [][]plane.XY // boundary, then obstacles
	Lines [][]plane.XY // parts of one track
	Times [][]float64  // s, nil: not logged
	State [][]geo.WorkState
}

func Rectangle(x0, y0, x1, y1 float64) []plane.XY {
	return []plane.XY{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

// Straight is a line of fixes about step metres apart.
func Straight(a, b plane.XY, step float64) []plane.XY {
	n := max(1, int(math.Round(a.Dist(b)/step)))
	var line []plane.XY
	for i := range n + 1 {
		line = append(line, a.Lerp(b, float64(i)/float64(n)))
	}
	return line
}

// Arc is a line of fixes on a circle around c, angles in degrees.
func Arc(c plane.XY, radius, from, to float64, n int) []plane.XY {
	var line []plane.XY
	for i := range n + 1 {
		sin, cos := math.Sincos((from + (to-from)*float64(i)/float64(n)) * math.Pi / 180)
		line = append(line, c.Add(plane.XY{X: cos, Y: sin}.Scale(radius)))
	}
	return line
}

func (s Sketch) Field() geo.Field {
	var poly orb.Polygon
	for _, r := range s.Rings {
		var ring orb.Ring
		for _, p := range r {
			ring = append(ring, Paper.Point(p))
		}
		poly = append(poly, append(ring, ring[0]))
	}
	return geo.Field{Name: "sketch", Number: 1, Source: "sketch.geojson", Boundary: orb.MultiPolygon{poly}}
}

func (s Sketch) Track() geo.Track {
	t := geo.Track{Source: "sketch.geojson", Line: geom.NewMultiLineString(geom.XYM)}
	for k, line := range s.Lines {
		var flat []float64
		for i, p := range line {
			q, sec := Paper.Point(p), math.NaN()
			if s.Times != nil {
				sec = s.Times[k][i]
			}
			flat = append(flat, q[0], q[1], sec)
		}
		if err := t.Line.Push(geom.NewLineStringFlat(geom.XYM, flat)); err != nil {
			panic(err) // a sketch that go-geom does not take is a fault of the test
		}
		if s.State != nil {
			t.State = append(t.State, s.State[k]...)
		}
	}
	return t
}

// Moved is the sketch with every point taken elsewhere; mirrored ones need their
// rings turned, which onPlane does.
func (s Sketch) Moved(f func(plane.XY) plane.XY) Sketch {
	o := s
	o.Rings, o.Lines = nil, nil
	for _, r := range s.Rings {
		o.Rings = append(o.Rings, Apply(r, f))
	}
	for _, l := range s.Lines {
		o.Lines = append(o.Lines, Apply(l, f))
	}
	return o
}

func Apply(line []plane.XY, f func(plane.XY) plane.XY) []plane.XY {
	out := make([]plane.XY, len(line))
	for i, p := range line {
		out[i] = f(p)
	}
	return out
}

// Reversed is the sketch driven backwards.
func (s Sketch) Reversed() Sketch {
	o := s
	o.Lines = nil
	for _, l := range s.Lines {
		l = slices.Clone(l)
		slices.Reverse(l)
		o.Lines = append(o.Lines, l)
	}
	slices.Reverse(o.Lines)
	return o
}

// Split cuts every part at some of its fixes, which end one part and start the
// next.
func (s Sketch) Split(rng *rand.Rand) Sketch {
	o := s
	o.Lines = nil
	for _, l := range s.Lines {
		for len(l) > 4 {
			k := 2 + rng.IntN(len(l)-3)
			o.Lines = append(o.Lines, l[:k+1])
			l = l[k:]
		}
		o.Lines = append(o.Lines, l)
	}
	return o
}

// Operation is a field of 1 to 4 ha worked in boustrophedon with wander, tight
// turns, a spiral and a stray loop: everything a swath can do wrong.
func Operation(rng *rand.Rand) Sketch {
	long, wide := 120+80*rng.Float64(), 80+60*rng.Float64()
	s := Sketch{Rings: [][]plane.XY{Rectangle(-long/2, -wide/2, long/2, wide/2)}}
	if rng.IntN(2) == 0 {
		s.Rings = append(s.Rings, Rectangle(-8, -6, 9, 7))
	}
	wander := func(line []plane.XY) []plane.XY {
		return Apply(line, func(p plane.XY) plane.XY {
			return plane.XY{X: p.X + 0.02*rng.NormFloat64(), Y: p.Y + 0.02*rng.NormFloat64()}
		})
	}
	pitch, step := 4.7+0.6*rng.Float64(), 0.6+1.8*rng.Float64()
	var all []plane.XY
	dir := 1.0
	for y := -wide/2 + 2.5; y < wide/2; y += pitch {
		all = append(all, Straight(plane.XY{X: -dir * (long/2 - 4), Y: y}, plane.XY{X: dir * (long/2 - 4), Y: y}, step)...)
		if y+pitch < wide/2 { // turn with half the pitch as radius: the inner end runs backwards
			turn := Arc(plane.XY{X: dir * (long/2 - 4), Y: y + pitch/2}, pitch/2, -90, 90*1, 7)
			if dir < 0 {
				turn = Apply(turn, func(p plane.XY) plane.XY { return plane.XY{X: -2*(long/2-4) - p.X, Y: p.Y} })
			}
			all = append(all, turn[1:7]...)
		}
		dir = -dir
	}
	s.Lines = append(s.Lines, wander(all))
	s.Lines = append(s.Lines, wander(Arc(plane.XY{X: 10, Y: 5}, 4+6*rng.Float64(), 0, 900, 90)))
	s.Lines = append(s.Lines, wander(Arc(plane.XY{X: -10, Y: 5}, 1+rng.Float64(), 90, 500, 40)))
	return s
}

// Rows are passes along x from x0 to x1 at the given heights, every second one
// driven back.
func Rows(x0, x1 float64, ys ...float64) [][]plane.XY {
	var lines [][]plane.XY
	for i, y := range ys {
		a, b := plane.XY{X: x0, Y: y}, plane.XY{X: x1, Y: y}
		if i%2 == 1 {
			a, b = b, a
		}
		lines = append(lines, Straight(a, b, 2))
	}
	return lines
}

// OfQuality is the sketch's track with a fix quality for each of its lines.
func (s Sketch) OfQuality(lines ...geo.Quality) geo.Track {
	t := s.Track()
	for k, q := range lines {
		t.Quality = append(t.Quality, slices.Repeat([]geo.Quality{q}, len(s.Lines[k]))...)
	}
	return t
}

// Gapped is three passes of 6 m along x on 100 m, the last one g metres beyond the seam.
func Gapped(g float64) Sketch {
	return Sketch{Rings: [][]plane.XY{Rectangle(0, 0, 100, 18+g)}, Lines: Rows(0, 100, 3, 9, 15+g)}
}

// Timed gives the parts of a sketch times, dt apart, the parts a minute.
func (s Sketch) Timed(dt float64) Sketch {
	s.Times = nil
	now := 1.7e9
	for _, l := range s.Lines {
		times := make([]float64, len(l))
		for i := range times {
			times[i] = now
			now += dt
		}
		s.Times, now = append(s.Times, times), now+60
	}
	return s
}

// Cuts are some fixes of a sketch before which its track may be cut: none that
// begins a part, and one file may hold a single fix.
func (s Sketch) Cuts(rng *rand.Rand) []int {
	var out []int
	at := 0
	for _, l := range s.Lines {
		for k := 1; k < len(l); k++ {
			if rng.IntN(len(l)/4) == 0 {
				out = append(out, at+k)
			}
		}
		at += len(l)
	}
	return out
}

// Wild is a track no set would drive: jumps, doubled fixes, standing, out and
// back on the same line, all on a coarse grid so that edges coincide.
func Wild(rng *rand.Rand) Sketch {
	s := Sketch{Rings: [][]plane.XY{Rectangle(-20, -20, 20, 20), Rectangle(-5, -5, 5, 5)}}
	grid := []float64{0.5, 1, 3, 1e-3}[rng.IntN(4)]
	for range 1 + rng.IntN(4) {
		p := plane.XY{X: float64(rng.IntN(20) - 10), Y: float64(rng.IntN(20) - 10)}
		line := []plane.XY{p}
		for range 2 + rng.IntN(40) {
			switch rng.IntN(8) {
			case 0: // stands
			case 1: // back to an earlier fix
				p = line[rng.IntN(len(line))]
			case 2: // jumps
				p = plane.XY{X: float64(rng.IntN(50) - 25), Y: float64(rng.IntN(50) - 25)}
			default:
				p = p.Add(plane.XY{X: 3 * rng.NormFloat64(), Y: 3 * rng.NormFloat64()})
				p = plane.XY{X: math.Round(p.X/grid) * grid, Y: math.Round(p.Y/grid) * grid}
			}
			line = append(line, p)
		}
		s.Lines = append(s.Lines, line)
	}
	return s
}
