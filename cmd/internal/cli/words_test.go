package cli

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
	"unicode/utf8"

	"balk/cmd/internal/job"
	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/coverage/plan"
	"balk/coverage/rework"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/export/answer"
	"balk/export/words"
	"balk/geo"

	"github.com/paulmach/orb"
	"github.com/spf13/pflag"
)

// said is what is printed of a report, for a part that cannot fail.
func said(t *testing.T, part func(*telling, job.Report) error, r job.Report) string {
	t.Helper()
	b := new(telling)
	if err := part(b, r); err != nil {
		t.Fatal(err)
	}
	return b.b.String()
}

// beside and rim are parts that take the table of the report too.
func beside(b *telling, r job.Report) { outside(b, r, r.Table) }
func rim(b *telling, r job.Report)    { headland(b, r, r.Table) }

// sure is a part without an error.
func sure(part func(*telling, job.Report)) func(*telling, job.Report) error {
	return func(b *telling, r job.Report) error { part(b, r); return nil }
}

// holds wants words in a text, those after "!" not, without regard to the widths of columns.
func holds(t *testing.T, name, text string, words ...string) {
	t.Helper()
	narrow := strings.Join(strings.Fields(text), " ")
	for _, w := range words {
		if not, is := strings.CutPrefix(w, "!"); is && strings.Contains(narrow, not) {
			t.Errorf("%s: says %q in\n%s", name, not, text)
		} else if !is && !strings.Contains(narrow, w) {
			t.Errorf("%s: lacks %q in\n%s", name, w, text)
		}
	}
}

func TestWordsOfOneThing(t *testing.T) {
	for name, c := range map[string]struct{ got, want string }{
		"no pass":                        {numbers(words.English, nil), "-"},
		"one pass":                       {numbers(words.English, []int{7}), "7"},
		"six passes":                     {numbers(words.English, []int{1, 2, 3, 4, 5, 6}), "1+2+3+4+5+6"},
		"eight passes":                   {numbers(words.English, []int{1, 2, 3, 4, 5, 6, 7, 8}), "1+2+3+4+5+6 and 2 more"},
		"a residual of rounding":         {residual(words.English, -9.9e-13), "less than 1e-12"},
		"a residual as large as allowed": {residual(words.English, 1e-12), "1.0e-12"},
		"a residual below nothing":       {residual(words.English, -2.5e-9), "2.5e-09"},
		"surety that is not known":       {surety(words.English, coverage.SuretyUnknown), "not known"},
		"surety":                         {surety(words.English, coverage.SuretyCertain), string(coverage.SuretyCertain)},
		"a cause in the headland":        {why(words.English, coverage.Strip{Cause: "drift", Headland: true}), "drift, headland"},
		"a cause inside":                 {why(words.English, coverage.Strip{Cause: "drift"}), "drift"},
		"a cause and what was planned":   {why(words.English, coverage.Strip{Cause: "drift", Planned: []string{"row 1", "row\t2"}}), "drift; planned: row 1, row 2"},
		"a cause and one planned pass":   {why(words.English, coverage.Strip{Cause: "drift", Planned: []string{"row 1"}}), "drift; planned: row 1"},
		"a cause and nothing planned":    {why(words.English, coverage.Strip{Cause: "drift", Headland: true}), "drift, headland"},
		"feasible":                       {yes(words.English, true), "yes"},
		"infeasible":                     {yes(words.English, false), "no"},
		"a time that is not known":       {seconds(0), "-"},
		"a short time":                   {seconds(0.6), "1"},
		"a turn to either side":          {kindOf(words.English, turn.Turn{Kind: "U"}), "U"},
		"a turn to one side":             {kindOf(words.English, turn.Turn{Kind: "U", Side: "left"}), "U (left)"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", name, c.got, c.want)
		}
	}
}

