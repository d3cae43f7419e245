package turn

import (
	"math"
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

// TestInside: how far a place lies inside a room at the least and at the most holds what looking at all edges gives, near the boundary and far from it, asked once and again, and near enough to be of use. A place beyond all
// cells is not known.
func TestInside(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 2))
	for _, size := range []float64{30, 300, 20_000} {
		round := roundField(60, 10)
		for k, c := range round {
			round[k] = c.Scale(size / 100)
		}
		r := room(t, plane.Polygon{round, rectangle(-size/20, -size/20, size/20, size/20)})
		cell := 0.0
		for i := range 3000 {
			p := plane.XY{X: size * (2*rng.Float64() - 1), Y: size * (2*rng.Float64() - 1)}
			if i%3 > 0 { // on an edge, or some centimetres from it
				k := int32(rng.IntN(r.edges.Len()))
				p = r.edges.At(k).At(rng.Float64()).Add(plane.XY{X: 0.1 * rng.NormFloat64(), Y: 0.1 * rng.NormFloat64()})
			}
			want, _ := r.edges.Signed(p, 0)
			for range 2 {
				least, most := r.inside(p, 0)
				if !(least <= want && want <= most) {
					t.Fatalf("%v of a field of %g m: %g to %g m inside, by all edges %g", p, size, least, most, want)
				}
				if cell = r.clearance.cell; !math.IsInf(most, 1) && most-least > 1.5*cell {
					t.Fatalf("%v: %g to %g m inside, in cells of %g m", p, least, most, cell)
				}
			}
		}
		if n := len(r.clearance.middle); n > mostCells+2*int(math.Sqrt(mostCells))+1 {
			t.Errorf("%d cells", n)
		}
		if least, most := r.inside(plane.XY{X: 30 * size}, 0); !math.IsInf(least, -1) || !math.IsInf(most, 1) {
			t.Errorf("far outside: %g to %g m", least, most)
		}
	}
}
