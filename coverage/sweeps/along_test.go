package sweeps_test

import (
	"math"
	"slices"
	"testing"

	"balk/coverage/rig"
	"balk/coverage/sweeps"
	"balk/geo/plane"
)

// arc is a run of a bar that turns with this curvature and crabs by this angle, its steps so long, m.
func arc(long, step, curvature, crab float64) []sweeps.Place {
	var ps []sweeps.Place
	at, heading := plane.XY{}, 0.0
	for s := 0.0; s <= long+1e-9; s += step {
		sin, cos := math.Sincos(heading + crab)
		ps = append(ps, sweeps.Place{At: at, Ahead: plane.XY{X: cos, Y: sin}, S: s, Right: -3, Left: 3, Goes: s+step <= long+1e-9})
		heading += curvature * step / 2
		at = at.Add(plane.XY{X: math.Cos(heading), Y: math.Sin(heading)}.Scale(step))
		heading += curvature * step / 2
	}
	return ps
}

// onTwoBeams is a frame of 12 sweeps that lap by 5 cm, its beams 0.7 m ahead of and behind the middle of the bar.
func onTwoBeams() sweeps.Frame {
	return sweeps.Of(rig.Layout{Count: 12, Spacing: 0.25, Width: 0.30, Beams: []float64{-0.7, 0.7}}, false)
}

func ribbons(f sweeps.Frame, ps []sweeps.Place) (between, combs []sweeps.Ribbon) {
	return f.Along(ps, sweeps.Motions(ps, f.Base()), 0), f.Combs(ps)
}

func areaOf(rs []sweeps.Ribbon) (sum float64) {
	for _, r := range rs {
		sum += r.Area
	}
	return sum
}

func TestRibbonsAlongAPass(t *testing.T) {
	f := onTwoBeams()
	t.Run("straight and without crab there is none", func(t *testing.T) {
		if between, _ := ribbons(f, arc(200, 2, 0, 0)); len(between) > 0 {
			t.Errorf("%+v", between)
		}
	})
	// Six of the eleven pairs have their left sweep on the front beam, five on the rear one.
	t.Run("crabbed all along: width (b − s)·cos t − x·sin t times length", func(t *testing.T) {
		for crab, pairs := range map[float64]int{4 * degree: 6, -4 * degree: 5} {
			between, _ := ribbons(f, arc(100, 1.7, 0, crab))
			want := 1.4*math.Sin(4*degree) - 0.05*math.Cos(4*degree)
			if len(between) != pairs {
				t.Fatalf("%d ribbons, want %d", len(between), pairs)
			}
			for _, r := range between {
				if math.Abs(r.Widest-want) > 1e-9 || math.Abs(r.Length-98.6) > 1e-9 || math.Abs(r.Area-98.6*want) > 1e-6 || r.Left != r.Right-1 {
					t.Errorf("%+v, want %.4f m wide", r, want)
				}
			}
		}
	})
	// In a curve the ribbons of an own integration: a frame turned in steps, and the lines its tips draw; see stepped.
	t.Run("in a curve: as wide as the stepped frame leaves them", func(t *testing.T) {
		rear := sweeps.Of(rig.Layout{Count: 12, Spacing: 0.25, Width: 0.30, Beams: []float64{0, 1.4}}, false)
		for _, radius := range []float64{9, 14, -9} {
			ps := arc(60, 0.5, 1/radius, 0)
			between, _ := ribbons(rear, ps)
			motion := sweeps.Motion{Curvature: 1 / radius}
			want := 0.0
			for _, lap := range stepped(rear, motion) {
				want += max(0, -lap)
			}
			if want < 0.001 {
				t.Fatalf("radius %g leaves %g m: no ribbon to look at", radius, want)
			}
			sum := 0.0
			for _, r := range between {
				sum += r.Widest
			}
			if math.Abs(sum-want) > 1e-4*float64(len(between)) {
				t.Errorf("radius %g: %.5f m of ribbons, stepped %.5f", radius, sum, want)
			}
		}
	})
	t.Run("a crab that comes and goes: the ribbon begins where the lap is nothing, however long the steps", func(t *testing.T) {
		areas := map[float64]float64{}
		for _, step := range []float64{0.25, 1, 2} {
			ps := arc(120, step, 0, 0)
			for k := range ps {
				crab := 5 * degree * max(0, 1-math.Abs(ps[k].S-60)/40) // up to 5° in the middle
				sin, cos := math.Sincos(crab)
				ps[k].Ahead = plane.XY{X: cos, Y: sin}
			}
			between, _ := ribbons(f, ps)
			areas[step] = areaOf(between)
			// A lap is nothing at atan(0.05/1.4), which the angle passes 40·(1 − that/5°) m before the middle and behind it.
			long := 2 * 40 * (1 - math.Atan(0.05/1.4)/(5*degree))
			for _, r := range between {
				// What is narrower than a millimetre is none: up to 0.33 m at each end, and a step.
				if step >= 1 && math.Abs(r.Length-long) > 0.1 || r.Length > long+0.01 || r.Length < long-2*(0.33+step) {
					t.Errorf("steps of %g m: a ribbon of %.2f m, want %.2f", step, r.Length, long)
				}
			}
		}
		if fine := areas[0.25]; fine < 1 || math.Abs(areas[2]/fine-1) > 0.05 || math.Abs(areas[1]/fine-1) > 0.05 {
			t.Errorf("areas %v", areas)
		}
	})
	t.Run("a part of the bar lifted leaves no ribbon there", func(t *testing.T) {
		ps := arc(50, 1, 0, 4*degree)
		for k := range ps {
			ps[k].Left = 0
		}
		between, _ := ribbons(f, ps)
		if len(between) != 3 {
			t.Errorf("%d ribbons, want 3 of 6", len(between))
		}
	})
}

