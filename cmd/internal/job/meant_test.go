package job

import "testing"

// Slips are counted as a typist makes them.
func TestSlips(t *testing.T) {
	for pair, want := range map[[2]string]int{{"check", "check"}: 0, {"chek", "check"}: 1, {"chekc", "check"}: 1, {"checck", "check"}: 1, {"cjeck", "check"}: 1, {"", "abc"}: 3, {"überlappung", "uberlappung"}: 1, {"turn", "demo"}: 4} {
		if got := slips(pair[0], pair[1]); got != want {
			t.Errorf("%v: %d, want %d", pair, got, want)
		}
		if got := slips(pair[1], pair[0]); got != want {
			t.Errorf("%v the other way: %d, want %d", pair, got, want)
		}
	}
}
