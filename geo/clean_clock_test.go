package geo

import "testing"

// TestLeapThatMakesGood: a leap of 100 s, and what may be the way back. What lasts half of the part or longer is the clock itself.
func TestLeapThatMakesGood(t *testing.T) {
	ahead := leap{nth: 10, by: 100}
	for _, c := range []struct {
		name string
		open []leap
		here leap
		want int // index, -1: none
	}{
		{"back by as much", []leap{ahead}, leap{nth: 20, by: -100, sum: 100}, 0},
		{"just before half of the part", []leap{ahead}, leap{nth: 59, by: -100, sum: 100}, 0},
		{"after half of the part", []leap{ahead}, leap{nth: 60, by: -100, sum: 100}, -1},
		{"back by all but what a leap is", []leap{ahead}, leap{nth: 20, by: -100 + min(clockLeap, 50), sum: 100}, 0},
		{"and a second less", []leap{ahead}, leap{nth: 20, by: -99 + min(clockLeap, 50), sum: 100}, -1},
		{"in two steps", []leap{ahead, {nth: 15, by: -40, sum: 100}}, leap{nth: 20, by: -60, sum: 60}, 0},
		{"the nearer of two", []leap{ahead, {nth: 15, by: 100, sum: 100}}, leap{nth: 20, by: -100, sum: 200}, 1},
		{"nothing open", nil, leap{nth: 20, by: -100}, -1},
	} {
		if got := came(c.open, c.here, 100); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}
