package batch

import (
	"cmp"
	"context"
	"encoding/json"
	"io"
	"iter"
	"slices"
	"time"

	"balk/cmd/internal/folder"
	"balk/cmd/internal/job"
	"balk/export/vector"
	"balk/geo"

	"github.com/paulmach/orb"
)

// Report is what became of a batch.
type Report struct {
	Program  string        `json:"program"` // balk and its version
	Form     int           `json:"schema"`  // version of the form of reports
	Spec     Spec          `json:"spec"`
	Logs     int           `json:"logs"`     // with driving on fields
	NoLogs   []Fault       `json:"noLogs"`   // files that hold something else
	Faults   []Fault       `json:"failures"` // logs and operations that could not be judged
	Lost     []Fault       `json:"lost"`     // what could not be used of logs that were judged
	Totals   Totals        `json:"totals"`
	Findings []geo.Finding `json:"findings"` // on the boundaries
	job.Placed
}

// JSON writes the report.
func (r Report) JSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(r)
}

// The files of a batch beside its report.
const (
	tableFile    = "results.csv"
	packageFile  = "results.gpkg"
	totalsFile   = "totals.csv"
	failuresFile = "failures.csv"
	wearFile     = "wear.csv"
)

// Fill puts together what came of logs and tasks, and fills the folder of the Spec where it names one. rows come by field, begin, key and
// part, with their boundaries.
func (rep *Report) Fill(ctx context.Context, spec Spec, surveys []Survey, rows iter.Seq2[Row, error], say func(string)) error {
	rep.Program, rep.Form, rep.Spec = job.Program(), job.Form, spec
	rep.NoLogs, rep.Lost, rep.Faults = []Fault{}, []Fault{}, append([]Fault{}, rep.Faults...)
	if rep.Findings == nil {
		rep.Findings = []geo.Finding{}
	}
	for _, s := range surveys {
		switch {
		case s.State == NoLog:
			rep.NoLogs = append(rep.NoLogs, *s.Fault)
		case s.Fault != nil:
			rep.Faults = append(rep.Faults, *s.Fault)
		default:
			rep.Logs++
		}
	}
	layer, missed := tableOf(), stripsTable()
	var last time.Time // of what was driven: the same results give the same bytes
	for r, err := range rows {
		if err != nil {
			return err
		}
		if r.End.After(last) {
			last = r.End
		}
		rep.Totals.Add(r)
		rep.Lost = append(rep.Lost, r.Lost...)
		if r.State == Failed {
			rep.Faults = append(rep.Faults, *r.Fault)
		}
		layer.Features = append(layer.Features, vector.Feature{Geometry: r.Boundary, Row: r.cells()})
		for _, s := range r.Missing {
			missed.Features = append(missed.Features, vector.Feature{Geometry: s.Shape, Row: []any{r.Key, r.Part, r.Field, r.cells()[1], s.Number, s.Area, s.Length, s.MeanWidth, s.MaxWidth, s.Bearing, s.Cause, s.Surety, s.Certain, s.Likely, s.Headland}})
		}
	}
	rep.Totals.Done()
	for _, list := range [][]Fault{rep.NoLogs, rep.Faults, rep.Lost} {
		slices.SortFunc(list, func(a, b Fault) int {
			return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Record, b.Record), cmp.Compare(a.What, b.What))
		})
	}
	if spec.Out == "" {
		return nil
	}
	layer, missed = vector.Marked(layer), vector.Marked(missed)
	csv := func(l vector.Layer) func(io.Writer) error {
		return func(w io.Writer) error { return vector.WriteCSV(w, l, vector.CSV{}) }
	}
	result := folder.Result{Verb: "batch", Files: []folder.File{
		{Name: tableFile, Write: csv(layer)},
		{Name: packageFile, Place: func(ctx context.Context, path string) error {
			return vector.WriteGeoPackage(ctx, path, []vector.Layer{layer, missed}, last)
		}},
		{Name: totalsFile, Write: csv(rep.Totals.layer())},
		{Name: failuresFile, Write: csv(failures(rep))},
		{Name: wearFile, Write: csv(rep.Totals.wear())},
	}, Report: func(w io.Writer, m folder.Manifest) error {
		rep.Files, rep.Folder = m.Paths(spec.Out), &m
		return rep.JSON(w)
	}}
	_, err := folder.Fill(ctx, spec.Out, result, say)
	return err
}

