package geo

import "math"

// standRadius is how far the antenna of a standing set is seen from the first fix
// of the stand, m: about twice the wandering of the receiver over minutes, since
// that first fix is off as well. Common practice, no source.
var standRadius = [...]float64{
	QualityUnknown:      1.0, // not said: as with differential corrections, the usual thing on a field
	QualityNone:         1.0, // the column is not believed here
	QualitySingle:       2.0, // wanders 1 m and more within minutes
	QualityDifferential: 1.0, // some 0.3 m to 0.5 m
	QualityFloat:        0.5, // settles slowly, some 0.2 m
	QualityFixed:        0.1, // 2 cm, and the cab shakes in the wind and with the engine
	QualityEstimated:    2.0, // dead reckoning drifts like a receiver without corrections
}

// wanderRadius is standRadius for stands over which the position wanders out of that, m: a
// phone's by some metres within minutes (common practice, no source). 0: it does not.
var wanderRadius = [...]float64{
	QualityUnknown:   5.0, // may be a phone
	QualitySingle:    5.0,
	QualityEstimated: 5.0,
}

const (
	// crawl: who makes less way than this does no work with soil. The slowest work, planting
	// and spading, is done at 0.2 m/s and above (common practice, no source).
	crawl = 0.1 // m/s
	// standLeast: shorter stands turn the bar but little and are not worth a word.
	standLeast = 10.0 // s
	// standNear, a part of the radius: the last fix of a stand that lies so near to
	// its first is where the set drives off.
	standNear = 0.25
	// pacing: no set with an implement drives so many radii of way without leaving the circle.
	pacing = 20.0
	// wandering: a stand within wanderRadius is one only if the fixes make so many radii of way in
	// it. Driving through the circle, with a stop or a shunt in it, is one or two.
	wandering = 4.0
	// wanderStep is half of the time that makes a log gap.
	wanderStep = 5.0 // s
	// standOff: driving off out of the radius takes no longer than this.
	standOff = 10.0 // s
)

// standing: fixes of one work state, width and side shift that stay within
// standRadius (by the quality of the first) of the first of them for standLeast, and for so
// long that even at a crawl the set would have left it, are a stand. Of it stay the first, and
// where the set drives off: the last one near the first and those after it, if it takes
// no longer than standOff. Where the stand ends with a change of work state, or with the
// part, the last one stays: a pass keeps its end to the centimetre.
//
// A part is cut into such groups from its start: the fix that is outside the radius, or
// works otherwise, begins the next group, whether the one before is a stand or
// not. So the first fix of every group stays, and cleaning again finds the same groups. A
// set on its way gives groups of one fix or a few. Where no times are logged, slow and
// dense look alike until the way within the radius is many times as long as it: then
// the receiver wandered (pacing). What is left is cut once more by wanderRadius: there it
// takes both the time and a way that wanders.
func (c *cleaning) standing() {
	c.groups(standRadius[:], func(first, next, end int, radius float64) {
		stands := c.way(first, next) >= pacing*radius
		if t := c.lasting(first, next); t > 0 {
			stands = t >= max(standLeast, radius/crawl)
		}
		if stands {
			c.stand(first, next, end, radius)
		}
	})
	c.groups(wanderRadius[:], func(first, next, _ int, radius float64) {
		if c.lasting(first, next) >= radius/crawl && c.way(first, next) >= wandering*radius {
			c.wander(first, next)
		}
	})
}

// groups cuts the parts into groups within radii, by quality, and hands those of three
// fixes or more to judge: the first, the one after the last, and the part's end.
func (c *cleaning) groups(radii []float64, judge func(first, next, end int, radius float64)) {
	for start, end := range c.parts() {
		for first := start; first < end; {
			radius := radii[QualityUnknown]
			if len(c.t.Quality) > 0 && int(c.t.Quality[first]) < len(radii) {
				radius = radii[c.t.Quality[first]]
			}
			next := first + 1
			for next < end && c.apart(first, next) <= radius && !c.tells(next, next-1) {
				next++
			}
			if next-first > 2 {
				judge(first, next, end, radius)
			}
			first = next
		}
	}
	c.cut()
}

// lasting is the time between the first and the last timed fix of from..to-1, s.
func (c *cleaning) lasting(from, to int) float64 {
	for from < to && math.IsNaN(c.seconds(from)) {
		from++
	}
	for from < to && math.IsNaN(c.seconds(to-1)) {
		to--
	}
	if from == to {
		return 0
	}
	return c.seconds(to-1) - c.seconds(from)
}

// stand sets aside the fixes of the stand first..next-1, in a part that ends before end,
// that are not needed.
func (c *cleaning) stand(first, next, end int, radius float64) {
	off := next - 1
	if next < end && !c.tells(next, next-1) {
		off = c.drivesOff(first, next, radius)
	}
	for k := first + 1; k < off; k++ {
		c.drop(k, FaultStanding)
	}
}

// wander sets aside the fixes of the stand first..next-1, over which the position wandered,
// up to the last that lies near the first. Of those behind it one in wanderStep stays, so that no
// log gap comes about: the set may be driving off.
func (c *cleaning) wander(first, next int) {
	near := standRadius[QualityUnknown]
	kept := first
	for k := first + 1; k < next; k++ {
		if c.apart(first, k) <= near {
			kept = k
		}
	}
	for k := first + 1; k < next-1; k++ {
		switch {
		case k < kept:
			c.drop(k, FaultStanding)
		case k > kept && c.seconds(k)-c.seconds(kept) < wanderStep:
			c.drop(k, FaultStanding)
		default:
			kept = k
		}
	}
}

// drivesOff is the fix of the stand first..next-1 at which the set begins to leave it;
// next: it wanders off.
func (c *cleaning) drivesOff(first, next int, radius float64) int {
	for k := next - 1; k > first; k-- {
		if s := c.seconds(k); c.seconds(next-1)-s > standOff {
			break
		}
		if c.apart(first, k) <= standNear*radius {
			return k
		}
	}
	return next
}
