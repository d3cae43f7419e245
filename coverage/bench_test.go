package coverage

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// bigOperation is a square field of about n fixes at 2.5 m: two headland rounds
// with rounded corners, then passes of 5 m with 2 cm of wander.
func bigOperation(n int) sketch {
	rng := rand.New(rand.NewPCG(uint64(n), 5))
	const pitch, step = 4.9, 2.5
	side := 10.0
	for side*side/(pitch*step) < float64(n) {
		side *= 1.002
	}
	h := side / 2
	s := sketch{rings: [][]plane.XY{rectangle(-h, -h, h, h)}}
	wander := func(line []plane.XY) []plane.XY {
		return apply(line, func(p plane.XY) plane.XY {
			return plane.XY{X: p.X + 0.02*rng.NormFloat64(), Y: p.Y + 0.02*rng.NormFloat64()}
		})
	}
	for k := range 2 {
		d, r := h-2.5-float64(k)*pitch, 6.0
		var round []plane.XY
		for q := range 4 {
			sin, cos := []float64{0, 1, 0, -1}[q], []float64{1, 0, -1, 0}[q]
			leg := append(straight(plane.XY{X: -d + r, Y: -d}, plane.XY{X: d - r, Y: -d}, step), arc(plane.XY{X: d - r, Y: -d + r}, r, -90, 0, 5)[1:5]...)
			round = append(round, apply(leg, func(p plane.XY) plane.XY { return plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y} })...)
		}
		s.lines = append(s.lines, wander(round))
	}
	dir := 1.0
	for y := -h + 2*pitch + 2.5; y < h-2*pitch; y += pitch {
		s.lines = append(s.lines, wander(straight(plane.XY{X: -dir * (h - 2*pitch), Y: y}, plane.XY{X: dir * (h - 2*pitch), Y: y}, step)))
		dir = -dir
	}
	return s
}

var benchSizes = []int{15_000, 150_000, 1_500_000}

// BenchmarkSwath is the way from degrees to outlines, per fix.
func BenchmarkSwath(b *testing.B) {
	for _, n := range benchSizes {
		b.Run(fmt.Sprintf("fixes=%d", n), func(b *testing.B) {
			s := bigOperation(n)
			field, track := s.field(), []geo.Track{s.track()}
			fixes, w := track[0].Fixes(), Work{Width: 5, Overlap: 0.1}
			b.ReportAllocs()
			for b.Loop() {
				runs := runsOf(b, field, track, w)
				var g ground
				if err := g.creditSwaths(b.Context(), runs, Manner{Overlap: w.Overlap, Relap: w.RelapLength()}, make([]float64, len(runs))); err != nil {
					b.Fatal(err)
				}
				if g.swath < 11*float64(fixes) || g.swath > 13*float64(fixes) {
					b.Fatalf("%g m² of swath from %d fixes: want about 12 m² each", g.swath, fixes)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(fixes), "ns/fix")
		})
	}
}

// BenchmarkCheck is the whole of Check, per fix.
func BenchmarkCheck(b *testing.B) {
	for _, n := range benchSizes {
		b.Run(fmt.Sprintf("fixes=%d", n), func(b *testing.B) {
			s := bigOperation(n)
			field, track := s.field(), []geo.Track{s.track()}
			fixes := track[0].Fixes()
			b.ReportAllocs()
			for b.Loop() {
				r, err := Check(b.Context(), field, track, Work{Width: 5, Overlap: 0.1, Rounds: 2})
				if err != nil {
					b.Fatal(err)
				}
				if r.Used != fixes || r.Balance.Missed > 0.05*r.Balance.Field || r.Balance.Twice == 0 {
					b.Fatalf("balance %+v of %d fixes", r.Balance, r.Used)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(fixes), "ns/fix")
		})
	}
}
