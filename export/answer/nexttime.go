package answer

import (
	"balk/coverage"
	"balk/export/words"
)

// NextTime says what another overlap would change between passes; "" where it is not worth saying.
func NextTime(s coverage.Spacing, l words.Language) string {
	now, then, ok := s.Better()
	if !ok {
		return ""
	}
	return l.Say("Next time: with %.2f m overlap instead of %.2f m, and driven as unevenly, %.1f %% instead of %.1f %% would be missed between passes, %.1f %% instead of %.1f %% worked twice, with %.1f %% more way. More overlap cures only what joins spread by.",
		then.Overlap, now.Overlap, 100*then.Missed, 100*now.Missed, 100*then.Double, 100*now.Double, 100*(then.Way-1))
}

// CheapestLap says at which overlap way and missed ground cost least together, by the rates given; "" where they are not.
func CheapestLap(r coverage.Result, perHour, perMissed float64, l words.Language) string {
	now, best, costs, ok := r.Cheapest(perHour, perMissed)
	switch {
	case !ok:
		return ""
	case now == best || l.Say("%.2f", 1e4*costs[0]) == l.Say("%.2f", 1e4*costs[1]):
		return l.Say("At the rates given no other overlap costs less than %.2f m: %.2f a hectare, with what is missed between passes.", now.Overlap, 1e4*costs[0])
	}
	return l.Say("At the rates given %.2f m overlap costs least, %.2f a hectare with what is missed between passes; %.2f m cost %.2f.", best.Overlap, 1e4*costs[1], now.Overlap, 1e4*costs[0])
}
