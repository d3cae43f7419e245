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
	choice    choice
}

// Sample is the estimate for one direction.
type Sample struct {
	Direction float64 `json:"direction"` // degrees clockwise from the plane's north, 0 to below 180
	Value     float64 `json:"value"`     // of the objective, rounds and missed ground left out where they are the same in every direction
	Passes    int     `json:"passes"`
}

const (
	// drawnPlans, drawnPasses: directions are laid out best estimate first, so many of them with so many passes in all, but drawnLeast at
	// least: the estimate knows neither the ways of runs nor what else is in the way of a turn. Counted, not timed: the same call gives
	// the same plan on any machine.
	drawnPlans, drawnPasses, drawnLeast = 10, 1000, 3
	// near: plans are as good as each other until the engine has judged them that come to no more than so many times the best; of those it
	// judges mostJudged. Prices of what rounds leave are so much out.
	near, mostJudged = 1.02, 4
	// shortlisted: so many times as many are estimated with the order of rows that a plan has.
	shortlisted = 2
	// apartBest: of directions nearer than this one is laid out, rad.
	apartBest = 1 * math.Pi / 180
	// Where the interior is convex more directions are laid out, and nearer to each other, and then the search goes on beside the best
	// of them with such a step: there directions differ in nothing but their turns.
	drawnConvex  = 20
	apartConvex  = 0.25 * math.Pi / 180
	besideConvex = 0.8 * math.Pi / 180
	// nearlyConvex: an interior that fills so much of its hull counts as convex.
	nearlyConvex = 0.999
	// glanced: so many directions are laid out for each number of rounds before one of these is chosen.
	glanced = 2
	// glance: directions are so far apart then, rad, beside those of the longest sides.
	glance, glanceSides = 6 * math.Pi / 180, 8
	// moreRounds: so many rounds more than turning needs are looked at.
	moreRounds = 2
	// usually: what corners and runs of rounds come to beyond a bound is much the same for each round; so much of it is taken for sure.
	usually = 0.4
	// mostBent: so many stretches of the boundary are looked at as lines to lay the rows along; one that turns by less than leastBend
	// is as good as straight.
	mostBent  = 2
	leastBend = 2 * math.Pi / 180
	// promising: a bent way is laid out where its estimate is no worse than so many times the best straight one.
	promising = 1.15
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

// choice is one way to lay the rows of a field.
type choice struct {
	heading geo.Heading
	along   *Edge // of a stretch that rows run along, beside what the options ask for
	part    int   // whose boundary that is
	bent    *guide
	slide   float64 // see Repair.Slide
}

// guide is what the rows of a part run along; nil: they are straight.
func (c choice) guide(i int, p *part) *guide {
	if c.bent != nil && i == c.part {
		return c.bent
	}
	return p.guide
}

// bestOf finds the number of headland rounds and the way of the rows for which the objective is least, and gives the survey of that.
//
// The rounds are any from one to two more than the least turn needs, as the options say or else as a glance at each tells (enough). Without any,
// rows would go on beyond a slanting boundary. For them the search is as if they had been asked for (searched), so that asking changes nothing.
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
	rounds := s.rounds
	if opt.Rounds == 0 && !opt.NoRounds {
		if rounds, err = s.enough(ctx, goal); err != nil {
			return Found{}, nil, err
		}
	}
	if s, err = s.at(ctx, rounds); err != nil {
		return Found{}, nil, err
	}
	best, err := s.searched(ctx, goal)
	return best, s, err
}

