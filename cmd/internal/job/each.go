package job

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"balk/cmd/internal/farm"
	"balk/export/answer"
	"balk/geo"
)

// EachReport is what became of all that was driven, each field and operation by itself.
type EachReport struct {
	Operations []Judged      `json:"operations"` // by field, as the file has them, and time
	Total      Total         `json:"total"`      // of those that could be judged
	Told       Told          `json:"told"`       // what those of them missed whose logs tell it
	Findings   []geo.Finding `json:"findings"`   // on the files as a whole; those on one operation stand in its report
	Placed
	first  error             // of the operations that could not be judged
	fields map[int]geo.Field // worked on, by their numbers
}

// Judged is one operation on one field.
type Judged struct {
	Field  FieldName `json:"field"`
	Days   string    `json:"days,omitempty"`   // "" = all that was driven on it
	Folder string    `json:"folder,omitempty"` // of its files
	Report *Report   `json:"report,omitempty"`
	Error  string    `json:"error,omitempty"`  // why there is no report
	Why    error     `json:"-"`                // that, as it came
	NoWork bool      `json:"noWork,omitempty"` // the set only drove over it
	Logs   []string  `json:"-"`                // of Spec.Tracks, those that it was driven in; nil = not known
}

// logsOf are of those named the logs that tracks were read from.
func logsOf(tracks []geo.Track, named []string) []string {
	var one []geo.Track // of each file
	for _, t := range tracks {
		if !slices.ContainsFunc(one, func(o geo.Track) bool { return o.Source == t.Source }) {
			one = append(one, geo.Track{Source: t.Source})
		}
	}
	return originals(one, named)
}

// Total adds up operations. Areas are m².
type Total struct {
	Fields     int `json:"fields"`
	Operations int `json:"operations"`
	Failed     int `json:"failed"` // operations that could not be judged, and are in none of the sums
	farm.Sum
}

// Told is what operations missed whose logs tell it, and of which nothing is to be settled first.
type Told struct {
	Operations int        `json:"operations"`
	Missed     [2]float64 `json:"missed"` // m², the least and the most, as if all were least or most at once
}

func (t *Told) add(s answer.Short) {
	if s.Tells {
		t.Operations++
		t.Missed[0] += s.Range[0]
		t.Missed[1] += s.Range[1]
	}
}

// Add adds an operation.
func (t *Total) Add(s farm.Sum) {
	t.Operations++
	t.Sum.Add(s)
}

// JSON writes the report.
func (r EachReport) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		EachReport
	}{madeBy(), r})
}

// Lost tells whether part of the input could not be used.
func (r EachReport) Lost() bool {
	return r.Total.Failed > 0 || Lost(r.Findings) || slices.ContainsFunc(r.Operations, func(o Judged) bool { return o.Report != nil && o.Report.Lost() })
}

// Each checks what was driven on every field of the file, each operation on each field by itself: the trouble of one stops no other.
// Where it is only one, it is judged as Run does. Errors as Run; that all failed is one.
func Each(ctx context.Context, s Spec, call *Call) (EachReport, error) {
	call = call.ready()
	rep := EachReport{Operations: []Judged{}, Findings: []geo.Finding{}}
	if err := s.Validate(); err != nil {
		return rep, &WrongCall{err}
	}
	read := Report{Spec: s}
	in, err := read.inputs(ctx, call)
	rep.Findings = append(rep.Findings, read.Findings...)
	if err != nil {
		return rep, err
	}
	parts, elsewhere := read.parts(in)
	if elsewhere != nil && len(parts) > 0 { // else the error says so
		rep.Findings = append(rep.Findings, *elsewhere)
	}
	only, steps := len(parts) == 1, len(parts)
	if only {
		steps = s.steps()
	}
	for i, part := range parts {
		end := func() {}
		if !only {
			call.step("checking "+FieldName{Name: part.field.Name}.Shown(), i, steps)
			end = call.within(i, steps)
		}
		err := rep.judge(ctx, s, part, only, call)
		if end(); err != nil {
			return rep, err
		}
	}
	call.step("done", steps, steps)
	if rep.Total.Operations == 0 {
		if rep.first != nil {
			return rep, rep.first
		}
		return rep, in.nowhere()
	}
	if s.Out != "" && rep.Operations[0].Folder != s.Out {
		err = call.fill(ctx, s.Out, "check", nil, &rep.Placed, func(w io.Writer) error { return rep.JSON(w) })
	}
	return rep, err
}

