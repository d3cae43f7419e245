package answer

import (
	"math"

	"balk/coverage/plan"
	"balk/export/words"
)

// told of plans beside the first, at most.
const othersTold = 2

// Plans says what the first of some ranked plans comes to, and how the next differ from it; bearing is that of its rows from true
// north.
func Plans(l words.Language, all []plan.Candidate, bearing float64) []string {
	if len(all) == 0 {
		return nil
	}
	c := all[0]
	rows := l.Say("%s at %.0f°", l.Count(c.Passes, "pass"), bearing)
	if c.Rounds > 0 {
		rows += l.Say(" and %s", l.Count(c.Rounds, "headland round"))
	}
	out := []string{l.Say("First comes %s: %s for %s, with %s; %s stay missed, %s are worked twice.", c.Name, words.Clock(3600*c.Hours), rows, l.Count(c.Turns, "turn"), Area(l, c.Missed), Area(l, c.Double))}
	if n := stopped(all); n > 0 {
		out = append(out, l.Say("The search was stopped before its end for %d of %d plans: there may be better ones. The first takes %.0f %% more than the least that its ground and its rows can take.", n, len(all), 100*c.Gap))
	}
	if n := len(c.Infeasible); n > 0 {
		out = append(out, l.Say("Of its turns and runs %d find no room as planned.", n))
	}
	for _, o := range all[1:min(len(all), 1+othersTold)] {
		time := l.Say("%s longer", words.Clock(3600*(o.Hours-c.Hours)))
		if o.Hours < c.Hours {
			time = l.Say("%s less", words.Clock(3600*(c.Hours-o.Hours)))
		}
		missed := l.Say("%s more are missed", Area(l, o.Missed-c.Missed))
		switch d := math.Abs(o.Missed - c.Missed); {
		case d < 0.5:
			missed = l.Word("as much is missed")
		case o.Missed < c.Missed:
			missed = l.Say("%s less are missed", Area(l, d))
		}
		s := l.Say("Then %s: %s, and %s", o.Name, time, missed)
		if n := len(o.Infeasible); n > 0 {
			s += l.Say("; %d of its turns and runs find no room", n)
		}
		out = append(out, s+".")
	}
	return out
}

// stopped is of how many plans the search was stopped before its end.
func stopped(all []plan.Candidate) (n int) {
	for _, c := range all {
		if c.Stopped {
			n++
		}
	}
	return n
}
