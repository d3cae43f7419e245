package slope

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
)

// passes are the places of passes so far apart, up and down, with a height every 2 m of way.
func passes(n int, apart, long float64, z func(at plane.XY, line int) float64) (hs []Height) {
	for line := range n {
		for y := 0.0; y <= long; y += 2 {
			at := plane.XY{X: apart * float64(line), Y: y}
			hs = append(hs, Height{at, z(at, line), line, 1})
		}
	}
	return hs
}

// The properties of At, by their numbers.
func TestAt(t *testing.T) {
	tilted := func(at plane.XY, _ int) float64 { return 400 + 0.07*at.X - 0.02*at.Y }
	hs := passes(12, 6, 80, tilted)
	s := Of(hs)
	for _, p := range []plane.XY{{X: 33, Y: 40}, {X: 6, Y: 3}, {X: 66, Y: 80}} { // 1
		l, ok := s.At(p)
		if !ok || l.Rise.Dist(plane.XY{X: 0.07, Y: -0.02}) > 1e-12 || math.Abs(l.Z-tilted(p, 0)) > 1e-9 {
			t.Fatalf("%v: %+v, %t", p, l, ok)
		}
		if steep, err := l.Steep(); math.Abs(steep-math.Hypot(0.07, 0.02)) > 1e-12 || err > 1e-9 {
			t.Errorf("%v: steep %g ± %g", p, steep, err)
		}
	}
	rng := rand.New(rand.NewPCG(3, 4))
	rough := passes(12, 6, 80, func(at plane.XY, line int) float64 { return tilted(at, line) + 0.1*rng.NormFloat64() })
	sin, cos := math.Sincos(0.8) // 2
	turned := func(p plane.XY) plane.XY {
		return plane.XY{X: p.X*cos - p.Y*sin, Y: p.X*sin + p.Y*cos}
	}
	moved := make([]Height, len(rough))
	for i, h := range rough {
		moved[i] = h
		moved[i].At = turned(h.At).Add(plane.XY{X: 1234.5, Y: -678.9})
	}
	at, u := plane.XY{X: 30.2, Y: 41.1}, plane.XY{X: 0.6, Y: 0.8}
	a, _ := Of(rough).At(at)
	b, _ := Of(moved).At(turned(at).Add(plane.XY{X: 1234.5, Y: -678.9}))
	ra, ea := a.Along(u)
	rb, eb := b.Along(turned(u))
	if math.Abs(ra-rb) > 1e-9 || math.Abs(ea-eb) > 1e-9 || !(ea > 1e-4) {
		t.Errorf("turned: %g ± %g, %g ± %g", ra, ea, rb, eb)
	}
	c, _ := Of(append(rough[:len(rough):len(rough)], Height{at, 1e3, 0, 1e-12})).At(at) // 3
	if c.Rise.Dist(a.Rise) > 1e-9 {
		t.Errorf("a height of no weight: %v, %v", a.Rise, c.Rise)
	}
	if _, ok := Of(passes(3, 6, 80, tilted)).At(at); ok {
		t.Error("three passes tell a plane and its error")
	}
	if _, ok := (*Surface)(nil).At(at); ok {
		t.Error("no heights tell a slope")
	}
}

// A bowl: z = x²/2r rises by x/r. Planes over 25 m have the gradient of such ground in the middle of a field exactly, by symmetry; √(1 + g²) is summed over the field.
func TestAlongAndGroundOfABowl(t *testing.T) {
	const r = 400.0
	s := Of(passes(41, 5, 200, func(at plane.XY, _ int) float64 { d := at.X - 100; return d * d / 2 / r }))
	var line []plane.XY
	for y := 60.0; y <= 140; y += 0.7 {
		line = append(line, plane.XY{X: y, Y: y})
	}
	lies, known := s.Along(line)
	for i, l := range lies {
		if want := (line[i].X - 100) / r; !known[i] || math.Abs(l.Rise.X-want) > 3e-3 || math.Abs(l.Rise.Y) > 3e-3 {
			t.Fatalf("%v: %v, %t, want %.4f", line[i], l.Rise, known[i], want)
		}
	}
	// ∫√(1 + (x/r)²)dx from −60 to 60 = r·(u√(1+u²) + asinh u), u = 60/r
	u := 60 / r
	want := r * (u*math.Sqrt(1+u*u) + math.Asinh(u)) * 120
	square := plane.Ring{{X: 40, Y: 40}, {X: 160, Y: 40}, {X: 160, Y: 160}, {X: 40, Y: 160}}
	share, times := s.Ground([]plane.Polygon{{square}})
	if share != 1 || math.Abs(times*14400-want) > 0.5 {
		t.Errorf("%.2f known, %.2f m² along the slope: want 1 and %.2f", share, times*14400, want)
	}
}

