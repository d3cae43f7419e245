package turn

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/rig"
	"balk/testdata/check"
)

// TestNeed draws sets. On the headland that they need some kind of turn into the next row can be driven, on one shallower by more than a decimetre none can.
func TestNeed(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 6))
	for range 10 {
		im := rig.Implement{Width: 2.5 + 7*rng.Float64(), Overlap: 0.1,
			Mount:   rig.Mount{Hitch: 1.2, BarBehind: 0.5 + rng.Float64()},
			Tractor: rig.Tractor{Ahead: 3.5 + rng.Float64(), Behind: 1, Width: 2.5}, Body: rig.Body{Ahead: 0.8, Behind: 0.8},
			Turning: rig.Turning{Radius: 4 + 4*rng.Float64(), Speed: 6, ReverseSpeed: 4, Change: 3, Margin: 0.3}}
		if rng.IntN(2) == 0 {
			im.Mount.Trailed, im.Mount.Drawbar, im.Mount.DrawbarRadius = true, 3+2*rng.Float64(), 6+3*rng.Float64()
		}
		spacing := im.Width - im.Overlap
		need, ok, err := NeedOf(t.Context(), im, spacing, UsualSkip)
		if err != nil {
			t.Fatal(err)
		}
		serves := func(depth float64, skip int) bool {
			all, err := Table(t.Context(), im, spacing, depth, skip)
			if err != nil {
				t.Fatal(err)
			}
			for _, one := range all[skip].Turns {
				if one.Feasible {
					return true
				}
			}
			return false
		}
		if !ok || need.Skip > 0 {
			t.Errorf("%+v: %v, %d rows between: a set that has the room turns into the next row", im, ok, need.Skip)
			continue
		}
		for skip := range UsualSkip + 1 {
			if serves(need.Least-0.11, skip) || skip == need.LeastSkip && !serves(need.Least, skip) {
				t.Errorf("%+v: needs %g m at the least, with %d rows between: with %d not so", im, need.Least, need.LeastSkip, skip)
			}
		}
		if !serves(need.Depth, need.Skip) || serves(need.Depth-0.11, need.Skip) || math.Abs(need.Depth*10-math.Round(need.Depth*10)) > 1e-9 {
			t.Errorf("%+v: needs %g m with %d rows between: serves there %v, 11 cm shallower %v", im, need.Depth, need.Skip, serves(need.Depth, need.Skip), serves(need.Depth-0.11, need.Skip))
		}
	}
}
