package plan

import (
	"context"
	"slices"
)

// leftOut is the best plan without the rows on some of the ground that rounds leave, as far as that takes less, and the survey of that. What such rows are worth was
// estimated for each piece by itself (leftRows), and ends of rows and rounds beside it reach into it: the engine knows. Asked of plans with few passes,
// or where all those plans have no more passes than half of a search's.
func (s *survey) leftOut(ctx context.Context, best Found, goal Objective) (Found, *survey, error) {
	pieces := 0
	for _, p := range s.parts {
		pieces += len(p.left)
	}
	if len(best.Plan.Passes) > fewPasses && pieces*len(best.Plan.Passes) > drawnPasses/2 {
		return best, s, nil
	}
	for i := range s.parts {
		for k := len(s.parts[i].left) - 1; k >= 0; k-- {
			if s.halt.now() {
				return best, s, nil
			}
			d := *s
			d.sweep, d.parts = sweep{}, slices.Clone(s.parts)
			d.parts[i].left = slices.Delete(slices.Clone(s.parts[i].left), k, k+1)
			other, err := d.drawn(ctx, []choice{best.choice}, goal, best.Candidate.Value)
			if err != nil {
				return Found{}, nil, err
			}
			if len(other) > 0 && other[0].Candidate.compare(best.Candidate) < 0 {
				other[0].Curve = best.Curve
				best, s = other[0], &d
			}
		}
	}
	return best, s, nil
}
