package coverage

import (
	"fmt"
	"math"

	"balk/geo"
	"balk/geo/plane"
)

// Mount says where the working bar is, seen from the antenna. The zero value is
// an antenna above the middle of the bar.
//
//	    antenna    rear axle     hitch            axle     bar
//	───────⊙──────────╂────────────●───────────────╂────────┃──
//	       │←— ahead —→│                            │        │
//	       │←———— hitch ————————→│←—— drawbar ———→│← behind→│
type Mount struct {
	Trailed      bool    `json:"trailed,omitempty"`      // false: rigid, on the three-point hitch
	AntennaAhead float64 `json:"antennaAhead,omitempty"` // m, antenna ahead of the tractor's rear axle
	AntennaRight float64 `json:"antennaRight,omitempty"` // m, antenna right of the tractor's middle
	Hitch        float64 `json:"hitch,omitempty"`        // m, hitch behind the antenna
	Drawbar      float64 `json:"drawbar,omitempty"`      // m, hitch to the implement's axle; trailed only
	BarBehind    float64 `json:"barBehind,omitempty"`    // m, bar behind the axle (trailed) or the hitch (rigid); negative: ahead
	BarRight     float64 `json:"barRight,omitempty"`     // m, middle of the bar right of the implement's middle
}

const (
	maxReach = 50.0 // m, longest dimension of a set taken; longer ones are typing errors
	// headingBase: the tractor's heading is taken from fixes at least so far
	// before and behind. With a receiver's 2 cm it is then good to 1°, where
	// neighbouring fixes of a 10 Hz log would give 5°.
	headingBase = 1.0 // m
	// bow: a step is cut so that its pieces turn by less, rad. The chord then lies
	// within bow²/8 of its radius from the arc: 0.1 mm at 10 m.
	bow = 0.01
	// bentFrom: shorter steps are taken as straight. On the tightest bends (6 m)
	// they lie within a millimetre of the arc.
	bentFrom = 0.2 // m
	// settling: a trailed set that starts at an unknown angle has lost 95 % of the
	// error after three drawbars of straight travel (e^−3, see follow).
	settling = 3.0
	// folded: the drawbar stands square to the tractor, rad.
	folded = math.Pi / 2
)

// Validate says what is wrong with m.
func (m Mount) Validate() error {
	for _, c := range []struct {
		name string
		v    float64
	}{{"antenna ahead", m.AntennaAhead}, {"antenna right", m.AntennaRight}, {"hitch", m.Hitch}, {"drawbar", m.Drawbar}, {"bar behind", m.BarBehind}, {"bar right", m.BarRight}} {
		if !(math.Abs(c.v) <= maxReach) {
			return fmt.Errorf("mount, %s %g m: must be within ±%g m", c.name, c.v, maxReach)
		}
	}
	if m.AntennaAhead < 0 {
		return fmt.Errorf("mount, antenna %g m ahead of the rear axle: must not be below 0 m", m.AntennaAhead)
	}
	if m.Trailed && !(m.Drawbar > 0) {
		return fmt.Errorf("mount, drawbar %g m: a trailed set needs one above 0 m", m.Drawbar)
	}
	if !m.Trailed && m.Drawbar != 0 {
		return fmt.Errorf("mount, drawbar %g m: only a trailed set has one", m.Drawbar)
	}
	return nil
}

