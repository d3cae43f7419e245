package spots

import (
	"math"

	"balk/geo"
	"balk/geo/plane"
)

const (
	// leastSlope: on less neither side of the bar is uphill of the other for anyone who looks (common practice, no source).
	leastSlope = 0.02
	middleBar  = 0.1 // of the width to each side of its middle: neither half
)

// Side is a half of the bar on a slope.
type Side string

const (
	SideUphill   Side = "uphill half"
	SideDownhill Side = "downhill half"
)

// rise is how the ground rises about a place of an operation along a unit vector; 0 where it is level for anyone who looks, or that is not known.
func (t *ties) rise(op int, at, left plane.XY) float64 {
	lie, ok := t.heights[op].At(at)
	if !ok {
		return 0
	}
	rise, err := lie.Along(left)
	if math.Abs(rise) < max(leastSlope, 2*err) {
		return 0
	}
	return rise
}

// side is the half of the bar so far from its left end, m, on ground that rises so to its left; "" in its middle, and on level ground.
func (o *Operation) side(fromLeft, rise float64) Side {
	left := o.Width/2 - fromLeft
	switch {
	case math.Abs(left) < middleBar*o.Width || rise == 0:
		return ""
	case rise*left > 0:
		return SideUphill
	}
	return SideDownhill
}

// sideDepth is the mean depth of a check on one half of the bar: all of it where the check lies on that half, and of one across the bar what was
// measured there.
func sideDepth(t Tie, c geo.SpotCheck, o *Operation, half Side) (float64, bool) {
	if t.Side != "" {
		d, ok := middleDepth(c)
		return d, ok && t.Side == half
	}
	if c.Length == 0 || t.rise == 0 {
		return 0, false
	}
	sum, n := 0.0, 0.0
	for _, d := range depthsAt(c, o.Width) {
		if o.side(d.At, t.rise) == half {
			sum, n = sum+d.Value, n+1
		}
	}
	return sum / n, n > 0
}
