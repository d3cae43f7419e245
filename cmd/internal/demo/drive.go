package demo

import (
	"math"
	"math/rand/v2"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// The driver. Invented, but as tractors and drivers are: common practice, no source.
const (
	sight    = 3.0  // m, he steers for the place of his way so far ahead
	wheel    = 0.6  // m, in which the curvature follows the hand but for 1/e
	spareLet = 0.25 // m, by which he stays above the least radius
	sideways = 0.42 // m/s², he does not go faster round a bend with the tool lifted,
	pushed   = 0.18 // m/s², nor at work
	gaining  = 0.35 // m/s²
	braking  = 0.5  // m/s²
)

// moment is the set at one place of its way, as it truly was.
type moment struct {
	near    int      // index of the route's place next to it
	axle    plane.XY // middle of the tractor's rear axle
	ahead   plane.XY // unit vector, the tractor's
	bar     plane.XY // middle of the bar
	facing  plane.XY // unit vector, the bar's
	bend    float64  // 1/m, of the axle's way, positive: to the left
	working bool
	pass    int     // index of the pass driven or headed for
	seconds float64 // since start
	speed   float64 // m/s
}

// antenna is where the antenna stands.
func (m moment) antenna(mount rig.Mount) plane.XY {
	return m.axle.Add(m.ahead.Scale(mount.AntennaAhead)).Sub(m.ahead.Left().Scale(mount.AntennaRight))
}

// drive steers the set along the route: for a place of it `sight` ahead, on the circle through that place (pure pursuit;
// Coulter 1992, from memory). Tractor and implement move as coverage/rig says.
func (r *route) drive(pace float64, rng *rand.Rand) []moment {
	seen := r.im.Mount // from the rear axle
	seen.Hitch, seen.AntennaAhead, seen.AntennaRight = r.im.Mount.HitchBehindAxle(), 0, 0
	start := r.line[1].Sub(r.line[0]).Unit()
	set := rig.Set{Antenna: r.line[0], Ahead: start, Drawn: start}
	bend, most := 0.0, 1/(r.im.TurnRadius()+spareLet)
	near, next, working := 0, 0, false
	var way []moment
	for near+1 < len(r.line) {
		aim := r.line[min(near+int(sight/fineStep), len(r.line)-1)].Sub(set.Antenna)
		wanted := 2 * set.Ahead.Cross(aim) / max(aim.Dot(aim), 1)
		bend += (max(-most, min(most, wanted)) - bend) * (1 - math.Exp(-fineStep/wheel))
		sin, cos := math.Sincos(bend * fineStep)
		ahead := set.Ahead.Scale(cos).Add(set.Ahead.Left().Scale(sin))
		chord := set.Ahead.Add(ahead)
		set = set.Move(seen, set.Antenna.Add(chord.Scale(fineStep/chord.Len())), ahead, false)
		for k := near + 1; k < min(near+int(sight/fineStep), len(r.line)); k++ {
			if r.line[k].Dist(set.Antenna) <= r.line[near].Dist(set.Antenna) {
				near = k
			}
		}
		m := moment{near: near, axle: set.Antenna, ahead: set.Ahead, bend: bend, pass: next / 2}
		m.bar, m.facing = set.Bar(seen)
		if next < len(r.switches) {
			if l := r.switches[next]; float64(near)*fineStep >= l.from && m.bar.Sub(l.at).Dot(l.along) >= 0 {
				working = !working
				next++
			}
		}
		m.working = working
		if way = append(way, m); next == len(r.switches) && !working && near+int(sight/fineStep) >= len(r.line) {
			break
		}
	}
	r.hurry(way, pace, rng)
	return way
}

// hurry gives the moments their speeds and times: the pace of work or of turns, which varies along the way, less in bends,
// and no quicker gained or lost than a tractor can.
func (r *route) hurry(way []moment, pace float64, rng *rand.Rand) {
	turning := r.im.Turning.Speed.MetresPerSecond()
	slow, fast := rng.Float64()*2*math.Pi, rng.Float64()*2*math.Pi
	for i := range way {
		m := &way[i]
		s := float64(i) * fineStep
		m.speed = turning
		if m.working {
			m.speed = pace * (1 + 0.03*math.Sin(s/37+slow) + 0.015*math.Sin(s/11+fast))
		}
		aside := sideways
		if m.working {
			aside = pushed
		}
		if b := math.Abs(m.bend); b > 0 {
			m.speed = min(m.speed, math.Sqrt(aside/b))
		}
	}
	way[0].speed = min(way[0].speed, math.Sqrt(2*gaining*fineStep))
	for i := 1; i < len(way); i++ {
		way[i].speed = min(way[i].speed, math.Sqrt(math.Pow(way[i-1].speed, 2)+2*gaining*fineStep))
	}
	for i := len(way) - 2; i >= 0; i-- {
		way[i].speed = min(way[i].speed, math.Sqrt(math.Pow(way[i+1].speed, 2)+2*braking*fineStep))
	}
	for i := 1; i < len(way); i++ {
		way[i].seconds = way[i-1].seconds + 2*fineStep/(way[i].speed+way[i-1].speed)
	}
}
