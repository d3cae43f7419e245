package turn

import (
	"fmt"
	"math"
)

// drawing is a turn to the left under construction: the pass ends in the origin
// heading "ahead", the next begins w to the left and stagger ahead.
type drawing struct {
	entry
	kind       Kind
	w, stagger float64
	standing   bool // curvature may jump at a change of direction
	pieces     []Arc
}

// draw is the turn for rows whose next pass lies to the left.
func draw(k Kind, r Rows, s Steering) ([]Arc, error) {
	d := drawing{entry: newEntry(s), kind: k, w: r.Distance, stagger: r.Stagger,
		standing: s.Standing || s.Sharpness == 0, pieces: make([]Arc, 0, 11)}
	var err error
	switch k {
	case PlainU:
		err = d.plainU()
	case Bulb:
		err = d.bulb()
	case Hook, HookBeyond:
		err = d.hook()
	case Fishtail:
		err = d.fishtail()
	case Shunt:
		err = d.shunt()
	default:
		err = fmt.Errorf("kind of turn %q: must be one of %q", string(k), Kinds())
	}
	return d.pieces, err
}

func (d *drawing) add(length, from, to float64) { d.pieces = add(d.pieces, Arc{length, from, to}) }

func (d *drawing) straight(length float64) { d.add(length, 0, 0) }

// in steers in from straight until the heading has turned by φ; way +1 steers to
// the left, gear −1 is reverse.
func (d *drawing) in(phi, way, gear float64) {
	length, bent, hold := d.parts(phi)
	d.add(gear*length, 0, way*bent)
	d.add(gear*hold, way*bent, way*bent)
}

// out is in, backwards.
func (d *drawing) out(phi, way, gear float64) {
	length, bent, hold := d.parts(phi)
	d.add(gear*hold, way*bent, way*bent)
	d.add(gear*length, way*bent, 0)
}

// bend turns by θ from straight to straight.
func (d *drawing) bend(theta, way, gear float64) {
	d.in(theta/2, way, gear)
	d.out(theta/2, way, gear)
}

// lead drives straight out to where the next pass begins, if that is farther
// ahead; trail drives straight back if it is not. The turn between is that of rows that end level.
func (d *drawing) lead()  { d.straight(math.Max(0, d.stagger)) }
func (d *drawing) trail() { d.straight(math.Max(0, -d.stagger)) }

func (d *drawing) unfit(format string, args ...any) error {
	return &Unfit{d.kind, fmt.Sprintf(format, args...)}
}

// plainU: a quarter, a straight, a quarter. Length πr + w − 2r and depth r
// without a sharpness.
//
// With one, two whole quarters take more width than one bend by π. Between the two the
// steering goes back only to a curvature m in the middle, see dip.
func (d *drawing) plainU() error {
	round, corner := d.round(), d.corner()
	if d.w < round {
		return d.unfit("row distance %g m: must be %g m at least", nano(d.w), nano(round))
	}
	d.lead()
	if d.w >= 2*corner {
		d.bend(math.Pi/2, 1, 1)
		d.straight(d.w - 2*corner)
		d.bend(math.Pi/2, 1, 1)
	} else if err := d.dip(); err != nil {
		return err
	}
	d.trail()
	return nil
}

// dip draws a bend by π that steers back to the curvature m halfway:
//
//	κ    ╭──╮    ╭──╮
//	    ╱    ╲m ╱    ╲
//	   ╱      ╲╱      ╲
//	   φ      π/2      π
//
// The entry up to φ, then a ramp from its curvature k to m at π/2: (k² − m²)/2σ = π/2 − φ. With
// k = 1/r that gives φ, unless the ramp up already turns more: then k² = σπ/2 + m²/2. The first half leads
// to the left g(φ) + y, (x, y) being where the ramp down leads, and that must be w/2.
// Its slope over m: dx and dy under the integral over k, where θ = π/2 − (k² − m²)/2σ, give
// −1/σ + (m/σ)(x + ρ(φ) sin φ) in both cases.
func (d *drawing) dip() error {
	m, err := root(d.dipMisses, 0, math.Min(1/d.r, math.Sqrt(d.sharp*math.Pi)))
	if err != nil {
		return err
	}
	phi, down := d.dipTo(m)
	d.in(phi, 1, 1)
	d.add(down.Length, down.From, down.To)
	d.add(down.Length, down.To, down.From)
	d.out(phi, 1, 1)
	return nil
}

// dipTo is how far the entry turns before it steers back to m, and that ramp.
func (e entry) dipTo(m float64) (phi float64, down Arc) {
	k := math.Sqrt(e.sharp*math.Pi/2 + m*m/2)
	if phi = k * k / (2 * e.sharp); phi > e.turn {
		k = 1 / e.r
		phi = math.Pi/2 - (k*k-m*m)/(2*e.sharp)
	}
	return phi, Arc{(k - m) / e.sharp, k, m}
}

// dipMisses is by how much half the row distance is missed with m, and its slope.
func (d *drawing) dipMisses(m float64) (y, slope float64) {
	phi, down := d.dipTo(m)
	_, g, rho := d.at(phi)
	x, y, _ := down.travel()
	sin, cos := math.Sincos(phi)
	x, y = cos*x-sin*y, sin*x+cos*y
	return g + y - d.w/2, (m*(x+rho*sin) - 1) / d.sharp
}

