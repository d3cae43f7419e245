package spots

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// upAndDown is an operation of a bar of 6 m with three sections of 2 m on a field of 120 m × 200 m: twenty passes 6 m apart, up (odd) and down
// (even), pass 1 at the western edge. A strip of 1 m × 50 m is missed on the boundary of passes 10 and 11, at x = 60 m.
//
//	  1   2   3 …            x = 3, 9, 15 … m
//	│ ↑ │ ↓ │ ↑ │
func upAndDown() Operation {
	o := Operation{Name: "cut", Width: 6, Sections: []float64{2, 2, 2}, Local: geo.LocalAt(orb.Point{11.57, 48.13}), Headland: 12,
		Field:  []plane.Polygon{{{{X: 0, Y: 0}, {X: 120, Y: 0}, {X: 120, Y: 200}, {X: 0, Y: 200}}}},
		Missed: []plane.Polygon{{{{X: 59.5, Y: 100}, {X: 60.5, Y: 100}, {X: 60.5, Y: 150}, {X: 59.5, Y: 150}}}}}
	start := time.Date(2026, 4, 14, 8, 0, 0, 0, time.UTC)
	for k := range 20 {
		x := 3 + 6*float64(k)
		line := []plane.XY{{X: x, Y: 0}, {X: x, Y: 100}, {X: x, Y: 200}}
		if k%2 == 1 {
			slices.Reverse(line)
		}
		p := drive.Pass{Number: k + 1, Line: line, Length: 200, From: start.Add(time.Duration(2*k) * time.Minute)}
		p.To = p.From.Add(time.Minute)
		o.Passes = append(o.Passes, p)
	}
	o.From, o.To = o.Passes[0].From, o.Passes[19].To
	return o
}

func (o *Operation) place(x, y float64) *orb.Point {
	p := o.Local.Point(plane.XY{X: x, Y: y})
	return &p
}

// What a place belongs to, by its errors.
func TestTies(t *testing.T) {
	o := upAndDown()
	later := o
	later.Name, later.From, later.To = "cut again", o.From.AddDate(0, 0, 9), o.To.AddDate(0, 0, 9)
	ties := tiesOf([]Operation{o, later})
	long := o.To.AddDate(0, 0, 30)
	for _, c := range []struct {
		name  string
		check geo.SpotCheck
		want  Tie
	}{
		{"up, left of the middle, sure to 0.2 m", geo.SpotCheck{At: o.place(13, 80), Accuracy: 0.2, Time: o.To}, Tie{Pass: 3, Section: 1, FromLeft: 1, Ground: GroundWorked, Sure: true}},
		{"the same place by a pass down", geo.SpotCheck{At: o.place(7, 80), Accuracy: 0.2, Time: o.To}, Tie{Pass: 2, Section: 3, FromLeft: 5, Bearing: 180, Ground: GroundWorked, Sure: true, Headland: true}},
		{"beside the next pass within the error", geo.SpotCheck{At: o.place(17.9, 80), Accuracy: 0.2, Time: o.To}, Tie{Pass: 3, Others: []int{4}, Section: 3, FromLeft: 5.9, Ground: GroundWorked, Sure: true}},
		{"a phone's error leaves the neighbours and all sections", geo.SpotCheck{At: o.place(45, 80), Time: o.To}, Tie{Pass: 8, Others: []int{7, 9}, Sections: []int{1, 2, 3}, FromLeft: 3, Bearing: 180, Ground: GroundWorked, Sure: true}},
		{"the pass is named", geo.SpotCheck{At: o.place(45, 80), Pass: 7, Section: 2, Time: o.To}, Tie{Pass: 7, Named: true, Section: 2, FromLeft: 9, Ground: GroundWorked, Sure: true}},
		{"a pass that is nowhere near", geo.SpotCheck{At: o.place(45, 80), Accuracy: 0.2, Pass: 19, Section: 2, Time: o.To}, Tie{Pass: 8, Section: 2, FromLeft: 3, Bearing: 180, Ground: GroundWorked, Sure: true}},
		{"the strip brushed free tells the section", geo.SpotCheck{At: o.place(45, 80), From: 4.2, Length: 1.5, Time: o.To}, Tie{Pass: 8, Others: []int{7, 9}, Section: 3, FromLeft: 3, Bearing: 180, Ground: GroundWorked, Sure: true}},
		{"in missed ground by a good receiver", geo.SpotCheck{At: o.place(60, 120), Accuracy: 0.1, Time: o.To}, Tie{Pass: 10, Others: []int{11}, Section: 1, FromLeft: 0, Bearing: 180, Ground: GroundMissed, Sure: true}},
		{"in missed ground by a phone", geo.SpotCheck{At: o.place(60, 120), Section: 1, Time: o.To}, Tie{Pass: 10, Others: []int{11}, Section: 1, FromLeft: 0, Bearing: 180, Ground: GroundMissed}},
		{"beside the field", geo.SpotCheck{At: o.place(-40, 80), Time: o.To}, Tie{Ground: GroundOutside, Sure: true}},
		{"no place, a pass named", geo.SpotCheck{Pass: 4, Section: 1, Time: o.To}, Tie{Pass: 4, Named: true, Section: 1}},
		{"no place, nothing named", geo.SpotCheck{Time: o.To}, Tie{}},
		{"after both operations: the last", geo.SpotCheck{Pass: 4, Time: long}, Tie{Operation: 1, Pass: 4, Named: true}},
		{"after both, the first named", geo.SpotCheck{Pass: 4, Time: long, Operation: "cut"}, Tie{Pass: 4, Named: true}},
		{"one that is not there", geo.SpotCheck{Pass: 4, Time: long, Operation: "seed"}, Tie{Operation: -1}},
		{"without a time: the last", geo.SpotCheck{}, Tie{Operation: 1}},
	} {
		got := ties.tie(0, c.check, UsualError)
		got.xy, got.err = plane.XY{}, 0
		if math.Abs(got.FromLeft-c.want.FromLeft) < 1e-6 {
			got.FromLeft = c.want.FromLeft
		}
		if d := math.Abs(float64(got.Bearing - c.want.Bearing)); d < 1e-3 || d > 359.999 { // the convergence of the plane
			got.Bearing = c.want.Bearing
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s:\n got %+v\nwant %+v", c.name, got, c.want)
		}
	}
}

