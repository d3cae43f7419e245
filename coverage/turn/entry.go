package turn

import (
	"fmt"
	"math"
)

// entry is the one curve that all turns here are made of: steering in from
// straight. A clothoid of the given sharpness up to the least radius, then the circle:
//
//	κ  1/r ┤   ╭───────  hold
//	       │  ╱
//	     0 ┼─╱─────────→ s
//	         ramp
//
// E(φ) is its point where it has turned by φ, with ahead f and left g, and ρ(φ) its radius
// there, so dE/dφ = ρ·(cos φ, sin φ). Without a sharpness the ramp has no length.
//
// A bend (straight to straight, turning by θ) is the entry up to θ/2 and its mirror image:
// it leads 2·along(θ/2) in the direction θ/2, where along(φ) = f cos φ + g sin φ. With θ/2 below
// what the ramp turns, the circle drops out and the clothoid ends early.
// Such bends are the CC turns of Fraichard & Scheuer 2004 (IEEE Trans. Robot. 20(6)), and headland turns
// of them are in Sabelhaus et al. 2013 (Biosyst. Eng. 116(4)); both from memory, the equations here are our own.
type entry struct {
	r, sharp float64
	length   float64 // m, of the whole ramp: (1/r)/σ
	turn     float64 // rad, that it turns: 1/(2r²σ)
	f, g     float64 // m, where it ends
}

func newEntry(s Steering) entry {
	e := entry{r: s.Radius, sharp: s.Sharpness}
	if e.sharp > 0 {
		e.length = 1 / (e.r * e.sharp)
		e.turn = e.length / (2 * e.r)
		if e.turn < math.Pi { // a longer one is never driven to its end
			e.f, e.g = ramp(0, 1/e.r, e.length)
		}
	}
	return e
}

// parts are the ramp, its last curvature, and the hold of the entry up to φ.
func (e entry) parts(phi float64) (length, bent, hold float64) {
	if phi < e.turn {
		bent = math.Sqrt(2 * e.sharp * phi)
		return bent / e.sharp, bent, 0
	}
	return e.length, 1 / e.r, (phi - e.turn) * e.r
}

// at is E(φ) and ρ(φ).
func (e entry) at(phi float64) (f, g, rho float64) {
	if phi < e.turn {
		length, bent, _ := e.parts(phi)
		if length == 0 {
			return 0, 0, math.Inf(1)
		}
		f, g = ramp(0, bent, length)
		return f, g, 1 / bent
	}
	sin0, cos0 := math.Sincos(e.turn)
	sin, cos := math.Sincos(phi)
	return e.f + e.r*(sin-sin0), e.g + e.r*(cos0-cos), e.r
}

// along is f cos φ + g sin φ, half the chord of a bend by 2φ, and its slope over φ.
func (e entry) along(phi float64) (half, slope float64) {
	f, g, rho := e.at(phi)
	sin, cos := math.Sincos(phi)
	return f*cos + g*sin, rho - f*sin + g*cos
}

// sway is how far a bend by θ leads to its side, 2·along(θ/2)·sin(θ/2), and its slope over θ.
func (e entry) sway(theta float64) (left, slope float64) {
	if theta == 0 {
		return 0, 0
	}
	half, d := e.along(theta / 2)
	sin, cos := math.Sincos(theta / 2)
	return 2 * half * sin, d*sin + half*cos
}

// round is the row distance of one bend by π, 2·g(π/2); 2r without a sharpness.
func (e entry) round() float64 {
	if e.sharp == 0 {
		return 2 * e.r // without the rounding of sin π/2: rows just 2r apart are common
	}
	_, g, _ := e.at(math.Pi / 2)
	return 2 * g
}

// corner is how far a bend by π/2 leads ahead and to its side; r without a sharpness.
func (e entry) corner() float64 {
	if e.sharp == 0 {
		return e.r
	}
	q, _ := e.sway(math.Pi / 2)
	return q
}

// unsolved is the greatest rest of an equation that a root may leave, m: a tenth of Exact.
const unsolved = Exact / 10

// settled: Newton's steps below this share of the root are rounding.
const settled = 0x1p-50

// root solves f(x) = 0 between lo and hi, where f has different signs, by Newton's method
// kept within the bracket: a step that leaves it, or is not half of the one before, is a
// bisection instead, so it ends also where the slope is of no use. f gives its value, m, and its slope.
func root(f func(x float64) (y, slope float64), lo, hi float64) (float64, error) {
	atLo, _ := f(lo)
	atHi, _ := f(hi)
	if (atLo > 0) == (atHi > 0) || atLo == 0 || atHi == 0 {
		// The root is one of the ends, or beyond it by rounding.
		if math.Abs(atHi) < math.Abs(atLo) {
			lo, atLo = hi, atHi
		}
		return solved(lo, atLo)
	}
	x := (lo + hi) / 2
	before := hi - lo
	var y float64
	for hi-lo > settled*math.Max(math.Abs(lo), math.Abs(hi)) {
		var slope float64
		if y, slope = f(x); y == 0 {
			break
		}
		if (y > 0) == (atLo > 0) {
			lo = x
		} else {
			hi = x
		}
		step := y / slope
		if math.Abs(step) <= settled*math.Abs(x) {
			break
		}
		next := x - step
		if !(next > lo && next < hi && math.Abs(step) < before/2) {
			next = lo + (hi-lo)/2
		}
		before, x = math.Abs(next-x), next
	}
	return solved(x, y)
}

func solved(x, y float64) (float64, error) {
	if !(math.Abs(y) <= unsolved) {
		return 0, fmt.Errorf("turn equation left a rest of %.3g m: must be below %g m", y, unsolved)
	}
	return x, nil
}
