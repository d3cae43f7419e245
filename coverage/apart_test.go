package coverage

import (
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestPassesTellTheirWidth: 12 passes 4.9 m apart, judged with widths that are right, nearly right and wrong.
func TestPassesTellTheirWidth(t *testing.T) {
	var ys []float64
	for k := range 12 {
		ys = append(ys, 4.9*(float64(k)+0.5))
	}
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 200, 12*4.9)}, Lines: trial.Rows(0, 200, ys...)}
	for _, c := range []struct {
		width, overlap float64
		misfit         bool
	}{
		{5, 0.1, false}, {5, 0.6, false}, {4.4, 0, false}, {3, 0, true}, {0.5, 0.1, true}, {50, 0.1, true}, {10, 0.2, true}, {6, 0.1, true}, {16 * 0.3048, 0, false},
	} {
		sp := checked(t, s, drive.Work{Width: c.width, Overlap: c.overlap}).Spacing
		trial.Near(t, "passes lie apart", sp.Apart, 4.9, 1e-6)
		if sp.Misfit() != c.misfit {
			t.Errorf("width %g m, overlap %g m: misfit %v", c.width, c.overlap, sp.Misfit())
		}
	}
	// Two passes side by side are too few, and passes fanning out tell no width.
	few := trial.Sketch{Rings: s.Rings, Lines: trial.Rows(0, 30, 2, 7)}
	if a := checked(t, few, drive.Work{Width: 5}).Spacing.Apart; a != 0 {
		t.Errorf("two short passes lie %g m apart", a)
	}
	uneven := trial.Sketch{Rings: s.Rings, Lines: trial.Rows(0, 200, 1, 3, 9, 10.5, 20, 23, 35, 36.5, 44, 55)}
	if a := checked(t, uneven, drive.Work{Width: 5}).Spacing.Apart; a != 0 {
		t.Errorf("uneven passes lie %g m apart", a)
	}
}
