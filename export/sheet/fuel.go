package sheet

import (
	"strings"

	"balk/coverage/plan"
	"balk/export/words"
)

// FuelBasis says what a plan's fuel rests on, and where each value that nobody gave comes from; without fuel it is empty.
func FuelBasis(l words.Language, f plan.Fuel) string {
	var says []string
	traction, litres, turning := f.Basis()
	switch {
	case f.Hour > 0:
		says = append(says, l.Say("%g l/h while working, as given", f.Hour))
	case litres > 0:
		says = append(says, l.Word("pull of the tool by ASABE D497, its factors as given"))
		if traction > 0 {
			says = append(says, l.Say("%g of the power take-off's power at the drawbar (D497, from memory)", traction))
		} else {
			says = append(says, l.Say("%g of the power take-off's power at the drawbar, as given", f.Draught.Traction))
		}
		says = append(says, l.Say("%g l per kWh at the power take-off (D497.7, from memory)", litres))
	default:
		return ""
	}
	if turning > 0 {
		says = append(says, l.Say("turning and on runs %.0f %% of what working burns (common practice, no source)", 100*turning))
	} else {
		says = append(says, l.Say("%g l/h while turning and on runs, as given", f.Turning))
	}
	return strings.Join(says, "; ")
}
