package plan

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// Objective weighs what a plan comes to; the best has the least sum. All zero:
// hours alone.
type Objective struct {
	Hours  float64 `json:"hours,omitempty"`  // per hour
	Cost   float64 `json:"cost,omitempty"`   // per unit of currency
	Missed float64 `json:"missed,omitempty"` // per hectare missed
	Double float64 `json:"double,omitempty"` // per hectare worked twice or more
	Turns  float64 `json:"turns,omitempty"`  // per turn
}

// Validate says what is wrong with o.
func (o Objective) Validate() error {
	for _, w := range []float64{o.Hours, o.Cost, o.Missed, o.Double, o.Turns} {
		if !(w >= 0 && w <= mostRate) {
			return fmt.Errorf("weight %g of the objective: must be from 0 to %g", w, float64(mostRate))
		}
	}
	return nil
}

// Payable says what is wrong if o weighs cost and no rate makes any.
func (o Objective) Payable(r Rates) error {
	if o.Cost > 0 && r == (Rates{}) {
		return fmt.Errorf("cost weighs %g, and no rate is given: needs one per hour or per litre", o.Cost)
	}
	return nil
}

func (o Objective) value(hours, cost, missed, double float64, turns int) float64 {
	if o == (Objective{}) {
		o.Hours = 1
	}
	return o.Hours*hours + o.Cost*cost + o.Missed*missed/hectare + o.Double*double/hectare + o.Turns*float64(turns)
}

// Found is the best plan for an implement.
type Found struct {
	Plan      Plan
	Candidate Candidate
	Curve     []Sample // by direction, ascending
}

// Sample is the estimate for one direction.
type Sample struct {
	Direction float64 `json:"direction"` // degrees clockwise from the plane's north, 0 to below 180
	Value     float64 `json:"value"`     // of the objective, rounds and missed ground left out where they are the same in every direction
	Passes    int     `json:"passes"`
}

const (
	// drawn: so many of the best directions are laid out; the estimate knows neither what turns fit nor
	// the ways of runs.
	drawn = 3
	// apartBest: of directions nearer than this one is laid out, rad.
	apartBest = 1 * math.Pi / 180
	// Where the interior is convex more directions are laid out, and nearer to each other, up to so many with at most
	// so many passes, and then the search goes on beside the best of them with such a step: there
	// directions differ in nothing but their turns, and laying out is quick.
	drawnConvex  = 20
	mostPasses   = 1000
	apartConvex  = 0.25 * math.Pi / 180
	besideConvex = 0.8 * math.Pi / 180
	// nearlyConvex: an interior that fills so much of its hull counts as convex.
	nearlyConvex = 0.999
	// coarse: directions are looked at so far apart at most, rad; what lies between is left
	// to critical ones and to golden sections.
	coarse = 2 * math.Pi / 180
	// sharpest: golden sections end there, rad: 1 cm on 100 m.
	sharpest = 1e-4
	// beside: a critical breadth is passed by so much, m, so that rounding does not
	// decide whether one row more is needed.
	beside = 1e-6
	// mostSides bounds the edges whose directions are looked at, the longest first.
	mostSides = 24
	// refined: golden sections begin at so many of the best directions.
	refined = 6
)

