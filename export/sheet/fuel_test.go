package sheet

import (
	"strings"
	"testing"

	"balk/coverage/plan"
	"balk/export/words"
)

// TestFuelBasis: every value that an estimate takes of its own is named with its source, none that was given is, and without fuel nothing is said.
func TestFuelBasis(t *testing.T) {
	d := plan.Draught{Soil: 0.85, A: 390, B: 19, Depth: 8}
	pulled := d
	pulled.Traction = 0.6
	for _, c := range []struct {
		name        string
		fuel        plan.Fuel
		says, lacks []string
	}{
		{"nothing", plan.Fuel{}, nil, nil},
		{"draught", plan.Fuel{Draught: d}, []string{"ASABE D497", "0.73 of", "(D497, from memory)", "0.223 l per kWh", "(D497.7, from memory)", "50 % of what working burns (common practice, no source)"}, nil},
		{"draught and traction", plan.Fuel{Draught: pulled}, []string{"0.6 of the power take-off's power at the drawbar, as given", "0.223"}, []string{"0.73"}},
		{"litres win over draught", plan.Fuel{Hour: 18, Draught: d}, []string{"18 l/h while working, as given", "50 %"}, []string{"0.73", "0.223", "D497"}},
		{"both litres", plan.Fuel{Hour: 18, Turning: 7}, []string{"18 l/h while working, as given", "7 l/h while turning and on runs, as given"}, []string{"50 %", "practice"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := FuelBasis(words.English, c.fuel)
			if c.says == nil && got != "" {
				t.Errorf("says %q", got)
			}
			for _, want := range c.says {
				if !strings.Contains(got, want) {
					t.Errorf("lacks %q in %q", want, got)
				}
			}
			for _, not := range c.lacks {
				if strings.Contains(got, not) {
					t.Errorf("%q stands in %q", not, got)
				}
			}
			if german := FuelBasis(words.German, c.fuel); got != "" && (german == got || strings.Contains(german, "memory")) {
				t.Errorf("in German: %q", german)
			}
		})
	}
}