// follow moves the front end of a drawbar of length l by step; its rear end is
// drawn along (tractrix). e is the unit vector from rear to front before, the
// result that after. For a straight step it is exact: with ψ the angle from the
// step to the drawbar, dψ/ds = −sin ψ / l, so
//
//	tan(ψ/2) → tan(ψ/2)·exp(−s/l)
//
// (the tractrix; found in textbooks of calculus, derived here).
func follow(e, step plane.XY, l float64) plane.XY {
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

// rig is a tractor with its implement at one moment: the antenna, the tractor's
// heading and the implement's (unit vectors).
type rig struct {
	antenna, ahead, drawn plane.XY
}

func right(u plane.XY) plane.XY { return plane.XY{X: u.Y, Y: -u.X} }

// hitch is where the implement is hung.
func (s rig) hitch(m Mount) plane.XY {
	return s.antenna.Sub(s.ahead.Scale(m.Hitch)).Sub(right(s.ahead).Scale(m.AntennaRight))
}

// bar is the middle of the working bar and the way it faces.
func (s rig) bar(m Mount) (at, facing plane.XY) {
	facing = s.ahead
	back := m.BarBehind
	if m.Trailed {
		facing = s.drawn
		back += m.Drawbar
	}
	return s.hitch(m).Sub(facing.Scale(back)).Add(right(facing).Scale(m.BarRight)), facing
}

// move brings the set to the next antenna place; ahead is the direction of
// travel there (or against it, when reversing), and is believed where the
// antenna stands above the rear axle. Otherwise the rear axle is drawn along
// behind the antenna, as an axle does that cannot slip sideways.
func (s rig) move(m Mount, to, ahead plane.XY, reverse bool) rig {
	n := rig{antenna: to, ahead: ahead, drawn: s.drawn}
	if m.AntennaAhead > 0 && !reverse {
		n.ahead = follow(s.ahead, to.Sub(s.antenna), m.AntennaAhead)
	}
	if m.Trailed {
		n.drawn = follow(s.drawn, n.hitch(m).Sub(s.hitch(m)), m.Drawbar)
	}
	return n
}

// angle is the drawbar's, between tractor and implement, in radians 0 to π.
func (s rig) angle() float64 {
	return math.Abs(math.Atan2(s.ahead.Cross(s.drawn), s.ahead.Dot(s.drawn)))
}

// place turns the antenna's way into the bar's: t.at becomes the middle of the
// bar, t.facing its way. Every unbroken part starts with tractor and implement in line.
func (t *trail) place(m Mount) []geo.Finding {
	if m == (Mount{}) {
		return nil
	}
	at, facing := make([]plane.XY, len(t.at)), make([]plane.XY, len(t.at))
	var worst float64
	var worstAt, parts int
	for _, part := range byBreaks(t) {
		kept, heading := t.headings(part)
		if len(kept) < 2 {
			for k := part.from; k <= part.to; k++ {
				at[k] = t.at[k] // never moved: no pass comes of it
			}
			continue
		}
		parts++
		s := rig{t.at[kept[0]], heading[0], heading[0]}
		next := 0
		for i, k := range kept {
			if i > 0 {
				s = s.drive(m, t.at[k], heading[i-1], heading[i])
			}
			if a := s.angle(); m.Trailed && a > worst {
				worst, worstAt = a, k
			}
			p, f := s.bar(m)
			for until := t.until(kept, i, part); next < until; next++ {
				at[part.from+next], facing[part.from+next] = p, f // standing still
			}
		}
	}
	t.at, t.facing = at, facing
	return t.placeFindings(m, parts, worst, worstAt)
}

// until is how many fixes of the part stand where kept fix i does.
func (t *trail) until(kept []int, i int, part span) int {
	if i+1 < len(kept) {
		return kept[i+1] - part.from
	}
	return part.to - part.from + 1
}

func (t *trail) placeFindings(m Mount, parts int, worst float64, at int) []geo.Finding {
	if !m.Trailed || parts == 0 {
		return nil
	}
	record := t.trackOf(at) + 1
	out := []geo.Finding{{File: t.source, Record: record,
		What: fmt.Sprintf("the drawbar's angle is not logged: taken as straight at the start of %d unbroken parts, so the path is unsettled there for up to %.0f m", parts, settling*m.Drawbar)}}
	if worst > folded {
		out = append(out, geo.Finding{File: t.source, Record: record,
			What: fmt.Sprintf("by this drawbar of %g m the set would have folded: %.0f° between tractor and implement at fix %d (limit 90°); check the implement's lengths", m.Drawbar, worst*180/math.Pi, at+1)})
	}
	return out
}

// drive moves the set along one step, in pieces where it bends. Between two
// fixes the antenna runs on the cubic with the given tangents.
func (s rig) drive(m Mount, to, h0, h1 plane.XY) rig {
	from := s.antenna
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
		s = s.move(m, p, d.Scale(1/math.Max(d.Len(), 1e-12)), reverse)
	}
	return s.move(m, to, h1, reverse)
}

// headings keeps the fixes of a part that moved the antenna by more than a
// standing receiver does, and gives the tractor's heading at each: the logged
// one where it lies within 45° of the travel, else the tangent of the circle
// through the fixes headingBase before and behind. A set works forwards; where
// the travel turns back by more than 120° with the tool lifted, it reverses.
func (t *trail) headings(part span) (kept []int, heading []plane.XY) {
	for k := part.from; k <= part.to; k++ {
		if len(kept) == 0 || t.at[k].Dist(t.at[kept[len(kept)-1]]) >= parked {
			kept = append(kept, k)
		}
	}
	n := len(kept)
	if n < 2 {
		return kept, nil
	}
	heading = make([]plane.XY, n)
	forward := 1.0
	back, front := 0, 0
	for i, k := range kept {
		p := t.at[k]
		for back+1 < i && t.at[kept[back+1]].Dist(p) >= headingBase {
			back++
		}
		for front = max(front, min(i+1, n-1)); front+1 < n && t.at[kept[front]].Dist(p) < headingBase; front++ {
		}
		in, out := p.Sub(t.at[kept[back]]), t.at[kept[front]].Sub(p)
		a, b := in.Len(), out.Len()
		var d plane.XY
		switch {
		case b == 0: // the last fix: the tangent before, mirrored at the chord
			d = mirrored(heading[i-1].Scale(forward), p.Sub(t.at[kept[i-1]]))
		case a == 0: // the first: put right below
			d = out
		case in.Dot(out) < backCos*a*b: // turned back
			d = out
			forward = -forward
		default:
			// on a circle the chords lie at ∓a/2R and b/2R from the tangent
			d = in.Scale(b / a).Add(out.Scale(a / b))
		}
		if t.state != nil && t.state[k] == geo.Working {
			forward = 1
		}
		d = d.Scale(forward / math.Max(d.Len(), 1e-12))
		if t.facing != nil {
			if f := t.facing[k]; math.Abs(d.Dot(f)) > ownBearing {
				if d.Dot(f) < 0 && (t.state == nil || t.state[k] != geo.Working) {
					forward = -forward // the log knows better which way the tractor looks
				}
				d = f
			}
		}
		heading[i] = d
	}
	if n > 2 && (t.facing == nil || heading[0] != t.facing[kept[0]]) {
		heading[0] = mirrored(heading[1], t.at[kept[1]].Sub(t.at[kept[0]]))
	}
	return kept, heading
}

// mirrored is the tangent at one end of a chord of a circle, given that at the
// other end.
func mirrored(u, chord plane.XY) plane.XY {
	c := chord.Scale(1 / chord.Len())
	if d := u.Dot(c); math.Abs(d) > 0.5 {
		return c.Scale(2 * d).Sub(u)
	}
	return c
}