// bulb: away by α, round by π + 2α, away by α. The first and last lead to the
// right by sway(α) each, the middle one square to the rows by 2·along(π/2 + α). Without a
// sharpness α = acos((2r + w)/4r), length r(π + 4α), depth r + √(4r² − (r + w/2)²).
func (d *drawing) bulb() error {
	if round := d.round(); d.w >= round {
		return d.unfit("row distance %g m: must be below %g m", nano(d.w), nano(round))
	}
	alpha := math.Acos((2*d.r + d.w) / (4 * d.r))
	if d.sharp > 0 {
		var err error
		if alpha, err = root(d.bulbMisses, 0, math.Pi/2); err != nil {
			return err
		}
	}
	d.lead()
	d.bend(alpha, -1, 1)
	d.bend(math.Pi+2*alpha, 1, 1)
	d.bend(alpha, -1, 1)
	d.trail()
	return nil
}

// bulbMisses is by how much the row distance is missed with α, and its slope.
func (d *drawing) bulbMisses(alpha float64) (y, slope float64) {
	half, slopeHalf := d.along(math.Pi/2 + alpha)
	away, slopeAway := d.sway(alpha)
	return 2*half - 2*away - d.w, 2*slopeHalf - 2*slopeAway
}

// hook: away by α, round by π + α, straight back; hookBeyond is the same driven
// from the other end. The round leads 2·along in the direction (π − α)/2. Without a sharpness
// α = acos(w/2r), length r(π + 2α) + 2r sin α, depth r + 2r sin α.
func (d *drawing) hook() error {
	if round := d.round(); d.w >= round {
		return d.unfit("row distance %g m: must be below %g m", nano(d.w), nano(round))
	}
	alpha := math.Acos(d.w / (2 * d.r))
	if d.sharp > 0 {
		var err error
		if alpha, err = root(d.hookMisses, 0, math.Pi/2); err != nil {
			return err
		}
	}
	first, _ := d.along(alpha / 2)
	round, _ := d.along((math.Pi + alpha) / 2)
	sin, cos := math.Sincos(alpha / 2)
	ahead := 2*first*cos + 2*round*sin // of the start, where the straight back begins
	if d.kind == Hook {
		d.straight(math.Max(0, d.stagger-ahead))
		d.bend(alpha, -1, 1)
		d.bend(math.Pi+alpha, 1, 1)
		d.straight(math.Max(0, ahead-d.stagger))
		return nil
	}
	d.straight(math.Max(0, d.stagger+ahead))
	d.bend(math.Pi+alpha, 1, 1)
	d.bend(alpha, -1, 1)
	d.straight(math.Max(0, -d.stagger-ahead))
	return nil
}

// hookMisses is by how much the row distance is missed with α, and its slope.
func (d *drawing) hookMisses(alpha float64) (y, slope float64) {
	half, slopeHalf := d.along((math.Pi + alpha) / 2)
	away, slopeAway := d.sway(alpha)
	sin, cos := math.Sincos(alpha / 2)
	return 2*half*cos - away - d.w, slopeHalf*cos - half*sin - slopeAway
}

// reversingRoom is the row distance from which on nothing is left to reverse.
func (d *drawing) reversingRoom() float64 {
	if d.standing {
		return d.round()
	}
	return 2 * d.corner()
}

// fishtail: a quarter forward, a straight in reverse, a quarter forward. Length
// (π + 2)r − w, depth r without a sharpness. Where the wheels may turn while the set stands, the
// quarters end at full lock; otherwise they are whole bends. Rows so far apart that nothing is left to
// reverse are no fishtail: a plain U does the same without stopping.
func (d *drawing) fishtail() error {
	room := d.reversingRoom()
	if d.w >= room {
		return d.unfit("row distance %g m: must be below %g m", nano(d.w), nano(room))
	}
	d.lead()
	if d.standing {
		d.in(math.Pi/2, 1, 1)
		d.straight(d.w - room)
		d.out(math.Pi/2, 1, 1)
	} else {
		d.bend(math.Pi/2, 1, 1)
		d.straight(d.w - room)
		d.bend(math.Pi/2, 1, 1)
	}
	d.trail()
	return nil
}

// shunt: forward by α to the left, in reverse by π − 2α steering to the right,
// forward by α to the left: the word L+R−L+ of Reeds & Shepp. The first and last lead to the left
// by g(α) or sway(α) each, the middle one back by its chord, square to the rows. Without a sharpness
// α = acos((2r − w)/4r), length πr, depth r sin α. Solved for the middle bend, not α: it leads back by the
// root of what it turns, so that a short one would drown in the rounding of α.
func (d *drawing) shunt() error {
	room := d.reversingRoom()
	if d.w > room {
		return d.unfit("row distance %g m: must be %g m at most", nano(d.w), nano(room))
	}
	middle := math.Pi - 2*math.Acos((2*d.r-d.w)/(4*d.r))
	if d.sharp > 0 {
		var err error
		if middle, err = root(d.shuntMisses, 0, math.Pi); err != nil {
			return err
		}
	}
	alpha := (math.Pi - middle) / 2
	d.lead()
	if d.standing {
		d.in(alpha, 1, 1)
		d.add(-middle*d.r, -1/d.r, -1/d.r)
		d.out(alpha, 1, 1)
	} else {
		d.bend(alpha, 1, 1)
		d.bend(middle, -1, -1)
		d.bend(alpha, 1, 1)
	}
	d.trail()
	return nil
}

// shuntMisses is by how much the row distance is missed with a middle bend, rad, and its slope.
func (d *drawing) shuntMisses(middle float64) (y, slope float64) {
	alpha := (math.Pi - middle) / 2
	if d.standing {
		_, g, rho := d.at(alpha)
		sin, cos := math.Sincos(alpha)
		return 2*g - 2*d.r*cos - d.w, -(rho + d.r) * sin
	}
	left, slopeLeft := d.sway(alpha)
	back, slopeBack := d.along(middle / 2)
	return 2*left - 2*back - d.w, -slopeLeft - slopeBack
}
