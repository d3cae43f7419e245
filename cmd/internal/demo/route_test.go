package demo

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/geo/plane"
)

// A way of 3 m east and 4 m north.
var corner = []plane.XY{{X: 1, Y: 1}, {X: 4, Y: 1}, {X: 4, Y: 5}}

func TestAlong(t *testing.T) {
	east, north := plane.XY{X: 1}, plane.XY{Y: 1}
	for name, c := range map[string]struct {
		s       float64
		at, way plane.XY
	}{
		"before the beginning":  {-2, plane.XY{X: -1, Y: 1}, east},
		"at the beginning":      {0, plane.XY{X: 1, Y: 1}, east},
		"at the corner, before": {3, plane.XY{X: 4, Y: 1}, east},
		"past the corner":       {4, plane.XY{X: 4, Y: 2}, north},
		"at the end":            {7, plane.XY{X: 4, Y: 5}, north},
		"past the end":          {9, plane.XY{X: 4, Y: 7}, north},
	} {
		if at, way := along(corner, c.s); at.Dist(c.at) > 1e-12 || way.Dist(c.way) > 1e-12 {
			t.Errorf("%s: %v towards %v, want %v towards %v", name, at, way, c.at, c.way)
		}
	}
	closeTo(t, "length", plane.Length(corner), 7, 0)
	closeTo(t, "length of a place", plane.Length(corner[:1]), 0, 0)
}

// A job begins and ends with its pass, the tool goes down and up 0.15 m outside of it; a straight before it moves all.
func TestJobOn(t *testing.T) {
	j := jobOn(plan.Pass{Line: corner})
	for what, c := range map[string][2]float64{"from": {j.from, 0}, "to": {j.to, 7}, "down": {j.down, -0.15}, "up": {j.up, 7.15}} {
		closeTo(t, what, c[0], c[1], 1e-12)
	}
	j = j.after(2)
	for what, c := range map[string][2]float64{"from": {j.from, 2}, "to": {j.to, 9}, "down": {j.down, 1.85}, "up": {j.up, 9.15}, "length": {plane.Length(j.Line), 9}} {
		closeTo(t, "2 m before it, "+what, c[0], c[1], 1e-12)
	}
	if j.Line[0] != (plane.XY{X: -1, Y: 1}) || len(corner) != 3 || corner[0] != (plane.XY{X: 1, Y: 1}) {
		t.Errorf("the way is %v", j.Line)
	}
}

// A route has a place at least every 10 cm, each of its corners among them, and none twice.
func TestRouteAdds(t *testing.T) {
	var r route
	r.add(corner...)
	if n := len(r.line); n != 71 {
		t.Fatalf("%d places, want 71 on 7 m", n)
	}
	r.add(corner[2]) // already there
	closeTo(t, "long", r.long(), 7, 1e-12)
	for i, want := range map[int]plane.XY{0: corner[0], 15: {X: 2.5, Y: 1}, 30: corner[1], 70: corner[2]} {
		closeTo(t, "place", r.line[i].Dist(want), 0, 1e-9)
	}
	r.add(plane.XY{X: 4, Y: 5.25}) // in three steps, for two would be too long
	closeTo(t, "places of 0.25 m", float64(len(r.line)-71), 3, 0)
}

// On a circle of radius R to the left the way turns by 1/R, to the right by −1/R, straight on by nothing.
func TestBend(t *testing.T) {
	for _, radius := range []float64{20, -20} {
		var r route
		for k := range 200 {
			sin, cos := math.Sincos(float64(k) * fineStep / radius)
			r.line = append(r.line, plane.XY{X: radius * sin, Y: radius * (1 - cos)})
		}
		closeTo(t, "bend", r.bend(100), 1/radius, 1e-4)
		closeTo(t, "near the end", r.bend(198), 1/radius, 1e-3)
		closeTo(t, "at the beginning", r.bend(0), 0, 0)
		closeTo(t, "at the end", r.bend(199), 0, 0)
	}
	var r route
	r.add(plane.XY{}, plane.XY{X: 10})
	closeTo(t, "straight", r.bend(50), 0, 1e-9)
	// A corner of 90° is evened out over 2.5 m to either side: π/2 over those.
	r = route{}
	r.add(plane.XY{}, plane.XY{X: 10}, plane.XY{X: 10, Y: 10})
	closeTo(t, "corner", r.bend(100), math.Pi/2/2.5, 1e-9)
}

