package batch

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"balk/cmd/internal/farm"
	"balk/cmd/internal/job"
	"balk/coverage"
	"balk/export/vector"
	"balk/geo"
	"balk/geo/read"

	"github.com/paulmach/orb"
)

// State is what became of a log or an operation.
type State string

const (
	Judged State = "judged"
	NoWork State = "no work" // the set only drove over the field
	NoLog  State = "no log"  // the file holds something else
	Failed State = "failed"
)

// Fault is why something could not be judged, or what of it was lost.
type Fault struct {
	File   string `json:"file"`
	Record int    `json:"record,omitempty"` // from 1; 0 = the whole file
	What   string `json:"what"`
}

// Row is what came of one operation on one field: a line of the table of results. Areas are m².
type Row struct {
	Key       string `json:"key"`  // of its task
	Part      int    `json:"part"` // which operation of the task, from 1
	State     State  `json:"state"`
	Field     int    `json:"field"` // its number in the file of boundaries
	FieldName string `json:"fieldName"`
	Farm      string `json:"farm,omitempty"`
	Set       string `json:"set"` // its name, or that of its file
	Driver    string `json:"driver,omitempty"`
	Machine   string `json:"machine,omitempty"`
	Days      string `json:"days,omitempty"`
	// Begin and End are those of the first and last pass; zero where the log has no times.
	Begin time.Time `json:"begin,omitzero"`
	End   time.Time `json:"end,omitzero"`
	Logs  []string  `json:"logs"` // by name
	farm.Sum
	Outside float64       `json:"outside"`
	Strips  int           `json:"strips"`            // missed strips listed
	Missing []Strip       `json:"missing,omitempty"` // they
	Wear    []job.SetWear `json:"wear,omitempty"`    // how far the sweeps of the set went, of each of its bars that has any
	Answer  string        `json:"answer,omitempty"`
	Fault   *Fault        `json:"fault,omitempty"` // why it has no figures
	Lost    []Fault       `json:"lost,omitempty"`  // what of the logs could not be used
	Program string        `json:"program"`         // balk and its version
	Form    int           `json:"form"`            // version of the form of reports
	Took    float64       `json:"took,omitempty"`  // s; no other member depends on when or where it was worked out

	Boundary orb.MultiPolygon `json:"-"` // of the field, degrees on WGS84
}

// Strip is a missed strip, as the layer "missed" of a check has it: m and m².
type Strip struct {
	Number    int              `json:"number"` // 1 = largest
	Area      float64          `json:"area"`
	Length    float64          `json:"length"`
	MeanWidth float64          `json:"mean_width"`
	MaxWidth  float64          `json:"max_width"`
	Bearing   float64          `json:"bearing"` // of its long axis, degrees from true north
	Cause     string           `json:"cause"`
	Surety    string           `json:"surety"`
	Certain   float64          `json:"certain"` // of its area
	Likely    float64          `json:"likely"`
	Headland  bool             `json:"headland"`
	Shape     orb.MultiPolygon `json:"shape"` // degrees on WGS84
}

// stripsOf are those of a report, without any whose shape is smaller than files can hold.
func stripsOf(rep *job.Report) (all []Strip, err error) {
	l, err := vector.Strips(rep.Local, rep.Strips)
	if err != nil {
		return nil, err
	}
	at := map[int]coverage.Strip{}
	for _, s := range rep.Strips {
		at[s.Number] = s
	}
	number := slices.IndexFunc(l.Columns, func(p vector.Property) bool { return p.Name == "strip" })
	for _, f := range l.Features {
		n, _ := f.Row[number].(int)
		s := at[n]
		one := Strip{s.Number, s.Area, s.Length, s.MeanWidth, s.MaxWidth, float64(s.Bearing), string(s.Cause), string(s.Surety), s.Certain, s.Likely, s.Headland, nil}
		switch g := f.Geometry.(type) {
		case orb.Polygon:
			one.Shape = orb.MultiPolygon{g}
		case orb.MultiPolygon:
			one.Shape = g
		}
		all = append(all, one)
	}
	return all, nil
}

// plain is a row whose texts any store can hold: UTF-8 throughout, without NUL.
func (r Row) plain() Row {
	texts := []*string{&r.FieldName, &r.Farm, &r.Set, &r.Driver, &r.Machine, &r.Days, &r.Answer}
	for i := range r.Logs {
		texts = append(texts, &r.Logs[i])
	}
	faults := []*Fault{r.Fault}
	for i := range r.Lost {
		faults = append(faults, &r.Lost[i])
	}
	for _, f := range faults {
		if f != nil {
			texts = append(texts, &f.File, &f.What)
		}
	}
	for _, t := range texts {
		*t = strings.ToValidUTF8(strings.ReplaceAll(*t, "\x00", "\uFFFD"), "\uFFFD")
	}
	return r
}

// Month is that in which an operation began; "" = not known.
func (r Row) Month() string {
	if r.Begin.IsZero() {
		return ""
	}
	return r.Begin.Format("2006-01")
}

// Kept is what is kept of logs that were looked at before.
type Kept interface {
	// Surveyed gives what was kept of a log under a key.
	Surveyed(ctx context.Context, key string) (s Survey, is bool, err error)
	KeepSurvey(ctx context.Context, key string, s Survey) error
}

