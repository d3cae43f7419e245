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
	rows := l.Say("%s at %s", l.Count(c.Passes, "pass"), l.Bearings(bearing, c.Also, 0))
	if c.Rounds > 0 {
		rows += l.Say(" and %s", l.Count(c.Rounds, "headland round"))
	}
	out := []string{l.Say("First comes %s: %s for %s, with %s and %s; %s stay missed, %s are worked twice.", c.Name, words.Clock(3600*c.Hours), rows, l.Count(c.Turns, "turn"), l.Count(c.Runs, "run"), tabled(l, c.Missed), tabled(l, c.Double))}
	if c.Small > 0 {
		out = append(out, SmallObstacles(l, c.Small, c.Bends, c.Lifts))
	}
	if n := stopped(all); n > 0 {
		out = append(out, l.Say("The search was stopped before its end for %d of %d plans: there may be better ones. The first takes %.0f %% more than the least that its rows and rounds can take.", n, len(all), 100*c.Gap))
	}
	if n := len(c.Infeasible); n > 0 {
		out = append(out, l.Say("As planned there is no room for %d of its turns and runs.", n))
	}
	for _, o := range all[1:min(len(all), 1+othersTold)] {
		later := math.Round(60*o.Hours) - math.Round(60*c.Hours) // minutes
		time := l.Say("%s longer", words.Clock(60*later))
		switch {
		case later == 0:
			time = l.Word("as long")
		case later < 0:
			time = l.Say("%s less", words.Clock(-60*later))
		}
		missed := l.Word("as much is missed")
		switch more := math.Round(o.Missed) - math.Round(c.Missed); {
		case more > 0:
			missed = l.Say("%s more are missed", tabled(l, more))
		case more < 0:
			missed = l.Say("%s less are missed", tabled(l, -more))
		}
		s := l.Say("Then %s: %s, and %s", o.Name, time, missed)
		if n := len(o.Infeasible); n > 0 {
			s += l.Say("; no room for %d of its turns and runs", n)
		}
		out = append(out, s+".")
	}
	return out
}

// SmallObstacles says how many obstacles a plan goes past without rounds about them, and how.
func SmallObstacles(l words.Language, small, bends, lifts int) string {
	return l.Say("Small obstacles without rounds about them: %d; bends of rows and rounds past them: %d, lifts of the tool: %d.", small, bends, lifts)
}

// tabled is an area with the digits that tables of plans have, to the square metre; differences are those of what stands there.
func tabled(l words.Language, m2 float64) string {
	if m2 = max(0, math.Round(m2)); m2 >= 1e4 {
		return l.Say("%.4f ha", m2/1e4)
	}
	return l.Say("%.0f m²", m2)
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
