package ground

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"

	"github.com/tidwall/rtree"
)

// overOneField are invented operations on the field of the first one, each turned and moved otherwise.
func overOneField(t testing.TB, rng *rand.Rand, n int) (geo.Field, []Passes) {
	first := trial.Operation(rng)
	f := first.Field()
	w := drive.Work{Width: 5, Overlap: 0.1}
	var all []Passes
	for k := range n {
		s := first
		if k > 0 {
			sin, cos := math.Sincos(math.Pi * rng.Float64())
			off := plane.XY{X: 20 * rng.NormFloat64(), Y: 20 * rng.NormFloat64()}
			s = trial.Operation(rng).Moved(func(p plane.XY) plane.XY {
				return plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y}.Add(off)
			})
		}
		all = append(all, Passes{runsOf(t, f, []geo.Track{s.Track()}, w), w})
	}
	return f, all
}

func together(t testing.TB, f geo.Field, all []Passes) *Together {
	t.Helper()
	got, err := LayTogether(t.Context(), f.OnPlane(f.Local()), all, 0)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// area is the ground to which operations did so, m².
func (t *Together) area(of func([]State) bool) (sum float64) {
	for _, k := range t.Kinds {
		if of(k.States) {
			sum += k.Area
		}
	}
	return sum
}

// What two operations missed, each and both, is what the independent engine finds for the passes of the one, of the other and of both.
func TestTogetherByTwoEngines(t *testing.T) {
	const seed = 3 // the independent engine fails on some fields; these it takes
	for k := range uint64(2) {
		f, all := overOneField(t, rand.New(rand.NewPCG(seed, k)), 2)
		got := together(t, f, all)
		missed := func(of ...int) float64 {
			return got.area(func(s []State) bool {
				for _, n := range of {
					if s[n] != Missed {
						return false
					}
				}
				return true
			})
		}
		for _, of := range [][]int{{0}, {1}, {0, 1}} {
			var passes [][]plane.Outline
			for _, n := range of {
				for _, one := range all[n].Runs {
					passes = append(passes, coverOf(barsOf(&one, all[n].Work.Overlap)))
				}
			}
			var want float64
			var err error
			for _, how := range tries {
				if want, err = missedOf(f.OnPlane(f.Local()), passes, how); err == nil && (how.checked || math.Abs(want-missed(of...)) <= opinionShare*got.Field) {
					break
				}
			}
			if err != nil {
				t.Fatalf("field %d, operations %v: the independent engine has no opinion: %v", k, of, err)
			}
			if d := math.Abs(missed(of...) - want); d > opinionShare*got.Field {
				t.Errorf("field %d, operations %v: missed %.6f m², the independent engine says %.6f m²", k, of, missed(of...), want)
			}
		}
	}
}

// Points of a grid, each sorted by the quads that hold it, have the shares of all kinds.
func TestTogetherAgainstRaster(t *testing.T) {
	const cell = 0.5 // m
	f, all := overOneField(t, rand.New(rand.NewPCG(7, 1)), 4)
	got := together(t, f, all)
	fields := f.OnPlane(f.Local())
	quads := make([]rtree.RTreeG[plane.Ring], len(all))
	rim := 0.0
	for n, p := range all {
		for _, one := range p.Runs {
			bars := barsOf(&one, p.Work.Overlap)
			for i := 0; i+1 < len(bars); i++ {
				if !bars[i].next.Ground() {
					continue
				}
				for _, piece := range pieces(quad(bars, i)) {
					b := piece.Bounds()
					quads[n].Insert([2]float64{b.Min.X, b.Min.Y}, [2]float64{b.Max.X, b.Max.Y}, piece)
				}
			}
		}
		for _, o := range coversOf(p, 0) {
			rim += plane.Ring(o.Line).Perimeter()
		}
	}
	count := map[string]float64{}
	box := plane.EmptyBox()
	for _, p := range fields {
		box = box.Extend(p[0]...)
	}
	for y := box.Min.Y + 0.3*cell; y < box.Max.Y; y += cell {
		for x := box.Min.X + 0.4*cell; x < box.Max.X; x += cell {
			at := plane.XY{X: x, Y: y}
			in := false
			for _, p := range fields {
				in = in || p.Holds(at)
			}
			if !in {
				continue
			}
			states := make([]State, len(all))
			for n := range quads {
				quads[n].Search([2]float64{x, y}, [2]float64{x, y}, func(_, _ [2]float64, r plane.Ring) bool {
					if (plane.Polygon{r}).Holds(at) {
						states[n] = Worked
						return false
					}
					return true
				})
			}
			count[fmt.Sprint(states)] += cell * cell
		}
	}
	// A cell counts wrongly only where a rim runs through it, by half its area or so and either way: the deviation grows with the root of their number.
	bound := 4 * cell * cell * math.Sqrt(rim/cell)
	for _, k := range got.Kinds {
		name := fmt.Sprint(k.States)
		if math.Abs(count[name]-k.Area) > bound {
			t.Errorf("%s: %.1f m², the raster says %.1f m²: within %.1f m²", name, k.Area, count[name], bound)
		}
		delete(count, name)
	}
	for name, area := range count {
		if area > bound {
			t.Errorf("%s: the raster says %.1f m², and there is none", name, area)
		}
	}
	if len(got.Kinds) < 12 || bound > 0.02*got.Field {
		t.Errorf("%d kinds, a bound of %.1f m²: the test sees little", len(got.Kinds), bound)
	}
}

// One operation is laid as Lay does it, unknown ground too; tracks no set would drive balance as well.
func TestTogetherIsLayForOne(t *testing.T) {
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 8))
		s, w := trial.Wild(rng), drive.Work{Width: 3}
		if seed%4 == 0 {
			s, w = trial.Operation(rng), drive.Work{Width: 5, Overlap: 0.1, GapDist: 2.2}
		}
		f := s.Field()
		alone, err := operatedOn(t, f, []geo.Track{s.Track()}, w)
		if err != nil {
			t.Fatal(err)
		}
		got := together(t, f, []Passes{{alone.Runs, w}})
		b := alone.Balance
		for state, want := range map[State]float64{Missed: b.Missed, Unknown: b.Unknown, Worked: b.Once + b.Twice + b.More} {
			area := got.area(func(s []State) bool { return s[0] == state })
			if math.Abs(area-want) > 1e-6*b.Field { // laps are worked out apart, a lattice step off
				t.Errorf("seed %d, state %d: %.9f m² together, %.9f m² alone", seed, state, area, want)
			}
		}
	}
}