// tableOf is the layer of the results, without its features.
func tableOf() vector.Layer {
	word := func(name, title string) vector.Property {
		return vector.Property{Name: name, Title: title, Holds: vector.Words}
	}
	whole := func(name, title string) vector.Property {
		return vector.Property{Name: name, Title: title, Holds: vector.Whole}
	}
	number := func(name, title, unit string, decimals int) vector.Property {
		return vector.Property{Name: name, Title: title, Unit: unit, Holds: vector.Number, Decimals: decimals}
	}
	return vector.Layer{Name: "operations", Title: "operations", Kind: vector.Areas, Label: "field_name", Columns: []vector.Property{
		whole("field", "field"), word("field_name", "name of the field"), word("farm", "farm"), word("set", "set"), word("driver", "driver"), word("machine", "machine"),
		{Name: "begin", Title: "begin", Holds: vector.Instant}, {Name: "end", Title: "end", Holds: vector.Instant}, word("days", "days"), word("state", "state"),
		number("area_m2", "area", "m²", 1), number("worked_m2", "worked", "m²", 1), number("double_m2", "worked twice or more", "m²", 1), number("missed_m2", "missed", "m²", 1),
		number("unknown_m2", "unknown", "m²", 1), number("outside_m2", "outside", "m²", 1), whole("strips", "missed strips"),
		number("work_m", "way at work", "m", 0), number("time_s", "time on the field", "s", 0), number("fuel_l", "fuel", "l", 1),
		word("answer", "answer"), whole("lost", "times that something was lost"), word("fault_file", "file of the fault"), whole("fault_record", "record of the fault"), word("fault", "fault"),
		{Name: "logs", Title: "logs", Holds: vector.Words, Listed: true}, word("program", "program"), word("key", "key"), whole("part", "part"),
	}}
}

// stripsTable is the layer of missed strips, without its features.
func stripsTable() vector.Layer {
	number := func(name, title, unit string, decimals int) vector.Property {
		return vector.Property{Name: name, Title: title, Unit: unit, Holds: vector.Number, Decimals: decimals}
	}
	return vector.Layer{Name: "strips", Title: "missed strips", Kind: vector.Areas, Label: "cause", Columns: []vector.Property{
		{Name: "key", Title: "key of the operation", Holds: vector.Words}, {Name: "part", Title: "part", Holds: vector.Whole},
		{Name: "field", Title: "field", Holds: vector.Whole}, {Name: "field_name", Title: "name of the field", Holds: vector.Words}, {Name: "strip", Title: "strip", Holds: vector.Whole},
		number("area_m2", "area", "m²", 2), number("length_m", "length", "m", 2), number("mean_width_m", "mean width", "m", 3), number("max_width_m", "greatest width", "m", 3),
		number("bearing_deg", "bearing from true north", "°", 1), {Name: "cause", Title: "likely cause", Holds: vector.Words}, {Name: "surety", Title: "surety", Holds: vector.Words},
		number("certain_m2", "certainly missed", "m²", 2), number("likely_m2", "likely missed, certain included", "m²", 2), {Name: "headland", Title: "in the headland", Holds: vector.Truth},
	}}
}

