package many

import (
	"context"
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
	"metres", "seconds", "litres", "strips", "answer", "fault_file", "fault_record", "fault", "lost", "program", "form", "took", "worker", "boundary"}

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
	var boundary []byte
	if len(r.Boundary) > 0 {
		if boundary, err = ewkb.Marshal(r.Boundary, wgs84); err != nil {
			return nil, err
		}
	}
	logs := make([]string, len(r.Logs))
	for i, name := range r.Logs {
		logs[i] = text(name)
	}
	return []any{r.Key, r.Part, string(r.State), r.Field, text(r.FieldName), text(r.Farm), text(r.Set), text(r.Driver), text(r.Machine), r.Days, dated(r.Begin), dated(r.End), logs, r.Area, r.Worked, r.Double, r.Missed, r.Unknown, r.Outside,
		r.Metres, r.Seconds, r.Litres, r.Strips, text(r.Answer), text(fault.File), fault.Record, text(fault.What), lost, r.Program, r.Form, r.Took, worker, boundary}, nil
}

// text is one as PostgreSQL can hold it: without NUL, and UTF-8 throughout.
func text(s string) string {
	return strings.ToValidUTF8(strings.ReplaceAll(s, "\x00", "\uFFFD"), "\uFFFD")
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
	_, err := tx.CopyFrom(ctx, pgx.Identifier{schema, "result"}, columns, pgx.CopyFromRows(all))
	return err
}

// Rows are those of a batch, by field, begin, key and part. They come as they are read, however many there are.
func (d *Database) Rows(ctx context.Context, id int64) iter.Seq2[batch.Row, error] {
	return func(yield func(batch.Row, error) bool) {
		rows, err := d.pool.Query(ctx, `SELECT r.key, part, state, field, field_name, farm, set, driver, machine, days, begun, ended, logs, area, worked, twice, missed, unknown, outside, metres, seconds, litres, strips, answer,
			fault_file, fault_record, fault, lost, program, form, took, ST_AsBinary(boundary) FROM balk.result r JOIN balk.operation o ON o.key = r.key WHERE o.batch = $1
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
			err := rows.Scan(&one.Key, &one.Part, &one.State, &one.Field, &one.FieldName, &one.Farm, &one.Set, &one.Driver, &one.Machine, &one.Days, &begun, &ended, &one.Logs, &one.Area, &one.Worked, &one.Double, &one.Missed,
				&one.Unknown, &one.Outside, &one.Metres, &one.Seconds, &one.Litres, &one.Strips, &one.Answer, &fault.File, &fault.Record, &fault.What, &one.Lost, &one.Program, &one.Form, &one.Took, &boundary)
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
