package plan

import (
	"cmp"
	"context"
	"math"
	"slices"

	"balk/geo"
)

const (
	// mostGlanced: so many directions are laid out for each number of rounds before one of these is chosen.
	mostGlanced = 2
	// glance: directions are so far apart then, rad, beside those of the longest sides.
	glance, glanceSides = 6 * math.Pi / 180, 8
	// moreRounds: so many rounds more than turning needs are looked at.
	moreRounds = 2
	// usually: what corners and runs of rounds come to beyond a bound is much the same for each round; so much of it is taken for sure.
	usually = 0.4
	// worthRounding: where what is missed is less than so much of the value, other corners of rounds save no more than that.
	worthRounding = 0.01
)

// enough is the survey with the number of rounds with which the work is likely to take least, and its plans in the directions looked at. With each number
// the rows of a few directions are estimated; what that and the rounds' own length come to is a bound that plans seldom fall below. The number with the least
// bound comes first: the best directions are laid out, and judged with what is missed in corners. Others follow while their bound, and most of
// what the best plan came to beyond its own, are below the best plan.
func (s *survey) enough(ctx context.Context, goal Objective) (enough *survey, found []Found, err error) {
	type depth struct {
		survey *survey
		ways   []choice
		least  float64
	}
	var all []depth
	need := min(s.rounds, mostRounds)
	numbers := []int{need} // first: it is there, should the search be stopped
	for k := 1; k <= min(s.rounds+moreRounds, mostRounds); k++ {
		if k != need {
			numbers = append(numbers, k)
		}
	}
	for _, k := range numbers {
		if len(all) > 0 && s.halt.now() {
			break
		}
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
	slices.SortFunc(all, func(a, b depth) int {
		return cmp.Or(cmp.Compare(a.least, b.least), cmp.Compare(a.survey.rounds, b.survey.rounds))
	})
	best := Candidate{Value: math.Inf(1), Missed: s.area, Field: s.area}
	beyond := 0.0 // what the best plan so far comes to beyond its bound, for each of its rounds; what does not fit may fit with others
	s.glances = map[int]glanced{}
	for _, d := range all {
		if enough != nil && s.halt.now() {
			break
		}
		if enough != nil && d.least+usually*beyond*float64(min(d.survey.rounds, enough.rounds)) >= best.Value {
			continue
		}
		drawn, err := d.survey.drawn(ctx, d.ways, goal, math.Inf(1))
		if err != nil {
			return nil, nil, err
		}
		at, drawn, err := d.survey.rounding(ctx, drawn, goal, best.Value)
		if err != nil {
			return nil, nil, err
		}
		c := drawn[0].Candidate
		s.glances[d.survey.rounds] = glanced{at, drawn, goal.atLeast(c) < best.Value}
		if c.compare(best) < 0 {
			enough, found, best = at, drawn, c
			beyond = max(0, c.Value-c.UnfitHours-d.least) / float64(max(1, enough.rounds))
		}
	}
	return enough, found, nil
}

// glanced is what a glance at some directions comes to with a number of rounds.
type glanced struct {
	survey *survey
	all    []Found
	whole  bool // all ways were tried in which its corners may be driven (rounding)
}

// rounding is the survey with those corners of its rounds driven to their end with which the best of some plans takes least, and the plans in the same ways. What
// rounds leave of corners is known when they are driven and the engine has judged them, so each cornering is. None is tried where all that is missed is
// worth little, or is less than what another plan, of value most, is better by. At the end it is asked whether the best takes less where it drives no corner outright, and where it goes on past
// blunted corners.
func (s *survey) rounding(ctx context.Context, all []Found, goal Objective, most float64) (*survey, []Found, error) {
	best := s
	var ways []choice
	for _, f := range all {
		ways = append(ways, f.choice)
	}
	for how := range cornerings + 2 {
		sharp, fitting, past := how, s.fitting, s.past
		switch {
		case how == cornerings:
			sharp, fitting = best.sharp, true
		case how > cornerings:
			sharp, fitting, past = best.sharp, best.fitting, !best.past
		}
		if sharp == s.sharp && fitting == s.fitting && past == s.past || how == cornerings && !s.fitting && !all[0].Plan.outright() || how > cornerings && !best.blunted() {
			continue
		}
		first := all[0]
		if least := goal.atLeast(first.Candidate); s.halt.now() || least >= most || first.Candidate.Value-least < worthRounding*first.Candidate.Value {
			break
		}
		d, err := s.cornered(ctx, sharp, fitting, past)
		if err != nil {
			return nil, nil, err
		}
		if those, these := d.corners(), best.corners(); fitting == best.fitting && past == best.past && (len(those)+len(these) == 0 || how != allCorners && best.sharp != allCorners && slices.Equal(those, these)) {
			continue // its rounds are no others
		}
		other, err := d.drawn(ctx, []choice{first.choice}, goal, first.Candidate.Value)
		if err != nil {
			return nil, nil, err
		}
		if len(other) == 0 || other[0].Candidate.compare(first.Candidate) >= 0 {
			continue
		}
		ways := slices.DeleteFunc(slices.Clone(ways), func(w choice) bool { return w == first.choice })
		if all, err = d.drawn(ctx, ways, goal, math.Inf(1), other[0]); err != nil {
			return nil, nil, err
		}
		best = d
	}
	return best, all, nil
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
		if len(out) > 0 && s.halt.now() {
			break
		}
		out = append(out, s.estimate(choice{heading: geo.Heading(h)}, goal, false))
	}
	var ways []choice
	for _, h := range finalists(out, mostGlanced, apartBest) {
		ways = append(ways, choice{heading: h})
	}
	return ways, slices.MinFunc(out, func(a, b Sample) int { return cmp.Compare(a.Value, b.Value) }).Value, nil
}
