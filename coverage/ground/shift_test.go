package ground

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// round are four passes of 6 m along the sides of a field of 200 by 100 m, their outer ends on the boundary but for what side k lies inside it,
// all of it moved by off.
func round(off plane.XY, inside [4]float64) (field []plane.Polygon, runs []drive.Run) {
	const x, y = 200.0, 100.0
	field = []plane.Polygon{{trial.Rectangle(0, 0, x, y)}}
	d := func(k int) float64 { return 3 + inside[k] }
	for k, line := range [][2]plane.XY{
		{{X: 0, Y: d(0)}, {X: x, Y: d(0)}}, {{X: x - d(1), Y: 0}, {X: x - d(1), Y: y}}, {{X: x, Y: y - d(2)}, {X: 0, Y: y - d(2)}}, {{X: d(3), Y: y}, {X: d(3), Y: 0}},
	} {
		var at []plane.XY
		for i := range 101 {
			at = append(at, line[0].Lerp(line[1], float64(i)/100).Add(off))
		}
		one := drive.Along(at, 6, 0)
		one.Pass.Number, one.PassError = k+1, 0.3
		one.Parts[0].PassError = 0.3
		runs = append(runs, one)
	}
	return field, runs
}

// TestShiftIsTakenOutOfRuns: run by run as of all at once, and the runs themselves stay where they are.
func TestShiftIsTakenOutOfRuns(t *testing.T) {
	off := plane.XY{X: 0.3, Y: -0.2}
	for _, s := range []Shift{{}, {By: off}} {
		_, runs := round(off, [4]float64{})
		_, want := round(off.Sub(s.By), [4]float64{})
		moved := s.Moved(runs)
		n := 0
		for i, one := range s.each(runs) {
			if !slices.Equal(one.Stops, moved[i].Stops) {
				t.Errorf("run %d without a shift of %v begins at %v, want %v", i+1, s.By, one.Stops[0].At, moved[i].Stops[0].At)
			}
			for k, stop := range one.Stops {
				if stop.At.Dist(want[i].Stops[k].At) > 1e-9 {
					t.Fatalf("run %d without a shift of %v: stop %d lies at %v, want %v", i+1, s.By, k, stop.At, want[i].Stops[k].At)
				}
			}
			n++
		}
		if _, as := round(off, [4]float64{}); n != len(runs) || !slices.Equal(runs[1].Stops, as[1].Stops) {
			t.Errorf("%d runs of %d, or they were moved themselves", n, len(runs))
		}
	}
}

// TestShiftInClosedForm: a log that lies 30 cm to the east and 20 cm to the south, by a receiver of 30 cm. Where all sides were driven alike the shift
// is found; of one side alone it may as well be what the driver does, nor where no error is known.
func TestShiftInClosedForm(t *testing.T) {
	off := plane.XY{X: 0.3, Y: -0.2}
	for _, c := range []struct {
		name   string
		inside [4]float64
		sides  int
		error  float64
		want   plane.XY
		within float64 // m
		told   bool
	}{
		{"all on the boundary", [4]float64{}, 4, 0.3, off, 0.01, true},
		{"all 8 cm beyond it", [4]float64{-0.08, -0.08, -0.08, -0.08}, 4, 0.3, off, 0.01, true},
		{"one side alone", [4]float64{}, 1, 0.3, plane.XY{Y: -0.142}, 0.01, false},
		{"no error known", [4]float64{}, 4, 0, plane.XY{}, 0, false},
	} {
		field, runs := round(off, c.inside)
		got := ShiftOf(rimOf(field), runs[:c.sides], drive.Work{Width: 6}, c.error)
		if got.By.Dist(c.want) > c.within {
			t.Errorf("%s: %.3f, want %.3f", c.name, got.By, c.want)
		}
		if told := got.By.Len() > got.Doubt; told != c.told {
			t.Errorf("%s: %.3f ± %.3f", c.name, got.By, got.Doubt)
		}
		turn := func(p plane.XY) plane.XY { return plane.XY{X: 0.6*p.X - 0.8*p.Y, Y: 0.8*p.X + 0.6*p.Y} }
		for i := range field[0][0] {
			field[0][0][i] = turn(field[0][0][i])
		}
		for i := range runs {
			for k := range runs[i].Stops {
				s := &runs[i].Stops[k]
				s.At, s.Left = turn(s.At), turn(s.Left)
			}
		}
		if other := ShiftOf(rimOf(field), runs[:c.sides], drive.Work{Width: 6}, c.error); other.By.Dist(turn(got.By)) > 1e-3 {
			t.Errorf("%s: turned %.4f, want %.4f", c.name, other.By, turn(got.By))
		}
	}
}

