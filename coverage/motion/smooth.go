package motion

import (
	"math"

	"balk/geo/plane"
)

// Estimate is the motion at a fix of an unbroken log.
type Estimate struct {
	At       plane.XY // m
	Velocity plane.XY // m/s
	Place    float64  // m, standard deviation of either coordinate of At, of the white noise that is left
	Speed    float64  // m/s, standard deviation of either component of Velocity
}

// Smooth estimates the motion behind fixes that bear white noise of the given standard
// deviation in either coordinate, in metres, and hands out that at each fix, from the last to the first. Jerk says for the step that leads to fix k how
// lively the machine is there: the spectral density of a white jerk, in m²/s⁵. Times must
// not fall, and a step must not last longer than MaxStep.
//
// Each coordinate has the states place, velocity and acceleration, driven by a white jerk
// (Bar-Shalom, Li and Kirubarajan, Estimation with Applications to Tracking and Navigation,
// 2001, section 6.2: the third-order kinematic model one step up, from memory), and is
// estimated by a Kalman filter (1960) and the backward pass of Rauch, Tung and Striebel
// (1965). Both coordinates have the same covariances, so these are worked out once.
//
//  1. Fixes on a motion of constant acceleration come out as they went in, within 1e-6 m.
//  2. The log read backwards gives the same places, within 1e-6 m.
//  3. Steps of any length are exact: dropping a fix is the same as giving it endless noise.
//  4. Time is linear in the number of fixes; memory is 3/8 byte a fix and 50 kB: of the filter's way forwards every
//     block begins anew from what was known there, when the backward pass comes to it.
func Smooth(at []plane.XY, seconds []float64, noise float64, jerk func(k int) float64, hand func(k int, e Estimate)) {
	n := len(at)
	if n == 0 {
		return
	}
	step := func(k int) (t, q float64) { return seconds[k] - seconds[k-1], jerk(k) } // the one that leads to fix k
	known := make([]belief, 0, n/block+1)                                            // at the first fix of each block
	f := startAt(at[0], noise)
	for k := 0; ; k++ {
		if k%block == 0 {
			known = append(known, f)
		}
		if k == n-1 {
			break
		}
		f = f.ahead(step(k + 1))
		f.take(at[k+1], noise*noise)
	}
	give := func(k int) {
		hand(k, Estimate{At: f.state[0], Velocity: f.state[1], Place: math.Sqrt(f.p00), Speed: math.Sqrt(f.p11)})
	}
	give(n - 1)
	var after, before [block]belief // a fix of a block; after[i] a step on, before the next fix
	for b := len(known) - 1; b >= 0; b-- {
		from, to := b*block, min((b+1)*block, n-1) // the fixes that another comes after
		g := known[b]
		for k := from; k < to; k++ {
			after[k-from], before[k-from] = g, g.ahead(step(k+1))
			g = before[k-from]
			g.take(at[k+1], noise*noise)
		}
		for k := to - 1; k >= from; k-- {
			t, q := step(k + 1)
			f = after[k-from].given(f, &before[k-from], t, q)
			give(k)
		}
	}
}

// block: so many fixes the backward pass takes at once.
const block = 256

// MaxStep is the longest step that Smooth bridges, in seconds: beyond it the places on either
// side say nothing of each other.
const MaxStep = 30.0

// belief is what is known of the motion at one time: the states of both coordinates, and
// their covariance, which is the same for both and symmetric.
type belief struct {
	state [3]plane.XY // m, m/s, m/s²

	p00, p01, p02, p11, p12, p22 float64
}

// Before the first fix nothing is known of speed and acceleration. These are so far above what
// a machine can do that they weigh nothing beside a few fixes.
const (
	anySpeed        = 100.0 // m/s
	anyAcceleration = 100.0 // m/s²
)

func startAt(p plane.XY, noise float64) belief {
	return belief{state: [3]plane.XY{p}, p00: noise * noise, p11: anySpeed * anySpeed, p22: anyAcceleration * anyAcceleration}
}

// ahead is the belief t seconds later, before the fix there: P becomes F·P·Fᵀ + Q with
//
//	F = 1 t t²/2     Q = q · t⁵/20 t⁴/8 t³/6
//	    0 1 t                t⁴/8  t³/3 t²/2
//	    0 0 1                t³/6  t²/2 t
func (b *belief) ahead(t, q float64) belief {
	h := t * t / 2
	// F·P, row by row
	a00, a01, a02 := b.p00+t*b.p01+h*b.p02, b.p01+t*b.p11+h*b.p12, b.p02+t*b.p12+h*b.p22
	a11, a12 := b.p11+t*b.p12, b.p12+t*b.p22
	t3 := t * t * t
	return belief{
		state: [3]plane.XY{b.state[0].Add(b.state[1].Scale(t)).Add(b.state[2].Scale(h)), b.state[1].Add(b.state[2].Scale(t)), b.state[2]},
		p00:   a00 + t*a01 + h*a02 + q*t3*t*t/20,
		p01:   a01 + t*a02 + q*t3*t/8,
		p02:   a02 + q*t3/6,
		p11:   a11 + t*a12 + q*t3/3,
		p12:   a12 + q*t*t/2,
		p22:   b.p22 + q*t,
	}
}

