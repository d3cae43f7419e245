package words

import (
	"math"

	"balk/coverage"
)

// First are the sentences that stand before all figures: what the log says otherwise than the set's description, and what
// is missed either way. missed is in m², as described.
func (l Language) First(o coverage.Open, missed float64) []string {
	var out []string
	if a := o.Aside; a.Joins {
		say := "The joins say otherwise than the set's description: right and left sides meet as if the bar ran %.2f m to the right of where it was taken (± %.2f m, 99 %%). Missed are %s ha if it runs where it was taken, %s ha if where the joins say. Three joins measured with a tape decide."
		if a.By < 0 {
			say = "The joins say otherwise than the set's description: right and left sides meet as if the bar ran %.2f m to the left of where it was taken (± %.2f m, 99 %%). Missed are %s ha if it runs where it was taken, %s ha if where the joins say. Three joins measured with a tape decide."
		}
		out = append(out, l.Say(say, math.Abs(a.By), a.Doubt, l.hectares(missed), l.hectares(a.Missed)))
	}
	return out
}

// Holds are the sentences below the range of missed ground: on what it stands.
func (l Language) Holds(o coverage.Open) []string {
	var out []string
	if a := o.Aside; a.By != 0 && !a.Joins {
		say := "This holds if the bar runs where it was taken, which a log cannot tell: %.0f cm to the right would make it %s ha missed. Three joins measured with a tape decide."
		if a.By < 0 {
			say = "This holds if the bar runs where it was taken, which a log cannot tell: %.0f cm to the left would make it %s ha missed. Three joins measured with a tape decide."
		}
		out = append(out, l.Say(say, 100*math.Abs(a.By), l.hectares(a.Missed)))
	}
	return out
}

// hectares is an area in m² as hectares, to the square metre.
func (l Language) hectares(m2 float64) string { return l.Say("%.4f", m2/1e4) }
