package ground

import (
	"fmt"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/testdata/trial"
)

// BenchmarkSwath is the way from degrees to outlines, per fix.
func BenchmarkSwath(b *testing.B) {
	for _, n := range trial.BenchSizes {
		b.Run(fmt.Sprintf("fixes=%d", n), func(b *testing.B) {
			s := trial.BigOperation(n)
			field, track := s.Field(), []geo.Track{s.Track()}
			fixes, w := track[0].Fixes(), drive.Work{Width: 5, Overlap: 0.1}
			b.ReportAllocs()
			for b.Loop() {
				runs := runsOf(b, field, track, w)
				var g ground
				if err := g.creditSwaths(b.Context(), runs, w, make([]float64, len(runs))); err != nil {
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
