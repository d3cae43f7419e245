package coverage

import (
	"math"
	"math/rand/v2"
	"slices"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// shift is a day's work of which all is known: where the bar really was, when,
// and whether the tool was in the ground. The log adds a receiver's error.
type shift struct {
	field [][]plane.XY // boundary, then obstacles
	way   []plane.XY   // true way, points some centimetres apart
	work  []bool       // tool in the ground from this point on
	speed []float64    // m/s aimed at from this point on
	stand []float64    // s stood at this point
}

// Speeds of the shift, m/s, and its turning radius.
const (
	workSpeed, turnSpeed   = 2.5, 1.4
	acrossSpeed, roadSpeed = 5.5, 7.0 // with the tool lifted, across the field and on the road
	turnRadius             = 5.0      // m
)

func (s *shift) drive(line []plane.XY, speed float64, work bool) {
	for i, p := range line {
		if n := len(s.way); n > 0 {
			if s.way[n-1] == p {
				continue
			}
			for _, q := range trial.Straight(s.way[n-1], p, 0.05)[1:] {
				s.add(q, speed, work)
			}
		} else if i == 0 {
			s.add(p, speed, work)
		}
	}
}

func (s *shift) add(p plane.XY, speed float64, work bool) {
	if n := len(s.way); n > 0 {
		s.speed[n-1], s.work[n-1] = speed, work
	}
	s.way, s.speed, s.work, s.stand = append(s.way, p), append(s.speed, speed), append(s.work, work), append(s.stand, 0)
}

func (s *shift) rest(seconds float64) { s.stand[len(s.stand)-1] = seconds }

// rounded is a ring driven from its first corner and back to it, with its
// corners rounded.
func rounded(r plane.Ring, radius float64) []plane.XY {
	var out []plane.XY
	for i, b := range r {
		n := len(r)
		u, v := unit(b.Sub(r[(i+n-1)%n])), unit(r[(i+1)%n].Sub(b))
		angle := math.Atan2(u.Cross(v), u.Dot(v))
		from := b.Sub(u.Scale(radius * math.Tan(math.Abs(angle)/2)))
		centre := from.Add(u.Left().Scale(math.Copysign(radius, angle)))
		for k := range 41 {
			sin, cos := math.Sincos(angle * float64(k) / 40)
			arm := from.Sub(centre)
			out = append(out, centre.Add(plane.XY{X: arm.X*cos - arm.Y*sin, Y: arm.X*sin + arm.Y*cos}))
		}
	}
	return append(out, out[0])
}

// turnLine is the way from p, driving along u, to a place w to its left (w < 0:
// right) from which it goes back: a plain half circle, a bulb, or with reversing.
func turnLine(kind string, p, u plane.XY, w float64) []plane.XY {
	side := math.Copysign(1, w)
	w = math.Abs(w)
	at := func(x, y float64) plane.XY { return p.Add(u.Scale(x)).Add(u.Left().Scale(side * y)) }
	bow := func(x, y, radius, from, to float64) (line []plane.XY) {
		for _, q := range trial.Arc(plane.XY{X: x, Y: y}, radius, from, to, 60) {
			line = append(line, at(q.X, q.Y))
		}
		return line
	}
	r := turnRadius
	switch {
	case kind == "U" || w > 2*r:
		return bow(0, w/2, w/2, -90, 90)
	case kind == "bulb": // away from the next pass, round, and back: see DESIGN, turning feasibility
		c := math.Sqrt(4*r*r - (r+w/2)*(r+w/2))
		a := math.Atan2(c, r+w/2) * 180 / math.Pi // direction from the first circle's centre to the big one's
		line := bow(0, -r, r, 90, 90-(90-a))
		line = append(line, bow(c, w/2, r, a-180, 180-a)...)
		return append(line, bow(0, w+r, r, -a, -90)...)
	}
	line := bow(0, r, r, -90, 0)                  // forward and in
	line = append(line, at(r, w-r))               // back
	return append(line, bow(0, w-r, r, 0, 90)...) // and out forwards
}

// plan is what a shift is made from.
type plan struct {
	name   string
	field  [][]plane.XY
	turn   string
	rounds int
	road   bool
}

// shiftOf drives a plan with a set of the given width: rounds, then passes to
// and fro, lifted at the end of the core and lowered where it begins.
func shiftOf(p plan, w drive.Work, rng *rand.Rand) *shift {
	s := &shift{field: p.field}
	var poly plane.Polygon
	for k, r := range p.field {
		ring := plane.Ring(slices.Clone(r))
		if k > 0 {
			slices.Reverse(ring)
		}
		poly = append(poly, ring)
	}
	inset := func(d float64) (out plane.Polygon) {
		for _, r := range poly {
			out = append(out, mitred(r, d))
		}
		return out
	}
	if p.road {
		s.drive([]plane.XY{{X: -700, Y: -200}, {X: -60, Y: -30}, {X: -20, Y: 8}}, roadSpeed, false)
		s.drive([]plane.XY{{X: -5, Y: 20}}, turnSpeed, false)
	}
	for k := range p.rounds {
		for _, ring := range inset((float64(k) + 0.5) * w.Credited()) {
			line := rounded(ring, turnRadius)
			s.drive(line[:1], acrossSpeed, false)
			s.rest(8)
			s.drive(line, workSpeed, true)
		}
	}
	core := inset(float64(p.rounds) * w.Credited())
	s.passes(p, core, w, rng)
	if p.road {
		s.drive([]plane.XY{{X: -30, Y: 30}}, roadSpeed, false)
		s.drive([]plane.XY{{X: -300, Y: -100}}, roadSpeed, false)
	}
	return s
}

// mitred is a ring with its edges moved to their left by d.
func mitred(r plane.Ring, d float64) plane.Ring {
	var out plane.Ring
	for i, b := range r {
		n := len(r)
		u, v := unit(b.Sub(r[(i+n-1)%n])).Left(), unit(r[(i+1)%n].Sub(b)).Left()
		out = append(out, b.Add(u.Add(v).Scale(d/(1+u.Dot(v)))))
	}
	return out
}

func (s *shift) passes(p plan, core plane.Polygon, w drive.Work, rng *rand.Rand) {
	box := core[0].Bounds()
	u := plane.XY{X: 1}
	row := 0
	for y := box.Min.Y + w.Credited()/2; y < box.Max.Y-0.1; y += w.Credited() {
		cuts := cutsBeside(nil, core, y, true)
		slices.Sort(cuts)
		if u.X < 0 {
			slices.Reverse(cuts)
		}
		if row > 0 {
			out := 2 * rng.Float64() // run out with the tool lifted
			here := s.way[len(s.way)-1]
			var x float64
			if u.X < 0 {
				x = max(here.X, cuts[0]) // u points the new way: the turn lies behind it
			} else {
				x = min(here.X, cuts[0])
			}
			start := plane.XY{X: x - u.X*(1+out), Y: here.Y}
			s.drive([]plane.XY{start}, turnSpeed+0.5, false)
			s.drive(turnLine(p.turn, start, u.Scale(-1), -u.X*(y-here.Y)), turnSpeed, false)
			if rng.IntN(6) == 0 {
				s.rest(20)
			}
		}
		for i := 0; i+1 < len(cuts); i += 2 {
			a, b := plane.XY{X: cuts[i], Y: y}, plane.XY{X: cuts[i+1], Y: y}
			if i > 0 {
				s.pastObstacle(p.field[1], a)
			}
			if row == 0 && i == 0 {
				s.drive([]plane.XY{a}, acrossSpeed, false)
			}
			s.drive([]plane.XY{a}, turnSpeed+0.5, false)
			s.drive([]plane.XY{a.Lerp(b, 0.5)}, workSpeed, true)
			if rng.IntN(5) == 0 {
				s.rest(30)
			}
			s.drive([]plane.XY{b}, workSpeed, true)
		}
		u = u.Scale(-1)
		row++
	}
}

// logged drives the shift and logs it: rate fixes per second, an error that
// wanders within minutes with the given standard deviation, m, and some white
// noise, by an antenna some metres ahead of the bar. truth is where the bar
// really was.
func (s *shift) logged(rate, wander, white, ahead float64, rng *rand.Rand) (log trial.Sketch, truth []plane.XY) {
	const pull = 0.5 // m/s²
	now, v, next := 0.0, 0.5, 0.0
	var line []plane.XY
	var times []float64
	var state []geo.WorkState
	// Three slow waves each way: as smooth as a receiver's error, and never quite the same.
	var waves [6][2]float64 // radians per second, phase
	for k := range waves {
		waves[k] = [2]float64{2 * math.Pi / (60 + 240*rng.Float64()), 2 * math.Pi * rng.Float64()}
	}
	wave := func(k int) (sum float64) {
		for _, v := range waves[k : k+3] {
			sum += wander * math.Sqrt(2./3) * math.Sin(v[0]*next+v[1])
		}
		return sum
	}
	log1 := func(p, along plane.XY, work bool) {
		off := plane.XY{X: wave(0), Y: wave(3)}
		truth = append(truth, p)
		line = append(line, p.Add(along.Scale(ahead)).Add(off).Add(plane.XY{X: white * rng.NormFloat64(), Y: white * rng.NormFloat64()}))
		times = append(times, 1.7e9+next)
		st := geo.Lifted
		if work {
			st = geo.Working
		}
		state = append(state, st)
		next += 1 / rate
	}
	for i := 0; i+1 < len(s.way); i++ {
		for until := now + s.stand[i]; next < until; {
			log1(s.way[i], s.along(i), s.work[i])
		}
		now += s.stand[i]
		if s.stand[i] > 0 {
			v = 0.2
		}
		l := s.way[i].Dist(s.way[i+1])
		dt := l / v
		v += min(max(s.speed[i]-v, -2*pull*dt), pull*dt)
		for next < now+dt {
			log1(s.way[i].Lerp(s.way[i+1], max(0, next-now)/dt), s.along(i), s.work[i])
		}
		now += dt
	}
	return trial.Sketch{Rings: s.field, Lines: [][]plane.XY{line}, Times: [][]float64{times}, State: [][]geo.WorkState{state}}, truth
}

// pastObstacle drives on to a past an obstacle on the row: straight on and working
// where there is room, working round it where it takes little, else with the tool
// lifted.
func (s *shift) pastObstacle(hole []plane.XY, a plane.XY) {
	const room, little = 4.0, 8.0 // m
	box := plane.Ring(hole).Bounds()
	from := s.way[len(s.way)-1]
	aside := max(0, box.Max.Y+room-a.Y)
	if a.Y < (box.Min.Y+box.Max.Y)/2 {
		aside = min(0, box.Min.Y-room-a.Y)
	}
	speed, work := workSpeed, true
	if math.Abs(aside) > little {
		speed, work = turnSpeed, false
	}
	for k := range 101 {
		x := float64(k) / 100
		s.drive([]plane.XY{{X: from.X + (a.X-from.X)*x, Y: a.Y + aside*math.Pow(math.Sin(math.Pi*x), 2)}}, speed, work)
	}
}

// along is the direction driven at a point of the way.
func (s *shift) along(i int) plane.XY {
	return unit(s.way[min(i+1, len(s.way)-1)].Sub(s.way[max(0, i-1)]))
}

// unit is v at length 1.
func unit(v plane.XY) plane.XY { return v.Scale(1 / v.Len()) }
