package demo

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"time"

	"balk/cmd/internal/folder"
	"balk/export/vector"
	"balk/geo"

	"github.com/paulmach/orb"
)

const readme = `An invented farm for trying out balk. Everything here is made up: the fields, their
names, the place, the sets and the logs. No real farm is meant.

fields.geojson            three fields: 1 Pond Piece (with an obstacle), 2 Elbow Field
                          (L-shaped), 3 Long Ribbon (long and thin)
fields.shp ... fields.zip the same as a shapefile, plain and zipped
track-pond.geojson        log of one operation on field 1 as GeoJSON points, WGS84
track-elbow.geojson       ... on field 2
track-ribbon.geojson      ... on field 3
track-*.shp ... .zip      the same logs as shapefiles, plain and zipped
sweep-mounted.toml        the set that worked fields 1 and 3, three headland rounds
sweep-trailed.toml        the set that worked field 2, four headland rounds

The ways were planned, and driven by a driver who steers along them; the implement hangs on
the tractor as its file says. One fix of the antenna a second and two at every lift
switch. time is UTC, working says whether the tool was in the ground, speed is m/s, the
third coordinate the height of the ground in metres, quality how the fix was won (fixed: a
correction signal resolved to the centimetre). The receiver's error of some millimetres
drifts slowly.

  balk check fields.geojson track-pond.geojson --implement sweep-mounted.toml --rounds 3 --out result

What is wrong on purpose, passes in the order driven, places in degrees on the line of the
middle of the tools, below. Beside it stands what the sets leave by themselves where the
corners of headland rounds are rounder than those of the field.

`

// Write writes the invented farm into dir, which it makes if need be, and gives
// the names of the files in order. It overwrites nothing: a file that is there
// with other content is an error before anything is written; one with the same
// content is left alone. All files are put there or none.
func Write(ctx context.Context, dir string, seed uint64) ([]string, error) {
	return WriteSaying(ctx, dir, seed, func(string) {})
}

// WriteSaying is Write for one who listens to what is odd about the folder: see folder.Fill.
func WriteSaying(ctx context.Context, dir string, seed uint64, say func(string)) ([]string, error) {
	files, err := build(ctx, seed)
	if err != nil {
		return nil, err
	}
	if err := folder.Settle(ctx, dir, say); err != nil {
		return nil, err
	}
	var names []string
	var fresh folder.Result
	for _, f := range files {
		names = append(names, f.name)
		there, err := os.ReadFile(filepath.Join(dir, f.name))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			fresh.Files = append(fresh.Files, folder.File{Name: f.name, Write: func(w io.Writer) error { _, err := w.Write(f.data); return err }})
		case err != nil:
			return nil, err
		case !bytes.Equal(there, f.data):
			return nil, fmt.Errorf("%s is there already with other content, and demo overwrites nothing", filepath.Join(dir, f.name))
		}
	}
	if len(fresh.Files) > 0 {
		if _, err := folder.Fill(ctx, dir, fresh, say); err != nil {
			return nil, err
		}
	}
	return names, nil
}

type file struct {
	name string
	data []byte
}