// On simulated ground with passes that err each for itself and fixes that jump: twice the error holds the truth in some 95 %, and heights of a pass left
// out lie as far off as they were made to.
func TestErrorHolds(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 17))
	held, n, squares := 0, 400, 0.0
	for range n {
		bias := make([]float64, 9)
		for k := range bias {
			bias[k] = 0.05 * r.NormFloat64()
		}
		s := Of(passes(9, 6, 48, func(at plane.XY, line int) float64 {
			return 0.07*at.X - 0.02*at.Y + bias[line] + 0.02*r.NormFloat64()
		}))
		l, ok := s.At(plane.XY{X: 24, Y: 24})
		rise, err := l.Along(plane.XY{X: 1})
		if !ok || err <= 0 {
			t.Fatal(rise, err, ok)
		}
		if math.Abs(rise-0.07) <= 2*err {
			held++
		}
		off := s.LeftOut()
		squares += off * off
	}
	if share := float64(held) / float64(n); share < 0.88 || share > 0.99 { // the error itself is estimated, from nine passes
		t.Errorf("held in %.1f %%", 100*share)
	}
	// A height left out is off by its own pass's error and that of a plane through eight others, up to a third of its squares.
	if off := math.Sqrt(squares / float64(n)); off < 0.053 || off > 0.075 {
		t.Errorf("left out: off by %.4f m, made with %.4f", off, math.Hypot(0.05, 0.02))
	}
}

// Float fixes that err by metres, among fixed ones, hardly move the surface; taken alike they would.
func TestWeights(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	log := func(known bool) (log []drive.Stretch) {
		for k := range 9 {
			s := drive.Stretch{}
			for y := 0.0; y <= 60; y += 2 {
				at, q, e := plane.XY{X: 6 * float64(k), Y: y}, geo.QualityFixed, 0.02
				if k%3 == 1 {
					q, e = geo.QualitySingle, 1.5
				}
				s.Line, s.Height, s.Quality = append(s.Line, at), append(s.Height, 0.05*at.X+e*rng.NormFloat64()), append(s.Quality, q)
			}
			if !known {
				s.Quality = nil
			}
			log = append(log, s)
		}
		return log
	}
	off := func(known bool) float64 {
		l, ok := Of(HeightsOf(log(known))).At(plane.XY{X: 24, Y: 30})
		if !ok {
			t.Fatal("nothing is known")
		}
		return l.Rise.Dist(plane.XY{X: 0.05})
	}
	if a := off(true); a > 0.002 {
		t.Errorf("weighted: off by %.4f", a)
	}
	if a := off(false); a < 0.004 {
		t.Errorf("unweighted: off by %.4f only: the check cannot fail", a)
	}
}

// A set that turns uphill by 0.3° per percent on ground of a bowl, its heading sensor 1° to the left: the line is found, and its doubt holds the truth.
func TestFitOfACrabbingSet(t *testing.T) {
	const truth, sensor = 0.3, 1.0
	held, n := 0, 60
	for seed := range n {
		rng := rand.New(rand.NewPCG(uint64(seed), 9))
		var log []drive.Stretch
		for k := range 16 {
			x, up := 6*float64(k), k%2 == 0
			s := drive.Stretch{Worked: true, Pass: k + 1}
			wander := 0.3 * rng.NormFloat64() // of this pass's headings
			for y := 0.0; y <= 120; y += 2 {
				at, way := plane.XY{X: x, Y: y}, plane.XY{Y: 1}
				if !up {
					at.Y, way = 120-y, plane.XY{Y: -1}
				}
				across := (x - 48) / 4 * way.Left().X // percent: rises by (x − 48)/400 to the east
				sin, cos := math.Sincos((sensor + truth*across + wander + 0.5*rng.NormFloat64()) * math.Pi / 180)
				s.Line, s.Height = append(s.Line, at), append(s.Height, (x-48)*(x-48)/800+0.01*rng.NormFloat64())
				s.Compass = append(s.Compass, plane.XY{X: way.X*cos - way.Y*sin, Y: way.X*sin + way.Y*cos})
			}
			log = append(log, s)
		}
		c, ok := Fit(Of(HeightsOf(log)).Pieces(log))
		if !ok || c.Passes < 9 || c.Pieces < 40 || c.Least > -6 || c.Most < 6 {
			t.Fatalf("%+v, %t", c, ok)
		}
		if math.Abs(c.PerPercent-truth) > 0.1 || math.Abs(c.Sensor-sensor) > 0.4 || !(c.Doubt > 0.01 && c.Doubt < 0.15) {
			t.Errorf("seed %d: %+v", seed, c)
		}
		if math.Abs(c.PerPercent-truth) <= c.Doubt {
			held++
		}
		if seed == 0 {
			if _, ok := Fit(Of(HeightsOf(log)).Pieces(log[:5])); ok {
				t.Error("five passes tell a line")
			}
			for i := range log {
				for j := range log[i].Height {
					log[i].Height[j] = 0.06 * log[i].Line[j].X
				}
			}
			var north []drive.Stretch
			for i := 0; i < len(log); i += 2 {
				north = append(north, log[i])
			}
			if c, ok := Fit(Of(HeightsOf(log)).Pieces(north)); ok {
				t.Errorf("an even slope driven one way tells sensor from crab: %+v", c)
			}
		}
	}
	if held < n*85/100 {
		t.Errorf("the doubt held the truth %d times of %d", held, n)
	}
}

