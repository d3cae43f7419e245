package record

import (
	"strings"
	"testing"

	"balk/export/words"
)

// figuresOf are the values of a text by the words before them.
func figuresOf(text string) map[string]string {
	out := map[string]string{}
	for _, line := range strings.Split(text, "\n") {
		if r := []rune(line); len(r) > label {
			out[strings.TrimSpace(string(r[:label]))] = string(r[label:])
		}
	}
	return out
}

// Every figure of the papers stands beside its words, as a person works them out from day and planned.
func TestEveryFigureIsThere(t *testing.T) {
	r, err := Of(day(), Details{Operation: "undercutting", Driver: "N. N.", Client: "Farm A", Implement: "sweep", Fuel: 39})
	if err != nil {
		t.Fatal(err)
	}
	var done, order strings.Builder
	if err := r.Text(&done, words.English); err != nil {
		t.Fatal(err)
	}
	if err := planned().Text(&order, words.English); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		text string
		want map[string]string
	}{
		"record": {done.String(), map[string]string{
			"Operation": "undercutting", "Implement": "sweep", "Driver": "N. N.", "For": "Farm A", "From": "2026-04-14 06:30 UTC", "To": "2026-04-14 08:00 UTC",
			"Planned overlap": "0.10 m", "Field": "40 000 m²   100.00 % of the field", "Worked": "39 000 m²   97.50 % of the field", "of it twice or more": "2000 m²   5.00 % of the field",
			"Missed": "800 m²   2.00 % of the field", "": "between 700 m² and 950 m², given the receiver", "Pass-to-pass error (95 %)": "0.028 m",
			"Unknown (log gap)": "200 m²   0.50 % of the field", "Worked outside the boundary": "12 m²   0.03 % of the field", "Missed strips listed": "3",
			"Passes": "2", "Way of work": "8.00 km", "Working time": "1:20 h", "Turning": "0:08 h", "Standing": "0:02 h", "Time on the field": "1:30 h",
			"Mean working speed": "9.0 km/h", "Effective field capacity": "2.60 ha/h", "Field efficiency": "58 %", "Fuel": "39.0 l, 10.0 l per hectare",
		}},
		"order": {order.String(), map[string]string{
			"Operation": "undercutting", "Implement": "sweep", "Working width": "6.00 m", "Planned overlap": "0.10 m", "Headland": "rounds: 3, 17.7 m wide; last, from the inside out", "Passes and rounds": "17.00 km, 2:08 h",
			"Turns": "41, 0:20 h", "Runs, tool lifted": "2", "Runs and roads": "0:02 h", "Expected time on the field": "2:29 h", "Mean working speed": "8.0 km/h",
			"Effective field capacity": "4.01 ha/h", "Field efficiency": "85 %", "Field": "100 000 m²   100.00 % of the field",
		}},
	} {
		got := figuresOf(c.text)
		for words, want := range c.want {
			if got[words] != want {
				t.Errorf("%s, %q: %q, want %q", name, words, got[words], want)
			}
		}
		if t.Failed() {
			t.Log(c.text)
		}
	}
}
