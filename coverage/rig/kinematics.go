package rig

import (
	"math"

	"balk/geo/plane"
)

const (
	// bow: a step is cut so that its pieces turn by less, rad. The chord then lies
	// within bow²/8 of its radius from the arc: 0.1 mm at 10 m.
	bow = 0.01
	// bentFrom: shorter steps are taken as straight. On the tightest bends (6 m)
	// they lie within a millimetre of the arc.
	bentFrom = 0.2 // m
)

// Follow moves the front end of a drawbar of length l by step; its rear end is
// drawn along (tractrix). e is the unit vector from rear to front before, the
// result that after. For a straight step it is exact: with ψ the angle from the
// step to the drawbar, dψ/ds = −sin ψ / l, so
//
//	tan(ψ/2) → tan(ψ/2)·exp(−s/l)
//
// (the tractrix; found in textbooks of calculus, derived here).
func Follow(e, step plane.XY, l float64) plane.XY {
	s := math.Sqrt(step.Dot(step))
	if s == 0 {
		return e
	}
	u := step.Scale(1 / s)
	cos, sin := u.Dot(e), u.Cross(e)
	if 1+cos < 1e-12 { // pushed exactly backwards: an unstable rest
		return e
	}
	t := sin / (1 + cos) * math.Exp(-s/l)
	cos, sin = (1-t*t)/(1+t*t), 2*t/(1+t*t)
	return u.Scale(cos).Add(u.Left().Scale(sin))
}

// Set is a tractor with its implement at one moment: the antenna, the tractor's
// heading and the implement's (unit vectors).
type Set struct {
	Antenna, Ahead, Drawn plane.XY
}

func right(u plane.XY) plane.XY { return plane.XY{X: u.Y, Y: -u.X} }

// Hitch is where the implement is hung.
func (s Set) Hitch(m Mount) plane.XY {
	return s.Antenna.Sub(s.Ahead.Scale(m.Hitch)).Sub(right(s.Ahead).Scale(m.AntennaRight))
}

// Bar is the middle of the working bar and the way it faces.
func (s Set) Bar(m Mount) (at, facing plane.XY) {
	facing = s.Ahead
	back := m.BarBehind
	if m.Trailed {
		facing = s.Drawn
		back += m.Drawbar
	}
	return s.Hitch(m).Sub(facing.Scale(back)).Add(right(facing).Scale(m.BarRight)), facing
}

// Move brings the set to the next antenna place; ahead is the direction of
// travel there (or against it, when reversing), and is believed where the
// antenna stands above the rear axle. Otherwise the rear axle is drawn along
// behind the antenna, as an axle does that cannot slip sideways.
func (s Set) Move(m Mount, to, ahead plane.XY, reverse bool) Set {
	n := Set{Antenna: to, Ahead: ahead, Drawn: s.Drawn}
	if m.AntennaAhead > 0 && !reverse {
		n.Ahead = Follow(s.Ahead, to.Sub(s.Antenna), m.AntennaAhead)
	}
	if m.Trailed {
		n.Drawn = Follow(s.Drawn, n.Hitch(m).Sub(s.Hitch(m)), m.Drawbar)
	}
	return n
}

// Angle is the drawbar's, between tractor and implement, in radians 0 to π.
func (s Set) Angle() float64 {
	return math.Abs(math.Atan2(s.Ahead.Cross(s.Drawn), s.Ahead.Dot(s.Drawn)))
}

// Drive moves the set along one step, in pieces where it bends. Between two
// fixes the antenna runs on the cubic with the given tangents.
func (s Set) Drive(m Mount, to, h0, h1 plane.XY) Set {
	from := s.Antenna
	chord := to.Sub(from)
	l := chord.Len()
	reverse := chord.Dot(h0)+chord.Dot(h1) < 0
	t0, t1 := h0.Scale(l), h1.Scale(l)
	if reverse {
		t0, t1 = t0.Scale(-1), t1.Scale(-1)
	}
	bend := math.Max(math.Abs(math.Atan2(chord.Cross(t0), chord.Dot(t0))), math.Abs(math.Atan2(chord.Cross(t1), chord.Dot(t1))))
	n := 1
	if l >= bentFrom && bend < math.Pi/2 {
		n = 1 + int(2*bend/bow)
	}
	for k := 1; k < n; k++ {
		x := float64(k) / float64(n)
		y := 1 - x
		p := from.Scale(y * y * (1 + 2*x)).Add(to.Scale(x * x * (3 - 2*x))).Add(t0.Scale(x * y * y)).Sub(t1.Scale(x * x * y))
		d := from.Sub(to).Scale(-6 * x * y).Add(t0.Scale(y * (1 - 3*x))).Add(t1.Scale(x * (3*x - 2)))
		if reverse {
			d = d.Scale(-1)
		}
		s = s.Move(m, p, d.Scale(1/math.Max(d.Len(), 1e-12)), reverse)
	}
	return s.Move(m, to, h1, reverse)
}
