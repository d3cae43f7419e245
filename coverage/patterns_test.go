package coverage

import (
	"testing"

	"balk/coverage/drive"
	"balk/coverage/pattern"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestShiftedLineAndReceiver: twenty rows whose line lies 0.4 m farther from the twelfth on. A receiver good to 2 cm shows it; of one that errs by 0.34 m
// from pass to pass, given with the call, a join so wide may be its own.
func TestShiftedLineAndReceiver(t *testing.T) {
	var rows []float64
	for k := range 20 {
		y := 3 + 5.9*float64(k)
		if k >= 11 {
			y += 0.4
		}
		rows = append(rows, y)
	}
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 150, 118.5)}, Lines: trial.Rows(0, 150, rows...)}
	for passError, want := range map[float64]int{0.02: 1, 0.34: 0} {
		shifted := 0
		for _, p := range checked(t, s, drive.Work{Width: 6, Overlap: 0.1, PassError: passError}).Patterns {
			if p.Kind == pattern.Shifted {
				shifted++
			}
		}
		if shifted != want {
			t.Errorf("%g m from pass to pass: %d shifted lines, want %d", passError, shifted, want)
		}
	}
}
