package farm

import (
	"cmp"
	"context"
	"database/sql"
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
	Place     orb.Geometry `json:"-"` // gate: a point; obstacle, boundary: areas; worked, lifted, aside: areas, or none where times say it
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
	Boundary Kind = "boundary" // the boundary from Begin on
)

// Correct puts a correction in.
func (f *Farm) Correct(ctx context.Context, c Correction) (number int64, err error) {
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
	err = f.change(ctx, func(t *tx) error {
		number, err = t.insert("INSERT INTO correction (geom, field, operation, kind, begun, ended, who, made, why) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
			shape, c.Field, operation, string(c.Kind), instant(c.Begin), instant(c.End), c.Who, instant(c.Made), c.Why)
		return err
	})
	return number, err
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
	case Obstacle, Boundary:
		if !area {
			return fmt.Errorf("correction %s: must be an area", c.Kind)
		}
	case Worked, Lifted, Aside:
		if c.Begin.IsZero() && c.End.IsZero() && !area {
			return fmt.Errorf("correction %s: must have an area, or times from and to", c.Kind)
		}
	default:
		return fmt.Errorf("correction %q: must be one of worked, lifted, aside, gate, obstacle, boundary", string(c.Kind))
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
