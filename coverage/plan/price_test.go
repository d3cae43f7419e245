package plan

import (
	"math"
	"strings"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestWorkingNothingIsNotTheBest: on a strip 7 m wide a set of 9 m finds no pass. What it misses has its price whatever
// the ranking is by, so that a set that works the strip is before it.
func TestWorkingNothingIsNotTheBest(t *testing.T) {
	strip := []plane.Polygon{{rectangle(0, 0, 300, 7)}}
	for _, c := range []struct {
		name  string
		goal  Objective
		rates Rates
		fuel  Fuel
	}{
		{"by hours", Objective{}, Rates{}, Fuel{}},
		{"by cost", Objective{Cost: 1}, Rates{Hour: 80}, Fuel{}},
		{"by cost of fuel alone", Objective{Cost: 1}, Rates{Litre: 1.5}, Fuel{Hour: 18}},
		{"by turns", Objective{Turns: 1e-3}, Rates{}, Fuel{}},
	} {
		got, err := Compare(t.Context(), strip, []rig.Implement{mounted(9), mounted(3)}, Options{Speed: 8, Rounds: 1, Rates: c.rates, Fuel: c.fuel}, c.goal)
		if err != nil {
			t.Fatal(err)
		}
		first, last := got[0].Candidate, got[1].Candidate
		if first.Width != 3 || last.Hours != 0 || math.Abs(last.Missed-2100) > 1 {
			t.Errorf("%s: first is %g m with %g; last misses %g m² in %g h, value %g", c.name, first.Width, first.Value, last.Missed, last.Hours, last.Value)
		}
		if want := 8 * 0.21; math.Abs(last.Open-want) > 1e-3 {
			t.Errorf("%s: %g h for the 0.21 ha missed, want %g h", c.name, last.Open, want)
		}
	}
	if _, err := Best(t.Context(), strip, mounted(9), Options{Speed: 8}, Objective{Cost: 1}); err == nil || !strings.Contains(err.Error(), "no rate") {
		t.Errorf("cost weighed without a rate: %v", err)
	}
	_, dear := laid(t, strip, mounted(9), Options{Speed: 8, Rounds: 1, MissedHours: 20, Rates: Rates{Hour: 80, Litre: 1.5}, Fuel: Fuel{Hour: 18}})
	if math.Abs(dear.Open-4.2) > 1e-3 || math.Abs(dear.OpenCost-4.2*(80+27)) > 0.1 || dear.Cost != 0 {
		t.Errorf("at 20 h/ha %g h and %g, cost %g: want 4.2 h and 449.4, and no cost of work", dear.Open, dear.OpenCost, dear.Cost)
	}
}

// TestFirstOfRealFieldsWorks: of the real fields no first of four widths misses half of a field that another one works.
func TestFirstOfRealFieldsWorks(t *testing.T) {
	small, n := 0, 0
	taken := realShare(3)
	for i, f := range trial.OnPlanes(t) {
		if areaOf(f) > 0.7*hectare { // narrow ones are small
			continue
		}
		if small++; !taken(small) {
			continue
		}
		n++
		first, least := Candidate{Value: math.Inf(1)}, math.Inf(1)
		for _, w := range []float64{3, 5, 9} {
			got, err := Best(t.Context(), f, mounted(w), Options{Speed: 8}, Objective{})
			if err != nil {
				t.Fatalf("field %d: %v", i, err)
			}
			c := got.Candidate
			if c.Value < first.Value {
				first = c
			}
			least = min(least, c.Missed)
		}
		if first.Missed > 0.5*first.Field && least < 0.25*first.Field {
			t.Errorf("field %d: the first, %g m, misses %.0f %%, another %.0f %%", i, first.Width, 100*first.Missed/first.Field, 100*least/first.Field)
		}
	}
	if small < 15 || n < small/3 {
		t.Errorf("%d of %d small fields: too few", n, small)
	}
}

// TestNoRounds: none is not as many as it needs. Without rounds the passes run from boundary to boundary, 250 m are
// 42 rows of 6 m, and no turn between them finds room, which is counted.
func TestNoRounds(t *testing.T) {
	p, c := laid(t, box(400, 250), mounted(6), Options{Speed: 8, NoRounds: true})
	if c.Rounds != 0 || c.Loops != 0 || c.Depth != 0 || c.Passes != 42 || c.Missed > 1e-6*c.Field || c.HeadlandShare != 0 {
		t.Errorf("%d rounds, %d driven, headland %g m, %d passes, missed %g m²: want 42 passes alone", c.Rounds, c.Loops, c.Depth, c.Passes, c.Missed)
	}
	if c.Turns != 41 || len(c.Infeasible) != 41 {
		t.Errorf("%d turns, %d that do not fit: want 41 of 41", c.Turns, len(c.Infeasible))
	}
	if math.Abs(p.Passes[0].Length-400) > 1e-6 {
		t.Errorf("pass of %g m: want 400 m", p.Passes[0].Length)
	}
	_, usual := laid(t, box(400, 250), mounted(6), Options{Speed: 8})
	if usual.Rounds == 0 {
		t.Error("no rounds where none are asked for: want as many as a plain U needs")
	}
	if err := (Options{Speed: 8, NoRounds: true, Rounds: 2}).Validate(); err == nil || !strings.Contains(err.Error(), "2 headland rounds, and none at all") {
		t.Errorf("2 rounds and none at all: %v", err)
	}
	got, err := Compare(t.Context(), box(400, 250), []rig.Implement{mounted(6)}, Options{Speed: 8, NoRounds: true}, Objective{})
	if err != nil || got[0].Candidate.Rounds != 0 {
		t.Fatalf("%d rounds (%v)", got[0].Candidate.Rounds, err)
	}
	if s := got[0].Candidate.Sensitivity; len(s) != 3 || s[1].Unfit < 41 || s[2].Unfit >= 41 {
		t.Errorf("narrower and with one round: %+v", s)
	}
}

// TestSlantOfMillimetres: a field that is 20 rows of 6 m broad and 8 mm aslant needs no 21st; the rows lie 0.4 mm farther apart.
// At full spacing they do not, and it does.
func TestSlantOfMillimetres(t *testing.T) {
	field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 300, Y: 0}, {X: 300, Y: 120.008}, {X: 0, Y: 120}}}}
	for full, want := range map[bool]int{false: 20, true: 21} {
		_, c := laid(t, field, mounted(6), Options{Speed: 8, NoRounds: true, FullSpacing: full})
		if c.Passes != want || c.Missed > 300*0.008 {
			t.Errorf("full spacing %v: %d passes, missed %g m²: want %d, and no more than the 8 mm", full, c.Passes, c.Missed, want)
		}
	}
	field[0][0][2].Y = 120.03 // more than 1 mm for each row is a row
	if _, c := laid(t, field, mounted(6), Options{Speed: 8, NoRounds: true}); c.Passes != 21 {
		t.Errorf("3 cm aslant: %d passes, want 21", c.Passes)
	}
}

