package geo

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// BenchmarkBoundary is the check of one ring, by corners: a wavy circle of
// about 300 m. The naive twin looks at every pair of edges.
func BenchmarkBoundary(b *testing.B) {
	for _, n := range []int{100, 1_000, 10_000, 100_000} {
		r := make(orb.Ring, 0, n+1)
		for i := range n {
			a := 2 * math.Pi * float64(i) / float64(n)
			d := 0.003 * (1 + 0.2*math.Sin(40*a))
			r = append(r, orb.Point{11 + d*math.Cos(a), 48 + d*math.Sin(a)})
		}
		r = append(r, r[0])
		b.Run(fmt.Sprintf("corners=%d/tree", n), func(b *testing.B) {
			for b.Loop() {
				o := Outline{Record: 1, Rings: []orb.Ring{r}, Parts: []int{0}}
				m, _, err := o.Boundary(false)
				if err != nil || len(m) != 1 || len(m[0][0]) != n+1 {
					b.Fatal(len(m), err)
				}
			}
		})
		if n > 1_000 {
			continue
		}
		b.Run(fmt.Sprintf("corners=%d/every-pair", n), func(b *testing.B) {
			rings := []orb.Ring{r}
			for b.Loop() {
				for i := range n {
					for j := range i {
						if _, how := cross(rings, edge{0, i}, edge{0, j}); how != apartFrom {
							b.Fatal(i, j, how)
						}
					}
				}
			}
		})
	}
}
