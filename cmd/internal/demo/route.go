package demo

import (
	"context"
	"fmt"
	"math"
	"slices"

	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

const (
	// easier: a driver plans his turns on so much more than the least radius, m.
	easier = 0.6
	// fineStep is how far apart the places of a route are, m.
	fineStep = 0.1
	// rowLap: the tool goes down so much before a pass begins and up so much after it ends, m.
	rowLap = 0.15
)

// route is the way of the tractor's rear axle as its driver wants it, and where the tool is lowered and lifted.
type route struct {
	im       rig.Implement
	jobs     []job
	line     []plane.XY // about fineStep apart
	switches []lever    // lowered, lifted, lowered, lifted ...
}

// job is one pass of a route: the line of the bar's middle, straight before it some metres in which the set gets in line, what goes
// wrong on it, and where along it the tool is lowered and lifted, m.
type job struct {
	plan.Pass
	from, to float64 // m along the line, where the planned pass begins and ends
	wrong    fault   // kind "" where nothing is
	down, up float64
	leaves   *job // a pass that is left out after this one
}

// lever is a place at which the tool is lowered or lifted: where the bar's middle comes over the line through at, square to along.
type lever struct {
	at    plane.XY
	along plane.XY // unit vector
	from  float64  // m along the route, before which it does not count
}

// lead is how far the tractor's rear axle is ahead of the bar, m.
func lead(m rig.Mount) float64 { return m.HitchBehindAxle() + m.Drawbar + m.BarBehind }

// route plans the work with the faults in it.
func (g ground) route(ctx context.Context) (route, error) {
	im, err := implement(g.set)
	if err != nil {
		return route{}, err
	}
	wide := im
	wide.Turning.Radius = im.TurnRadius() + easier
	if im.Mount.Trailed {
		wide.Mount.DrawbarRadius = 0
	}
	wide.Turning.ReverseSpeed = 0 // forward only
	p, err := plan.Lay(ctx, []plane.Polygon{g.polygon()}, wide, plan.Options{Heading: geo.Heading(g.along), Rounds: g.rounds, Speed: geo.KmPerHourOf(g.pace)})
	if err != nil {
		return route{}, err
	}
	jobs, err := g.jobs(p, settle(im.Mount), lead(im.Mount))
	if err != nil {
		return route{}, err
	}
	var passes []plan.Pass
	for _, j := range jobs {
		passes = append(passes, j.Pass)
	}
	if p, err = p.Reordered(ctx, passes); err != nil {
		return route{}, err
	}
	for _, m := range p.Moves {
		if m.Fault != nil {
			return route{}, fmt.Errorf("%s: the planned way cannot be driven: %s", g.name, m.Fault.Why)
		}
	}
	return g.lines(p.Moves, jobs, im)
}

// settle is how far a set goes straight before the tool goes down, m: a driver needs some metres, and two
// drawbars leave 14 % of an angle (e^−2).
func settle(m rig.Mount) float64 { return 6 + 2*m.Drawbar }

// jobs are the passes as they are driven: with the faults of the interior, and rounds that lap where they close.
func (g ground) jobs(p plan.Plan, settle, lead float64) ([]job, error) {
	wrong := map[int]fault{} // by pass number
	for _, f := range g.faults {
		k := nearestTo(f.near, p.Passes)
		if k < 0 || wrong[k].kind != "" {
			return nil, fmt.Errorf("%s: %s at %.0f, %.0f: there is no pass of its own", g.name, f.kind, f.near.X, f.near.Y)
		}
		wrong[k] = f
	}
	var jobs []job
	flipped := false
	drawn := func(one plan.Pass, f fault) job {
		if flipped {
			one.Line = slices.Clone(one.Line)
			slices.Reverse(one.Line)
		}
		j := jobOn(one).after(settle)
		j.wrong = f
		switch f.kind {
		case LoweredLate:
			j.down = j.from + f.size
		case LiftedEarly:
			j.up = j.to - f.size
		}
		return j
	}
	for _, one := range g.pondsFirst(p.Passes) {
		if one.Round > 0 {
			jobs = append(jobs, lapped(one, jobs, settle, lead))
			continue
		}
		switch f := wrong[one.Number]; f.kind {
		case LeftOut: // the next one is driven the way this would have been
			if len(jobs) == 0 {
				return nil, fmt.Errorf("%s: %s at the first pass: must be one after it", g.name, f.kind)
			}
			left := drawn(one, f)
			jobs[len(jobs)-1].leaves = &left
			flipped = !flipped
		case Twice: // and the next ones the other way
			jobs = append(jobs, drawn(one, fault{}))
			flipped = !flipped
			jobs = append(jobs, drawn(one, f))
		default:
			jobs = append(jobs, drawn(one, f))
		}
	}
	return jobs, nil
}

// nearestTo is the number of the pass in the interior that comes nearest to a place; -1: there is none.
func nearestTo(at plane.XY, passes []plan.Pass) int {
	best, least := -1, math.Inf(1)
	for _, one := range passes {
		for i := 1; i < len(one.Line) && one.Round == 0; i++ {
			if d := (plane.Segment{A: one.Line[i-1], B: one.Line[i]}).Dist(at); d < least {
				best, least = one.Number, d
			}
		}
	}
	return best
}

// pondsFirst has the rounds about obstacles driven before those along the boundary.
func (g ground) pondsFirst(passes []plan.Pass) []plan.Pass {
	rank := func(one plan.Pass) int {
		if one.Round == 0 {
			return 0
		}
		for _, h := range g.holes {
			if ring := plane.Ring(one.Line); (plane.Polygon{ring}).Holds(h[0]) && math.Abs(ring.Area()) < g.outer.Area()/2 {
				return 1
			}
		}
		return 2
	}
	passes = slices.Clone(passes)
	slices.SortStableFunc(passes, func(a, b plan.Pass) int { return rank(a) - rank(b) })
	return passes
}

// tangent: so much straight leads into a round that has no straight itself, and out of it, m: the rear of a set swings
// towards what it turns away from.
const tangent = 9.0

// lapped is a closed round that begins near to where the last pass ended, on a straight if it has one that is long enough, and goes
// on over its beginning, so far that the set is in line when the tool goes down.
func lapped(one plan.Pass, before []job, settle, lead float64) job {
	line := one.Line
	n := len(line) - 1
	if line[0] != line[n] {
		return jobOn(one).after(settle)
	}
	var at plane.XY
	if k := len(before); k > 0 {
		last := before[k-1].Line
		at = last[len(last)-1]
	}
	need := settle + lead + 2*rowLap
	side, least, straight := -1, math.Inf(1), false
	var from plane.XY
	for i := range n {
		a, b := line[i], line[i+1]
		long := a.Dist(b)
		u := b.Sub(a).Scale(1 / long)
		p := a.Add(u.Scale(max(0, min(long-need, at.Sub(a).Dot(u)))))
		if d := p.Dist(at); long >= need && !straight || (long >= need) == straight && d < least {
			side, least, from, straight = i, d, p, long >= need
		}
	}
	out := []plane.XY{from}
	for i := range n {
		if q := line[(side+1+i)%n]; q != from {
			out = append(out, q)
		}
	}
	out = append(out, from)
	j := job{Pass: one, from: settle, to: plane.Length(out) + settle, down: settle, up: plane.Length(out) + settle + rowLap}
	left := settle + 2*rowLap
	for i := 1; left > 0; i++ {
		a := out[len(out)-1]
		d := min(left, a.Dist(out[i]))
		out, left = append(out, a.Lerp(out[i], d/a.Dist(out[i]))), left-d
	}
	j.Line = out
	if !straight {
		v := out[len(out)-1].Sub(out[len(out)-2]).Unit()
		j.Line = append(out, out[len(out)-1].Add(v.Scale(tangent)))
		j = j.after(tangent)
	}
	return j
}

// after is the job with so much straight before its line.
func (j job) after(metres float64) job {
	in := j.Line[1].Sub(j.Line[0]).Unit()
	j.Line = slices.Concat([]plane.XY{j.Line[0].Sub(in.Scale(metres))}, j.Line)
	j.from, j.to, j.down, j.up = j.from+metres, j.to+metres, j.down+metres, j.up+metres
	return j
}

// jobOn is a pass driven as planned.
func jobOn(one plan.Pass) job {
	long := plane.Length(one.Line)
	return job{Pass: one, to: long, down: -rowLap, up: long + rowLap}
}

// along is the place so far along a line, and which way the line runs there.
func along(line []plane.XY, s float64) (at, way plane.XY) {
	for i := 1; ; i++ {
		step := line[i].Sub(line[i-1])
		if long := step.Len(); s > long && i+1 < len(line) {
			s -= long
			continue
		}
		way = step.Unit()
		return line[i-1].Add(way.Scale(s)), way
	}
}

// lines draws the way of the axle.
func (g ground) lines(moves []plan.Move, jobs []job, im rig.Implement) (route, error) {
	r := route{im: im, jobs: jobs}
	for i, j := range jobs {
		for _, path := range moves[i].Paths() {
			line, err := path.Line(1e-4)
			if err != nil {
				return route{}, err
			}
			r.add(line...)
		}
		begins := r.long()
		r.pass(j, lead(im.Mount))
		at, way := along(j.Line, j.down)
		r.switches = append(r.switches, lever{at, way, begins + j.down - near})
		at, way = along(j.Line, j.up)
		r.switches = append(r.switches, lever{at, way, r.long() - (plane.Length(j.Line) - j.up) - near})
	}
	return r, nil
}

// near: so long before the bar comes to a place the driver has his hand on the lever, m.
const near = 3.0

// add goes on over some places, straight from one to the next.
func (r *route) add(line ...plane.XY) {
	for _, q := range line {
		n := len(r.line)
		if n == 0 {
			r.line = append(r.line, q)
			continue
		}
		p := r.line[n-1]
		steps := math.Ceil(p.Dist(q) / fineStep)
		for k := 1.0; k <= steps; k++ {
			r.line = append(r.line, p.Lerp(q, k/steps))
		}
	}
}

// long is how long the route is, m, taken as so many steps.
func (r *route) long() float64 { return float64(len(r.line)-1) * fineStep }

// pass goes on along a pass: the axle runs so far ahead of the bar; on a round beside its line, so that the bar is on it; and
// where the driver bends aside, aside.
func (r *route) pass(one job, ahead float64) {
	n := len(one.Line)
	var way route
	way.add(append(slices.Clone(one.Line), one.Line[n-1].Add(one.Line[n-1].Sub(one.Line[n-2]).Unit().Scale(ahead)))...)
	s := 0.0
	for i, p := range way.line[1:] {
		step := p.Sub(way.line[i])
		if s += step.Len(); s < ahead {
			continue
		}
		aside := 0.0
		if one.Round > 0 {
			aside = swing(r.im.Mount) * way.bend(i+1)
		}
		if one.wrong.kind == Drifted && s > one.from && s < one.to {
			aside = one.wrong.size * math.Pow(math.Sin(math.Pi*(s-one.from)/(one.to-one.from)), 2)
		}
		r.line = append(r.line, p.Add(step.Unit().Left().Scale(aside)))
	}
}

// swing is how far the bar of a set comes to run outside of its tractor's axle, by the bend (1/m) of its way: m². The
// circles of both are R and √(R² + h² + b² − L²), of a rigid set √(R² + (h + b)²), which is nearly R + swing/R; see rig.Mount.SteadyAngle.
func swing(m rig.Mount) float64 {
	h, b := m.HitchBehindAxle(), m.BarBehind
	if !m.Trailed {
		return (h + b) * (h + b) / 2
	}
	return (h*h + b*b - m.Drawbar*m.Drawbar) / 2
}

// bend is how much the way turns to the left per metre about its i-th place.
func (r *route) bend(i int) float64 {
	const about = 25 // steps, over which corners between chords are evened out
	a, b, c := r.line[max(0, i-about)], r.line[i], r.line[min(len(r.line)-1, i+about)]
	if a == b || b == c {
		return 0
	}
	u, v := b.Sub(a), c.Sub(b)
	return 2 * u.AngleTo(v) / (u.Len() + v.Len())
}