// enough is the number of rounds with which the work is likely to take least. With each the rows of a few directions are estimated; what
// that and the rounds' own length come to is a bound that plans seldom fall below. The number with the least bound comes first: the best
// directions are laid out, and judged with what is missed in corners. Others follow while their bound, and most of
// what the best plan came to beyond its own, are below the best plan.
func (s *survey) enough(ctx context.Context, goal Objective) (int, error) {
	type depth struct {
		survey *survey
		ways   []choice
		least  float64
	}
	var all []depth
	for k := 1; k <= min(s.rounds+moreRounds, mostRounds); k++ {
		at, err := s.at(ctx, k)
		if err != nil {
			return 0, err
		}
		d := depth{survey: at, least: math.Inf(1)}
		if d.ways, d.least, err = at.glance(ctx, goal); err != nil {
			return 0, err
		}
		metres := 0.0
		for _, p := range at.parts {
			for _, l := range p.loops {
				metres += l.ring.Perimeter()
			}
		}
		hours := metres / s.opt.Speed.MetresPerSecond() / secondsH
		_, working, _ := s.opt.Fuel.burns(s.opt.Speed, s.im.Width)
		d.least += goal.value(hours, hours*(s.opt.Rates.Hour+working*s.opt.Rates.Litre), 0, 0, 0)
		all = append(all, d)
	}
	slices.SortStableFunc(all, func(a, b depth) int { return cmp.Compare(a.least, b.least) })
	rounds, best := s.rounds, Candidate{Value: math.Inf(1), Missed: s.area, Field: s.area}
	beyond := 0.0 // what the best plan so far comes to beyond its bound, for each of its rounds; what does not fit may fit with others
	for _, d := range all {
		if d.least+usually*beyond*float64(min(d.survey.rounds, rounds)) >= best.Value {
			continue
		}
		near, err := d.survey.drawn(ctx, d.ways, goal, math.Inf(1))
		if err != nil {
			return 0, err
		}
		f, err := goal.judgedBest(ctx, near)
		if err != nil {
			return 0, err
		}
		if c := f.Candidate; c.compare(best) < 0 {
			rounds, best = d.survey.rounds, c
			beyond = max(0, c.Value-c.UnfitHours-d.least) / float64(max(1, rounds))
		}
	}
	return rounds, nil
}

// glance is the best few of some directions by their estimates, the best first, and the estimate of that.
func (s *survey) glance(ctx context.Context, goal Objective) ([]choice, float64, error) {
	var headings []float64
	if s.opt.Fixed {
		headings = []float64{float64(s.opt.Heading)}
	} else {
		headings = s.directions(glance, glanceSides)
	}
	var out []Sample
	for _, h := range headings {
		if err := ctx.Err(); err != nil {
			return nil, 0, err
		}
		out = append(out, s.estimate(choice{heading: geo.Heading(h)}, goal, false))
	}
	var ways []choice
	for _, h := range finalists(out, glanced, apartBest) {
		ways = append(ways, choice{heading: h})
	}
	return ways, slices.MinFunc(out, func(a, b Sample) int { return cmp.Compare(a.Value, b.Value) }).Value, nil
}

// searched finds the way of the rows in which the objective is least, with the rounds of the survey.
//
// The time of a direction is smooth but for its jumps: where the interior's breadth across
// it is a whole number of widths, and at directions of edges, where point rows vanish. So those are looked at
// exactly (the breadth between two corners of the hull is their distance times the sine of the angle
// between), the rest every 2°, and golden sections search around the best. All that on an estimate: passes,
// turns as they are at row ends of that slant, distances between blocks as the crow flies. The best few,
// and of a convex interior many, are laid out, beside them rows along long stretches of the boundary, bent as it is. The straight one and the
// bent one with the least value are simulated. A turn that finds no room counts at its price on top, ground missed as the hours it takes
// to be worked after all.
func (s *survey) searched(ctx context.Context, goal Objective) (Found, error) {
	curve, err := s.curve(ctx, goal)
	if err != nil {
		return Found{}, err
	}
	convex := s.convex()
	ways := s.shortlist(curve, convex, goal)
	if !s.opt.Fixed && s.opt.Along == nil && !s.opt.AlongLongest { // what the rounds were chosen by is among them
		glanced, _, err := s.glance(ctx, goal)
		if err != nil {
			return Found{}, err
		}
		ways = append(ways, glanced...)
	}
	near, err := s.drawn(ctx, ways, goal, math.Inf(1))
	if err != nil {
		return Found{}, err
	}
	if !s.opt.Fixed && convex {
		if near, err = s.sharpened(ctx, near, goal); err != nil {
			return Found{}, err
		}
	}
	bent, err := s.bentNear(ctx, curve, goal, near[0].Candidate.Value)
	if err != nil {
		return Found{}, err
	}
	best, err := goal.judgedBest(ctx, near)
	if err != nil {
		return Found{}, err
	}
	if other, err := goal.judgedBest(ctx, bent); err != nil {
		return Found{}, err
	} else if len(bent) > 0 && other.Candidate.compare(best.Candidate) < 0 {
		best = other
	}
	best.Curve = curve
	best.Candidate, err = goal.judged(ctx, best.Plan)
	return best, err
}

