package job

import (
	"archive/zip"
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"balk/cmd/internal/farm"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/read"
)

// SeasonAdd says which operations are added to a farm: those that its Spec checks, each on its field, with what no log knows.
type SeasonAdd struct {
	Spec               // Farm is required; Boundary "" = the fields that the farm has
	Official string    `json:"official,omitempty"` // number by which offices know the field; of one field only
	SetName  string    `json:"setName,omitempty"`  // "" = that of the implement
	Done     farm.Work `json:"done"`
}

// SeasonAdded is what was added.
type SeasonAdded struct {
	Farm       string        `json:"farm"`
	Operations []Added       `json:"operations"`
	Findings   []geo.Finding `json:"findings"`
}

// Added is an operation that was added, or why not.
type Added struct {
	Number int64    `json:"number,omitempty"` // in the farm
	Field  string   `json:"field"`
	Days   string   `json:"days,omitempty"`
	Answer []string `json:"answer,omitempty"` // what was found
	There  bool     `json:"there,omitempty"`  // the same logs were there already, as Number
	Error  string   `json:"error,omitempty"`  // why it was not added
}

// JSON writes the report.
func (r SeasonAdded) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SeasonAdded
	}{madeBy(), r})
}

// Failed counts operations that were not added.
func (r SeasonAdded) Failed() (n int) {
	for _, o := range r.Operations {
		if o.Error != "" {
			n++
		}
	}
	return n
}

// fieldLayer is the table of fields in the store of a farm, which is a file of boundaries too.
const fieldLayer = "field"

// AddToSeason checks operations and adds each to the farm. What goes wrong with one stops no other. Errors as Each.
func AddToSeason(ctx context.Context, s SeasonAdd, call *Call) (rep SeasonAdded, err error) {
	call = call.ready()
	rep = SeasonAdded{Farm: s.Farm, Operations: []Added{}, Findings: []geo.Finding{}}
	if err := s.Done.Validate(); err != nil {
		return rep, &WrongCall{err}
	}
	if s.Boundary == "" {
		if !HasFarm(s.Farm) {
			return rep, wrong("%s: there is no farm yet that has fields: name a file of boundaries (FIELD or --fields)", s.Farm)
		}
		s.Boundary, s.Layers = filepath.Join(s.Farm, farm.File), append(s.Layers, fieldLayer)
	}
	check := s.Spec
	check.Out = ""
	if !HasFarm(s.Farm) {
		check.Farm = ""
	}
	each, err := Each(ctx, check, call)
	rep.Findings = each.Findings
	if err != nil {
		return rep, err
	}
	if n := len(each.fields); s.Official != "" && n != 1 {
		return rep, wrong("--official %s: is of one field, and the logs lie on %d", s.Official, n)
	}
	f, err := farm.OpenToChange(ctx, s.Farm)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	var first error
	for _, o := range each.Operations {
		if o.NoWork {
			continue
		}
		one := Added{Field: o.Field.Name, Days: o.Days, Error: o.Error}
		if o.Report != nil {
			rep.Findings = append(rep.Findings, o.Report.Findings...)
			one.Answer = slices.Concat(o.Report.Settle, o.Report.Answer)
			var err error
			one.Number, err = s.add(ctx, f, each.fields[o.Field.Number], *o.Report, call)
			twice, there := errors.AsType[*farm.Twice](err)
			switch {
			case ctx.Err() != nil:
				return rep, ctx.Err()
			case there:
				one.Number, one.There = twice.Number, true
				rep.Findings = append(rep.Findings, geo.Finding{File: strings.Join(o.Report.Spec.Tracks, ", "), What: twice.Error() + ": not added again"})
			case err != nil:
				one.Error = err.Error()
				first = cmp.Or(first, err)
			}
		}
		rep.Operations = append(rep.Operations, one)
	}
	if first != nil && rep.Failed() == len(rep.Operations) {
		return rep, first
	}
	return rep, nil
}

// add keeps the logs of an operation, and then puts it into the farm.
func (s SeasonAdd) add(ctx context.Context, f *farm.Farm, field geo.Field, rep Report, call *Call) (int64, error) {
	e := farm.Entry{
		Field: farm.Field{Name: field.Name, Official: s.Official, Frame: field.Frame, Boundary: field.Boundary},
		Work:  s.Done, Sum: rep.Sum(), Program: Program(), Form: Form,
	}
	if e.Field.Name == "" {
		return 0, fmt.Errorf("%s, field %d: it has no name, and a farm knows its fields by their names", rep.Field.File, rep.Field.Number)
	}
	e.Begin, e.End = rep.Worked()
	var err error
	if e.Set, err = setOf(rep.Spec.Implement, s.SetName); err != nil {
		return 0, err
	}
	if e.Report, err = json.Marshal(struct {
		made
		Report
	}{madeBy(), rep}); err != nil {
		return 0, err
	}
	if e.Options, err = json.Marshal(rep.Spec); err != nil {
		return 0, err
	}
	for _, path := range rep.Spec.Tracks {
		l, err := call.keep(f, path)
		if err != nil {
			return 0, err
		}
		e.Logs = append(e.Logs, l)
	}
	return f.Add(ctx, e)
}

// Worked is when the first pass began and the last one ended; zero: the log has no times.
func (r Report) Worked() (begin, end time.Time) {
	for _, p := range r.Passes {
		if geo.Dated(p.From) && (begin.IsZero() || p.From.Before(begin)) {
			begin = p.From
		}
		if geo.Dated(p.To) && p.To.After(end) {
			end = p.To
		}
	}
	return begin, end
}

