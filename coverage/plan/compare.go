package plan

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// Deviation is what a plan comes to if one thing is other than planned.
type Deviation struct {
	What   string  `json:"what"`
	Hours  float64 `json:"hours"`  // h, all of it
	Missed float64 `json:"missed"` // m²
	Double float64 `json:"double"` // m²
	Turns  int     `json:"turns"`
	Unfit  int     `json:"unfit"` // turns that do not fit
	Cost   float64 `json:"cost,omitempty"`
}

// Compare finds the best direction for every implement and ranks them by the
// objective. Each says in a sentence how it differs from the first, and
// how it fares with a driving error (Options.PassError), one width step narrower, and with one headland round more.
// Errors: no implement; those of Best, with the implement's name.
func Compare(ctx context.Context, field []plane.Polygon, ims []rig.Implement, opt Options, goal Objective) ([]Found, error) {
	if len(ims) == 0 {
		return nil, fmt.Errorf("0 implements: must be 1 at least")
	}
	var all []Found
	for i, im := range ims {
		c, err := comparedOne(ctx, field, im, opt, goal)
		if err != nil {
			return nil, fmt.Errorf("implement %d, %q of %g m: %w", i+1, im.Name, im.Width, err)
		}
		all = append(all, c)
	}
	slices.SortStableFunc(all, func(a, b Found) int { return cmp.Compare(a.Candidate.Value, b.Candidate.Value) })
	for i := range all {
		all[i].Candidate.Difference = difference(all[i].Candidate, all[0].Candidate, i)
	}
	return all, nil
}

func comparedOne(ctx context.Context, field []plane.Polygon, im rig.Implement, opt Options, goal Objective) (Found, error) {
	best, err := Best(ctx, field, im, opt, goal)
	if err != nil {
		return Found{}, err
	}
	c := best.Candidate
	e := or(opt.PassError, usualPassError)
	off, err := best.Plan.wandering(ctx, c, e, opt.Seed)
	if err != nil {
		return Found{}, err
	}
	c.Sensitivity = append(c.Sensitivity, off)
	at := best.Plan.Options
	if step := or(opt.WidthStep, usualStep); step < credited(im) {
		narrow := im
		narrow.Width, narrow.Sections = im.Width-step, nil
		as := at // no less deep a headland
		as.Rounds = min(mostRounds, int(math.Ceil((best.Plan.Depth-spare)/credited(narrow))))
		d, err := replanned(ctx, field, narrow, as, fmt.Sprintf("%g m narrower", step))
		if err != nil {
			return Found{}, err
		}
		c.Sensitivity = append(c.Sensitivity, d)
	}
	if at.Rounds = best.Plan.Rounds + 1; at.Rounds <= mostRounds {
		d, err := replanned(ctx, field, im, at, "one headland round more")
		if err != nil {
			return Found{}, err
		}
		c.Sensitivity = append(c.Sensitivity, d)
	}
	best.Candidate = c
	return best, nil
}

// replanned lays out and simulates something else in the same direction.
func replanned(ctx context.Context, field []plane.Polygon, im rig.Implement, opt Options, what string) (Deviation, error) {
	p, err := Lay(ctx, field, im, opt)
	if err != nil {
		return Deviation{}, fmt.Errorf("%s: %w", what, err)
	}
	c, err := Simulate(ctx, p)
	if err != nil {
		return Deviation{}, fmt.Errorf("%s: %w", what, err)
	}
	return c.deviation(what), nil
}

func (c Candidate) deviation(what string) Deviation {
	return Deviation{What: what, Hours: c.Hours, Missed: c.Missed, Double: c.Double, Turns: c.Turns, Unfit: len(c.Infeasible), Cost: c.Cost}
}

// difference is a sentence on how c differs from the first.
func difference(c, first Candidate, rank int) string {
	if rank == 0 {
		return fmt.Sprintf("%.2f h for %d passes and %d turns, %.2f ha/h", c.Hours, c.Passes, c.Turns, c.Capacity*secondsH/hectare)
	}
	var said []string
	say := func(amount float64, format string, more, less string) {
		text := fmt.Sprintf(format, math.Abs(amount))
		if text == fmt.Sprintf(format, 0.0) {
			return
		}
		if amount > 0 {
			said = append(said, text+" "+more)
		} else {
			said = append(said, text+" "+less)
		}
	}
	say(c.Hours-first.Hours, "%.2f h", "longer", "shorter")
	say(float64(c.Passes-first.Passes), "%.0f passes", "more", "fewer")
	say(float64(c.Turns-first.Turns), "%.0f turns", "more", "fewer")
	say(float64(len(c.Infeasible)-len(first.Infeasible)), "%.0f turns that do not fit", "more", "fewer")
	say((c.Missed-first.Missed)/hectare, "%.2f ha missed", "more", "less")
	say((c.Double-first.Double)/hectare, "%.2f ha worked twice", "more", "less")
	say(c.Cost-first.Cost, "costs %.2f", "more", "less")
	if len(said) == 0 {
		return "no difference"
	}
	return strings.Join(said, ", ")
}
