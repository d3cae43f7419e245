package plane

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/testdata/check"
)

// A ray that looks at outlines near its place, and at those that reach far, finds what one finds that looks at all of them.
func TestRaysFarAndNear(t *testing.T) {
	for seed := range uint64(30) {
		rng := rand.New(rand.NewPCG(seed, 21))
		turn := rng.Float64()
		sin, cos := math.Sincos(turn * float64(seed%3)) // in the grid's directions, and across
		var outlines []Outline
		for range 400 {
			size := math.Exp(rng.Float64()*5 - 3) // 5 cm to 7 m, a few reach over all
			if seed%2 == 0 && rng.IntN(40) == 0 {
				size = 60
			}
			x, y := 100*rng.Float64(), 20*rng.Float64()
			if seed%5 == 0 { // many touch, and edges lie on each other
				x, y, size = math.Round(x), math.Round(y), math.Ceil(size/4)
			}
			line := []XY{{x, y}, {x + size, y}, {x + size, y + size/4}, {x, y + size/4}}
			for i, p := range line {
				line[i] = XY{p.X*cos - p.Y*sin, p.X*sin + p.Y*cos}
			}
			outlines = append(outlines, Outline{Line: line, Lane: rng.IntN(Lanes)})
		}
		a := inFourLanes()
		inside := 0
		err := a.cut(t.Context(), outlines, 1, func() error {
			far := a.farOutlines(len(a.weight))
			all, some := make([]int32, len(a.chunks)), make([]int32, len(a.chunks))
			for o := range int32(len(a.weight)) {
				want, got := a.ray(o, all, o+1, nil), a.ray(o, some, o+1, far)
				if got != want || got != a.begin[o] {
					t.Fatalf("seed %d: label %x at outline %d, want %x, carried %x", seed, got, o, want, a.begin[o])
				}
				if want != a.outside {
					inside++
				}
			}
			return nil
		})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if inside < 20 {
			t.Errorf("seed %d: %d outlines begin inside another: too few to say anything", seed, inside)
		}
	}
}

// BenchmarkApart arranges outlines that lie beside each other and cross none.
func BenchmarkApart(b *testing.B) {
	for _, side := range []int{32, 100, 316, 1000} {
		var outlines []Outline
		for i := range side * side {
			x, y := 3*float64(i%side), 3*float64(i/side)
			outlines = append(outlines, Outline{Line: []XY{{x, y}, {x + 2, y}, {x + 2, y + 2}, {x, y + 2}}})
		}
		b.Run(fmt.Sprintf("outlines=%d", side*side), func(b *testing.B) {
			used := check.CPUTime(b)
			for b.Loop() {
				got, err := Arrange(b.Context(), outlines, Question{Workers: 1, Classify: func(l Label) Class { return Class(l.Count(0)) }})
				if want := 4 * float64(side*side); err != nil || math.Abs(got.Area[1]-want) > 1e-6*want {
					b.Fatalf("%.6f m², want %.0f, %v", got.Area[1], want, err)
				}
			}
			reportEach(b, side*side, "outline", check.CPUTime(b)-used)
		})
	}
}
