package plan

import (
	"context"
	"slices"
)

// leftOut is the best plan without the rows on some of the ground that rounds leave, as far as that takes less, and the survey of that. What such rows are worth was
// estimated for each piece by itself (leftRows), and ends of rows and rounds beside it reach into it: the engine knows. Asked of plans with few passes,
// or where all those plans have no more passes than half of a search's; first without any such row, since two that share a way in may both not pay.
func (s *survey) leftOut(ctx context.Context, best Found, goal Objective) (Found, *survey, error) {
	pieces := 0
	for _, p := range s.parts {
		pieces += len(p.left)
	}
	if len(best.Plan.Passes) > fewPasses && pieces*len(best.Plan.Passes) > drawnPasses/2 {
		return best, s, nil
	}
	try := func(parts []part) error {
		d := *s
		d.sweep, d.parts = sweep{}, parts
		other, err := d.drawn(ctx, []choice{best.choice}, goal, best.Candidate.Value)
		if err == nil && len(other) > 0 && other[0].Candidate.compare(best.Candidate) < 0 {
			other[0].Curve = best.Curve
			best, s = other[0], &d
		}
		return err
	}
	if pieces > 1 {
		bare := slices.Clone(s.parts)
		for i := range bare {
			bare[i].left = nil
		}
		if err := try(bare); err != nil {
			return Found{}, nil, err
		}
	}
	for i := range s.parts {
		for k := len(s.parts[i].left) - 1; k >= 0; k-- {
			if s.halt.now() {
				return best, s, nil
			}
			parts := slices.Clone(s.parts)
			parts[i].left = slices.Delete(slices.Clone(parts[i].left), k, k+1)
			if err := try(parts); err != nil {
				return Found{}, nil, err
			}
		}
	}
	return best, s, nil
}
