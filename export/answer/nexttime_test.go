package answer

import (
	"strings"
	"testing"

	"balk/coverage"
	"balk/export/words"
)

// TestNextTime: the least overlap that leaves a quarter is said with its price; nothing where little is missed or no overlap cures it.
func TestNextTime(t *testing.T) {
	s := coverage.Spacing{Width: 6, Planned: 5.9, Laps: []coverage.Lap{
		{Overlap: 0.1, Missed: 0.012, Double: 0.02, Way: 1}, {Overlap: 0.14, Missed: 0.006, Double: 0.025, Way: 1.007}, {Overlap: 0.18, Missed: 0.003, Double: 0.031, Way: 1.0137}}}
	if got, want := NextTime(s, words.English), "Next time: with 0.18 m overlap instead of 0.10 m, and driven as unevenly, 0.3 % instead of 1.2 % would be missed between passes, 3.1 % instead of 2.0 % worked twice, with 1.4 % more way."; !strings.HasPrefix(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if got := NextTime(s, words.German); !strings.Contains(got, "mit 0,18 m Überlappung statt 0,10 m") || strings.Contains(got, "%!") {
		t.Errorf("%q", got)
	}
	few := s
	few.Laps = append([]coverage.Lap{{Overlap: 0.1, Missed: 0.001, Way: 1}}, s.Laps[1:]...)
	none := s
	none.Laps = s.Laps[:2]
	for _, o := range []coverage.Spacing{few, none, {}} {
		if got := NextTime(o, words.English); got != "" {
			t.Errorf("%q, want nothing", got)
		}
	}
}
