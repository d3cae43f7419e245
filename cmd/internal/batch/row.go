package batch

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"maps"
	"slices"
	"strings"
	"time"

	"balk/cmd/internal/farm"
	"balk/cmd/internal/job"
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
	Outside float64 `json:"outside"`
	Strips  int     `json:"strips"` // missed strips listed
	Answer  string  `json:"answer,omitempty"`
	Fault   *Fault  `json:"fault,omitempty"` // why it has no figures
	Lost    []Fault `json:"lost,omitempty"`  // what of the logs could not be used
	Program string  `json:"program"`         // balk and its version
	Form    int     `json:"form"`            // version of the form of reports
	Took    float64 `json:"took,omitempty"`  // s; no other member depends on when or where it was worked out

	Boundary orb.MultiPolygon `json:"-"` // of the field, degrees on WGS84
}

// Month is that in which an operation began; "" = not known.
func (r Row) Month() string {
	if r.Begin.IsZero() {
		return ""
	}
	return r.Begin.Format("2006-01")
}

// Results keeps what came of a run. All that one call changes is changed whole or not at all, and may be called again with the same.
type Results interface {
	// Surveyed gives what was kept of a log under a key.
	Surveyed(ctx context.Context, key string) (s Survey, is bool, err error)
	KeepSurvey(ctx context.Context, key string, s Survey) error
	// Plan makes tasks all those of the run, and gives those of them without rows. Rows of other tasks are not of the run any more.
	Plan(ctx context.Context, tasks []Task) (open []Task, err error)
	// Has says whether a task has its rows.
	Has(ctx context.Context, key string) (bool, error)
	// Put keeps the rows of a task, in the place of those that were there.
	Put(ctx context.Context, t Task, rows []Row) error
	// Rows are those of the run, by field, begin, key and part.
	Rows(ctx context.Context) iter.Seq2[Row, error]
}

// Status is how far a run is.
type Status struct {
	Tasks   int  `json:"tasks"`
	Done    int  `json:"done"`    // of them
	Failed  int  `json:"failed"`  // operations of these
	Running bool `json:"running"` // somebody is at work
}

// Progress is how far a step of a run is.
type Progress struct {
	What     string
	Done, Of int
	Since    time.Duration // the step began
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

// named is a text with the names of logs in the place of their paths, the longest first.
func named(text string, names map[string]string) string {
	paths := slices.SortedFunc(maps.Keys(names), func(a, b string) int { return len(b) - len(a) })
	for _, path := range paths {
		text = strings.ReplaceAll(text, path, names[path])
	}
	return text
}

// rowsOf are those of the operations of a task.
func (b *Batch) rowsOf(t Task, rep job.EachReport, names map[string]string) (rows []Row) {
	for i, o := range rep.Operations {
		r := b.blank(t)
		r.Part, r.Days = i+1, o.Days
		switch {
		case o.NoWork:
			r.State = NoWork
			r.Fault = faultOf(o.Why, names)
		case o.Report == nil:
			r.State = Failed
			r.Fault = faultOf(o.Why, names)
		default:
			r.State, r.Sum = Judged, o.Report.Sum()
			r.Outside, r.Strips, r.Answer = o.Report.Balance.Outside, len(o.Report.Strips), strings.Join(o.Report.Answer, " ")
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
