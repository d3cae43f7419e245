package turn

import (
	"context"
	"encoding/json"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

func TestRunOut(t *testing.T) {
	front := mountedSet()
	front.Mount.Hitch, front.Mount.BarBehind, front.Body = -2.5, -1, rig.Body{Behind: 0.4}
	for name, c := range map[string]struct {
		im   rig.Implement
		want float64
	}{
		"mounted: hitch 1.2, bar 1, last tools 1.2":              {mountedSet(), 3.4},
		"trailed: hitch 1.2, drawbar 4, bar 0.5, last tools 1.2": {trailedSet(), 6.9},
		"in front: 3.5 + 1 ahead, last tools 0.4 nearer":         {front, -4.1},
	} {
		if got := RunOut(c.im); !near(got, c.want, 1e-9) {
			t.Errorf("%s: %g m, want %g m", name, got, c.want)
		}
	}
}

// TestBarComesBackToTheLine: a straight set at the end of its path has its bar's middle in the middle of the next
// row, on its line, also where the bar is not in the tractor's middle.
func TestBarComesBackToTheLine(t *testing.T) {
	const seed = 51
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for range 200 {
		im := trailedSet()
		if rng.IntN(2) == 0 {
			im = mountedSet()
		}
		im.Mount.BarRight = rng.NormFloat64()
		l := Line{From: anyPose(rng, 100), Distance: 10 * rng.Float64(), Left: rng.IntN(2) == 0, Stagger: 5 * rng.NormFloat64()}
		for name, c := range map[string]struct {
			axle, on Pose
			behind   float64
		}{"end": {l.rows(im).To(), l.next(), 0}, "start": {l.rows(im).From, l.From, im.Body.Behind}} {
			d := drive(t, Path{From: c.axle}, im, Fine)
			at, facing := d.Bar(0)
			ahead, left, _ := c.on.sees(Pose{At: at})
			sin, cos := math.Sincos(float64(c.on.Heading))
			if !near(ahead, c.behind, 1e-9) || !near(left, 0, 1e-9) || facing.Dist(plane.XY{X: cos, Y: sin}) > 1e-9 {
				t.Fatalf("%s: bar %g m ahead of the line, %g m left of the row, facing %v", name, ahead, left, facing)
			}
		}
	}
}

// TestSettlesWhenToldSo: driven straight on for as long as unsettled says, the bar's end is within overlap of its place.
func TestSettlesWhenToldSo(t *testing.T) {
	im := trailedSet()
	p := circle(6, 15)
	more := drive(t, p, im, Fine).unsettled()
	if more < 5 {
		t.Fatalf("%g m of straight after a bend of 15 m", more)
	}
	p.Pieces = append(p.Pieces, Arc{Length: more})
	d := drive(t, p, im, Fine)
	if d.unsettled() != 0 {
		t.Errorf("not settled after %g m", more)
	}
	psi := d.Moments[len(d.Moments)-1].Set.Angle()
	if off := 4.5*math.Sin(psi) + 3*(1-math.Cos(psi)); !near(off, 0.1, 1e-3) {
		t.Errorf("bar's end %.4f m beside its place, want the overlap of 0.1 m", off)
	}
}

// TestEntry: a mounted set comes in straight; a trailed one that has not settled leaves a strip and a corner.
func TestEntry(t *testing.T) {
	l := Line{Distance: 12, Left: true}
	d := drive(t, turned(t, PlainU, l.rows(mountedSet()), Steering{Radius: 5}), mountedSet(), Fine)
	if e := d.entry(l); !near(e.Angle, 0, 1e-6) || !near(e.Offset, 0, 1e-6) || !near(e.Missed, 0, 1e-6) {
		t.Errorf("mounted: %+v", e)
	}
	// On the axle, hanging L = 4 m behind with no width and nothing planned: while it settles from ψ, y = L·sin ψ and
	// ds = −L/sin ψ dψ, so ∫ y ds = L²·ψ. The bar itself is L·cos ψ behind the hitch: x = s − L·cos ψ, which adds
	// ∫ L·sin ψ · L·sin ψ dψ with dψ < 0: L²·(ψ/2 − sin 2ψ/4) less.
	thin := rig.Implement{Width: 1e-6, Mount: rig.Mount{Trailed: true, Drawbar: 4}}
	d = drive(t, circle(6, 6), thin, 1e-5)
	psi := d.Moments[len(d.Moments)-1].Set.Angle()
	last := d.Moments[len(d.Moments)-1].Set
	at, _ := last.Bar(d.mount)
	heading := math.Atan2(last.Ahead.Y, last.Ahead.X)
	into := Pose{last.Antenna, geo.Heading(heading)} // the line goes through the bar as it is at the end of the bend
	ahead, _, _ := into.sees(Pose{At: at})
	into = into.Moved(ahead-1e-9, 0, 0)
	e := d.entry(Line{From: Pose{into.At, into.Heading - math.Pi}, Left: true})
	if want := 16 * (psi - psi/2 + math.Sin(2*psi)/4); !near(e.Missed, want, 0.01) || !near(e.Angle, psi*perDegree, 0.1) || !near(math.Abs(e.Offset), 4*math.Sin(psi), 1e-3) {
		t.Errorf("from %.4f rad: %+v, want %.3f m²", psi, e, want)
	}
}

// TestEntryByCounting: the ground missed beside a row, and at its line, counted cell by cell: what lies in the row's
// first 60 m less the overlap and no bar has passed with the tools down.
func TestEntryByCounting(t *testing.T) {
	const cell = 0.02
	im := trailedSet()
	im.Overlap = 0.05
	l := Line{Distance: 5.95, Left: true}
	rows := l.rows(im)
	p := turned(t, HookBeyond, rows, Steering{Radius: 6})
	e := drive(t, p, im, Fine/20).entry(l)
	if e.Angle < 5 || e.Missed < 2 {
		t.Fatalf("the case has changed: %+v", e)
	}
	long := p
	long.Pieces = append(append([]Arc(nil), p.Pieces...), Arc{Length: 60})
	d := drive(t, long, im, Fine/20)
	to := l.next()
	covered := make(map[[2]int]bool)
	down := false
	var before [2]plane.XY
	see := func(p plane.XY) plane.XY { ahead, left, _ := to.sees(Pose{At: p}); return plane.XY{X: ahead, Y: left} }
	for k := range d.Moments {
		at, facing := d.Bar(k)
		side := facing.Left().Scale(3)
		now := [2]plane.XY{see(at.Add(side)), see(at.Sub(side))}
		if down {
			box := plane.EmptyBox().Extend(now[:]...).Extend(before[:]...)
			for x := int(math.Floor(box.Min.X / cell)); x <= int(box.Max.X/cell)+1; x++ {
				for y := int(math.Floor(box.Min.Y / cell)); y <= int(box.Max.Y/cell)+1; y++ {
					if winds(plane.XY{X: float64(x) * cell, Y: float64(y) * cell}, before[0], before[1], now[1], now[0]) {
						covered[[2]int{x, y}] = true
					}
				}
			}
		}
		mid := now[0].Lerp(now[1], 0.5).X
		if !down && k > 0 && mid >= 0 && d.Moments[k].S > p.Length()/2 {
			down = true
		}
		before = now
	}
	missed := 0
	for x := 0; x < int(40/cell); x++ {
		for y := -147; y <= 147; y++ {
			if !covered[[2]int{x, y}] {
				missed++
			}
		}
	}
	if counted := float64(missed) * cell * cell; !near(counted, e.Missed, 0.02*e.Missed+15*cell/2) { // cells along some 15 m of edge
		t.Errorf("%.3f m² missed, counted %.3f m²", e.Missed, counted)
	} else {
		t.Logf("%.3f m² missed, counted %.3f m²", e.Missed, counted)
	}
}

// TestHandbookRuleForTheHeadland: textbooks give the headland for a pear-shaped turn as E = 2.8R + 0.5B + e
// (check/VALUES.md c, a worked example: R 2.5 m, width B 2.33 m, run-out e 8.69 m: 16.86 m). The exact form for
// rows that touch each other's line (w = 0) is (1 + √3)R + 0.5B + e = 2.732R + 0.5B + e: the rule rounds
// 2.732 up. For neighbouring passes, w = B, the bulb is less deep, R + √(4R² − (R + w/2)²).
func TestHandbookRuleForTheHeadland(t *testing.T) {
	const r, b, e = 2.5, 2.33, 8.69
	rule := 2.8*r + 0.5*b + e
	if !near(rule, 16.86, 0.01) {
		t.Fatalf("rule: %g m", rule)
	}
	im := rig.Implement{Width: b, Mount: rig.Mount{Hitch: e}, Tractor: rig.Tractor{Width: b}} // the axle's width sticks out at the top of the bulb
	for _, c := range []struct{ w, want float64 }{{0, (1+math.Sqrt(3))*r + b/2 + e}, {b, r + math.Sqrt(4*r*r-(r+b/2)*(r+b/2)) + b/2 + e}} {
		l := Line{Distance: c.w, Left: true}
		d := drive(t, turned(t, Bulb, l.rows(im), Steering{Radius: r}), im, Fine/50)
		// The tool swings out beyond the tractor in its far reach, which the rule does not know: only the tractor counts here.
		reach := math.Inf(-1)
		for k := range d.Moments {
			for _, q := range d.Tractor(k) {
				reach = math.Max(reach, q.X)
			}
		}
		if !near(reach, c.want, Fine/50) || reach > rule || rule-reach > 0.1*rule {
			t.Errorf("w = %g m: %.4f m, want %.4f m, rule %.2f m", c.w, reach, c.want, rule)
		}
	}
}

// TestTableIsMonotone: what is feasible in one headland is so in a deeper one, exactly from Depth on.
func TestTableIsMonotone(t *testing.T) {
	for name, im := range map[string]rig.Implement{"mounted": mountedSet(), "trailed": trailedSet()} {
		at := func(depth float64) []Pattern {
			p, err := Table(context.Background(), im, im.Width-im.Overlap, depth, 2)
			if err != nil {
				t.Fatal(err)
			}
			return p
		}
		wide := at(100)
		for i, p := range wide {
			for k, w := range p.Turns {
				if w.Driven != nil && !near(w.Depth+w.Spare, 100, 1e-9) {
					t.Errorf("%s, %s: depth %g and spare %g m, want 100 m together", name, w.Kind, w.Depth, w.Spare)
				}
				if w.Feasible && w.Depth < p.LeastDepth {
					t.Errorf("%s, %s: depth %g m below the least %g m", name, w.Kind, w.Depth, p.LeastDepth)
				}
				_ = k
			}
			if p.Best == "" || p.LeastDepth == 0 {
				t.Errorf("%s, skip %d: nothing feasible in 100 m", name, p.Skip)
			}
			if below, above := at(p.LeastDepth - 0.001)[i], at(p.LeastDepth + 0.001)[i]; below.Best != "" || above.Best == "" {
				t.Errorf("%s, skip %d: %q just below %g m, %q just above", name, p.Skip, below.Best, p.LeastDepth, above.Best)
			}
		}
		for depth := 4.0; depth < 40; depth += 3 {
			here, deeper := at(depth), at(depth+3)
			for i := range here {
				for k, w := range here[i].Turns {
					if d := deeper[i].Turns[k]; w.Feasible && !d.Feasible {
						t.Errorf("%s, %s: feasible in %g m, not in %g m: %s", name, w.Kind, depth, depth+3, d.Why)
					}
				}
			}
		}
	}
}

func TestTableSaysWhy(t *testing.T) {
	mounted, trailed, shy, folding, right, pushed := mountedSet(), trailedSet(), mountedSet(), trailedSet(), mountedSet(), trailedSet()
	pushed.Mount.MayReverse = true
	shy.Turning.ReverseSpeed = 0
	folding.Mount.MaxAngle = 40
	right.Mount.BarRight = 0.6
	for _, c := range []struct {
		name  string
		im    rig.Implement
		depth float64
		kind  Kind
		why   string // "" = feasible
	}{
		{"mounted, bulb in 30 m", mounted, 30, Bulb, ""},
		{"mounted, bulb in 10 m", mounted, 10, Bulb, "short by"},
		{"mounted, fishtail in 14 m", mounted, 14, Fishtail, ""},
		{"mounted, plain U into the next row", mounted, 30, PlainU, "row distance 2.9 m"},
		{"mounted without a reverse speed", shy, 30, Fishtail, "reverseSpeed is not given"},
		{"trailed may not be pushed", trailed, 30, Fishtail, "may not be pushed"},
		{"trailed may be pushed, and folds", pushed, 30, Fishtail, "must be 70.0° at most"},
		{"drawbar folds", folding, 30, Bulb, "must be 40.0° at most"},
		{"bar to one side", right, 30, Bulb, ""},
	} {
		pats, err := Table(context.Background(), c.im, c.im.Width-c.im.Overlap, c.depth, 0)
		if err != nil {
			t.Fatal(err)
		}
		if b, err := json.Marshal(pats); err != nil || !strings.Contains(string(b), `"leastDepth":`) {
			t.Errorf("%s: %v, %s", c.name, err, b)
		}
		for _, w := range pats[0].Turns {
			if w.Kind == c.kind && (w.Feasible != (c.why == "") || !strings.Contains(w.Why, c.why)) {
				t.Errorf("%s: feasible %t, %q, want %q", c.name, w.Feasible, w.Why, c.why)
			}
			if w.Feasible && w.Kind.Reverses() != (w.Reverse > 0) && w.Kind != Reversing {
				t.Errorf("%s, %s: %g m in reverse", c.name, w.Kind, w.Reverse)
			}
			if w.Feasible && (w.Missed > 0.5 || w.EntryAngle > 3) {
				t.Errorf("%s, %s: comes in at %.2f°, misses %.2f m²", c.name, w.Kind, w.EntryAngle, w.Missed)
			}
		}
	}
	for name, err := range map[string]error{
		"no depth":       second(Table(context.Background(), mounted, 2.9, math.NaN(), 0)),
		"no spacing":     second(Table(context.Background(), mounted, 0, 20, 0)),
		"far skips":      second(Table(context.Background(), mounted, 2.9, 20, 1000)),
		"bare implement": second(Table(context.Background(), bareBar(), 2.9, 20, 0)),
	} {
		if err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

// TestOffsetBarCountsTheWorseSide: with the bar 0.6 m right of the tractor's middle, rows 2.9 m apart are 1.7 m for
// the tractor on one side and 4.1 m on the other; the nearer one needs the deeper bulb.
func TestOffsetBarCountsTheWorseSide(t *testing.T) {
	im := mountedSet()
	im.Mount.BarRight = 0.6
	j, err := newJudge(im)
	if err != nil {
		t.Fatal(err)
	}
	free := func(d *Driven, _ float64) Fit { return Fit{Spare: -d.Reach(plane.XY{}, 0)} }
	deep := func(left bool) float64 {
		w, err := j.one(context.Background(), Bulb, Line{Distance: 2.9, Left: left}, free)
		if err != nil {
			t.Fatal(err)
		}
		return w.Depth
	}
	if got := (Line{Distance: 2.9, Left: true}).rows(im).Distance; !near(got, 1.7, 1e-9) {
		t.Errorf("to the left %g m, want 1.7 m", got)
	}
	if got := (Line{Distance: 2.9}).rows(im).Distance; !near(got, 4.1, 1e-9) {
		t.Errorf("to the right %g m, want 4.1 m", got)
	}
	left, right, err := j.sides(context.Background(), Bulb, 2.9, free)
	if w := worse(left, right); err != nil || w.Depth != max(deep(true), deep(false)) || deep(true) <= deep(false) || w.Side != "left" {
		t.Errorf("%g m to the %s (%v), left %g m, right %g m", w.Depth, w.Side, err, deep(true), deep(false))
	}
}
