package plan

import (
	"math"
	"slices"
	"testing"

	"balk/coverage/ground"
	"balk/coverage/rig"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// Fields with arms: rows run along each, the plan takes less than any with one direction for all, leaves nothing of the interior, and says both directions.
func TestArmsHaveDirectionsOfTheirOwn(t *testing.T) {
	ell := plane.Ring{{X: 0, Y: 0}, {X: 300, Y: 0}, {X: 300, Y: 100}, {X: 100, Y: 100}, {X: 100, Y: 350}, {X: 0, Y: 350}}
	tee := plane.Ring{{X: 0, Y: 0}, {X: 400, Y: 0}, {X: 400, Y: 90}, {X: 245, Y: 90}, {X: 245, Y: 400}, {X: 155, Y: 400}, {X: 155, Y: 90}, {X: 0, Y: 90}}
	turned := func(r plane.Ring, by float64) (out plane.Ring) {
		f := plane.Frame{Origin: plane.XY{X: 40, Y: -70}, Ahead: plane.XY{X: math.Cos(by), Y: math.Sin(by)}}
		for _, p := range r {
			out = append(out, f.From(p))
		}
		return out
	}
	for _, c := range []struct {
		name  string
		field plane.Polygon
		im    rig.Implement
		also  []float64 // beside the first, degrees
	}{
		{"an L", plane.Polygon{ell}, mounted(6), []float64{90}},
		{"an L, a narrow set", plane.Polygon{ell}, mounted(3), []float64{90}},
		{"an L turned by 40°", plane.Polygon{turned(ell, 40*math.Pi/180)}, mounted(6), []float64{90}},
		{"an L, a trailed set", plane.Polygon{ell}, trailed(5), []float64{90}},
		{"an L with a pond in one arm", plane.Polygon{ell, hole(180, 30, 220, 60)}, mounted(6), []float64{90}},
		{"a T", plane.Polygon{tee}, mounted(6), []float64{90}},
		{"a rectangle", plane.Polygon{rectangle(0, 0, 300, 200)}, mounted(6), nil},
	} {
		field := []plane.Polygon{c.field}
		got, err := Best(t.Context(), field, c.im, Options{Speed: 8}, Objective{})
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		var also []float64
		for _, a := range got.Candidate.Also {
			also = append(also, math.Round(math.Abs(math.Remainder(a-got.Candidate.Direction, 180))))
		}
		if !slices.Equal(also, c.also) {
			t.Errorf("%s: rows at %g° and %v° from that, want %v", c.name, got.Candidate.Direction, also, c.also)
		}
		if got.Candidate.InteriorLeft > 1 {
			t.Errorf("%s: %g m² of the interior are left", c.name, got.Candidate.InteriorLeft)
		}
		for _, h := range []float64{got.Candidate.Direction, got.Candidate.Direction + 90} {
			one, err := Best(t.Context(), field, c.im, Options{Speed: 8, Fixed: true, Heading: headingOf(math.Mod(h, 180))}, Objective{})
			if err != nil {
				t.Fatal(err)
			}
			if c.also != nil && one.Candidate.Value < 1.005*got.Candidate.Value {
				t.Errorf("%s: %.4f h, with all rows at %g° %.4f: two directions save nothing", c.name, got.Candidate.Value, h, one.Candidate.Value)
			}
		}
		// Laid out again from its options, with as many rounds, its rows are the same.
		o := got.Plan.Options
		o.Rounds = got.Plan.Rounds
		again, err := Lay(t.Context(), field, c.im, o)
		if err != nil {
			t.Fatal(err)
		}
		n, long := rowsOf(got.Plan)
		if m, far := rowsOf(again); m != n || math.Abs(far-long) > 1e-3*long {
			t.Errorf("%s: %d rows of %g m, from its options %d of %g m", c.name, n, long, m, far)
		}
	}
}

// rowsOf are the number of rows of a plan and their length, m.
func rowsOf(p Plan) (n int, long float64) {
	for _, one := range p.Passes {
		if one.Round == 0 {
			n, long = n+1, long+one.Length
		}
	}
	return n, long
}

// Regions of real fields are the field, each place once, whatever the set; and blocks of rows over them are the interior.
func TestRegionsAreTheField(t *testing.T) {
	cut := 0
	taken := realShare(3)
	for i, field := range trial.OnPlanes(t) {
		if !taken(i) {
			continue
		}
		for _, im := range []rig.Implement{mounted(6), mounted(3)} {
			s, err := surveyOf(t.Context(), field, im, Options{Speed: 8})
			if err != nil {
				t.Fatal(err)
			}
			ways, err := s.splits(t.Context(), 0)
			if err != nil {
				t.Fatal(err)
			}
			for _, w := range ways {
				cut++
				left, sum := field, 0.0
				for _, r := range w.split.regions {
					sum += r.Ground.Area()
					if left, err = plane.Difference(t.Context(), left, []plane.Polygon{r.Ground}); err != nil {
						t.Fatal(err)
					}
				}
				if rest := ground.AreaOf(left); rest > 1e-6*s.area || math.Abs(sum-s.area) > 1e-6*s.area {
					t.Errorf("field %d: regions of %g m², %g m² in none, of %g m²", i, sum, rest, s.area)
				}
			}
		}
	}
	if cut == 0 {
		t.Error("no field was cut: the test sees nothing")
	}
}