// drawn are checks on passes 1 to n, one on each, brushed free over the whole bar.
func drawn(n int) []geo.SpotCheck {
	var out []geo.SpotCheck
	for k := range n {
		out = append(out, geo.SpotCheck{ID: fmt.Sprint(k + 1), Pass: 1 + k%20, Why: geo.SpotDrawn, Length: 6, Cut: geo.IsSo, Record: k + 1})
	}
	return out
}

// Only drawn places count for shares; deciding ones are listed, and so is what stands against the map.
func TestFoundCountsWhatWasDrawn(t *testing.T) {
	o := upAndDown()
	checks := drawn(10)
	checks[3].Cut, checks[3].Ribs = geo.NotSo, []geo.SpotValue{{At: 1, Value: 0.06}}
	checks[3].Depths = []geo.SpotValue{{At: -1, Value: 0.03}, {At: -1, Value: 0.05}}
	checks[4].Depths = []geo.SpotValue{{At: 1, Value: 0.03}}
	checks = append(checks,
		geo.SpotCheck{ID: "S1", Why: geo.SpotStrip, Strip: 1, Cut: geo.IsSo, At: o.place(60, 120), Record: 11, Depths: []geo.SpotValue{{At: 1, Value: 0.5}}},
		geo.SpotCheck{ID: "S2", Why: geo.SpotStrip, Strip: 2, Cut: geo.NotSo, Record: 12},
		geo.SpotCheck{ID: "G1", Why: geo.SpotGap, Cut: geo.IsSo, Record: 13},
		geo.SpotCheck{ID: "own", Cut: geo.NotSo, At: o.place(45, 80), Record: 14},
		geo.SpotCheck{ID: "rib", Length: 2, Ribs: []geo.SpotValue{{At: 1, Value: 0.1}}, At: o.place(45, 80), Record: 15},
	)
	f, err := Of(checks, []Operation{o}, Wanted{Depth: &Band{0.03, 0.04}})
	if err != nil {
		t.Fatal(err)
	}
	if want := (Choice{Counted: 10, ByChance: true, Deciding: 3, ByHand: 2}); f.Chosen != want {
		t.Errorf("chosen %+v, want %+v", f.Chosen, want)
	}
	if f.Cut.Places != 10 || f.Cut.Have != 9 || f.Cut.Passes != 10 || f.Cut.Effective != 10 || math.Abs(f.Cut.Lower-0.555) > 5e-4 || math.Abs(f.Cut.Upper-0.9975) > 5e-5 { // 1 − bounds of 1 in 10
		t.Errorf("cut %+v", f.Cut)
	}
	if got := f.CutLength; got.Places != 10 || math.Abs(got.Mean-0.999) > 1e-12 {
		t.Errorf("of the length %+v is cut", got)
	}
	if d := f.Depth; d == nil || d.Mean.Places != 2 || d.Mean.Mean != 0.035 || d.In.Have != 2 || d.Least != 0.03 || d.Most != 0.04 {
		t.Errorf("depth %+v", d)
	}
	var against []string
	for _, a := range f.Against {
		against = append(against, fmt.Sprintf("%s %s cut %v sure %v", a.ID, a.Map, a.Cut, a.Sure))
	}
	if want := []string{"S1 missed cut true sure false", "own worked cut false sure true"}; !slices.Equal(against, want) {
		t.Errorf("against the map: %q, want %q", against, want)
	}
	if len(f.Decided) != 3 || f.Decided[1] != (Decided{Check: 11, ID: "S2", Why: geo.SpotStrip, Strip: 2}) {
		t.Errorf("decided %+v", f.Decided)
	}
	// without drawn places all that are not deciding count
	for k := range checks {
		if checks[k].Why == geo.SpotDrawn {
			checks[k].Why = geo.SpotByHand
		}
	}
	if f, err = Of(checks, []Operation{o}, Wanted{}); err != nil || f.Chosen != (Choice{Counted: 12, Deciding: 3}) || f.Cut.Places != 12 {
		t.Errorf("%v, %+v, %+v", err, f.Chosen, f.Cut)
	}
	checks[0].Depths = []geo.SpotValue{{At: 1, Value: 4}}
	if _, err = Of(checks, []Operation{o}, Wanted{}); err == nil || !strings.Contains(err.Error(), "depth 4 m: must be from 0 to 1 m") {
		t.Errorf("4 m deep: %v", err)
	}
	if _, err = Of(nil, nil, Wanted{Depth: &Band{0.05, 0.03}}); err == nil {
		t.Error("a band the wrong way round is taken")
	}
	if f, err = Of(nil, nil, Wanted{}); err != nil || f.Cut.Upper != 1 || f.Cut.AtLeast != 0 {
		t.Errorf("nothing looked at: %v, %+v", err, f)
	}
}

