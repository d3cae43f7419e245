package cli

import (
	"strings"

	"balk/cmd/internal/job"
)

// weather says what it rained and what the air asked for after the work.
func weather(b *telling, r job.Report) {
	w := r.Weather
	if w == nil {
		return
	}
	least := r.Spec.Weather.LeastRain()
	var text []string
	if w.FirstRain != nil {
		text = append(text, b.Say("After the last pass (%s) the first rain of %g mm or more fell %.0f h later; drying demand of the air until then %.1f mm (%.1f mm since the first pass).",
			b.Instant(w.After, nil), least, w.FirstRain.Sub(w.After).Hours(), w.Demand, w.DemandFirst))
	} else {
		text = append(text, b.Say("After the last pass (%s) no rain of %g mm or more fell in %.0f h, to the end of the station's log; drying demand of the air %.1f mm (%.1f mm since the first pass).",
			b.Instant(w.After, nil), least, w.Until.Sub(w.After).Hours(), w.Demand, w.DemandFirst))
	}
	if w.BeforeKnown {
		text = append(text, b.Say("Rain in the 72 h before: %.1f mm.", w.RainBefore))
	}
	if base := r.Spec.Weather.Base; w.Warmth > 0 {
		text = append(text, b.Say("Warmth above %g °C to the end of the log: %.0f degree days.", base, w.Warmth))
	}
	if w.Holes > 0 {
		text = append(text, b.Say("The station's log lacks %.0f h of that time.", w.Holes))
	}
	for _, t := range w.Taken {
		text = append(text, b.Say("Not read, and taken by rule: %s.", b.Word(t)))
	}
	text = append(text, b.Demand())
	b.put("\n")
	b.text(strings.Join(text, " "), "")
}
