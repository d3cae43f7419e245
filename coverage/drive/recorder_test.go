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
