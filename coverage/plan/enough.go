package plan

import (
	"cmp"
	"context"
	"math"
	"slices"

	"balk/geo"
)

const (
	// glanced: so many directions are laid out for each number of rounds before one of these is chosen.
	glanced = 2
	// glance: directions are so far apart then, rad, beside those of the longest sides.
	glance, glanceSides = 6 * math.Pi / 180, 8
	// moreRounds: so many rounds more than turning needs are looked at.
	moreRounds = 2
	// usually: what corners and runs of rounds come to beyond a bound is much the same for each round; so much of it is taken for sure.
	usually = 0.4
)

// enough is the survey with the number of rounds with which the work is likely to take least, and its plans in the directions looked at. With each number
// the rows of a few directions are estimated; what that and the rounds' own length come to is a bound that plans seldom fall below. The number with the least
// bound comes first: the best directions are laid out, and judged with what is missed in corners. Others follow while their bound, and most of
// what the best plan came to beyond its own, are below the best plan.
func (s *survey) enough(ctx context.Context, goal Objective) (enough *survey, glanced []Found, err error) {
	type depth struct {
		survey *survey
		ways   []choice
		least  float64
	}
	var all []depth
	for k := 1; k <= min(s.rounds+moreRounds, mostRounds); k++ {
		at, err := s.at(ctx, k)
		if err != nil {
			return nil, nil, err
		}
		d := depth{survey: at, least: math.Inf(1)}
		if d.ways, d.least, err = at.glance(ctx, goal); err != nil {
			return nil, nil, err
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
	best := Candidate{Value: math.Inf(1), Missed: s.area, Field: s.area}
	beyond := 0.0 // what the best plan so far comes to beyond its bound, for each of its rounds; what does not fit may fit with others
	for _, d := range all {
		if enough != nil && d.least+usually*beyond*float64(min(d.survey.rounds, enough.rounds)) >= best.Value {
			continue
		}
		near, err := d.survey.drawn(ctx, d.ways, goal, math.Inf(1))
		if err != nil {
			return nil, nil, err
		}
		f, err := goal.judgedBest(ctx, near)
		if err != nil {
			return nil, nil, err
		}
		if c := f.Candidate; c.compare(best) < 0 {
			enough, glanced, best = d.survey, near, c
			beyond = max(0, c.Value-c.UnfitHours-d.least) / float64(max(1, enough.rounds))
		}
	}
	return enough, glanced, nil
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
