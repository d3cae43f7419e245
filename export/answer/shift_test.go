package answer

import (
	"strings"
	"testing"

	"balk/coverage"
	"balk/export/words"
)

// A shift against the boundary is told with both readings, and sections that the log does not have; of nothing nothing is said.
func TestBesideInWords(t *testing.T) {
	o := coverage.Open{Shift: coverage.Shift{East: -0.2, North: 0.2, Doubt: 0.06, Missed: 120}, Sections: 4}
	for l, wants := range map[words.Language][]string{
		words.English: {"0.28 m (give or take 0.06) off towards 315°", "Missed are 300 m² as logged, 120 m² without the shift", "has 4 sections, and the log does not say which were down"},
		words.German:  {"um 0,28 m (auf 0,06 genau) nach 315° versetzt", "hat 4 Teilbreiten"},
	} {
		got := strings.Join(Beside(l, o, 300), "\n")
		for _, want := range wants {
			if !strings.Contains(got, want) {
				t.Errorf("%s: %q, want %q", l, got, want)
			}
		}
	}
	// One beyond what the receiver errs by stands before all figures as well.
	o.Shift.Beyond = true
	for l, want := range map[words.Language]string{words.English: "more than its receiver errs by", words.German: "mehr als ihr Empfänger irrt"} {
		if first := strings.Join(First(l, o, 300), "\n"); !strings.Contains(first, want) || !strings.Contains(first, "300 m²") || !strings.Contains(first, "120 m²") {
			t.Errorf("%s: %q", l, first)
		}
	}
	if got := Beside(words.English, coverage.Open{}, 300); len(got) > 0 {
		t.Errorf("of nothing: %q", got)
	}
}
