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
//  4. Time is linear in the number of fixes; memory is 3/4 byte a fix and 50 kB: of the filter's way forwards every
//     block begins anew from what was known there, when the backward pass comes to it.
//
// Where jerk gives other values later, Smoothing goes on from what it comes to.
func Smooth(at []plane.XY, seconds []float64, noise float64, jerk func(k int) float64, hand func(k int, e Estimate)) *Smoothing {
	s := &Smoothing{at: at, seconds: seconds, noise: noise, jerk: jerk, hand: hand}
	if len(at) == 0 {
		return s
	}
	blocks := (len(at) + block - 1) / block
	s.known, s.seen, s.changed = make([]belief, blocks), make([]belief, blocks), make([]bool, blocks)
	s.known[0] = startAt(at[0], noise)
	s.Exactly()
	return s
}

// Smoothing is what Smooth keeps to go on from.
type Smoothing struct {
	at      []plane.XY
	seconds []float64
	noise   float64
	jerk    func(k int) float64
	hand    func(k int, e Estimate)
	known   []belief // by blocks: at the first fix, from it and all before
	seen    []belief // by blocks: at the fix behind the last one, or at the last fix of all, from all fixes
	changed []bool   // by blocks: something that its estimates hang on
	exact   int      // all blocks before this one are as Smooth would have them, to the last bit
}

// Changed says that jerk gives other values than before for the steps that lead to some fixes.
func (s *Smoothing) Changed(from, to int) {
	for k := max(1, from); k <= to; k++ {
		s.changed[(k-1)/block] = true
	}
}

// Again estimates anew with what has changed, and hands out, from the last to the first, the fixes of blocks in which jerk is another, and before and behind
// them of as many as do not come to the same, which are few: the filter forgets. All that was handed out last is then within 1e-10 m of what Smooth gives.
func (s *Smoothing) Again() { s.estimate((*belief).nearly) }

// Exactly hands out, from the last to the first, what may differ from what Smooth gives now: then all that was handed out last is that, to the last bit. It goes over
// all that lies behind the first change, since what two ways to a fix are rounded to seldom meets again.
func (s *Smoothing) Exactly() {
	for b := s.exact; b < len(s.changed); b++ {
		s.changed[b] = true
	}
	s.estimate(func(b *belief, o belief) bool { return *b == o })
	s.exact = len(s.changed)
}