// The order of checks changes nothing but their indices.
func TestFoundInAnyOrder(t *testing.T) {
	const seed = 5
	rng := rand.New(rand.NewPCG(seed, 2))
	o := upAndDown()
	checks := drawn(40)
	for k := range checks {
		checks[k].Depths = []geo.SpotValue{{At: 1, Value: 0.03 + 0.01*rng.Float64()}, {At: 3, Value: 0.04}, {At: 5, Value: 0.04}}
		checks[k].At, checks[k].Pass = o.place(120*rng.Float64(), 200*rng.Float64()), 0
		if rng.IntN(3) == 0 {
			checks[k].Cut, checks[k].Ribs = geo.NotSo, []geo.SpotValue{{At: 2 + 0.05*rng.Float64(), Value: 0.05}}
		}
	}
	a, err := Of(checks, []Operation{o}, Wanted{})
	if err != nil {
		t.Fatal(err)
	}
	rng.Shuffle(len(checks), func(i, k int) { checks[i], checks[k] = checks[k], checks[i] })
	b, err := Of(checks, []Operation{o}, Wanted{})
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Ribs) != 1 || math.Abs(a.Ribs[0].At-2.025) > 0.025 || len(a.Groups) < 4 {
		t.Errorf("ribs %+v, %d groups: the case says little", a.Ribs, len(a.Groups))
	}
	near := func(x, y Mean) bool {
		return x.Places == y.Places && x.Passes == y.Passes && math.Abs(x.Mean-y.Mean)+math.Abs(x.Low-y.Low)+math.Abs(x.High-y.High) < 1e-12
	}
	if a.Cut != b.Cut || !near(a.Depth.Mean, b.Depth.Mean) || len(a.Ribs) != len(b.Ribs) || math.Abs(a.Ribs[0].Chance-b.Ribs[0].Chance) > 1e-15 {
		t.Errorf("in another order %+v %+v %+v, want %+v %+v %+v", b.Cut, b.Depth, b.Ribs, a.Cut, a.Depth, a.Ribs)
	}
	for k := range a.Sections {
		if !near(a.Sections[k].Deeper, b.Sections[k].Deeper) {
			t.Errorf("section %+v, want %+v", b.Sections[k], a.Sections[k])
		}
	}
}

