package batch

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"balk/cmd/internal/job"
	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/read"
)

// Spec says what a batch is of. It is the same for all that work on it.
type Spec struct {
	Sources []string `json:"sources"`         // folders, lists or logs
	Rules   string   `json:"rules,omitempty"` // file of rules; "" = none
	Check   job.Spec `json:"check"`           // how each operation is checked; its Tracks, Field, Days and Out say nothing
	Out     string   `json:"out,omitempty"`   // folder of the run

	// Of a run on this computer; workers of a database have their own.
	Workers int           `json:"workers,omitempty"` // operations at a time; 0 = one for each processor
	Memory  int           `json:"memory,omitempty"`  // MiB that the process of one may take; 0 = no limit
	Most    time.Duration `json:"most,omitempty"`    // ns that one may take
}

// Batch is an open Spec: what all of its logs and tasks share. It may be used from many goroutines.
type Batch struct {
	spec    Spec
	rules   Rules
	fields  *job.Fields
	source  Source
	program string
	beside  string // hash of the files that the Spec names

	mu     sync.Mutex
	sets   map[string]set
	shapes map[int]string // hashes of boundaries
}

// set is one that was read, with the Spec to check what it worked.
type set struct {
	check job.Spec
	name  string
	hash  string
	err   error
}

// Open reads what all logs share: boundaries, rules, and the sets that these name. Errors as job.Run.
func Open(ctx context.Context, s Spec, source Source, call *job.Call) (*Batch, []geo.Finding, error) {
	b := &Batch{spec: s, source: source, program: job.Program(), sets: map[string]set{}, shapes: map[int]string{}}
	check := s.Check
	check.Tracks, check.Out, check.Field, check.Days = []string{"-"}, "", "", job.Days{}
	if err := check.Validate(); err != nil {
		return nil, nil, &job.WrongCall{Err: err}
	}
	b.sets[""] = newSet(check, "")
	if s.Rules != "" {
		text, err := os.ReadFile(s.Rules)
		if err != nil {
			return nil, nil, fmt.Errorf("%s: %w", s.Rules, plainly(err))
		}
		if b.rules, err = ReadRules(text, filepath.Dir(s.Rules)); err != nil {
			return nil, nil, fmt.Errorf("%s: %w", s.Rules, err)
		}
	}
	for _, r := range b.rules {
		if one := b.set(r.Set); one.err != nil {
			return nil, nil, fmt.Errorf("%s: %w", s.Rules, one.err)
		}
	}
	var sums []string
	for _, path := range check.Beside() {
		sum, err := call.Content(path)
		if err != nil {
			return nil, nil, err
		}
		sums = append(sums, sum)
	}
	b.beside = hashOf(sums)
	fields, findings, err := job.OpenFields(ctx, check.Boundary, check.Reading, call)
	b.fields = fields
	return b, findings, err
}

// newSet is the set of a Spec.
func newSet(check job.Spec, file string) set {
	s := set{check: check, name: check.Implement.Name}
	if s.name == "" {
		s.name = cmp.Or(strings.TrimSuffix(filepath.Base(file), filepath.Ext(file)), fmt.Sprintf("%.2f m", check.Work.Width))
		if file == "" {
			s.name = fmt.Sprintf("%.2f m", check.Work.Width)
		}
	}
	check.Boundary, check.Tracks, check.Plan, check.Weather.File, check.Farm = "", nil, "", "", ""
	s.hash = hashOf(check)
	return s
}

// set is that of a file, read once.
func (b *Batch) set(file string) set {
	b.mu.Lock()
	defer b.mu.Unlock()
	if one, ok := b.sets[file]; ok {
		return one
	}
	check := b.sets[""].check
	im, err := new(job.Call).Implement(file)
	if err == nil {
		check.Use(im, drive.WidthFile)
		err = check.Validate()
	}
	one := newSet(check, file)
	one.err = err
	b.sets[file] = one
	return one
}

func (b *Batch) setName(file string) string { return b.set(file).name }

// settings is the hash of how a task with this set is checked.
func (b *Batch) settings(file string) string { return hashOf(b.set(file).hash, b.beside, b.program) }

// ground is the hash of a field.
func (b *Batch) ground(number int) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.shapes[number] == "" {
		f, _ := b.fields.Field(number)
		b.shapes[number] = hashOf(f.Name, f.Number, f.Frame, f.Boundary)
	}
	return b.shapes[number]
}

// Logs are those of the source.
func (b *Batch) Logs(ctx context.Context) ([]Log, error) {
	var all []Log
	for l, err := range b.source.Logs(ctx) {
		if err != nil {
			return nil, err
		}
		all = append(all, l)
	}
	return all, nil
}

