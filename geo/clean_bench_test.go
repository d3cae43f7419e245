package geo_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"balk/geo"
)

// BenchmarkClean: a clean log at 10 Hz, and one with a throw, a stop and a wrong clock
// every thousand fixes.
func BenchmarkClean(b *testing.B) {
	for _, n := range []int{10_000, 100_000, 1_000_000} {
		line := field(n/800, 10, 0.02, rand.New(rand.NewPCG(1, 1)))[:n]
		dirty := with(line, 0, n, func(k int, s *spot) {
			switch at := k % 1000; {
			case at == 100:
				s.y += 500
			case at == 200:
				s.t += 1e7
			case at >= 300 && at < 450:
				s.x, s.y = line[k-at+300].x+0.01*float64(k%3), line[k-at+300].y
			}
		})
		for _, c := range []struct {
			name       string
			line       []spot
			runs, most int
		}{{"clean", line, 0, 0}, {"dirty", dirty, 5 * n / 2000, 5 * n / 1000}} {
			raw := draw(c.line)
			b.Run(fmt.Sprintf("%s/fixes=%d", c.name, n), func(b *testing.B) {
				b.ReportAllocs()
				var aside []geo.SetAside
				for b.Loop() {
					_, aside = geo.Clean(raw)
				}
				if len(aside) < c.runs || len(aside) > c.most {
					b.Errorf("%d runs set aside, want %d to %d", len(aside), c.runs, c.most)
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/fix")
			})
		}
	}
}
