package job

import (
	"context"
	"errors"
	"io"
	"slices"
	"time"

	"balk/cmd/internal/farm"
	"balk/export/sheet"
	"balk/geo"
)

// seasonSheetFile is the season sheet in a result folder.
const seasonSheetFile = "season.pdf"

// SeasonSheet says of which fields of a farm the season is printed.
type SeasonSheet struct {
	SeasonShow          // but for Field; Out is required
	Fields     []string `json:"fields,omitempty"` // as SeasonShow.Field; none: all that have operations
}

// SeasonSheetReport is what was printed.
type SeasonSheetReport struct {
	Spec     SeasonSheet   `json:"spec"`
	Fields   []farm.Field  `json:"fields"` // each on a page, or more where it has much
	Findings []geo.Finding `json:"findings"`
	Placed
}

// JSON writes the report.
func (r SeasonSheetReport) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SeasonSheetReport
	}{madeBy(), r})
}

// SheetSeason prints fields of a farm over their operations, each on a page of its own.
func SheetSeason(ctx context.Context, s SeasonSheet, now time.Time, call *Call) (rep SeasonSheetReport, err error) {
	call = call.ready()
	rep = SeasonSheetReport{Spec: s, Fields: []farm.Field{}, Findings: []geo.Finding{}}
	if s.Out == "" {
		return rep, wrong("no folder for the sheet named (--out)")
	}
	if err := s.settle(now); err != nil {
		return rep, err
	}
	rep.Spec = s
	page, err := s.page()
	if err != nil {
		return rep, &WrongCall{err}
	}
	if err := call.guard(ctx, s.Out, targets{sure: []string{reportFile, seasonSheetFile}}); err != nil {
		return rep, err
	}
	f, err := farm.Open(ctx, s.Farm)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	named := len(s.Fields) > 0
	if !named {
		all, err := f.Fields(ctx)
		if err != nil {
			return rep, err
		}
		for _, one := range all {
			s.Fields = append(s.Fields, one.Name)
		}
	}
	var pages []sheet.SeasonField
	for _, name := range s.Fields {
		one := s.SeasonShow
		one.Field = name
		r, err := showField(ctx, f, one, true, call)
		if rep.Findings = append(rep.Findings, r.Findings...); err != nil {
			return rep, err
		}
		if r.Across == nil {
			if named {
				rep.Findings = append(rep.Findings, geo.Finding{File: s.Farm, What: "field " + geo.Shown(r.Field.Name) + " has no page: no operation on it could be read", Lost: true})
			}
			continue
		}
		rep.Fields, pages = append(rep.Fields, r.Field), append(pages, r.sheet())
	}
	if len(pages) == 0 {
		return rep, wrong("%s: nothing to print: no operation of these fields could be read", s.Farm)
	}
	return rep, call.fill(ctx, s.Out, "season sheet", []output{{name: seasonSheetFile, write: func(w io.Writer) error { return sheet.SeasonPDF(ctx, w, pages, page) }}},
		&rep.Placed, func(w io.Writer) error { return rep.JSON(w) })
}

// sheet is the field as the season sheet wants it.
func (r *SeasonReport) sheet() sheet.SeasonField {
	l := r.Spec.Language
	f := sheet.SeasonField{Field: r.on, Official: r.Field.Official, Ground: r.on.OnPlane(r.Across.Local), Day: r.Spec.Day, Result: r.Across.Result, Together: r.Across.Words(l)}
	for _, o := range r.Operations {
		one := sheet.SeasonOperation{Number: o.Number, At: slices.Index(r.Across.Numbers, o.Number), Begin: o.Begin, Does: o.Does, Set: o.Set, Depth: o.DepthSet, Area: o.Area, Missed: o.Missed}
		if o.Weather != nil {
			one.Weather = o.Weather.Words(l)
		}
		f.Operations = append(f.Operations, one)
	}
	if r.Due != nil {
		f.Due = r.Due.Words(l)
	}
	f.Weather, f.Seen, f.Wear = r.days(), r.SpotWords(), r.WearWords()
	for _, s := range r.Spots {
		against := map[int]bool{}
		for _, a := range s.Found.Against {
			against[a.Check] = true
		}
		for k, c := range s.Checks {
			if c.At != nil {
				f.Checks = append(f.Checks, sheet.SeasonCheck{At: *c.At, Cut: cutOf(c), Against: against[k]})
			}
		}
	}
	return f
}

// cutOf says whether anything was left standing at a place.
func cutOf(c geo.SpotCheck) geo.Yes {
	if len(c.Ribs) > 0 {
		return geo.NotSo
	}
	return c.Cut
}

// days are the days of the station's log that are read whole, from some before the first operation to the day asked for.
func (r *SeasonReport) days() (out []sheet.SeasonDay) {
	if r.station.file == "" {
		return nil
	}
	zone, err := zoneOf("paper", r.Spec.Zone)
	if err != nil || zone == nil {
		zone = time.UTC
	}
	from := r.Spec.Day
	for _, o := range r.Operations {
		if !o.Begin.IsZero() && o.Begin.Before(from) {
			from = o.Begin
		}
	}
	const before = 3 // days: rain that the ground may still have held
	from = from.In(zone).AddDate(0, 0, -before)
	for d := time.Date(from.Year(), from.Month(), from.Day(), 0, 0, 0, 0, zone); !d.After(r.Spec.Day) && d.Unix() < r.station.end; d = d.AddDate(0, 0, 1) {
		next := d.AddDate(0, 0, 1)
		if sum := r.station.After(d.Unix(), next.Unix(), r.station.least); sum.Until == next.Unix() && sum.Holes == 0 {
			out = append(out, sheet.SeasonDay{Day: d, Rain: sum.Rain, Demand: sum.Demand})
		}
	}
	return out
}