// A section set 8 mm deeper is found nearly always, and one that is not hardly ever: at most in 5 of 100 walks is any section named
// (fixed seed).
func TestSectionSetDeeper(t *testing.T) {
	const seed, rounds = 3, 300
	rng := rand.New(rand.NewPCG(seed, 3))
	ops := []Operation{upAndDown()}
	named := func(deeper float64) (right, wrong int) {
		for range rounds {
			checks := drawn(20)
			ties := make([]Tie, len(checks))
			for k := range checks {
				soil := 0.01 * rng.NormFloat64() // of the place: cancels
				for s := range 3 {
					d := 0.04 + soil + 0.004*rng.NormFloat64()
					if s == 2 {
						d += deeper
					}
					checks[k].Depths = append(checks[k].Depths, geo.SpotValue{At: 1 + 2*float64(s), Value: max(0, d)})
				}
				ties[k] = Tie{Check: k, Pass: 1 + k/2} // two on each pass
			}
			others := false
			for _, s := range sectionDepths(checks, ties, ops) {
				switch {
				case s.Stands && s.Section == 3 && s.Deeper.Mean > 0 && deeper > 0:
					right++
				case s.Stands:
					others = true
				}
			}
			if others {
				wrong++
			}
		}
		return right, wrong
	}
	if _, wrong := named(0); wrong > rounds*7/100 {
		t.Errorf("with nothing wrong a section is named in %d of %d walks (seed %d)", wrong, rounds, seed)
	} else if wrong == 0 {
		t.Errorf("never wrong in %d walks: the test says nothing of its level", rounds)
	}
	if right, wrong := named(0.008); right < rounds*95/100 || wrong > rounds*7/100 {
		t.Errorf("8 mm deeper is found in %d of %d walks, another section is named in %d (seed %d)", right, rounds, wrong, seed)
	}
}

// Holm's steps by hand: 4 tests with 0.01, 0.04, 0.03, 0.005 become 0.03, 0.06, 0.06, 0.02.
func TestHolm(t *testing.T) {
	got := holm([]float64{0.01, 0.04, 0.03, 0.005})
	for k, want := range []float64{0.03, 0.06, 0.06, 0.02} {
		if math.Abs(got[k]-want) > 1e-12 {
			t.Errorf("got %v", got)
		}
	}
	if got := holm([]float64{0.5, 0.9}); got[0] != 1 || got[1] != 1 {
		t.Errorf("got %v", got)
	}
}

// The tail of unlike draws beside all their outcomes one by one, and beside the binomial one for like draws.
func TestOrMore(t *testing.T) {
	const seed = 8
	rng := rand.New(rand.NewPCG(seed, 4))
	p := make([]float64, 9)
	for k := range p {
		p[k] = rng.Float64()
	}
	for count := range len(p) + 2 {
		want := 0.0
		for set := range 1 << len(p) {
			one, n := 1.0, 0
			for k := range p {
				if set>>k&1 == 1 {
					one *= p[k]
					n++
				} else {
					one *= 1 - p[k]
				}
			}
			if n >= count {
				want += one
			}
		}
		if got := orMore(p, count); math.Abs(got-want) > 1e-12 {
			t.Errorf("%d or more: %.14f, want %.14f", count, got, want)
		}
	}
	if got := orMore([]float64{0.5, 0.5, 0.5}, 2); math.Abs(got-0.5) > 1e-15 {
		t.Errorf("two of three coins: %g", got)
	}
}