// Survey tells what a log holds; what is kept of the same content is not read again. What is wrong with a log is in its survey. Error:
// a fault of machinery, or the end of ctx: it may be tried again.
func (b *Batch) Survey(ctx context.Context, l Log, kept Kept) (Survey, error) {
	s := Survey{Log: l, State: Judged}
	if l.Fault != "" {
		return s.failed(&Fault{File: l.Name, What: l.Fault}), nil
	}
	path, done, err := b.source.Open(ctx, l)
	defer done()
	names := map[string]string{path: l.Name}
	if err == nil {
		s.SHA256, err = new(job.Call).Content(path)
	}
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission) {
			return s.failed(faultOf(err, names)), nil
		}
		return s, err
	}
	shared := l
	shared.Path = ""
	key := hashOf(s.SHA256, shared, b.settings(l.Set), b.fields.Sum())
	before, is, err := kept.Surveyed(ctx, key)
	if err != nil {
		return s, err
	}
	if is {
		before.Log = l
		return before, nil
	}
	if s, err = b.survey(ctx, s, path, names); err != nil {
		return s, err
	}
	return s, kept.KeepSurvey(ctx, key, s)
}

func (s Survey) failed(f *Fault) Survey {
	s.State, s.Fault = Failed, f
	return s
}

// survey reads a log.
func (b *Batch) survey(ctx context.Context, s Survey, path string, names map[string]string) (Survey, error) {
	if one := b.set(s.Log.Set); one.err != nil {
		return s.failed(faultOf(one.err, names)), nil
	}
	if info, err := os.Stat(path); err == nil {
		s.Bytes = info.Size()
	}
	check := b.set(s.Log.Set).check
	check.Tracks = []string{path}
	driven, told, err := guarded(func() ([]job.Driven, geo.Told, error) { return b.fields.Driven(ctx, check, nil) })
	switch {
	case ctx.Err() != nil:
		return s, ctx.Err()
	case err != nil:
		s = s.failed(faultOf(err, names))
		if !s.Log.Listed && read.NoLog(path, err) {
			s.State = NoLog
		}
		return s, nil
	}
	s.Driven, s.Told = driven, told
	if s.Log.Field != "" {
		field, err := b.fields.Choose(s.Log.Field)
		if err != nil {
			return s.failed(faultOf(err, names)), nil
		}
		s.Driven = nil
		for _, d := range driven {
			if d.Field == field.Number {
				s.Driven = append(s.Driven, d)
			}
		}
	}
	if len(s.Driven) == 0 {
		return s.failed(&Fault{File: s.Log.Name, What: "it lies on none of the fields"}), nil
	}
	return s, nil
}

// guarded makes an error of a panic: one log that balk cannot bear stops no other.
func guarded[A, B any](what func() (A, B, error)) (a A, b B, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("balk itself failed: %v", p)
		}
	}()
	return what()
}

// Work is the work of one task: its rows. What is wrong with its logs is in them. Error as Survey.
func (b *Batch) Work(ctx context.Context, t Task) ([]Row, error) {
	began := time.Now()
	one := b.set(t.Set)
	check := one.check
	check.Tracks, check.Days = nil, t.Days
	names := map[string]string{}
	for _, p := range t.Parts {
		path, done, err := b.source.Open(ctx, p.Log)
		defer done()
		if err != nil {
			return nil, err
		}
		names[path] = p.Log.Name
		check.Tracks = append(check.Tracks, path)
	}
	rep, _, err := guarded(func() (job.EachReport, struct{}, error) {
		if one.err != nil {
			return job.EachReport{}, struct{}{}, one.err
		}
		rep, err := b.fields.Each(ctx, check, t.Field, nil)
		return rep, struct{}{}, err
	})
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	rows := b.rowsOf(t, rep, names)
	if err != nil {
		r := b.blank(t)
		r.State, r.Fault = Failed, faultOf(err, names)
		r.lose(rep.Findings, names)
		rows = []Row{r}
	}
	for i := range rows {
		rows[i] = rows[i].plain()
		rows[i].Took = time.Since(began).Seconds() / float64(len(rows))
	}
	return rows, nil
}

// lose adds what of the logs could not be used.
func (r *Row) lose(findings []geo.Finding, names map[string]string) {
	for _, f := range findings {
		if f.Lost {
			r.Lost = append(r.Lost, Fault{named(f.File, names), f.Record, named(f.What, names)})
		}
	}
}

// Failed is the row of a task that could not be worked at all.
func (b *Batch) Failed(t Task, why string) []Row {
	r := b.blank(t)
	r.State, r.Fault = Failed, &Fault{File: strings.Join(r.Logs, ", "), What: why}
	return []Row{r.plain()}
}

// Bounded gives rows the boundaries of their fields.
func (b *Batch) Bounded(rows iter.Seq2[Row, error]) iter.Seq2[Row, error] {
	return func(yield func(Row, error) bool) {
		for r, err := range rows {
			if field, known := b.fields.Field(r.Field); known {
				r.Boundary = field.Boundary
			}
			if !yield(r, err) {
				return
			}
		}
	}
}
