package farm

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/paulmach/orb"
)

// Correction is what somebody knows better than boundary or log.
type Correction struct {
	Number    int64        `json:"number"`
	Field     int64        `json:"field"`
	Operation int64        `json:"operation,omitempty"` // 0: any on the field
	Kind      Kind         `json:"kind"`
	Place     orb.Geometry `json:"-"` // gate: a point; obstacle, no-go, boundary: areas; worked, lifted, aside: areas, or none where times say it
	Begin     time.Time    `json:"begin,omitzero"`
	End       time.Time    `json:"end,omitzero"`
	Who       string       `json:"who"`
	Made      time.Time    `json:"made"`
	Why       string       `json:"why"`
}

// Kind is that of a correction.
type Kind string

const (
	Worked   Kind = "worked"   // the tool was in the ground
	Lifted   Kind = "lifted"   // it was not
	Aside    Kind = "aside"    // the fixes are not of this work, or cannot be true
	Gate     Kind = "gate"     // where the field is entered
	Obstacle Kind = "obstacle" // ground within the boundary that is no field, from Begin on
	NoGo     Kind = "no-go"    // ground within the boundary on which nobody may drive or work, from Begin on: a nest, a wet hollow
	Boundary Kind = "boundary" // the boundary from Begin on
)

// Correct puts a correction in.
func (f *Farm) Correct(ctx context.Context, c Correction) (number int64, err error) {
	err = f.change(ctx, func(t *tx) error {
		number, err = t.correct(c)
		return err
	})
	return number, err
}

// CorrectOn puts a correction of a field in, and the field if it is new.
func (f *Farm) CorrectOn(ctx context.Context, on Field, c Correction) (number int64, err error) {
	if on.Name == "" {
		return 0, errors.New("a field of a farm has a name")
	}
	err = f.change(ctx, func(t *tx) error {
		if c.Field, err = t.field(on); err == nil {
			number, err = t.correct(c)
		}
		return err
	})
	return number, err
}

func (t *tx) correct(c Correction) (int64, error) {
	if err := c.Validate(); err != nil {
		return 0, err
	}
	shape, err := blob(c.Place)
	if err != nil {
		return 0, err
	}
	var operation any
	if c.Operation != 0 {
		operation = c.Operation
	}
	return t.insert("INSERT INTO correction (geom, field, operation, kind, begun, ended, who, made, why) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
		shape, c.Field, operation, string(c.Kind), instant(c.Begin), instant(c.End), c.Who, instant(c.Made), c.Why)
}

// NoCorrection is the error of a correction that is not there.
type NoCorrection struct{ Number int64 }

func (e *NoCorrection) Error() string { return fmt.Sprintf("no correction %d in this farm", e.Number) }

// Withdraw moves a correction aside, into the table of what was removed.
func (f *Farm) Withdraw(ctx context.Context, number int64, now time.Time) error {
	return f.change(ctx, func(t *tx) error {
		rows, err := t.whole(t.ctx, "SELECT * FROM correction WHERE fid = ?", number)
		if err != nil {
			return err
		}
		if len(rows) == 0 {
			return &NoCorrection{number}
		}
		text, err := json.Marshal(map[string]any{"correction": rows})
		if err != nil {
			return err
		}
		if err := t.do("INSERT INTO removed (kind, number, at, rows) VALUES ('correction', ?, ?, ?)", number, instant(now), string(text)); err != nil {
			return err
		}
		return t.do("DELETE FROM correction WHERE fid = ?", number)
	})
}

// Validate says what is wrong with c.
func (c Correction) Validate() error {
	_, point := c.Place.(orb.Point)
	_, areaErr := ground(c.Place)
	area := areaErr == nil
	switch c.Kind {
	case Gate:
		if !point {
			return errors.New("a gate is a point")
		}
	case Obstacle, NoGo, Boundary:
		if !area {
			return fmt.Errorf("correction %s: must be an area", c.Kind)
		}
	case Worked, Lifted, Aside:
		if c.Begin.IsZero() && c.End.IsZero() && !area {
			return fmt.Errorf("correction %s: must have an area, or times from and to", c.Kind)
		}
	default:
		return fmt.Errorf("correction %q: must be one of worked, lifted, aside, gate, obstacle, no-go, boundary", string(c.Kind))
	}
	if !c.Begin.IsZero() && !c.End.IsZero() && c.End.Before(c.Begin) {
		return fmt.Errorf("correction %s: ends before it begins", c.Kind)
	}
	return nil
}

// Corrections are those of a field, in the order they were made.
func (f *Farm) Corrections(ctx context.Context, field int64) (all []Correction, err error) {
	err = f.rows(ctx, func(r *sql.Rows) error {
		var c Correction
		var shape []byte
		var operation sql.NullInt64
		var begun, ended, made sql.NullString
		if err := r.Scan(&c.Number, &shape, &c.Field, &operation, &c.Kind, &begun, &ended, &c.Who, &made, &c.Why); err != nil {
			return err
		}
		c.Operation = operation.Int64
		place, err := placeOf(shape)
		c.Place = place
		for _, one := range []struct {
			to   *time.Time
			from sql.NullString
		}{{&c.Begin, begun}, {&c.End, ended}, {&c.Made, made}} {
			var bad error
			*one.to, bad = at(one.from)
			err = cmp.Or(err, bad)
		}
		if err = cmp.Or(err, c.Validate()); err != nil {
			return fmt.Errorf("%s: correction %d: %w", f.path, c.Number, err)
		}
		all = append(all, c)
		return nil
	}, "SELECT fid, geom, field, operation, kind, begun, ended, who, made, why FROM correction WHERE field = ? ORDER BY made, fid", field)
	return all, err
}
