package geo

import (
	"math"
)

const (
	// clockLeap: no receiver's latency, nor the 18 leap seconds between its time
	// and UTC, makes the step from fix to fix longer than usual by more.
	clockLeap = 60.0 // s
	// clockYear: no log goes on after more than a year at the place where it stopped.
	clockYear = 366 * 24 * 3600.0 // s
	// clockSteady: the place went on across a leap of years: not farther than the
	// step that counts as a log gap in any case (coverage).
	clockSteady = 25.0 // m
	// clockDates: a run of wrong times may hold so many different dates.
	clockDates = 8
)

// clocks: the time of a fix is certainly wrong, and becomes NaN, if
//   - inside a part the time leaps by more than a year, forth or back, while the place
//     goes on (clockSteady): start-up dates, a week counter that rolled over. Wrong is the side farther
//     from the middle time of the track, up to the next leap by more than a year.
//   - inside a part the time leaps (back, or ahead by clockLeap more than usual) and then leaps, at once
//     or after others, to where it would be had it run on (to clockLeap, and to half of the first
//     leap): wrong is what lies between, if it is less than half of the part.
//
// Any other step back inside a part is noted and its times are kept: a clock set
// back by an hour. A long silence is no fault, and neither is time going back
// between parts: files may be joined in any order.
//
// A block sent again makes time go back too. It is no fault of the clock: see resent.
func (c *cleaning) clocks() {
	if c.m < 0 {
		return
	}
	odd, back := c.clockOdd()
	if back && c.resent() {
		odd, _ = c.clockOdd()
	}
	if odd {
		c.eras()
		c.excursions()
	}
}

// clockOdd says whether the time leaps inside a part, and whether it goes back
// anywhere.
func (c *cleaning) clockOdd() (odd, back bool) {
	last := math.NaN()
	for from, to := range c.parts() {
		first := true
		for _, s := range c.timed(from, to) {
			dt := s - last
			back = back || dt < 0
			odd = odd || !first && (dt < 0 || dt > clockLeap)
			last, first = s, false
		}
	}
	return odd, back
}

// record is what a receiver sends again unchanged.
type record struct{ seconds, lon, lat float64 }

func (f *fixes) record(k int) record {
	lon, lat := f.lonLat(k)
	return record{f.seconds(k), lon, lat}
}

// resent: in a track whose time goes back somewhere, a fix with the very time and place of an
// earlier fix was sent or copied again. In the part of that fix it is set aside as a repeat.
// In a later part (files that overlap) it stays where a step that is new begins or
// ends at it: the neighbour in its part is no copy.
func (c *cleaning) resent() bool {
	seen := make(map[record]int32, c.len()) // part of the first
	const fresh, again, copied = 0, 1, 2
	kind := make([]uint8, c.len())
	part := int32(0)
	for start, end := range c.parts() {
		for k := start; k < end; k++ {
			r := c.record(k)
			if math.IsNaN(r.seconds) {
				continue
			}
			first, known := seen[r]
			switch {
			case !known:
				seen[r] = part
			case first == part:
				kind[k] = again
			default:
				kind[k] = copied
			}
		}
		part++
	}
	for start, end := range c.parts() {
		for k := start; k < end; k++ {
			switch kind[k] {
			case again:
				c.drop(k, FaultRepeat)
			case copied:
				if (k == start || kind[k-1] != fresh) && (k+1 == end || kind[k+1] != fresh) {
					c.drop(k, FaultRepeat)
				}
			}
		}
	}
	found := c.gone != nil
	c.cut()
	return found
}

// eras takes away the times on the wrong side of leaps by years.
func (c *cleaning) eras() {
	middle := math.NaN() // of all times; found at the first leap
	for start, end := range c.parts() {
		run, last := start, -1 // first fix of the run of time, and the timed fix before
		for k := start; k < end; k++ {
			s := c.seconds(k)
			if math.IsNaN(s) {
				continue
			}
			if last >= 0 && math.Abs(s-c.seconds(last)) > clockYear {
				if c.apart(last, k) <= clockSteady {
					if math.IsNaN(middle) {
						middle = c.middleTime()
					}
					by := c.seconds(last) - s
					if math.Abs(s-middle) >= math.Abs(c.seconds(last)-middle) {
						to := c.untilLeap(k, end)
						c.unclockRun(k, to, -by)
						k = to - 1
						continue // what follows is compared with last
					}
					c.unclockRun(run, k, by)
				}
				run = k
			}
			last = k
		}
	}
}

// untilLeap is the fix before which the run of time that begins at k ends.
func (c *cleaning) untilLeap(k, end int) int {
	last := c.seconds(k)
	for k, s := range c.timed(k+1, end) {
		if math.Abs(s-last) > clockYear {
			return k
		}
		last = s
	}
	return end
}

// middleTime is the upper median of all times of the track.
func (c *cleaning) middleTime() float64 {
	var all []float64
	for _, s := range c.timed(0, c.len()) {
		all = append(all, s)
	}
	return upperMedian(all)
}

// usualTime is the upper median of the times from fix to fix that go ahead, s; 0: none do.
func (c *cleaning) usualTime() float64 {
	var all []float64
	last := math.NaN()
	for _, s := range c.timed(0, c.len()) {
		if s > last {
			all = append(all, s-last)
		}
		last = s
	}
	return upperMedian(all)
}

func (c *cleaning) unclockRun(from, to int, by float64) {
	for k := range c.timed(from, to) {
		c.unclock(k, by)
	}
}

// leap is a place where the time of a part does not run on.
type leap struct {
	at  int     // fix after it
	nth int     // how many timed fixes of the part lie before it
	by  float64 // s, more than the usual step
	sum float64 // s, of all leaps of the part before it
}

// excursions takes away times that leave and come back, and notes the other steps back.
func (c *cleaning) excursions() {
	dt := c.usualTime()
	for start, end := range c.parts() {
		timed := 0
		for range c.timed(start, end) {
			timed++
		}
		var open []leap
		noted := len(c.back)
		nth, last, sum := 0, math.NaN(), 0.0
		for k, s := range c.timed(start, end) {
			if step := s - last; step < 0 || step-dt > clockLeap {
				here := leap{k, nth, step - dt, sum}
				if i := came(open, here, timed); i >= 0 {
					e := open[i]
					c.unclockRun(e.at, k, e.by)
					open, sum = open[:i], e.sum
					c.forget(noted, c.logged(e.at))
				} else {
					open, sum = append(open, here), sum+here.by
					if step < 0 {
						c.back = append(c.back, note{c.logged(k), here.by})
					}
				}
			}
			last = s
			nth++
		}
	}
}

// forget takes back the notes beyond so many on fixes from raw on.
func (c *cleaning) forget(noted, raw int) {
	for n := len(c.back); n > noted && c.back[n-1].raw >= raw; n-- {
		c.back = c.back[:n-1]
	}
}

// came finds the open leap that the leap here makes good: all leaps from there to here sum up
// to nothing, to clockLeap or half of the first one. -1: none.
func came(open []leap, here leap, timed int) int {
	for i := len(open) - 1; i >= max(0, len(open)-clockDates); i-- {
		e := open[i]
		off := here.sum + here.by - e.sum
		if 2*(here.nth-e.nth) < timed && math.Abs(off) <= min(clockLeap, math.Abs(e.by)/2) {
			return i
		}
	}
	return -1
}