// TestShiftSeesAsItFits: what a further shift of the log would add to the fit is what seen says of it, and of errors that differ from run to run.
func TestShiftSeesAsItFits(t *testing.T) {
	field, runs := round(plane.XY{X: 0.1, Y: 0.05}, [4]float64{})
	w := drive.Work{Width: 6}
	was := ShiftOf(rimOf(field), runs, w, 0.3)
	off := []plane.XY{{X: 0.002, Y: 0.001}, {X: -0.001, Y: 0.002}, {X: 0.001}, {Y: -0.002}}
	want := was.seen(func(run int, _ float64) plane.XY { return off[run] })
	for i := range runs {
		for k := range runs[i].Stops {
			runs[i].Stops[k].At = runs[i].Stops[k].At.Add(off[i])
		}
	}
	if got := ShiftOf(rimOf(field), runs, w, 0.3).By.Sub(was.By); got.Dist(want) > 5e-5 || want.Len() < 5e-4 {
		t.Errorf("fit moves by %.5f, seen %.5f", got, want)
	}
	// A shift that is fitted well is off by little, whatever the day's error.
	rng := rand.New(rand.NewPCG(5, 5))
	sum := 0.0
	for range 500 {
		d := was.drawn([4]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()})
		sum += d.Dot(d) / 1000
	}
	if sd := math.Sqrt(sum); sd > was.Doubt/drive.In95*1.15 || sd < was.Doubt/drive.In95/3 {
		t.Errorf("drawn with a deviation of %.4f m, doubt %.4f", sd, was.Doubt)
	}
}

// TestExtrapolate: gaps of normal spread σ whose passes lap by m have σφ(m/σ) − mΦ(−m/σ) of missed ground for each metre (the mean of a normal number above a threshold,
// from memory), where no passes lap the root of a line in the variance. Of what the errors make a tenth stays or is
// taken out too much at most, a quarter where they are far above all gaps, and a third where most of what is missed does not answer to them.
func TestExtrapolate(t *testing.T) {
	gaps := func(own, lap, wide float64) func(float64) float64 {
		return func(errors float64) float64 {
			spread := math.Sqrt(own*own + errors*0.01)
			x := lap / spread
			return wide + 1000*spread*(math.Exp(-x*x/2)/math.Sqrt(2*math.Pi)-x*math.Erfc(x/math.Sqrt2)/2)
		}
	}
	for _, c := range []struct {
		name   string
		f      func(float64) float64
		within float64 // share of what the errors make
	}{
		{"gaps of 7 cm", gaps(0.07, 0, 0), 0.11},
		{"gaps of 15 cm", gaps(0.15, 0, 0), 0.05},
		{"gaps of 7 cm, a lap of 2 cm", gaps(0.07, 0.02, 0), 0.03},
		{"gaps of 7 cm, a lap of 4 cm", gaps(0.07, 0.04, 0), 0.1},
		{"gaps of 2 cm, far below the error", gaps(0.02, 0, 0), 0.26},
		{"gaps of 2 cm and a lap of 3 cm, far below the error", gaps(0.02, 0.03, 0), 0.1},
		{"wide strips and gaps of 7 cm", gaps(0.07, 0, 500), 0.31},
		{"a line", func(e float64) float64 { return 50 + 3*e }, 1e-6},
		{"a parabola", func(e float64) float64 { return 50 + 3*e + e*e }, 1e-6},
		{"no answer", func(float64) float64 { return 50 }, 1e-6},
	} {
		want := c.f(0)
		got := extrapolate(c.f(1), c.f(2), c.f(3))
		t.Logf("%s: %.4f, want %.4f, as logged %.4f", c.name, got, want, c.f(1))
		if math.Abs(got-want) > c.within*(c.f(1)-want)+1e-9 {
			t.Errorf("%s: %.4f, want %.4f", c.name, got, want)
		}
	}
}

// rimOf are the edges of polygons.
func rimOf(polys []plane.Polygon) *plane.Edges {
	var rim plane.Edges
	rim.AddPolygons(polys)
	return &rim
}