// shortlist is the ways to lay out, by exact estimates of the best directions of a curve. Rows counted from the other side may turn better.
func (s *survey) shortlist(curve []Sample, convex bool, goal Objective) (ways []choice) {
	if s.opt.Fixed {
		return []choice{{heading: s.opt.Heading}}
	}
	most, apart := drawnPlans, apartBest
	if convex {
		most, apart = drawnConvex, apartConvex
	}
	type rated struct {
		choice
		Sample
	}
	var all []rated
	for _, h := range finalists(curve, shortlisted*most, apart) {
		for _, c := range [2]choice{{heading: h}, {heading: h + math.Pi}} {
			all = append(all, rated{c, s.estimate(c, goal, true)})
		}
	}
	slices.SortStableFunc(all, func(a, b rated) int { return cmp.Compare(a.Value, b.Value) })
	n := max(drawnLeast, min(most, drawnPasses/max(1, all[0].Passes)))
	for _, r := range all[:min(n, len(all))] {
		ways = append(ways, r.choice)
	}
	return ways
}

// bentNear are plans along stretches of the boundary that come to less than some value, or not much more, as drawn has them.
func (s *survey) bentNear(ctx context.Context, curve []Sample, goal Objective, most float64) ([]Found, error) {
	if s.opt.Fixed || s.opt.LeaveWedges {
		return nil, nil
	}
	least := slices.MinFunc(curve, func(a, b Sample) int { return cmp.Compare(a.Value, b.Value) }).Value
	var ways []choice
	for _, c := range s.bents() {
		if s.estimate(c, goal, true).Value <= promising*least {
			ways = append(ways, c)
		}
	}
	return s.drawn(ctx, ways, goal, most)
}

// bents are ways along the longest stretches of the boundary that bend.
func (s *survey) bents() (out []choice) {
	type found struct {
		choice
		long float64
	}
	var all []found
	for i, p := range s.field {
		if box := p[0].Bounds(); len(s.parts[i].interior) == 0 || box.Max.Dist(box.Min) > mostAcross {
			continue
		}
		for _, line := range longStretches(p[0], s.turner.steer.Radius, mostBent) {
			e := &Edge{line[0], line[len(line)-1]}
			stretch, err := e.of(p[0])
			if err != nil { // all of a ring: it has no two ends
				continue
			}
			g, err := guideOf(stretch, s.turner.steer.Radius)
			if err != nil || g.span < leastBend { // the other way round the ring is the shorter one, or a direction like any other
				continue
			}
			all = append(all, found{choice{heading: g.heading, along: e, part: i, bent: g}, plane.Length(stretch)})
		}
	}
	slices.SortStableFunc(all, func(a, b found) int { return cmp.Compare(b.long, a.long) })
	for _, f := range all[:min(mostBent, len(all))] {
		out = append(out, f.choice)
	}
	return out
}

// compare ranks candidates by their value. One that leaves more than half of the field stands behind all that do not: it is no plan
// for that field.
func (c Candidate) compare(o Candidate) int {
	half := func(c Candidate) bool { return c.Missed > c.Field/2 }
	if a, b := half(c), half(o); a != b {
		if a {
			return 1
		}
		return -1
	}
	return cmp.Compare(c.Value, o.Value)
}

// judged is what a plan comes to by the engine, with its value.
func (o Objective) judged(ctx context.Context, p Plan) (Candidate, error) {
	c, err := Simulate(ctx, p)
	c.Value = o.of(c)
	return c, err
}

// drawn lays the work out in some ways and gives the plans that come to less than most or any other, or to not much more (near), the best first. Their
// values have what is missed as it was priced while they were laid out, which knows nothing of what neighbours work. Where the objective asks
// for areas the engine is asked at once, and there is but one.
func (s *survey) drawn(ctx context.Context, ways []choice, goal Objective, most float64) (all []Found, err error) {
	areas, margin := goal.Missed > 0 || goal.Double > 0 || s.opt.LeaveWedges, near
	if areas {
		margin = 1
	}
	for _, w := range ways {
		p, err := s.lay(ctx, w, func(t progress) bool { return goal.of(t.candidate(s)) >= margin*most })
		if errors.Is(err, errBeaten) {
			continue
		}
		if err != nil {
			return nil, err
		}
		c := p.candidate()
		c.spend(&p)
		if areas {
			if c, err = p.simulated(ctx, false); err != nil {
				return nil, err
			}
		}
		if c.Value = goal.of(c); c.Value < margin*most {
			all, most = append(all, Found{Plan: p, Candidate: c, choice: w}), min(most, c.Value)
		}
	}
	slices.SortStableFunc(all, func(a, b Found) int { return cmp.Compare(a.Candidate.Value, b.Candidate.Value) })
	return slices.DeleteFunc(all, func(f Found) bool { return f.Candidate.Value > margin*most }), nil
}

