package coverage

// Worth is what working missed strips again wins, those that win most per minute first.
type Worth struct {
	Steps    []Won   `json:"steps"`              // ascending in area and time
	Approach float64 `json:"approach,omitempty"` // s, for coming back once the set has left
	Rate     float64 `json:"rate,omitempty"`     // m²/s of the operation itself; 0 = its log has no times
}

// Won is what so many strips together win in one go.
type Won struct {
	Strips []int   `json:"strips"` // numbers of those that come on top of the step before
	Count  int     `json:"count"`  // strips up to here
	Area   float64 `json:"area"`   // m²
	Time   float64 `json:"time"`   // s, ways between them and passes, from the gate and back
}

// All is the last step: all strips.
func (w Worth) All() Won {
	if len(w.Steps) == 0 {
		return Won{}
	}
	return w.Steps[len(w.Steps)-1]
}

// Share is the first step that wins this share of what all win.
func (w Worth) Share(share float64) Won {
	for _, s := range w.Steps {
		if s.Area >= share*w.All().Area*(1-1e-9) {
			return s
		}
	}
	return w.All()
}

// Within is the last step that takes so many seconds at most; nothing where even the first takes longer.
func (w Worth) Within(seconds float64) Won {
	var best Won
	for _, s := range w.Steps {
		if s.Time <= seconds {
			best = s
		}
	}
	return best
}

// Knee is the step from which on a minute wins less than it does on average over all: there the curve lies highest above the straight
// from nothing to all. Less than half is never a knee: the strip nearest to the gate costs hardly any way, and alone is no re-work. Who has an
// approach to spend first stays longer: up to the step, from there on, that wins most per minute with the approach counted (Charnov 1976,
// Optimal foraging, the marginal value theorem, from memory).
func (w Worth) Knee() Won {
	all := w.All()
	best, high := all, 0.0
	for _, s := range w.Steps {
		if above := s.Area/all.Area - s.Time/all.Time; s.Area >= all.Area/2 && above > high+1e-9 {
			best, high = s, above
		}
	}
	for _, s := range w.Steps {
		if w.Approach > 0 && s.Count > best.Count && s.Area*(best.Time+w.Approach) > best.Area*(s.Time+w.Approach) {
			best = s
		}
	}
	return best
}

const (
	// fixed: a receiver with no more error from pass to pass has its phase fixed to a station's, and comes back to the same place.
	fixed = 0.05 // m
	// The errors of receivers from one day to the next, 95 %, from memory: with the phase fixed, and with a service for its area.
	dayFixed, dayOther = 0.05, 1.0 // m
)

// DayError is how far places of this log may lie off on another day, m: a strip narrower than twice that is not found by its place.
func (r Result) DayError() float64 {
	if r.Noise.PassErrorFrom != "" && r.Noise.PassErrorFrom != fromSpread && r.Noise.PassError <= fixed {
		return dayFixed
	}
	return dayOther
}

// Narrow says whether a strip is to be found along its pass rather than by its place.
func (r Result) Narrow(s Strip) bool { return s.MaxWidth < 2*r.DayError() }
