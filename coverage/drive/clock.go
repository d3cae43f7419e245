package drive

import (
	"math"

	"balk/geo/plane"
)

const (
	// wrongClock: one operation does not lie a year apart; such a step is a fault
	// of the clock.
	wrongClock = 366 * 86400.0 // s
	// tick: the clock has not gone on by less; the finest logs have 100 fixes a second.
	tick = 1e-3 // s
)

// ClockStep is the way from one timed fix to the next later one.
type ClockStep struct {
	Activity Activity
	Metres   float64
	Seconds  float64 // 0: the metres have no time
	Fault    bool    // of the clock
	Silent   bool    // nothing was logged there: between two parts, or longer than a log gap
	Still    bool    // silent, and the set did not move on
	moved    float64 // m, as the crow flies
	between  bool    // two parts
}

// ClockSteps calls f for every step of the clock through the stretches of one
// track. Their metres add up to the stretches' lengths.
func ClockSteps(log []Stretch, w Work, f func(ClockStep)) {
	l := silenceOf(log, w)
	clockSteps(log, func(c ClockStep) {
		c.Silent, c.Still = c.between, c.between && c.moved < parked
		if c.Seconds > l.time {
			c.Silent, c.Still = true, c.moved <= max(gapMoved*l.usual, parked)
		}
		f(c)
	})
}

// clockSteps is ClockSteps before silence is told.
func clockSteps(log []Stretch, f func(ClockStep)) {
	last, place := math.NaN(), plane.XY{} // the last timed fix
	for _, s := range log {
		way := 0.0 // since the last timed fix, in this stretch
		fresh := true
		for k, at := range s.Line {
			if k > 0 {
				way += at.Dist(s.Line[k-1])
			}
			now := math.NaN()
			if k < len(s.Seconds) {
				now = s.Seconds[k]
			}
			dt := now - last
			switch {
			case math.IsNaN(now) || math.IsInf(now, 0) || dt >= 0 && dt < tick && !fresh:
				continue // the way goes on
			case dt < 0 || dt > wrongClock:
				f(ClockStep{Activity: s.Activity, Metres: way, Fault: true})
			case fresh: // first timed fix of the stretch
				if way > 0 {
					f(ClockStep{Activity: s.Activity, Metres: way})
				}
				if dt > 0 {
					f(ClockStep{Activity: ActivityUnknown, Seconds: dt, moved: at.Dist(place), between: true})
				}
			default:
				f(ClockStep{Activity: s.Activity, Metres: way, Seconds: dt, moved: at.Dist(place)})
			}
			last, place, way, fresh = now, at, 0, false
		}
		if way > 0 {
			f(ClockStep{Activity: s.Activity, Metres: way})
		}
	}
}

// silenceOf is what makes a silence in one track: the time of a log gap (see
// limitsOf), but no less than five usual steps of the clock; and its usual step.
func silenceOf(log []Stretch, w Work) limits {
	fixes := 0
	for _, s := range log {
		fixes += len(s.Line)
	}
	steps, times := make([]float64, 0, fixes), make([]float64, 0, fixes)
	clockSteps(log, func(c ClockStep) {
		if c.Seconds > 0 && !c.between {
			times = append(times, c.Seconds)
			if c.moved >= parked {
				steps = append(steps, c.moved)
			}
		}
	})
	l := limits{time: gapTime}
	if w.GapTime > 0 {
		l.time = w.GapTime
	}
	if len(times) > 0 {
		l.time = max(l.time, gapSteps*Median(times))
	}
	if len(steps) > 0 {
		l.usual = Median(steps)
	}
	return l
}