// A lap that is gone at the last place only: a triangle from where it is nothing, by the laps at both places, as wide at its end as the ribbon there. One
// place alone has none.
func TestRibbonThatOpensAtTheEnd(t *testing.T) {
	f := onTwoBeams()
	crab := sweeps.Motion{Crab: 4 * degree}
	sin, cos := math.Sincos(crab.Crab)
	ps := []sweeps.Place{{Ahead: plane.XY{X: 1}, Right: -3, Left: 3, Goes: true}, {At: plane.XY{X: 2}, Ahead: plane.XY{X: cos, Y: sin}, S: 2, Right: -3, Left: 3}}
	open := map[int]sweeps.Lap{} // by the sweep on the right
	for _, l := range f.Laps(crab) {
		open[l.Right] = l
	}
	got := f.Along(ps, []sweeps.Motion{{}, crab}, 0)
	if len(got) != 6 {
		t.Fatalf("%d ribbons, want 6", len(got))
	}
	for _, r := range got {
		var before sweeps.Lap
		for _, l := range f.Laps(sweeps.Motion{}) {
			if l.Right == r.Right {
				before = l
			}
		}
		after := open[r.Right]
		share := before.Lap / (before.Lap - after.Lap)
		if long := 2 * (1 - share); math.Abs(r.Length-long) > 1e-9 || math.Abs(r.Area+after.Lap*long/2) > 1e-9 || len(r.Shape) != 3 {
			t.Errorf("%+v: want %.4f m long, %.4f m wide at its end", r, long, -after.Lap)
		}
		tip := plane.XY{X: 2 * share, Y: before.At + share*(after.At-before.At)}
		if !slices.ContainsFunc(r.Shape, func(p plane.XY) bool { return p.Dist(tip) < 1e-9 }) {
			t.Errorf("%+v: no tip at %v", r.Shape, tip)
		}
	}
	if got := f.Along(ps[1:], []sweeps.Motion{crab}, 0); len(got) != 0 {
		t.Errorf("of one place: %+v", got)
	}
}