// bestOf finds the driving direction in which the objective is least, and gives the survey that the plan was laid out in too.
//
// The time of a direction is smooth but for its jumps: where the interior's breadth across
// it is a whole number of widths, and at directions of edges, where point rows vanish. So those are looked at
// exactly (the breadth between two corners of the hull is their distance times the sine of the angle
// between), the rest every 2°, and golden sections search around the best. All that on an estimate: passes,
// turns over level rows with their stagger, distances between blocks as the crow flies. The best few,
// and of a convex interior many, are laid out, and the one with the least value is simulated. A turn that finds no room counts
// at its price on top, ground missed as the hours it takes to be worked after all. With Options.Rounds 0 and such turns left, deeper headlands are tried in the same few
// directions as long as they pay.
//
// Errors: as Lay and Simulate; an objective with weights below 0, or one of cost without rates.
func bestOf(ctx context.Context, field []plane.Polygon, im rig.Implement, opt Options, goal Objective) (Found, *survey, error) {
	if err := goal.Validate(); err != nil {
		return Found{}, nil, err
	}
	if err := goal.Payable(opt.Rates); err != nil {
		return Found{}, nil, err
	}
	s, err := surveyOf(ctx, field, im, opt)
	if err != nil {
		return Found{}, nil, err
	}
	curve, err := s.curve(ctx, goal)
	if err != nil {
		return Found{}, nil, err
	}
	if err := s.roundsAndCorridors(ctx); err != nil {
		return Found{}, nil, err
	}
	convex := s.convex()
	chosen := []geo.Heading{s.opt.Heading}
	if !s.opt.Fixed {
		chosen = finalists(curve, convex)
	}
	var headings []geo.Heading
	for _, h := range chosen { // rows counted from the other side may turn better
		switch {
		case convex:
			headings = append(headings, h, h+math.Pi)
		case s.estimate(h+math.Pi, goal).Value < s.estimate(h, goal).Value:
			headings = append(headings, h+math.Pi)
		default:
			headings = append(headings, h)
		}
	}
	best, err := s.drawnBest(ctx, headings, goal, math.Inf(1))
	if err != nil {
		return Found{}, nil, err
	}
	headings = append(headings[:min(len(headings), drawn)], best.Plan.Options.Heading)
	for deepen := opt.Rounds == 0 && !opt.NoRounds; deepen && len(best.Candidate.Infeasible) > 0 && s.rounds < mostRounds; {
		deeper, err := s.deepened(ctx)
		if err != nil {
			return Found{}, nil, err
		}
		// Corners of one more round are missed: that is judged with the areas of both.
		now, err := goal.judged(ctx, best.Plan)
		if err != nil {
			return Found{}, nil, err
		}
		f, err := deeper.drawnBest(ctx, headings, goal, now.Value)
		if err != nil {
			return Found{}, nil, err
		}
		if len(f.Plan.Passes) == 0 {
			break
		}
		then, err := goal.judged(ctx, f.Plan)
		if err != nil {
			return Found{}, nil, err
		}
		if then.Value >= now.Value {
			break
		}
		s, best = deeper, f
	}
	if !s.opt.Fixed && s.convex() {
		if best, err = s.sharpened(ctx, best, goal); err != nil {
			return Found{}, nil, err
		}
	}
	best.Curve = curve
	best.Candidate, err = goal.judged(ctx, best.Plan)
	return best, s, err
}

// judged is what a plan comes to by the engine, with its value.
func (o Objective) judged(ctx context.Context, p Plan) (Candidate, error) {
	c, err := Simulate(ctx, p)
	c.Value = o.of(c)
	return c, err
}

// drawnBest lays the work out in some directions and gives the best that has a value below most; a plan without
// passes: none has. Its candidate has areas only where the objective asks for them.
func (s *survey) drawnBest(ctx context.Context, headings []geo.Heading, goal Objective, most float64) (Found, error) {
	best := Found{Candidate: Candidate{Value: most}}
	for _, h := range headings {
		p, err := s.lay(ctx, h, func(t progress) bool { return goal.of(t.candidate(s)) >= best.Candidate.Value })
		if errors.Is(err, errBeaten) {
			continue
		}
		if err != nil {
			return Found{}, err
		}
		c := p.candidate()
		c.spend(&p)
		if goal.Missed > 0 || goal.Double > 0 || s.opt.LeaveWedges { // only then do areas decide between directions
			if c, err = Simulate(ctx, p); err != nil {
				return Found{}, err
			}
		}
		c.Value = goal.of(c)
		if c.Value < best.Candidate.Value {
			best.Plan, best.Candidate = p, c
		}
	}
	return best, nil
}

// sharpened looks for better directions beside the best one, ever nearer to it, where few passes make that quick.
func (s *survey) sharpened(ctx context.Context, best Found, goal Objective) (Found, error) {
	const looks = 10
	if looks*len(best.Plan.Passes) > mostPasses {
		return best, nil
	}
	for step := besideConvex; step > besideConvex/(1<<(looks/2)); step /= 2 {
		h := best.Plan.Options.Heading
		f, err := s.drawnBest(ctx, []geo.Heading{h - geo.Heading(step), h + geo.Heading(step)}, goal, best.Candidate.Value)
		if err != nil {
			return Found{}, err
		}
		if len(f.Plan.Passes) > 0 {
			best = f
		}
	}
	return best, nil
}

// of is the value of a candidate. Turns that do not fit count as the time they take beyond their ways, and ground that is
// missed as the time it takes after all: in hours and in what they cost, and where that weighs nothing, in hours.
func (o Objective) of(c Candidate) float64 {
	v := o.value(c.Hours+c.UnfitHours+c.Open, c.Cost+c.UnfitCost+c.OpenCost, c.Missed, c.Double, c.Turns)
	if weighed := o.Hours > 0 || o.Cost*c.OpenCost > 0; !weighed && o != (Objective{}) {
		v += c.UnfitHours + c.Open
	}
	return v
}

