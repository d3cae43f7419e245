package job

import (
	"bytes"
	"cmp"
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
	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/coverage/season"
	"balk/coverage/spots"
	"balk/export/answer"
	"balk/export/sheet"
	"balk/export/vector"
	"balk/export/words"
	"balk/geo"
	"balk/geo/workers"

	"github.com/paulmach/orb"
)

// SeasonShow says which field of a farm is shown.
type SeasonShow struct {
	Farm   string    `json:"farm"`
	Field  string    `json:"field"`            // its name, its official number, or # and its number
	Season int       `json:"season,omitempty"` // year in which operations began; 0: any
	Day    time.Time `json:"day,omitzero"`     // on which days since the last cut are counted; zero: today
	Out    string    `json:"out,omitempty"`    // folder for layers and the season sheet
	Zone   string    `json:"zone,omitempty"`   // of times on paper; "" = UTC
	Drawn
	Rates   plan.Rates `json:"rates,omitzero"`
	Weather Station    `json:"weather,omitzero"` // read beside all operations; without it each has what it was added with
	Due     DueWanted  `json:"due,omitzero"`     // from when on the next cut is due
}

// Validate says what is wrong with s; it opens no files.
func (s SeasonShow) Validate() error {
	if _, err := zoneOf("paper", s.Zone); err != nil {
		return err
	}
	if s.Season < 0 || s.Season > 9999 {
		return fmt.Errorf("season %d: must be a year", s.Season)
	}
	return cmp.Or(s.Drawn.Validate(), s.Rates.Validate(), s.Weather.Validate(), s.Due.validate(s.Weather))
}

// page is what the season sheet is printed on.
func (s SeasonShow) page() (p sheet.Page, err error) {
	p = s.Drawn.page()
	p.Zone, err = zoneOf("paper", s.Zone)
	return p, err
}

// SeasonReport is a field over its operations.
type SeasonReport struct {
	Spec       SeasonShow        `json:"spec"`
	Field      farm.Field        `json:"field"`
	Operations []SeasonOperation `json:"operations"` // in the order of time
	Across     *Across           `json:"across,omitempty"`
	Back       *Back             `json:"back,omitempty"`  // going back to what all that cut missed (all, where none does), with the set of the last operation; with Spec.Out
	Spots      []SeasonSpots     `json:"spots,omitempty"` // spot checks that the farm keeps, by operation
	Wear       []SetWear         `json:"wear,omitempty"`  // of the sweeps of sets whose layout is known, over these operations
	Due        *Due              `json:"due,omitempty"`   // when the next cut is; absent: nothing cuts
	Totals     SeasonTotals      `json:"totals"`
	Findings   []geo.Finding     `json:"findings"`
	Placed
	on      geo.Field // as corrections leave it
	last    *drivenAgain
	station stationLog
}

// SeasonOperation is one with what came of it, and the weather after it where that was given.
type SeasonOperation struct {
	farm.Operation
	Weather *Weather `json:"weather,omitempty"`
}

