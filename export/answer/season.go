package answer

import (
	"math"
	"slices"
	"strings"

	"balk/coverage"
	"balk/coverage/season"
	"balk/export/words"
)

// pairsSaid is how many pairs of operations are told, the latest: files have all.
const pairsSaid = 3

// Season is what operations did together, in sentences: missed by all, then by those that do the same, and the latest pairs. numbers
// are those by which people know the operations of r; cut is nil where nothing cuts, seeding where nothing seeds or cuts.
func Season(l words.Language, r season.Result, numbers []int64, cut *season.Since, seeding *season.Seeding) []string {
	a := together{l, r, numbers}
	out := []string{a.one(r.All)}
	for _, t := range r.Each {
		if len(t.Operations) < len(r.All.Operations) {
			out = append(out, a.one(t))
		}
	}
	for _, p := range r.Pairs[max(0, len(r.Pairs)-pairsSaid):] {
		out = append(out, a.pair(p))
	}
	if seeding != nil {
		out = append(out, l.Say("Seeded but never cut: %s; cut but not seeded: %s.", a.area(seeding.NeverCut), a.area(seeding.NotSeeded)))
	}
	if cut != nil && cut.Worked > 0 {
		out = append(out, l.Say("On %s the last cut was %.0f days ago in the mean of the ground; never cut: %s.", cut.Day.Format(l.Day()), cut.Days, a.area(cut.Never)))
	}
	return out
}

type together struct {
	words.Language
	season.Result
	numbers []int64
}

// area may have a trace of rounding below zero.
func (a together) area(m2 float64) string { return Area(a.Language, m2) }

// one is what all that do the same did.
func (a together) one(t season.Together) string {
	n := len(t.Operations)
	what := a.Word("by all operations")
	if t.Component != "" {
		what = a.Say("by all that do this: %s", a.Word(string(t.Component)))
	}
	s := a.Say("Missed %s (%d): %s (%.1f %% of the field)", what, n, a.area(t.Missed), 100*max(t.Missed, 0)/a.Field)
	if len(t.Strips) > 0 {
		first, certain, judged := t.Strips[0], 0, 0
		for _, one := range t.Strips {
			if one.Surety != "" {
				judged++
			}
			if one.Surety == coverage.SuretyCertain {
				certain++
			}
		}
		s += ", in " + a.Count(len(t.Strips), "strip") // the same word in German
		if judged > 0 {
			s += a.Say(", %d of them certain", certain)
		}
		s += a.Say(", the largest %.0f m long and up to %.2f m wide at %s", first.Length, first.MaxWidth, words.Place(first.At))
	}
	if t.Unknown > 0 {
		s += a.Say("; %s unknown (log gaps)", a.area(t.Unknown))
	}
	var times []string
	for k, m2 := range t.Times {
		if n > 1 && m2 >= 0.5 {
			times = append(times, a.Say("%d of %d times %s", k+1, n, a.area(m2)))
		}
	}
	if len(times) > 0 {
		s += "; " + a.Say("worked %s", strings.Join(times, ", "))
	}
	return s + "."
}

// pair is what two operations did beside each other, and how they lie.
func (a together) pair(p season.Pair) string {
	A, B := a.numbers[p.A], a.numbers[p.B]
	s := a.Say("Operations %d and %d: both %s, only %d: %s, only %d: %s, neither %s", A, B, a.area(p.Both), A, a.area(p.OnlyA), B, a.area(p.OnlyB), a.area(p.Neither))
	if p.Angle >= 0 {
		s += a.Say(", %.0f° between their directions", p.Angle)
	}
	if p.Shift.Seen {
		s += a.Say("; all of %d lies %.2f m towards %.0f° of %d (give or take %.2f), as another frame or receiver would put it", B, math.Hypot(p.Shift.East, p.Shift.North), p.Shift.Towards(), A, p.Shift.Doubt)
	} else if a.doubtful(p) {
		s += a.Say("; they may lie up to %.2f m off each other: no strip between them that is narrower is certain", p.Shift.Doubt)
	}
	return s + "."
}

// doubtful tells whether a strip lies beside both operations that could come of their lying off each other.
func (a together) doubtful(p season.Pair) bool {
	return slices.ContainsFunc(a.All.Strips, func(s season.Strip) bool {
		return s.Open > s.MaxWidth && slices.Contains(s.Beside, p.A) && slices.Contains(s.Beside, p.B)
	})
}