// A sweep that is lost leaves a rib at its place on every pass; stones leave them anywhere, and are hardly ever taken for a sweep.
func TestRibPlaces(t *testing.T) {
	const seed, rounds = 4, 500
	rng := rand.New(rand.NewPCG(seed, 5))
	ops := []Operation{upAndDown()}
	walk := func(lost bool) []RibPlace {
		checks := drawn(15)
		ties := make([]Tie, len(checks))
		for k := range checks {
			ties[k] = Tie{Check: k, Pass: 1 + k}
			for range 2 {
				if rng.IntN(2) == 0 {
					checks[k].Ribs = append(checks[k].Ribs, geo.SpotValue{At: 6 * rng.Float64(), Value: 0.05})
				}
			}
			if lost && rng.IntN(3) > 0 {
				checks[k].Ribs = append(checks[k].Ribs, geo.SpotValue{At: 4.3 + 0.04*(rng.Float64()-0.5), Value: 0.08})
			}
		}
		return ribPlaces(checks, ties, ops)
	}
	wrong, right := 0, 0
	for range rounds {
		if len(walk(false)) > 0 {
			wrong++
		}
		for _, r := range walk(true) {
			if math.Abs(r.At-4.3) < 0.1 && r.Section == 3 && r.Looked == 15 && r.Passes >= 4 {
				right++
			}
		}
	}
	if wrong > rounds*5/100 {
		t.Errorf("stones are taken for a lost sweep in %d of %d walks (seed %d)", wrong, rounds, seed)
	}
	if right < rounds*95/100 {
		t.Errorf("a lost sweep is found in %d of %d walks (seed %d)", right, rounds, seed)
	}
	// ribs of one pass are one stone, however often it was looked at
	var checks []geo.SpotCheck
	var ties []Tie
	for k := range 6 {
		checks = append(checks, geo.SpotCheck{Length: 6, Ribs: []geo.SpotValue{{At: 3, Value: 0.1}}})
		ties = append(ties, Tie{Check: k, Pass: 1 + k%2})
	}
	if got := ribPlaces(checks, ties, ops); len(got) > 0 {
		t.Errorf("two passes: %+v", got)
	}
}

// untied are ties of checks that belong to nothing.
func untied(n int) (out []Tie) {
	for k := range n {
		out = append(out, Tie{Check: k})
	}
	return out
}

// Joins with laps that a person can work out: the bar works 4 cm farther right, and is 2 cm wider than described.
func TestJoins(t *testing.T) {
	o := upAndDown()
	ties := tiesOf([]Operation{o})
	lap := func(left, same bool, other int, lap float64) geo.SpotCheck {
		return geo.SpotCheck{Join: &geo.SpotJoin{Left: left, Same: same, Lap: lap, Other: other}}
	}
	noise := []float64{0.01, -0.02, 0.01}
	var checks []geo.SpotCheck
	for k := range 3 {
		checks = append(checks, lap(true, false, 0, 0.10+0.02-0.08+noise[k]), lap(false, false, 0, 0.10+0.02+0.08+noise[k]))
	}
	at := untied(len(checks))
	j := joinsOf(checks, at, ties, 0.10)
	if !j.Known || j.Left != 3 || j.Right != 3 || math.Abs(j.BarRight.Value-0.04) > 1e-12 || math.Abs(j.Wider.Value-0.02) > 1e-12 {
		t.Errorf("got %+v", j)
	}
	// s² = 2·(0.01² + 0.02² + 0.01²)/4, plus what a ruler rounds; se of the slope s/√(6·4), t of 4 degrees of freedom 2.776
	s := math.Sqrt((0.0012 + 6*0.005*0.005/12) / 4)
	if got, want := j.BarRight.High-j.BarRight.Value, 2.776*s/math.Sqrt(24); math.Abs(got-want) > 1e-5 {
		t.Errorf("± %g, want %g", got, want)
	}
	if math.Abs(j.PassError.Value-1.96*s) > 1e-9 || j.PassError.Low > j.PassError.Value || j.PassError.High < j.PassError.Value {
		t.Errorf("pass-to-pass error %+v, want %g", j.PassError, 1.96*s)
	}
	if got := joinsOf(checks[:5], at[:5], ties, 0.10); got.Known {
		t.Errorf("two of one hand are enough: %+v", got)
	}
	// The log tells the lap of passes that are named: 5 and 6 lie 6 m apart, a bar of 6 m laps 0 there.
	named := geo.SpotCheck{At: o.place(30.1, 50), Pass: 5, Join: &geo.SpotJoin{Other: 6}}
	if got, ok := ties.lap(ties.tie(0, named, 1), named.Join); !ok || math.Abs(got) > 1e-6 {
		t.Errorf("lap %g, %v, want 0", got, ok)
	}
	named.Join.Other = 9
	if _, ok := ties.lap(ties.tie(0, named, 1), named.Join); ok {
		t.Error("passes that are no neighbours have a lap")
	}
	// The interval holds the truth in 95 of 100 walks (fixed seed).
	const seed, rounds = 6, 2000
	rng := rand.New(rand.NewPCG(seed, 6))
	right, wider, sigma := 0, 0, 0
	for range rounds {
		var checks []geo.SpotCheck
		for k := range 9 {
			hand := []float64{-2, 2, 0}[k%3]
			checks = append(checks, lap(k%3 == 0, k%3 == 2, 0, 0.1+0.02+hand*0.04+0.02*rng.NormFloat64()))
		}
		j := joinsOf(checks, untied(9), ties, 0.10)
		if !j.BarRight.Not(0.04) {
			right++
		}
		if !j.Wider.Not(0.02) {
			wider++
		}
		if !j.PassError.Not(1.96 * 0.02) {
			sigma++
		}
	}
	for name, n := range map[string]int{"bar": right, "width": wider, "error": sigma} {
		if got := float64(n) / rounds; got < 0.935 || got > 0.97 {
			t.Errorf("%s: the interval holds in %.1f %% (seed %d)", name, 100*got, seed)
		}
	}
}