// Too short a piece tells no motion: half of the base at least.
func TestMotionsOfShortPieces(t *testing.T) {
	for _, c := range []struct {
		long, want float64
	}{{0.9, 0}, {1, 4 * degree}, {2, 4 * degree}} {
		for _, m := range sweeps.Motions(arc(c.long, c.long, 0, 4*degree), 2) {
			if math.Abs(m.Crab-c.want) > 1e-12 || m.Curvature != 0 {
				t.Errorf("%g m: %+v, want %g", c.long, m, c.want)
			}
		}
	}
}

// Combs of the left part of a bar and of the right one are those of the whole.
func TestCombsOfAPartOfTheBar(t *testing.T) {
	f := onTwoBeams()
	whole := arc(50, 1, 0, 0)
	for _, at := range []float64{-1.1, -0.3, 0, 0.47, 1.2} {
		sum := 0.0
		for _, span := range [][2]float64{{-3, at}, {at, 3}} {
			ps := slices.Clone(whole)
			for k := range ps {
				ps[k].Right, ps[k].Left = span[0], span[1]
			}
			part := areaOf(f.Combs(ps))
			if part <= 0 {
				t.Errorf("from %g to %g m no comb", span[0], span[1])
			}
			sum += part
		}
		if all := areaOf(f.Combs(whole)); math.Abs(sum-all) > 1e-9 {
			t.Errorf("parted at %g m: %.5f m², in one %.5f", at, sum, all)
		}
	}
}

// At a lowering the front beam stands 0.7 m ahead of the line from which the bar is taken to work, at a lifting the rear one 0.7 m behind: between
// the laps of the other beam's sweeps 20 cm each stay, and at the ends of the bar 25.
func TestCombsAtTheEndsOfAPass(t *testing.T) {
	_, combs := ribbons(onTwoBeams(), arc(50, 1, 0, 0))
	if len(combs) != 12 {
		t.Fatalf("%d combs, want 12", len(combs))
	}
	want := 2 * 0.7 * (5*0.20 + 0.25)
	if got := areaOf(combs); math.Abs(got-want) > 1e-9 {
		t.Errorf("%.4f m², want %.4f", got, want)
	}
	for _, c := range combs {
		if math.Abs(c.Length-0.7) > 1e-12 || c.Shape.Area() < c.Area-1e-9 {
			t.Errorf("%+v", c)
		}
		for _, p := range c.Shape {
			if !(p.X >= -1e-9 && p.X <= 0.7+1e-9 || p.X >= 49.3-1e-9 && p.X <= 50+1e-9) {
				t.Errorf("a comb at %v", p)
			}
		}
	}
}

// Two beams, both ahead of the line, 1.0 and 0.4 m: at a lowering the front sweeps leave 1.0 m where they cut alone, and 0.4 m where one of the second beam
// does too. At a lifting nothing stays behind the line. On one beam all sweeps leave one comb, with a gap between two.
func TestCombsOfSeveralBeamsAhead(t *testing.T) {
	ps := arc(50, 1, 0, 0)
	f := sweeps.Of(rig.Layout{Count: 4, Spacing: 0.25, Width: 0.30, Beams: []float64{-1.0, -0.4}}, false)
	type comb struct {
		left, right int
		area        float64
	}
	check := func(f sweeps.Frame, want []comb) {
		t.Helper()
		combs := f.Combs(ps)
		for _, c := range combs {
			if c.Shape.Area() < c.Area-1e-9 || c.Shape.Area() > c.Area+1e-9 || math.Abs(c.Widest*c.Length-c.Area) > 1e-9 {
				t.Errorf("%+v: shape %g m²", c, c.Shape.Area())
			}
		}
		if len(combs) != len(want) {
			t.Fatalf("%d combs, want %d: %+v", len(combs), len(want), combs)
		}
		for i, w := range want {
			if c := combs[i]; c.Left != w.left || c.Right != w.right || math.Abs(c.Area-w.area) > 1e-9 {
				t.Errorf("comb %d: sweeps %d to %d, %.4f m²; want %+v", i, c.Left, c.Right, c.Area, w)
			}
		}
	}
	check(f, []comb{{4, 4, 0.30 * 0.4}, {3, 3, 0.20 * 1.0}, {2, 2, 0.30 * 0.4}, {1, 1, 0.25 * 1.0}})
	check(sweeps.Of(rig.Layout{Count: 5, Spacing: 0.25, Width: 0.30, Beams: []float64{-0.5}, LeftOut: []int{3}}, false), []comb{{3, 4, 0.55 * 0.5}, {1, 2, 0.55 * 0.5}})
	if combs := sweeps.Of(rig.Layout{Count: 4, Spacing: 0.25, Width: 0.30, Beams: []float64{0}}, false).Combs(ps); len(combs) > 0 {
		t.Errorf("a beam on the line: %+v", combs)
	}
}

