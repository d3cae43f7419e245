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
	for _, tr := range trails {
		tr.every = tr.interval()
	}
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
		for _, tr := range trails {
			tr.every = tr.interval()
		}
		if found := recorded(trails); len(found) > 0 || len(trails[0].at) != before {
			t.Errorf("%s: %d findings, %d fixes in place of %d", name, len(found), len(trails[0].at), before)
		}
	}
}

// Where rules tell what the set did, work goes on beyond the first and the last fix of a row by half of what is driven in an interval, give or take that much;
// not where the log goes straight on behind a break.
func TestCutOff(t *testing.T) {
	tr := &trail{timed: true, inferred: true}
	for _, p := range []plane.XY{{X: 0}, {X: 2}, {X: 4}, {X: 9}, {X: 11}, {X: 11, Y: 6}, {X: 9, Y: 6}} {
		tr.at, tr.seconds = append(tr.at, p), append(tr.seconds, float64(len(tr.seconds)))
	}
	tr.breaks, tr.every = []int{3, 5}, tr.interval()
	tr.State = slices.Repeat([]geo.WorkState{geo.Working}, len(tr.at))
	for _, c := range []struct {
		fix, by int
		beyond  bool
		place   plane.XY
	}{
		{0, -1, true, plane.XY{X: -1}}, {2, 1, false, plane.XY{}}, {3, -1, false, plane.XY{}}, {4, 1, true, plane.XY{X: 12}},
		{5, -1, true, plane.XY{X: 12, Y: 6}}, {6, 1, true, plane.XY{X: 8, Y: 6}}, {1, 1, false, plane.XY{}},
	} {
		want := Switch{}
		if c.beyond {
			want = Switch{From: -1, To: 1}
		}
		if beyond, place, within := tr.endOf(c.fix, c.by, limits{}); beyond != c.beyond || place.Dist(c.place) > 1e-9 || within != want {
			t.Errorf("fix %d, %+d: %v, %v, %+v: want %v, %v, %+v", c.fix, c.by, beyond, place, within, c.beyond, c.place, want)
		}
	}
}

// A trail without a work state is broken at its holes where the set turned in them, and left whole where they are few or straight ahead.
func TestInterrupted(t *testing.T) {
	rows := func(n int, by float64) *trail {
		tr := &trail{timed: true}
		for row := range n {
			for k := range 5 {
				x := 2 * float64(k)
				if row%2 == 1 && by == 0 {
					x = 8 - x
				}
				tr.at, tr.seconds = append(tr.at, plane.XY{X: x + by*float64(row), Y: 6 * float64(row)}), append(tr.seconds, float64(12*row+k))
			}
		}
		tr.every = tr.interval()
		return tr
	}
	halves := &trail{timed: true} // ten rows with a hole in each as well
	for row := range 10 {
		for k, x := range []float64{0, 2, 4, 6, 8, 30, 32, 34, 36, 38} {
			if row%2 == 1 {
				x = 38 - x
			}
			halves.at, halves.seconds = append(halves.at, plane.XY{X: x, Y: 6 * float64(row)}), append(halves.seconds, float64(40*row+k+k/5*10))
		}
	}
	halves.every = halves.interval()
	for name, c := range map[string]struct {
		trail  *trail
		breaks int
	}{"half of them straight ahead": {halves, 0}, "ten rows": {rows(10, 0), 9}, "three rows": {rows(3, 0), 0}, "straight ahead": {rows(10, 16), 0}} {
		if interrupted([]*trail{c.trail}, Work{}); len(c.trail.breaks) != c.breaks {
			t.Errorf("%s: breaks %v, want %d", name, c.trail.breaks, c.breaks)
		}
	}
}
