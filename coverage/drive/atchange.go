package drive

import (
	"fmt"

	"balk/geo"
)

// fewChanges: a work state that is known at fewer fixes does not show that it is written only where it changes. That ten in a row
// each differ from the one before by chance is one in a thousand.
const fewChanges = 10

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