// SeasonSpots are the spot checks of an operation, and what they prove.
type SeasonSpots struct {
	Operation int64           `json:"operation"`
	Checks    []geo.SpotCheck `json:"checks"`
	Found     spots.Found     `json:"found"`
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
	if err := s.settle(now); err != nil {
		return SeasonReport{Spec: s}, err
	}
	f, err := farm.Open(ctx, s.Farm)
	if err != nil {
		return SeasonReport{Spec: s}, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if rep, err = showField(ctx, f, s, s.Out != "", call); err != nil || s.Out == "" {
		return rep, err
	}
	return rep, rep.write(ctx, call)
}

// settle takes today where no day is named.
func (s *SeasonShow) settle(now time.Time) error {
	if s.Day.IsZero() {
		s.Day = now.UTC().Truncate(24 * time.Hour)
	}
	if err := s.Validate(); err != nil {
		return &WrongCall{err}
	}
	return nil
}

// showField tells of one field; fresh: the operations are laid even if what they came to is kept, so that they can be drawn.
func showField(ctx context.Context, f *farm.Farm, s SeasonShow, fresh bool, call *Call) (rep SeasonReport, err error) {
	rep = SeasonReport{Spec: s, Operations: []SeasonOperation{}, Findings: []geo.Finding{}}
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
	all = slices.DeleteFunc(all, func(o farm.Operation) bool { return s.Season != 0 && o.Begin.Year() != s.Season })
	rep.Totals = totalsOf(all, s.Rates)
	if s.Weather.File != "" {
		var found []geo.Finding
		rep.station, found, err = s.Weather.read(ctx, rep.Field.Geo(""), call)
		if rep.Findings = append(rep.Findings, found...); err != nil {
			return rep, err
		}
	}
	source := sha256.New()
	asOf := "after all" // what is kept then holds on any day after all operations
	for _, o := range all {
		if !cmp.Or(o.End, o.Begin).Before(s.Day) {
			asOf = s.Day.Format(time.RFC3339)
		}
	}
	fmt.Fprintln(source, madeBy(), asOf)
	for _, o := range all {
		one := SeasonOperation{Operation: o}
		checked, err := f.Checked(ctx, o.Number)
		if err != nil {
			return rep, err
		}
		if one.Weather, err = rep.weather(o, checked.Report); err != nil {
			return rep, err
		}
		if err := rep.wear(o, checked.Report); err != nil {
			return rep, err
		}
		rep.Operations = append(rep.Operations, one)
		fmt.Fprintf(source, "%d %v %s\n", o.Number, o.Work, checked.Options)
	}
	corrections, err := f.Corrections(ctx, rep.Field.Number)
	if err != nil {
		return rep, err
	}
	kneeled, err := f.Spots(ctx, rep.Field.Number)
	if err != nil {
		return rep, err
	}
	if err := json.NewEncoder(source).Encode(kneeled); err != nil {
		return rep, err
	}
	fmt.Fprintf(source, "%v %v\n", rep.Field, corrections)
	if len(all) == 0 {
		return rep, nil
	}
	key := hex.EncodeToString(source.Sum(nil))
	kept, err := f.Kept(ctx, rep.Field.Number, key)
	if err == nil && kept != "" && !fresh {
		var was struct {
			Across   *Across
			Spots    []SeasonSpots
			Findings []geo.Finding
		}
		if err := json.Unmarshal([]byte(kept), &was); err == nil {
			rep.Across, rep.Spots, rep.Findings = was.Across, was.Spots, append(rep.Findings, was.Findings...)
			if a := rep.Across; a != nil && a.Cut != nil && !a.Cut.Day.Equal(s.Day) {
				later := a.Later(*a.Cut, s.Day)
				a.Cut = &later
			}
			rep.due()
			return rep, nil
		}
	}
	if err != nil {
		return rep, err
	}
	if err := rep.across(ctx, f, kneeled, call); err != nil {
		return rep, err
	}
	rep.due()
	if fresh {
		return rep, nil
	}
	text, err := json.Marshal(map[string]any{"across": rep.Across, "spots": rep.Spots, "findings": rep.Findings})
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
func (r *SeasonReport) weather(o farm.Operation, report []byte) (*Weather, error) {
	station := r.station
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
func (r *SeasonReport) across(ctx context.Context, f *farm.Farm, kneeled []farm.Spot, call *Call) error {
	all, operations, err := r.drive(ctx, f, call)
	if err != nil || len(all) == 0 {
		return err
	}
	call.step("laying the operations together", len(r.Operations), len(r.Operations)+1)
	a := &Across{}
	for _, one := range all {
		a.Numbers = append(a.Numbers, one.Number)
	}
	if a.Result, err = workers.Until(ctx, func() (season.Result, error) { return season.Of(ctx, r.on, operations, all[0].work.Workers) }); err != nil {
		return err
	}
	if a.Doing(season.Cuts) != nil {
		since := a.Since(season.Cuts, r.Spec.Day)
		a.Cut = &since
	}
	a.Seeding = a.SeedAndCut()
	r.Across = a
	r.last = &all[len(all)-1]
	return r.spots(ctx, all, kneeled)
}

// spots tells what the spot checks of each operation prove.
func (r *SeasonReport) spots(ctx context.Context, all []drivenAgain, kneeled []farm.Spot) error {
	for _, one := range all {
		of := SeasonSpots{Operation: one.Number}
		for _, s := range kneeled {
			if s.Operation == one.Number {
				of.Checks = append(of.Checks, s.Check)
			}
		}
		if len(of.Checks) == 0 {
			continue
		}
		result, err := workers.Until(ctx, func() (coverage.Result, error) { return coverage.Check(ctx, one.field, one.tracks, one.work) })
		if err == nil {
			of.Found, err = spots.Of(of.Checks, []spots.Operation{spots.OperationOf("", result)}, spots.Wanted{Overlap: one.work.Overlap})
		}
		if err != nil {
			return fmt.Errorf("spot checks of operation %d: %w", one.Number, err)
		}
		r.Spots = append(r.Spots, of)
	}
	return nil
}

// BackWords say what going back wins; "" where it was not planned.
func (r *SeasonReport) BackWords() string {
	if r.Back == nil {
		return ""
	}
	return r.Back.words(r.Spec.Language, r.last.Number, r.Across.Main().Missed)
}

// SpotWords are what spot checks prove, in sentences, by operation.
func (r *SeasonReport) SpotWords() (text []string) {
	l := r.Spec.Language
	for _, s := range r.Spots {
		for i, sentence := range answer.Spots(s.Found, l) {
			if i == 0 {
				sentence = l.Say("Operation %d, %s: %s", s.Operation, l.Count(len(s.Checks), "spot check"), sentence)
			}
			text = append(text, sentence)
		}
	}
	return text
}

// drivenAgain is an operation of the farm, read again.
type drivenAgain struct {
	farm.Operation
	field    geo.Field // as corrections leave it
	tracks   []geo.Track
	work     drive.Work
	set      rig.Implement
	spec     Spec          // as it was checked
	in       inputs        // that a check of it takes
	gate     *orb.Point    // that the farm has for the field
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
	one.Operation, one.in = o, inputs{field: field, fields: []geo.Field{field}, tracks: here}
	if one.field, one.tracks, err = again.worked(ctx, one.in); err != nil {
		return one, err
	}
	one.findings = slices.DeleteFunc(again.Findings, func(f geo.Finding) bool { return f.File != r.Spec.Farm })
	err = s.settle(one.tracks)
	one.work, one.set, one.gate, one.spec = s.Work, s.Implement, again.gate, *s
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
	page, err := r.Spec.page()
	if err != nil {
		return &WrongCall{err}
	}
	parts, err := r.Across.WorkedTimes(ctx, *r.Across.Main())
	if err != nil {
		return err
	}
	again, left, err := r.last.back(ctx, r.Across.Result, parts[0].Ground)
	if err != nil {
		return err
	}
	r.Back = backOf(again)
	names := append([]string{reportFile, seasonSheetFile}, reworkNames...)
	files := []output{{name: seasonSheetFile, write: func(w io.Writer) error {
		return sheet.SeasonPDF(ctx, w, []sheet.SeasonField{r.sheet()}, page)
	}}}
	for _, l := range layers {
		name := strings.ReplaceAll(l.Name, "_", "-") + ".geojson"
		names = append(names, name)
		files = append(files, output{name: name, write: func(w io.Writer) error { return vector.WriteGeoJSON(w, l) }})
	}
	if again != nil {
		more, not := again.files(left, r.Field.Name, r.Spec.Language)
		if files = append(files, more...); not != nil {
			r.Findings = append(r.Findings, *not)
		}
	}
	if err := call.guard(ctx, r.Spec.Out, targets{sure: names}); err != nil {
		return err
	}
	return call.fill(ctx, r.Spec.Out, "season show", files, &r.Placed, func(w io.Writer) error { return r.JSON(w) })
}
