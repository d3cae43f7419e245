package plan

import (
	"math"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// mounted is a set of 6 m, credited with 6 m, that turns on 6 m.
func mounted(width float64) rig.Implement {
	return rig.Implement{Name: "mounted", Width: width, Mount: rig.Mount{Hitch: 1.2, BarBehind: 1},
		Tractor: rig.Tractor{Ahead: 3.8, Behind: 1, Width: 2.5}, Body: rig.Body{Ahead: 0.8, Behind: 0.8},
		Turning: rig.Turning{Radius: 6, Speed: 6, ReverseSpeed: 4, Change: 3, Margin: 0.3}}
}

func rectangle(x0, y0, x1, y1 float64) plane.Ring {
	return plane.Ring{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func box(a, b float64) []plane.Polygon { return []plane.Polygon{{rectangle(0, 0, a, b)}} }

func laid(t testing.TB, field []plane.Polygon, im rig.Implement, o Options) (Plan, Candidate) {
	t.Helper()
	p, err := Lay(t.Context(), field, im, o)
	if err != nil {
		t.Fatal(err)
	}
	c, err := Simulate(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	return p, c
}

// TestRectangle: 400 × 250 m, 3 rounds of 6 m. Headland share 1 − (1 − 36/400)(1 − 36/250) = 22.10 %
// (own derivation). The interior is 364 × 214 m: 36 passes of 364 m, and 35 turns between them.
func TestRectangle(t *testing.T) {
	p, c := laid(t, box(400, 250), mounted(6), Options{Rounds: 3, Speed: 8})
	t.Logf("%+v", c)
	if c.Passes != 36 || c.Turns < 35 || c.Blocks != 1 {
		t.Errorf("%d passes, %d turns, %d blocks: want 36, 35 and those to the rounds, 1", c.Passes, c.Turns, c.Blocks)
	}
	if math.Abs(c.HeadlandShare-0.2210) > 5e-5 {
		t.Errorf("headland share %.4f: want 0.2210", c.HeadlandShare)
	}
	for _, one := range p.Passes {
		if one.Block > 0 && math.Abs(one.Length-364) > 1e-6 {
			t.Errorf("pass %d of %g m: want 364 m", one.Number, one.Length)
		}
	}
	if c.InteriorLeft > 1e-3*c.Field {
		t.Errorf("interior missed %g m²", c.InteriorLeft)
	}
	_ = geo.Heading(0)
}
