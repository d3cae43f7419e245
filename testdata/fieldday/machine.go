package fieldday

import (
	"fmt"
	"math"
	"math/rand/v2"

	"balk/geo/plane"
)

// machine is a set on its way.
type machine struct {
	back, side float64 // of the bar behind the axle it is rigid to, and to the right
	trailed    bool
	at, ahead  plane.XY // rear axle
	hung       plane.XY // the hitch a tick ago
	drawn      plane.XY // the drawbar's way from axle to hitch, unit
	curvature  float64
	speed      float64
}

// bar is the middle of the bar and the way it faces.
func (m *machine) bar() (at, facing plane.XY) {
	facing = m.ahead
	from := m.hitch()
	if m.trailed {
		m.draw(from)
		facing = m.drawn
		from = from.Sub(facing.Scale(reach))
	}
	return from.Sub(facing.Scale(m.back)).Sub(facing.Left().Scale(m.side)), facing
}

// draw has the drawbar follow its hitch. Its axle cannot slip sideways, so what of the hitch's way is square to the drawbar turns it. By the
// midpoint rule: an axle that is drawn straight towards the hitch tick by tick would run as if the drawbar were longer by half a tick's way.
func (m *machine) draw(hitch plane.XY) {
	way := hitch.Sub(m.hung)
	half := turned(m.drawn, m.drawn.Cross(way)/reach/2)
	m.hung, m.drawn = hitch, turned(m.drawn, half.Cross(way)/reach)
}

// turned is a unit vector turned to the left by an angle.
func turned(u plane.XY, by float64) plane.XY {
	sin, cos := math.Sincos(by)
	return u.Scale(cos).Add(u.Left().Scale(sin))
}

func (m *machine) hitch() plane.XY { return m.at.Sub(m.ahead.Scale(axleToHitch)) }

// steer turns the wheels towards a place.
func (m *machine) steer(to plane.XY) {
	d := to.Sub(m.at)
	want := 2 * m.ahead.Cross(d) / max(d.Dot(d), 0.01) // the circle through both, tangent to the way
	m.curvature += (min(max(want, -tightest), tightest) - m.curvature) * tick / steering
}

// drive goes on for a tick.
func (m *machine) drive(wanted float64) {
	m.speed += min(max(wanted-m.speed, -1), 0.8) * tick
	s := m.speed * tick
	m.at = m.at.Add(m.ahead.Scale(s)).Add(m.ahead.Left().Scale(m.curvature * s * s / 2))
	m.ahead = turned(m.ahead, m.curvature*s)
}

// lever is the driver's hand: when the bar goes in and out.
type lever struct {
	how     Driving
	pressed bool
	leg     int32   // that is worked, or was last
	in, out float64 // when the bar will be, s; +Inf: not pressed
	at      int32   // leg whose work the bar is in
}

// pull works out for a tick on a leg whether the button is pressed, and where the bar is.
func (v *lever) pull(now float64, leg int32, along, long float64, m manner, speed float64) {
	if leg != none && v.leg < leg {
		if math.IsInf(v.in, 1) && along+speed*v.how.Lower >= m.inAt {
			v.in, v.pressed = now+v.how.Lower, true
		}
		if !math.IsInf(v.in, 1) && math.IsInf(v.out, 1) && along > 5 && along+speed*v.how.Lift >= long+m.outAt {
			v.out, v.pressed = now+v.how.Lift, false
		}
	}
	if now >= v.in-1e-9 && v.at == none && math.IsInf(v.out, 1) {
		v.at = leg
	}
	if leg == none && v.at != none && math.IsInf(v.out, 1) { // the leg ends before the bar is at its end
		v.out, v.pressed = now+v.how.Lift, false
	}
	if now >= v.out-1e-9 {
		v.leg, v.at, v.in, v.out = max(v.leg, v.at), none, math.Inf(1), math.Inf(1)
	}
}

