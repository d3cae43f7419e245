package drive

import (
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

// pace is how one track was logged, as far as joining it to another needs it.
type pace struct {
	limits
	speed float64 // m/s, usual step by usual time; 0: not known
}

func paceOf(t *trail, w Work) pace {
	p := pace{limits: limitsOf(t, w)}
	times := t.times()
	if len(times) > 0 {
		p.speed = p.usual / Median(times)
	}
	return p
}

// follows says whether track o goes on where trail t ends, and whether the two
// share that fix. Both must carry the same columns, and then either
//
//   - o starts at the very fix, place and time, at which t ends (of two that differ
//     in state see liftsAt); or
//   - o starts later, by a step that would be no log gap in one of the two tracks, no
//     faster than fastFactor times the usual speed of the faster one, and either no
//     longer than the longer of their usual steps or straight on.
//
// The second is what a logger leaves that starts a new file every some minutes. In
// one file the step would be taken as driven if it is no log gap, so it is here. But
// a step within a file is one machine's and its tool's state is told by its ends;
// over two files that must be seen:
//
//   - A machine cannot be in two places: tracks that overlap in time are of two.
//   - The limits of a gap are ten steps at field speed. One that starts so far off
//     after a shorter time would have had to jump there, hence the limit of speed.
//   - A file for each pass leaves out the turn between two, which goes aside, and so
//     does the step to a set that works beside this one and whose files begin when
//     this one's end. A usual step is shorter than two sets can be apart.
//
// Tracks without times are not told from those of two machines by any of this: they
// share a fix or stay apart.
func (t *trail) follows(o *trail) (shared, ok bool) {
	if !t.sameColumns(o) {
		return false, false
	}
	k := len(t.at) - 1
	d, dt := t.at[k].Dist(o.at[0]), o.seconds[0]-t.seconds[k]
	if d == 0 && sameNumber(t.seconds[k], o.seconds[0]) {
		return true, t.State == nil || t.State[k] == o.State[0] || t.liftsAt(o)
	}
	if !(dt > 0) || t.last.parts(d, dt) && o.last.parts(d, dt) {
		return false, false
	}
	if speed := max(t.last.speed, o.last.speed); speed > 0 && d > fastFactor*speed*dt {
		return false, false
	}
	return false, d <= max(parked, t.last.usual, o.last.usual) || t.straightOn(o)
}

// machines is how many sets may work on a field at once and start new files in turns, so that the
// file that a set goes on from is among so many before (common practice, no source).
const machines = 16

// cameFrom is the trail that track o goes on from: the one before it or, where several sets
// log at once, of the last ones that had ended by then the one that ended nearest. nil: none.
func cameFrom(trails []*trail, o *trail) (t *trail, shared bool) {
	n := len(trails)
	if n == 0 {
		return nil, false
	}
	if shared, ok := trails[n-1].follows(o); ok {
		return trails[n-1], shared
	}
	near := math.Inf(1)
	for k := n - 2; k >= max(0, n-machines); k-- {
		end := len(trails[k].at) - 1
		if !(trails[k].seconds[end] <= o.seconds[0]) {
			continue
		}
		if d := trails[k].at[end].Dist(o.at[0]); d < near {
			if s, ok := trails[k].follows(o); ok {
				t, shared, near = trails[k], s, d
			}
		}
	}
	return t, shared
}

// straightOn says whether the step from t to o lies within 45° of the way before it
// and of the way behind it, forwards.
func (t *trail) straightOn(o *trail) bool {
	last, first := t.at[len(t.at)-1], o.at[0]
	step := first.Sub(last)
	along := func(way plane.XY) bool { return way.Dot(step) > ownBearing*way.Len()*step.Len() }
	begin, end := 0, len(o.at) // of the parts that the step would join
	if n := len(t.breaks); n > 0 {
		begin = t.breaks[n-1]
	}
	if len(o.breaks) > 0 {
		end = o.breaks[0]
	}
	for k := len(t.at) - 2; k >= begin; k-- {
		if way := last.Sub(t.at[k]); way.Len() >= parked {
			if !along(way) {
				return false
			}
			break
		}
	}
	for _, p := range o.at[:end] {
		if way := p.Sub(first); way.Len() >= parked {
			return along(way)
		}
	}
	return true
}

func (t *trail) sameColumns(o *trail) bool {
	a, b := t.Columns, o.Columns
	a.HDOP, b.HDOP = nil, nil // where one has none nothing is known
	return slices.Equal(a.Logged(), b.Logged()) && (t.facing == nil) == (o.facing == nil)
}

// liftsAt says whether of the fix that t and o share one says lifted and the
// other does not, and the next fix on the lifted side is lifted as well: the step
// beside it on the lifted side must be seen to be lifted without that fix.
func (t *trail) liftsAt(o *trail) bool {
	k := len(t.State) - 1
	if t.State[k] == geo.Lifted {
		return k > 0 && t.State[k-1] == geo.Lifted
	}
	return o.State[0] == geo.Lifted && len(o.State) > 1 && o.State[1] == geo.Lifted
}

// join appends o to t, without repeating a fix they share.
func (t *trail) join(o *trail, shared bool) {
	skip := 0
	if shared {
		skip = 1
		if k := len(t.at) - 1; t.State != nil && t.State[k] == geo.Lifted { // see liftsAt
			t.State[k] = o.State[0]
		}
	}
	shift := len(t.at) - skip
	t.Columns.Join(len(t.at), o.Columns.Slice(skip, len(o.at)), len(o.at)-skip)
	for _, b := range o.breaks {
		t.breaks = append(t.breaks, b+shift)
	}
	for _, s := range o.tracks {
		t.tracks = append(t.tracks, trackStart{s.from + shift, s.track, s.record})
	}
	t.timed = t.timed || o.timed
	t.rounding = max(t.rounding, o.rounding)
	t.last = o.last
	t.at = append(t.at, o.at[skip:]...)
	t.seconds = append(t.seconds, o.seconds[skip:]...)
	if t.facing != nil {
		t.facing = append(t.facing, o.facing[skip:]...)
	}
}
