package plan

import (
	"context"
	"fmt"
	"math"
	"slices"

	"balk/geo/plane"
)

// asWeighed is a plan, or the same rows with the two forms of each round compared by what the engine finds that one leaves and the other works, if that takes less, and the survey of that.
// In the search a round is compared by circles at its corners, which takes no time. Where bends run into each other, and at sharp tips, it leaves up to twice as much as is thought. It is
// asked of the best plan of each number of rounds alone, so that none takes more by it.
func (s *survey) asWeighed(ctx context.Context, best Found, goal Objective) (Found, *survey, error) {
	if s.halt.now() || s.sharp == allCorners || len(s.corners()) == 0 {
		return best, s, nil
	}
	d := *s
	d.weighed = true
	at, err := d.cornered(ctx, s.sharp, s.fitting, s.past)
	if err != nil {
		return Found{}, nil, err
	}
	return s.orOther(ctx, best, at, goal)
}

// asEither is a plan, or the same rows with rounds in stretches driven the other way round where that leaves less of their corners, if that takes less, and the survey of that. Corners that do not pay the one way round
// may the other, so it is asked with all of them driven to their end too.
func (s *survey) asEither(ctx context.Context, best Found, goal Objective) (Found, *survey, error) {
	if !s.inStretches() {
		return best, s, nil
	}
	at := s
	for i, sharp := range [2]cornering{s.sharp, allCorners} {
		if i > 0 && (s.sharp == allCorners || len(s.corners()) == 0) || s.halt.now() {
			break
		}
		d := *s
		d.either = true
		there, err := d.cornered(ctx, sharp, s.fitting, s.past)
		if err != nil {
			return Found{}, nil, err
		}
		if best, at, err = at.orOther(ctx, best, there, goal); err != nil {
			return Found{}, nil, err
		}
	}
	return best, at, nil
}

// orOther is a plan, or the same rows with the rounds of another survey if that takes less, and the survey of that.
func (s *survey) orOther(ctx context.Context, best Found, at *survey, goal Objective) (Found, *survey, error) {
	other, err := at.drawn(ctx, []choice{best.choice}, goal, best.Candidate.Value)
	if err != nil || len(other) == 0 || other[0].Candidate.compare(best.Candidate) >= 0 {
		return best, s, err
	}
	curve, stopped := best.Curve, best.Candidate.Stopped
	best = other[0]
	best.Curve = curve
	best.Candidate, err = goal.judged(ctx, best.Plan)
	best.Candidate.Stopped = stopped
	return best, at, err
}

// weigh notes what loops leave that have corners rounded and that they work if those are driven to their end, as the engine finds it. A stretch that goes on beyond a corner works its tip too, which lies
// outside of the arc of half a width about the corner. A loop is thought by a sum of cornerLeft, so what is found is divided by the square of how far its corners reach (round).
func (s *survey) weigh(ctx context.Context, sk *sketch, part, k int, loops, driven []loop) error {
	if !slices.ContainsFunc(loops, func(l loop) bool { return l.corners != nil }) {
		return nil
	}
	off, err := s.lostBy(ctx, sk, part, k, loops, driven)
	if err != nil {
		return fmt.Errorf("corners of headland round %d: %w", k, err)
	}
	outer := s.turner.steer.Radius + s.width/2
	for i := range loops {
		if l := &loops[i]; l.corners != nil {
			l.rounded = max(0, off[i]+s.tips(l.corners)-s.tips(l)) / (outer * outer)
		}
	}
	return nil
}

// lostBy is what of the ground of a round lies within half a width of some loops that are driven to the end of corners and not of those with corners rounded, m², by the nearest of the latter. What is left at necks
// lies within neither.
func (s *survey) lostBy(ctx context.Context, sk *sketch, part, k int, loops, driven []loop) ([]float64, error) {
	rings := func(loops []loop) []plane.Polygon {
		out := make([]plane.Polygon, len(loops))
		for i, l := range loops {
			out[i] = plane.Polygon{l.ring}
		}
		return out
	}
	if !sk.asked {
		ground, err := plane.Inset(ctx, s.ground[part:part+1], float64(k-1)*s.width)
		if err != nil {
			return nil, err
		}
		if sk.beside, err = plane.Beyond(ctx, ground, rings(loops), s.width/2); err != nil {
			return nil, err
		}
		sk.asked = true
	}
	off := make([]float64, len(loops))
	if len(sk.beside) == 0 {
		return off, nil
	}
	lost, err := plane.Within(ctx, sk.beside, rings(driven), s.width/2)
	if err != nil {
		return nil, err
	}
	for _, p := range lost {
		at, near := 0, math.Inf(1)
		for i, l := range loops {
			if _, _, away := nearestOn(l.ring, p[0][0]); away < near {
				at, near = i, away
			}
		}
		off[at] += p.Area()
	}
	return off, nil
}

// tips is what stretches that go on beyond the corners of a loop work outside of the arcs of half a width about them, m².
func (s *survey) tips(l *loop) (area float64) {
	for _, b := range l.cuts {
		if b.theta > 0 && (b.from == b.to || s.past) {
			area += cornerLeft(b.theta) * s.width * s.width / 4
		}
	}
	return area
}