// Status is how far a run is.
type Status struct {
	Batch      int64   `json:"batch,omitempty"` // its number in a database
	Logs       int     `json:"logs"`
	Looked     int     `json:"looked"`     // of them were looked at; when all are, it is known which tasks there are
	LogsFailed int     `json:"logsFailed"` // of these
	Tasks      int     `json:"tasks"`
	Done       int     `json:"done"`    // of them
	Failed     int     `json:"failed"`  // operations of these
	Running    bool    `json:"running"` // somebody is at work, or there is work in a queue
	Workers    int     `json:"workers,omitempty"`
	GivenUp    int     `json:"givenUp,omitempty"` // bundles of a queue that were tried too often, or cancelled
	Why        string  `json:"why,omitempty"`     // the last reason
	Rate       float64 `json:"rate,omitempty"`    // tasks a second
	Left       float64 `json:"left,omitempty"`    // s at that rate; 0 = not known
}

// Progress is how far a step of a run is.
type Progress struct {
	What     string
	Done, Of int
	Since    time.Duration // the step began
	Rate     float64       // a second; 0 = Done in Since
}

// Message is a line of JSON from the program that works a batch to the one that asked: how far the work is, what is odd, or why it ended.
type Message struct {
	Progress *Progress `json:"progress,omitempty"`
	Say      string    `json:"say,omitempty"`
	Error    string    `json:"error,omitempty"`
}

// faultOf is why something could not be done, with the file and record where the error names them. names are those of logs by the paths
// at which they were read, which say nothing to others.
func faultOf(err error, names map[string]string) *Fault {
	f := &Fault{What: named(err.Error(), names), File: strings.Join(slices.Sorted(maps.Values(names)), ", ")}
	if fault, ok := errors.AsType[*read.FileError](err); ok {
		f.File, f.Record = named(fault.File, names), fault.Record
	}
	where := f.File
	if f.Record > 0 {
		where += fmt.Sprintf(", record %d", f.Record)
	}
	if rest, is := strings.CutPrefix(f.What, where); is { // they stand in front already
		f.What = strings.TrimLeft(rest, ",: ")
	}
	return f
}

// named is a text with the names of logs in the place of their paths, the longest first. A log that could not be brought has none.
func named(text string, names map[string]string) string {
	paths := slices.SortedFunc(maps.Keys(names), func(a, b string) int { return len(b) - len(a) })
	for _, path := range paths {
		if path != "" {
			text = strings.ReplaceAll(text, path, names[path])
		}
	}
	return text
}

// rowsOf are those of the operations of a task.
func (b *Batch) rowsOf(t Task, rep job.EachReport, names map[string]string) (rows []Row) {
	for i, o := range rep.Operations {
		r := b.blank(t.in(o.Logs, names))
		r.Part, r.Days = i+1, o.Days
		switch {
		case o.NoWork:
			r.State = NoWork
			r.Fault = faultOf(o.Why, names)
		case o.Report == nil:
			r.State = Failed
			r.Fault = faultOf(o.Why, names)
		default:
			var err error
			if r.Missing, err = stripsOf(o.Report); err != nil {
				r.State, r.Fault = Failed, faultOf(err, names)
				break
			}
			r.State, r.Sum, r.Wear = Judged, o.Report.Sum(), o.Report.Wear(r.Set)
			r.Outside, r.Strips, r.Answer = o.Report.Balance.Outside, len(o.Report.Strips), strings.Join(slices.Concat(o.Report.Settle, o.Report.Answer), " ")
			r.Begin, r.End = o.Report.Worked()
			r.lose(o.Report.Findings, names)
		}
		if i == 0 {
			r.lose(rep.Findings, names)
		}
		rows = append(rows, r)
	}
	return rows
}

// in is a task with those of its logs alone that an operation was driven in, by their paths, and who drove it in them; none = all.
func (t Task) in(paths []string, names map[string]string) Task {
	var parts []Part
	var who people
	for _, p := range t.Parts {
		if slices.ContainsFunc(paths, func(path string) bool { return names[path] == p.Log.Name }) {
			parts = append(parts, p)
			who.with(geo.Told{Farm: p.Farm, Driver: p.Driver, Machine: p.Machine})
		}
	}
	if len(parts) > 0 && len(parts) < len(t.Parts) {
		t.Parts = parts
		t.Farm, t.Driver, t.Machine = who.told()
	}
	return t
}

// blank is a row of a task without figures.
func (b *Batch) blank(t Task) Row {
	field, _ := b.fields.Field(t.Field)
	r := Row{Key: t.Key, Part: 1, Field: t.Field, FieldName: field.Name, Farm: t.Farm, Driver: t.Driver, Machine: t.Machine, Set: b.setName(t.Set),
		Days: t.Days.String(), Program: b.program, Form: job.Form, Boundary: field.Boundary}
	for _, p := range t.Parts {
		r.Logs = append(r.Logs, p.Log.Name)
	}
	return r
}

// String says what became of an operation in a line.
func (f Fault) String() string {
	if f.Record > 0 {
		return fmt.Sprintf("%s, record %d: %s", f.File, f.Record, f.What)
	}
	return fmt.Sprintf("%s: %s", f.File, f.What)
}