// estimate goes over what has changed, and on from it as long as two ways to a fix do not come to the same.
func (s *Smoothing) estimate(same func(b *belief, o belief) bool) {
	last := len(s.at) - 1
	step := func(k int) (t, q float64) { return s.seconds[k] - s.seconds[k-1], s.jerk(k) } // the one that leads to fix k
	spread := func(b int, kept *belief, now belief) {
		if !same(&now, *kept) {
			*kept, s.changed[b] = now, true
		}
	}
	var f belief
	for b := range s.known {
		if !s.changed[b] {
			continue
		}
		f = s.known[b]
		for k := b * block; k < min((b+1)*block, last); k++ {
			f = f.ahead(step(k + 1))
			f.take(s.at[k+1], s.noise*s.noise)
		}
		if b+1 < len(s.known) {
			spread(b+1, &s.known[b+1], f)
		} else {
			s.seen[b] = f
		}
	}
	give := func(k int) {
		s.hand(k, Estimate{At: f.state[0], Velocity: f.state[1], Place: math.Sqrt(f.p00), Speed: math.Sqrt(f.p11)})
	}
	var after, before [block]belief // a fix of a block; after[i] a step on, before the next fix
	for b := len(s.known) - 1; b >= 0; b-- {
		if !s.changed[b] {
			continue
		}
		s.changed[b], s.exact = false, min(s.exact, b)
		from, to := b*block, min((b+1)*block, last) // the fixes that another comes after
		g := s.known[b]
		for k := from; k < to; k++ {
			after[k-from], before[k-from] = g, g.ahead(step(k+1))
			g = before[k-from]
			g.take(s.at[k+1], s.noise*s.noise)
		}
		if f = s.seen[b]; b == len(s.known)-1 {
			give(last)
		}
		for k := to - 1; k >= from; k-- {
			t, q := step(k + 1)
			f = after[k-from].given(f, &before[k-from], t, q)
			give(k)
		}
		if b > 0 {
			spread(b-1, &s.seen[b-1], f)
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

// Two ways to one fix nearly come to the same where their states differ by less than nearState, in m and seconds, which is some times what places are rounded to in calculating.
// Variances that differ by a share of nearShare, and covariances by as much of what they can be, move a place by as much.
const (
	nearState = 1e-11
	nearShare = 1e-9
)

// nearly says whether a belief comes nearly to the same as another one; false where either is no number.
func (b *belief) nearly(o belief) bool {
	for i, s := range b.state {
		if d := s.Sub(o.state[i]); !(d.Dot(d) <= nearState*nearState) {
			return false
		}
	}
	near := func(x, y, ofOne, ofOther float64) bool { return (x-y)*(x-y) <= nearShare*nearShare*ofOne*ofOther }
	return near(b.p00, o.p00, b.p00, b.p00) && near(b.p11, o.p11, b.p11, b.p11) && near(b.p22, o.p22, b.p22, b.p22) &&
		near(b.p01, o.p01, b.p00, b.p11) && near(b.p02, o.p02, b.p00, b.p22) && near(b.p12, o.p12, b.p11, b.p22)
}

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
	i00, i01, i02, i11, i12, i22, ok := next.inverse()
	if !ok { // a step of no time: what is known later is known now
		return later
	}
	h := t * t / 2
	// C, row by row, from those of P·Fᵀ
	c := func(place, speed, acceleration float64) row {
		g := row{place + t*speed + h*acceleration, speed + t*acceleration, acceleration}
		return row{g.dot(row{i00, i01, i02}), g.dot(row{i01, i11, i12}), g.dot(row{i02, i12, i22})}
	}
	c0, c1, c2 := c(b.p00, b.p01, b.p02), c(b.p01, b.p11, b.p12), c(b.p02, b.p12, b.p22)
	out := *b
	off0, off1, off2 := later.state[0].Sub(next.state[0]), later.state[1].Sub(next.state[1]), later.state[2].Sub(next.state[2])
	out.state[0] = b.state[0].Add(off0.Scale(c0.place)).Add(off1.Scale(c0.speed)).Add(off2.Scale(c0.acceleration))
	out.state[1] = b.state[1].Add(off0.Scale(c1.place)).Add(off1.Scale(c1.speed)).Add(off2.Scale(c1.acceleration))
	out.state[2] = b.state[2].Add(off0.Scale(c2.place)).Add(off1.Scale(c2.speed)).Add(off2.Scale(c2.acceleration))
	// The covariance as (I − C·F)·P·(I − C·F)ᵀ + C·(P′ + Q)·Cᵀ: sums of what is positive, where the textbook's
	// difference of nearly equal matrices loses all digits in the first fixes.
	d := func(c row) row { return row{-c.place, -t*c.place - c.speed, -h*c.place - t*c.speed - c.acceleration} }
	d0, d1, d2 := d(c0), d(c1), d(c2)
	d0.place++
	d1.speed++
	d2.acceleration++
	t3 := t * t * t
	later.p00, later.p01, later.p02 = later.p00+q*t3*t*t/20, later.p01+q*t3*t/8, later.p02+q*t3/6
	later.p11, later.p12, later.p22 = later.p11+q*t3/3, later.p12+q*t*t/2, later.p22+q*t
	pd, pc := b.times(d0), later.times(c0)
	out.p00 = d0.dot(pd) + c0.dot(pc)
	pd, pc = b.times(d1), later.times(c1)
	out.p01, out.p11 = d0.dot(pd)+c0.dot(pc), d1.dot(pd)+c1.dot(pc)
	pd, pc = b.times(d2), later.times(c2)
	out.p02, out.p12, out.p22 = d0.dot(pd)+c0.dot(pc), d1.dot(pd)+c1.dot(pc), d2.dot(pd)+c2.dot(pc)
	return out
}

// row is one of a matrix over the states.
type row struct{ place, speed, acceleration float64 }

func (x row) dot(y row) float64 {
	return x.place*y.place + x.speed*y.speed + x.acceleration*y.acceleration
}

// times is P·yᵀ.
func (b *belief) times(y row) row {
	return row{row{b.p00, b.p01, b.p02}.dot(y), row{b.p01, b.p11, b.p12}.dot(y), row{b.p02, b.p12, b.p22}.dot(y)}
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