// Effects by hand: before 20 and 10 plants, after 5 and 1. On untreated ground 10 became 12.
func TestEffects(t *testing.T) {
	plants := func(id string, visit int, untreated bool, amount ...float64) geo.SpotCheck {
		c := geo.SpotCheck{ID: id, Visit: visit, Untreated: untreated, Looked: true}
		for _, a := range amount {
			c.Plants = append(c.Plants, geo.SpotPlants{Kind: "thistle", Amount: a, Stage: 12})
		}
		return c
	}
	treated := []geo.SpotCheck{plants("1", 1, false, 20), plants("1", 2, false, 5), plants("2", 1, false, 10), plants("2", 2, false, 1), plants("3", 1, false, 4), plants("3", 2, false)}
	ties := func(n int) (out []Tie) {
		for k := range n {
			out = append(out, Tie{Check: k, Pass: k + 1})
		}
		return out
	}
	untreated := []geo.SpotCheck{plants("U", 1, true, 10), plants("U", 2, true, 12)}
	after := []geo.SpotCheck{plants("1", 2, false, 5), plants("2", 2, false, 1), plants("U", 2, true, 12)}
	for _, c := range []struct {
		name   string
		checks []geo.SpotCheck
		rule   EffectRule
		want   []float64
	}{
		{"before and after", treated, RuleBefore, []float64{0.75, 0.9, 1}},
		{"with untreated ground", append(slices.Clone(treated), untreated...), RuleHenderson, []float64{1 - 0.25*10/12, 1 - 0.1*10/12, 1}},
		{"only after", after, RuleAbbott, []float64{1 - 5./12, 1 - 1./12}},
	} {
		got := effectsOf(c.checks, ties(len(c.checks)))
		if len(got) != 1 || got[0].Rule != c.rule || got[0].Visit != 2 || len(got[0].Places) != len(c.want) {
			t.Errorf("%s: %+v", c.name, got)
			continue
		}
		mean := 0.0
		for k, p := range got[0].Places {
			if math.Abs(p.Effect-c.want[k]) > 1e-12 {
				t.Errorf("%s, place %s: %g, want %g", c.name, p.ID, p.Effect, c.want[k])
			}
			mean += c.want[k] / float64(len(c.want))
		}
		if m := got[0].Mean; math.Abs(m.Mean-mean) > 1e-12 || m.High > 1 {
			t.Errorf("%s: mean %+v, want %g", c.name, m, mean)
		}
	}
	if got := effectsOf(untreated, ties(2)); len(got) > 0 {
		t.Errorf("nothing was treated: %+v", got)
	}
	if got := effectsOf([]geo.SpotCheck{plants("1", 1, false, 3)}, ties(1)); len(got) > 0 {
		t.Errorf("one visit: %+v", got)
	}
}
