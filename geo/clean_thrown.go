package geo

import "math"

const (
	// tooFast: no field machine drives faster; tractors run up to 60 km/h on the
	// road (common practice, no source), this is 72 km/h.
	tooFast = 20.0 // m/s
	// thrownLeast: less than this is noise of a receiver without corrections near trees.
	thrownLeast = 10.0 // m
	// thrownSteps: a leg is long only beyond so many usual steps.
	thrownSteps = 10.0
	// thrownTime, thrownRun: receivers find back within a minute, 600 fixes at 10 Hz;
	// what stays away longer may be a true journey (common practice, no source).
	thrownTime = 60.0 // s
	thrownRun  = 600  // fixes
	// Without times only a few fixes at a time, in tracks long enough to know the
	// usual step: thinned passes look like throws.
	// The way from before to after may be so many times the usual steps between, or it is two log gaps.
	thrownUntimed = 3
	untimedWay    = 2.0
	thrownKnown   = 20 // fixes
	// thrownEnds: at the start and end of a part there is no way back that proves
	// the throw, so a leg must be too fast by this factor.
	thrownEnds = 2.0
	// opposed: the legs out and back lie within 60° of opposite directions; cos 120°.
	opposed = -0.5
	// trimmed: this part of the steps, the longest, does not count for the usual step
	// of a track without times: its throws are among them. At least the two legs of one.
	trimmed = 0.01
)

// thrown: a leg between two fixes is long if it is longer than thrownLeast,
// thrownSteps usual steps, and what a machine drives in its time at tooFast.
//
//	·  ·  a−1            b  ·  ·      out: long     back: long
//	        \           /             a−1 to b: drivable
//	          a  ·  b−1
//
// The fixes between two long legs, not more than thrownRun and within thrownTime,
// were thrown off if from the fix before to the fix after them one can drive, and if
// the legs oppose each other or the direct way is less than half of the shorter leg. Where
// a long leg has no partner, the fixes before (or else after) it are thrown if they are
// as few, at the start (end) of the part, less than half of it, and the leg is too fast twice
// over: the bulk wins. A jump that stays is none, nor is one that the time explains.
// Without times see thrownUntimed; the ends have no rule there.
func (c *cleaning) thrown() {
	var u *usual // measured at the first step that asks for it
	for start, end := range c.parts() {
		from := start // first fix of the part that is kept
		for a := start + 1; a < end; a++ {
			leg := c.apart(a-1, a)
			if leg <= thrownLeast {
				continue
			}
			if u == nil {
				u = c.usualOf()
			}
			if !u.known || leg <= u.reach(c, a-1, a) {
				continue
			}
			if b := c.wayBack(u, a, end); b > 0 {
				c.dropRun(a, b)
				a = b // the leg to b goes with the throw
				continue
			}
			if !u.timed || !(c.seconds(a)-c.seconds(a-1) > 0) || leg <= thrownEnds*u.reach(c, a-1, a) {
				continue
			}
			if c.shortRun(from, a, end-from) {
				c.dropRun(from, a)
				from = a
			} else if c.shortRun(a, end, end-from) {
				c.dropRun(a, end)
				break
			}
		}
	}
	c.cut()
}

func (c *cleaning) dropRun(from, to int) {
	for k := from; k < to; k++ {
		if !c.dropped(k) {
			c.drop(k, FaultThrown)
		}
	}
}

// shortRun says whether from..to-1 can be a throw at one end of a part of so many fixes.
func (c *cleaning) shortRun(from, to, of int) bool {
	n := to - from
	return n <= thrownRun && 2*n < of && c.lasting(from, to) <= thrownTime
}

// wayBack finds the fix b at which the throw that began with a long leg to a is
// over; 0: none.
func (c *cleaning) wayBack(u *usual, a, end int) int {
	most := thrownRun
	if !u.timed {
		most = thrownUntimed
	}
	out := c.apart(a-1, a)
	for b := a + 1; b < end && b-a <= most; b++ {
		if c.seconds(b)-c.seconds(a-1) > thrownTime {
			return 0
		}
		back := c.apart(b-1, b)
		if back <= thrownLeast || back <= u.reach(c, b-1, b) {
			continue
		}
		direct := c.apart(a-1, b)
		if direct > u.reach(c, a-1, b) {
			continue
		}
		short := 2*direct <= min(out, back)
		if u.timed && (short || c.opposed(a, b)) || short && direct <= untimedWay*u.step*float64(b-a+1) {
			return b
		}
	}
	return 0
}

