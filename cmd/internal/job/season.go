package job

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"balk/cmd/internal/farm"
	"balk/coverage/drive"
	"balk/coverage/season"
	"balk/export/answer"
	"balk/export/vector"
	"balk/export/words"
	"balk/geo"
	"balk/geo/workers"
)

// SeasonList is all that a farm has, in short.
type SeasonList struct {
	Farm       string           `json:"farm"`
	Fields     []farm.Field     `json:"fields"`     // by name
	Operations []farm.Operation `json:"operations"` // by time
	Totals     SeasonTotals     `json:"totals"`
}

// Rates are what work costs.
type Rates struct {
	Hour  float64 `json:"perHour,omitempty"`  // of set and driver; 0 = not said
	Litre float64 `json:"perLitre,omitempty"` // of fuel
}

func (r Rates) validate() error {
	if !(r.Hour >= 0 && r.Litre >= 0) {
		return fmt.Errorf("rates of %g an hour and %g a litre: must be 0 or more", r.Hour, r.Litre)
	}
	return nil
}

// SeasonTotals adds up operations, over all and by what they have in common.
type SeasonTotals struct {
	All      SeasonTotal   `json:"all"`
	Seasons  []SeasonTotal `json:"seasons"` // by the year they began in, "" = not known
	Sets     []SeasonTotal `json:"sets"`
	Drivers  []SeasonTotal `json:"drivers"`
	ByRates  Rates         `json:"byRates"`  // by which Cost is
	HasCosts bool          `json:"hasCosts"` // any is said
}

// SeasonTotal adds up some of them.
type SeasonTotal struct {
	Name       string `json:"name,omitempty"`
	Operations int    `json:"operations"`
	farm.Sum
	Cost float64 `json:"cost"`
}

func totalsOf(all []farm.Operation, rates Rates) SeasonTotals {
	t := SeasonTotals{ByRates: rates, HasCosts: rates != Rates{}, Seasons: []SeasonTotal{}, Sets: []SeasonTotal{}, Drivers: []SeasonTotal{}}
	add := func(to *SeasonTotal, o farm.Operation) {
		to.Operations++
		to.Area += o.Area
		to.Worked += o.Worked
		to.Double += o.Double
		to.Missed += o.Missed
		to.Unknown += o.Unknown
		to.Metres += o.Metres
		to.Seconds += o.Seconds
		to.Litres += o.Litres
		to.Cost += rates.Hour*o.Seconds/3600 + rates.Litre*o.Litres
	}
	of := func(list *[]SeasonTotal, name string, o farm.Operation) {
		i := slices.IndexFunc(*list, func(t SeasonTotal) bool { return t.Name == name })
		if i < 0 {
			i = len(*list)
			*list = append(*list, SeasonTotal{Name: name})
		}
		add(&(*list)[i], o)
	}
	for _, o := range all {
		year := ""
		if !o.Begin.IsZero() {
			year = o.Begin.Format("2006")
		}
		add(&t.All, o)
		of(&t.Seasons, year, o)
		of(&t.Sets, o.Set, o)
		of(&t.Drivers, o.Driver, o)
	}
	return t
}

// JSON writes the report.
func (r SeasonList) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SeasonList
	}{madeBy(), r})
}

// ListSeason lists a farm.
func ListSeason(ctx context.Context, dir string, rates Rates) (rep SeasonList, err error) {
	rep = SeasonList{Farm: dir, Fields: []farm.Field{}, Operations: []farm.Operation{}}
	if err := rates.validate(); err != nil {
		return rep, &WrongCall{err}
	}
	f, err := farm.Open(ctx, dir)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	fields, err := f.Fields(ctx)
	if err != nil {
		return rep, err
	}
	all, err := f.Operations(ctx, 0)
	rep.Fields, rep.Operations = append(rep.Fields, fields...), append(rep.Operations, all...)
	rep.Totals = totalsOf(all, rates)
	return rep, err
}

// SeasonShow says which field of a farm is shown.
type SeasonShow struct {
	Farm  string    `json:"farm"`
	Field string    `json:"field"`         // its name, its official number, or # and its number
	Day   time.Time `json:"day,omitzero"`  // on which days since the last cut are counted; zero: today
	Out   string    `json:"out,omitempty"` // folder for the strips that all missed
	Drawn
	Rates   Rates   `json:"rates,omitzero"`
	Weather Station `json:"weather,omitzero"` // read beside all operations; without it each has what it was added with
}

