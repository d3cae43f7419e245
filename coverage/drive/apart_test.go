package drive

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// TestHeadingsOfFixesFarApart: a row to the north, then a half circle of 6.5 m radius to the right, fixes 8 m apart, wherever they fall. On the row the tractor heads
// north, the last fix of it too: the circle through it and its neighbours, one of which lies in the bend, would have it turned by up to 16°.
func TestHeadingsOfFixesFarApart(t *testing.T) {
	const radius, step = 6.5, 8.0
	for _, first := range []float64{0, 1, 3, 5, 7.9} {
		tr := &trail{timed: true, tracks: []trackStart{{0, 0, 0}}}
		for k := range 12 {
			way := first + step*float64(k)
			p := plane.XY{Y: way}
			if over := way - 60; over > 0 {
				sin, cos := math.Sincos(math.Min(over, math.Pi*radius) / radius)
				p = plane.XY{X: radius * (1 - cos), Y: 60 + radius*sin - math.Max(0, over-math.Pi*radius)}
			}
			tr.at, tr.seconds = append(tr.at, p), append(tr.seconds, 4*float64(k))
		}
		for _, apart := range []bool{false, true} {
			tr.apart = apart
			kept, heading := tr.headings(span{0, len(tr.at) - 1})
			worst := 0.0
			for i, k := range kept {
				if tr.at[k].X == 0 && i > 0 {
					worst = max(worst, math.Abs(math.Atan2(heading[i].X, heading[i].Y))*180/math.Pi)
				}
			}
			t.Logf("first fix at %g m, apart %v: off by %.1f° on the row", first, apart, worst)
			if apart && worst > 0.1 {
				t.Errorf("first fix at %g m: the tractor is off by %.1f° on its row", first, worst)
			}
		}
	}
}

// TestForwardsRoundBetweenFixes: on a circle of 6.5 m radius with a fix every 16 m the way turns by 141° at each. The set goes round forwards; with a fix
// every half metre that comes to the same place and turns back it does not.
func TestForwardsRoundBetweenFixes(t *testing.T) {
	tr := circleTrail(6.5, 16, 16*8)
	tr.timed, tr.apart = true, true
	_, heading := tr.headings(span{0, len(tr.at) - 1})
	for i := 1; i+1 < len(heading); i++ {
		ahead := plane.XY{X: -tr.at[i].Y, Y: tr.at[i].X}
		if heading[i].Dot(ahead) <= 0 {
			t.Errorf("fix %d: heads %v, backwards", i, heading[i])
		}
	}
	back := &trail{timed: true, apart: true, tracks: []trackStart{{0, 0, 0}}}
	for k := range 9 {
		back.at, back.seconds = append(back.at, plane.XY{Y: 5 - math.Abs(float64(k)-4)}), append(back.seconds, float64(k))
	}
	if _, heading = back.headings(span{0, 8}); heading[6].Y <= 0 {
		t.Errorf("a set that turns back heads %v, want as before", heading[6])
	}
}

// TestLikelyLine: with a spread that is small beside steps the likelihood of a line is flat over what all steps have in common, and nothing elsewhere: its mean is
// the middle of that, its deviation the length over √12 (uniform distribution). One row that ends elsewhere moves nothing.
func TestLikelyLine(t *testing.T) {
	step := func(from, to float64) otherRow {
		return otherRow{of: &switchover{to: to - from}, base: from, slope: 1, weight: 1}
	}
	near := []otherRow{step(0, 11), step(-3, 8), step(2, 13), step(-5, 6), step(1, 12)}
	for _, c := range []struct {
		name  string
		near  []otherRow
		spare float64
	}{{"all have 2 to 6 m in common", near, 0}, {"and one ends elsewhere", append(near[:5:5], step(9, 20)), 0.02}} {
		at, sd := likelyLine(c.near, 0.02)
		if math.Abs(at-4) > 0.05+c.spare || math.Abs(sd-4/math.Sqrt(12)) > 0.05+c.spare {
			t.Errorf("%s: at %.3f ± %.3f, want 4 ± %.3f", c.name, at, sd, 4/math.Sqrt(12))
		}
	}
}