// A shift of a whole operation is found within its doubt by rounds along the boundary, on fields of any shape, and none where there is none.
func TestShiftBetweenOperations(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 9))
	const n, passError = 60, 0.04
	within, seen := 0, 0
	for k := range n {
		corners := []plane.XY{{X: -80, Y: -60}, {X: 70 + 30*rng.Float64(), Y: -50}, {X: 90, Y: 40 + 40*rng.Float64()}, {X: -60 - 20*rng.Float64(), Y: 70}}
		f := trial.Sketch{Rings: [][]plane.XY{corners}}.Field()
		field := f.OnPlane(f.Local())
		round := func(width float64, off plane.XY) Passes {
			habit := 0.05 * rng.NormFloat64()
			var lines [][]plane.XY
			for _, s := range plane.Ring(corners).Sides() {
				in := s.B.Sub(s.A).Unit().Left().Scale(width/2 + habit + 0.05*rng.NormFloat64())
				lines = append(lines, trial.Apply(trial.Straight(s.At(0.1).Add(in), s.At(0.9).Add(in), 2), func(p plane.XY) plane.XY {
					return p.Add(off).Add(plane.XY{X: 0.02 * rng.NormFloat64(), Y: 0.02 * rng.NormFloat64()})
				}))
			}
			w := drive.Work{Width: width, PassError: passError}
			return Passes{runsOf(t, f, []geo.Track{(trial.Sketch{Lines: lines}).Track()}, w), w}
		}
		var off plane.XY
		if k%2 == 1 {
			off = plane.XY{X: 0.6, Y: -0.4}
		}
		a, b := round(6, plane.XY{}), round(4, off)
		s := Between(RimOf(field, a), RimOf(field, b), a.Error(), b.Error())
		if s.By.Sub(off).Len() <= s.Doubt {
			within++
		}
		if s.By.Len() > s.Doubt {
			seen++
			if k%2 == 0 && s.By.Len() > 0.15 {
				t.Errorf("field %d: a shift of %v where there is none: %+v", k, s.By, s.Doubt)
			}
		} else if k%2 == 1 {
			t.Errorf("field %d: a shift of 0.72 m is not seen: %v, doubt %g", k, s.By, s.Doubt)
		}
		if k%2 == 1 && (s.Open(off.Unit()) < 0.5 || s.Open(off.Unit()) > 1.2) {
			t.Errorf("field %d: along it %g m are open", k, s.Open(off.Unit()))
		}
		swapped := Between(RimOf(field, b), RimOf(field, a), b.Error(), a.Error())
		if d := swapped.By.Add(s.By).Len(); d > 1e-9 {
			t.Errorf("field %d: there and back differ by %g m", k, d)
		}
	}
	if within < n*85/100 {
		t.Errorf("%d of %d shifts within their doubt", within, n)
	}
	t.Logf("%d of %d within, %d seen", within, n, seen)
	// Without a place along the boundary only the receivers' days are known.
	if s := Between(Rim{}, Rim{}, passError, passError); s.By != (plane.XY{}) || math.Abs(s.Doubt-AgainstBoundary(passError)) > 1e-12 {
		t.Errorf("nothing along the boundary: %+v", s)
	}
}
