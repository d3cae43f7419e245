package record

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"balk/export/words"
)

func planned() Order {
	return Order{
		Details: Details{Operation: "undercutting", Implement: "sweep", Fuel: 60, Remarks: "key at the house"}, Field: "Long Acre (invented)", Number: 2, Area: 100000, Width: 6, Overlap: 0.1,
		Bearing: 54.25, Rounds: 3, Headland: 17.7, Passes: 40, Blocks: 1, Turns: 41, Runs: 2, Way: 17000, Working: 7650, Turning: 1200, Idle: 90, OnField: 8940,
		Speed: 8 / 3.6, Capacity: 99500.0 / 8940, Efficiency: 0.849, Missed: 500, Double: 3200,
	}
}

// TestOrderText: figures a person can check, in both languages.
func TestOrderText(t *testing.T) {
	for l, want := range map[words.Language][]string{
		words.English: {"Order of work\n=============", "Operation                         undercutting", "Driver                            not given", "at 54.2° from true north, 40 passes in 1 block",
			"rounds: 3, 17.7 m wide", "17.00 km, 2:08 h", "41, 0:20 h", "2:29 h", "8.0 km/h", "4.01 ha/h", "85 %", "60.0 l, 6.0 l per hectare",
			"500 m²   0.50 % of the field", "every turn and run fits", "key at the house", "Planned for                       ____", "no legal survey"},
		words.German: {"Arbeitsauftrag\n==============", "in 54,2° von Nord, 40 Bahnen in 1 Block", "Runden: 3, 17,7 m breit", "4,01 ha/h", "60,0 l, 6,0 l je Hektar", "500 m²   0,50 % des Schlags", "nicht angegeben", "keine amtliche Vermessung"},
	} {
		var b strings.Builder
		if err := planned().Text(&b, l); err != nil {
			t.Fatal(err)
		}
		for _, w := range want {
			if !strings.Contains(b.String(), w) {
				t.Errorf("%s: lacks %q in\n%s", l, w, b.String())
			}
		}
	}
	o := planned()
	o.Unfit = []string{"shortest forward: short of room by 0.40 m, at 11.5, 48.1"}
	var b strings.Builder
	if err := o.Text(&b, words.English); err != nil || !strings.Contains(b.String(), "short of room by 0.40 m") || strings.Contains(b.String(), "every turn") {
		t.Errorf("%v: hides what does not fit:\n%s", err, b.String())
	}
	if err := o.Text(&b, "fr"); err == nil {
		t.Error("French is not known")
	}
	b.Reset()
	o.First = true
	if err := o.Text(&b, words.English); err != nil || !strings.Contains(b.String(), "first, from the outside in") || strings.Contains(b.String(), "last, from") {
		t.Errorf("%v: hides that the headland is worked first:\n%s", err, b.String())
	}
}

func TestOrderReadsBack(t *testing.T) {
	var b strings.Builder
	if err := planned().JSON(&b); err != nil {
		t.Fatal(err)
	}
	var back Order
	if err := json.Unmarshal([]byte(b.String()), &back); err != nil || !reflect.DeepEqual(back, planned()) {
		t.Errorf("read back %+v (%v), wrote %+v", back, err, planned())
	}
}
