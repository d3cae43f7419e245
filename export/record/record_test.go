package record

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"
	"time"

	"balk/coverage"
	"balk/geo"
)

// day is an operation with figures a person can check: 4 ha, of which 3.9 are
// worked, 0.2 twice, 0.08 missed and 0.02 unknown, in an hour and a half.
func day() coverage.Result {
	at := time.Date(2026, 4, 14, 6, 30, 0, 0, time.UTC)
	return coverage.Result{
		Field: geo.Field{Name: "Pond Piece (invented)", Number: 1},
		Work:  coverage.Work{Width: 5, Overlap: 0.1}, Bar: coverage.Bar{Width: 5, From: coverage.WidthGiven, Least: 5, Most: 5, Whole: 1},
		Balance: coverage.Balance{Field: 40000, Once: 37000, Twice: 1500, More: 500, Missed: 800, Unknown: 200, Outside: 12},
		Noise:   coverage.Noise{PassError: 0.028, PassErrorFrom: "given", MissedLeast: 700, MissedMost: 950},
		Strips:  make([]coverage.Strip, 3),
		Passes:  []coverage.Pass{{Number: 1, From: at, To: at.Add(40 * time.Minute), Length: 5000}, {Number: 2, From: at.Add(41 * time.Minute), To: at.Add(90 * time.Minute), Length: 3000}},
		Effort: coverage.Effort{Timed: true, Working: coverage.Spent{Seconds: 4800}, Turning: coverage.Spent{Seconds: 480}, Standing: coverage.Spent{Seconds: 120}, OnField: 5400,
			Speed: coverage.WorkSpeed{Mean: 2.5}, EffectiveCapacity: 39000.0 / 5400, FieldEfficiency: 0.5778},
	}
}

func TestText(t *testing.T) {
	zone := time.FixedZone("CEST", 2*3600)
	r, err := Of(day(), Details{Operation: "undercutting", Driver: "N. N.", Fuel: 39, Zone: zone})
	if err != nil {
		t.Fatal(err)
	}
	for l, want := range map[Language][]string{
		English: {"Record of work\n==============", "Field                             Pond Piece (invented) (number in the boundary file 1)", "2026-04-14 08:30 CEST", "2026-04-14 10:00 CEST",
			"3.9000 ha   97.50 % of the field", "0.0800 ha   2.00 % of the field", "between 0.0700 ha and 0.0950 ha", "0.028 m", "8.00 km", "1:20 h", "0:08 h", "1:30 h", "9.0 km/h", "2.60 ha/h", "58 %",
			"39.0 l, 10.0 l per hectare", "Implement                         not given", "no legal survey"},
		German: {"Arbeitsnachweis", "14.04.2026 08:30 CEST", "3,9000 ha   97,50 % des Schlags", "zwischen 0,0700 ha und 0,0950 ha", "2,60 ha/h", "39,0 l, 10,0 l je Hektar", "nicht angegeben", "keine amtliche Vermessung"},
	} {
		var b strings.Builder
		if err := r.Text(&b, l); err != nil {
			t.Fatal(err)
		}
		for _, w := range want {
			if !strings.Contains(b.String(), w) {
				t.Errorf("%s: lacks %q in\n%s", l, w, b.String())
			}
		}
	}
	if err := r.Text(&strings.Builder{}, "fr"); err == nil {
		t.Error("French is not known")
	}
}

// Without times and receiver nothing is said that is not known.
func TestTextOfAnUntimedLog(t *testing.T) {
	d := day()
	d.Effort, d.Noise = coverage.Effort{}, coverage.Noise{}
	d.Passes = []coverage.Pass{{Number: 1, Length: 100}}
	r, err := Of(d, Details{})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := r.Text(&b, English); err != nil {
		t.Fatal(err)
	}
	if s := b.String(); strings.Count(s, "not logged") != 5 || strings.Contains(s, "between") || strings.Contains(s, "km/h") {
		t.Errorf("says too much:\n%s", s)
	}
}

// The digits are those of the sheet's table, and their parts add up: three halves beside each other.
func TestTextAddsUp(t *testing.T) {
	d := day()
	d.Balance = coverage.Balance{Field: 1e4, Once: 8784.6, Twice: 1.5, More: 0.4, Missed: 1213.5}
	r, err := Of(d, Details{})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := r.Text(&b, English); err != nil {
		t.Fatal(err)
	}
	// floors 8784, 1, 0, 1213 are two short of 10000: the remainders .6 and the first .5 go up
	for _, want := range []string{"Worked                          0.8787 ha", "of it twice or more             0.0002 ha", "Missed                          0.1213 ha"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("lacks %q in\n%s", want, b.String())
		}
	}
}

func TestJSONReadsBack(t *testing.T) {
	r, err := Of(day(), Details{Operation: "undercutting", Fuel: 39})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := r.JSON(&b); err != nil {
		t.Fatal(err)
	}
	var back Record
	err = json.Unmarshal([]byte(b.String()), &back)
	back.shown = r.shown // for the text alone
	if err != nil || !reflect.DeepEqual(back, r) {
		t.Errorf("read back %+v (%v), wrote %+v", back, err, r)
	}
}

// Every language has every word.
func TestLexiconIsWhole(t *testing.T) {
	for _, l := range Languages() {
		v := reflect.ValueOf(lexicon[l])
		for i := range v.NumField() {
			if v.Field(i).String() == "" {
				t.Errorf("%s lacks %s", l, v.Type().Field(i).Name)
			}
		}
		if got, err := ParseLanguage(string(l)); err != nil || got != l {
			t.Errorf("%s: %v", l, err)
		}
	}
	if _, err := ParseLanguage("fr"); err == nil {
		t.Error("French is not known")
	}
	if _, err := Of(day(), Details{Fuel: -1}); err == nil {
		t.Error("fuel below 0 l taken")
	}
}