// A shifted and turned run has the same ribbons.
func TestRibbonsTurn(t *testing.T) {
	f := onTwoBeams()
	ps := arc(60, 0.7, 1.0/11, 4*degree)
	before, combs := ribbons(f, ps)
	sin, cos := math.Sincos(1.234)
	turn := func(p plane.XY) plane.XY { return plane.XY{X: p.X*cos - p.Y*sin, Y: p.X*sin + p.Y*cos} }
	for k := range ps {
		ps[k].At, ps[k].Ahead = turn(ps[k].At).Add(plane.XY{X: 321, Y: -77}), turn(ps[k].Ahead)
	}
	after, turnedCombs := ribbons(f, ps)
	if a, b := areaOf(before), areaOf(after); a == 0 || math.Abs(a-b) > 1e-9*a || len(before) != len(after) {
		t.Errorf("%d ribbons, %g m²; turned %d, %g", len(before), a, len(after), b)
	}
	if a, b := areaOf(combs), areaOf(turnedCombs); math.Abs(a-b) > 1e-9 {
		t.Errorf("combs %g, turned %g", a, b)
	}
}

// What crab angles waver by is found again, and a steady bend is none.
func TestWaver(t *testing.T) {
	r := seeded(t)
	f := onTwoBeams()
	for _, noise := range []float64{0, 0.3 * degree} {
		ps := arc(2000, 1, 1.0/40, 0)
		motions := sweeps.Motions(ps, f.Base())
		for k := range motions {
			motions[k].Crab += noise * r.NormFloat64()
		}
		if got := sweeps.Waver(motions, ps, f.Base()); math.Abs(got-noise) > 0.1*noise+0.02*degree {
			t.Errorf("%.4f°, want %.4f", got/degree, noise/degree)
		}
	}
}

// An angle that grows evenly wavers by nothing, however uneven the steps.
func TestWaverOfAnEvenChange(t *testing.T) {
	var ps []sweeps.Place
	var motions []sweeps.Motion
	r := seeded(t)
	for s := 0.0; s < 300; s += 0.5 + 2*r.Float64() {
		ps, motions = append(ps, sweeps.Place{S: s}), append(motions, sweeps.Motion{Crab: 0.001 * s})
	}
	if got := sweeps.Waver(motions, ps, onTwoBeams().Base()); got > 1e-12 {
		t.Errorf("wavers by %g", got)
	}
}

func BenchmarkAlong(b *testing.B) {
	f := sweeps.Of(rig.Layout{Count: 60, Spacing: 0.25, Width: 0.30, Beams: []float64{0, 0.7, 1.4}}, false)
	for name, crab := range map[string]float64{"none": 0.5 * degree, "all": -4 * degree} {
		b.Run("ribbons="+name, func(b *testing.B) {
			ps := arc(150000*0.5, 0.5, 0, crab)
			for k := range ps {
				ps[k].Right, ps[k].Left = -10, 10
			}
			for b.Loop() {
				motions := sweeps.Motions(ps, f.Base())
				if rs := f.Along(ps, motions, 0); slices.ContainsFunc(rs, func(r sweeps.Ribbon) bool { return !r.Comb }) != (name == "all") {
					b.Fatal(len(rs))
				}
			}
		})
	}
}
