package farm

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"balk/geo"
)

// Spot is a spot check that is kept.
type Spot struct {
	Number    int64         `json:"number"`
	Operation int64         `json:"operation,omitempty"` // 0: none, as that was removed
	Check     geo.SpotCheck `json:"check"`
}

// AddSpots puts spot checks of an operation in, and says how many of them are new: the same record of the same operation is kept once.
func (f *Farm) AddSpots(ctx context.Context, operation int64, checks []geo.SpotCheck) (fresh int, err error) {
	err = f.change(ctx, func(t *tx) error {
		var field int64
		if err := t.conn.QueryRowContext(t.ctx, "SELECT field FROM operation WHERE fid = ?", operation).Scan(&field); err != nil {
			if errors.Is(err, sql.ErrNoRows) {
				err = &NoOperation{operation}
			}
			return err
		}
		for _, c := range checks {
			c.File, c.Record = "", 0 // where it came from is no part of it
			record, err := json.Marshal(c)
			if err != nil {
				return err
			}
			var there int
			if err := t.conn.QueryRowContext(t.ctx, "SELECT count(*) FROM spot WHERE operation = ? AND record = ?", operation, string(record)).Scan(&there); err != nil {
				return err
			}
			if there > 0 {
				continue
			}
			var place any
			if c.At != nil {
				if place, err = blob(*c.At); err != nil {
					return err
				}
			}
			if err := t.do("INSERT INTO spot (geom, field, operation, at, record) VALUES (?, ?, ?, ?, ?)", place, field, operation, instant(c.Time), string(record)); err != nil {
				return err
			}
			fresh++
		}
		return nil
	})
	return fresh, err
}

// Spots are the spot checks on a field, in the order they were kept. A place that another program moved is that of its point.
func (f *Farm) Spots(ctx context.Context, field int64) (all []Spot, err error) {
	err = f.rows(ctx, func(r *sql.Rows) error {
		var s Spot
		var shape []byte
		var operation sql.NullInt64
		var record string
		if err := r.Scan(&s.Number, &shape, &operation, &record); err != nil {
			return err
		}
		s.Operation = operation.Int64
		err := json.Unmarshal([]byte(record), &s.Check)
		if err == nil {
			s.Check.At, err = pointOf(shape)
		}
		if err != nil {
			return fmt.Errorf("%s: spot check %d: %w", f.path, s.Number, err)
		}
		all = append(all, s)
		return nil
	}, "SELECT fid, geom, operation, record FROM spot WHERE field = ? ORDER BY fid", field)
	return all, err
}