// On a plane the height between two fits is that of the plane, and four lines tell it where three do not.
func TestAlongAPlane(t *testing.T) {
	tilted := func(at plane.XY, _ int) float64 { return 400 + 0.07*at.X - 0.02*at.Y }
	s := Of(passes(4, 6, 80, tilted))
	var line []plane.XY
	for y := 20.0; y <= 60; y += 0.7 + 0.01*y {
		line = append(line, plane.XY{X: 9, Y: y})
	}
	lies, known := s.Along(line)
	for i, l := range lies {
		if !known[i] || math.Abs(l.Z-tilted(line[i], 0)) > 1e-9 {
			t.Errorf("%v: %v, %t, want %g m", line[i], l.Z, known[i], tilted(line[i], 0))
		}
	}
	if _, ok := Of(passes(3, 6, 80, tilted)).At(plane.XY{X: 6, Y: 40}); ok {
		t.Error("three lines tell a plane and its error")
	}
}

// Heights of a log: none where there is none, and one in 2 m of way.
func TestHeightsOfALog(t *testing.T) {
	s := drive.Stretch{}
	for y := 0.0; y < 20; y += 0.5 {
		z := y
		if y == 4 || y == 7.5 {
			z = math.NaN()
		}
		s.Line, s.Height = append(s.Line, plane.XY{Y: y}), append(s.Height, z)
	}
	s.Height = s.Height[:len(s.Height)-4] // the last have none
	var got []float64
	for _, h := range HeightsOf([]drive.Stretch{s}) {
		got = append(got, h.Z)
	}
	if want := []float64{0, 2, 4.5, 6.5, 8.5, 10.5, 12.5, 14.5, 16.5}; !slices.Equal(got, want) {
		t.Errorf("%v, want %v", got, want)
	}
}

// What is no straight piece with headings tells no crab angle.
func TestPieces(t *testing.T) {
	s := Of(passes(9, 6, 120, func(at plane.XY, _ int) float64 { return 0.05 * at.X }))
	turned := func(degrees float64) plane.XY {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		return plane.XY{X: -sin, Y: cos}
	}
	for _, c := range []struct {
		name string
		long float64
		face func(y float64) plane.XY
		want int
	}{
		{"two pieces", 40, func(float64) plane.XY { return turned(2) }, 2},
		{"too short", 18, func(float64) plane.XY { return turned(2) }, 0},
		{"a heading missing", 20, func(y float64) plane.XY {
			if y == 10 {
				return plane.XY{}
			}
			return turned(2)
		}, 0},
		{"backwards", 20, func(float64) plane.XY { return turned(178) }, 0},
		{"headings that turn by 9°", 20, func(y float64) plane.XY { return turned(9 * y / 20) }, 1},
		{"headings that turn by 15°", 20, func(y float64) plane.XY { return turned(15 * y / 20) }, 0},
	} {
		one := drive.Stretch{Worked: true, Pass: 3}
		for y := 40.0; y <= 40+c.long; y += 2 {
			one.Line, one.Compass = append(one.Line, plane.XY{X: 24, Y: y}), append(one.Compass, c.face(y-40))
		}
		one.Line, one.Compass = slices.Clip(one.Line), slices.Clip(one.Compass)
		got := s.Pieces([]drive.Stretch{one, {Line: one.Line, Compass: one.Compass}}) // the second is no work
		if len(got) != c.want {
			t.Fatalf("%s: %+v, want %d", c.name, got, c.want)
		}
		for _, p := range got {
			if p.Line != 3 || p.Length != 20 || math.Abs(p.Across+0.05) > 1e-9 || c.want == 2 && math.Abs(p.Left-2) > 1e-9 {
				t.Errorf("%s: %+v", c.name, p)
			}
		}
	}
}

// Two places far apart are a straight piece.
func TestPieceOfOneStep(t *testing.T) {
	s := Of(passes(9, 6, 120, func(at plane.XY, _ int) float64 { return 0.05 * at.X }))
	one := drive.Stretch{Worked: true, Line: []plane.XY{{X: 24, Y: 40}, {X: 24, Y: 70}}, Compass: []plane.XY{{Y: 1}, {Y: 1}}}
	if got := s.Pieces([]drive.Stretch{one}); len(got) != 1 || got[0].Length != 30 || got[0].Left != 0 {
		t.Errorf("%+v", got)
	}
}

func BenchmarkAlong(b *testing.B) {
	for _, n := range []int{20, 80} {
		s := Of(passes(n, 6, 6*float64(n), func(at plane.XY, _ int) float64 { return at.X * at.Y / 1e4 }))
		b.Run(fmt.Sprintf("passes=%d", n), func(b *testing.B) {
			for b.Loop() {
				for k := range n {
					var line []plane.XY
					for y := 0.0; y < 6*float64(n); y++ {
						line = append(line, plane.XY{X: 6 * float64(k), Y: y})
					}
					if _, known := s.Along(line); !known[len(line)/2] {
						b.Fatal("unknown")
					}
				}
			}
		})
	}
}
