package turn

import (
	"fmt"
	"testing"
)

// What does not fit is short by something, and what fits spares no more than there is.
func TestTold(t *testing.T) {
	for spare, want := range map[float64]string{-0.0004: "-0.01", -0.01: "-0.01", -0.011: "-0.02", 0: "+0.00", 0.004: "+0.00", 0.069: "+0.06", 0.29: "+0.29", 1.1: "+1.10", -1e-12: "+0.00"} {
		if got := fmt.Sprintf("%+.2f", Told(spare)); got != want {
			t.Errorf("%g m is told as %s, want %s", spare, got, want)
		}
	}
}
