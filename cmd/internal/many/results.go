package many

import (
	"cmp"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"strings"
	"time"

	"balk/cmd/internal/batch"

	"github.com/jackc/pgx/v5"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/ewkb"
)

// wgs84 is the number that geometry is stored under: EPSG:4326.
const wgs84 = 4326

// surveyed gives what is kept of a log under a key.
func (d *Database) surveyed(ctx context.Context, key string) (s batch.Survey, is bool, err error) {
	err = d.pool.QueryRow(ctx, "SELECT survey FROM balk.survey WHERE key = $1", key).Scan(&s)
	if errors.Is(err, pgx.ErrNoRows) {
		return s, false, nil
	}
	return s, err == nil, err
}

// columns of the table result, in the order of values.
var columns = []string{"key", "part", "state", "field", "field_name", "farm", "set", "driver", "machine", "days", "begun", "ended", "logs", "area", "worked", "twice", "missed", "unknown", "outside",
	"metres", "seconds", "litres", "strips", "answer", "wear", "fault_file", "fault_record", "fault", "lost", "program", "form", "took", "worker", "boundary"}

// values are those of a row.
func values(r batch.Row, worker string) ([]any, error) {
	var fault batch.Fault
	if r.Fault != nil {
		fault = *r.Fault
	}
	lost, err := json.Marshal(r.Lost)
	if err != nil {
		return nil, err
	}
	wear, err := json.Marshal(r.Wear)
	if err != nil {
		return nil, err
	}
	var boundary []byte
	if len(r.Boundary) > 0 {
		if boundary, err = ewkb.Marshal(r.Boundary, wgs84); err != nil {
			return nil, err
		}
	}
	return []any{r.Key, r.Part, string(r.State), r.Field, r.FieldName, r.Farm, r.Set, r.Driver, r.Machine, r.Days, dated(r.Begin), dated(r.End), append([]string{}, r.Logs...), r.Area, r.Worked, r.Double, r.Missed, r.Unknown, r.Outside,
		r.Metres, r.Seconds, r.Litres, r.Strips, r.Answer, wear, fault.File, fault.Record, fault.What, lost, r.Program, r.Form, r.Took, worker, boundary}, nil
}

// dated is a time, or nothing where there is none.
func dated(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	return &t
}

// put keeps the rows of an operation in the place of those that were there.
func put(ctx context.Context, tx pgx.Tx, key string, rows []batch.Row, worker string) error {
	all := make([][]any, len(rows))
	for i, r := range rows {
		if r.Key != key {
			return fmt.Errorf("a row of %s among those of %s", r.Key, key)
		}
		var err error
		if all[i], err = values(r, worker); err != nil {
			return err
		}
	}
	if _, err := tx.Exec(ctx, "DELETE FROM balk.result WHERE key = $1", key); err != nil {
		return err
	}
	if _, err := tx.CopyFrom(ctx, pgx.Identifier{schema, "result"}, columns, pgx.CopyFromRows(all)); err != nil {
		return err
	}
	var strips [][]any
	for _, r := range rows {
		for _, s := range r.Missing {
			shape, err := ewkb.Marshal(s.Shape, wgs84)
			if err != nil {
				return err
			}
			strips = append(strips, []any{r.Key, r.Part, s.Number, s.Area, s.Length, s.MeanWidth, s.MaxWidth, s.Bearing, s.Cause, s.Surety, s.Certain, s.Likely, s.Headland, shape})
		}
	}
	if len(strips) == 0 {
		return nil
	}
	_, err := tx.CopyFrom(ctx, pgx.Identifier{schema, "strip"}, stripColumns, pgx.CopyFromRows(strips))
	return err
}

// stripColumns are those of the table strip, named as the members of a batch.Strip.
var stripColumns = []string{"key", "part", "number", "area", "length", "mean_width", "max_width", "bearing", "cause", "surety", "certain", "likely", "headland", "shape"}

// strip is a row of that table as JSON, its shape in well-known binary.
type strip struct {
	batch.Strip
	Shape string `json:"shape"`
}

// stripsOf are those of a row.
func stripsOf(all []strip) (strips []batch.Strip, err error) {
	for _, s := range all {
		shape, err := hex.DecodeString(s.Shape)
		if err != nil {
			return nil, err
		}
		g, _, err := ewkb.Unmarshal(shape)
		if err != nil {
			return nil, err
		}
		s.Strip.Shape, _ = g.(orb.MultiPolygon) // by the type of the column
		strips = append(strips, s.Strip)
	}
	return strips, nil
}

