package drive

import (
	"fmt"
	"math"
	"slices"

	"balk/geo"
)

// fewChanges: a work state that is known at fewer fixes does not show that it is written only where it changes. That ten in a row
// each differ from the one before by chance is one in a thousand.
const fewChanges = 10

const (
	// atChange: where fixes come at regular times or distances and the tool is switched at any time between two, four steps to changes in five are that much
	// shorter if a fix is added there, and none if not. So a third of them shows it, and by chance one log of ten changes in a thousand does not.
	atChange = 0.8
	// besideChanges: so many steps at work behind each change tell the usual one.
	besideChanges = 12
	// atOnce: a recorder tells a change no faster, common practice, no source.
	atOnce = 0.1 // s
)

// heldStates are the work states of a track in which they are written only where they change: known at less than half of the fixes, and each time
// another one than before. Such a state holds until the next one, and before the first there was the other. ok is false where states are written otherwise.
func heldStates(states []geo.WorkState) (held []geo.WorkState, changes int, ok bool) {
	last, first := geo.StateUnknown, geo.StateUnknown
	for _, s := range states {
		switch {
		case s == geo.StateUnknown:
			continue
		case s == last:
			return nil, 0, false
		case changes == 0:
			first = s
		}
		last = s
		changes++
	}
	if changes < fewChanges || 2*changes >= len(states) {
		return nil, 0, false
	}
	last = geo.Working
	if first == geo.Working {
		last = geo.Lifted
	}
	held = make([]geo.WorkState, len(states))
	for k, s := range states {
		if s != geo.StateUnknown {
			last = s
		}
		held[k] = last
	}
	return held, changes, true
}

// hold fills in the work states of a track that are written only where they change, and says so.
func (t *trail) hold(track geo.Track, record int) (states []geo.WorkState, found []geo.Finding) {
	held, changes, ok := heldStates(track.State)
	if !ok {
		return track.State, nil
	}
	return held, []geo.Finding{{File: t.source, Record: record,
		What: fmt.Sprintf("the work state is written at %d of %d fixes, each time another one: taken to hold from there to the next", changes, len(held))}}
}

// marks is how long before the fix that has another work state the tool was switched at most, s, where the recorder adds a fix at each change to those it takes
// at regular times or distances: a tick of its clock, by which it looks at the tool. 0: there is no such fix, and the tool was switched anywhere in the step.
//
//	working   ·        ·        ·   ·        ·     the one behind the shorter step is added
func (t *trail) marks() (within float64) {
	if !t.timed {
		return 0
	}
	var usual, changes [2][]float64 // s and m
	tick := 0                       // ms
	add := func(steps *[2][]float64, k int) {
		seconds := t.seconds[k] - t.seconds[k-1]
		tick = commonDivisor(tick, int(math.Round(1000*seconds)))
		steps[0], steps[1] = append(steps[0], seconds), append(steps[1], t.at[k].Dist(t.at[k-1]))
	}
	follows := func(k int) bool {
		_, broken := slices.BinarySearch(t.breaks, k)
		return !broken && k > 0 && k < len(t.at)
	}
	for _, r := range byState(t) {
		if follows(r.from) && t.State[r.from-1] == geo.Lifted {
			add(&changes, r.from)
		}
		if follows(r.to+1) && t.State[r.to+1] == geo.Lifted {
			add(&changes, r.to+1)
		}
		for k := r.from + 1; k <= min(r.to, r.from+besideChanges); k++ {
			add(&usual, k)
		}
	}
	by := 0
	_, times := evenly(usual[0])
	if _, distances := evenly(usual[1]); distances > times {
		by = 1
	}
	if len(changes[by]) < fewChanges || !shorter(changes[by], usually(usual[by])) {
		return 0
	}
	return max(atOnce, float64(tick)/1000)
}

// shorter says whether a third of the steps are shorter than the usual one by what a fix at a change makes, and hardly any is longer.
func shorter(steps []float64, usual float64) bool {
	short, long := 0, 0
	for _, s := range steps {
		if s < atChange*usual {
			short++
		}
		if s > (1+regularBy)*usual {
			long++
		}
	}
	return 3*short >= len(steps) && 10*long <= len(steps)
}

// commonDivisor is the greatest common divisor.
func commonDivisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// before is the earliest time at which the state that fix k has may have begun.
func (t *trail) before(k int, within float64) float64 {
	if within > 0 {
		return max(t.seconds[k-1], t.seconds[k]-within)
	}
	return t.seconds[k-1]
}
