package plan

import (
	"context"
	"errors"
	"math"
	"slices"
)

// unrefused are the obstacles to go past less those that no round or row could.
func (s *survey) unrefused() []holeAt {
	return slices.DeleteFunc(slices.Clone(s.opt.small), func(h holeAt) bool { return s.refused[h] })
}

// goingPast is the survey with as many rounds whose rows and rounds go past some obstacles, but for those that its rounds cannot.
func (s *survey) goingPast(ctx context.Context, small []holeAt) (*survey, error) {
	for {
		opt := s.opt
		opt.small = small
		d, err := surveyOf(ctx, s.field, s.im, opt)
		if err != nil {
			return nil, err
		}
		d.turner, d.halt, d.sharp, d.fitting, d.past = s.turner, s.halt, s.sharp, s.fitting, s.past
		at, err := d.at(ctx, s.rounds)
		if !errors.Is(err, errNotPast) || len(at.refused) == 0 { // else there are ever fewer
			return at, err
		}
		small = at.unrefused()
	}
}

const (
	mostGoes     = 4 // so often a plan past small obstacles is tried to be laid out, each time without those that it could not go past before
	mostDear     = 3 // and so often without those that take more to go past than rounds about them
	mostWaysPast = 6 // other directions that are laid out
)

// aboutTakes is what rounds about an obstacle take on average in the plan that has rounds about all, next to one that goes past some, s.
func aboutTakes(about Candidate, past Found) float64 {
	all, c := 0.0, past.Candidate
	for _, seconds := range past.Plan.past {
		all += seconds
	}
	return (all + (about.Value/c.Value-1)*c.Hours*secondsH) / float64(c.Small)
}

// pastSmall is the best of a plan with rounds about all obstacles, and of those with as many rounds that go past small ones instead: first in the same direction past all of them and past those only that
// take least to pass, then in others.
func (s *survey) pastSmall(ctx context.Context, best Found, goal Objective) (Found, *survey, error) {
	small := holesUpTo(s.field, s.im.Width)
	if len(small) == 0 {
		return best, s, nil
	}
	same := []choice{best.choice}
	if best.choice.along != nil { // where rows bend there is less room
		for _, h := range finalists(best.Curve, 1, apartBest) {
			same = append(same, choice{heading: h})
		}
	}
	lay := func(small []holeAt, most float64) (*survey, []Found, error) {
		for range mostGoes {
			if len(small) == 0 || s.halt.now() {
				break
			}
			at, err := s.goingPast(ctx, small)
			if err != nil {
				return nil, nil, err
			}
			if len(at.opt.small) == 0 {
				break
			}
			all, err := at.drawn(ctx, same, goal, most)
			if err != nil || len(all) > 0 {
				return at, all, err
			}
			small = at.unrefused()
			if len(at.refused) == 0 {
				break
			}
		}
		return nil, nil, nil
	}
	at, all, err := lay(small, math.Inf(1))
	if err != nil || len(all) == 0 {
		return best, s, err
	}
	for range mostDear {
		most, takes := aboutTakes(best.Candidate, all[0]), all[0].Plan.past
		cheap := slices.DeleteFunc(slices.Clone(at.opt.small), func(h holeAt) bool { return takes[h] > most })
		if len(cheap) == len(at.opt.small) || len(cheap) == 0 {
			break
		}
		there, other, err := lay(cheap, all[0].Candidate.Value)
		if err != nil {
			return Found{}, nil, err
		}
		if len(other) == 0 || other[0].Candidate.compare(all[0].Candidate) >= 0 {
			break
		}
		at, all = there, other
	}
	if all[0].Candidate.Value > nearlyAsGood*best.Candidate.Value {
		return best, s, nil
	}
	curve := best.Curve
	if s.chooses() {
		if curve, err = at.curve(ctx, goal); err != nil {
			return Found{}, nil, err
		}
		ways := slices.DeleteFunc(at.shortlist(curve, at.convex(), goal), func(w choice) bool { return slices.Contains(same, w) })
		if all, err = at.drawn(ctx, ways[:min(mostWaysPast, len(ways))], goal, math.Inf(1), all[0]); err != nil {
			return Found{}, nil, err
		}
	}
	other := all[0]
	if other.Curve = curve; other.Candidate.compare(best.Candidate) >= 0 {
		return best, s, nil
	}
	other.Candidate, err = goal.judged(ctx, other.Plan)
	other.Candidate.Stopped = s.halt.said
	return other, at, err
}
