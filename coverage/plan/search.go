package plan

import (
	"cmp"
	"context"
	"errors"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

// Found is the best plan for an implement.
type Found struct {
	Plan      Plan
	Candidate Candidate
	Curve     []Sample // by direction, ascending
	choice    choice
}

const (
	// drawnPlans, drawnPasses: directions are laid out best estimate first, so many of them with so many passes in all, but drawnLeast at
	// least: the estimate knows neither the ways of runs nor what else is in the way of a turn. Counted, not timed: the same call gives
	// the same plan on any machine.
	drawnPlans, drawnPasses, drawnLeast = 10, 1000, 3
	// drawnFew: so many where there are no more than fewRowsDrawn. What rounds leave and where they begin is more of the hours of such plans, and no estimate knows it.
	drawnFew, fewRowsDrawn = 12, 25
	// shortlisted: so many times as many are estimated with the order of rows that a plan has.
	shortlisted = 2
	// estimatedPasses: but no more than such with so many passes in all, and as many times drawnLeast at least: the order of thousands of blocks
	// takes as long as all else.
	estimatedPasses = 10_000
	// Where the interior is convex more directions are laid out, and nearer to each other: there they differ in nothing but their turns.
	drawnConvex = 20
	apartConvex = 0.25 * math.Pi / 180
	// Of plans with few passes the best is laid out in so many directions more of the curve, besideBest from its own at most and
	// apartPolished from each other, and then in as many steps, each half as far, to either side, rad.
	polishing     = 4
	besideBest    = 1.5 * math.Pi / 180
	apartPolished = 0.1 * math.Pi / 180
	sharpenedFrom = 0.6 * math.Pi / 180
	// mostBent: so many stretches of the boundary are looked at as lines to lay the rows along; one that turns by less than leastBend
	// is as good as straight.
	mostBent  = 2
	leastBend = 2 * math.Pi / 180
	// promising: a bent way is laid out where its estimate is no worse than so many times the best straight one.
	promising = 1.15
	// nearlyAsGood: bent rows that come to so many times what straight ones do are asked too what the corners of their rounds are worth, and of small plans
	// other numbers of rounds which direction beside their own is better.
	nearlyAsGood = 1.03
)

// choice is one way to lay the rows of a field.
type choice struct {
	heading geo.Heading
	along   *Edge // of a stretch that rows run along, beside what the options ask for
	part    int   // whose boundary that is
	bent    *guide
	split   *split  // arms of the field have directions of their own; nil: they have not
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
// The rounds are any from one to two more than the least turn needs, as the options say or else as a glance at each tells (enough). Which of their corners are driven to their end is tried out (rounding), before and after. Without any,
// rows would go on beyond a slanting boundary. For them the search is as if they had been asked for (searched), so that asking changes nothing. Of small plans other numbers are searched too (nextRounds).
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
	best, at, err := s.bestRound(ctx, opt, goal)
	if err != nil {
		return Found{}, nil, err
	}
	if best, at, err = at.pastSmall(ctx, best, goal); err != nil || opt.Rounds > 0 || opt.NoRounds {
		return best, at, err
	}
	return s.orDeeper(ctx, best, at, goal)
}

// bestRound is bestOf with rounds about every obstacle.
func (s *survey) bestRound(ctx context.Context, opt Options, goal Objective) (Found, *survey, error) {
	if opt.Rounds > 0 || opt.NoRounds {
		best, at, err := s.asked(ctx, s.rounds, goal)
		if err != nil {
			return Found{}, nil, err
		}
		if best, at, err = at.roundsRefined(ctx, best, goal); err != nil {
			return Found{}, nil, err
		}
		return at.polished(ctx, best, goal)
	}
	at, glanced, err := s.enough(ctx, goal)
	if err != nil {
		return Found{}, nil, err
	}
	best, at, err := at.found(ctx, glanced, goal)
	if err != nil {
		return Found{}, nil, err
	}
	if best, at, err = s.orFitting(ctx, best, at, goal); err != nil {
		return Found{}, nil, err
	}
	tried := map[int]bool{at.rounds: true}
	all, surveys := []Found{best}, []*survey{at}
	for !s.halt.now() {
		k := s.nextRounds(best, tried)
		if k < 0 {
			break
		}
		tried[k] = true
		other, there, err := s.asked(ctx, k, goal)
		if err != nil {
			return Found{}, nil, err
		}
		all, surveys = append(all, other), append(surveys, there)
		if other.Candidate.compare(best.Candidate) < 0 {
			best, at = other, there
		}
	}
	for i, one := range all {
		if all[i], surveys[i], err = surveys[i].roundsRefined(ctx, one, goal); err != nil {
			return Found{}, nil, err
		}
		if all[i].Candidate.compare(best.Candidate) < 0 {
			best, at = all[i], surveys[i]
		}
	}
	found := best.Candidate
	for i, one := range all {
		if one.Candidate.Value > nearlyAsGood*found.Value {
			continue
		}
		other, there, err := surveys[i].polished(ctx, one, goal)
		if err != nil {
			return Found{}, nil, err
		}
		if other.Candidate.compare(best.Candidate) < 0 {
			best, at = other, there
		}
	}
	best.Candidate.Stopped = s.halt.said
	return best, at, nil
}

// roundsRefined is the best plan of a number of rounds, or the same rows with its rounds driven as in the search takes too long to look at, where that takes less, and the survey of that.
func (s *survey) roundsRefined(ctx context.Context, best Found, goal Objective) (_ Found, at *survey, err error) {
	if best, at, err = s.begunMidway(ctx, best, goal); err != nil {
		return Found{}, nil, err
	}
	if best, at, err = at.asWeighed(ctx, best, goal); err != nil {
		return Found{}, nil, err
	}
	return at.asEither(ctx, best, goal)
}

// orDeeper is a plan, or the same rows with more headland rounds, up to two more than turning needs, as long as each takes less, and the survey of that. The number was chosen by a few directions, with rounds about every obstacle,
// of which there are more with each.
func (s *survey) orDeeper(ctx context.Context, best Found, at *survey, goal Objective) (Found, *survey, error) {
	for best.Plan.Rounds < min(s.rounds+moreRounds, mostRounds) && !s.halt.now() {
		p, there, err := at.deeper(ctx, best.choice, best.Plan.Rounds+1)
		if err != nil {
			return Found{}, nil, err
		}
		c, err := p.simulated(ctx, false)
		if err != nil {
			return Found{}, nil, err
		}
		if c.Value = goal.of(c); c.compare(best.Candidate) >= 0 {
			break
		}
		if c, err = goal.judged(ctx, p); err != nil {
			return Found{}, nil, err
		}
		c.Stopped = s.halt.said
		best.Plan, best.Candidate, at = p, c, there
	}
	return best, at, nil
}

// begunMidway is a plan, or the same rows with rounds in stretches begun where that takes least, between the ends of a stretch too, if that takes less, and the survey of that. It is
// asked of the best plan of each number of rounds alone: what it saves differs little between directions, and places that are looked at take time.
func (s *survey) begunMidway(ctx context.Context, best Found, goal Objective) (Found, *survey, error) {
	if !s.inStretches() || s.halt.now() {
		return best, s, nil
	}
	d := *s
	d.sweep, d.midway = sweep{}, true
	return s.orOther(ctx, best, &d, goal)
}

// inStretches says whether some round may be driven in stretches.
func (s *survey) inStretches() bool {
	return slices.ContainsFunc(s.parts, func(p part) bool {
		return slices.ContainsFunc(p.loops, func(l loop) bool { return len(l.cuts) > 0 || l.corners != nil })
	})
}

// nextRounds is the number of rounds to search next beside that of the best plan so far, where that has few passes: one fewer, one more, as many as turning needs, or any whose plans came near it at a glance, the
// nearest first; below 0: there is none. A glance at so few rows tells little, and nothing of where rounds may begin (begunMidway). Where there are some more passes only numbers that were as good as its own at a glance are.
func (s *survey) nextRounds(best Found, tried map[int]bool) int {
	most := min(s.rounds+moreRounds, mostRounds)
	nearest := func(near float64) int {
		next := -1
		for k := 1; k <= most; k++ {
			if g, is := s.glances[k]; is && !tried[k] && g.all[0].Candidate.Value <= near {
				next, near = k, g.all[0].Candidate.Value
			}
		}
		return next
	}
	if passes := len(best.Plan.Passes); passes > notManyPasses {
		return -1
	} else if passes > fewPasses {
		g, is := s.glances[best.Plan.Rounds]
		if !is {
			return -1
		}
		return nearest(alikeAtAGlance * g.all[0].Candidate.Value)
	}
	for _, k := range [3]int{best.Plan.Rounds - 1, best.Plan.Rounds + 1, s.rounds} {
		if k >= 1 && k <= most && !tried[k] {
			return k
		}
	}
	return nearest(nearlyAsGood * best.Candidate.Value)
}

// polished is the best plan with directions beside its own; never a worse one. A set that is a little
// wider saves a row in a direction a little aside, and the shortlist holds but one of those so near to each other.
func (s *survey) polished(ctx context.Context, best Found, goal Objective) (Found, *survey, error) {
	passes := len(best.Plan.Passes)
	if !s.chooses() || best.choice.along != nil || best.choice.split != nil || 2*polishing*passes > drawnPasses {
		return best, s, nil
	}
	var near []Sample
	for _, one := range best.Curve {
		if off := math.Abs(math.Remainder(float64(headingOf(one.Direction)-best.choice.heading), math.Pi)); off < besideBest && off >= apartPolished {
			near = append(near, one)
		}
	}
	var ways []choice
	for _, h := range finalists(near, polishing, apartPolished) {
		if math.Cos(float64(h-best.choice.heading)) < 0 {
			h += math.Pi
		}
		ways = append(ways, choice{heading: h})
	}
	all, err := s.drawn(ctx, ways, goal, math.Inf(1), best)
	if err != nil {
		return Found{}, nil, err
	}
	if all, err = s.sharpened(ctx, all, goal); err != nil {
		return Found{}, nil, err
	}
	best.Candidate.Stopped = s.halt.said
	if all[0].choice == best.choice {
		return best, s, nil
	}
	curve := best.Curve
	best = all[0]
	best.Curve = curve
	best, at, err := s.leftOut(ctx, best, goal)
	if err != nil {
		return Found{}, nil, err
	}
	best.Candidate, err = goal.judged(ctx, best.Plan)
	best.Candidate.Stopped = s.halt.said
	return best, at, err
}

// fewPasses: where a plan has no more, its search takes so little that other numbers of rounds are searched as well (nextRounds).
const fewPasses = 40

// Up to notManyPasses other numbers are searched whose plans at a glance came to no more than alikeAtAGlance times those of the best number.
const notManyPasses, alikeAtAGlance = 60, 1.01

// asked is the best plan with so many rounds.
func (s *survey) asked(ctx context.Context, rounds int, goal Objective) (Found, *survey, error) {
	best, at, err := s.glancedAt(ctx, rounds, goal)
	if err != nil {
		return Found{}, nil, err
	}
	return s.orFitting(ctx, best, at, goal)
}

// orFitting is the best of a plan and, where that is small and drives corners outright, of one that does so nowhere: what such corners are worth is
// known for the directions glanced at, and others are chosen by it.
func (s *survey) orFitting(ctx context.Context, best Found, at *survey, goal Objective) (Found, *survey, error) {
	if !best.Plan.outright() || len(best.Plan.Passes) > fewPasses || s.halt.now() {
		return best, at, nil
	}
	fitting, err := s.cornered(ctx, byCorner, true, false)
	if err != nil {
		return Found{}, nil, err
	}
	other, there, err := fitting.glancedAt(ctx, at.rounds, goal)
	if err == nil && other.Candidate.compare(best.Candidate) < 0 {
		best, at = other, there
	}
	return best, at, err
}

// glancedAt is the best plan with so many rounds, as a glance at some directions has the corners of its rounds.
func (s *survey) glancedAt(ctx context.Context, rounds int, goal Objective) (Found, *survey, error) {
	if g, is := s.glances[rounds]; is && g.whole {
		return g.survey.found(ctx, g.all, goal)
	}
	s, err := s.at(ctx, rounds)
	if err != nil {
		return Found{}, nil, err
	}
	ways, _, err := s.glance(ctx, goal)
	if err != nil {
		return Found{}, nil, err
	}
	glanced, err := s.drawn(ctx, ways, goal, math.Inf(1))
	if err != nil {
		return Found{}, nil, err
	}
	if s, glanced, err = s.rounding(ctx, glanced, goal, math.Inf(1)); err != nil {
		return Found{}, nil, err
	}
	return s.found(ctx, glanced, goal)
}

// found is the best plan with the rounds of the survey; glanced are the plans by which they were chosen.
func (s *survey) found(ctx context.Context, glanced []Found, goal Objective) (Found, *survey, error) {
	if !s.chooses() {
		glanced = nil
	}
	found, err := s.searched(ctx, goal, glanced)
	if err != nil {
		return Found{}, nil, err
	}
	at, all, err := s.rounding(ctx, found[:1], goal, math.Inf(1))
	if err != nil {
		return Found{}, nil, err
	}
	best := all[0]
	for i := range found[1:] { // what corners are worth differs
		there, other, err := s.rounding(ctx, found[i+1:i+2], goal, best.Candidate.Value)
		if err != nil {
			return Found{}, nil, err
		}
		if other[0].Candidate.compare(best.Candidate) < 0 {
			best, at = other[0], there
		}
	}
	best.Curve = found[0].Curve
	if best, at, err = at.leftOut(ctx, best, goal); err != nil {
		return Found{}, nil, err
	}
	best.Candidate, err = goal.judged(ctx, best.Plan)
	best.Candidate.Stopped = s.halt.said
	return best, at, err
}

// searched finds the way of the rows in which the objective is least, with the rounds of the survey.
//
// The time of a direction is smooth but for its jumps: where the interior's breadth across
// it is a whole number of widths, and at directions of edges, where point rows vanish. So those are looked at
// exactly (the breadth between two corners of the hull is their distance times the sine of the angle
// between), the rest every 2°, and golden sections search around the best. All that on an estimate: passes,
// turns as they are at row ends of that slant, distances between blocks as the crow flies. The best few,
// and of a convex interior many, are laid out, beside them rows along long stretches of the boundary, bent as it is. All
// are simulated. A turn that finds no room counts at its price on top, ground missed as the hours it takes
// to be worked after all.
//
// Glanced are the plans by which the rounds were chosen. Where straight rows and bent ones take nearly as long both are given, the better first.
func (s *survey) searched(ctx context.Context, goal Objective, glanced []Found) ([]Found, error) {
	curve, err := s.curve(ctx, goal)
	if err != nil {
		return nil, err
	}
	if len(glanced) > 0 && s.halt.now() {
		glanced[0].Curve = curve
		return glanced[:1], nil
	}
	convex := s.convex()
	ways := slices.DeleteFunc(s.shortlist(curve, convex, goal), func(w choice) bool {
		return slices.ContainsFunc(glanced, func(f Found) bool { return f.choice == w })
	})
	all, err := s.drawn(ctx, ways, goal, math.Inf(1), glanced...)
	if err != nil {
		return nil, err
	}
	bent, err := s.bentNear(ctx, curve, goal, nearlyAsGood*all[0].Candidate.Value)
	if err != nil {
		return nil, err
	}
	least := all[0].Candidate.Value
	if len(bent) > 0 {
		least = min(least, bent[0].Candidate.Value)
	}
	split, err := s.splitNear(ctx, curve, goal, least)
	if err != nil {
		return nil, err
	}
	out := slices.Concat(all[:1], bent, split)
	slices.SortStableFunc(out, func(a, b Found) int { return a.Candidate.compare(b.Candidate) })
	out = out[:min(2, len(out))]
	for i := range out {
		out[i].Curve = curve
	}
	return out, nil
}

// splitNear are plans with directions of their own in the arms of the field that come to less than some value, as drawn has them.
func (s *survey) splitNear(ctx context.Context, curve []Sample, goal Objective, most float64) ([]Found, error) {
	if !s.chooses() || s.opt.Before != nil || s.halt.now() {
		return nil, nil
	}
	best := slices.MinFunc(curve, func(a, b Sample) int { return cmp.Compare(a.Value, b.Value) })
	ways, err := s.splits(ctx, headingOf(best.Direction))
	if err != nil || len(ways) == 0 {
		return nil, err
	}
	return s.drawn(ctx, ways, goal, most)
}

// chooses says whether there is more than one direction to choose from.
func (s *survey) chooses() bool { return !s.opt.Fixed && s.opt.Along == nil && !s.opt.AlongLongest }

// shortlist is the ways to lay out, by exact estimates of the best directions of a curve. Rows counted from the other side may turn better.
func (s *survey) shortlist(curve []Sample, convex bool, goal Objective) (ways []choice) {
	if s.opt.Fixed {
		return []choice{{heading: s.opt.Heading}}
	}
	passes := slices.MinFunc(curve, func(a, b Sample) int { return cmp.Compare(a.Value, b.Value) }).Passes
	most, apart := drawnPlans, apartBest
	switch {
	case convex:
		most, apart = drawnConvex, apartConvex
	case passes <= fewRowsDrawn:
		most = drawnFew
	}
	type rated struct {
		choice
		Sample
	}
	var all []rated
	for _, h := range finalists(curve, shortlisted*max(drawnLeast, min(most, estimatedPasses/max(1, passes))), apart) {
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
	if s.opt.Fixed || s.opt.LeaveWedges || s.halt.now() {
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

// drawn lays the work out in some ways, has the engine judge each, and gives the plans in the order of what they come to. One that comes to more than most, or
// than another before it, is given up on the way: what it is known to leave by then has its price. Plans known before are among them. Where the search is stopped none is begun but a first one.
func (s *survey) drawn(ctx context.Context, ways []choice, goal Objective, most float64, known ...Found) (all []Found, err error) {
	all = slices.Clone(known)
	for _, f := range known {
		most = min(most, f.Candidate.Value)
	}
	for _, w := range ways {
		stopped := func() bool { return (len(all) > 0 || !math.IsInf(most, 1)) && s.halt.now() }
		if stopped() {
			break
		}
		p, err := s.lay(ctx, w, func(t progress) bool { return goal.of(t.candidate(s)) >= most || stopped() })
		if errors.Is(err, errBeaten) || errors.Is(err, errNotPast) {
			continue
		}
		if err != nil {
			return nil, err
		}
		c, err := p.simulated(ctx, false)
		if err != nil {
			return nil, err
		}
		if c.Value = goal.of(c); c.Value < most {
			all = append(all, Found{Plan: p, Candidate: c, choice: w})
			if c.Missed <= c.Field/2 {
				most = c.Value
			}
		}
	}
	slices.SortStableFunc(all, func(a, b Found) int { return a.Candidate.compare(b.Candidate) })
	return all, nil
}

// sharpened looks for better directions beside the best one, ever nearer to it.
func (s *survey) sharpened(ctx context.Context, all []Found, goal Objective) ([]Found, error) {
	step := sharpenedFrom
	for range polishing {
		if s.halt.now() {
			break
		}
		h := all[0].choice.heading
		beside, err := s.drawn(ctx, []choice{{heading: h - geo.Heading(step)}, {heading: h + geo.Heading(step)}}, goal, all[0].Candidate.Value, all[0])
		if err != nil {
			return nil, err
		}
		all, step = beside, step/2
	}
	return all, nil
}