// SeasonReport is a field over its operations.
type SeasonReport struct {
	Spec       SeasonShow        `json:"spec"`
	Field      farm.Field        `json:"field"`
	Operations []SeasonOperation `json:"operations"` // in the order of time
	Across     *Across           `json:"across,omitempty"`
	Totals     SeasonTotals      `json:"totals"`
	Findings   []geo.Finding     `json:"findings"`
	Placed
}

// SeasonOperation is one with what came of it, and the weather after it where that was given.
type SeasonOperation struct {
	farm.Operation
	Weather *Weather `json:"weather,omitempty"`
}

// Across is what the operations of a field come to together.
type Across struct {
	season.Result
	Numbers []int64         `json:"numbers"`           // in the farm, of Result.Operations
	Cut     *season.Since   `json:"cut,omitempty"`     // how long ago ground was cut last; absent: nothing cuts
	Seeding *season.Seeding `json:"seeding,omitempty"` // absent: nothing seeds, or nothing cuts
}

// Words are what the operations did together, in sentences.
func (a *Across) Words(l words.Language) []string {
	return answer.Season(l, a.Result, a.Numbers, a.Cut, a.Seeding)
}

// JSON writes the report.
func (r SeasonReport) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SeasonReport
	}{madeBy(), r})
}

// ShowSeason tells of one field over all its operations.
func ShowSeason(ctx context.Context, s SeasonShow, now time.Time, call *Call) (rep SeasonReport, err error) {
	call = call.ready()
	if s.Day.IsZero() {
		s.Day = now.UTC().Truncate(24 * time.Hour)
	}
	rep = SeasonReport{Spec: s, Operations: []SeasonOperation{}, Findings: []geo.Finding{}}
	if err := errors.Join(s.Drawn.Validate(), s.Rates.validate(), s.Weather.Validate()); err != nil {
		return rep, &WrongCall{err}
	}
	f, err := farm.Open(ctx, s.Farm)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if rep.Field, err = f.Find(ctx, s.Field); err != nil {
		if none, ok := errors.AsType[*farm.NoField](err); ok {
			err = &WrongCall{none}
		}
		return rep, err
	}
	all, err := f.Operations(ctx, rep.Field.Number)
	if err != nil {
		return rep, err
	}
	rep.Totals = totalsOf(all, s.Rates)
	var station stationLog
	if s.Weather.File != "" {
		found := []geo.Finding{}
		station, found, err = s.Weather.read(ctx, rep.Field.Geo(""), call)
		if rep.Findings = append(rep.Findings, found...); err != nil {
			return rep, err
		}
	}
	source := sha256.New()
	fmt.Fprintln(source, madeBy(), s.Out != "", s.Day)
	for _, o := range all {
		one := SeasonOperation{Operation: o}
		checked, err := f.Checked(ctx, o.Number)
		if err != nil {
			return rep, err
		}
		if one.Weather, err = rep.weather(o, checked.Report, station); err != nil {
			return rep, err
		}
		rep.Operations = append(rep.Operations, one)
		fmt.Fprintf(source, "%d %v %s\n", o.Number, o.Work, checked.Options)
	}
	corrections, err := f.Corrections(ctx, rep.Field.Number)
	if err != nil {
		return rep, err
	}
	fmt.Fprintf(source, "%v %v\n", rep.Field, corrections)
	if len(all) == 0 {
		return rep, nil
	}
	key := hex.EncodeToString(source.Sum(nil))
	kept, err := f.Kept(ctx, rep.Field.Number, key)
	if err == nil && kept != "" && s.Out == "" {
		var was struct {
			Across   *Across
			Findings []geo.Finding
		}
		if err := json.Unmarshal([]byte(kept), &was); err == nil {
			rep.Across, rep.Findings = was.Across, append(rep.Findings, was.Findings...)
			return rep, nil
		}
	}
	if err != nil {
		return rep, err
	}
	if err := rep.across(ctx, f, call); err != nil {
		return rep, err
	}
	if s.Out != "" {
		return rep, rep.write(ctx, call)
	}
	text, err := json.Marshal(map[string]any{"across": rep.Across, "findings": rep.Findings})
	if err != nil {
		return rep, err
	}
	if w, err := farm.OpenToChange(ctx, s.Farm); err == nil { // a farm that cannot be written to is worked out each time
		_ = w.KeepSeason(ctx, rep.Field.Number, key, string(text))
		_ = w.Close()
	}
	return rep, nil
}