// opposed says whether the legs a-1 to a and b-1 to b go out and back.
func (c *cleaning) opposed(a, b int) bool {
	_, lat := c.lonLat(a)
	cos := math.Cos(lat * math.Pi / 180)
	leg := func(k int) (x, y float64) {
		lon1, lat1 := c.lonLat(k - 1)
		lon2, lat2 := c.lonLat(k)
		return math.Remainder(lon2-lon1, 360) * cos, lat2 - lat1
	}
	x1, y1 := leg(a)
	x2, y2 := leg(b)
	return x1*x2+y1*y2 <= opposed*math.Hypot(x1, y1)*math.Hypot(x2, y2)
}

// off is how far the farthest of the thrown fixes from..to-1 of the raw track r
// lies from the nearer of the kept fixes before and after them in their part, m.
func (c *cleaning) off(r *fixes, from, to, start, end int) (off float64) {
	before, after := from-1, to
	for before >= start && c.why[before] != 0 {
		before--
	}
	for after < end && c.why[after] != 0 {
		after++
	}
	for k := from; k < to; k++ {
		near := math.Inf(1)
		if before >= start {
			near = r.apart(before, k)
		}
		if after < end {
			near = min(near, r.apart(after, k))
		}
		if !math.IsInf(near, 0) { // the whole part went: nothing to measure from
			off = max(off, near)
		}
	}
	return off
}

// usual is how a track goes on from fix to fix.
type usual struct {
	step, dt float64 // m, s; dt 0: not timed
	timed    bool
	known    bool // enough fixes to tell
}

// reach is how far one gets from fix a to fix b, m.
func (u *usual) reach(c *cleaning, a, b int) float64 {
	dt := c.seconds(b) - c.seconds(a)
	if !(dt > 0) { // not logged, or the clock is too coarse or was set back
		dt = float64(b-a) * u.dt
	}
	return max(thrownLeast, thrownSteps*u.step, tooFast*dt)
}

// usualOf measures the track: for timed tracks the median step and time. A line
// without times may be thinned (two points for a straight 400 m, many for a bend);
// there it is the step in which half of the way is driven, less the longest
// hundredth of the steps.
func (c *cleaning) usualOf() *usual {
	var steps, times histogram
	for k := range c.steps() {
		if d := c.apart(k-1, k); d >= moved {
			steps.add(d)
		}
		if dt := c.seconds(k) - c.seconds(k-1); dt > 0 {
			times.add(dt)
		}
	}
	u := &usual{timed: times.n > 0, known: true}
	if u.timed {
		u.step, u.dt = steps.median(), times.median()
		return u
	}
	u.known = c.len() >= thrownKnown
	u.step = steps.halfway(max(2, int(trimmed*float64(steps.n))))
	return u
}

// histogram counts positive numbers in bins a quarter of a power of two wide: a median without
// sorting or memory, to 25 %.
type histogram struct {
	bins [1 << 13]int32 // by the exponent and two bits of the fraction
	n    int
}

const binShift = 50 // bits of a float64 below the two

func (h *histogram) add(v float64) {
	h.bins[math.Float64bits(v)>>binShift]++
	h.n++
}

// top is the upper edge of a bin.
func (h *histogram) top(bin int) float64 { return math.Float64frombits(uint64(bin+1) << binShift) }

// median is the upper edge of the bin that holds the median; 0 if empty.
func (h *histogram) median() float64 {
	seen := 0
	for i, k := range &h.bins {
		if seen += int(k); k > 0 && 2*seen >= h.n {
			return h.top(i)
		}
	}
	return 0
}

// halfway is the upper edge of the bin in which half of the sum of all numbers, shortest first,
// is reached, the longest so many left out; 0 if none are left.
func (h *histogram) halfway(longest int) float64 {
	left := h.n - longest
	sum := func(until float64) (s float64, bin int) {
		seen := 0
		for i, k := range &h.bins {
			k := min(int(k), left-seen)
			if k <= 0 {
				continue
			}
			seen += k
			if s += float64(k) * h.top(i); s >= until {
				return s, i
			}
		}
		return s, -1
	}
	all, _ := sum(math.Inf(1))
	if _, bin := sum(all / 2); all > 0 && bin >= 0 {
		return h.top(bin)
	}
	return 0
}