// sent sends a set over its field.
func sent(how Driving, seed uint64) (*driven, error) {
	layout, err := layoutOf(laid{how.Bent, how.Trailed})
	if err != nil {
		return nil, err
	}
	rng := rand.New(rand.NewPCG(seed, 13))
	whole := layout
	layout.Legs = how.goneWrong(layout.Legs)
	mount := set(how.Trailed).Mount
	legs := make([]line, len(layout.Legs))
	for i, leg := range layout.Legs {
		legs[i] = lineOf(leg.Line)
	}
	runIn := 9.0 // m, straight before the bar is lowered
	if how.Trailed {
		runIn = 15
	}
	r, err := roadOf(legs, behind(mount), runIn, rng)
	if err != nil {
		return nil, err
	}
	manners := mannersOf(layout, how.Late, rng)
	way := r.at[4].Sub(r.at[0])
	m := machine{back: mount.BarBehind, side: how.Side, trailed: how.Trailed, at: r.at[0], ahead: way.Scale(1 / way.Len()), speed: turning}
	m.hung, m.drawn = m.hitch(), m.ahead
	v := lever{how: how, leg: none, at: none, in: math.Inf(1), out: math.Inf(1)}
	d := &driven{layout: layout, whole: whole, how: how}
	along, leg := 0.0, int32(none)
	for i, n := 0, 0; i < len(r.at)-2; n++ {
		for k := i + 1; k < min(len(r.at)-1, i+int(ahead/grid)); k++ {
			if r.at[k].Dist(m.at) <= r.at[i].Dist(m.at) {
				i = k
			}
		}
		if off := r.at[i].Dist(m.at); off > lost {
			return nil, fmt.Errorf("field day, seed %d: the driver is %.1f m off the line (limit %g m)", seed, off, lost)
		}
		m.steer(r.at[min(len(r.at)-1, i+int(ahead/grid))])
		bar, facing := m.bar()
		wanted := turning
		var how manner
		long := 0.0
		if now := r.leg[i]; now != none {
			if now != leg {
				along = -runIn
			}
			how, long = manners[now], legs[now].long
			along = legs[now].along(bar, along)
			if wanted = how.speed; math.Abs(along/long-how.slowAt) < 0.05 {
				wanted *= how.slowBy
			}
		}
		leg = r.leg[i]
		v.pull(float64(n)*tick, leg, along, long, how, m.speed)
		d.antenna, d.bar, d.facing = append(d.antenna, m.at.Add(m.ahead.Scale(antenna))), append(d.bar, bar), append(d.facing, facing)
		d.leg, d.button, d.from = append(d.leg, v.at), append(d.button, v.pressed), append(d.from, along)
		m.drive(wanted)
		if float64(n)*tick > longest {
			return nil, fmt.Errorf("field day, seed %d: the set is still driving after %d s", seed, longest)
		}
	}
	d.lift(legs, rand.New(rand.NewPCG(seed, 17)))
	return d, nil
}

// lift lifts the bar now and then.
func (d *driven) lift(legs []line, rng *rand.Rand) {
	for range d.how.Lifts {
		leg := rng.IntN(len(legs))
		for d.layout.Legs[leg].Row == 0 {
			leg = rng.IntN(len(legs))
		}
		at := rng.Float64() * (legs[leg].long - d.how.LiftOver)
		for tick, now := range d.leg {
			if now == int32(leg) && d.from[tick] >= at && d.from[tick] < at+d.how.LiftOver {
				d.leg[tick] = none
			}
		}
	}
}

// goneWrong are the legs as they are driven.
func (how Driving) goneWrong(legs []Leg) []Leg {
	var out []Leg
	for _, leg := range legs {
		if leg.Row > 0 && leg.Row == how.Omitted {
			continue
		}
		if leg.Row > 0 && leg.Row == how.Aside {
			moved := make([]plane.XY, len(leg.Line))
			for i, p := range leg.Line {
				moved[i] = p.Add(plane.XY{X: how.AsideBy})
			}
			leg.Line = moved
		}
		if leg.Row > 0 {
			leg.Line = how.askew(leg)
		}
		out = append(out, leg)
	}
	return out
}

// askew is the line of a row where something goes wrong with many.
func (how Driving) askew(leg Leg) []plane.XY {
	rows := float64(leg.Row - 1)
	moved := make([]plane.XY, len(leg.Line))
	for i, p := range leg.Line {
		aside := how.Spread*rows + how.Fan*rows*(p.Y+fieldY/2) + how.Slide*p.Dist(leg.Line[0])
		if how.Shift > 0 && leg.Row >= how.Shift {
			aside += how.ShiftBy
		}
		moved[i] = p.Add(plane.XY{X: aside})
	}
	return moved
}
