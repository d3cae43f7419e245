package drive

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
)

// BenchmarkEstimate is what the estimate of the bar's way costs a fix, by its stages: stray fixes put back, white noise taken out, ends of rows told. The log has rows of 60 m at 5 Hz, one fix
// in 300 off; 60,000 fixes are six of them.
func BenchmarkEstimate(b *testing.B) {
	w := Work{Mount: rig.Mount{Hitch: 3.1}, Width: 6}
	for _, noise := range []float64{0.007, 0.02} {
		rng := rand.New(rand.NewPCG(1, 1))
		base := rowsLog(noise, 0.2, rng)
		for k := range base.at {
			if rng.IntN(300) == 0 {
				base.at[k].X += 0.5
			}
			state := geo.Lifted
			if y := base.at[k].Y; y > 1 && y < 59 {
				state = geo.Working
			}
			base.State = append(base.State, state)
		}
		for _, times := range []int{1, 6, 60} {
			log := *base
			log.at, log.seconds, log.State = nil, nil, nil
			for n := range times {
				for k, p := range base.at {
					p.X += 600 * float64(n)
					log.at, log.seconds, log.State = append(log.at, p), append(log.seconds, base.seconds[k]+600*float64(n)), append(log.State, base.State[k])
				}
			}
			fresh := func() *trail {
				t := log
				t.at, t.State = slices.Clone(log.at), slices.Clone(log.State)
				return &t
			}
			put := fresh()
			put.unstray(here)
			calm := func() *trail { // as Read has it before ends of rows are told
				t := *put
				t.antenna, t.compass = t.at, t.facing
				t.steady(w, longWay)
				if t.velocity == nil {
					t.steady(w, 0)
				}
				t.calm = t.at
				return &t
			}
			for _, stage := range []struct {
				name string
				of   func() *trail
				do   func(t *trail) bool
			}{
				{"strays", fresh, func(t *trail) bool { return len(t.unstray(here)) == 1 }},
				{"noise", func() *trail { t := *put; return &t }, func(t *trail) bool {
					if t.steady(w, longWay); t.velocity == nil {
						t.steady(w, 0)
					}
					return t.velocity != nil
				}},
				{"ends", calm, func(t *trail) bool { return len(settleSwitches([]*trail{t}, sceneOf(nil, w), w)) >= 30*times }},
			} {
				b.Run(fmt.Sprintf("%s/noise=%g/fixes=%d", stage.name, noise, len(log.at)), func(b *testing.B) {
					for b.Loop() {
						b.StopTimer()
						t := stage.of()
						b.StartTimer()
						if !stage.do(t) {
							b.Fatal("nothing was done")
						}
					}
					b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(log.at)), "ns/fix")
				})
			}
		}
	}
}
