package answer

import (
	"math"

	"balk/coverage"
	"balk/export/words"
)

// NextTime says what another overlap would change between passes; "" where it is not worth saying. Of r it reads the spacing, what the log can tell and its
// receiver errs by, and how many passes there are.
func NextTime(r coverage.Result, l words.Language) string {
	now, then, ok := r.Better()
	if !ok {
		return ""
	}
	more := int(math.Ceil(float64(len(r.Passes)) * (then.Way - 1)))
	return ifGood(r, l, l.Say("Next time: with %.2f m overlap instead of %.2f m, and driven as unevenly, %s instead of %s would be missed between passes, %s instead of %s worked twice, and %s more (%.1f %% more way). More overlap cures only what joins spread by.",
		then.Overlap, now.Overlap, portion(l, then.Missed), portion(l, now.Missed), portion(l, then.Double), portion(l, now.Double), l.Count(more, "pass"), 100*(then.Way-1)))
}

// ifGood puts a condition before a sentence where nothing decides whether passes lie unevenly or the receiver makes them seem so.
func ifGood(r coverage.Result, l words.Language, sentence string) string {
	if (answer{r, l}).either() {
		return l.Word("If the receiver of this log was good: ") + after(sentence)
	}
	return sentence
}

// portion is a small share in per cent.
func portion(l words.Language, share float64) string {
	if share > 0 && share < 0.0005 {
		return l.Word("less than 0.1 %")
	}
	return l.Say("%.1f %%", 100*share)
}

// CheapestLap says at which overlap way and missed ground cost least together, by the rates given; "" where they are not.
func CheapestLap(r coverage.Result, perHour, perMissed float64, l words.Language) string {
	now, best, costs, ok := r.Cheapest(perHour, perMissed)
	switch {
	case !ok:
		return ""
	case now == best || l.Say("%.2f", 1e4*costs[0]) == l.Say("%.2f", 1e4*costs[1]):
		return ifGood(r, l, l.Say("At the rates given no other overlap costs less than %.2f m: %.2f a hectare, with what is missed between passes.", now.Overlap, 1e4*costs[0]))
	}
	return ifGood(r, l, l.Say("At the rates given %.2f m overlap costs least, %.2f a hectare with what is missed between passes; %.2f m cost %.2f.", best.Overlap, 1e4*costs[1], now.Overlap, 1e4*costs[0]))
}