// Three passes to and fro. Of one left out the next is driven the way it would have been; one driven twice goes back, and the next the other way.
func TestJobsGoToAndFro(t *testing.T) {
	p := plan.Plan{Passes: []plan.Pass{
		{Number: 1, Line: []plane.XY{{}, {Y: 100}}}, {Number: 2, Line: []plane.XY{{X: 6, Y: 100}, {X: 6}}}, {Number: 3, Line: []plane.XY{{X: 12}, {X: 12, Y: 100}}},
	}}
	type want struct{ x, north float64 }
	for kind, wants := range map[Kind][]want{
		LiftedEarly: {{0, 1}, {6, -1}, {12, 1}},
		LeftOut:     {{0, 1}, {12, -1}},
		Twice:       {{0, 1}, {6, -1}, {6, 1}, {12, -1}},
	} {
		jobs, err := ground{faults: []fault{{kind, plane.XY{X: 6, Y: 50}, 8}}}.jobs(p, 2, 0)
		if err != nil {
			t.Fatal(err)
		}
		var got []want
		for _, j := range jobs {
			n := len(j.Line) - 1
			got = append(got, want{j.Line[0].X, j.Line[n].Sub(j.Line[0]).Unit().Y})
		}
		if !slices.Equal(got, wants) {
			t.Errorf("%s: %v, want %v", kind, got, wants)
		}
		if left := jobs[0].leaves; (left != nil) != (kind == LeftOut) || left != nil && left.Line[0] != (plane.XY{X: 6, Y: 102}) {
			t.Errorf("%s: the first pass leaves out %+v", kind, left)
		}
	}
	if _, err := (ground{faults: []fault{{LeftOut, plane.XY{Y: 50}, 0}}}).jobs(p, 2, 0); err == nil {
		t.Error("the first pass is left out")
	}
}

// Over a step of s a set gains v² by 2as at most, and loses it so: a is gaining and braking, and both are used up where work at 3 m/s
// lies between turns at a walk.
func TestSpeedIsGainedAndLostAsATractorCan(t *testing.T) {
	im, err := implement(mounted)
	if err != nil {
		t.Fatal(err)
	}
	im.Turning.Speed = 3.6
	way := make([]moment, 1500)
	for i := range way {
		way[i].working = i >= 500 && i < 1000
	}
	(&route{im: im}).hurry(way, 3, rand.New(rand.NewPCG(1, 1)))
	most, least := 0.0, 0.0
	for i := 1; i < len(way); i++ {
		a := (way[i].speed*way[i].speed - way[i-1].speed*way[i-1].speed) / (2 * fineStep)
		most, least = max(most, a), min(least, a)
	}
	closeTo(t, "m/s² gained", most, 0.35, 1e-9)
	closeTo(t, "m/s² lost", least, -0.5, 1e-9)
	closeTo(t, "m/s after the first step from a stand", way[0].speed, math.Sqrt(2*0.35*fineStep), 1e-12)
	closeTo(t, "m/s in the turn", way[400].speed, 1, 1e-12)
}

// In a steady turn axle and bar run on circles about one centre. Of a rigid set the bar is R and h + b away from it at right angles;
// of a trailed one the hitch runs on √(R² + h²), the implement's axle on √(R² + h² − L²), the bar on √(R² + h² − L² + b²).
func TestSwing(t *testing.T) {
	const radius = 200.0 // so large that the next term of the root does not count
	rigid := rig.Mount{AntennaAhead: 0.5, Hitch: 1.7, BarBehind: 1.1}
	trailed := rig.Mount{Trailed: true, AntennaAhead: 0.4, Hitch: 1.5, Drawbar: 3.4, BarBehind: 0.9}
	closeTo(t, "rigid", radius+swing(rigid)/radius, math.Hypot(radius, 1.2+1.1), 1e-5)
	closeTo(t, "trailed", radius+swing(trailed)/radius, math.Sqrt(radius*radius+1.1*1.1-3.4*3.4+0.9*0.9), 1e-5)
	closeTo(t, "lead of the rigid set", lead(rigid), 2.3, 1e-12)
	closeTo(t, "lead of the trailed set", lead(trailed), 1.1+3.4+0.9, 1e-12)
	closeTo(t, "straight before the tool goes down", settle(trailed), 6+6.8, 1e-12)
}