// build makes all files in memory; shapefiles, which go-shp only writes to disk,
// go through a folder of their own.
func build(ctx context.Context, seed uint64) ([]file, error) {
	tmp, err := os.MkdirTemp("", "balk-demo-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(tmp)
	all := grounds()
	text := readme
	files := []file{{"sweep-mounted.toml", []byte(mounted)}, {"sweep-trailed.toml", []byte(trailed)}}
	fields, err := fieldsGeoJSON(all)
	if err != nil {
		return nil, err
	}
	files = append(files, file{"fields.geojson", fields})
	shapes, err := packed(tmp, "fields", fieldsShapefile(all))
	if err != nil {
		return nil, err
	}
	files = append(files, shapes...)
	for i, g := range all {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		op, err := g.work(ctx, seed+uint64(i))
		if err != nil {
			return nil, err
		}
		text += g.name + "\n" + list(g.faultsOf(op)) + "\n"
		l := geo.LocalAt(g.centre)
		track, err := trackGeoJSON(l, g, op.log)
		if err != nil {
			return nil, err
		}
		files = append(files, file{"track-" + g.slug + ".geojson", track})
		shapes, err := packed(tmp, "track-"+g.slug, trackShapefile(l, op.log))
		if err != nil {
			return nil, err
		}
		files = append(files, shapes...)
	}
	return append(files, file{"README.txt", []byte(text)}), nil
}

// packed writes the shapefile into tmp and gives its files and its zip.
func packed(tmp, base string, s vector.Shapefile) ([]file, error) {
	if err := s.Write(tmp, base); err != nil {
		return nil, err
	}
	var z bytes.Buffer
	if err := vector.Zip(&z, tmp, base, start); err != nil {
		return nil, err
	}
	found, err := filepath.Glob(filepath.Join(tmp, base+".*"))
	if err != nil {
		return nil, err
	}
	slices.Sort(found)
	var files []file
	for _, path := range found {
		b, err := os.ReadFile(path)
		if err != nil {
			return nil, err
		}
		files = append(files, file{filepath.Base(path), b})
	}
	return append(files, file{base + ".zip", z.Bytes()}), nil
}

func fieldsGeoJSON(all []ground) ([]byte, error) {
	var fields []geo.Field
	for i, g := range all {
		fields = append(fields, geo.Field{Name: g.name, Number: i + 1, Boundary: orb.MultiPolygon{g.boundary()}})
	}
	var b bytes.Buffer
	err := vector.WriteFields(&b, fields)
	return b.Bytes(), err
}

func fieldsShapefile(all []ground) vector.Shapefile {
	s := vector.Shapefile{Columns: []vector.Column{{Name: "name", Size: 40, Decimals: -1}, {Name: "invented", Size: 3, Decimals: -1}}, Date: start}
	for _, g := range all {
		s.Records = append(s.Records, vector.Record{Polygon: g.boundary(), Row: []any{g.name, "yes"}})
	}
	return s
}

// trackGeoJSON is one point per line, as loggers write them.
func trackGeoJSON(l geo.Local, g ground, log []fix) ([]byte, error) {
	name, err := json.Marshal("log of " + g.name)
	if err != nil {
		return nil, err
	}
	b := fmt.Appendf(nil, "{\"type\":\"FeatureCollection\",\"name\":%s,\"features\":[\n", name)
	for i, f := range log {
		p := rounded(l.Point(f.at))
		if i > 0 {
			b = append(b, ",\n"...)
		}
		b = fmt.Appendf(b, `{"type":"Feature","geometry":{"type":"Point","coordinates":[%.8f,%.8f,%.2f]},"properties":{"time":%q,"working":%t,"speed":%.2f,"quality":%q}}`,
			p[0], p[1], f.height, stamp(f.time), f.working, f.speed, f.quality())
	}
	return append(b, "\n]}\n"...), nil
}

func trackShapefile(l geo.Local, log []fix) vector.Shapefile {
	s := vector.Shapefile{Points: true, Date: start, Columns: []vector.Column{
		{Name: "time", Size: 24, Decimals: -1}, {Name: "working", Size: 1, Decimals: 0}, {Name: "speed", Size: 6, Decimals: 2}, {Name: "quality", Size: 12, Decimals: -1}, {Name: "height", Size: 8, Decimals: 2}}}
	for _, f := range log {
		working := 0
		if f.working {
			working = 1
		}
		p := rounded(l.Point(f.at))
		s.Records = append(s.Records, vector.Record{Point: orb.Point{p[0], p[1]}, Row: []any{stamp(f.time), working, math.Round(f.speed*100) / 100, f.quality(), math.Round(f.height*100) / 100}})
	}
	return s
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }
