package job

import (
	"context"
	"errors"
	"fmt"
	"math"

	"balk/geo"
	"balk/geo/read"

	"github.com/paulmach/orb"
)

// near is how many degrees a track may lie from the field for the two to belong
// together: about 100 km.
const near = 1.0

// swapped finds files that do not agree on which coordinate comes first: a field
// and a track lie far apart as they are and close together with one of them
// turned round. A single file cannot show this where both numbers are possible
// latitudes.
func swapped(fields []geo.Field, tracks []geo.Track) error {
	for _, f := range fields {
		c := f.Boundary.Bound().Center()
		for _, t := range tracks {
			if t.Fixes() == 0 {
				continue
			}
			flat := t.Line.FlatCoords()
			p := orb.Point{flat[0], flat[1]}
			if !together(c, p) && together(orb.Point{c[1], c[0]}, p) {
				return fmt.Errorf("%s: the field lies at %.4f, %.4f, the track of %s at %.4f, %.4f: longitude and latitude are swapped in one of the two\nhint: longitude comes first in GeoJSON",
					f.Source, c[0], c[1], t.Source, p[0], p[1])
			}
		}
	}
	return nil
}

// nowhere is the error of tracks that lie on none of the fields.
func (in inputs) nowhere() error {
	if err := swapped(in.fields, in.tracks); err != nil {
		return err
	}
	return fmt.Errorf("the tracks lie on none of the %d fields of %s", len(in.fields), in.fields[0].Source)
}

// turnedAbout finds a call that gives the log where the field is wanted: the first file holds tracks, and one of the others a
// field. err is what was wrong with the first.
func (r *Report) turnedAbout(ctx context.Context, call *Call, err error) error {
	fault, ok := errors.AsType[*read.FileError](err)
	if !ok || !fault.Other() || r.Spec.Boundary == read.StandardInput {
		return err
	}
	for _, path := range r.Spec.Tracks {
		if path == read.StandardInput {
			continue
		}
		if fields, _, err := call.fields(ctx, path, r.Spec.Reading); err != nil || len(fields) == 0 {
			continue
		}
		options := read.TrackOptions{Columns: r.Spec.Columns, Taking: r.Spec.Taking, Files: &call.opened}
		if tracks, _, err := found(ctx, func() ([]geo.Track, []geo.Finding, error) { return read.Tracks(r.Spec.Boundary, options) }); err == nil && len(tracks) > 0 {
			return wrong("these look swapped: %s holds a log and %s a field\nhint: the field comes first, then the logs", r.Spec.Boundary, path)
		}
	}
	return err
}

func together(a, b orb.Point) bool {
	return math.Abs(a[0]-b[0]) < near && math.Abs(a[1]-b[1]) < near
}