// cells are the values of a row in the columns of tableOf.
func (r Row) cells() []any {
	text := func(s string) any {
		if s == "" {
			return nil
		}
		return s
	}
	at := func(t time.Time) any {
		if t.IsZero() {
			return nil
		}
		return t
	}
	n := func(v float64) any {
		if r.State != Judged {
			return nil
		}
		return v
	}
	var strips any
	if r.State == Judged {
		strips = r.Strips
	}
	var file, record, what any
	if f := r.Fault; f != nil {
		file, what = text(f.File), text(f.What)
		if f.Record > 0 {
			record = f.Record
		}
	}
	return []any{r.Field, text(r.FieldName), text(r.Farm), text(r.Set), text(r.Driver), text(r.Machine), at(r.Begin), at(r.End), text(r.Days), string(r.State),
		n(r.Area), n(r.Worked), n(r.Double), n(r.Missed), n(r.Unknown), n(r.Outside), strips, n(r.Metres), n(r.Seconds), n(r.Litres),
		text(r.Answer), len(r.Lost), file, record, what, text(joined(slices.Clone(r.Logs))), r.Program, r.Key, r.Part}
}

// nowhere is the place of what has none, in layers that are written as tables only.
var nowhere = orb.Point{}

// layer are the totals as a table.
func (t *Totals) layer() vector.Layer {
	l := vector.Layer{Name: "totals", Kind: vector.Points, Columns: []vector.Property{{Name: "by", Holds: vector.Words}, {Name: "name", Holds: vector.Words}, {Name: "fields", Holds: vector.Whole}, {Name: "operations", Holds: vector.Whole}, {Name: "failed", Holds: vector.Whole}}}
	for _, name := range []string{"area_ha", "worked_ha", "double_ha", "missed_ha", "unknown_ha", "work_km", "time_h", "fuel_l"} {
		l.Columns = append(l.Columns, vector.Property{Name: name, Holds: vector.Number, Decimals: 4})
	}
	add := func(by, name string, s job.Total) {
		l.Features = append(l.Features, vector.Feature{Geometry: nowhere, Row: []any{by, name, s.Fields, s.Operations, s.Failed,
			s.Area / 1e4, s.Worked / 1e4, s.Double / 1e4, s.Missed / 1e4, s.Unknown / 1e4, s.Metres / 1e3, s.Seconds / 3600, s.Litres}})
	}
	add("all", "", t.All)
	for i, list := range [][]Named{t.Farms, t.Sets, t.Drivers, t.Months} {
		for _, one := range list {
			add(kinds[i], one.Name, one.Total)
		}
	}
	for _, f := range t.Worst {
		add("field", f.Name, f.Total)
	}
	return l
}

// wear is how far the sweeps of each set went in the ground, as a table, a line for each.
func (t *Totals) wear() vector.Layer {
	l := vector.Layer{Name: "wear", Kind: vector.Points, Columns: []vector.Property{{Name: "set", Holds: vector.Words}, {Name: "operations", Holds: vector.Whole}, {Name: "sweep", Holds: vector.Whole},
		{Name: "cut_km", Holds: vector.Number, Decimals: 3}, {Name: "life_percent", Holds: vector.Number, Decimals: 2}}}
	for _, w := range t.Wear {
		for k, metres := range w.Cutting {
			var share any
			if w.Life > 0 {
				share = metres / 10 / w.Life
			}
			l.Features = append(l.Features, vector.Feature{Geometry: nowhere, Row: []any{w.Set, w.Operations, k + 1, metres / 1e3, share}})
		}
	}
	return l
}

// failures are what could not be judged or used, as a table.
func failures(r *Report) vector.Layer {
	l := vector.Layer{Name: "failures", Kind: vector.Points, Columns: []vector.Property{{Name: "state", Holds: vector.Words}, {Name: "file", Holds: vector.Words}, {Name: "record", Holds: vector.Whole}, {Name: "reason", Holds: vector.Words}}}
	for _, list := range []struct {
		state  string
		faults []Fault
	}{{string(Failed), r.Faults}, {"lost", r.Lost}, {string(NoLog), r.NoLogs}} {
		for _, f := range list.faults {
			var record any
			if f.Record > 0 {
				record = f.Record
			}
			l.Features = append(l.Features, vector.Feature{Geometry: nowhere, Row: []any{list.state, f.File, record, f.What}})
		}
	}
	return l
}