// weather is that after an operation: by the station, or else as it was told when it was added.
func (r *SeasonReport) weather(o farm.Operation, report []byte, station stationLog) (*Weather, error) {
	if station.file == "" && !bytes.Contains(report, []byte(`"weather":`)) { // most have none, and a report is long
		return nil, nil
	}
	var told struct {
		Weather *Weather
		Passes  []drive.Pass
	}
	if err := json.Unmarshal(report, &told); err != nil {
		return nil, fmt.Errorf("%s: operation %d: its result: %w", r.Spec.Farm, o.Number, err)
	}
	if station.file == "" {
		return told.Weather, nil
	}
	w, not := station.after(told.Passes, r.Spec.Day.Unix())
	if not != nil {
		not.What = fmt.Sprintf("operation %d: %s", o.Number, not.What)
		r.Findings = append(r.Findings, *not)
	}
	return w, nil
}

// across lays all operations of the field together, each driven again from its kept logs as it was checked, on the field as the last of
// them found it.
func (r *SeasonReport) across(ctx context.Context, f *farm.Farm, call *Call) error {
	var all []drivenAgain
	for i, o := range r.Operations {
		call.step("reading operation "+fmt.Sprint(o.Number), i, len(r.Operations))
		one, err := r.again(ctx, f, o.Operation, call)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err == nil {
			r.Findings = append(r.Findings, one.findings...)
			all = append(all, one)
			continue
		}
		r.Findings = append(r.Findings, geo.Finding{File: r.Spec.Farm, Record: int(o.Number), What: fmt.Sprintf("operation %d is left out of what the operations did together: %v", o.Number, err), Lost: true})
	}
	if len(all) == 0 {
		return nil
	}
	call.step("laying the operations together", len(r.Operations)-1, len(r.Operations))
	a := &Across{}
	on := all[len(all)-1].field
	local := on.Local()
	var operations []season.Operation
	for _, one := range all {
		log, err := workers.Until(ctx, func() (drive.Log, error) {
			return drive.Read(ctx, on.OnPlane(local), local, one.tracks, one.work, drive.AsJudged)
		})
		if err != nil {
			return fmt.Errorf("operation %d: %w", one.Number, err)
		}
		op := season.Operation{Name: fmt.Sprint(one.Number), Runs: log.Runs, Work: one.work}
		for _, c := range one.Does {
			op.Does = append(op.Does, season.Component(c))
		}
		operations, a.Numbers = append(operations, op), append(a.Numbers, one.Number)
	}
	var err error
	if a.Result, err = workers.Until(ctx, func() (season.Result, error) { return season.Of(ctx, on, operations, all[0].work.Workers) }); err != nil {
		return err
	}
	if a.Doing(season.Cuts) != nil {
		since := a.Since(season.Cuts, r.Spec.Day)
		a.Cut = &since
	}
	a.Seeding = a.SeedAndCut()
	r.Across = a
	return nil
}

// drivenAgain is an operation of the farm, read again.
type drivenAgain struct {
	farm.Operation
	field    geo.Field // as corrections leave it
	tracks   []geo.Track
	work     drive.Work
	findings []geo.Finding // on corrections
}