// headingOf is the heading of a bearing on the plane, 0 to below π.
func headingOf(bearing float64) geo.Heading {
	return geo.Heading(math.Mod(450-bearing, 180) * math.Pi / 180)
}

// finalists are the best directions of a curve that are not too near to each other.
func finalists(curve []Sample, convex bool) []geo.Heading {
	order := slices.Clone(curve)
	slices.SortStableFunc(order, func(a, b Sample) int { return cmp.Compare(a.Value, b.Value) })
	most, apart := drawn, apartBest
	if convex {
		most, apart = max(drawn, min(drawnConvex, mostPasses/(2*max(1, order[0].Passes)))), apartConvex
	}
	var out []geo.Heading
	for _, one := range order {
		h := headingOf(one.Direction)
		if len(out) < most && !slices.ContainsFunc(out, func(o geo.Heading) bool {
			return math.Abs(math.Remainder(float64(h-o), math.Pi)) < apart
		}) {
			out = append(out, h)
		}
	}
	return out
}

// convex says whether the interior is in one piece and convex.
func (s *survey) convex() bool {
	var all []plane.Polygon
	for _, p := range s.parts {
		all = append(all, p.coarse...)
	}
	return len(all) == 1 && len(all[0]) == 1 && all[0].Area() >= nearlyConvex*plane.Hull(all[0][0]).Area()
}

// curve is the estimate for the directions looked at.
func (s *survey) curve(ctx context.Context, goal Objective) ([]Sample, error) {
	if s.opt.Along != nil || s.opt.AlongLongest { // there is but one
		return []Sample{s.estimate(s.opt.Heading, goal)}, nil
	}
	var out []Sample
	look := func(h float64) float64 {
		h = math.Mod(h, math.Pi)
		one := s.estimate(geo.Heading(h), goal)
		out = append(out, one)
		return one.Value
	}
	angles := s.critical()
	for _, h := range angles {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		look(h)
	}
	order := make([]int, len(angles))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(out[a].Value, out[b].Value) })
	for _, k := range order[:min(refined, len(order))] {
		n := len(angles)
		before, after := angles[(k+n-1)%n], angles[(k+1)%n]
		if before > angles[k] {
			before -= math.Pi
		}
		if after < angles[k] {
			after += math.Pi
		}
		golden(look, before, angles[k])
		golden(look, angles[k], after)
	}
	slices.SortFunc(out, func(a, b Sample) int { return cmp.Compare(a.Direction, b.Direction) })
	return slices.CompactFunc(out, func(a, b Sample) bool { return a.Direction == b.Direction }), nil
}

// golden looks between a and b by golden sections (Kiefer 1953, from memory) until
// they are sharpest apart. Every place looked at counts, so a function with steps does no harm.
func golden(f func(float64) float64, a, b float64) {
	const ratio = 0.6180339887498949 // (√5 − 1)/2
	if b-a <= sharpest {
		return
	}
	a, b = a+sharpest/2, b-sharpest/2
	c, d := b-ratio*(b-a), a+ratio*(b-a)
	fc, fd := f(c), f(d)
	for b-a > sharpest {
		if fc < fd {
			b, d, fd = d, c, fc
			c = b - ratio*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + ratio*(b-a)
			fd = f(d)
		}
	}
}

// critical are the directions that are looked at in any case, rad from 0 to π, ascending.
func (s *survey) critical() []float64 {
	var out []float64
	add := func(h float64) {
		h = math.Mod(h, math.Pi)
		if h < 0 {
			h += math.Pi
		}
		out = append(out, h)
	}
	for i := 0; float64(i)*coarse < math.Pi; i++ {
		add(float64(i) * coarse)
	}
	for _, p := range s.parts {
		for _, in := range p.coarse {
			sides := sidesOf(in)
			for _, d := range sides[:min(mostSides, len(sides))] {
				add(math.Atan2(d.Y, d.X))
			}
			s.jumps(plane.Hull(in[0]), add)
		}
	}
	slices.Sort(out)
	// Nearer than sharpest is the same: rows of 1 km differ by 10 cm.
	return slices.CompactFunc(out, func(a, b float64) bool { return math.Abs(a-b) < sharpest/100 })
}

