package coverage

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

func areasOf(pieces []plane.Polygon) (areas []float64) {
	for _, p := range pieces {
		areas = append(areas, p.Area())
	}
	slices.SortFunc(areas, func(a, b float64) int { return cmp.Compare(b, a) })
	return areas
}

// TestNecks cuts drawn ground with necks of 5 cm and tails of 3 m.
func TestNecks(t *testing.T) {
	ring := func(xy ...float64) (r plane.Ring) {
		for i := 0; i < len(xy); i += 2 {
			r = append(r, plane.XY{X: xy[i], Y: xy[i+1]})
		}
		return r
	}
	for _, c := range []struct {
		name string
		p    plane.Polygon
		want []float64 // m²
	}{
		//  ┌──┐              ┌──┐
		//  │  └──────────────┘  │   2 cm
		//  └────────────────────┘
		{"two blocks and a sliver of 100 m", plane.Polygon{ring(0, 0, 106, 0, 106, 2, 103, 2, 103, 0.02, 3, 0.02, 3, 2, 0, 2)}, []float64{6, 6, 2}},
		{"a sliver of 6 cm is none", plane.Polygon{ring(0, 0, 106, 0, 106, 2, 103, 2, 103, 0.06, 3, 0.06, 3, 2, 0, 2)}, []float64{18}},
		{"a block and its sliver", plane.Polygon{ring(0, 0, 103, 0, 103, 0.02, 3, 0.02, 3, 2, 0, 2)}, []float64{6, 2}},
		{"a tail of 2 m stays", plane.Polygon{ring(0, 0, 5, 0, 5, 0.02, 3, 0.02, 3, 2, 0, 2)}, []float64{6.04}},
		{"the first metre of a wedge stays", plane.Polygon{ring(0, 0, 100, 0, 0, 4)}, []float64{200}},
		// From 1 m to nothing over 100 m: 5 cm are left 5 m before the point.
		{"a wedge that runs out", plane.Polygon{ring(0, 0, 100, 0, 0, 1)}, []float64{50 - 0.125, 0.125}},
		// Blocks that meet at corners 3 cm apart, as at row ends.
		{"corner to corner", plane.Polygon{ring(0, 0, 3.02, 0, 3.02, 2, 6, 2, 6, 4, 3, 4, 3, 2.02, 0, 2.02)}, nil},
		{"a band of 4 cm only", plane.Polygon{ring(0, 0, 100, 0, 100, 0.04, 0, 0.04)}, []float64{4}},
		// Round worked ground: 2 m wide on three sides, 2 cm on the fourth.
		{"round a worked island", plane.Polygon{ring(0, 0, 20, 0, 20, 12.02, 0, 12.02), ring(2, 2, 2, 12, 18, 12, 18, 2)}, []float64{80.08, 0.32}},
	} {
		for _, turned := range []float64{0, 0.3, 2} {
			sin, cos := math.Sincos(turned)
			p := make(plane.Polygon, len(c.p))
			for k, r := range c.p {
				p[k] = trial.Apply(r, func(q plane.XY) plane.XY { return plane.XY{X: 100 + q.X*cos - q.Y*sin, Y: q.X*sin + q.Y*cos} })
			}
			_, radius, _ := widest(p, 0)
			pieces, _ := cutter{0.05, 3, plane.XY{X: cos, Y: sin}}.cut(p, 2*radius)
			if pieces == nil {
				pieces = []plane.Polygon{p}
			}
			got := areasOf(pieces)
			if c.want == nil {
				if len(got) != 2 && len(got) != 3 || math.Abs(got[0]-6.05) > 0.06 || math.Abs(got[1]-6.05) > 0.06 {
					t.Errorf("%s, turned by %g: %v", c.name, turned, got)
				}
				continue
			}
			if fmt.Sprintf("%.3f", got) != fmt.Sprintf("%.3f", c.want) {
				t.Errorf("%s, turned by %g: %.3f m², want %.3f", c.name, turned, got, c.want)
			}
		}
	}
}

// TestNecksAddUp cuts drawn combs of slivers and blocks, with islands: every piece is a ring that does not cross itself, none laps another, and
// the areas add up.
func TestNecksAddUp(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	const drawn = 1. / 8000 // m: so far polygons are rounded where edges come near
	cuts, missed := 0, 0
	for range 300 {
		var boxes []plane.Polygon
		for range 3 + rng.IntN(30) {
			x, y, w, h := rng.Float64()*40, rng.Float64()*40, math.Exp(4*rng.Float64()-4), math.Exp(4*rng.Float64())
			if rng.IntN(2) == 0 {
				w, h = h, w
			}
			lean := rng.NormFloat64() * 0.002
			box := plane.Ring{{X: x, Y: y}, {X: x + w, Y: y + lean*w}, {X: x + w - lean*h, Y: y + h + lean*w}, {X: x - lean*h, Y: y + h}}
			boxes = append(boxes, plane.Polygon{box})
		}
		whole, err := plane.Union(t.Context(), boxes, nil)
		if err != nil {
			t.Fatal(err)
		}
		c := cutter{0.02 + 0.3*rng.Float64(), 3, plane.XY{X: 1}}
		for _, p := range whole {
			_, radius, _ := widest(p, 0)
			pieces, at := c.cut(p, 2*radius)
			if pieces == nil {
				continue
			}
			cuts += len(pieces) - 1
			var knife knife
			knife.add(at)
			if again := areasOf(knife.apart(p)); fmt.Sprintf("%.6f", again) != fmt.Sprintf("%.6f", areasOf(pieces)) {
				missed++ // two cuts from one corner, of which the other's end is met first
			}
			sum := 0.0
			for _, q := range pieces {
				sum += q.Area()
				mended, err := plane.Mend(q)
				if err != nil {
					t.Fatal(err)
				}
				clean := 0.0
				for _, m := range mended {
					clean += m.Area()
				}
				if math.Abs(clean-q.Area()) > drawn*q.Perimeter() {
					t.Errorf("a piece of %.6f m² laps itself: %.6f", q.Area(), clean)
				}
			}
			if math.Abs(sum-p.Area()) > 1e-9 {
				t.Errorf("%d pieces have %.12f m² of %.12f", len(pieces), sum, p.Area())
			}
			all, err := plane.Union(t.Context(), pieces, nil)
			if err != nil {
				t.Fatal(err)
			}
			lapped := 0.0
			for _, q := range all {
				lapped += q.Area()
			}
			if math.Abs(lapped-p.Area()) > drawn*p.Perimeter() {
				t.Errorf("%d pieces lie on %.6f m² of %.6f", len(pieces), lapped, p.Area())
			}
		}
	}
	if missed > cuts/100 {
		t.Errorf("%d pieces in %d cuts came apart otherwise at the same places", missed, cuts)
	}
	if cuts < 100 {
		t.Errorf("only %d cuts", cuts)
	}
}
