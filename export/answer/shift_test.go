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
		got := strings.Join(Beside(l, o, coverage.Telling{}, 300), "\n")
		for _, want := range wants {
			if !strings.Contains(got, want) {
				t.Errorf("%s: %q, want %q", l, got, want)
			}
		}
	}
	for l, want := range map[words.Language]string{words.English: "how much of the bar was down", words.German: "wie viel vom Gerät unten war"} {
		if got := strings.Join(Beside(l, coverage.Open{Whole: true}, coverage.Telling{}, 300), "\n"); !strings.Contains(got, want) {
			t.Errorf("%s: %q, want %q", l, got, want)
		}
	}
	// One beyond what the receiver errs by stands before all figures as well.
	o.Shift.Beyond = true
	for l, want := range map[words.Language]string{words.English: "more than its receiver errs by", words.German: "mehr als ihr Empfänger irrt"} {
		if first := strings.Join(First(l, o, 300), "\n"); !strings.Contains(first, want) || !strings.Contains(first, "300 m²") || !strings.Contains(first, "120 m²") {
			t.Errorf("%s: %q", l, first)
		}
	}
	if got := Beside(words.English, coverage.Open{}, coverage.Telling{}, 300); len(got) > 0 {
		t.Errorf("of nothing: %q", got)
	}
}

// TestSplit: whatever a first screen has no room for is told with the details, and nothing twice or never; a log that tells no strips tells neither.
func TestSplit(t *testing.T) {
	all := coverage.Open{Aside: coverage.Aside{By: 0.1, Missed: 500}, Frame: coverage.Frame{Most: true, Missed: 700}}
	for _, c := range []struct {
		name string
		with func(*coverage.Open)
		can  coverage.Grasp
		said int // of the two
	}{
		{"a firm log", func(*coverage.Open) {}, coverage.GraspFirm, 2},
		{"a receiver that says nothing of itself", func(*coverage.Open) {}, coverage.GraspRange, 1},
		{"no work state", func(o *coverage.Open) { o.Ends.Rows = 90 }, coverage.GraspFirm, 0},
		{"off the boundary", func(o *coverage.Open) { o.Shift = coverage.Shift{East: 1, Beyond: true} }, coverage.GraspFirm, 0},
	} {
		o := all
		c.with(&o)
		said, rest := split(o, coverage.Telling{Strips: c.can})
		said.Ends = coverage.Ends{}
		first, beside := Holds(words.English, said), Holds(words.English, rest)
		if len(first) != c.said || len(first)+len(beside) != 2 {
			t.Errorf("%s: first %q, beside %q", c.name, first, beside)
		}
	}
	if said, rest := split(all, coverage.Telling{Strips: coverage.GraspNone}); len(Holds(words.English, said))+len(Holds(words.English, rest)) > 0 {
		t.Errorf("a telephone: %+v, %+v", said, rest)
	}
}
