package job

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"balk/cmd/internal/farm"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// HasFarm tells whether a folder is that of a farm.
func HasFarm(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, farm.File))
	return err == nil
}

// corrections are those that the farm of the spec has for a field, by its name: none where no farm is named, or where it does not know the
// field.
func (s Spec) corrections(ctx context.Context, field geo.Field) (all []farm.Correction, err error) {
	if s.Farm == "" {
		return nil, nil
	}
	f, err := farm.Open(ctx, s.Farm)
	if _, none := errors.AsType[*farm.NotThere](err); none && HasFarm(s.Farm) {
		return nil, nil // another process is about to make it: it holds nothing yet
	}
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	known, err := f.Find(ctx, field.Name)
	if _, none := errors.AsType[*farm.NoField](err); none || err == nil && known.Name != field.Name {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return f.Corrections(ctx, known.Number)
}

// correct honours what the farm knows better than boundary and log, and says so. Those of single operations are for operation, 0 if that is
// none of the farm.
func (r *Report) correct(ctx context.Context, field geo.Field, tracks []geo.Track) (geo.Field, []geo.Track, error) {
	all, err := r.Spec.corrections(ctx, field)
	if err != nil || len(all) == 0 {
		return field, tracks, err
	}
	begin := beginOf(tracks)
	done := map[farm.Kind]int{}
	for _, c := range all {
		if c.Operation != 0 && c.Operation != r.Spec.operationOfFarm {
			continue
		}
		honoured := true
		switch c.Kind {
		case farm.Boundary, farm.Obstacle, farm.NoGo:
			if honoured = c.Begin.IsZero() || !begin.Before(c.Begin); honoured {
				field, err = withGround(ctx, field, c)
			}
		case farm.Gate:
			if at, ok := c.Place.(orb.Point); ok {
				r.gate = &at
			}
		default:
			tracks, honoured, err = corrected(tracks, c)
			if err == nil && !honoured && c.Kind != farm.Aside && slices.ContainsFunc(tracks, func(t geo.Track) bool { return t.State == nil }) {
				r.Findings = append(r.Findings, geo.Finding{File: r.Spec.Farm, Record: int(c.Number), What: fmt.Sprintf("correction %s: not honoured, for the log has no work state", c.Kind), Lost: true})
			}
		}
		if err != nil {
			return geo.Field{}, nil, fmt.Errorf("%s: correction %d: %w", r.Spec.Farm, c.Number, err)
		}
		if honoured {
			done[c.Kind]++
		}
	}
	var words []string
	for _, k := range []farm.Kind{farm.Worked, farm.Lifted, farm.Aside, farm.Gate, farm.Obstacle, farm.NoGo, farm.Boundary} {
		if n := done[k]; n > 0 {
			words = append(words, fmt.Sprintf("%s (%d)", k, n))
		}
	}
	if len(words) > 0 {
		r.Findings = append(r.Findings, geo.Finding{File: r.Spec.Farm, What: "corrections of the farm were honoured: " + strings.Join(words, ", ")})
	}
	return field, tracks, nil
}

// beginOf is when the first fix was logged; zero: nothing says it.
func beginOf(tracks []geo.Track) (begin time.Time) {
	for _, t := range tracks {
		flat, stride := t.Line.FlatCoords(), t.Line.Stride()
		for k := stride - 1; k < len(flat) && stride > 2; k += stride {
			if at := geo.Instant(flat[k]); geo.Dated(at) && (begin.IsZero() || at.Before(begin)) {
				begin = at
			}
		}
	}
	return begin
}

// withGround is a field with another boundary, or without an obstacle or ground nobody may drive on.
func withGround(ctx context.Context, field geo.Field, c farm.Correction) (geo.Field, error) {
	area, _ := c.Place.(orb.MultiPolygon)
	if one, ok := c.Place.(orb.Polygon); ok {
		area = orb.MultiPolygon{one}
	}
	area = area.Clone()
	for _, p := range area {
		for i, ring := range p {
			if want := orb.CCW; i > 0 && ring.Orientation() == want || i == 0 && ring.Orientation() != want {
				slices.Reverse(ring)
			}
		}
	}
	if c.Kind == farm.Boundary {
		field.Boundary = area
		return field, nil
	}
	local := field.Local()
	left, err := plane.Difference(ctx, field.OnPlane(local), geo.Field{Boundary: area}.OnPlane(local))
	if err != nil {
		return geo.Field{}, err
	}
	field.Boundary = nil
	for _, p := range left {
		var rings orb.Polygon
		for i, flat := range p {
			var ring orb.Ring
			for _, at := range flat {
				ring = append(ring, local.Point(at))
			}
			if n := len(ring); n > 0 && ring[0] != ring[n-1] {
				ring = append(ring, ring[0])
			}
			if (ring.Orientation() == orb.CCW) != (i == 0) {
				slices.Reverse(ring)
			}
			rings = append(rings, ring)
		}
		field.Boundary = append(field.Boundary, rings)
	}
	return field, nil
}

// corrected are tracks with what a correction says of some of their fixes: those from its begin to its end and in its area. honoured: it
// is about any of them that has a work state.
func corrected(tracks []geo.Track, c farm.Correction) (out []geo.Track, honoured bool, err error) {
	var ground *geo.FieldMap
	switch place := c.Place.(type) {
	case orb.Polygon:
		ground = geo.NewFieldMap([]geo.Field{{Boundary: orb.MultiPolygon{place}}})
	case orb.MultiPolygon:
		ground = geo.NewFieldMap([]geo.Field{{Boundary: place}})
	}
	for _, t := range tracks {
		flat, stride := t.Line.FlatCoords(), t.Line.Stride()
		meant := func(k int) bool {
			if !c.Begin.IsZero() || !c.End.IsZero() {
				at := geo.Instant(flat[k*stride+stride-1])
				if !geo.Dated(at) || at.Before(c.Begin) || !c.End.IsZero() && at.After(c.End) {
					return false
				}
			}
			return ground == nil || ground.At(orb.Point{flat[k*stride], flat[k*stride+1]}) != geo.Nowhere
		}
		any := false
		for k := range t.Fixes() {
			any = any || meant(k)
		}
		switch {
		case !any:
		case c.Kind == farm.Aside:
			honoured = true
			t = t.Cut(func(k int) bool { return !meant(k) }, true)
		case t.State != nil:
			honoured = true
			t.State = slices.Clone(t.State)
			for k := range t.State {
				if meant(k) {
					t.State[k] = map[farm.Kind]geo.WorkState{farm.Worked: geo.Working, farm.Lifted: geo.Lifted}[c.Kind]
				}
			}
		}
		if t.Fixes() > 0 {
			out = append(out, t)
		}
	}
	if len(out) == 0 {
		return nil, false, errors.New("nothing of the log is left")
	}
	return out, honoured, nil
}
