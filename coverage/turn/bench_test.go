package turn

import (
	"math/rand/v2"
	"testing"
)

// ways are poses as they occur at row ends: some turning radii apart.
func ways(n int) (from, to []Pose) {
	rng := rand.New(rand.NewPCG(7, 7))
	for range n {
		from, to = append(from, anyPose(rng, 20)), append(to, anyPose(rng, 20))
	}
	return from, to
}

func benchWays(b *testing.B, f func(from, to Pose, r float64) (Path, error)) {
	from, to := ways(1024)
	b.ReportAllocs()
	n := 0
	for b.Loop() {
		k := n % len(from)
		p, err := f(from[k], to[k], 6)
		if err != nil {
			b.Fatal(err)
		}
		if n < len(from) { // each once
			if err := leadsTo(p, to[k]); err != nil {
				b.Fatal(err)
			}
		} else if len(p.Pieces) == 0 {
			b.Fatal("no path")
		}
		n++
	}
}

func BenchmarkShortest(b *testing.B) {
	b.Run("forward", func(b *testing.B) { benchWays(b, Dubins) })
	b.Run("reversing", func(b *testing.B) { benchWays(b, ReedsShepp) })
}

func BenchmarkTurn(b *testing.B) {
	for _, c := range []struct {
		name     string
		steering Steering
	}{
		{"wheels turn at once", Steering{Radius: 6}},
		{"wheels take time", Steering{Radius: 6, Sharpness: 0.1}},
	} {
		for _, k := range []Kind{PlainU, Bulb, Fishtail, Shunt} {
			b.Run(string(k)+"/"+c.name, func(b *testing.B) {
				b.ReportAllocs()
				n := 0
				for b.Loop() {
					rows := Rows{Distance: float64(n%997) / 100, Left: n%2 == 0}
					if k == PlainU {
						rows.Distance += 14
					}
					p, err := k.Path(rows, c.steering)
					if err != nil {
						b.Fatal(err)
					}
					if n < 1000 {
						if err := leadsTo(p, rows.To()); err != nil {
							b.Fatal(err)
						}
					} else if len(p.Pieces) < 3 {
						b.Fatal("no turn")
					}
					n++
				}
			})
		}
	}
}
