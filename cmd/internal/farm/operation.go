package farm

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"balk/coverage/season"
	"balk/export/vector"
)

// Work is what no log knows of an operation.
type Work struct {
	Does        []string `json:"does"`                  // components, see season.Components
	DepthSet    float64  `json:"depthSet,omitempty"`    // cm; 0 = not said
	DepthTarget float64  `json:"depthTarget,omitempty"` // cm
	CropBefore  string   `json:"cropBefore,omitempty"`
	CropAfter   string   `json:"cropAfter,omitempty"`
	Soil        string   `json:"soil,omitempty"`
	Driver      string   `json:"driver,omitempty"`
	Client      string   `json:"client,omitempty"`
}

// maxDepth is below what any implement reaches; more is millimetres, cm.
const maxDepth = 150

// Validate says what is wrong with w.
func (w Work) Validate() error {
	known := strings.Trim(fmt.Sprint(season.Components), "[]")
	if len(w.Does) == 0 {
		return fmt.Errorf("not said what the operation does: one or several of %s (--does)", known)
	}
	for i, c := range w.Does {
		if !slices.Contains(season.Components, season.Component(c)) {
			return fmt.Errorf("does %q: must be one or several of %s", c, known)
		}
		if slices.Contains(w.Does[:i], c) {
			return fmt.Errorf("does %q twice", c)
		}
	}
	for _, d := range []float64{w.DepthSet, w.DepthTarget} {
		if !(d >= 0 && d <= maxDepth) {
			return fmt.Errorf("depth %g cm: must be from 0 to %d", d, maxDepth)
		}
	}
	return nil
}

// Sum is what came of an operation in short. Areas are m².
type Sum struct {
	Area    float64 `json:"area"`   // of the field; in a total once per operation
	Worked  float64 `json:"worked"` // of it, once or more
	Double  float64 `json:"double"` // of it, twice or more
	Missed  float64 `json:"missed"`
	Unknown float64 `json:"unknown"`
	Metres  float64 `json:"metres"`  // driven at work
	Seconds float64 `json:"seconds"` // on the field: at work, turning, standing
	Litres  float64 `json:"litres"`  // by the machine's own counters, where it has any; 0 = not known
}

// Add adds what came of another.
func (s *Sum) Add(o Sum) {
	s.Area += o.Area
	s.Worked += o.Worked
	s.Double += o.Double
	s.Missed += o.Missed
	s.Unknown += o.Unknown
	s.Metres += o.Metres
	s.Seconds += o.Seconds
	s.Litres += o.Litres
}

// Set is what an operation was worked with.
type Set struct {
	Name        string `json:"name"`
	Description string `json:"description"` // TOML
}

// Operation is one operation on one field.
type Operation struct {
	Number int64     `json:"number"` // in this farm
	Field  string    `json:"field"`
	Set    string    `json:"set"`
	Begin  time.Time `json:"begin,omitzero"`
	End    time.Time `json:"end,omitzero"`
	Work
	Sum
}

// Entry is an operation to be added, with all that belongs to it.
type Entry struct {
	Field   Field // Number is not looked at
	Set     Set
	Begin   time.Time
	End     time.Time
	Work    Work
	Sum     Sum
	Options json.RawMessage // it was checked with
	Program string
	Form    int             // version of that of Report
	Report  json.RawMessage // of the check
	Logs    []Log           // kept by Keep
}

// Twice is the error of an operation that is there already: of the same logs, on the same field, begun at the same time; or of the same
// driving in files of another form.
type Twice struct {
	Number  int64
	Field   string
	Driving bool // other files
}

func (e *Twice) Error() string {
	if e.Driving {
		return fmt.Sprintf("the same driving is there already, from other files, as operation %d on %q", e.Number, e.Field)
	}
	return fmt.Sprintf("the same logs are there already as operation %d on %q", e.Number, e.Field)
}

// Add adds an operation, and its field if that is new.
func (f *Farm) Add(ctx context.Context, e Entry) (number int64, err error) {
	if err := e.Work.Validate(); err != nil {
		return 0, err
	}
	if e.Field.Name == "" {
		return 0, errors.New("a field of a farm has a name")
	}
	err = f.change(ctx, func(t *tx) error {
		field, err := t.field(e.Field)
		if err != nil {
			return err
		}
		if err := t.notTwice(field, e); err != nil {
			return err
		}
		number, err = t.operation(field, e)
		return err
	})
	return number, err
}

