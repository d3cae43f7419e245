package job

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"time"

	"balk/cmd/internal/farm"
	"balk/coverage"
	"balk/geo"
)

// Opened is what the files of a spec hold, read once, to be judged as often as somebody supposes another width or mount.
type Opened struct {
	in       inputs
	findings []geo.Finding
}

// Open reads what s names. Errors as Run.
func Open(ctx context.Context, s Spec, call *Call) (*Opened, error) {
	if err := s.Validate(); err != nil {
		return nil, &WrongCall{err}
	}
	rep := Report{Spec: s}
	in, err := rep.inputs(ctx, call.ready())
	return &Opened{in, rep.Findings}, err
}

// Parts are specs like s, one for each operation on each field that the logs are of, as Each takes them.
func (o *Opened) Parts(s Spec) []Spec {
	whole := Report{Spec: s}
	parts, _ := whole.parts(o.in)
	var out []Spec
	for _, part := range parts {
		s := s
		if len(parts) > 1 {
			s.Field = strconv.Itoa(part.field.Number)
		}
		one := Report{Spec: s}
		_, err := one.operation(part.field, one.clean(part.tracks))
		if more, again := errors.AsType[*several](err); again {
			s.inTurn = true
			for _, s.Days = range more.days {
				out = append(out, s)
			}
			continue
		}
		out = append(out, s)
	}
	return out
}

// Nowhere is the error of logs of which there are no parts.
func (o *Opened) Nowhere() error { return o.in.nowhere() }

// Correct puts a correction of a field, by its number in the file, into the farm in a folder, which is made if there is none.
func (o *Opened) Correct(ctx context.Context, dir string, field int, c farm.Correction) (number int64, err error) {
	at := slices.IndexFunc(o.in.fields, func(f geo.Field) bool { return f.Number == field })
	if at < 0 {
		return 0, fmt.Errorf("field %d: there is none", field)
	}
	f, err := farm.OpenToChange(ctx, dir)
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	on := o.in.fields[at]
	return f.CorrectOn(ctx, farm.Field{Name: on.Name, Frame: on.Frame, Boundary: on.Boundary}, c)
}

// Corrections are those that the farm of a spec has for a field.
func (s Spec) Corrections(ctx context.Context, field string) ([]farm.Correction, error) {
	return s.corrections(ctx, geo.Field{Name: field})
}

// Withdraw takes a correction back.
func Withdraw(ctx context.Context, dir string, number int64, now time.Time) (err error) {
	f, err := farm.OpenToChange(ctx, dir)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	return f.Withdraw(ctx, number, now)
}

// Judge is Run without its files, and with what was read already: s names the same files as the spec they were opened by. In haste it
// leaves out what going back wins, which takes longest.
func (o *Opened) Judge(ctx context.Context, s Spec, haste bool, call *Call) (Report, coverage.Result, error) {
	call, in := call.ready(), o.in
	in.hasty = haste
	if s.Field != "" {
		var err error
		if in.field, err = choose(in.fields, s.Field, s.Boundary); err != nil {
			return Report{Spec: s}, coverage.Result{}, err
		}
	}
	rep, result, err := judge(ctx, s, &in, nil, call)
	rep.Findings = slices.Concat(o.findings, rep.Findings)
	if err == nil {
		call.step("done", s.steps(), s.steps())
	}
	return rep, result, err
}

// WithWorth adds what going back wins to what was judged in haste, which comes to the same as without.
func (r Report) WithWorth(ctx context.Context, c coverage.Result, call *Call) (Report, coverage.Result, error) {
	call = call.ready()
	if err := r.worth(ctx, &c, call); err != nil {
		return r, c, err
	}
	r.say(c)
	r.Worth = c.Worth
	call.step("done", r.Spec.steps(), r.Spec.steps())
	return r, c, nil
}