// way is a set that goes 1 m east in 1 s, then 2 m in 1 s; and works from 1 s to 3 s.
func way() []moment {
	east := plane.XY{X: 1}
	return []moment{
		{seconds: 0, speed: 0, ahead: east, facing: east, pass: 0},
		{seconds: 1, speed: 1, axle: plane.XY{X: 1}, bar: plane.XY{X: -1}, ahead: east, facing: east, working: true, pass: 1},
		{seconds: 2, speed: 2, axle: plane.XY{X: 3}, bar: plane.XY{X: 1}, ahead: east, facing: plane.XY{Y: 1}, working: true, pass: 1},
		{seconds: 3, speed: 2, axle: plane.XY{X: 5}, bar: plane.XY{X: 3}, ahead: east, facing: plane.XY{Y: 1}, working: true, pass: 1},
		{seconds: 4, speed: 0, axle: plane.XY{X: 6}, bar: plane.XY{X: 4}, ahead: east, facing: plane.XY{Y: 1}, pass: 1},
	}
}

func TestTheSetAtATime(t *testing.T) {
	for name, c := range map[string]struct{ seconds, axle, bar, speed, facing float64 }{
		"at the beginning":          {0, 0, 0, 0, 0},
		"half-way to the first":     {0.5, 0.5, -0.5, 0.5, 0},
		"at a moment":               {1, 1, -1, 1, 0},
		"half-way, the bar turning": {1.5, 2, 0, 1.5, 45},
		"a quarter on":              {3.25, 5.25, 3.25, 1.5, 90},
		"at the end":                {4, 6, 4, 0, 90},
	} {
		m := at(way(), c.seconds)
		closeTo(t, name+", axle", m.axle.X, c.axle, 1e-12)
		closeTo(t, name+", bar", m.bar.X, c.bar, 1e-12)
		closeTo(t, name+", speed", m.speed, c.speed, 1e-12)
		closeTo(t, name+", facing", math.Atan2(m.facing.Y, m.facing.X)*180/math.Pi, c.facing, 1e-9)
		closeTo(t, name+", unit vector", m.facing.Len(), 1, 1e-12)
		closeTo(t, name+", time", m.seconds, c.seconds, 0)
	}
	if m := between(way()[1], way()[1], 1); m.axle.X != 1 { // no time goes by
		t.Errorf("between a moment and itself: %v", m.axle)
	}
}

// A window lies evenly about the middle of the work on its pass, and its ends are not in it.
func TestMiddle(t *testing.T) {
	w := middle(way(), 1, 1.5)
	if w != (window{1.25, 2.75}) {
		t.Errorf("%+v, want 1.25 to 2.75 s about 2 s", w)
	}
	for s, want := range map[float64]bool{1.25: false, 1.26: true, 2.74: true, 2.75: false, 0: false} {
		if w.holds(s) != want {
			t.Errorf("%g s: %v", s, !want)
		}
	}
	if got := again().clock(61.2346).Sub(start.AddDate(0, 0, 8)).Milliseconds(); got != 61235 {
		t.Errorf("%d ms after the start, want 61235", got)
	}
}

// The antenna stands ahead of the axle and to the right of its way, whichever way that is.
func TestAntenna(t *testing.T) {
	mount := rig.Mount{AntennaAhead: 2, AntennaRight: 0.5}
	for name, c := range map[string]struct{ ahead, want plane.XY }{
		"east": {plane.XY{X: 1}, plane.XY{X: 12, Y: 9.5}}, "north": {plane.XY{Y: 1}, plane.XY{X: 10.5, Y: 12}},
	} {
		if got := (moment{axle: plane.XY{X: 10, Y: 10}, ahead: c.ahead}).antenna(mount); got.Dist(c.want) > 1e-12 {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}