// again reads the kept logs of an operation.
func (r *SeasonReport) again(ctx context.Context, f *farm.Farm, o farm.Operation, call *Call) (one drivenAgain, err error) {
	checked, err := f.Checked(ctx, o.Number)
	if err != nil {
		return one, err
	}
	var again Report
	if err := json.Unmarshal(checked.Options, &again.Spec); err != nil {
		return one, err
	}
	s, field := &again.Spec, r.Field.Geo(filepath.Join(r.Spec.Farm, farm.File))
	s.Farm, s.operationOfFarm, s.Field, s.Boundary, s.Tracks, s.Layers = r.Spec.Farm, o.Number, "", field.Source, nil, nil
	for _, l := range checked.Logs {
		s.Tracks = append(s.Tracks, filepath.Join(r.Spec.Farm, filepath.FromSlash(l.Kept)))
	}
	tracks, err := again.tracks(ctx, call)
	if err != nil {
		return one, err
	}
	ours, _ := again.shares([]geo.Field{field}, tracks)
	var here []geo.Track
	for i, t := range tracks {
		if slices.Contains(ours[i], 0) {
			here = append(here, t.Cut(func(k int) bool { return ours[i][k] == 0 }, true))
		}
	}
	again.Findings = nil // they were said when it was added
	one.Operation = o
	if one.field, one.tracks, err = again.worked(ctx, inputs{field, []geo.Field{field}, here}); err != nil {
		return one, err
	}
	one.findings = slices.DeleteFunc(again.Findings, func(f geo.Finding) bool { return f.File != r.Spec.Farm })
	err = s.settle(one.tracks)
	one.work = s.Work
	return one, err
}

// write puts the layers of the operations together into the folder.
func (r *SeasonReport) write(ctx context.Context, call *Call) error {
	if r.Across == nil {
		return wrong("%s: nothing to write: no operation on %q could be read", r.Spec.Out, r.Field.Name)
	}
	layers, err := vector.SeasonLayers(ctx, &r.Across.Result, r.Across.Cut)
	if err != nil {
		return err
	}
	names := []string{reportFile}
	var files []output
	for _, l := range layers {
		name := strings.ReplaceAll(l.Name, "_", "-") + ".geojson"
		names = append(names, name)
		files = append(files, output{name: name, write: func(w io.Writer) error { return vector.WriteGeoJSON(w, l) }})
	}
	if err := call.guard(ctx, r.Spec.Out, targets{sure: names}); err != nil {
		return err
	}
	return call.fill(ctx, r.Spec.Out, "season show", files, &r.Placed, func(w io.Writer) error { return r.JSON(w) })
}

// SeasonRemoved is what was moved aside.
type SeasonRemoved struct {
	Farm    string  `json:"farm"`
	Numbers []int64 `json:"numbers"`
}

// JSON writes the report.
func (r SeasonRemoved) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SeasonRemoved
	}{madeBy(), r})
}

// RemoveFromSeason moves operations aside. Those before one that is not there are moved.
func RemoveFromSeason(ctx context.Context, dir string, numbers []int64, now time.Time) (rep SeasonRemoved, err error) {
	rep = SeasonRemoved{Farm: dir, Numbers: []int64{}}
	if !HasFarm(dir) {
		return rep, &farm.NotThere{Dir: dir}
	}
	f, err := farm.OpenToChange(ctx, dir)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	for _, n := range numbers {
		if err := f.Remove(ctx, n, now); err != nil {
			if none, ok := errors.AsType[*farm.NoOperation](err); ok {
				err = &WrongCall{none}
			}
			return rep, err
		}
		rep.Numbers = append(rep.Numbers, n)
	}
	return rep, nil
}

// SeasonMoved is a farm written as plain files, or built of them.
type SeasonMoved struct {
	Farm string `json:"farm"`
	Placed
}

// JSON writes the report.
func (r SeasonMoved) JSON(w io.Writer) error {
	return indented(w, struct {
		made
		SeasonMoved
	}{madeBy(), r})
}

// ExportSeason writes a farm as plain files, from which ImportSeason builds it again.
func ExportSeason(ctx context.Context, dir, out string, call *Call) (rep SeasonMoved, err error) {
	rep = SeasonMoved{Farm: dir}
	f, err := farm.Open(ctx, dir)
	if err != nil {
		return rep, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	plain, err := f.Plain(ctx)
	if err != nil {
		return rep, err
	}
	var files []output
	for _, p := range plain {
		files = append(files, output{name: p.Name, write: p.Write})
	}
	err = call.ready().fill(ctx, out, "season export", files, &rep.Placed, func(w io.Writer) error { return rep.JSON(w) })
	return rep, err
}

// ImportSeason builds a farm of plain files.
func ImportSeason(ctx context.Context, dir, from string) (SeasonMoved, error) {
	return SeasonMoved{Farm: dir}, farm.Import(ctx, dir, from)
}
