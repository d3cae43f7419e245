package job

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"balk/cmd/internal/farm"
	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/plan"
	"balk/coverage/rework"
	"balk/coverage/season"
	"balk/export/answer"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"
	"balk/geo/workers"
)

// After is what operations left that a comparison has the next pass work in passing.
type After struct {
	Operations []int64 `json:"operations"`     // of the farm, in the order of time
	Missed     float64 `json:"missed"`         // m² that all of them missed
	Back       *Back   `json:"back,omitempty"` // what going back now would win; absent: the last one's set is not described well enough
}

// Back is going back to what was missed, with the set of the last operation.
type Back struct {
	Caught  float64 `json:"caught"`  // m²
	Minutes float64 `json:"minutes"` // from the gate and back
	Strips  int     `json:"strips"`  // visited
}

// before tells what operations up to the one named have left, on the plane of a field.
func (s CompareSpec) before(ctx context.Context, field geo.Field, local geo.Local, call *Call) (b *plan.Before, told *After, findings []geo.Finding, err error) {
	f, err := farm.Open(ctx, s.Farm)
	if err != nil {
		return nil, nil, nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	all, err := f.Operations(ctx, 0)
	if err != nil {
		return nil, nil, nil, err
	}
	last := slices.IndexFunc(all, func(o farm.Operation) bool { return o.Number == s.After })
	if last < 0 {
		return nil, nil, nil, &WrongCall{&farm.NoOperation{Number: s.After}}
	}
	if all[last].Field != field.Name {
		return nil, nil, nil, wrong("operation %d of %s is on %q, and the field compared is %q", s.After, s.Farm, geo.Shown(all[last].Field), geo.Shown(field.Name))
	}
	r := SeasonReport{Spec: SeasonShow{Farm: s.Farm, Field: field.Name}, Findings: []geo.Finding{}}
	if r.Field, err = f.Find(ctx, field.Name); err != nil {
		return nil, nil, nil, err
	}
	for _, o := range all[:last+1] {
		if o.Field == field.Name && slices.ContainsFunc(o.Does, func(c string) bool { return slices.Contains(all[last].Does, c) }) {
			r.Operations = append(r.Operations, SeasonOperation{Operation: o})
		}
	}
	driven, operations, err := r.drive(ctx, f, call)
	if err != nil {
		return nil, nil, r.Findings, err
	}
	if n := len(driven); n == 0 || driven[n-1].Number != s.After {
		return nil, nil, r.Findings, fmt.Errorf("%s: operation %d cannot be read", s.Farm, s.After)
	}
	one := driven[len(driven)-1]
	res, err := workers.Until(ctx, func() (season.Result, error) { return season.Of(ctx, one.field, operations, one.work.Workers) })
	if err != nil {
		return nil, nil, r.Findings, err
	}
	parts, err := res.WorkedTimes(ctx, *res.Main())
	if err != nil {
		return nil, nil, r.Findings, err
	}
	told = &After{Missed: res.Main().Missed}
	for _, k := range res.Main().Operations {
		told.Operations = append(told.Operations, driven[k].Number)
	}
	again, _, err := one.back(ctx, res, parts[0].Ground)
	if err != nil {
		return nil, nil, r.Findings, err
	}
	told.Back = backOf(again)
	there := func(line []plane.XY) []plane.XY { // on the plane of the comparison
		out := make([]plane.XY, len(line))
		for i, p := range line {
			out[i] = local.XY(res.Local.Point(p))
		}
		return out
	}
	b = &plan.Before{}
	for _, p := range parts[0].Ground {
		moved := make(plane.Polygon, len(p))
		for i, ring := range p {
			moved[i] = there(ring)
		}
		b.Missed = append(b.Missed, moved)
	}
	for _, o := range operations {
		for _, run := range o.Runs {
			for _, side := range [2]float64{1, -1} {
				b.Joins = append(b.Joins, there(beside(run.Pass.Line, side*o.Work.Credited()/2)))
			}
		}
	}
	return b, told, r.Findings, nil
}

// beside is a line so far to the left of another; at a bend by the way that leaves it.
func beside(line []plane.XY, left float64) []plane.XY {
	out := make([]plane.XY, 0, len(line))
	for i, p := range line {
		a, b := line[max(0, min(i, len(line)-2))], line[min(i+1, len(line)-1)]
		if way := b.Sub(a); way != (plane.XY{}) {
			out = append(out, p.Add(way.Unit().Left().Scale(left)))
		}
	}
	return out
}

// back plans going back now to what all operations missed, with the set of this one; nil: nothing was missed, or the set cannot be
// planned with.
func (o drivenAgain) back(ctx context.Context, res season.Result, missed []plane.Polygon) (*Rework, coverage.Result, error) {
	if o.set.TurnRadius() == 0 || len(res.Main().Strips) == 0 {
		return nil, coverage.Result{}, nil
	}
	left, err := o.leftBy(ctx, res, missed)
	if err != nil {
		return nil, left, err
	}
	how := leastOptions
	if o.gate != nil {
		at, err := gateOn(left.Local, left.Layers.Field, *o.gate)
		if err != nil {
			return nil, left, err
		}
		how.Gate = &at
	}
	p, err := workers.Until(ctx, func() (rework.Plan, error) { return rework.Of(ctx, left, o.set, how) })
	if err != nil {
		return nil, left, fmt.Errorf("going back to what operations missed: %w", err)
	}
	return reworkOf(p, left, o.set), left, nil
}

// backOf is a re-work plan in short.
func backOf(r *Rework) *Back {
	if r == nil {
		return nil
	}
	return &Back{Caught: r.Covered, Minutes: r.Time / 60, Strips: len(r.Chosen)}
}

// leftBy is this operation as a check has it, but for what was missed: that is what all of res that cut missed (season.Result.Main).
func (o drivenAgain) leftBy(ctx context.Context, res season.Result, missed []plane.Polygon) (coverage.Result, error) {
	r, err := workers.Until(ctx, func() (coverage.Result, error) { return coverage.Check(ctx, o.field, o.tracks, o.work) })
	if err != nil {
		return coverage.Result{}, err
	}
	t := res.Main()
	r.Strips, r.Patterns, r.Worth = nil, nil, nil
	for _, s := range t.Strips {
		r.Strips = append(r.Strips, coverage.Strip{Number: s.Number, Area: s.Area, Length: s.Length, MeanWidth: s.MeanWidth, MaxWidth: s.MaxWidth, Bearing: s.Bearing,
			At: s.At, Surety: s.Surety, Certain: s.Certain, Likely: s.Likely, Shape: s.Shape})
	}
	r.Balance.Missed, r.Slivers, r.SliverArea = t.Missed, t.Slivers, t.SliverArea
	r.Noise = coverage.Noise{Pieces: t.Possible, Area: t.PossibleArea}
	r.Layers.Missed = missed
	return r, nil
}

// drive reads all operations again, each on the field as the last of them found it.
func (r *SeasonReport) drive(ctx context.Context, f *farm.Farm, call *Call) (all []drivenAgain, operations []season.Operation, err error) {
	for i, o := range r.Operations {
		call.step("reading operation "+fmt.Sprint(o.Number), i, len(r.Operations)+1)
		end := call.within(i, len(r.Operations)+1)
		one, err := r.again(ctx, f, o.Operation, call)
		end()
		if ctx.Err() != nil {
			return nil, nil, ctx.Err()
		}
		if err == nil {
			r.Findings = append(r.Findings, one.findings...)
			all = append(all, one)
			continue
		}
		r.Findings = append(r.Findings, geo.Finding{File: r.Spec.Farm, Record: int(o.Number), What: fmt.Sprintf("operation %d is left out of what the operations did together: %v", o.Number, err), Lost: true})
	}
	if len(all) == 0 {
		return nil, nil, nil
	}
	r.on = all[len(all)-1].field
	local := r.on.Local()
	for _, one := range all {
		log, err := workers.Until(ctx, func() (drive.Log, error) {
			log, _, err := coverage.Driven(ctx, r.on.OnPlane(local), local, one.tracks, one.work)
			return log, err
		})
		if err != nil {
			return nil, nil, fmt.Errorf("operation %d: %w", one.Number, err)
		}
		op := season.Operation{Name: fmt.Sprint(one.Number), Runs: log.Runs, Work: one.work}
		for _, c := range one.Does {
			op.Does = append(op.Does, season.Component(c))
		}
		operations = append(operations, op)
	}
	return all, operations, nil
}

// AfterWords are what the plans catch of what was missed before, in sentences.
func (r CompareReport) AfterWords() (text []string) {
	l := r.Spec.Language
	if r.After == nil {
		return nil
	}
	var numbers []string
	for _, n := range r.After.Operations {
		numbers = append(numbers, fmt.Sprint(n))
	}
	text = append(text, l.Say("Missed so far, by all of the operations %s: %s.", strings.Join(numbers, ", "), answer.Area(l, r.After.Missed)))
	for i, c := range r.Candidates {
		p := c.Repair
		if p == nil || p.Total == 0 {
			continue
		}
		s := l.Say("Plan %d works %.0f %% of that in passing, %g m or more inside a pass", i+1, 100*p.Share(), plan.WellInside)
		if p.Slide > 0 {
			s += l.Say(", with rows that begin %.1f m before the interior, over the headland", p.Slide)
		}
		s += l.Say("; without regard to it %.0f %%, in %.2f h less", 100*p.Plainly/p.Total, p.Extra)
		if p.Joins > 0 {
			s += l.Say(". Of its joins %.0f %% fall on joins before, else %.0f %%", 100*p.OnOld/p.Joins, 100*p.PlainlyOn/p.PlainlyJoins)
		}
		text = append(text, s+".")
	}
	if b := r.After.Back; b != nil && r.After.Missed > 0 {
		text = append(text, b.words(l, r.After.Operations[len(r.After.Operations)-1], r.After.Missed))
	}
	return text
}

// words are what going back wins, with the set of an operation, of so much that was missed, m².
func (b *Back) words(l words.Language, set int64, missed float64) string {
	return l.Say("Going back now with the set of operation %d would work %.0f %% of it again, at %s in %.0f min.", set, 100*b.Caught/missed, l.Count(b.Strips, "strip"), b.Minutes)
}