// TestDeviations: half a metre narrower is the plan of an implement half a metre narrower, on a headland that is no less deep; a
// round more is the plan with one more. Turns that do not fit are counted in both, as they are in the plan, and all have the value by which plans are ranked.
func TestDeviations(t *testing.T) {
	priced := func(d Deviation) float64 { // 8 h for a hectare missed, 2 min for what does not fit: as help tells
		return d.Hours + 8*d.Missed/1e4 + 2*float64(d.Unfit)/60
	}
	for name, im := range map[string]rig.Implement{"mounted": mounted(6), "trailed, a field too narrow to turn on": trailed(6)} {
		field := box(300, 200)
		if im.Mount.Trailed {
			field = box(200, 40)
		}
		o := Options{Speed: 8, Rounds: 1, Rates: Rates{Hour: 60}}
		got, err := Compare(t.Context(), field, []rig.Implement{im}, o, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		at := got[0].Plan.Options
		narrow := im
		narrow.Width = 5.5
		as := at
		as.Rounds = 2 // 6 m of headland are two rounds of 5.5 m
		_, wantNarrow := laid(t, field, narrow, as)
		as.Rounds = 2
		_, wantDeeper := laid(t, field, im, as)
		unfit := 0
		for i, want := range []Candidate{wantNarrow, wantDeeper} {
			d := got[0].Candidate.Sensitivity[i+1]
			if math.Abs(d.Hours-want.Hours) > 1e-9 || math.Abs(d.Missed-want.Missed) > 1e-6 || math.Abs(d.Double-want.Double) > 1e-6 || d.Turns != want.Turns || d.Runs != want.Runs || d.Unfit != len(want.Infeasible) || math.Abs(d.Cost-want.Cost) > 1e-9 {
				t.Errorf("%s, %s: %+v, want %g h, %g and %g m², %d turns, %d that do not fit", name, d.What, d, want.Hours, want.Missed, want.Double, want.Turns, len(want.Infeasible))
			}
			if v := priced(d); math.Abs(d.Value-v) > 1e-9 || math.Abs(v-(d.Hours+want.UnfitHours+want.Open)) > 1e-9 {
				t.Errorf("%s, %s: counts %g h, want %g", name, d.What, d.Value, v)
			}
			unfit += d.Unfit
		}
		if im.Mount.Trailed && unfit == 0 {
			t.Errorf("%s: all turns fit: the case has changed", name)
		}
		if d, c := got[0].Candidate.Sensitivity[0], got[0].Candidate; math.Abs(d.Value-priced(d)) > 1e-9 || d.Runs != c.Runs || d.Missed <= c.Missed || math.Abs(d.Value-c.Value-8*(d.Missed-c.Missed)/1e4) > 1e-9 {
			t.Errorf("%s, %s: %+v, want %g h, and what is missed more beside %g h of the plan", name, d.What, d, priced(d), c.Value)
		}
		if d := got[0].Candidate.Sensitivity[0]; d.Unfit != len(got[0].Candidate.Infeasible) {
			t.Errorf("%s, %s: %d turns do not fit, want the plan's %d", name, d.What, d.Unfit, len(got[0].Candidate.Infeasible))
		}
		if !im.Mount.Trailed && !(got[0].Candidate.Sensitivity[1].Hours > got[0].Candidate.Hours) {
			t.Errorf("%s: narrower takes %g h, the plan %g h", name, got[0].Candidate.Sensitivity[1].Hours, got[0].Candidate.Hours)
		}
	}
}

// TestDifferenceIsSaid: only what differs in the digits shown, each the right way round; the first says what it comes to.
func TestDifferenceIsSaid(t *testing.T) {
	first := Candidate{Hours: 4, Passes: 40, Turns: 39, Runs: 6, Capacity: 10000.0 / 3600, Missed: 500, Double: 3000, Cost: 320, Infeasible: make([]Fault, 2)}
	for _, c := range []struct {
		name string
		c    Candidate
		rank int
		want string
	}{
		{"the first", first, 0, "4.00 h for 40 passes, 39 turns and 6 runs, 1.00 ha/h"},
		{"one of each", Candidate{Hours: 0.5, Passes: 1, Turns: 1, Runs: 1, Capacity: 10000.0 / 3600}, 0, "0.50 h for 1 pass, 1 turn and 1 run, 1.00 ha/h"},
		{"the same", first, 1, "no difference"},
		{"less than is shown", Candidate{Hours: 4.004, Passes: 40, Turns: 39, Runs: 6, Missed: 540, Double: 2960, Cost: 320.004, Infeasible: make([]Fault, 2)}, 1, "no difference"},
		{"more of all", Candidate{Hours: 5.5, Passes: 43, Turns: 44, Runs: 8, Missed: 1500, Double: 5000, Cost: 400.5, Infeasible: make([]Fault, 5)}, 1,
			"1.50 h longer, 3 passes more, 5 turns more, 2 runs more, 3 more turns and runs that do not fit, 0.10 ha missed more, 0.20 ha worked twice more, costs 80.50 more"},
		{"less of all", Candidate{Hours: 3.75, Passes: 38, Turns: 38, Runs: 3, Missed: 100, Double: 1000, Cost: 300, Infeasible: make([]Fault, 1)}, 2,
			"0.25 h shorter, 2 passes fewer, 1 turn fewer, 3 runs fewer, 1 fewer turn or run that does not fit, 0.04 ha missed less, 0.20 ha worked twice less, costs 20.00 less"},
		{"one more that does not fit", Candidate{Hours: 4, Passes: 40, Turns: 39, Runs: 6, Missed: 500, Double: 3000, Cost: 320, Infeasible: make([]Fault, 3)}, 1, "1 more turn or run that does not fit"},
	} {
		if got := difference(c.c, first, c.rank); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestObjectiveWeighs: what a candidate comes to by each weight alone, worked by hand; a turn that does not fit, and what is missed, count
// in hours, or in what those cost.
func TestObjectiveWeighs(t *testing.T) {
	c := Candidate{Hours: 3, Cost: 200, Missed: 5000, Double: 20000, Turns: 30, Open: 2, OpenCost: 90, UnfitHours: 0.1, UnfitCost: 5}
	const lost = 0.1 // h, for turns that do not fit
	for _, o := range []struct {
		name string
		goal Objective
		want float64
	}{
		{"nothing said: hours", Objective{}, 3 + lost + 2},
		{"hours", Objective{Hours: 2}, 2 * (3 + lost + 2)},
		{"cost", Objective{Cost: 1}, 200 + 50*lost + 90},
		{"missed ground", Objective{Missed: 1}, 0.5 + lost + 2},
		{"ground worked twice", Objective{Double: 10}, 20 + lost + 2},
		{"turns", Objective{Turns: 0.1}, 3 + lost + 2},
		{"hours and turns", Objective{Hours: 1, Turns: 0.1}, 3 + lost + 2 + 3},
	} {
		if got := o.goal.of(c); math.Abs(got-o.want) > 1e-9 {
			t.Errorf("%s: %g, want %g", o.name, got, o.want)
		}
	}
}
