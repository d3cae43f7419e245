package plan

import (
	"cmp"
	"context"
	"errors"
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
// the rows of a few directions are estimated, and the best is laid out and judged (look). The number that turning needs comes first, then one fewer and one more, and so on either way as long as
// the last one may still be the best: with other corners of its rounds a plan misses less (couldRound). Those nearly as good as the best have the next direction laid out too. Then corners are chosen (cornered).
func (s *survey) enough(ctx context.Context, goal Objective) (*survey, []Found, error) {
	d := depths{survey: s, goal: goal, least: Candidate{Value: math.Inf(1), Missed: s.area, Field: s.area}}
	need, most := min(s.rounds, mostRounds), min(s.rounds+moreRounds, mostRounds)
	if _, err := d.look(ctx, need); err != nil {
		return nil, nil, err
	}
	for step, on := 1, [2]bool{true, true}; on[0] || on[1]; step++ {
		for side, k := range [2]int{need - step, need + step} {
			if on[side] = on[side] && k >= 1 && k <= most && !s.halt.now(); on[side] {
				var err error
				if on[side], err = d.look(ctx, k); err != nil {
					return nil, nil, err
				}
			}
		}
	}
	for i := range d.all {
		if one := &d.all[i]; !s.halt.now() && one.found[0].Candidate.Value <= nearlyAsGood*d.least.Value {
			if err := one.others(ctx, goal); err != nil {
				return nil, nil, err
			}
		}
	}
	return d.cornered(ctx)
}

// depths are the numbers of rounds that enough weighs.
type depths struct {
	survey *survey
	goal   Objective
	all    []depth
	least  Candidate // the best plan so far
	rounds int       // its number of rounds
	beyond float64   // what it comes to beyond its bound, for each of its rounds; what does not fit may fit with others
}

// depth is one number of rounds.
type depth struct {
	survey *survey
	ways   []choice // directions that are not laid out yet
	found  []Found  // the plans in the others
}

// others lays out the directions that are not yet.
func (d *depth) others(ctx context.Context, goal Objective) (err error) {
	d.found, err = d.survey.drawn(ctx, d.ways, goal, math.Inf(1), d.found...)
	d.ways = nil
	return err
}

// look lays out the best direction with k rounds, and says whether numbers beyond it are worth a look: it may be the best with other corners, or was not laid out.
//
// What an estimate and the rounds' own length come to is a bound that plans seldom fall below. Where that, and most of what the best plan came to beyond its own, are above the best plan, nothing is laid out.
func (d *depths) look(ctx context.Context, k int) (on bool, err error) {
	at, err := d.survey.at(ctx, k)
	if err != nil {
		return false, err
	}
	ways, bound, err := at.glance(ctx, d.goal)
	if err != nil {
		return false, err
	}
	if bound += at.roundsTake(d.goal); bound+usually*d.beyond*float64(min(k, d.rounds)) >= d.least.Value {
		return true, nil
	}
	drawn, err := at.drawn(ctx, ways[:1], d.goal, math.Inf(1))
	if err != nil {
		return false, err
	}
	d.all = append(d.all, depth{at, ways[1:], drawn})
	c := drawn[0].Candidate
	if c.compare(d.least) < 0 {
		d.least, d.rounds = c, k
		d.beyond = max(0, c.Value-c.UnfitHours-bound) / float64(max(1, k))
	}
	return d.goal.rounded(c) < d.least.Value, nil
}

// cornered chooses the corners (rounding) of the best number of rounds, and of others after it that may be better by it, and gives the best of them. What all of them come to
// is noted as the survey's glances.
func (d *depths) cornered(ctx context.Context) (enough *survey, found []Found, err error) {
	slices.SortStableFunc(d.all, func(a, b depth) int { return a.found[0].Candidate.compare(b.found[0].Candidate) })
	var best Candidate
	d.survey.glances = map[int]glanced{}
	for _, one := range d.all {
		if enough != nil && (d.survey.halt.now() || d.goal.rounded(one.found[0].Candidate) >= best.Value) {
			d.survey.glances[one.survey.rounds] = glanced{one.survey, one.found, false}
			continue
		}
		if err := one.others(ctx, d.goal); err != nil {
			return nil, nil, err
		}
		most := math.Inf(1)
		if enough != nil {
			most = best.Value
		}
		at, drawn, err := one.survey.rounding(ctx, one.found, d.goal, most)
		if err != nil {
			return nil, nil, err
		}
		c := drawn[0].Candidate
		d.survey.glances[one.survey.rounds] = glanced{at, drawn, d.goal.atLeast(c) < most}
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
		if errors.Is(err, errNotPast) {
			continue
		}
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
