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
	file, n := in.fields[0].Source, len(in.fields)
	f, away := nearest(in.fields, in.tracks)
	switch {
	case away < 0:
		return fmt.Errorf("the tracks lie on none of the %d fields of %s", n, file)
	case away < 10e3:
		return fmt.Errorf("the tracks lie on none of the %d fields of %s; the nearest to where they begin is %s, some %.0f m away", n, file, FieldName{Name: f.Name}.Shown(), away)
	}
	return fmt.Errorf("the tracks lie on none of the %d fields of %s; the nearest to where they begin is %s, some %.0f km away", n, file, FieldName{Name: f.Name}.Shown(), away/1e3)
}

// nearest is the field whose middle lies nearest to where the tracks begin, and how far it is on a sphere, m; below 0: there is no fix.
func nearest(fields []geo.Field, tracks []geo.Track) (f geo.Field, away float64) {
	away = -1
	for _, t := range tracks {
		if t.Fixes() == 0 {
			continue
		}
		flat := t.Line.FlatCoords()
		for _, one := range fields {
			if d := onSphere(one.Boundary.Bound().Center(), orb.Point{flat[0], flat[1]}); away < 0 || d < away {
				f, away = one, d
			}
		}
	}
	return f, away
}

// onSphere is how far apart two places are on a sphere of the Earth's mean radius (6371.0088 km, IUGG 1980), m, by the formula of haversines (R. W. Sinnott,
// Sky and Telescope 68, 1984, from memory): good to half a hundredth.
func onSphere(a, b orb.Point) float64 {
	rad := math.Pi / 180
	north, east := math.Sin((b[1]-a[1])*rad/2), math.Sin((b[0]-a[0])*rad/2)
	return 2 * 6371008.8 * math.Asin(math.Sqrt(min(1, north*north+math.Cos(a[1]*rad)*math.Cos(b[1]*rad)*east*east)))
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
