package rework

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo/plane"
	"balk/testdata/check"
)

// stubs is a field of 600 m with so many rows, each broken off once and every sixth one beside its place, and an obstacle.
func stubs(rows int) sketch {
	rng := rand.New(rand.NewPCG(1, 2))
	h := 4.9 * float64(rows+1) / 2
	s := sketch{rings: [][]plane.XY{rectangle(-300, -h, 300, h), rectangle(-20, -12, 25, 10)}}
	for k := range rows {
		y := -h + 2.45 + 4.9*float64(k)
		if k%6 == 0 {
			s.passes = append(s.passes, straight(-300, y+0.5, 300, y+0.5, 2))
			continue
		}
		cut := -280 + 540*rng.Float64()
		s.passes = append(s.passes, straight(-300, y, cut, y, 2), straight(cut+8+8*rng.Float64(), y, 300, y, 2))
	}
	return s
}

// BenchmarkOf plans strips, most of them stubs and the others ribbons as long as the field, for a set of which nothing is
// known but its radius, and for a trailed one with its outline.
func BenchmarkOf(b *testing.B) {
	for _, rows := range []int{10, 50, 150, 500, 2500, 6300} {
		r := stubs(rows).check(b, drive.Work{Width: 5})
		for _, c := range []struct {
			name string
			im   rig.Implement
		}{{"mounted", five}, {"trailed, outline", pulled}} {
			b.Run(fmt.Sprintf("strips=%d/%s", len(r.Strips), c.name), func(b *testing.B) {
				var p Plan
				used := check.CPUTime(b)
				for b.Loop() {
					p = planOf(b, r, c.im, Options{})
				}
				if p.Left > 0.01*p.Missed || len(p.Chosen) != len(r.Strips) {
					b.Fatalf("%d strips, %d chosen, %.2f m² left of %.0f", len(r.Strips), len(p.Chosen), p.Left, p.Missed)
				}
				b.ReportMetric(float64((check.CPUTime(b)-used).Nanoseconds())/float64(b.N)/float64(len(r.Strips)), "cpu-ns/strip")
				b.ReportMetric(float64(len(p.Passes)), "passes")
				b.ReportMetric(p.Length, "m")
				b.ReportMetric(float64(p.Unfit), "unfit")
			})
		}
	}
}
