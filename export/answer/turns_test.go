package answer

import (
	"strings"
	"testing"

	"balk/coverage/plan"
	"balk/coverage/turn"
	"balk/export/words"
)

// Whether a set can turn: into the next row, where rows are left, or not; depths are rounded up, as less would not do.
func TestTurnsInWords(t *testing.T) {
	fits := func(skip int, kind turn.Kind, time, least float64) turn.Pattern {
		return turn.Pattern{Skip: skip, Best: kind, LeastDepth: least, Turns: []turn.Turn{{Kind: kind, Time: time, Feasible: true}}}
	}
	for name, c := range map[string]struct {
		all  []turn.Pattern
		want string
	}{
		"into the next row":               {[]turn.Pattern{fits(0, turn.PlainU, 17, 8)}, "With 12.00 m of headland the set turns into the next row (plain U, 17 s)."},
		"no speed is known":               {[]turn.Pattern{fits(0, turn.PlainU, 0, 8)}, "With 12.00 m of headland the set turns into the next row (plain U)."},
		"the next but one is quicker":     {[]turn.Pattern{fits(0, turn.PlainU, 17, 8), fits(1, turn.PlainU, 15, 7.001)}, "With 12.00 m of headland the set turns into the next row (plain U, 17 s). It is quickest with 1 row left between for later (plain U, 15 s), which fits from 7.01 m on."},
		"more headland would do":          {[]turn.Pattern{{LeastDepth: 14.0001}, fits(2, turn.PlainU, 15, 7)}, "With 12.00 m of headland the set cannot turn into the next row: that takes 14.01 m. It is quickest with 2 rows left between for later (plain U, 15 s), which fits from 7.00 m on."},
		"no headland would":               {[]turn.Pattern{{}, {Skip: 4}}, "The set cannot turn into the next row, whatever the headland. Nor does it where up to 4 rows are left for later."},
		"nothing was asked of other rows": {[]turn.Pattern{{LeastDepth: 14}}, "With 12.00 m of headland the set cannot turn into the next row: that takes 14.00 m."},
	} {
		if got := strings.Join(Turns(words.English, c.all, 12), " "); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	e := turn.Ends{Ends: make([]turn.RowEnd, 5), HeadlandShare: 0.3}
	least := turn.Least{Found: true, Depth: 14.0001, Limit: 40, Ends: turn.Ends{HeadlandShare: 0.354}}
	if got, want := RowEnds(words.English, e, least), "On this field all 5 row ends fit."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	e.Infeasible = 2
	e.Ends[1].WayOut = &turn.WayOut{Skip: 1}
	if got, want := RowEnds(words.English, e, least), "On this field 2 of 5 row ends do not fit; all do from 14.01 m of headland on, which takes 35 % of the field instead of 30 %; where rows are left for later, 1 of them fit as it is."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	e.Ends[1].WayOut, least.Found = nil, false
	if got, want := RowEnds(words.English, e, least), "On this field 2 of 5 row ends do not fit, and no headland up to 40.0 m makes them all fit."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

// Plans ranked: the first with its figures, two others by what differs.
func TestPlansInWords(t *testing.T) {
	a := plan.Candidate{Name: "wide", Passes: 12, Turns: 11, Runs: 4, Rounds: 2, Hours: 1.5, Missed: 64.6, Double: 1320}
	b, c := a, a
	b.Name, b.Hours, b.Missed, b.Infeasible = "narrow", 2, 40, make([]plan.Fault, 1)
	c.Name, c.Hours = "third", 1.25 // by the weights given it may come behind
	got := strings.Join(Plans(words.English, []plan.Candidate{a, b, c, c}, 91), " ")
	want := "First comes wide: 1:30 h for 12 passes at 91° and 2 headland rounds, with 11 turns and 4 runs; 65 m² stay missed, 1320 m² are worked twice. " +
		"Then narrow: 0:30 h longer, and 25 m² less are missed; no room for 1 of its turns and runs. Then third: 0:15 h less, and as much is missed."
	if got != want {
		t.Errorf("%q, want %q", got, want)
	}
	// What the sentences say is what the table shows: 133 m² and 1141 m² there are not 130 and 1140 here, and differences are those of what stands there.
	b = a
	a.Missed, a.Double, a.Hours = 132.6, 12345.4, 163.45/60 // 2:43
	b.Missed, b.Hours = 1141.4, 215.8/60                    // 3:36
	got = strings.Join(Plans(words.English, []plan.Candidate{a, b}, 91), " ")
	for _, want := range []string{"; 133 m² stay missed, 1.2345 ha are worked twice. ", ": 0:53 h longer, and 1008 m² more are missed."} {
		if !strings.Contains(got, want) {
			t.Errorf("%q lacks %q", got, want)
		}
	}
	b.Missed, b.Hours = 133.4, 215.4/60 // 3:35
	if got, want := strings.Join(Plans(words.German, []plan.Candidate{b, a}, 91), " "), ": 0:52 h weniger, und ebenso viel bleibt unbearbeitet."; !strings.Contains(got, want) {
		t.Errorf("%q lacks %q", got, want)
	}
	b.Hours = a.Hours
	if got, want := strings.Join(Plans(words.English, []plan.Candidate{a, b}, 91), " "), ": as long, and as much is missed."; !strings.Contains(got, want) {
		t.Errorf("%q lacks %q", got, want)
	}
	a.Hours, a.Missed, a.Double = 1.5, 64.6, 1320
	a.Rounds, a.Infeasible = 0, make([]plan.Fault, 3)
	got = strings.Join(Plans(words.German, []plan.Candidate{a}, 91), " ")
	if want := "Zuerst kommt wide: 1:30 h für 12 Bahnen, Arbeitsrichtung 91°, mit 11 Wendungen und 4 Leerfahrten; 65 m² bleiben unbearbeitet, 1320 m² werden doppelt bearbeitet. Für 3 seiner Wendungen und Leerfahrten ist so kein Platz."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if Plans(words.English, nil, 0) != nil {
		t.Error("no plan has words")
	}
}
