package drive

import (
	"slices"
	"testing"

	"balk/geo/plane"
)

// TestWhatIsTakenAsTransport: a lane of work at 2 m/s, 6 m wide, with stations 3 m apart, of which some are covered by other work: some of
// the five places across its bar by work before it, the others by work after it. Each row lies beside a limit.
func TestWhatIsTakenAsTransport(t *testing.T) {
	const stations, lanes = 60, 21
	for _, c := range []struct {
		name     string
		from, to int     // covered stations
		before   int     // of five places, covered by earlier work
		speed    float64 // m/s over them
		across   bool    // what covers them runs at a right angle
		end      int     // the station of the covering lanes that does
		want     string
	}{
		{"from a turn, worked before for the most part", 0, 9, 3, 2, false, 10, "lifted"},
		{"from a turn, worked before for the lesser part", 0, 9, 2, 2, false, 10, "again"},
		{"to a turn", 50, 59, 3, 2, false, 10, "lifted"},
		{"a station off the turn", 1, 10, 3, 2, false, 10, "lifted"},
		{"two stations off the turn: work before it", 2, 11, 5, 2, false, 10, "again"},
		{"two stations before the turn", 48, 57, 5, 2, false, 10, "again"},
		{"15 stations at the usual speed", 0, 14, 5, 2, false, 10, "lifted"},
		{"16 stations at the usual speed: a pass driven again", 0, 15, 5, 2, false, 10, "again"},
		{"16 stations, faster", 0, 15, 5, 2.6, false, 10, "lifted"},
		{"16 stations, a little faster", 0, 15, 5, 2.4, false, 10, "again"},
		{"16 stations, slower", 0, 15, 5, 1.5, false, 10, "lifted"},
		{"16 stations, a little slower", 0, 15, 5, 1.7, false, 10, "again"},
		{"two stations at a turn", 0, 1, 5, 2, false, 10, "lifted"},
		{"one station", 0, 0, 5, 2, false, 10, ""},
		{"between work, faster, worked before", 20, 27, 3, 2.6, false, 10, "lifted"},
		{"between work, at the usual speed", 20, 27, 5, 2, false, 10, "again"},
		{"between work, faster, worked after", 20, 27, 2, 2.6, false, 10, "again"},
		{"between work, slower, straight across", 20, 27, 0, 1.5, true, 10, "lifted"},
		{"between work, across near the end of what it crosses", 20, 27, 0, 1.5, true, 6, "again"},
		{"between work, across a little farther in", 20, 27, 0, 1.5, true, 7, "lifted"},
		{"between work, across near the other end", 20, 27, 0, 1.5, true, 14, "again"},
		{"between work, seven stations", 20, 26, 5, 2.6, false, 10, ""},
	} {
		k := &carpet{credited: 6, width: 6, lifted: make([]bool, stations+2*lanes)}
		log := &trail{}
		clock := 1000.0
		for i := range stations {
			if i > 0 {
				v := 2.0
				if i > c.from && i <= c.to {
					v = c.speed
				}
				clock += 3 / v
			}
			log.seconds = append(log.seconds, clock)
			k.stations = append(k.stations, station{along: plane.XY{X: 1}, way: 3 * float64(i), when: clock, fix: i})
		}
		k.lanes = []lane{{stations: span{0, stations - 1}}}
		for n, when := range []float64{0, 5000} { // before and after
			at := len(k.stations)
			for i := range lanes {
				s := station{along: plane.XY{X: -1}, way: 3 * float64(i), when: when + float64(i), owner: 1, lane: n + 1, fix: i}
				if c.across {
					s.along = plane.XY{Y: 1}
				}
				k.stations = append(k.stations, s)
			}
			k.lanes = append(k.lanes, lane{owner: 1, stations: span{at, at + lanes - 1}})
		}
		for i := range k.stations {
			for place := range stationPlaces {
				if i >= c.from && i <= c.to {
					by := stations + c.end
					if place >= c.before {
						by += lanes
					}
					k.cover = append(k.cover, int32(by))
				}
				k.ends = append(k.ends, int32(len(k.cover)))
			}
		}
		lifted, again := k.transports([]*witness{{t: log, inferred: true, usual: 2}, {}})
		got, runs := "", slices.Concat(lifted, again)
		switch {
		case len(lifted) > 0:
			got = "lifted"
		case len(again) > 0:
			got = "again"
		}
		if got != c.want || c.want != "" && !slices.Equal(runs, []span{{c.from, c.to}}) {
			t.Errorf("%s: %q over stations %v, want %q over %d to %d", c.name, got, runs, c.want, c.from, c.to)
		}
	}
}

