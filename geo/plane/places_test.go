package plane

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/testdata/check"
)

// Places in a box are those that a look at all of them finds, whatever their number, order and shape.
func TestPlacesInABox(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 21))
	grid := func() XY { return XY{math.Floor(40*rng.Float64()) - 20, math.Floor(40 * rng.Float64())} }
	for name, at := range map[string]func(k int) XY{
		"all over":     func(int) XY { return XY{1000 * rng.Float64(), 300 * rng.Float64()} },
		"a row":        func(k int) XY { return XY{0.1 * float64(k), 7} },
		"a slant":      func(k int) XY { return XY{-0.1 * float64(k), 0.2 * float64(k)} },
		"many at once": func(int) XY { return grid() },
		"one place":    func(int) XY { return XY{-3, 5} },
		"far out":      func(int) XY { return XY{4e6 + rng.Float64(), -4e6 + rng.Float64()} },
	} {
		for _, n := range []int{0, 1, 2, perBox, perBox + 1, perBox*perBox + 1, 5000} {
			all := make([]XY, n)
			for k := range all {
				all[k] = at(k)
			}
			p := newPlaces(all)
			for try := range 60 {
				b := EmptyBox().Extend(at(rng.IntN(n + 1))).Grown(math.Pow(10, 3-6*rng.Float64()))
				if try%3 == 0 && n > 0 { // between two of them, which lie on its edge
					b = EmptyBox().Extend(all[rng.IntN(n)], all[rng.IntN(n)])
				}
				var got, want []int32
				p.in(b, func(n int32) { got = append(got, n) })
				for k, q := range all {
					if b.Meets(Box{q, q}) {
						want = append(want, int32(k))
					}
				}
				slices.Sort(got)
				if !slices.Equal(got, want) {
					t.Fatalf("%s, %d places, in %v: %v, want %v", name, n, b, got, want)
				}
			}
		}
	}
}

// Places are numbered as a map does, in the order in which they came, and lie under their numbers.
func TestSpots(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 22))
	s, want := newSpots(0), map[XY]int32{}
	for k := range 20_000 {
		p := XY{repairStep * float64(rng.IntN(120)-60), repairStep * float64(rng.IntN(120)-60)}
		if rng.IntN(4) == 0 {
			p.X = math.Copysign(0, -1) // the same place as 0
		}
		n, ok := want[p]
		if !ok {
			n = -1
		}
		if got := s.find(p); got != n {
			t.Fatalf("%v: %d, want %d", p, got, n)
		}
		if rng.IntN(2) == 0 {
			if !ok {
				n = int32(len(want))
				want[p] = n
			}
			if got := s.number(p); got != n || s.at[n] != p {
				t.Fatalf("%v: number %d, want %d", p, got, n)
			}
		}
		if len(s.at) != len(want) || 2*len(s.at) > len(s.slots) {
			t.Fatalf("%d in %d slots after %d, want %d", len(s.at), len(s.slots), k, len(want))
		}
	}
}
