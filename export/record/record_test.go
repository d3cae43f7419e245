package record

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/export/words"
	"balk/geo"
)

// day is an operation with figures a person can check: 4 ha, of which 3.9 are
// worked, 0.2 twice, 0.08 missed and 0.02 unknown, in an hour and a half.
func day() coverage.Result {
	at := time.Date(2026, 4, 14, 6, 30, 0, 0, time.UTC)
	return coverage.Result{
		Field: geo.Field{Name: "Pond Piece (invented)", Number: 1},
		Work:  drive.Work{Width: 5, Overlap: 0.1}, Bar: drive.Bar{Width: 5, From: drive.WidthGiven, Least: 5, Most: 5, Whole: 1},
		Balance: ground.Balance{Field: 40000, Once: 37000, Twice: 1500, More: 500, Missed: 800, Unknown: 200, Outside: 12},
		Noise:   coverage.Noise{PassError: 0.028, PassErrorFrom: "given"},
		Telling: coverage.Telling{Missed: [2]float64{700, 950}},
		Strips:  make([]coverage.Strip, 3),
		Passes:  []drive.Pass{{Number: 1, From: at, To: at.Add(40 * time.Minute), Length: 5000}, {Number: 2, From: at.Add(41 * time.Minute), To: at.Add(90 * time.Minute), Length: 3000}},
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
	for l, want := range map[words.Language][]string{
		words.English: {"Record of work\n==============", "Field                             Pond Piece (invented) (number in the boundary file 1)", "2026-04-14 08:30 CEST", "2026-04-14 10:00 CEST",
			"39 000 m²   97.50 % of the field", "800 m²   2.00 % of the field", "between 700 m² and 950 m²", "0.028 m", "8.00 km", "1:20 h", "0:08 h", "1:30 h", "9.0 km/h", "2.60 ha/h", "58 %",
			"39.0 l, 10.0 l per hectare", "Implement                         not given", "no legal survey"},
		words.German: {"Arbeitsnachweis", "14.04.2026 08:30 MESZ", "39 000 m²   97,50 % des Schlags", "zwischen 700 m² und 950 m²", "2,60 ha/h", "39,0 l, 10,0 l je Hektar", "nicht angegeben", "keine amtliche Vermessung"},
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

// What sweeps left, tyres trod and how the ground lies is told where it is known, and only then.
func TestTextOfSweepsAndSlope(t *testing.T) {
	d := day()
	text := func() string {
		r, err := Of(d, Details{})
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		if err := r.Text(&b, words.English); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	for _, w := range []string{"Uncut between sweeps", "Under tyres", "along the slope"} {
		if strings.Contains(text(), w) {
			t.Errorf("%q without any", w)
		}
	}
	d.Ribbons, d.Trodden = &coverage.Ribbons{Area: 120}, 400
	d.Slope = &coverage.Slope{Mean: 0.06, Most: coverage.Steepest{Slope: 0.14}, Across: coverage.Steepest{Slope: 0.11}, Map: 39000, Ground: 39080}
	for _, w := range []string{"Uncut between sweeps            120 m²   0.30 %", "Under tyres after the cut       400 m²   1.00 %", "Area along the slope            3.9080 ha, of 3.9000 ha on the map",
		"Slope at work                   6 % in the mean, 14 % at the most, up to 11 % across"} {
		if !strings.Contains(text(), w) {
			t.Errorf("lacks %q in\n%s", w, text())
		}
	}
}

// Without times and receiver nothing is said that is not known.
func TestTextOfAnUntimedLog(t *testing.T) {
	d := day()
	d.Effort, d.Noise = coverage.Effort{}, coverage.Noise{}
	d.Passes = []drive.Pass{{Number: 1, Length: 100}}
	r, err := Of(d, Details{})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := r.Text(&b, words.English); err != nil {
		t.Fatal(err)
	}
	if s := b.String(); strings.Count(s, "not logged") != 5 || strings.Contains(s, "between") || strings.Contains(s, "km/h") {
		t.Errorf("says too much:\n%s", s)
	}
}

// The digits are those of the sheet's table, and their parts add up: three halves beside each other.
func TestTextAddsUp(t *testing.T) {
	d := day()
	d.Balance = ground.Balance{Field: 1e4, Once: 8784.6, Twice: 1.5, More: 0.4, Missed: 1213.5}
	r, err := Of(d, Details{})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	if err := r.Text(&b, words.English); err != nil {
		t.Fatal(err)
	}
	// floors 8784, 1, 0, 1213 are two short of 10000: the remainders .6 and the first .5 go up
	for _, want := range []string{"Worked                          8787 m²", "of it twice or more             2 m²", "Missed                          1213 m²"} {
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

// Fuel is from 0 to 100000 l, both included.
func TestFuelIsRefused(t *testing.T) {
	for fuel, good := range map[float64]bool{0: true, 0.1: true, 100_000: true, 100_001: false, -0.1: false, math.Inf(1): false, math.NaN(): false} {
		if _, err := Of(day(), Details{Fuel: fuel}); (err == nil) != good {
			t.Errorf("%g l: %v", fuel, err)
		}
	}
}

// A record is from the first time of any pass to the last, in whatever order they are and whether all have times.
func TestFromFirstToLast(t *testing.T) {
	at := func(minute int) time.Time { return time.Date(2026, 4, 14, 6, minute, 0, 0, time.UTC) }
	untimed, early, late := drive.Pass{}, drive.Pass{From: at(0), To: at(10)}, drive.Pass{From: at(20), To: at(30)}
	for name, passes := range map[string][]drive.Pass{
		"in order":                        {early, late},
		"the later first":                 {late, early},
		"the first without times":         {untimed, late, early},
		"the last without times":          {late, early, untimed},
		"the long one hides the short":    {{From: at(0), To: at(30)}, {From: at(5), To: at(6)}},
		"without times among those timed": {early, untimed, late},
	} {
		d := day()
		d.Passes = passes
		if r, err := Of(d, Details{}); err != nil || !r.From.Equal(at(0)) || !r.To.Equal(at(30)) {
			t.Errorf("%s: from %v to %v (%v), want 06:00 to 06:30", name, r.From, r.To, err)
		}
	}
}

// What a record has of each figure of the result, worked out from day.
func TestRecordOfADay(t *testing.T) {
	r, err := Of(day(), Details{Fuel: 39})
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct{ got, want float64 }{
		"field": {r.Area, 40000}, "credited": {r.Credited, 39000}, "double": {r.Double, 2000}, "missed": {r.Missed, 800}, "unknown": {r.Unknown, 200}, "outside": {r.Outside, 12},
		"way": {r.Way, 8000}, "litres per hectare": {r.PerHectare, 10}, "number": {float64(r.Number), 1}, "strips": {float64(r.Strips), 3}, "passes": {float64(r.Passes), 2},
	} {
		if c.got != c.want {
			t.Errorf("%s: %g, want %g", name, c.got, c.want)
		}
	}
	d := day()
	d.Balance = ground.Balance{Field: 40000, Missed: 40000}
	if r, err := Of(d, Details{Fuel: 39}); err != nil || r.PerHectare != 0 {
		t.Errorf("nothing worked: %g l/ha (%v), want none", r.PerHectare, err)
	}
	d.Balance = ground.Balance{Field: 40000, Once: 1, Missed: 39999}
	if r, err := Of(d, Details{Fuel: 39}); err != nil || r.PerHectare != 390000 {
		t.Errorf("1 m² worked: %g l/ha (%v), want 390000", r.PerHectare, err)
	}
}

// Lines that stand only where there is something to say.
func TestLinesThatMayBeMissing(t *testing.T) {
	for name, c := range map[string]struct {
		change      func(*Record)
		has, hasNot string
	}{
		"widths within rounding":     {func(r *Record) { r.WidthLeast, r.WidthMost = 5, 5.02 }, "Working width                     5.00 m (given)\nPlanned", "whole bar"},
		"a part of the bar":          {func(r *Record) { r.WidthLeast, r.WidthMost, r.WidthWhole = 5, 5.04, 0.899 }, "5.00 to 5.04 m, the whole bar on 89 % of the way", "90 %"},
		"no fuel":                    {func(r *Record) { r.Fuel = 0 }, "Fuel                            not given", " l,"},
		"fuel by hand":               {func(r *Record) { r.Fuel = 0.5 }, "0.5 l, 10.0 l per hectare\n", "counter"},
		"fuel by the machine":        {func(r *Record) { r.FuelCounted = true }, "39.0 l, 10.0 l per hectare (by the machine's counter)", "not given)"},
		"no depth":                   {func(r *Record) {}, "Fuel", "depth"},
		"a depth of 0.5 cm":          {func(r *Record) { r.Depth = 0.005 }, "Working depth (logged, mean)    0.5 cm", "not logged"},
		"no speed":                   {func(r *Record) { r.Speed = 0 }, "Time on the field", "km/h"},
		"slow":                       {func(r *Record) { r.Speed = 0.5 }, "1.8 km/h", "9.0 km/h"},
		"no receiver's error":        {func(r *Record) { r.MissedMost = 0 }, "Missed", "between"},
		"a receiver's error of 1 m²": {func(r *Record) { r.MissedLeast, r.MissedMost = 0, 1 }, "between 0 m² and 1 m²", "950 m²"},
		"the bar aside by the joins": {func(r *Record) { r.Open.Aside = coverage.Aside{By: 0.2, Missed: 113, Joins: true} }, "0.20 m", "Were the bar"},
		"the bar aside, not told":    {func(r *Record) { r.Open.Aside = coverage.Aside{By: 0.1, Missed: 600} }, "600 m² would be", "joins say"},
		"no remarks":                 {func(r *Record) {}, "\nRemarks\n\n  ____", "Remarks\n\n\n"},
		"remarks":                    {func(r *Record) { r.Remarks = "gate \n shut" }, "\nRemarks\n  gate shut\n\n  ____", "gate \n"},
		"no hours":                   {func(r *Record) { r.OnField = 0 }, "Standing                        not logged", "1:20 h"},
		"half a minute up":           {func(r *Record) { r.Standing = 90 }, "Standing                        0:02 h", "0:01"},
		"59 min 29 s":                {func(r *Record) { r.Standing = 59*60 + 29 }, "Standing                        0:59 h", "1:00"},
		"59 min 30 s are an hour":    {func(r *Record) { r.Standing = 59*60 + 30 }, "Standing                        1:00 h", "0:60"},
		"times of day without a date": {func(r *Record) {
			r.From, r.Zone = time.Date(1970, 1, 1, 6, 30, 0, 0, time.UTC), time.FixedZone("CEST", 7200)
		}, "From                              06:30 (no date logged)", "1970"},
		"a width out of the log":       {func(r *Record) { r.WidthFrom = "logged" }, "5.00 m (logged)", "(given)"},
		"a name that moves the cursor": {func(r *Record) { r.Driver = "A\x1b[2JB" }, "Driver                            A\ufffd[2JB", "\x1b"},
	} {
		r, err := Of(day(), Details{Fuel: 39})
		if err != nil {
			t.Fatal(err)
		}
		c.change(&r)
		var b strings.Builder
		if err := r.Text(&b, words.English); err != nil {
			t.Fatal(err)
		}
		if s := b.String(); !strings.Contains(s, c.has) || strings.Contains(s, c.hasNot) {
			t.Errorf("%s: want %q and no %q in\n%s", name, c.has, c.hasNot, s)
		}
	}
}

// An order without fuel says nothing of it; one of a litre on a hectare does.
func TestOrderWithoutFuel(t *testing.T) {
	for fuel, want := range map[float64]string{0: "", 1: "1.0 l, 0.1 l per hectare"} {
		o := planned()
		o.Fuel = fuel
		var b strings.Builder
		if err := o.Text(&b, words.English); err != nil {
			t.Fatal(err)
		}
		if got := figuresOf(b.String())["Expected fuel"]; got != want {
			t.Errorf("%g l: %q, want %q", fuel, got, want)
		}
	}
}

// What tyres roll over after the cut stands in an order only where something does.
func TestOrderOfTroddenGround(t *testing.T) {
	for trodden, want := range map[float64]string{0: "", 1000: "1000 m²   1.00 % of the field"} {
		o := planned()
		o.Trodden = trodden
		var b strings.Builder
		if err := o.Text(&b, words.English); err != nil {
			t.Fatal(err)
		}
		if got := figuresOf(b.String())["Under tyres after the cut"]; got != want {
			t.Errorf("%g m²: %q, want %q", trodden, got, want)
		}
	}
}

// A name wider than the column is kept apart from its value all the same.
func TestLineOfALongName(t *testing.T) {
	for n, want := range map[int]int{1: 33, 33: 1, 34: 1, 40: 1} {
		var b page
		b.line(strings.Repeat("ä", n), "v")
		if got := strings.Count(b.String(), " "); got != want {
			t.Errorf("a name of %d letters: %d spaces, want %d", n, got, want)
		}
	}
}
