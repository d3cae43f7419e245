package plan

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo/plane"
	"balk/geo/workers"
)

// Deviation is what a plan comes to if one thing is other than planned.
type Deviation struct {
	What   string  `json:"what"`
	Kind   Kind    `json:"kind"`
	By     float64 `json:"by,omitempty"` // m, the error or the step
	Hours  float64 `json:"hours"`        // h, all of it
	Missed float64 `json:"missed"`       // m²
	Double float64 `json:"double"`       // m²
	Turns  int     `json:"turns"`
	Runs   int     `json:"runs"`  // with the tool lifted
	Unfit  int     `json:"unfit"` // turns and runs that do not fit
	Cost   float64 `json:"cost,omitempty"`
	Value  float64 `json:"value"` // of the objective by which plans are ranked, with what is missed and what does not fit
}

// Kind is what is other than planned.
type Kind string

// Need is the headland that a set needs to turn into the nearest row that it can turn into.
type Need struct {
	turn.Need
	Rounds      int `json:"rounds"` // that are as deep
	LeastRounds int `json:"leastRounds"`
}

// The kinds of Deviation.
const (
	Wandering Kind = "wandering" // driven with a pass-to-pass error of By
	Narrower  Kind = "narrower"  // the implement is narrower by By
	Deeper    Kind = "deeper"    // one headland round more
)

// Compare finds the best direction for every implement and ranks them by the
// objective. Each says in a sentence how it differs from the first, and
// how it fares with a driving error (Options.PassError), one width step narrower, and with one headland round more; the latter two not where the search was
// stopped (Options.Stop, Candidate.Spent).
// Errors: no implement; those of bestOf, with the implement's name.
func Compare(ctx context.Context, field []plane.Polygon, ims []rig.Implement, opt Options, goal Objective) ([]Found, error) {
	if len(ims) == 0 {
		return nil, fmt.Errorf("0 implements: must be 1 at least")
	}
	all := make([]Found, len(ims))
	inner := opt
	inner.Workers = max(1, cmp.Or(opt.Workers, runtime.GOMAXPROCS(0))/len(ims))
	err := workers.Each(ctx, opt.Workers, len(ims), func(i int) (err error) {
		im := ims[i]
		if all[i], err = comparedOne(ctx, field, im, inner, goal); err != nil {
			return fmt.Errorf("implement %d, %q of %g m: %w", i+1, im.Name, im.Width, err)
		}
		all[i].Plan.Options.Workers, all[i].Candidate.Implement = opt.Workers, i+1
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.SortStableFunc(all, func(a, b Found) int { return a.Candidate.compare(b.Candidate) })
	for i := range all {
		all[i].Candidate.Difference = difference(all[i].Candidate, all[0].Candidate, i)
	}
	return all, nil
}

func comparedOne(ctx context.Context, field []plane.Polygon, im rig.Implement, opt Options, goal Objective) (Found, error) {
	best, s, err := bestOf(ctx, field, im, opt, goal)
	if err != nil {
		return Found{}, err
	}
	if opt.Before != nil {
		if best, err = s.after(ctx, best, goal); err != nil {
			return Found{}, err
		}
	}
	rounds := best.Plan.Rounds
	c := best.Candidate
	e := cmp.Or(opt.PassError, usualPassError)
	off, err := best.Plan.wandering(ctx, c, goal, e, opt.Seed)
	if err != nil {
		return Found{}, err
	}
	c.Sensitivity = append(c.Sensitivity, off)
	c.Stopped = c.Stopped || s.halt.now()
	c.Spent = s.halt.spent
	otherwise := func(d Deviation, lay func() (Plan, error)) error {
		p, err := lay()
		if err != nil {
			return fmt.Errorf("%s: %w", d.What, err)
		}
		other, err := p.simulated(ctx, false)
		if err != nil {
			return fmt.Errorf("%s: %w", d.What, err)
		}
		other.Value = goal.of(other)
		c.Sensitivity = append(c.Sensitivity, other.deviation(d))
		return nil
	}
	at := best.Plan.Options
	if step := cmp.Or(opt.WidthStep, usualStep); step < credited(im) && !c.Stopped {
		narrow := im
		narrow.Width, narrow.Sections = im.Width-step, nil
		as := at // no less deep a headland
		as.Rounds = min(mostRounds, int(math.Ceil((best.Plan.Depth-spare)/credited(narrow))))
		err := otherwise(Deviation{What: fmt.Sprintf("%g m narrower", step), Kind: Narrower, By: step}, func() (Plan, error) {
			return Lay(ctx, field, narrow, as)
		})
		if err != nil {
			return Found{}, err
		}
	}
	if rounds < mostRounds && !c.Stopped {
		err := otherwise(Deviation{What: "one headland round more", Kind: Deeper}, func() (Plan, error) {
			p, _, err := s.deeper(ctx, best.choice, rounds+1)
			return p, err
		})
		if err != nil {
			return Found{}, err
		}
	}
	need, serves, err := turn.NeedOf(ctx, im, credited(im), turn.UsualSkip)
	if err != nil {
		return Found{}, err
	}
	if serves {
		c.Need = &Need{need, roundsFor(need.Depth, credited(im)), roundsFor(need.Least, credited(im))}
	}
	if c.Uncut, err = best.Plan.uncut(ctx); err != nil {
		return Found{}, err
	}
	if c.Trodden, err = best.Plan.trodden(); err != nil {
		return Found{}, err
	}
	best.Candidate = c
	return best, nil
}

// AsPlanned is c beside its deviations.
func (c Candidate) AsPlanned() Deviation { return c.deviation(Deviation{What: "as planned"}) }

// deviation fills in what a plan other than the one asked about comes to.
func (c Candidate) deviation(d Deviation) Deviation {
	d.Hours, d.Missed, d.Double, d.Turns, d.Runs, d.Unfit, d.Cost, d.Value = c.Hours, c.Missed, c.Double, c.Turns, c.Runs, len(c.Infeasible), c.Cost, c.Value
	return d
}

// difference is a sentence on how c differs from the first.
func difference(c, first Candidate, rank int) string {
	if rank == 0 {
		few := func(n int, one, many string) string {
			if n == 1 {
				many = one
			}
			return fmt.Sprintf("%d %s", n, many)
		}
		return fmt.Sprintf("%.2f h for %s, %s and %s, %.2f ha/h", c.Hours, few(c.Passes, "pass", "passes"), few(c.Turns, "turn", "turns"), few(c.Runs, "run", "runs"), c.Capacity*secondsH/hectare)
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
	count := func(more int, one, many string) {
		if more == 1 || more == -1 {
			many = one
		}
		say(float64(more), "%.0f "+many, "more", "fewer")
	}
	count(c.Passes-first.Passes, "pass", "passes")
	count(c.Turns-first.Turns, "turn", "turns")
	count(c.Runs-first.Runs, "run", "runs")
	what := "turns and runs that do not fit"
	if d := len(c.Infeasible) - len(first.Infeasible); d == 1 || d == -1 {
		what = "turn or run that does not fit"
	}
	say(float64(len(c.Infeasible)-len(first.Infeasible)), "%.0f", "more "+what, "fewer "+what)
	say((c.Missed-first.Missed)/hectare, "%.2f ha missed", "more", "less")
	say((c.Double-first.Double)/hectare, "%.2f ha worked twice", "more", "less")
	say(c.Cost-first.Cost, "costs %.2f", "more", "less")
	if len(said) == 0 {
		return "no difference"
	}
	return strings.Join(said, ", ")
}