// judgedBest is the best of the first few plans by the engine; no passes: there is none.
func (o Objective) judgedBest(ctx context.Context, all []Found) (best Found, err error) {
	for _, f := range all[:min(mostJudged, len(all))] {
		if f.Candidate, err = f.Plan.simulated(ctx, false); err != nil {
			return Found{}, err
		}
		f.Candidate.Value = o.of(f.Candidate)
		if len(best.Plan.Passes) == 0 || f.Candidate.compare(best.Candidate) < 0 {
			best = f
		}
	}
	return best, nil
}

// sharpened looks for better directions beside the best one, ever nearer to it, where few passes make that quick.
func (s *survey) sharpened(ctx context.Context, all []Found, goal Objective) ([]Found, error) {
	const looks = 10
	if looks*len(all[0].Plan.Passes) > drawnPasses {
		return all, nil
	}
	for step := besideConvex; step > besideConvex/(1<<(looks/2)); step /= 2 {
		best := all[0]
		h := best.Plan.Options.Heading
		beside, err := s.drawn(ctx, []choice{{heading: h - geo.Heading(step)}, {heading: h + geo.Heading(step)}}, goal, best.Candidate.Value)
		if err != nil {
			return nil, err
		}
		all = append(all, beside...)
		slices.SortStableFunc(all, func(a, b Found) int { return cmp.Compare(a.Candidate.Value, b.Candidate.Value) })
	}
	return all, nil
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

// finalists are so many of the best directions of a curve that are not too near to each other, rad.
func finalists(curve []Sample, most int, apart float64) []geo.Heading {
	order := slices.Clone(curve)
	slices.SortStableFunc(order, func(a, b Sample) int { return cmp.Compare(a.Value, b.Value) })
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
		return []Sample{s.estimate(choice{heading: s.opt.Heading}, goal, false)}, nil
	}
	var out []Sample
	look := func(h float64) float64 {
		h = math.Mod(h, math.Pi)
		one := s.estimate(choice{heading: geo.Heading(h)}, goal, false)
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
	out := s.directions(coarse, mostSides)
	for _, p := range s.parts {
		for _, in := range p.coarse {
			s.jumps(plane.Hull(in[0]), func(h float64) { out = append(out, halfTurn(h)) })
		}
	}
	return apartBy(out, sharpest/100) // nearer than sharpest is the same: rows of 1 km differ by 10 cm
}

// directions are those at steps, and of the longest sides of each piece of interior, rad from 0 to π, ascending.
func (s *survey) directions(step float64, most int) (out []float64) {
	for i := 0; float64(i)*step < math.Pi; i++ {
		out = append(out, float64(i)*step)
	}
	for _, p := range s.parts {
		for _, in := range p.coarse {
			sides := sidesOf(in)
			for _, d := range sides[:min(most, len(sides))] {
				out = append(out, halfTurn(math.Atan2(d.Y, d.X)))
			}
		}
	}
	return apartBy(out, sharpest/100)
}

// halfTurn is a direction from 0 to below π, either way, rad.
func halfTurn(h float64) float64 {
	if h = math.Mod(h, math.Pi); h < 0 {
		h += math.Pi
	}
	return h
}

// apartBy sorts directions, without those nearer than so much to the one before.
func apartBy(all []float64, apart float64) []float64 {
	slices.Sort(all)
	return slices.CompactFunc(all, func(a, b float64) bool { return math.Abs(a-b) < apart })
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

// estimate is the objective for one way of the rows without turns drawn, runs routed or
// the engine asked; headland rounds and what they miss are the same in every way and left out. An exact one has the order of rows and
// blocks that a plan has, which takes ten times as long.
func (s *survey) estimate(c choice, goal Objective, exact bool) Sample {
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
			blocks = s.interiorBlocks(blocks, c.guide(i, p), in, c.heading, exact)
		}
		for k := range blocks {
			b := &blocks[k]
			metres, seconds := b.takes(s.depth)
			work, turning = work+metres, turning+seconds
			passes, turns = passes+len(b.rows), turns+max(0, len(b.rows)-1)
		}
		tour := tourFrom(blocks, at, exact)
		metres += tour.metres
		if n := len(tour.blocks); n > 0 {
			turning += float64(n) * t.least(0, 0) // into a block the set turns as into a row
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
	open := work * s.slant.uncut(c.heading.Ahead()) / hectare * s.opt.MissedPrice()
	return Sample{bearing(c.heading), goal.value(hours+open, cost+open*(s.opt.Rates.Hour+working*s.opt.Rates.Litre), 0, double, turns), passes}
}
