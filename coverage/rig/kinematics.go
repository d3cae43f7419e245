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

// FollowBent is Follow on a way that turns by an angle on the step, to the left, evenly. With θ the drawbar's heading and φ = κ·(s − S/2) that
// of the way, from its chord, dθ/ds = (φ − θ)/l for small angles, and what a bend of κ = turn/S adds to Follow is
//
//	turn·∫ e^(−(S−s)/l)·(s/S − ½) ds/l = turn·((½ − l/S) + (½ + l/S)·e^(−S/l)) = turn·((S/l)²/12 − (S/l)³/24 + …)
//
// Cut into pieces so short that the chords keep by the way, a straight way would still leave the drawbar where it was half a piece ago.
func FollowBent(e, step plane.XY, turn, l float64) plane.XY {
	out := Follow(e, step, l)
	x := step.Len() / l
	by := x * x / 12 * (1 - x/2)
	if x > 0.05 { // the series is good to 1e-6 below
		by = 0.5 - 1/x + (0.5+1/x)*math.Exp(-x)
	}
	sin, cos := math.Sincos(turn * by)
	return out.Scale(cos).Add(out.Left().Scale(sin))
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
		step := to.Sub(s.Antenna)
		turn := 2 * step.AngleTo(ahead) // chord and tangent of an arc
		if math.Abs(turn) > math.Pi/2 { // of none
			turn = 0
		}
		n.Ahead = FollowBent(s.Ahead, step, turn, m.AntennaAhead)
	}
	if m.Trailed {
		turn := s.Ahead.AngleTo(n.Ahead)
		n.Drawn = FollowBent(s.Drawn, n.Hitch(m).Sub(s.Hitch(m)), turn, m.Drawbar)
	}
	return n
}

// Angle is the drawbar's, between tractor and implement, in radians 0 to π.
func (s Set) Angle() float64 {
	return math.Abs(s.Ahead.AngleTo(s.Drawn))
}

// Drive moves the set along one step, in pieces where it bends. Between two
// fixes the antenna runs on the cubic with the given tangents.
func (s Set) Drive(m Mount, to, h0, h1 plane.XY) Set {
	return s.over(m, to, h0, h1, 1, nil)
}

// Between are the sets on the way that Drive takes, between its ends, where it is cut into so many equal parts; none where it is taken as straight.
func (s Set) Between(m Mount, to, h0, h1 plane.XY, parts int) (sets []Set) {
	s.over(m, to, h0, h1, parts, func(s Set) { sets = append(sets, s) })
	return sets
}

// over is Drive, which calls via with the set between any two of so many equal parts.
func (s Set) over(m Mount, to, h0, h1 plane.XY, parts int, via func(Set)) Set {
	from := s.Antenna
	chord := to.Sub(from)
	l := chord.Len()
	reverse := chord.Dot(h0)+chord.Dot(h1) < 0
	t0, t1 := h0.Scale(l), h1.Scale(l)
	if reverse {
		t0, t1 = t0.Scale(-1), t1.Scale(-1)
	}
	bend := math.Max(math.Abs(chord.AngleTo(t0)), math.Abs(chord.AngleTo(t1)))
	n := 1
	if l >= bentFrom && bend < math.Pi/2 {
		n = 1 + int(2*bend/bow)
		n = parts * ((n + parts - 1) / parts)
	}
	for k := 1; k < n; k++ {
		x := float64(k) / float64(n)
		y := 1 - x
		p := from.Scale(y * y * (1 + 2*x)).Add(to.Scale(x * x * (3 - 2*x))).Add(t0.Scale(x * y * y)).Sub(t1.Scale(x * x * y))
		d := from.Sub(to).Scale(-6 * x * y).Add(t0.Scale(y * (1 - 3*x))).Add(t1.Scale(x * (3*x - 2)))
		if reverse {
			d = d.Scale(-1)
		}
		if s = s.Move(m, p, d.Scale(1/math.Max(d.Len(), 1e-12)), reverse); via != nil && k*parts%n == 0 {
			via(s)
		}
	}
	return s.Move(m, to, h1, reverse)
}