// said is a text, or NULL for none.
func said(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// known is a number, or NULL for none.
func known(v float64) any {
	if v == 0 {
		return nil
	}
	return v
}

// notTwice refuses an operation of logs that one on the same field begun at the same time has, and one that was driven as one there.
func (t *tx) notTwice(field int64, e Entry) error {
	for _, l := range e.Logs {
		var number int64
		err := t.conn.QueryRowContext(t.ctx, `SELECT o.fid FROM operation o JOIN operation_log ol ON ol.operation = o.fid JOIN log l ON l.fid = ol.log
			WHERE l.sha256 = ? AND o.field = ? AND o.begun IS ?`, l.SHA256, field, instant(e.Begin)).Scan(&number)
		if err == nil {
			return &Twice{number, e.Field.Name, false}
		}
		if !errors.Is(err, sql.ErrNoRows) {
			return err
		}
	}
	if e.Begin.IsZero() || e.End.IsZero() {
		return nil
	}
	var number int64
	err := t.conn.QueryRowContext(t.ctx, `SELECT fid FROM operation WHERE field = ? AND abs(julianday(begun) - julianday(?)) <= ? AND abs(julianday(ended) - julianday(?)) <= ?
		AND abs(worked - ?) <= ?`, field, instant(e.Begin), sameTime, instant(e.End), sameTime, e.Sum.Worked, sameWork*e.Sum.Worked).Scan(&number)
	switch {
	case err == nil:
		return &Twice{number, e.Field.Name, true}
	case !errors.Is(err, sql.ErrNoRows):
		return err
	}
	return nil
}

// One driving in two files begins and ends at the same times but for how they are rounded, and works the same but for how places are.
const (
	sameTime = 2.0 / 86400 // days
	sameWork = 0.005
)

// instant is a time as the file has it; NULL for none.
func instant(at time.Time) any {
	if at.IsZero() {
		return nil
	}
	return vector.InstantText(at)
}

// at reads a time; other programs write other forms of ISO 8601.
func at(s sql.NullString) (time.Time, error) {
	if s.String == "" {
		return time.Time{}, nil
	}
	for _, form := range []string{time.RFC3339Nano, "2006-01-02T15:04:05.999", "2006-01-02 15:04:05.999", "2006-01-02T15:04", "2006-01-02"} {
		if t, err := time.Parse(form, s.String); err == nil {
			return t.UTC(), nil
		}
	}
	return time.Time{}, fmt.Errorf("time %q: must be like 2026-04-14T06:30:00Z", s.String)
}

// operation puts in all rows of an operation.
func (t *tx) operation(field int64, e Entry) (int64, error) {
	if err := t.do("INSERT INTO implement_set (name, description) VALUES (?, ?) ON CONFLICT DO NOTHING", e.Set.Name, e.Set.Description); err != nil {
		return 0, err
	}
	w, s := e.Work, e.Sum
	number, err := t.insert(`INSERT INTO operation (field, implement_set, begun, ended, does, depth_set, depth_target, crop_before, crop_after, soil, driver, client,
		options, program, form, area, worked, twice, missed, unknown, metres, seconds, litres)
		VALUES (?, (SELECT fid FROM implement_set WHERE name = ? AND description = ?), ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		field, e.Set.Name, e.Set.Description, instant(e.Begin), instant(e.End), strings.Join(w.Does, ","), known(w.DepthSet), known(w.DepthTarget), said(w.CropBefore), said(w.CropAfter), said(w.Soil), said(w.Driver), said(w.Client),
		string(e.Options), e.Program, e.Form, s.Area, s.Worked, s.Double, s.Missed, s.Unknown, s.Metres, s.Seconds, s.Litres)
	if err != nil {
		return 0, err
	}
	if err := t.do("INSERT INTO result VALUES (?, ?)", number, string(e.Report)); err != nil {
		return 0, err
	}
	for i, l := range e.Logs {
		if err := t.do("INSERT INTO log (sha256, name, extension, bytes) VALUES (?, ?, ?, ?) ON CONFLICT DO NOTHING", l.SHA256, l.Name, strings.TrimPrefix(l.Kept, l.path("")), l.Bytes); err != nil {
			return 0, err
		}
		if err := t.do("INSERT INTO operation_log (operation, log, place) VALUES (?, (SELECT fid FROM log WHERE sha256 = ?), ?)", number, l.SHA256, i+1); err != nil {
			return 0, err
		}
	}
	return number, nil
}

// rows reads the rows of a question one after the other.
func (f *Farm) rows(ctx context.Context, each func(*sql.Rows) error, text string, args ...any) (err error) {
	r, err := f.conn.QueryContext(ctx, text, args...)
	if err != nil {
		return f.told(err)
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	for r.Next() {
		if err := each(r); err != nil {
			return err
		}
	}
	return r.Err()
}

// Operations are those on a field (0: on all), in the order of time.
func (f *Farm) Operations(ctx context.Context, field int64) (all []Operation, err error) {
	err = f.rows(ctx, func(r *sql.Rows) error {
		var o Operation
		var begun, ended, before, after, soil, driver, client sql.NullString
		var set, target sql.NullFloat64
		var does string
		if err := r.Scan(&o.Number, &o.Field, &o.Set, &begun, &ended, &does, &set, &target, &before, &after, &soil, &driver, &client,
			&o.Area, &o.Worked, &o.Double, &o.Missed, &o.Unknown, &o.Metres, &o.Seconds, &o.Litres); err != nil {
			return err
		}
		var err, err2 error
		o.Begin, err = at(begun)
		o.End, err2 = at(ended)
		if err = cmp.Or(err, err2); err != nil {
			return fmt.Errorf("%s: operation %d: %w", f.path, o.Number, err)
		}
		o.Work = Work{strings.Split(does, ","), set.Float64, target.Float64, before.String, after.String, soil.String, driver.String, client.String}
		all = append(all, o)
		return nil
	}, `SELECT o.fid, f.name, s.name, o.begun, o.ended, o.does, o.depth_set, o.depth_target, o.crop_before, o.crop_after, o.soil, o.driver, o.client,
		o.area, o.worked, o.twice, o.missed, o.unknown, o.metres, o.seconds, o.litres
		FROM operation o JOIN field f ON f.fid = o.field JOIN implement_set s ON s.fid = o.implement_set
		WHERE o.field = ? OR ? = 0 ORDER BY o.begun, o.fid`, field, field)
	return all, err
}

// Checked is how an operation was checked, and what came of it.
type Checked struct {
	Options json.RawMessage
	Program string
	Form    int
	Report  json.RawMessage
	Set     Set
	Logs    []Log
}

// Checked gives what belongs to an operation.
func (f *Farm) Checked(ctx context.Context, operation int64) (c Checked, err error) {
	var options, report string
	err = f.conn.QueryRowContext(ctx, `SELECT o.options, o.program, o.form, r.report, s.name, s.description FROM operation o JOIN result r ON r.fid = o.fid
		JOIN implement_set s ON s.fid = o.implement_set WHERE o.fid = ?`, operation).Scan(&options, &c.Program, &c.Form, &report, &c.Set.Name, &c.Set.Description)
	if errors.Is(err, sql.ErrNoRows) {
		return Checked{}, &NoOperation{operation}
	}
	if err != nil {
		return Checked{}, f.told(err)
	}
	c.Options, c.Report = json.RawMessage(options), json.RawMessage(report)
	err = f.rows(ctx, func(r *sql.Rows) error {
		var l Log
		var extension string
		if err := r.Scan(&l.SHA256, &l.Name, &extension, &l.Bytes); err != nil {
			return err
		}
		l.Kept = l.path(extension)
		c.Logs = append(c.Logs, l)
		return nil
	}, "SELECT l.sha256, l.name, l.extension, l.bytes FROM log l JOIN operation_log ol ON ol.log = l.fid WHERE ol.operation = ? ORDER BY ol.place", operation)
	return c, err
}

// NoOperation is the error of an operation that is not there.
type NoOperation struct{ Number int64 }

func (e *NoOperation) Error() string {
	return fmt.Sprintf("no operation %d in this farm (balk season list)", e.Number)
}

// Remove moves an operation aside, with its corrections: into the table of what was removed. Its logs stay kept.
func (f *Farm) Remove(ctx context.Context, operation int64, now time.Time) error {
	return f.change(ctx, func(t *tx) error {
		all := map[string][]map[string]any{}
		for table, where := range map[string]string{"operation": "fid", "result": "fid", "operation_log": "operation", "correction": "operation"} {
			var err error
			if all[table], err = t.whole(t.ctx, "SELECT * FROM "+table+" WHERE "+where+" = ? ORDER BY fid", operation); err != nil {
				return err
			}
		}
		if len(all["operation"]) == 0 {
			return &NoOperation{operation}
		}
		text, err := json.Marshal(all)
		if err != nil {
			return err
		}
		if err := t.do("INSERT INTO removed (kind, number, at, rows) VALUES ('operation', ?, ?, ?)", operation, instant(now), string(text)); err != nil {
			return err
		}
		return t.do("DELETE FROM operation WHERE fid = ?", operation)
	})
}

// whole are rows with all their columns; bytes are written as JSON does.
func (f *Farm) whole(ctx context.Context, text string, args ...any) (all []map[string]any, err error) {
	err = f.rows(ctx, func(r *sql.Rows) error {
		names, err := r.Columns()
		if err != nil {
			return err
		}
		values := make([]any, len(names))
		for i := range values {
			values[i] = new(any)
		}
		if err := r.Scan(values...); err != nil {
			return err
		}
		row := map[string]any{}
		for i, name := range names {
			row[name] = *values[i].(*any)
		}
		all = append(all, row)
		return nil
	}, text, args...)
	return all, err
}

// Kept is what was worked out across a field's operations, of what source says; "" where it is of something else.
func (f *Farm) Kept(ctx context.Context, field int64, source string) (result string, err error) {
	err = f.conn.QueryRowContext(ctx, "SELECT result FROM season WHERE fid = ? AND source = ?", field, source).Scan(&result)
	if errors.Is(err, sql.ErrNoRows) {
		return "", nil
	}
	return result, f.told(err)
}

// KeepSeason keeps it.
func (f *Farm) KeepSeason(ctx context.Context, field int64, source, result string) error {
	return f.change(ctx, func(t *tx) error {
		return t.do("INSERT OR REPLACE INTO season VALUES (?, ?, ?)", field, source, result)
	})
}