// Surveys are those of the logs of a batch. Of a log that was not looked at, since its bundle was given up, they say so.
func (d *Database) Surveys(ctx context.Context, id int64, why string) ([]batch.Survey, error) {
	rows, err := d.pool.Query(ctx, "SELECT log, survey FROM balk.log WHERE batch = $1 ORDER BY place", id)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (s batch.Survey, err error) {
		var kept *batch.Survey
		var l batch.Log
		if err := row.Scan(&l, &kept); err != nil || kept != nil {
			return *cmp.Or(kept, &s), err
		}
		return batch.Survey{Log: l, State: batch.Failed, Fault: &batch.Fault{File: l.Name, What: givenUp(why)}}, nil
	})
}

// Unworked are the operations of a batch that have no rows, since their bundle was given up, as faults.
func (d *Database) Unworked(ctx context.Context, id int64, why string) ([]batch.Fault, error) {
	rows, err := d.pool.Query(ctx, "SELECT task FROM balk.operation o WHERE batch = $1 AND NOT EXISTS (SELECT FROM balk.result r WHERE r.key = o.key) ORDER BY place", id)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (f batch.Fault, err error) {
		var t batch.Task
		err = row.Scan(&t)
		var names []string
		for _, p := range t.Parts {
			names = append(names, p.Log.Name)
		}
		return batch.Fault{File: strings.Join(names, ", "), What: givenUp(why)}, err
	})
}

// givenUp says why something was not done.
func givenUp(why string) string {
	if why == "" {
		return "it is not done, or was cancelled"
	}
	return "it was given up: " + why
}

// Rows are those of a batch, by field, begin, key and part. They come as they are read, however many there are.
func (d *Database) Rows(ctx context.Context, id int64) iter.Seq2[batch.Row, error] {
	return func(yield func(batch.Row, error) bool) {
		rows, err := d.pool.Query(ctx, `SELECT r.key, part, state, field, field_name, farm, set, driver, machine, days, begun, ended, logs, area, worked, twice, missed, unknown, outside, metres, seconds, litres, strips, answer, wear,
			fault_file, fault_record, fault, lost, program, form, took, ST_AsBinary(boundary),
			coalesce((SELECT json_agg(json_build_object('number', s.number, 'area', s.area, 'length', s.length, 'mean_width', s.mean_width, 'max_width', s.max_width, 'bearing', s.bearing, 'cause', s.cause, 'surety', s.surety,
				'certain', s.certain, 'likely', s.likely, 'headland', s.headland, 'shape', encode(ST_AsBinary(s.shape), 'hex')) ORDER BY s.number) FROM balk.strip s WHERE s.key = r.key AND s.part = r.part), '[]')
			FROM balk.result r JOIN balk.operation o ON o.key = r.key WHERE o.batch = $1
			ORDER BY field, begun NULLS FIRST, r.key COLLATE "C", part`, id)
		if err != nil {
			yield(batch.Row{}, err)
			return
		}
		defer rows.Close()
		for rows.Next() {
			var one batch.Row
			var fault batch.Fault
			var begun, ended *time.Time
			var boundary []byte
			var strips []strip
			err := rows.Scan(&one.Key, &one.Part, &one.State, &one.Field, &one.FieldName, &one.Farm, &one.Set, &one.Driver, &one.Machine, &one.Days, &begun, &ended, &one.Logs, &one.Area, &one.Worked, &one.Double, &one.Missed,
				&one.Unknown, &one.Outside, &one.Metres, &one.Seconds, &one.Litres, &one.Strips, &one.Answer, &one.Wear, &fault.File, &fault.Record, &fault.What, &one.Lost, &one.Program, &one.Form, &one.Took, &boundary, &strips)
			if err == nil {
				one.Missing, err = stripsOf(strips)
			}
			if err == nil && boundary != nil {
				var g orb.Geometry
				if g, _, err = ewkb.Unmarshal(boundary); err == nil {
					one.Boundary, _ = g.(orb.MultiPolygon) // by the type of the column
				}
			}
			if fault != (batch.Fault{}) {
				one.Fault = &fault
			}
			if begun != nil {
				one.Begin = begun.UTC()
			}
			if ended != nil {
				one.End = ended.UTC()
			}
			if !yield(one, err) || err != nil {
				return
			}
		}
		if err := rows.Err(); err != nil {
			yield(batch.Row{}, err)
		}
	}
}
