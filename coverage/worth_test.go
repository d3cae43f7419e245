package coverage

import "testing"

// A curve by hand: 50 m² in 10 s, 80 in 30, 100 in 100. Above the straight from nothing to all lie 0.5 − 0.1, 0.8 − 0.3 and nothing.
func TestKneeByHand(t *testing.T) {
	w := Worth{Steps: []Won{{Count: 1, Area: 50, Time: 10}, {Count: 2, Area: 80, Time: 30}, {Count: 5, Area: 100, Time: 100}}}
	for name, c := range map[string]struct {
		got  Won
		want int
	}{
		"knee": {w.Knee(), 2}, "half": {w.Share(0.5), 1}, "a little more than half": {w.Share(0.51), 2}, "four fifths": {w.Share(0.8), 2}, "all": {w.All(), 5},
		"29 s": {w.Within(29), 1}, "30 s": {w.Within(30), 2}, "no time": {w.Within(9), 0},
		"a first strip at the gate is no knee": {Worth{Steps: []Won{{Count: 1, Area: 30, Time: 1}, {Count: 2, Area: 60, Time: 50}, {Count: 3, Area: 100, Time: 100}}}.Knee(), 2},
		"the knee of a straight is its end":    {Worth{Steps: []Won{{Count: 1, Area: 50, Time: 50}, {Count: 2, Area: 100, Time: 100}}}.Knee(), 2},
		"nothing":                              {Worth{}.Knee(), 0},
	} {
		if c.got.Count != c.want {
			t.Errorf("%s: %d strips, want %d", name, c.got.Count, c.want)
		}
	}
}

// A strip of half a metre is found again with the phase fixed, and not where nothing is known of the receiver.
func TestNarrow(t *testing.T) {
	for name, c := range map[string]struct {
		noise Noise
		width float64
		want  bool
	}{
		"phase fixed, 9 cm":    {Noise{PassError: 0.03, PassErrorFrom: fromQuality}, 0.09, true},
		"phase fixed, 11 cm":   {Noise{PassError: 0.03, PassErrorFrom: fromQuality}, 0.11, false},
		"a bound alone, 1.9 m": {Noise{PassError: 0.03, PassErrorFrom: fromSpread}, 1.9, true},
		"nothing known, 2.1 m": {Noise{}, 2.1, false},
	} {
		if got := (Result{Noise: c.noise}).Narrow(Strip{MaxWidth: c.width}); got != c.want {
			t.Errorf("%s: %v", name, got)
		}
	}
}