// TestDoubtfulTurnsOverNewGround: a way of 40 m to the east, 6 m wide, in four lengths of 10 m, the last to the end of the log. Of two
// doubtful turns the one over ground that nothing else works was work.
func TestDoubtfulTurnsOverNewGround(t *testing.T) {
	for _, c := range []struct {
		name    string
		covered [2]float64 // m, from and to: worked by another pass
		want    []Activity
	}{
		{"the first doubtful turn over worked ground", [2]float64{10, 20}, []Activity{ActivityWork, ActivityTurn, ActivityTurn, ActivityWork}},
		{"the last one", [2]float64{30, 40}, []Activity{ActivityWork, ActivityWork, ActivityTurn, ActivityTurn}},
		{"both", [2]float64{0, 40}, []Activity{ActivityWork, ActivityTurn, ActivityTurn, ActivityTurn}},
		{"neither", [2]float64{20, 20}, []Activity{ActivityWork, ActivityWork, ActivityTurn, ActivityWork}},
	} {
		d := &witness{t: &trail{}, told: telling{of: make([]int32, 41), parts: []span{{0, 40}}}}
		for k := range 41 {
			d.bar, d.t.seconds = append(d.bar, plane.XY{X: float64(k)}), append(d.t.seconds, float64(k))
		}
		for n, v := range []verdict{{ActivityWork, "", false}, {ActivityTurn, "bent", true}, {ActivityTurn, "bent", false}, {ActivityTurn, "bent", true}} {
			d.told.mark(span{10 * n, 10*n + 10}, v)
		}
		k := &carpet{credited: 6, width: 6, cells: map[[2]int32][]int32{}}
		for x := c.covered[0]; x < c.covered[1]; x++ {
			at := plane.XY{X: x}
			k.cells[k.cell(at)] = append(k.cells[k.cell(at)], int32(len(k.stations)))
			k.stations = append(k.stations, station{at: at, along: plane.XY{X: 1}, owner: 1})
		}
		some := k.restore(d)
		var got []Activity
		for _, v := range d.told.verdicts {
			got = append(got, v.activity)
		}
		if !slices.Equal(got, c.want) || some != slices.Contains(c.want[1:], ActivityWork) {
			t.Errorf("%s: %v, some %v, want %v", c.name, got, some, c.want)
		}
	}
}

// TestCoveredRuns: runs of covered stations 3 m apart go on over interruptions of less than a width, 6 m; what is judged already, or one
// place uncovered, interrupts. A run that reaches an end of its lane has all of the lane's steps there.
func TestCoveredRuns(t *testing.T) {
	for _, c := range []struct {
		name  string
		lane  string // a station: covered, Uncovered at one place, by the edge of the field, Lifted, and what covers it lifted: G
		want  []span
		steps []span
	}{
		{"one station missing", "UcccUccU", []span{{1, 6}}, []span{{10, 16}}},
		{"two stations missing", "UcccUUcc", []span{{1, 3}, {6, 7}}, []span{{10, 13}, {15, 99}}},
		{"the edge of the field covers", "eecUUUUU", []span{{0, 2}}, []span{{7, 12}}},
		{"judged already", "cccLLccc", []span{{0, 2}, {5, 7}}, []span{{7, 12}, {14, 99}}},
		{"what covers it is judged already", "ccGGUccc", []span{{0, 1}, {5, 7}}, []span{{7, 11}, {14, 99}}},
		{"nothing covered", "UUUUUUUU", nil, nil},
	} {
		n := len(c.lane)
		k := &carpet{credited: 6, width: 6, lifted: make([]bool, n+2)}
		k.lifted[n+1] = true
		k.lanes = []lane{{stations: span{0, n - 1}, steps: span{7, 99}}}
		for i, kind := range c.lane {
			k.stations = append(k.stations, station{fix: 10 + i})
			k.lifted[i] = kind == 'L'
			for place := range stationPlaces {
				switch {
				case kind == 'e':
					k.cover = append(k.cover, outOfField)
				case kind == 'G':
					k.cover = append(k.cover, int32(n+1))
				case kind != 'U' || place != 3:
					k.cover = append(k.cover, int32(n))
				}
				k.ends = append(k.ends, int32(len(k.cover)))
			}
		}
		got := k.coveredRuns(span{0, n - 1})
		var steps []span
		for _, r := range got {
			steps = append(steps, k.steps(r))
		}
		if !slices.Equal(got, c.want) || !slices.Equal(steps, c.steps) {
			t.Errorf("%s: stations %v, steps %v; want %v and %v", c.name, got, steps, c.want, c.steps)
		}
	}
}
