package read

import (
	"fmt"
	"math"
	"time"
)

// localClock takes times that name no zone to UTC: as they stand, or as the local time of a
// zone. Where the clock is put back an hour of local times comes twice; which of the
// two is meant is told by the time before, since a log goes on.
type localClock struct {
	zone *time.Location // nil: taken as UTC
	last float64        // s UTC, of the time before
	seen bool           // there is one before
	open bool           // in which of the two hours the log goes on was guessed, and not told since
}

const (
	// backwards: a log's clock is read as put back if it fell behind the time before by more than this:
	// fixes written out of turn are some seconds apart.
	backwards = 60.0 // s
	// soon: a log that goes on within this time after the one before is in the first of the two hours.
	soon = 1800.0 // s
)

// shift is how far the zone is ahead of UTC at a time, s.
func (c *localClock) shift(utc float64) float64 {
	_, s := time.Unix(int64(math.Floor(utc)), 0).In(c.zone).Zone()
	return float64(s)
}

// wall is the local time of a UTC time.
func (c *localClock) wall(utc float64) float64 {
	if c.zone == nil || math.IsNaN(utc) {
		return utc
	}
	return utc + c.shift(utc)
}

// again is the UTC time of a local time that was read before and changed since.
func (c *localClock) again(wall float64) float64 {
	if c.zone == nil || math.IsNaN(wall) {
		return wall
	}
	return wall - c.shift(wall-c.shift(wall))
}

// twice says that a time is guessed to be in the first of two hours.
func (c *localClock) twice() string {
	return fmt.Sprintf("a time lies in the hour that comes twice as the clocks of %s are put back, and the log does not tell in which: taken as the first", c.zone)
}

// unzoned is the UTC time of a time of record that names no zone.
func (t *tally) unzoned(record int, wall float64) float64 {
	c := &t.clock
	if c.zone == nil {
		t.count(record, false, "a time without zone is taken as UTC (--log-zone names its zone)")
		return wall
	}
	t.count(record, false, fmt.Sprintf("a time without zone is taken as local time in %s", c.zone))
	const day = 86400.0
	before, after := c.shift(wall-day), c.shift(wall+day)
	early, late := wall-max(before, after), wall-min(before, after)
	is := func(utc float64) bool { return utc+c.shift(utc) == wall }
	utc := early
	switch once, again := is(early), is(late); {
	case once && again && early != late:
		switch {
		case c.seen && c.last-early > backwards:
			utc = late
			if c.open { // what goes back an hour was in the first
				t.settled(c.twice())
				c.open = false
			}
		case !c.seen || early-c.last > soon:
			t.count(record, false, c.twice())
			c.open = true
		}
	case once:
		c.open = false
	case again:
		utc, c.open = late, false
	default: // before the clock was put forward, had it gone on
		utc = wall - before
		t.count(record, false, fmt.Sprintf("a time lies in the hour that the clocks of %s leave out: taken as before the change", c.zone))
	}
	c.last, c.seen = utc, true
	return utc
}

// joinDate puts the day and the time of day of a record together.
func (t *tally) joinDate(record int, v *values) {
	switch {
	case v.clock && v.hasDate:
		if v.v[timeColumn] += v.date; !v.zoned {
			v.v[timeColumn] = t.unzoned(record, v.v[timeColumn])
		}
	case v.clock:
		t.count(record, false, "a time of day without a date: times go on from it, and no date is shown")
	case v.hasDate && v.has&(1<<timeColumn) == 0:
		t.count(record, false, "a date without a time of day is not used")
	}
}
