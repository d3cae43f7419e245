package geo_test

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"balk/geo"

	"github.com/paulmach/orb"
)

// TestOperations: driving on a field of 30 rows of 300 m, 6 m wide; how many operations it is.
func TestOperations(t *testing.T) {
	const day, hour = 86400.0, 3600.0
	field := rows(30, 300, 2) // 82 minutes
	some := func(from, to, every int, at float64) (out []spot) {
		for r := from; r < to; r += every {
			out = append(out, field[151*r:151*(r+1)]...)
		}
		return moved(out, at, 0, 0, 0, nil)
	}
	across := func(at float64) (out []spot) { // 50 rows of 180 m the other way
		for _, s := range rows(50, 174, 2) {
			s.x, s.y = s.y, s.x
			s.t += at
			out = append(out, s)
		}
		return out
	}
	parts := func(p ...[]spot) [][]spot { return p }
	for _, c := range []struct {
		name       string
		parts      [][]spot
		sessions   int
		operations int
	}{
		{"a day", parts(field), 1, 1},
		{"a day with a lunch of two hours", parts(some(0, 15, 1, 0), some(15, 30, 1, 2*hour)), 1, 1},
		{"again over all after two hours", parts(field, moved(field, 2*hour, 0, 0, 0, nil)), 1, 1},
		{"three days, a third each", parts(some(0, 10, 1, 0), some(10, 20, 1, day), some(20, 30, 1, 2*day)), 3, 1},
		{"half, five wet days, the other half", parts(some(0, 15, 1, 0), some(15, 30, 1, 5*day)), 2, 1},
		{"half, nine days, the other half", parts(some(0, 15, 1, 0), some(15, 30, 1, 9*day)), 2, 2},
		{"half a day at a time over four weeks without a week between", parts(some(0, 6, 1, 0), some(6, 12, 1, 5*day), some(12, 18, 1, 10*day), some(18, 24, 1, 15*day), some(24, 30, 1, 20*day)), 5, 1},
		{"every other row, the rest on the next day", parts(some(0, 30, 2, 0), some(1, 30, 2, day)), 2, 1},
		{"again over all on the next day", parts(field, moved(field, day, 0, 0, 0, nil)), 2, 2},
		{"again over all on the next day, not on the same lines", parts(field, moved(field, day, 0, 2.5, 0, nil)), 2, 2},
		{"the other way on the next day", parts(field, across(day)), 2, 2},
		{"what was missed on the next day", parts(field, some(3, 30, 9, day)), 2, 1},
		{"what was missed after two weeks", parts(field, some(3, 30, 9, 14*day)), 2, 2},
		{"three times, two weeks apart", parts(field, moved(field, 14*day, 0, 0, 0, nil), moved(field, 28*day, 0, 0, 0, nil)), 3, 3},
		{"past the field after two weeks", parts(field, with(straight(30), 0, 30, func(_ int, s *spot) { s.y, s.t = 176, s.t+14*day })), 2, 1},
		{"elsewhere after two weeks", parts(field, moved(field, 14*day, 5000, 0, 0, nil)), 2, 1},
		{"without times", parts(untimed(field)), 0, 0},
	} {
		track := draw(c.parts...)
		lo, hi := orb.Point{math.Inf(1), math.Inf(1)}, orb.Point{math.Inf(-1), math.Inf(-1)}
		box := draw(field)
		for k := 0; k < len(box.Line.FlatCoords()); k += 3 {
			x, y := box.Line.FlatCoords()[k], box.Line.FlatCoords()[k+1]
			lo, hi = orb.Point{min(lo[0], x), min(lo[1], y)}, orb.Point{max(hi[0], x), max(hi[1], y)}
		}
		sessions, of := geo.Sessions([]geo.Track{track}, 6, orb.Bound{Min: lo, Max: hi})
		operations := geo.Operations(sessions)
		n := 0
		if len(operations) > 0 {
			n = operations[len(operations)-1] + 1
		}
		if len(sessions) != c.sessions || n != c.operations {
			t.Errorf("%s: %d sessions, %d operations; %d and %d wanted (%+.2v)", c.name, len(sessions), n, c.sessions, c.operations, again(sessions))
		}
		fixes := 0
		for _, s := range sessions {
			fixes += s.Fixes
		}
		if c.sessions > 0 && fixes != track.Fixes() || c.sessions == 0 && (of[0][0] != -1 || fixes != 0) {
			t.Errorf("%s: %d of %d fixes are in a session", c.name, fixes, track.Fixes())
		}
		if reordered, _ := geo.InOrder(track, 0); c.sessions > 0 && !reflect.DeepEqual(reordered.Line.FlatCoords(), track.Line.FlatCoords()) {
			t.Errorf("%s: the drawing is not in order", c.name)
		}
	}
}

func again(sessions []geo.Session) (all []float64) {
	for _, s := range sessions {
		all = append(all, s.Again)
	}
	return all
}

