package job

import (
	"context"
	"errors"
	"fmt"
	"math"

	"balk/coverage"
	"balk/export/sheet"
	"balk/geo"
	"balk/geo/read"
)

// residualLimit is the share of the field by which a balance may miss before it
// is an error instead of a result.
const residualLimit = 1e-6

// Report is what became of a job. Areas are m², lengths m, places lon/lat.
type Report struct {
	Spec       Spec                  `json:"spec"`
	Field      FieldName             `json:"field"`
	Balance    coverage.Balance      `json:"balance"`    // at credited width
	FullMissed float64               `json:"fullMissed"` // m² missed at full working width: certainly untouched
	Credited   float64               `json:"creditedWidth"`
	Headland   coverage.HeadlandLoss `json:"headland,omitzero"`
	Strips     []coverage.Strip      `json:"strips"`
	Slivers    int                   `json:"slivers"`    // missed pieces too narrow to list ...
	SliverArea float64               `json:"sliverArea"` // ... and their m²
	Passes     []coverage.Pass       `json:"passes"`
	Fixes      int                   `json:"fixes"` // read
	Used       int                   `json:"used"`  // of them part of a pass
	Findings   []geo.Finding         `json:"findings"`
	Files      []string              `json:"files,omitempty"` // written, in order
	Table      sheet.Table           `json:"-"`               // the balance rounded for people
}

// FieldName tells which field of which file was checked.
type FieldName struct {
	Name   string `json:"name"`
	Number int    `json:"number"`
	File   string `json:"file"`
}

// Lost tells whether part of the input could not be used.
func (r Report) Lost() bool {
	for _, f := range r.Findings {
		if f.Lost {
			return true
		}
	}
	return false
}

// Progress is called as a job goes on: what is under way, and how far.
type Progress func(what string, done, of int)

// Run checks one operation on one field. A *WrongCall is the caller's fault;
// any other error means the job could not be done. On an error nothing is left
// in Spec.Out. Findings made before an error are in the report even then.
func Run(ctx context.Context, s Spec, progress Progress) (Report, error) {
	rep := Report{Spec: s, Strips: []coverage.Strip{}, Passes: []coverage.Pass{}, Findings: []geo.Finding{}}
	if progress == nil {
		progress = func(string, int, int) {}
	}
	if err := s.Validate(); err != nil {
		return rep, &WrongCall{err}
	}
	if err := s.guardInputs(); err != nil {
		return rep, err
	}
	steps := len(s.Tracks) + 2
	if s.Out != "" {
		steps++
	}
	progress("reading boundaries", 0, steps)
	fields, findings, err := read.Fields(s.Boundary, read.Options{Mend: s.Mend})
	rep.Findings = append(rep.Findings, findings...)
	if err != nil {
		return rep, sorted(err)
	}
	var field geo.Field
	if s.Field != "" || len(fields) == 1 {
		if field, err = choose(fields, s.Field, s.Boundary); err != nil {
			return rep, err
		}
	}
	var tracks []geo.Track
	for i, path := range s.Tracks {
		if err := ctx.Err(); err != nil {
			return rep, err
		}
		progress("reading "+path, 1+i, steps)
		t, findings, err := read.TracksWith(path, read.TrackOptions{Columns: s.Columns})
		rep.Findings = append(rep.Findings, findings...)
		if err != nil {
			return rep, sorted(err)
		}
		tracks = append(tracks, t...)
	}
	if field, tracks, err = rep.share(field, fields, tracks); err != nil {
		return rep, err
	}
	rep.Field = FieldName{field.Name, field.Number, s.Boundary}
	if err := swapped(field, tracks); err != nil {
		return rep, err
	}
	progress("working out the ground", 1+len(s.Tracks), steps)
	result, err := coverage.Check(ctx, field, tracks, s.Work)
	if err != nil {
		return rep, err
	}
	rep.take(result)
	if rep.Used == 0 {
		return rep, fmt.Errorf("no work found: 0 of %d fixes belong to a pass", rep.Fixes)
	}
	if b := rep.Balance; !(math.Abs(b.Residual) <= residualLimit*b.Field && math.Abs(b.SwathResidual) <= residualLimit*b.Field) {
		return rep, fmt.Errorf("the balance does not add up: field off by %.3g m², swaths by %.3g m² (limit %.3g m²)", b.Residual, b.SwathResidual, residualLimit*b.Field)
	}
	if s.Out != "" {
		progress("writing "+s.Out, 2+len(s.Tracks), steps)
		if err := rep.write(ctx, result); err != nil {
			return rep, err
		}
	}
	progress("done", steps, steps)
	return rep, nil
}

func (r *Report) take(c coverage.Result) {
	r.Balance, r.FullMissed, r.Headland = c.Balance, c.FullMissed, c.Headland
	r.Credited = c.Work.Width - c.Work.Overlap
	r.Strips = append(r.Strips, c.Strips...)
	r.Slivers, r.SliverArea = c.Slivers, c.SliverArea
	r.Passes = append(r.Passes, c.Passes...)
	r.Fixes, r.Used = c.Fixes, c.Used
	r.Findings = append(r.Findings, c.Findings...)
	r.Table = sheet.TableOf(c)
}

// sorted tells the readers' faults of the call from faults of the data.
func sorted(err error) error {
	var call *read.CallError
	if errors.As(err, &call) {
		return &WrongCall{err}
	}
	return err
}