// A row end has the ways out that are known, in words.
func TestWayOut(t *testing.T) {
	for want, e := range map[string]turn.RowEnd{
		"feasible":                 {Turn: turn.Turn{Feasible: true}, WayOut: &turn.WayOut{Skip: 1}},
		"none found: short of 2 m": {Turn: turn.Turn{Why: "short of 2 m"}},
		"none found: short":        {Turn: turn.Turn{Why: "short"}, WayOut: &turn.WayOut{}},
		"leave 1 row for later (U); or end the rows 2.5 m earlier (loop); or reverse, if the set might (fishtail)": {WayOut: &turn.WayOut{Skip: 1, SkipKind: "U", Deeper: 2.5, Kind: "loop", Backing: "fishtail"}},
		"leave 2 rows for later (U)":          {WayOut: &turn.WayOut{Skip: 2, SkipKind: "U"}},
		"end the rows 0.1 m earlier (U)":      {WayOut: &turn.WayOut{Deeper: 0.05000001, Kind: "U"}},
		"reverse, if the set might (3-point)": {WayOut: &turn.WayOut{Backing: "3-point"}},
	} {
		if got := wayOut(words.English, e); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// Places, bearings and edges at their limits, and beyond.
func TestPlacesInACall(t *testing.T) {
	for text, want := range map[string]*orb.Point{"": nil, "11.5,48.1": {11.5, 48.1}, "11,5;48,1": {11.5, 48.1}, "11.573; 48,125": {11.573, 48.125}, " -180 , 90": {-180, 90}, "180,-90": {180, -90}} {
		got, err := placeOf(text)
		if err != nil || (got == nil) != (want == nil) || got != nil && *got != *want {
			t.Errorf("%q: %v (%v), want %v", text, got, err, want)
		}
	}
	for _, text := range []string{"11.5", "11.5,", ",48", "a,48", "11,b", "180.1,48", "-180.1,48", "11,90.1", "11,-90.1", "NaN,48", "11,NaN", "11,48,3", "11,5,48,1", "11;48;3", "11,5,7;48"} {
		if got, err := placeOf(text); err == nil || got != nil {
			t.Errorf("%q: %v, want an error", text, got)
		}
	}
	for text, good := range map[string]bool{"1,2,3,4": true, "1,0;2,0;3,0;4,0": true, "1,2;3,4": false, "1,2,3": false, "1,2,3,4,5": false, "1,2,3,91": false, "181,2,3,4": false, "1": false} {
		got, err := edgeOf(text)
		if (err == nil) != good || good && *got != [2]orb.Point{{1, 2}, {3, 4}} {
			t.Errorf("edge %q: %v (%v)", text, got, err)
		}
	}
	if got, err := edgeOf(""); got != nil || err != nil {
		t.Errorf("no edge: %v (%v)", got, err)
	}
	if got, err := bearingOf(""); got != nil || err != nil {
		t.Errorf("no bearing: %v (%v)", got, err)
	}
	for _, text := range []string{"-12.5", "-12,5", "-12.5°", "-12,5 °"} {
		if got, err := bearingOf(text); err != nil || *got != -12.5 {
			t.Errorf("bearing %q: %v (%v)", text, got, err)
		}
	}
	if got, err := bearingOf("north"); err == nil || got != nil {
		t.Errorf("bearing north: %v", got)
	}
}

// Bare widths become sets, or an error that names the width.
func TestAssumedWidths(t *testing.T) {
	for list, want := range map[string][]float64{"3, 4.5": {3, 4.5}, "5m,6 m": {5, 6}, "5,0;5,6": {5, 5.6}, "5;6": {5, 6}, "5,6": {5, 6}, "7": {7}, "3,5,9": {3, 5, 9}, "3,6,9,12": {3, 6, 9, 12}, "5,5,6,5": {5, 5, 6, 5}, "5,0 m;5.6": {5, 5.6}, "5,5m": {5, 5}, "5,5 m": {5, 5}, "5, 6 m": {5, 6}, "5,5;": nil, "5,125;6": nil} {
		all, note, err := assumed([]string{list}, 0.1, words.English)
		var got []float64
		for _, im := range all {
			got = append(got, im.Width)
		}
		if (err != nil) != (want == nil) || !slices.Equal(got, want) || err == nil && all[0].Overlap != 0.1 {
			t.Errorf("%s: %v (%v), want %v", list, got, err, want)
		}
		if (note != "") != (slices.Contains([]string{"5,6", "5,5,6,5", "5,5m", "5,5 m"}, list)) {
			t.Errorf("%s: %q", list, note)
		}
	}
	if all, _, err := assumed([]string{"5,0"}, 0.1, words.English); err == nil || all != nil || !strings.Contains(err.Error(), "for one of 5.0 m write a point") {
		t.Errorf("5,0: %v (%v)", all, err)
	}
	for _, w := range []string{"wide", "", "-3", "0", "0.05"} {
		if all, _, err := assumed([]string{"3", w}, 0.1, words.German); err == nil || all != nil || !strings.Contains(err.Error(), "--widths "+w+":") {
			t.Errorf("%q: %v (%v)", w, all, err)
		}
	}
}

// Slip is measured, or given by angle and bearing together.
func TestSlip(t *testing.T) {
	for name, c := range map[string]struct {
		crab, downhill string
		want           drive.Drift
		wrong          string
	}{
		"none":                        {"", "", drive.Drift{}, ""},
		"measured":                    {"measured", "", drive.Drift{Measure: true}, ""},
		"given":                       {"2.5", "180", drive.Drift{Angle: 2.5, Downhill: 180}, ""},
		"measured, and a bearing":     {"measured", "180", drive.Drift{}, "--downhill 180: is measured with --crab measured"},
		"an angle without a bearing":  {"2.5", "", drive.Drift{}, "one is given without the other"},
		"a bearing without an angle":  {"", "180", drive.Drift{}, "one is given without the other"},
		"an angle that is no number":  {"some", "180", drive.Drift{}, "--crab some: must be degrees"},
		"a bearing that is no number": {"2", "south", drive.Drift{}, "--downhill south: must be degrees"},
		"with units and commas":       {"2,5 °", "180°", drive.Drift{Angle: 2.5, Downhill: 180}, ""},
	} {
		d := drive.Drift{PerPercent: 0.2} // of the implement file
		if c.crab == "" {
			c.want.PerPercent = 0.2
		}
		err := (&slipFlags{c.crab, c.downhill}).into(pflag.NewFlagSet("", pflag.ContinueOnError), &d)
		if c.wrong == "" && (err != nil || !reflect.DeepEqual(d, c.want)) || c.wrong != "" && (err == nil || !strings.Contains(err.Error(), c.wrong)) {
			t.Errorf("%s: %+v (%v)", name, d, err)
		}
	}
}

// What a flag shows of its value is what it takes; nothing where it has none.
func TestFlagsShowTheirValues(t *testing.T) {
	v, none := 2.5, 0.0
	var b, logged barWidth
	for text, flag := range map[*barWidth]string{&b: "5.6 m", &logged: "logged"} {
		if err := text.Set(flag); err != nil {
			t.Fatal(err)
		}
	}
	for name, c := range map[string]struct{ got, want string }{
		"a length": {measure{&v, "m"}.String(), "2.5"}, "no length": {measure{&none, "m"}.String(), ""}, "a flag without a place": {measure{}.String(), ""}, "unit": {measure{&v, "km/h"}.Type(), "km/h"},
		"a width": {b.String(), "5.6"}, "a logged width": {logged.String(), "logged"}, "no width": {(&barWidth{}).String(), ""}, "no days": {days{}.String(), ""}, "unit of a width": {b.Type(), "m"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", name, c.got, c.want)
		}
	}
	if err := logged.Set("4"); err != nil || logged.logged || logged.metres != 4 {
		t.Errorf("a width after \"logged\": %+v (%v)", logged, err)
	}
	if err := (&logged).Set("4ft"); err == nil {
		t.Error("a width in feet was taken")
	}
	var d job.Days
	if err := (days{&d}).Set("2026-04-14..2026-04-15"); err != nil || d.To.Sub(d.From) != 48*time.Hour {
		t.Errorf("two days: %v (%v)", d, err)
	}
	for text, want := range map[string]string{"5,125": "write the decimals after a point", "x": "is no number of metres"} {
		if err := (measure{&v, "m"}).Set(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
	if err := (measure{&v, "s"}).Set("x"); err == nil || !strings.Contains(err.Error(), "is no number of seconds") {
		t.Errorf("%v, want seconds", err)
	}
}

// Files stand indented below what was said, a caution below them, each apart by one empty line and only where there is one.
func TestClosing(t *testing.T) {
	for name, c := range map[string]struct {
		before  string
		files   []string
		caution string
		want    string
	}{
		"all":            {"said\n", []string{"a", "b"}, "careful", "said\n\nWritten to .: a, b.\n\ncareful\n"},
		"nothing said":   {"", []string{"a"}, "", "Written to .: a.\n"},
		"nothing to do":  {"said\n", nil, "", "said\n"},
		"no files":       {"said\n", nil, "careful", "said\n\ncareful\n"},
		"many of a kind": {"", []string{"o/a.geojson", "o/map.svg", "o/b.geojson", "o/c.geojson", "o/d.geojson"}, "", "Written to o: 4 .geojson, map.svg.\n"},
		"in two folders": {"", []string{"o/README.txt", "o/x/b.geojson"}, "", "Written: 2 files in o; README.txt says what each is for.\n"},
	} {
		var out strings.Builder
		b := new(telling)
		b.put("%s", c.before)
		if err := b.closing(&out, c.files, c.caution); err != nil || out.String() != c.want {
			t.Errorf("%s: %q (%v), want %q", name, out.String(), err, c.want)
		}
	}
	if err := new(telling).closing(full{}, nil, "careful"); err == nil {
		t.Error("a full disk is no error")
	}
}

// The largest strips that hold nine tenths of the ground of all are listed, the rest is summed; with --all every one is.
func TestStripsListed(t *testing.T) {
	strips := func(n int) (all []coverage.Strip) {
		for i := range n {
			all = append(all, coverage.Strip{Number: 101 + i, Area: 2, Cause: "drift", Surety: coverage.SuretyCertain})
		}
		return all
	}
	list := func(all bool) func(*telling, job.Report) error {
		return func(b *telling, r job.Report) error { return stripsOf(b, r, all) }
	}
	r := job.Report{Strips: strips(20)}
	r.Noise.Why = "no fix quality is logged"
	holds(t, "20", said(t, list(false), r), "20 missed strips, largest first", "101 2.0", "118 2.0", "!119 2.0", "and 2 more with the last tenth, 4.0 m² together (--all lists them)", "!certain m²", "!too narrow", "!only possible",
		"how sure a strip is, is not known: no fix quality is logged (--pass-error)", "!pass-to-pass error")
	r.Strips = append([]coverage.Strip{{Number: 1, Area: 912.4}, {Number: 2, Area: 87.6}}, strips(2)...)
	holds(t, "one large", said(t, list(false), r), "4 missed strips, largest first", "1 912 ", "!2 88 ", "and 3 more with the last tenth, 92 m² together")
	holds(t, "no ground", said(t, list(false), job.Report{Strips: []coverage.Strip{{Number: 1}}}), "1 missed strip, largest first", "and 1 more")
	r.Strips, r.Slivers, r.SliverArea = strips(23), 1, 0.3
	r.Noise = coverage.Noise{PassError: 0.03, PassErrorFrom: "given", MissedBest: 15000, Pieces: 2, Area: 1.5}
	r.Telling.Missed = [2]float64{10000, 20000}
	holds(t, "23", said(t, list(false), r), "23 missed strips, largest first", "121 2.0", "!122 2.0", "and 2 more with the last tenth, 4.0 m² together (--all lists them)", "certain m²",
		"and 1 piece too narrow to list, 0.30 m² together", "and 2 strips only possible, not listed, 1.5 m² together",
		"pass-to-pass error up to 0.030 m (given, 95 %): the field's missed ground is 1.50 ha at the best estimate, between 1.00 ha and 2.00 ha", "!is not known", "!beside")
	r.Noise.Why, r.Noise.Pieces, r.Slivers = "beside passes 3 and 4", 0, 0
	holds(t, "23, all", said(t, list(true), r), "121 2.0", "123 2.0", "!(--all lists them)", "ha beside passes 3 and 4", "!only possible", "!too narrow")
	r.Strips = strips(1)
	holds(t, "one", said(t, list(false), r), "1 missed strip, largest first", "101 2.0", "!more")
	r.Strips = nil
	holds(t, "none", said(t, list(false), r), "no missed strips", "!largest first")
}

func stripsOf(b *telling, r job.Report, all bool) error { return strips(b, r, all) }

// Each line about driving stands only where there is something to say, with its figure.
func TestDriven(t *testing.T) {
	r := job.Report{}
	r.Effort = coverage.Effort{Timed: true, Working: coverage.Spent{Metres: 9000, Seconds: 3600, Share: 0.75}, Standing: coverage.Spent{Seconds: 1200, Share: 0.25}, Road: coverage.Spent{Metres: 500, Seconds: 60}}
	holds(t, "timed", said(t, driven, r), "km h:min % of time on the field", "working 9.00 1:00 75.0", "standing 0.00 0:20 25.0", "on the road 0.50 0:01", "!turning", "!not known", "!breaks", "!clock", "!km/h", "!ha/h", "!counters", "!crab")
	r.Effort.Break, r.Effort.ClockFault = 7200, 1
	holds(t, "breaks", said(t, driven, r), "breaks of more than an hour, not counted: 2:00 h", "the clock went wrong 1 time; the way")
	r.Effort.TheoreticalCapacity, r.Effort.EffectiveCapacity, r.Effort.FieldEfficiency = 10, 7.5, 0.75
	r.Effort.Speed = coverage.WorkSpeed{Mean: 2.5, Q05: 1, Q25: 2, Q75: 3, Q95: 4}
	holds(t, "capacity", said(t, driven, r), "working speed 9.0 km/h in the mean; for half of the time from 7.2 to 10.8, for nine tenths from 3.6 to 14.4",
		"effective field capacity 2.70 ha/h, of 3.60 ha/h at full width without a stop: field efficiency 75 %")
	r.Effort = coverage.Effort{Working: coverage.Spent{Metres: 9000}, Turning: coverage.Spent{Metres: 20}}
	holds(t, "without a clock", said(t, driven, r), "working 9.00", "turning 0.02", "!h:min", "!0:00")
}

// The machine's own counters beside ours, in per cent above and below.
func TestCountersInWords(t *testing.T) {
	for name, c := range map[string]struct {
		is    job.Counters
		words []string
	}{
		"above": {job.Counters{Tracks: 1, Of: 1, Working: job.Counted{Machine: 2200, Ours: 2000}}, []string{"by the machine's own counters: 2.20 km working (10.0 % above ours)", "!tracks", "!logged at work", "!lifted"}},
		"below": {job.Counters{Tracks: 1, Of: 2, Area: job.Counted{Machine: 9000, Ours: 10000}, Fuel: 15}, []string{"own counters, for 1 of 2 tracks: 0.90 ha (10.0 % below ours); 15.0 l of fuel, 15.0 l/ha"}},
		"ours not known": {job.Counters{Tracks: 2, Of: 2, Idle: job.Counted{Machine: 500}, WorkingTime: job.Counted{Machine: 5400}, Fuel: 15}, []string{
			"counters: 0.50 km with the tool lifted; 1.50 h working; 15.0 l of fuel", "!ours", "!l/ha"}},
		"as much":      {job.Counters{Tracks: 1, Of: 1, Area: job.Counted{Machine: 10000, Ours: 10000}}, []string{"1.00 ha (0.0 % above ours)"}},
		"logged means": {job.Counters{Tracks: 1, Of: 3, Depth: 0.081, Mass: 0.02, Count: 3.5}, []string{"logged at work, for 1 of 3 tracks, in the mean: depth 8.1 cm, 200 kg/ha put out, 3.5 pieces/m² put out", "!own counters"}},
		"little":       {job.Counters{Tracks: 1, Of: 1, Fuel: 0.5, Depth: 0.004}, []string{"0.5 l of fuel", "depth 0.4 cm", "!kg", "!pieces"}},
	} {
		b := new(telling)
		counters(b, c.is)
		holds(t, name, b.b.String(), c.words...)
	}
}

func TestCrabInWords(t *testing.T) {
	for name, c := range map[string]struct {
		is    drive.Crab
		words []string
	}{
		"given":                        {drive.Crab{Angle: 2, Downhill: 180, Shift: 0.25}, []string{"crab angle 2.0° as given, downhill towards 180°: the bar runs up to 0.25 m below", "!±"}},
		"measured":                     {drive.Crab{Measured: true, Angle: 2, Spread: 0.5, Downhill: 90, Passes: [2]int{4, 5}}, []string{"crab angle 2.0 ± 0.5° by the logged headings, downhill towards 90° (4 runs there, 5 back); not applied (--crab measured)", "!in line"}},
		"measured, not beyond chance":  {drive.Crab{Measured: true, Angle: 0.5, Spread: 0.5}, []string{"!applied", "!the bar runs"}},
		"measured and applied":         {drive.Crab{Measured: true, Applied: true, Angle: 2, Shift: 0.25}, []string{"back): the bar runs up to 0.25 m below", "!not applied"}},
		"a sensor that points left":    {drive.Crab{Measured: true, Spread: 0.5, Sensor: 0.6}, []string{"the headings point 0.6° to the left of the way"}},
		"a sensor that points right":   {drive.Crab{Measured: true, Spread: 0.5, Sensor: -0.6}, []string{"the headings point 0.6° to the right of the way"}},
		"per percent":                  {drive.Crab{PerPercent: 0.25, Applied: true, Angle: 2.4, Share: 0.9, Shift: 0.1}, []string{"crab angle 0.25° per percent of slope across the way, supposed, not measured: on 90 % of the way at work, up to 2.4°, and the bar up to 0.10 m below", "!downhill"}},
		"a sensor in line, by its own": {drive.Crab{Measured: true, Spread: 0.5, Sensor: 0.5}, []string{"!in line"}},
	} {
		b := new(telling)
		crab(b, c.is)
		holds(t, name, b.b.String(), c.words...)
	}
}

// What the joins say otherwise stands before all figures, and what these stand on that no log can tell right behind them, also in what is printed without --details.
func TestBarAsideOnTheTerminal(t *testing.T) {
	for _, c := range []struct {
		joins         bool
		words, before string
	}{{true, "The joins say otherwise", "By the GPS log"}, {false, "if the bar runs as assumed, which no log tells", "10 cm farther right, 600 m²"}} {
		var r job.Report
		said := answer.Of(coverage.Result{Telling: coverage.Telling{Strips: coverage.GraspFirm}, Open: coverage.Open{Aside: coverage.Aside{By: 0.1, Missed: 600, Joins: c.joins}}}, words.English)
		r.Settle, r.Answer, r.Holds = said.Settle, said.Three, said.Holds
		var b strings.Builder
		if err := printReport(&b, r, amount{}); err != nil {
			t.Fatal(err)
		}
		first, _, found := strings.Cut(strings.Join(strings.Fields(b.String()), " "), c.before)
		if !found || !strings.Contains(first, c.words) || !c.joins && !strings.Contains(first, "By the GPS log") {
			t.Errorf("joins %v: before %q stands %q", c.joins, c.before, first)
		}
	}
}

func TestSpacingInWords(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*coverage.Spacing)
		words  []string
	}{
		"plain":                {func(*coverage.Spacing) {}, []string{"planned 5.90 m, mostly about 5.95 m, half of it from 5.90 to 6.00, nine tenths from 5.80 to 6.10", "10.0 % wider than the implement, 5.0 % more than 5 cm narrower", "!sides meet", "!most:"}},
		"parting":              {func(s *coverage.Spacing) { s.Parting = coverage.Parting{Passes: [2]int{3, 4}, Rate: 1e-3, Along: 0.5} }, []string{"passes 3 and 4 part most: 10 cm in 100 m"}},
		"closing in":           {func(s *coverage.Spacing) { s.Parting = coverage.Parting{Passes: [2]int{3, 4}, Rate: -2e-3, Along: 90} }, []string{"passes 3 and 4 close in most: 20 cm in 100 m"}},
		"nearly parallel":      {func(s *coverage.Spacing) { s.Parting = coverage.Parting{Rate: 9e-4, Along: 90} }, []string{"!most:"}},
		"nowhere side by side": {func(s *coverage.Spacing) { s.Parting = coverage.Parting{Rate: 9e-2} }, []string{"!most:"}},
	} {
		r := job.Report{}
		r.Spacing = coverage.Spacing{Samples: 1, Planned: 5.9, Median: 5.95, Q25: 5.9, Q75: 6, Q05: 5.8, Q95: 6.1, Wider: 0.1, Narrower: 0.05}
		c.change(&r.Spacing)
		holds(t, name, said(t, spacing, r), c.words...)
	}
	if got := said(t, spacing, job.Report{}); got != "" {
		t.Errorf("no samples: %q", got)
	}
}

// Ten tight turns are listed, how many more there are is said; what a turn has no figure of is a dash.
func TestTurnsInWords(t *testing.T) {
	at := time.Date(2026, 4, 14, 6, 30, 0, 0, time.UTC)
	tight := func(n int) (all []drive.Turn) {
		all = append(all, drive.Turn{Number: 900, Radius: 7})
		for i := range n {
			all = append(all, drive.Turn{Number: 101 + i, From: 1, To: 2, Tight: true, Radius: 4.5, Angle: 71, Start: at})
		}
		return all
	}
	r := job.Report{}
	if got := said(t, turns, r); got != "" {
		t.Errorf("no turns: %q", got)
	}
	r.Turning = drive.Turning{Turns: 1}
	holds(t, "nothing known", said(t, turns, r), "1 turn between passes", "!half", "!radius", "!angle", "!tighter")
	r.Turning = drive.Turning{Turns: 2, Median: 20, Worst: 0.6, Radius: 0.5, Angle: 0.6}
	holds(t, "all known", said(t, turns, r), "2 turns between passes: half of them within 20 s, the longest 1 s; least radius driven 0.5 m, greatest drawbar angle 1°", "!tighter")
	r.Spec.Work.TurnRadius = 5.6
	r.Turns, r.Turning.Tight = tight(10), 10
	holds(t, "ten tight", said(t, turns, r), "tighter than the set may turn (radius 5.6 m): 10", "101 1-2 4.5 71° 0.000000 0.000000 2026-04-14 06:30:00", "110 1-2", "!900", "!more (")
	r.Turns, r.Turning.Tight = tight(12), 12
	r.Spec.Work.Mount = rig.Mount{Trailed: true, Hitch: 1.5, Drawbar: 3.4, MaxAngle: 65}
	holds(t, "twelve tight", said(t, turns, r), "tighter than the set may turn (radius 5.6 m, drawbar angle 65°): 12", "110 1-2", "!111 1-2", "and 2 more (--json lists them)")
	r.Turns, r.Turning.Tight = []drive.Turn{{Number: 101, From: 1, To: 2, Tight: true}}, 1
	holds(t, "one, of which nothing is known", said(t, turns, r), "tighter than the set may turn (radius 5.6 m, drawbar angle 65°): 1", "101 1-2 - - 0.000000 0.000000 -")
}

// The row ends at which the set cannot turn are listed, 20 of them; with --all every row end is.
func TestFieldTurnsListed(t *testing.T) {
	of := func(bad, good int) job.FieldTurns {
		f := job.FieldTurns{Name: job.FieldName{Name: "Long Acre", Number: 2, File: "f.geojson"}, Bearing: 12, Least: turn.Least{Limit: 30}}
		f.Ends = turn.Ends{Rows: 1, HeadlandDepth: 12, HeadlandShare: 0.25, Infeasible: bad}
		for i := range bad + good {
			f.Ends.Ends = append(f.Ends.Ends, turn.RowEnd{Row: 101 + i, Next: 102 + i, Far: i%2 == 1, Turn: turn.Turn{Kind: "U", Feasible: i >= bad, Spare: -0.5, Why: "short"}})
			f.Places = append(f.Places, orb.Point{11.5, 48.25})
		}
		return f
	}
	list := func(f job.FieldTurns, all bool) string {
		b := new(telling)
		if err := fieldTurns(b, f, all); err != nil {
			t.Fatal(err)
		}
		return b.b.String()
	}
	f := of(0, 2)
	f.Least = turn.Least{Found: true, Depth: 11.5, Ends: turn.Ends{Headland: 25000, HeadlandShare: 0.2}}
	holds(t, "all feasible", list(f, false), "Long Acre, field 2 of f.geojson: 1 row at 12°, headland 12.00 m wide takes 25.0 % of the field", "2 row ends judged, 0 infeasible",
		"all feasible from a headland of 11.50 m on, which takes 2.5000 ha, 20.0 % of the field", "!no headland", "!way out")
	holds(t, "all feasible, all listed", list(f, true), "101 102 near 11.500000 48.250000 U -0.50 feasible", "102 103 far", "!more")
	holds(t, "20 infeasible", list(of(20, 3), false), "no headland up to 30.0 m makes all of them feasible", "120 121", "!121 122", "!more", "none found: short", "!all feasible from")
	holds(t, "22 infeasible", list(of(22, 3), false), "120 121", "!121 122", "and 2 more infeasible ones (--all lists all row ends)")
	holds(t, "22 infeasible, all listed", list(of(22, 3), true), "122 123", "125 126", "!more")
}

// Of the next row all kinds of turn are listed, of rows farther off the best, or that there is none; with --all every one is.
func TestPatternsListed(t *testing.T) {
	next := turn.Pattern{RowDistance: 5.9, LeastDepth: 11.25, Best: "loop", Turns: []turn.Turn{
		{Kind: "U", Why: "no such path"}, {Kind: "loop", Feasible: true, Depth: 11.2, Spare: 0.8, Length: 40, Time: 24.4, Angle: 31, CutIn: 0.4, Swept: 120, Missed: 0.05}}}
	third := turn.Pattern{Skip: 2, RowDistance: 17.7, Turns: []turn.Turn{{Kind: "U", Length: 30, Depth: 9}}}
	second := turn.Pattern{Skip: 1, RowDistance: 11.8, LeastDepth: 8, Best: "U", Turns: []turn.Turn{{Kind: "U", Feasible: true, Length: 25, Depth: 8}, {Kind: "fishtail", Length: 28, Depth: 7}}}
	r := job.TurnReport{Patterns: []turn.Pattern{next, second, third}}
	list := func(all bool) string {
		b := new(telling)
		if err := patterns(b, r, all); err != nil {
			t.Fatal(err)
		}
		return b.b.String()
	}
	few, every := list(false), list(true)
	holds(t, "the best", few, "5.90 U no - - - - - - - - -", "5.90 loop yes 11.20 +0.80 40.0 24 0.0 31° 0.40 120 0.05", "11.80 U yes 8.00 +0.00 25.0 - 0.0 - 0.00 0 0.00", "!11.80 fishtail",
		"17.70 any no - - - - - - - - -", "!17.70 U", ": from 11.25 m of headland; quickest here: loop", ": from 8.00 m of headland; quickest here: U", ": with no headland", "why not:", ", U: no such path")
	holds(t, "all", every, "11.80 fishtail no 7.00", "17.70 U no 9.00", "!any")
	r.Patterns = []turn.Pattern{second}
	holds(t, "nothing in the way", list(false), "!why not:", "!with no headland")
}

// The balance says that work is told from driving only where it is; the headland stands there only where it has a depth.
func TestDoubtAndHeadland(t *testing.T) {
	r := job.Report{}
	r.Balance.Field = 1e4
	holds(t, "no doubt", said(t, sure(beside), r), "less than 1e-12 of the field", "!doubtful")
	r.Doubt = &coverage.Doubt{Metres: 1500, Missed: [2]float64{100, 200}, Double: [2]float64{300, 400}}
	holds(t, "doubt", said(t, sure(beside), r), "1.50 km of way are doubtful", "0.0100 to 0.0200 ha missed, 0.0300 to 0.0400 ha worked twice")
	if got := said(t, sure(rim), r); got != "" {
		t.Errorf("no headland: %q", got)
	}
	r.Headland.Depth, r.Headland.Missed, r.Headland.Lifted, r.Headland.Twice = 0.5, 7, 5, 3
	holds(t, "headland", said(t, sure(rim), r), "headland 0.50 m wide", "7 m²", "5 m²", "3 m²")
	r.Zones = ground.Zones{Depth: 12, Headland: ground.Zone{Area: 2e4, Missed: 50, MissedShare: 0.0025, Double: 100, DoubleShare: 0.005}, Interior: ground.Zone{Area: 1}}
	holds(t, "zones", said(t, zones, r), "within 12.00 m of boundary", "along the boundary 2.0000 50 0.25 100 0.50", "interior 0.0001", "!around obstacles")
}

// A job's error is a wrong call or could not; what was found is said before it.
func TestFinish(t *testing.T) {
	for name, c := range map[string]struct {
		err  error
		code int
	}{"well": {nil, done}, "a wrong call": {fmt.Errorf("so: %w", &job.WrongCall{Err: errors.New("x")}), wrongCall}, "could not": {errors.New("x"), couldNot}} {
		var remarks strings.Builder
		v := &voice{err: &remarks, shown: true}
		err := v.finish([]geo.Finding{{What: "odd"}}, c.err)
		var s *stop
		if errors.As(err, &s) != (c.code != done) || s != nil && s.code != c.code {
			t.Errorf("%s: %v", name, err)
		}
		if !strings.Contains(remarks.String(), "odd") {
			t.Errorf("%s: said %q", name, remarks.String())
		}
		v.shown = true
		if err := v.finish(nil, c.err); v.shown == (err == nil) {
			t.Errorf("%s: a line of progress stands there: %v", name, v.shown)
		}
	}
}

// A progress line is as far as can be, and goes when all is said.
func TestProgressEnds(t *testing.T) {
	var b strings.Builder
	v := &voice{err: &b, live: true}
	v.progress("reading", 3, 3)
	v.clear()
	v.clear()
	if want := "\r\x1b[Kbalk: reading (3/3)\r\x1b[K"; b.String() != want {
		t.Errorf("%q, want %q", b.String(), want)
	}
	code, stdout, stderr := run(context.Background(), "demo")
	if code != wrongCall || stdout != "" || !strings.HasSuffix(stderr, "\nbalk: see: balk help demo\n") {
		t.Errorf("code %d, %q, %q", code, stdout, stderr)
	}
}

// Where nothing new is told for seconds, how many goes on, until a new line comes or all is said.
func TestProgressGoesOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var b strings.Builder
		v := &voice{err: &b, live: true}
		v.progress("reading", 0, 2)
		time.Sleep(2500 * time.Millisecond)
		v.progress("planning", 1, 2)
		time.Sleep(1500 * time.Millisecond)
		v.say("a remark")
		time.Sleep(5 * time.Second)
		v.progress("planning", 1, 2)
		time.Sleep(1100 * time.Millisecond)
		v.clear()
		time.Sleep(5 * time.Second)
		if got, want := strings.ReplaceAll(b.String(), "\r\x1b[K", "|"), "|balk: reading (1/2)|balk: reading (1/2), 1 s|balk: reading (1/2), 2 s|balk: planning (2/2)|balk: planning (2/2), 1 s|balk: a remark\n|balk: planning (2/2)|balk: planning (2/2), 1 s|"; got != want {
			t.Errorf("%q, want %q", got, want)
		}
	})
}

