package drive

import (
	"math"
	"slices"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// Rows of four fixes a second apart, 2 m a second, there and back, in one trail with a hole of nine seconds, or in a trail each. Beside every end stands a
// lifted fix 2 m and a second away.
func TestRecorded(t *testing.T) {
	row := func(y, from, by, start float64) (at []plane.XY, seconds []float64) {
		for k := range 4 {
			at, seconds = append(at, plane.XY{X: from + by*float64(k), Y: y}), append(seconds, start+float64(k))
		}
		return at, seconds
	}
	var trails []*trail
	for track, rows := range [][]float64{{0, 6}, {12}, {18}} {
		tr := &trail{timed: true, tracks: []trackStart{{0, track, track + 1}}}
		for i, y := range rows {
			from, by := 0.0, 2.0
			if i == 1 {
				from, by = 6, -2
			}
			at, seconds := row(y, from, by, float64(1000*track+12*i))
			tr.at, tr.seconds = append(tr.at, at...), append(tr.seconds, seconds...)
		}
		tr.State = slices.Repeat([]geo.WorkState{geo.Working}, len(tr.at))
		tr.Speed = make([]float64, len(tr.at))
		trails = append(trails, tr)
	}
	trails[0].tracks = append(trails[0].tracks, trackStart{4, 7, 8}) // the second row is of another file, joined
	if found := recorded(trails); len(found) != 1 || len(trails[0].at) != 12 || len(trails[1].at) != 6 {
		t.Fatalf("%d findings; %d, %d fixes", len(found), len(trails[0].at), len(trails[1].at))
	}
	one := trails[0]
	for k, want := range []struct {
		x, y, second float64
		state        geo.WorkState
	}{
		{-2, 0, -1, geo.Lifted}, {0, 0, 0, geo.Working}, {2, 0, 1, geo.Working}, {4, 0, 2, geo.Working}, {6, 0, 3, geo.Working}, {8, 0, 4, geo.Lifted},
		{8, 6, 11, geo.Lifted}, {6, 6, 12, geo.Working}, {4, 6, 13, geo.Working}, {2, 6, 14, geo.Working}, {0, 6, 15, geo.Working}, {-2, 6, 16, geo.Lifted},
	} {
		if one.at[k].Dist(plane.XY{X: want.x, Y: want.y}) > 1e-9 || math.Abs(one.seconds[k]-want.second) > 1e-9 || one.State[k] != want.state {
			t.Errorf("fix %d at %v, %g s, %v: want %v", k, one.at[k], one.seconds[k], one.State[k], want)
		}
	}
	if !slices.Equal(one.breaks, []int{6}) || one.tracks[1].from != 6 || len(one.Speed) != 12 {
		t.Errorf("breaks %v, tracks %v, %d speeds", one.breaks, one.tracks, len(one.Speed))
	}
}

// Ends are left as they are where three are too few to tell the recorder by, at irregular times, without a work state, and where the set stood.
func TestNotRecorded(t *testing.T) {
	line := func(seconds ...float64) *trail {
		tr := &trail{timed: true, tracks: []trackStart{{0, 0, 1}}, seconds: seconds}
		for k := range seconds {
			tr.at, tr.State = append(tr.at, plane.XY{X: 2 * float64(k)}), append(tr.State, geo.Working)
		}
		return tr
	}
	regular, thinned, silent := line(0, 1, 2, 3), line(0, 7, 9, 30, 31, 40), line(0, 1, 2, 3)
	silent.State = nil
	for name, trails := range map[string][]*trail{
		"one row":         {regular},
		"thinned":         {thinned, thinned, thinned},
		"no state logged": {silent, silent, silent},
	} {
		before := len(trails[0].at)
		if found := recorded(trails); len(found) > 0 || len(trails[0].at) != before {
			t.Errorf("%s: %d findings, %d fixes in place of %d", name, len(found), len(trails[0].at), before)
		}
	}
}

// A log without a state is taken to be logged only at work where eight turns are missing in it, whatever holes it has straight ahead; not where turns are logged, where
// few are missing, where its lines are drawn, nor where the state is logged or all is to be work.
func TestAssumeWork(t *testing.T) {
	const pitch, long = 2.0, 20
	none, all := func(int) bool { return false }, func(int) bool { return true }
	rows := func(n int, turned func(row int) bool, timed, drawn bool) *trail {
		tr, now := &trail{timed: timed, tracks: []trackStart{{0, 0, 1}}}, 0.0
		add := func(x, y float64) {
			if len(tr.at) > 0 && !drawn {
				x += 0.03 * math.Sin(float64(7*len(tr.at)))
			}
			tr.at = append(tr.at, plane.XY{X: x, Y: y})
			if now++; timed {
				tr.seconds = append(tr.seconds, now)
			} else {
				tr.seconds = append(tr.seconds, math.NaN())
			}
		}
		for row := range n {
			sign, y := 1-2*float64(row%2), 6*float64(row)
			if row > 0 && !turned(row-1) {
				now += 12
				if !timed {
					tr.breaks = append(tr.breaks, len(tr.at))
				}
			}
			for k := range long {
				if k == long/2 && timed {
					now += 4 // a hole straight ahead
				}
				add(sign*pitch*(float64(k)-(long-1)/2.0)+sign*pitch*4*float64(k/(long/2)), y)
			}
			for k := 1; turned(row) && k < 9; k++ {
				sin, cos := math.Sincos(math.Pi * float64(k) / 9)
				add(sign*(pitch*(long-1)/2.0+8+3*sin), y+3-3*cos)
			}
		}
		return tr
	}
	scene := sceneOf([]plane.Polygon{{{{X: -60, Y: -10}, {X: 60, Y: -10}, {X: 60, Y: 200}, {X: -60, Y: 200}}}}, Work{Width: 6})
	logged, looked := rows(12, none, true, false), rows(12, none, true, false)
	logged.State = slices.Repeat([]geo.WorkState{geo.Working}, len(logged.at))
	looked.State = slices.Clone(logged.State)
	for name, c := range map[string]struct {
		trail   *trail
		working Evidence
		want    bool
	}{
		"turns missing":                 {rows(12, none, true, false), EvidenceAny, true},
		"asked to infer":                {looked, EvidenceInferred, true},
		"lines without times":           {rows(12, none, false, false), EvidenceAny, true},
		"drawn lines":                   {rows(12, none, false, true), EvidenceAny, false},
		"seven turns missing":           {rows(8, none, true, false), EvidenceAny, false},
		"turns logged, holes in rows":   {rows(12, all, true, false), EvidenceAny, false},
		"turns logged at one side":      {rows(24, func(row int) bool { return row%2 == 0 }, true, false), EvidenceAny, false},
		"a state is logged":             {logged, EvidenceAny, false},
		"all is work":                   {rows(12, none, true, false), EvidenceAll, false},
		"without a state all is worked": {rows(12, none, true, false), EvidenceLogged, false},
	} {
		got := assumeWork([]*trail{c.trail}, scene, Work{Width: 6, Working: c.working})
		if got != c.want || c.trail.assumed != c.want {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}

// On from its last fix a set goes as far in an interval as at the speed it drove last, over more fixes where it crept; without times by its last step, but no
// more than a usual one.
func TestStepBeyond(t *testing.T) {
	timed := &trail{timed: true, at: []plane.XY{{}, {X: 1}, {X: 1.02}}, seconds: []float64{0, 1, 2}}
	silent := &trail{at: timed.at, seconds: []float64{math.NaN(), math.NaN(), math.NaN()}}
	for name, c := range map[string]struct {
		trail           *trail
		k, by           int
		interval, pitch float64
		want            float64
	}{
		"forwards": {timed, 2, 1, 1, 0, 0.51}, "backwards": {timed, 0, -1, 1, 0, -1}, "twice as long": {timed, 2, 1, 2, 0, 1.02},
		"no times": {silent, 2, 1, 0, 5, 1.02}, "no times, a long step": {silent, 2, 1, 0, 0.8, 0.8},
	} {
		if got := c.trail.stepBeyond(c.k, c.by, c.interval, c.pitch); got.Dist(plane.XY{X: c.want}) > 1e-9 {
			t.Errorf("%s: %v, want %g", name, got, c.want)
		}
	}
}
