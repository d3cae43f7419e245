package plan

import (
	"math"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestNoOtherCorneringTakesLess: on small real fields no other way to drive the corners of rounds takes less than the one found, laid out in the same
// direction and judged by the engine; and not on all of them the same way is taken.
func TestNoOtherCorneringTakesLess(t *testing.T) {
	fields := trial.OnPlanes(t)
	chosen := map[cornering]bool{}
	for _, c := range []struct {
		name  string
		field []plane.Polygon
		im    rig.Implement
	}{
		{"field 41", fields[40], mounted(6)},
		{"field 151", fields[150], mounted(6)},
		{"field 24", fields[23], trailed(5)},
	} {
		found, s, err := bestOf(t.Context(), c.field, c.im, Options{Speed: 8}, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		chosen[s.sharp] = true
		for way := range 2 * cornerings {
			how, fitting := way/2, way%2 == 1
			other, err := s.cornered(t.Context(), how, fitting, false)
			if err != nil {
				t.Fatal(err)
			}
			p, err := other.lay(t.Context(), found.choice, nil)
			if err != nil {
				t.Fatal(err)
			}
			got, err := Objective{}.judged(t.Context(), p)
			if err != nil {
				t.Fatal(err)
			}
			if got.Value < (1-worthRounding)*found.Candidate.Value {
				t.Errorf("%s: %.4f h with %d rounds and cornering %d, %.4f h with cornering %d, fitting %t", c.name, found.Candidate.Value, found.Plan.Rounds, s.sharp, got.Value, how, fitting)
			}
		}
	}
	if len(chosen) < 2 {
		t.Errorf("cornerings chosen: %v: want two kinds at least", chosen)
	}
}

// TestGroundOfBlocks: blocks share all the ground that they lie on, each by the length of its rows.
func TestGroundOfBlocks(t *testing.T) {
	s, err := surveyOf(t.Context(), shapes[6].field, mounted(6), Options{Speed: 8})
	if err != nil {
		t.Fatal(err)
	}
	for _, h := range []float64{0, 0.4, 1.3} {
		for _, in := range s.parts[0].interior {
			sum := 0.0
			for _, b := range s.blocksIn(nil, in, geo.Heading(h), true) {
				sum += b.ground
			}
			if math.Abs(sum-in.Area()) > 1e-6*in.Area() {
				t.Errorf("heading %g: blocks lie on %g m², want %g m²", h, sum, in.Area())
			}
		}
	}
}
