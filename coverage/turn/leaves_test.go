package turn

import (
	"math/rand/v2"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
)

// TestLeavesIsNeverWrong: where a set surely leaves the room, driving it finds that it does not hold, however near its ground comes to an edge (1); and
// most of what does not hold is told so.
func TestLeavesIsNeverWrong(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 1))
	told, out, held := 0, 0, 0
	for i := range 400 {
		p, im := anyTurn(rng)
		p.From.At = plane.XY{X: 75 + 15*rng.NormFloat64(), Y: 20 * rng.NormFloat64()}
		fine := []float64{Fine, 0.05, 0.2}[i%3]
		d := drive(t, p, im, fine)
		poly := plane.Polygon{roundField(3+rng.IntN(80), 10)}
		if at := (plane.XY{X: 75 + 10*rng.NormFloat64(), Y: 20 * rng.NormFloat64()}); i%2 == 0 {
			poly = append(poly, rectangle(at.X, at.Y, at.X+3*rng.Float64(), at.Y+3*rng.Float64()))
		}
		polys, err := plane.Mend(poly)
		if err != nil {
			t.Fatal(err)
		}
		r := room(t, polys...)
		fit := r.Fit(d, 0)
		for _, margin := range []float64{0, 0.3, fit.Spare - 1e-9, fit.Spare + 1e-9, fit.Spare + fine, 5 * rng.Float64()} {
			if margin < 0 {
				continue
			}
			leaves, holds := r.Leaves(p, im, margin, fine), r.Holds(d, margin)
			switch {
			case leaves && holds:
				t.Errorf("case %d, %s, driven to %g m: leaves a room that has %.6f m to spare, with a margin of %g m", i, p.Kind, fine, fit.Spare, margin)
			case holds:
				held++
			case leaves:
				told++
			case fit.Spare < margin-0.5 && !im.Mount.Trailed:
				out++
			}
		}
	}
	if told < 3*out || held < 100 {
		t.Errorf("%d told to leave, %d of rigid sets that are half a metre short are not told, %d hold: want three in four told, and 100 that hold", told, out, held)
	}
	if p, im := anyTurn(rng); new(Room).Leaves(p, im, 0, Fine) {
		t.Error("what is known of no room: want nothing")
	}
}
