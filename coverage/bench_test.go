package coverage

import (
	"fmt"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/testdata/trial"
)

// BenchmarkCheck is the whole of Check, per fix.
func BenchmarkCheck(b *testing.B) {
	for _, n := range trial.BenchSizes {
		b.Run(fmt.Sprintf("fixes=%d", n), func(b *testing.B) {
			s := trial.BigOperation(n)
			field, track := s.Field(), []geo.Track{s.Track()}
			fixes := track[0].Fixes()
			b.ReportAllocs()
			for b.Loop() {
				r, err := Check(b.Context(), field, track, drive.Work{Width: 5, Overlap: 0.1, Rounds: 2})
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
