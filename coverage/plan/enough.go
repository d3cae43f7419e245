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
	// couldRound: other corners of rounds save so much of what missed ground counts, rarely more.
	couldRound = 0.25
	// worthRounding: where what is missed is less than so much of the value, other corners of rounds save no more than that.
	worthRounding = 0.01
)

// enough is the survey with the number of rounds with which the work is likely to take least, and its plans in the directions looked at. With each number
// the rows of a few directions are estimated, and the best is laid out and judged. The number that turning needs comes first, then one fewer and one more, and so on either way as long as
// the last one may still be the best: with other corners of its rounds a plan misses less (couldRound). Those nearly as good as the best, and those whose corners are chosen, have the next direction laid out too. The best then has its corners
// chosen (rounding), and others after it that may still be better.
//
// What an estimate and the rounds' own length come to is a bound that plans seldom fall below. Where that, and most of what the best plan came to beyond its own, are above the best plan, nothing is laid out.
func (s *survey) enough(ctx context.Context, goal Objective) (enough *survey, found []Found, err error) {
	type depth struct {
		survey *survey
		ways   []choice
		found  []Found
	}
	var all []depth
	least := Candidate{Value: math.Inf(1), Missed: s.area, Field: s.area}
	beyond, rounds := 0.0, 0 // what the best plan so far comes to beyond its bound, for each of its rounds; what does not fit may fit with others
	look := func(k int) (on bool, err error) {
		at, err := s.at(ctx, k)
		if err != nil {
			return false, err
		}
		ways, bound, err := at.glance(ctx, goal)
		if err != nil {
			return false, err
		}
		if bound += at.roundsTake(goal); bound+usually*beyond*float64(min(k, rounds)) >= least.Value {
			return true, nil
		}
		drawn, err := at.drawn(ctx, ways[:1], goal, math.Inf(1))
		if err != nil {
			return false, err
		}
		all = append(all, depth{at, ways[1:], drawn})
		c := drawn[0].Candidate
		if c.compare(least) < 0 {
			least, rounds = c, k
			beyond = max(0, c.Value-c.UnfitHours-bound) / float64(max(1, k))
		}
		return goal.rounded(c) < least.Value, nil
	}
	need, most := min(s.rounds, mostRounds), min(s.rounds+moreRounds, mostRounds)
	if _, err := look(need); err != nil {
		return nil, nil, err
	}
	for step, on := 1, [2]bool{true, true}; on[0] || on[1]; step++ {
		for side, k := range [2]int{need - step, need + step} {
			if on[side] = on[side] && k >= 1 && k <= most && !s.halt.now(); on[side] {
				if on[side], err = look(k); err != nil {
					return nil, nil, err
				}
			}
		}
	}
	others := func(d *depth) (err error) {
		d.found, err = d.survey.drawn(ctx, d.ways, goal, math.Inf(1), d.found...)
		d.ways = nil
		return err
	}
	for i := range all {
		if d := &all[i]; !s.halt.now() && d.found[0].Candidate.Value <= nearlyAsGood*least.Value {
			if err := others(d); err != nil {
				return nil, nil, err
			}
		}
	}
	slices.SortStableFunc(all, func(a, b depth) int { return a.found[0].Candidate.compare(b.found[0].Candidate) })
	var best Candidate
	s.glances = map[int]glanced{}
	for _, d := range all {
		if enough != nil && (s.halt.now() || goal.rounded(d.found[0].Candidate) >= best.Value) {
			s.glances[d.survey.rounds] = glanced{d.survey, d.found, false}
			continue
		}
		if err := others(&d); err != nil {
			return nil, nil, err
		}
		most := math.Inf(1)
		if enough != nil {
			most = best.Value
		}
		at, drawn, err := d.survey.rounding(ctx, d.found, goal, most)
		if err != nil {
			return nil, nil, err
		}
		c := drawn[0].Candidate
		s.glances[d.survey.rounds] = glanced{at, drawn, goal.atLeast(c) < most}
		if enough == nil || c.compare(best) < 0 {
			enough, found, best = at, drawn, c
		}
	}
	return enough, found, nil
}

// rounded is about the least that a plan may come to with other corners of its rounds.
func (o Objective) rounded(c Candidate) float64 {
	return c.Value - couldRound*(c.Value-o.atLeast(c))
}

// roundsTake is what driving along all rounds comes to.
func (s *survey) roundsTake(goal Objective) float64 {
	metres := 0.0
	for _, p := range s.parts {
		for _, l := range p.loops {
			metres += l.ring.Perimeter()
		}
	}
	hours := metres / s.opt.Speed.MetresPerSecond() / secondsH
	_, working, _ := s.opt.Fuel.burns(s.opt.Speed, s.im.Width)
	return goal.value(hours, hours*(s.opt.Rates.Hour+working*s.opt.Rates.Litre), 0, 0, 0)
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
