package ground

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestBoxTree finds the boxes that a look at all of them finds, in their order.
func TestBoxTree(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 3))
	for _, n := range []int{1, 2, 15, 16, 17, 255, 256, 257, 3000} {
		boxes := make([]plane.Box, n)
		for i := range boxes {
			p := plane.XY{X: 100 * rng.Float64(), Y: 100 * rng.Float64()}
			boxes[i] = plane.EmptyBox().Extend(p, p.Add(plane.XY{X: 5 * rng.Float64(), Y: 5 * rng.Float64()}))
			if rng.IntN(5) == 0 {
				boxes[i] = plane.EmptyBox()
			}
		}
		tree := boxTreeOf(boxes)
		for range 50 {
			p, from := plane.XY{X: 100 * rng.Float64(), Y: 100 * rng.Float64()}, rng.IntN(n)
			box, to := plane.EmptyBox().Extend(p, p.Add(plane.XY{X: 20, Y: 20})), from+rng.IntN(n-from+1)
			var got, want []int
			tree.meeting(box, from, to, func(k int) { got = append(got, k) })
			for k := from; k < to; k++ {
				if !apart(boxes[k], box) {
					want = append(want, k)
				}
			}
			if !slices.Equal(got, want) {
				t.Fatalf("%d boxes, %d to %d: got %v, want %v", n, from, to, got, want)
			}
		}
	}
}

// TestPatches: the travel at which places of a quad were passed, by hand. A leg of 10 m ends in a
// bend of 2·atan 0.1, so that its last bar reaches 0.3 m farther on the right; where the heading is
// logged the same bars make four triangles; two bars that cross are half way there.
func TestPatches(t *testing.T) {
	at := func(bars []bar, p plane.XY) float64 {
		for _, one := range patchesOf(bars, 0) {
			if trial.Winding(one.ring(), p) > 0 {
				return one.travel(p)
			}
		}
		return math.NaN()
	}
	first := bar{left: plane.XY{Y: 3}, right: plane.XY{Y: -3}, s: 100}
	leg := []bar{first, {left: plane.XY{X: 9.7, Y: 3}, right: plane.XY{X: 10.3, Y: -3}, s: 110}}
	told := slices.Clone(leg)
	told[1].told = true
	swung := []bar{{left: plane.XY{X: 2, Y: 3}, right: plane.XY{Y: -3}, s: 100}, {left: plane.XY{Y: 3}, right: plane.XY{X: 2, Y: -3}, s: 101}}
	for _, c := range []struct {
		name string
		bars []bar
		p    plane.XY
		want float64
	}{
		{"on the leg", leg, plane.XY{X: 4, Y: 2}, 104},
		{"inside the bend", leg, plane.XY{X: 9.6, Y: 2.9}, 109.6},
		{"before the end, outside of the bend", leg, plane.XY{X: 9.9, Y: -2.9}, 109.9},
		{"beyond the end, outside of the bend", leg, plane.XY{X: 10.2, Y: -2.9}, 110},
		{"told: half way at the centre", told, plane.XY{X: 5 - 1e-9}, 105},
		{"told: on the outer way", told, plane.XY{X: 5.15, Y: -3 + 1e-9}, 105},
		{"told: on the last bar", told, plane.XY{X: 10 - 1e-9}, 110},
		{"bars that cross: on the first bar", swung, plane.XY{X: 0.5 + 1e-9, Y: -1.5}, 100.25},
		{"bars that cross: right of the crossing", swung, plane.XY{X: 1, Y: -2}, 100.5},
		{"bars that cross: left of it, the other way round", swung, plane.XY{X: 1.5 - 1e-9, Y: 1.5}, 100.25},
	} {
		trial.Near(t, c.name, at(c.bars, c.p), c.want, 1e-6)
	}
}
