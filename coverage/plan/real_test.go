package plan

import (
	"fmt"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// realShare: of the real fields the gate takes each so manieth, the same in every gate; .ci/long takes all.
func realShare(share int) func(i int) bool {
	return func(i int) bool { return trial.Long() || i%share == share/2 }
}

// TestRealPlans plans real fields with a mounted set of 6 m in its best direction:
// no error, nothing of the interior missed where turning is feasible, no way that can be driven leaves the
// field. What stays missed elsewhere is corners of rounds, and ground narrower than the set.
func TestRealPlans(t *testing.T) {
	fields := trial.OnPlanes(t)
	turns, unfit, tried, short := 0, 0, 0, 0
	taken := realShare(5)
	for i, f := range fields {
		if !taken(i) {
			continue
		}
		got, err := Best(t.Context(), f, mounted(6), Options{Speed: 8}, Objective{})
		if err != nil {
			t.Errorf("field %d: %v", i, err)
			continue
		}
		tried++
		c := got.Candidate
		turns, unfit = turns+c.Turns, unfit+len(c.Infeasible)
		if c.InteriorLeft > 6e-3*c.Field { // rows that end early for their turn to fit, on fields of a third of a hectare
			t.Errorf("field %d: interior missed %g m² of %g m²", i, c.InteriorLeft, c.Field)
		}
		if c.Outside > 1e-3*c.Field {
			t.Errorf("field %d: %g m² worked outside, of %g m²", i, c.Outside, c.Field)
		}
		checkSums(t, got.Plan, c)
		t.Run(fmt.Sprintf("field %d", i), func(t *testing.T) { checkWays(t, got.Plan) })
		wide, err := plane.Inset(t.Context(), f, 3)
		if err != nil {
			t.Fatal(err)
		}
		reach := areaOf(wide)
		// Ground that no bar of 6 m reaches: what an opening by half of it takes.
		if len(wide) > 0 {
			lost, err := plane.Beyond(t.Context(), f, wide, 3)
			if err != nil {
				t.Fatal(err)
			}
			reach = areaOf(f) - areaOf(lost)
		}
		for _, one := range got.Plan.Passes {
			checkBends(t, one, got.Plan.Implement.TurnRadius())
		}
		// In arms narrower than two turning circles rounds cannot be driven to their ends.
		share := (c.Missed - (c.Field - reach)) / c.Field
		if share > 0.08 {
			short++
		}
		if share > 0.25 {
			t.Errorf("field %d of %.2f ha: missed %g m², %g m² of it narrower than the set", i, c.Field/hectare, c.Missed, c.Field-reach)
		}
	}
	if tried < len(fields)/6 || unfit > turns/40 || short > max(2, tried/19) {
		t.Errorf("%d fields of %d, %d of %d turns do not fit, %d fields miss more than 8 %%: want at least a sixth, at most one in forty, at most two or one in nineteen", tried, len(fields), unfit, turns, short)
	}
	t.Logf("%d fields, %d turns, %d of them do not fit, %d fields miss more than 8 %%", tried, turns, unfit, short)
}

func areaOf(polys []plane.Polygon) float64 {
	sum := 0.0
	for _, p := range polys {
		sum += p.Area()
	}
	return sum
}

// BenchmarkRealFields is Best on all real fields, width by width.
func BenchmarkRealFields(b *testing.B) {
	fields := trial.OnPlanes(b)
	for _, w := range benchWidths {
		b.Run(fmt.Sprintf("width=%g", w), func(b *testing.B) {
			for b.Loop() {
				for _, f := range fields {
					got, err := Best(b.Context(), f, mounted(w), Options{Speed: 8}, Objective{})
					if err != nil || got.Candidate.Hours <= 0 && w < 8 {
						b.Fatalf("%g h, %v", got.Candidate.Hours, err)
					}
				}
			}
		})
	}
}

// BenchmarkCompareRealFields is four widths on all real fields with all that is asked about each.
func BenchmarkCompareRealFields(b *testing.B) {
	fields := trial.OnPlanes(b)
	var ims []rig.Implement
	for _, w := range benchWidths {
		ims = append(ims, mounted(w))
	}
	for b.Loop() {
		for i, f := range fields {
			got, err := Compare(b.Context(), f, ims, Options{Speed: 8}, Objective{})
			if err != nil || len(got) != len(ims) {
				b.Fatalf("field %d: %d candidates, %v", i, len(got), err)
			}
		}
	}
}