// sidesOf are the straights of a polygon, the longest first.
func sidesOf(p plane.Polygon) []plane.XY {
	var out []plane.XY
	for _, ring := range p {
		for _, side := range ring.Sides() {
			out = append(out, side.B.Sub(side.A))
		}
	}
	slices.SortStableFunc(out, func(a, b plane.XY) int { return cmp.Compare(b.Len(), a.Len()) })
	return out
}

// jumps adds the directions at which the breadth of a hull is a whole number of
// widths, on the side where it is less: there one row fewer does.
//
// Between two directions of hull edges the same two corners p and q span the breadth, |pq|·|sin(α − h)|
// with α the direction of pq. It is n widths where h = α ± asin(n·w/|pq|).
func (s *survey) jumps(hull plane.Ring, add func(float64)) {
	widest := s.width + hair // see pitchOf
	if s.opt.FullSpacing {
		widest = s.width
	}
	var turns []float64
	for _, side := range hull.Sides() {
		turns = append(turns, math.Mod(float64(geo.Along(side.B.Sub(side.A)))+2*math.Pi, math.Pi))
	}
	slices.Sort(turns)
	for i, from := range turns {
		to := turns[0] + math.Pi
		if i+1 < len(turns) {
			to = turns[i+1]
		}
		if to-from < sharpest/100 {
			continue
		}
		d := acrossHull(hull, geo.Heading((from+to)/2).Ahead().Left())
		long, alpha := d.Len(), math.Atan2(d.Y, d.X)
		for n := 1; float64(n)*widest < long; n++ {
			bend := math.Asin(min(1, max(0, float64(n)*widest-beside)/long))
			for _, h := range [2]float64{alpha - bend, alpha + math.Pi + bend} {
				if h = halfTurnsFrom(h, from); h <= to {
					add(h)
				}
			}
		}
	}
}

// halfTurnsFrom is a direction turned by half turns until it is the first from another one on, rad.
func halfTurnsFrom(h, from float64) float64 {
	for h < from {
		h += math.Pi
	}
	for h-math.Pi >= from {
		h -= math.Pi
	}
	return h
}

// acrossHull leads from the corner of a hull that lies least far in a direction to the one farthest in it.
func acrossHull(hull plane.Ring, left plane.XY) plane.XY {
	p, q := hull[0], hull[0]
	for _, c := range hull {
		if c.Dot(left) < p.Dot(left) {
			p = c
		}
		if c.Dot(left) > q.Dot(left) {
			q = c
		}
	}
	return q.Sub(p)
}

// estimate is the objective in one direction without turns drawn, runs routed or
// the engine asked; headland rounds and what they miss are the same in every direction and left out.
func (s *survey) estimate(h geo.Heading, goal Objective) Sample {
	passes := 0
	var work, turning, metres, ground float64
	turns := 0
	t := s.turner
	var at *plane.XY
	for i := range s.parts {
		p := &s.parts[i]
		var blocks []block
		for _, in := range p.coarse {
			ground += in.Area()
			blocks = s.interiorBlocks(blocks, p, in, h, false)
		}
		for k := range blocks {
			b := &blocks[k]
			for n, r := range b.rows {
				st, from, to := b.at(n, 0)
				work += st.long()
				passes++
				if n > 0 {
					_, _, last := b.at(n-1, 0)
					// The next pass begins so far ahead, seen from the one before; the axle drives on by the
					// lead and must be back by as much.
					stagger := last - from
					if to < from {
						stagger = from - last
					}
					turning += b.cost[apart(r, b.rows[n-1])] + math.Abs(stagger-2*t.lead)/t.speed.Turning
					turns++
				}
			}
		}
		tour := tourFrom(blocks, at, false)
		metres += tour.metres
		if n := len(tour.blocks); n > 0 {
			_, end := blocks[tour.blocks[n-1]].ends(tour.ways[n-1])
			at = &end
		}
	}
	turning += metres / t.speed.Turning
	hours := (work/s.opt.Speed.MetresPerSecond() + turning) / secondsH
	_, working, lifted := s.opt.Fuel.burns(s.opt.Speed, s.im.Width)
	litres := work/s.opt.Speed.MetresPerSecond()/secondsH*working + turning/secondsH*lifted
	cost := hours*s.opt.Rates.Hour + litres*s.opt.Rates.Litre
	double := max(0, work*s.width-ground)
	return Sample{bearing(h), goal.value(hours, cost, 0, double, turns), passes}
}