// Sum is the report in short.
func (r Report) Sum() farm.Sum {
	b := r.Balance
	sum := farm.Sum{Area: b.Field, Worked: b.Once + b.Twice + b.More, Double: b.Twice + b.More, Missed: b.Missed, Unknown: b.Unknown,
		Metres: r.Effort.Working.Metres, Seconds: r.Effort.OnField}
	if r.Counters != nil {
		sum.Litres = r.Counters.Fuel
	}
	return sum
}

// setOf describes a machine as a farm keeps it: all that was used, whatever of it file or flags said.
func setOf(im rig.Implement, name string) (farm.Set, error) {
	text, err := json.Marshal(im)
	if err != nil {
		return farm.Set{}, err
	}
	var table map[string]any
	if err := json.Unmarshal(text, &table); err != nil {
		return farm.Set{}, err
	}
	var described strings.Builder
	err = writeTOML(&described, "", table)
	return farm.Set{Name: cmp.Or(name, im.Name, fmt.Sprintf("%.2f m", im.Width)), Description: described.String()}, err
}

// writeTOML writes what was decoded from JSON as TOML, whose strings, numbers and lists are as JSON writes them: a hundred thousand bytes
// less than the writer of the library. Lists of tables are not needed and not written right.
func writeTOML(b *strings.Builder, name string, table map[string]any) error {
	if name != "" {
		fmt.Fprintf(b, "\n[%s]\n", name)
	}
	for _, key := range slices.Sorted(maps.Keys(table)) {
		if _, below := table[key].(map[string]any); !below {
			text, err := json.Marshal(table[key])
			if err != nil {
				return err
			}
			fmt.Fprintf(b, "%s = %s\n", key, text)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(table)) {
		if below, ok := table[key].(map[string]any); ok {
			if err := writeTOML(b, strings.TrimPrefix(name+"."+key, "."), below); err != nil {
				return err
			}
		}
	}
	return nil
}

// keep puts the original of what was read at a path into a farm. What is several files is kept as a zip of them.
func (c *Call) keep(f *farm.Farm, path string) (farm.Log, error) {
	if path == read.StandardInput {
		return farm.Log{}, errors.New("standard input: a farm keeps the originals of its logs: name a file")
	}
	dir, beside, err := filesOf(path)
	if err != nil {
		return farm.Log{}, err
	}
	if len(beside) == 0 {
		file, err := c.opened.Open(path)
		if err != nil {
			return farm.Log{}, err
		}
		defer file.Close()
		return f.Keep(filepath.Base(path), file)
	}
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, one := range beside {
		if err := c.zipped(z, dir, one); err != nil {
			return farm.Log{}, err
		}
	}
	if err := z.Close(); err != nil {
		return farm.Log{}, err
	}
	return f.Keep(filepath.Base(path)+".zip", &b)
}

// filesOf are the files that make up what is read at a path, in order, and the folder they are in; none: it is one file.
func filesOf(path string) (dir string, beside []string, err error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", nil, err
	}
	dir = filepath.Dir(path)
	switch {
	case info.IsDir():
		dir = path
		err = filepath.WalkDir(path, func(one string, d fs.DirEntry, err error) error {
			if err == nil && d.Type().IsRegular() && !strings.HasPrefix(d.Name(), ".") {
				beside = append(beside, one)
			}
			return err
		})
	case strings.EqualFold(filepath.Ext(path), ".shp"):
		stem := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
		var all []fs.DirEntry
		all, err = os.ReadDir(dir)
		for _, one := range all {
			if name := one.Name(); strings.EqualFold(strings.TrimSuffix(name, filepath.Ext(name)), stem) && one.Type().IsRegular() && shapeParts[strings.ToLower(filepath.Ext(name))] {
				beside = append(beside, filepath.Join(dir, name))
			}
		}
	}
	slices.Sort(beside)
	return dir, beside, err
}

// shapeParts are the files of a shapefile that are read.
var shapeParts = map[string]bool{".shp": true, ".shx": true, ".dbf": true, ".prj": true, ".cpg": true}

// zipped puts a file into a zip, without a time, so that the same files give the same zip.
func (c *Call) zipped(z *zip.Writer, dir, path string) error {
	name, err := filepath.Rel(dir, path)
	if err != nil {
		return err
	}
	file, err := c.opened.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	w, err := z.CreateHeader(&zip.FileHeader{Name: filepath.ToSlash(name), Method: zip.Deflate})
	if err == nil {
		_, err = io.Copy(w, file)
	}
	return err
}

// originals are the paths, among those that a call names or in its folders, of what tracks were read from.
func originals(tracks []geo.Track, named []string) (paths []string) {
	for _, t := range tracks {
		path := t.Source
		for _, n := range named {
			info, err := os.Stat(n)
			if n == path || err == nil && strings.HasPrefix(filepath.Clean(path), filepath.Clean(n)+string(filepath.Separator)) && (!info.IsDir() || holdsTaskData(n)) {
				path = n
				break
			}
		}
		for path != "." && path != filepath.Dir(path) { // a file in a zip has no place of its own
			if _, err := os.Stat(path); err == nil {
				break
			}
			path = filepath.Dir(path)
		}
		if base := strings.ToUpper(filepath.Base(path)); strings.HasPrefix(base, "TLG") || base == "TASKDATA.XML" {
			path = filepath.Dir(path)
		}
		if !slices.Contains(paths, path) {
			paths = append(paths, path)
		}
	}
	return paths
}

// holdsTaskData tells whether a folder is that of task data.
func holdsTaskData(dir string) bool {
	all, err := os.ReadDir(dir)
	return err == nil && slices.ContainsFunc(all, func(d fs.DirEntry) bool { return strings.EqualFold(d.Name(), "TASKDATA.XML") })
}