// A comparison says how it ranked, and numbers the sets the same in each table; what is not there is not spoken of.
func TestComparisonInWords(t *testing.T) {
	one := plan.Candidate{Name: "wide", Width: 6, Direction: 90, Rounds: 2, Passes: 12, Turns: 11, Runs: 3, Hours: 1.5, Capacity: 10, Share: 0.75, Missed: 20, Open: 0.02, Double: 300, HeadlandShare: 0.25, Value: 1.52,
		Sensitivity: []plan.Deviation{{What: "driven askew", Hours: 1.6, Missed: 40, Double: 500, Turns: 13, Runs: 5, Unfit: 4, Value: 1.76}}}
	two := one
	two.Name, two.CostHectare, two.Cost = "narrow", 12.5, 25
	r := job.CompareReport{Area: 2e4, MissedHours: 8, UnfitMinutes: 3.5, Candidates: []plan.Candidate{one, two}}
	r.Spec.Options.Speed = 8
	said := func(r job.CompareReport, assumed bool) string {
		var b strings.Builder
		if err := printComparison(&b, r, assumed, true); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	var screen strings.Builder
	if err := printComparison(&screen, r, false, false); err != nil {
		t.Fatal(err)
	}
	holds(t, "on a screen", screen.String(), "1 wide 6.00 90° 12 1:30 20 11/3", "2 narrow 6.00 90° 12 1:30 20 11/3", "ranked by hours: a hectare missed counts 8 h (--missed-hours)", "does not fit 3.5 min more than its way (--unfit-minutes)", "More: --details.", "!driven askew")
	for _, l := range []words.Language{words.English, words.German} { // and is no wider than a screen where all is long
		long := r
		long.Spec.Language = l
		long.Candidates = []plan.Candidate{{Name: "a set with a long name", Width: 12, Direction: 134, Bent: true, Passes: 1234, Turns: 1234, Runs: 123, Hours: 12.5, Missed: 12345}}
		screen.Reset()
		if err := printComparison(&screen, long, true, false); err != nil {
			t.Fatal(err)
		}
		holds(t, "a long row", screen.String(), "1234/123", "12345")
		for line := range strings.Lines(screen.String()) {
			if n := utf8.RuneCountInString(strings.TrimRight(line, "\n")); n > 80 {
				t.Errorf("%s: %d columns: %s", l, n, line)
			}
		}
	}
	plain := said(r, false)
	holds(t, "plain", plain, "2.0000 ha working speed 8.0 km/h", "1 wide 6.00 90° 2 12 11 3 0 1:30 3.60 75 % 0.0020 0:01 0.0300 25.0 % -", "2 narrow 6.00 90° 2 12 11 3 0 1:30 3.60 75 % 0.0020 0:01 0.0300 25.0 % 12.50",
		"ranked by hours: a hectare missed counts 8 h", "2. against plan 1: costs +25.00", "1 as planned 1:30 0.0020 0.0300 11 3 0 1:31 1 driven askew 1:36 0.0040 0.0500 13 5 4 1:46 2 as planned", "2 driven askew",
		"!weights", "!do not fit:", "!fuel", "!assumed sets")
	r.Spec.Objective.Turns = 1
	holds(t, "weighed", said(r, false), "ranked by the weights given: a hectare missed", "1 driven askew 1:36 0.0040 0.0500 13 5 4 1.76")
	for i := range r.Candidates {
		r.Candidates[i].Litres = 30
	}
	r.Candidates[0].Power = 42
	r.Candidates[0].Infeasible = []plan.Fault{{Why: "no room"}}
	holds(t, "with fuel, of assumed sets", said(r, true), "turns and runs of the first that do not fit: no room", "!no room,", "!more (", "fuel 1. 30.0 l, 15.0 l/ha, 42 kW at the drawbar 2. 30.0 l, 15.0 l/ha assumed sets: mounted")
	r.Candidates[0].Infeasible = make([]plan.Fault, 3)
	holds(t, "three that do not fit", said(r, false), ", and 2 more (--json lists them)")
	if err := printComparison(full{}, r, false, false); err == nil {
		t.Error("a full disk is no error")
	}
}

// A handover says what re-work is planned, or why none is; where nothing was missed it speaks of none.
func TestHandoverInWords(t *testing.T) {
	said := func(r job.Report) string {
		var b strings.Builder
		if err := printHandover(&b, r, rework.Options{}); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	r := job.Report{Credited: 5.9}
	r.Spec.Work.Overlap = 0.1
	holds(t, "nothing missed", said(r), "overlap 0.10 m: effective width 5.90 m (credited)", "!re-work plan", "!re-work:")
	r.Strips = make([]coverage.Strip, 1)
	holds(t, "no radius", said(r), "no re-work plan: the implement's description lacks the radius it turns on (--implement)")
	p := &job.Rework{Width: 6, Overlap: 0.2}
	p.Passes, p.Chosen, p.Length, p.Time = make([]rework.Pass, 1), make([]rework.Visit, 2), 1500, 3660
	p.Missed, p.Covered, p.Left, p.ExtraDouble = 100, 80, 20, 40
	r.Rework = p
	holds(t, "planned", said(r), "Re-work: 1 pass along 2 strips, 1.50 km in 1:01 h with 6.00 m, win 80 m² of the 100 m² missed, and 40 m² are worked once more than needed. Left are 20 m²: beside passes of the re-work 20 m².", "!no re-work plan", "!no room")
	p.Skipped = []rework.Skip{{Pieces: 3, Area: 12, Why: rework.WhySliver}, {Strip: 4, Pieces: 1, Area: 7.5, Why: rework.WhyTime}}
	holds(t, "why the rest is left", said(r), "Left are 20 m²: beyond the minutes given 8 m² (1), too thin to be listed as a strip 12 m² (3).", "!beside passes")
	p.Missed, p.Covered, p.Left, p.Skipped = 474, 313, 170, []rework.Skip{{Pieces: 10, Area: 169, Why: rework.WhyLess}, {Strip: 4, Pieces: 9, Area: 0.4, Why: rework.WhySmall}}
	holds(t, "parts add up", said(r), "win 310 m² of the 470 m² missed", "Left are 160 m²: too little won per minute 160 m² (10), smaller than the least area 0 m² (9).")
	p.Unfit = 1
	holds(t, "one piece does not fit", said(r), "Pieces of the way without room: 1, see rework.geojson.")
}