// take weighs a fix of variance r in, and returns what it was off and the variance of that.
func (b *belief) take(fix plane.XY, r float64) (off plane.XY, variance float64) {
	off, variance = fix.Sub(b.state[0]), b.p00+r
	k0, k1, k2 := b.p00/variance, b.p01/variance, b.p02/variance
	b.state[0], b.state[1], b.state[2] = b.state[0].Add(off.Scale(k0)), b.state[1].Add(off.Scale(k1)), b.state[2].Add(off.Scale(k2))
	b.p11, b.p12, b.p22 = b.p11-k1*b.p01, b.p12-k1*b.p02, b.p22-k2*b.p02
	b.p00, b.p01, b.p02 = r*k0, r*k1, r*k2
	return off, variance
}

// given is the belief b when later, t seconds on, all fixes have been seen; next is b.ahead(t, q): the backward pass
//
//	x + C·(x′ − F·x)  with  C = P·Fᵀ·(P⁻)⁻¹,  P⁻ = F·P·Fᵀ + Q
func (b *belief) given(later belief, next *belief, t, q float64) belief {
	h := t * t / 2
	// G = P·Fᵀ
	g := [3][3]float64{
		{b.p00 + t*b.p01 + h*b.p02, b.p01 + t*b.p02, b.p02},
		{b.p01 + t*b.p11 + h*b.p12, b.p11 + t*b.p12, b.p12},
		{b.p02 + t*b.p12 + h*b.p22, b.p12 + t*b.p22, b.p22},
	}
	i00, i01, i02, i11, i12, i22, ok := next.inverse()
	if !ok { // a step of no time: what is known later is known now
		return later
	}
	var c [3][3]float64
	for r := range 3 {
		c[r] = [3]float64{
			g[r][0]*i00 + g[r][1]*i01 + g[r][2]*i02,
			g[r][0]*i01 + g[r][1]*i11 + g[r][2]*i12,
			g[r][0]*i02 + g[r][1]*i12 + g[r][2]*i22,
		}
	}
	var off [3]plane.XY
	for r := range 3 {
		off[r] = later.state[r].Sub(next.state[r])
	}
	out := *b
	for r := range 3 {
		out.state[r] = b.state[r].Add(off[0].Scale(c[r][0])).Add(off[1].Scale(c[r][1])).Add(off[2].Scale(c[r][2]))
	}
	// The covariance as (I − C·F)·P·(I − C·F)ᵀ + C·(P′ + Q)·Cᵀ: sums of what is positive, where the textbook's
	// difference of nearly equal matrices loses all digits in the first fixes.
	var d [3][3]float64
	for r := range 3 {
		d[r] = [3]float64{-c[r][0], -t*c[r][0] - c[r][1], -h*c[r][0] - t*c[r][1] - c[r][2]}
		d[r][r]++
	}
	t3 := t * t * t
	later.p00, later.p01, later.p02 = later.p00+q*t3*t*t/20, later.p01+q*t3*t/8, later.p02+q*t3/6
	later.p11, later.p12, later.p22 = later.p11+q*t3/3, later.p12+q*t*t/2, later.p22+q*t
	sum := func(r, s int) float64 { return b.between(d[r], d[s]) + later.between(c[r], c[s]) }
	out.p00, out.p01, out.p02, out.p11, out.p12, out.p22 = sum(0, 0), sum(0, 1), sum(0, 2), sum(1, 1), sum(1, 2), sum(2, 2)
	return out
}

// between is x·P·yᵀ.
func (b *belief) between(x, y [3]float64) float64 {
	return x[0]*(b.p00*y[0]+b.p01*y[1]+b.p02*y[2]) + x[1]*(b.p01*y[0]+b.p11*y[1]+b.p12*y[2]) + x[2]*(b.p02*y[0]+b.p12*y[1]+b.p22*y[2])
}

// inverse is that of the covariance; false where it has none.
func (b *belief) inverse() (i00, i01, i02, i11, i12, i22 float64, ok bool) {
	// Cholesky P = L·Lᵀ, then the inverse of L: stable where the variances differ by ten decades.
	l00 := math.Sqrt(b.p00)
	l10, l20 := b.p01/l00, b.p02/l00
	l11 := math.Sqrt(b.p11 - l10*l10)
	l21 := (b.p12 - l10*l20) / l11
	l22 := math.Sqrt(b.p22 - l20*l20 - l21*l21)
	if !(l00 > 0 && l11 > 0 && l22 > 0) {
		return 0, 0, 0, 0, 0, 0, false
	}
	m00, m11, m22 := 1/l00, 1/l11, 1/l22
	m10, m21 := -l10*m00*m11, -l21*m11*m22
	m20 := -(l20*m00 + l21*m10) * m22
	return m00*m00 + m10*m10 + m20*m20, m10*m11 + m20*m21, m20 * m22, m11*m11 + m21*m21, m21 * m22, m22 * m22, true
}