// TestRowEndsOfFixesFarApart: rows up and down with a fix every 11 m that begin and end at an edge within 30 cm, the fixes of all at like places, as where all
// rows take as long: so a stretch of several metres is open, and a side errs by what is said of it. In half of these days it errs by more than 0.67 of its doubt (normal distribution).
func TestRowEndsOfFixesFarApart(t *testing.T) {
	const seed, days, rows = 17, 60, 14
	t.Logf("seed %d", seed)
	var over, n, square float64
	for day := range days {
		rng := rand.New(rand.NewPCG(seed, uint64(day)))
		begin, end := make([]float64, rows), make([]float64, rows)
		for i := range begin {
			begin[i], end[i] = 0.3*rng.NormFloat64(), 0.3*rng.NormFloat64()
		}
		trails, scene := upAndDown(rng, 11, 0, begin, end)
		phase := 11 * rng.Float64()
		for i, tr := range trails { // all begin at the same place, but for 1.5 m
			from := -10 - phase + 1.5*rng.Float64()
			for k := range tr.at {
				along := from + 11*float64(k)
				if tr.at[k].Y = along; i%2 == 1 {
					tr.at[k].Y = 200 - along
				}
				tr.State[k] = geo.Lifted
				if along >= -begin[i] && along <= 200+end[i] {
					tr.State[k] = geo.Working
				}
			}
			tr.apart = true
		}
		settleSwitches(trails, scene, Work{Width: 6})
		off, doubt, many := 0.0, 0.0, 0.0
		for i, tr := range trails {
			for _, s := range tr.switches {
				if !s.lowering || i%2 == 1 {
					continue
				}
				off, doubt, many = off+(-s.place().Y-begin[i]), doubt+s.told.doubt, many+1
			}
		}
		if many < 5 {
			continue
		}
		z := off / doubt
		n, square = n+1, square+z*z
		if math.Abs(z) > 0.6745 {
			over++
		}
	}
	t.Logf("%.0f days: off by %.2f of the doubt, %.0f by more than its half", n, math.Sqrt(square/n), over)
	if n < days*0.9 || square/n > 1.5*1.5 || square/n < 0.4*0.4 {
		t.Errorf("sides are off by %.2f of their doubt over %.0f days, want about 1", math.Sqrt(square/n), n)
	}
}

// TestAlongTheRow: a driver lifts on the row, 6 m behind its last working fix, and the next fix, 5 s and 11 m later, lies in the turn. The end lies on the row, not on the chord.
func TestAlongTheRow(t *testing.T) {
	tr := &trail{timed: true, apart: true, tracks: []trackStart{{0, 0, 0}},
		at: []plane.XY{{}, {Y: 11}, {Y: 22}, {X: 5, Y: 30}}, seconds: []float64{0, 5, 10, 15}}
	tr.State = []geo.WorkState{geo.Working, geo.Working, geo.Working, geo.Lifted}
	settleSwitches([]*trail{tr}, sceneOf(nil, Work{}), Work{Width: 6})
	s := tr.switches[[2]int{2, 3}]
	if p := s.place(); math.Abs(p.X) > 1e-9 || p.Y < 22 || p.Y > 33 || math.Abs(s.to-11) > 0.05 {
		t.Errorf("lifted at %v within %.2f m, want on the row within 11", p, s.to)
	}
}

// TestTurnsBetweenFixesFarApart: rows of 60 m with a fix every 20 m, and between them turns of which one fix is logged, 8 m behind the row's last: the way to the next fix leads
// back by 150°. The set is not said to have been pushed back there, nor to have folded, which a trailed set with fixes as near as a second's is.
func TestTurnsBetweenFixesFarApart(t *testing.T) {
	for _, apart := range []bool{false, true} {
		tr := &trail{timed: true, apart: apart, tracks: []trackStart{{0, 0, 0}}}
		for row := range 8 {
			for _, y := range []float64{0, 20, 40, 60, 68} {
				if row%2 == 1 {
					y = 60 - y
				}
				tr.at, tr.seconds = append(tr.at, plane.XY{X: 6 * float64(row), Y: y}), append(tr.seconds, float64(10*len(tr.at)))
			}
		}
		said := ""
		for _, f := range tr.place(Work{Mount: rig.Mount{Trailed: true, Hitch: 1, Drawbar: 4.2}}, nil) {
			said += f.What + "\n"
		}
		if odd := strings.Contains(said, "pushed back") || strings.Contains(said, "folded"); odd == apart {
			t.Errorf("apart %v: %s", apart, said)
		}
	}
}
