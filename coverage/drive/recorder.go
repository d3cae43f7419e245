package drive

import (
	"cmp"
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
	// fewTurns and turnsIn: a log without a work state shows that by as many turns between what is logged, and by a tenth as many within it at most.
	fewTurns, turnsIn = 8, 0.1
	// ruled: no receiver puts half of its fixes so evenly.
	ruled = 0.001 // m
)

// whyAssumed is why the fixes of a log without a work state are work, if assumeWork takes them so.
const whyAssumed = "no turns are logged: fixes are taken to be logged only while the tool works"

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
		if !t.assumed && slices.Contains(t.State, geo.Lifted) {
			return nil
		}
	}
	ends, count := make([][]workEnd, len(trails)), 0
	for i, t := range trails {
		if t.State == nil {
			continue
		}
		if every := t.interval(); t.assumed || every > 0 {
			ends[i] = t.workEnds(every)
			count += len(ends[i])
		}
	}
	if count < fewEnds {
		return nil
	}
	longest := 0.0
	for i, t := range trails {
		if len(ends[i]) > 0 {
			every := t.interval()
			t.liftBeside(ends[i], every)
			longest = max(longest, every)
		}
	}
	what := fmt.Sprintf("fixes are logged only while the tool works: at %d ends of work it was in for up to %.2g s more, half of which is taken", count, longest)
	switch {
	case trails[0].assumed && longest > 0:
		what = fmt.Sprintf("no work state is looked at, and the turns are not logged: fixes are taken to be logged only while the tool works, and at %d ends of work it was in for up to %.2g s more, half of which is taken", count, longest)
	case trails[0].assumed:
		what = fmt.Sprintf("neither work state nor times are logged, nor turns: fixes are taken to be logged only while the tool works, and at %d ends of work it was in for up to a step more, half of which is taken", count)
	}
	return []geo.Finding{{File: trails[0].source, Record: trails[0].tracks[0].record, What: what}}
}

// assumeWork takes logs whose work state is not logged, or not to be looked at, to be logged only while the tool works, if the turns are missing in
// them: all fixes work but those far outside the boundary. It says whether that is so. The log of a recorder that always runs has turns in it, whatever holes it has.
func assumeWork(trails []*trail, scene *scene, w Work) bool {
	silent := func(t *trail) bool { return t.State == nil || w.Working == EvidenceInferred }
	if w.Working == EvidenceLogged || w.Working == EvidenceAll || slices.ContainsFunc(trails, func(t *trail) bool { return !silent(t) || t.interval() == 0 && t.pitch() == 0 }) {
		return false
	}
	byTime := slices.Clone(trails)
	slices.SortStableFunc(byTime, func(a, b *trail) int {
		if !a.timed || !b.timed {
			return 0
		}
		return cmp.Compare(a.seconds[0], b.seconds[0])
	})
	between, within := 0, 0
	for i, t := range byTime {
		if i > 0 && !byTime[i-1].straightOn(t) {
			between++
		}
		jitter, from, every := jitterOf(t), 0, t.interval()
		for k := 1; k <= len(t.at); k++ {
			if k < len(t.at) {
				_, broken := slices.BinarySearch(t.breaks, k)
				if !broken && !t.hole(k, every) || t.goesOn(k) {
					continue
				}
				between++
			}
			c := courseOf(t, span{from, k - 1}, jitter)
			c.findBends(w)
			c.dropRounds(t, scene, w)
			within += len(c.bends)
			from = k
		}
	}
	if between < fewTurns || float64(within) > turnsIn*float64(between) {
		return false
	}
	for _, t := range trails {
		t.assumed, t.State = true, make([]geo.WorkState, len(t.at))
		for k, p := range t.at {
			if t.State[k] = geo.Working; scene.at(p) == zoneAway {
				t.State[k] = geo.Lifted
			}
		}
	}
	return true
}

// interval is the usual time between two fixes of a trail, s; 0: they do not come at regular times.
func (t *trail) interval() float64 {
	if !t.timed {
		return 0
	}
	return usually(t.times())
}

// pitch is the usual step between two fixes of a trail without times, m; 0: they do not come at regular distances, or as by a ruler: such a line was drawn.
func (t *trail) pitch() float64 {
	if t.timed {
		return 0
	}
	var steps []float64
	t.steps(func(_ int, d float64) { steps = append(steps, d) })
	pitch, alike := usually(steps), 0
	for _, d := range steps {
		if math.Abs(d-pitch) <= ruled {
			alike++
		}
	}
	if 2*alike >= len(steps) {
		return 0
	}
	return pitch
}

// usually is the median of what two thirds are like; 0: there is none.
func usually(of []float64) float64 {
	usual, near := evenly(of)
	if float64(near) < regular*float64(len(of)) {
		return 0
	}
	return usual
}

// evenly is the median, and how many are about as much.
func evenly(of []float64) (usual float64, near int) {
	if len(of) == 0 {
		return 0, 0
	}
	usual = Median(of)
	for _, v := range of {
		if math.Abs(v-usual) <= regularBy*usual {
			near++
		}
	}
	return usual, near
}

// hole says whether the step to fix k takes longer than is usual.
func (t *trail) hole(k int, interval float64) bool {
	return t.seconds[k]-t.seconds[k-1] > (1+regularBy)*interval
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
		hole := works(k-1) && works(k) && t.hole(k, interval)
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
	if o := t.movedTo(k, by); o >= 0 {
		return t.at[o].Sub(t.at[k]).Scale(float64(by))
	}
	return plane.XY{}
}

// movedTo is the first fix before k (by -1), or behind it (1), at which the set has moved; -1: there is none in that part of the log.
func (t *trail) movedTo(k, by int) int {
	for o := k + by; o >= 0 && o < len(t.at); o += by {
		if _, broken := slices.BinarySearch(t.breaks, max(o, o-by)); broken {
			break
		}
		if t.at[o].Dist(t.at[k]) >= parked {
			return o
		}
	}
	return -1
}

// stepBeyond is how far the set goes on from fix k, backwards (by -1) or forwards (1): within an interval at the speed driven there or, where no
// times are logged, by what it drove last, but not farther than by a usual step.
func (t *trail) stepBeyond(k, by int, interval, pitch float64) plane.XY {
	o := t.movedTo(k, -by)
	if o < 0 {
		return plane.XY{}
	}
	way := t.at[k].Sub(t.at[o])
	if over := math.Abs(t.seconds[k] - t.seconds[o]); over > 0 {
		return way.Scale(interval / over)
	}
	return way.Scale(min(1, pitch/way.Len()))
}

// liftBeside puts a lifted fix beside each of the ends, an interval away at the speed driven there. Between two of them the log breaks.
func (t *trail) liftBeside(ends []workEnd, interval float64) {
	n := len(t.at) + len(ends)
	rows := make([]int, 0, n)
	at, seconds, breaks := make([]plane.XY, 0, n), make([]float64, 0, n), make([]int, 0, len(t.breaks)+len(ends)/2)
	shifted := make([]int, 0, len(t.at)) // where a fix stands now
	var lifted []int
	pitch := t.pitch()
	beside := func(e workEnd) {
		by := 1
		if !e.ahead {
			by = -1
		}
		lifted = append(lifted, len(rows))
		rows = append(rows, e.fix)
		at, seconds = append(at, t.at[e.fix].Add(t.stepBeyond(e.fix, by, interval, pitch))), append(seconds, t.seconds[e.fix]+float64(by)*interval)
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
