package drive

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// TestRoundsTellEachOther: two rounds on each of four sides of a field, with fixes 2.2 m apart that begin anywhere, are begun and ended about the boundary ahead, 30 cm beyond it and within 30 cm.
// Two on a side tell each other nothing, and the middle of a step errs by 2.2/√12 = 0.64 m; all together tell each other as rows do (TestEdgeTellsMore: 0.34 m), and they err by
// what they are said to. Rounds that end anywhere within 12 m have no line: they stay at the middles of their steps. Of some of these a few rounds look alike by chance, and their doubt is
// too small then: in the mean of squares they err by 1.1 to 1.75 times of it, in thirty draws.
func TestRoundsTellEachOther(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 0))
	const long, wide, step = 160.0, 6.0, 2.2
	square := plane.Ring{{}, {X: long}, {X: long, Y: long}, {Y: long}}
	w := Work{Width: wide, Rounds: 2}
	for _, c := range []struct {
		name        string
		anywhere    float64
		least, most float64 // m, what ends err by
		doubts      float64 // by so many of their doubts at most
	}{{"at the boundary", 0, 0.2, 0.42, 1.18}, {"anywhere", 12, 0.55, 0.75, 2.2}} {
		var squares, z, n float64
		for range 60 {
			var trails []*trail
			var ends [][2]float64
			for k := range 8 {
				side, in := k%4, wide/2+wide*float64(k/4)
				a, along := square[side], square[(side+1)%4].Sub(square[side]).Unit()
				from := a.Add(along.Left().Scale(in))
				end := [2]float64{-0.3 + 0.3*rng.NormFloat64() + c.anywhere*rng.Float64(), long + 0.3 + 0.3*rng.NormFloat64() - c.anywhere*rng.Float64()}
				tr := &trail{source: "rounds", timed: true, tracks: []trackStart{{0, 0, 0}}}
				for i, at := 0, -8-step*rng.Float64(); at < long+9; i, at = i+1, at+step {
					state := geo.Lifted
					if at >= end[0] && at <= end[1] {
						state = geo.Working
					}
					tr.at, tr.seconds, tr.State = append(tr.at, from.Add(along.Scale(at))), append(tr.seconds, float64(i)), append(tr.State, state)
				}
				trails, ends = append(trails, tr), append(ends, end)
			}
			settleSwitches(trails, sceneOf([]plane.Polygon{{square}}, w), w)
			for k, tr := range trails {
				along := tr.at[1].Sub(tr.at[0]).Unit()
				for _, s := range tr.switches {
					off := along.Dot(s.place().Sub(square[k%4])) - ends[k][1]
					if s.lowering {
						off = along.Dot(s.place().Sub(square[k%4])) - ends[k][0]
					}
					squares, z, n = squares+off*off, z+off*off/(s.sd*s.sd), n+1
				}
			}
		}
		errs := math.Sqrt(squares / n)
		t.Logf("%s: %g ends err by %.2f m, %.2f of their doubt", c.name, n, errs, math.Sqrt(z/n))
		if n != 60*16 || errs < c.least || errs > c.most || z < 0.7*n || z > c.doubts*c.doubts*n {
			t.Errorf("%s: %g ends err by %.2f m, %.2f of their doubt; want %.2f to %.2f m, and 0.84 to %.2f", c.name, n, errs, math.Sqrt(z/n), c.least, c.most, c.doubts)
		}
	}
}