// parts shares tracks out among fields: those worked on, each with what was driven there.
func (r *Report) parts(in inputs) (parts []inputs, elsewhere *geo.Finding) {
	if in.field.Boundary != nil || len(in.fields) == 1 {
		return []inputs{in}, nil // judging it shares
	}
	on, nowhere := r.shares(in.fields, in.tracks)
	of := make([][]geo.Track, len(in.fields))
	for i, t := range in.tracks {
		seen := map[int]bool{geo.Nowhere: true}
		for _, f := range on[i] {
			if !seen[f] {
				seen[f] = true
				of[f] = append(of[f], t.Cut(func(k int) bool { return on[i][k] == f }, true))
			}
		}
	}
	for f, tracks := range of {
		if len(tracks) > 0 {
			parts = append(parts, inputs{field: in.fields[f], fields: in.fields[f : f+1], tracks: tracks, patches: in.patches})
		}
	}
	if nowhere > 0 {
		elsewhere = &geo.Finding{File: sources(in.tracks), What: fmt.Sprintf("%d fixes were driven on the way between fields: left out", nowhere)}
	}
	return parts, elsewhere
}

// judge judges what was driven on one field; only: it is the only one. Error: the call was ended, or its folder cannot be used.
func (r *EachReport) judge(ctx context.Context, s Spec, in inputs, only bool, call *Call) error {
	if in.field.Boundary != nil {
		s.Field = strconv.Itoa(in.field.Number)
	}
	s.Tracks = originals(in.tracks, s.Tracks)
	if r.fields == nil {
		r.fields = map[int]geo.Field{}
	}
	r.fields[in.field.Number] = in.field
	out := s.Out
	if !only && out != "" {
		s.Out = filepath.Join(out, fmt.Sprintf("field-%d", in.field.Number))
	}
	rep, err := run(ctx, s, &in, call)
	more, again := errors.AsType[*several](err)
	if !again {
		return r.add(ctx, rep, err)
	}
	s.inTurn = true
	for _, s.Days = range more.days {
		if out != "" {
			form := time.DateOnly
			if day := 24 * time.Hour; !s.Days.From.Equal(s.Days.From.Truncate(day)) {
				form = "2006-01-02-1504"
			}
			s.Out = filepath.Join(out, fmt.Sprintf("field-%d-%s", in.field.Number, s.Days.From.Format(form)))
		}
		rep, err := run(ctx, s, &in, call)
		if err := r.add(ctx, rep, err); err != nil {
			return err
		}
	}
	return nil
}

// add takes the report of one operation, or why there is none. Error: there is no use in going on.
func (r *EachReport) add(ctx context.Context, rep Report, err error) error {
	one := Judged{Field: rep.Field, Days: rep.Spec.Days.String(), Logs: rep.logs}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		_, one.NoWork = errors.AsType[*noWork](err)
		one.Error, one.Why = err.Error(), err
		r.first = cmp.Or(r.first, err)
		if !one.NoWork {
			r.Total.Failed++
		}
		r.Operations = append(r.Operations, one)
		return nil
	}
	one.Report, one.Folder = &rep, rep.Spec.Out
	if one.Days == "" && len(rep.Passes) > 0 {
		if first, last := rep.Passes[0].From, rep.Passes[len(rep.Passes)-1].To; geo.Dated(first) && geo.Dated(last) {
			one.Days = Days{first.Truncate(24 * time.Hour), last.Truncate(24*time.Hour).AddDate(0, 0, 1)}.String()
		}
	}
	if !slices.ContainsFunc(r.Operations, func(o Judged) bool { return o.Report != nil && o.Field == rep.Field }) {
		r.Total.Fields++
	}
	r.Operations = append(r.Operations, one)
	r.Total.Add(rep.Sum())
	r.Told.add(rep.Short())
	return nil
}
