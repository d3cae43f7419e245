package drive

import (
	"fmt"
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

const (
	// regular: so many of the times between fixes lie within a fifth of the median in a log that takes one every so often. Thinned
	// logs and those by distance do not. Common practice, no source.
	regular, regularBy = 2.0 / 3, 0.2
	// fewEnds: fewer ends of work without a lifted fix beside them do not show that the recorder runs only while the tool works.
	fewEnds = 4
)

// workEnd is a working fix at which the log stops or begins while the tool works.
type workEnd struct {
	fix   int
	ahead bool // the work goes on or came to its end behind it, else before it
}

// recorded puts a lifted fix beside every end of work at which the log has none: where the recorder runs only while the tool works, each
// pass begins and ends at some fix, and the tool was lowered up to one interval before the first one and lifted up to one interval after
// the last. With a lifted fix an interval away, straight on at the speed driven, such an end is settled like any other (see switched):
// halfway and in the mean right, and the rest is doubt. A log that has lifted fixes is left as it is.
//
// A step is an end and a beginning if it takes longer than the usual one by half and does not go straight
// on: the set turned there. A hole straight ahead stays unknown ground.
func recorded(trails []*trail) []geo.Finding {
	for _, t := range trails {
		if slices.Contains(t.State, geo.Lifted) {
			return nil
		}
	}
	ends, intervals, count := make([][]workEnd, len(trails)), make([]float64, len(trails)), 0
	for i, t := range trails {
		if intervals[i] = t.interval(); intervals[i] > 0 {
			ends[i] = t.workEnds(intervals[i])
			count += len(ends[i])
		}
	}
	if count < fewEnds {
		return nil
	}
	longest := 0.0
	for i, t := range trails {
		if len(ends[i]) > 0 {
			t.liftBeside(ends[i], intervals[i])
			longest = max(longest, intervals[i])
		}
	}
	return []geo.Finding{{File: trails[0].source, Record: trails[0].tracks[0].record,
		What: fmt.Sprintf("fixes are logged only while the tool works: at %d ends of work it was in for up to %.2g s more, half of which is taken", count, longest)}}
}

// interval is the usual time between two fixes of a trail whose work state is logged, s; 0: they do not come at regular times.
func (t *trail) interval() float64 {
	if t.State == nil || !t.timed {
		return 0
	}
	times := t.times()
	if len(times) == 0 {
		return 0
	}
	usual, near := Median(times), 0
	for _, dt := range times {
		if math.Abs(dt-usual) <= regularBy*usual {
			near++
		}
	}
	if float64(near) < regular*float64(len(times)) {
		return 0
	}
	return usual
}

// workEnds are the ends of work, in order.
func (t *trail) workEnds(interval float64) (ends []workEnd) {
	works := func(k int) bool { return t.State[k] == geo.Working }
	add := func(k int, ahead bool) {
		if works(k) {
			ends = append(ends, workEnd{k, ahead})
		}
	}
	add(0, false)
	for k := 1; k < len(t.at); k++ {
		_, broken := slices.BinarySearch(t.breaks, k)
		hole := works(k-1) && works(k) && t.seconds[k]-t.seconds[k-1] > (1+regularBy)*interval
		if (broken || hole) && !t.goesOn(k) {
			add(k-1, true)
			add(k, false)
		}
	}
	add(len(t.at)-1, true)
	return ends
}

// goesOn says whether the step to fix k lies within 45° of the way before it and of the way behind it, forwards.
func (t *trail) goesOn(k int) bool {
	step := t.at[k].Sub(t.at[k-1])
	if step.Len() < parked {
		return true
	}
	along := func(way plane.XY) bool { return way.Dot(step) > ownBearing*way.Len()*step.Len() }
	before, behind := t.wayTo(k-1, -1), t.wayTo(k, 1)
	return (before == (plane.XY{}) || along(before)) && (behind == (plane.XY{}) || along(behind))
}

// wayTo is the way driven last before fix k (by -1), or first behind it (1), in the direction of travel; zero: the set stood.
func (t *trail) wayTo(k, by int) plane.XY {
	for o := k + by; o >= 0 && o < len(t.at); o += by {
		if _, broken := slices.BinarySearch(t.breaks, max(o, o-by)); broken {
			break
		}
		if way := t.at[o].Sub(t.at[k]); way.Len() >= parked {
			return way.Scale(float64(by))
		}
	}
	return plane.XY{}
}

// liftBeside puts a lifted fix beside each of the ends, an interval away at the speed driven there. Between two of them the log breaks.
func (t *trail) liftBeside(ends []workEnd, interval float64) {
	n := len(t.at) + len(ends)
	rows := make([]int, 0, n)
	at, seconds, breaks := make([]plane.XY, 0, n), make([]float64, 0, n), make([]int, 0, len(t.breaks)+len(ends)/2)
	shifted := make([]int, 0, len(t.at)) // where a fix stands now
	var lifted []int
	beside := func(e workEnd) {
		by, away := 1.0, -1
		if !e.ahead {
			by, away = -1, 1
		}
		way := t.wayTo(e.fix, away)
		over := 0.0
		for o := e.fix + away; o >= 0 && o < len(t.at); o += away { // the time that way took
			if t.at[o].Dist(t.at[e.fix]) >= parked {
				over = math.Abs(t.seconds[o] - t.seconds[e.fix])
				break
			}
		}
		if !(over > 0) {
			way, over = plane.XY{}, interval
		}
		lifted = append(lifted, len(rows))
		rows = append(rows, e.fix)
		at, seconds = append(at, t.at[e.fix].Add(way.Scale(by*interval/over))), append(seconds, t.seconds[e.fix]+by*interval)
	}
	for k, b := 0, 0; k < len(t.at); k++ {
		_, broken := slices.BinarySearch(t.breaks, k)
		first := len(ends) > b && ends[b].fix == k && !ends[b].ahead
		if broken || first && k > 0 {
			breaks = append(breaks, len(rows))
		}
		if first {
			beside(ends[b])
			b++
		}
		shifted = append(shifted, len(rows))
		rows, at, seconds = append(rows, k), append(at, t.at[k]), append(seconds, t.seconds[k])
		if len(ends) > b && ends[b].fix == k {
			beside(ends[b])
			b++
		}
	}
	t.Columns = t.Columns.Keep(rows)
	if t.facing != nil {
		facing := make([]plane.XY, len(rows))
		for i, k := range rows {
			facing[i] = t.facing[k]
		}
		t.facing = facing
	}
	for _, k := range lifted {
		t.State[k] = geo.Lifted
	}
	for i := range t.tracks {
		if from := shifted[t.tracks[i].from]; slices.Contains(lifted, from-1) && (from-1 == 0 || slices.Contains(breaks, from-1)) {
			t.tracks[i].from = from - 1
		} else {
			t.tracks[i].from = from
		}
	}
	t.at, t.seconds, t.breaks = at, seconds, breaks
}