// TestSessionsOfTwoDays: 600 m to the east, with a stretch lifted and a jump; a day later the first 300 m again, and 100 m to the
// north. A fix every second and 2 m.
func TestSessionsOfTwoDays(t *testing.T) {
	const day = 86400.0
	first := with(straight(301), 100, 110, func(_ int, s *spot) { s.state = geo.Lifted }) // 11 steps, 22 m
	first = with(first, 200, 301, func(_ int, s *spot) { s.x += 100 })                    // one step, 2 m
	second := with(straight(151), 0, 151, func(_ int, s *spot) { s.t += day })
	for k := 1; k <= 50; k++ {
		second = append(second, spot{x: 300, y: 2 * float64(k), t: aDay + day + 150 + float64(k), state: geo.Working})
	}
	track := draw(first, second)
	bound := track.Line.Bounds()
	sessions, of := geo.Sessions([]geo.Track{track}, 6, orb.Bound{Min: orb.Point{bound.Min(0), bound.Min(1)}, Max: orb.Point{bound.Max(0), bound.Max(1)}})
	if len(sessions) != 2 {
		t.Fatalf("%d sessions", len(sessions))
	}
	for i, want := range []struct {
		fixes    int
		way      float64
		from, to float64
	}{{301, 576, aDay, aDay + 300}, {201, 400, aDay + day, aDay + day + 200}} {
		s := sessions[i]
		if s.Fixes != want.fixes || math.Abs(s.Way-want.way) > 0.1 || !s.From.Equal(geo.Instant(want.from)) || !s.To.Equal(geo.Instant(want.to)) {
			t.Errorf("day %d: %d fixes, %.2f m from %v to %v", i+1, s.Fixes, s.Way, s.From, s.To)
		}
	}
	for k, now := range of[0] {
		if want := k / 301; now != want {
			t.Fatalf("fix %d in session %d, want %d", k, now, want)
		}
	}
	if operations := geo.Operations(sessions); !reflect.DeepEqual(operations, []int{0, 0}) {
		t.Errorf("operations %v", operations)
	}
	// 278 m (139 steps) of 576 m; the cells of the bend and of the rim are some more or less.
	if again := sessions[1].Again; math.Abs(again-278.0/576) > 0.02 || sessions[0].Again != 0 {
		t.Errorf("again over %.3f, and %.3f of the first", again, sessions[0].Again)
	}
}

// TestNightsWithinALine: a night ends a session also where the line goes on, and a clock that goes back; a meal does not. The
// same 200 m, driven the other way the second time, are the same ground.
func TestNightsWithinALine(t *testing.T) {
	const day, hour = 86400.0, 3600.0
	there := straight(101)
	back := func(after float64) []spot {
		return with(there, 0, 101, func(k int, s *spot) { s.x, s.t = 200-s.x, s.t+after })
	}
	for _, c := range []struct {
		name  string
		line  []spot
		first []int // sessions of the first and the last fix
		n     int
	}{
		{"a night", slices.Concat(there, back(day)), []int{0, 1}, 2},
		{"the second day first", slices.Concat(back(day), there), []int{1, 0}, 2},
		{"a meal of two hours", slices.Concat(there, back(2*hour)), []int{0, 0}, 1},
		{"after the meal first", slices.Concat(back(2*hour), there), []int{0, 0}, 1},
	} {
		track := draw(c.line)
		corner := draw([]spot{{x: -1, y: -1}, {x: 201, y: 1}}).Line.FlatCoords()
		sessions, of := geo.Sessions([]geo.Track{track}, 6, orb.Bound{Min: orb.Point{corner[0], corner[1]}, Max: orb.Point{corner[3], corner[4]}})
		if len(sessions) != c.n || of[0][0] != c.first[0] || of[0][201] != c.first[1] {
			t.Errorf("%s: %d sessions, the first fix in %d, the last in %d", c.name, len(sessions), of[0][0], of[0][201])
			continue
		}
		last := sessions[c.n-1].To
		if want := max(there[100].t, c.line[0].t+100, c.line[201].t); !sessions[0].From.Equal(geo.Instant(aDay)) || !last.Equal(geo.Instant(want)) {
			t.Errorf("%s: from %v to %v", c.name, sessions[0].From, last)
		}
		if geo.Operations(sessions); c.n == 2 && sessions[1].Again < 0.95 {
			t.Errorf("%s: again over %.3f of it", c.name, sessions[1].Again)
		}
	}
}

// TestRealLogsAreOneOperation: the drill's two days, with a night between, and the combine's.
func TestRealLogsAreOneOperation(t *testing.T) {
	for _, name := range []string{"seeding_ca_2019_1hz.csv", "combine_us_corn_3s.csv"} {
		_, tracks := openTracks(t, name)
		bound := tracks[0].Line.Bounds()
		sessions, _ := geo.Sessions(tracks, 9, orb.Bound{Min: orb.Point{bound.Min(0), bound.Min(1)}, Max: orb.Point{bound.Max(0), bound.Max(1)}})
		if of := geo.Operations(sessions); of[len(of)-1] != 0 {
			t.Errorf("%s: %d sessions are operations %v, again over %.2v", name, len(sessions), of, again(sessions))
		}
	}
}
