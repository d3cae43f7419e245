package spots

import (
	"math"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"
)

// Height is where an antenna was, and how high, m; Line tells the stretches of a log apart.
type Height struct {
	At   plane.XY
	Z    float64
	Line int
}

const (
	heightApart = 2.0  // m of way between heights that are kept: a slope bends over tens of metres
	slopeReach  = 25.0 // m about a check, over which the ground is taken for a plane: some passes to each side
	slopeLines  = 4    // stretches there at least: a plane takes three, and the rest tell its error
	slopeSpread = 5.0  // m, standard deviation of the places both ways at least
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

// heightsOf are those of a checked operation, thinned; none where its log has no heights.
func heightsOf(r coverage.Result) (all []Height) {
	for k, s := range r.Log {
		if s.Height == nil {
			continue
		}
		var last plane.XY
		first := true
		for i, p := range s.Line {
			if i < len(s.Height) && !math.IsNaN(s.Height[i]) && (first || p.Dist(last) >= heightApart) {
				all, last, first = append(all, Height{p, s.Height[i], k}), p, false
			}
		}
	}
	return all
}

// slope is how the ground rises along u, a unit vector, about a place: by a plane through the heights around, with its standard error. Heights of one
// stretch err alike, so that stretches count and not fixes. ok is false where too little is known there.
//
// With places p and heights z from their means, and M = Σ p·pᵀ, the gradient is g = M⁻¹·Σ p·z (least squares, textbook form).
func slope(heights []Height, u plane.XY) (rise, err float64, ok bool) {
	n := float64(len(heights))
	var mean plane.XY
	z := 0.0
	lines := map[int]bool{}
	for _, h := range heights {
		mean, z = mean.Add(h.At), z+h.Z
		lines[h.Line] = true
	}
	if len(lines) < slopeLines {
		return 0, 0, false
	}
	mean, z = mean.Scale(1/n), z/n
	var xx, xy, yy, xz, yz float64
	for _, h := range heights {
		p, d := h.At.Sub(mean), h.Z-z
		xx, xy, yy = xx+p.X*p.X, xy+p.X*p.Y, yy+p.Y*p.Y
		xz, yz = xz+p.X*d, yz+p.Y*d
	}
	det := xx*yy - xy*xy
	if least := n * slopeSpread * slopeSpread; !(det > least*least) { // the product of the variances along both axes
		return 0, 0, false
	}
	g := plane.XY{X: (yy*xz - xy*yz) / det, Y: (xx*yz - xy*xz) / det}
	rest := 0.0
	for _, h := range heights {
		d := h.Z - z - h.At.Sub(mean).Dot(g)
		rest += d * d
	}
	// The variance along u is s²·uᵀ·M⁻¹·u with s² = Σ rest²/(n − 3); of n there are as many independent as there are stretches.
	variance := rest / (float64(len(lines)) - 3) * (yy*u.X*u.X - 2*xy*u.X*u.Y + xx*u.Y*u.Y) / det
	return g.Dot(u), math.Sqrt(max(0, variance)), true
}

// rise is how the ground rises about a place of an operation along a unit vector; 0 where it is level for anyone who looks, or that is not known.
func (t *ties) rise(op int, at, left plane.XY) float64 {
	o := &t.ops[op]
	if len(o.Heights) == 0 {
		return 0
	}
	reach := plane.XY{X: slopeReach, Y: slopeReach}
	var around []Height
	for k := range t.heights[op].In(plane.Box{Min: at.Sub(reach), Max: at.Add(reach)}) {
		if h := o.Heights[k]; h.At.Dist(at) <= slopeReach {
			around = append(around, h)
		}
	}
	rise, err, ok := slope(around, left)
	if !ok || math.Abs(rise) < max(leastSlope, 2*err) {
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
