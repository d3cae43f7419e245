package demo

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"balk/cmd/internal/folder"
	"balk/export/vector"
	"balk/geo"

	"github.com/paulmach/orb"
)

// spots are the spot checks on the first field, invented as well: passes, places and what was seen.
//
//go:embed spots.csv
var spots []byte

const readme = `An invented farm for trying out balk. Everything here is made up: the fields, their
names, the place, the sets and the logs. No real farm is meant.

fields.geojson            three fields: 1 Pond Piece (with an obstacle), 2 Elbow Field
                          (L-shaped), 3 Long Ribbon (long and thin)
fields.shp ... fields.zip the same as a shapefile, plain and zipped
track-pond.geojson        log of one operation on field 1 as GeoJSON points, WGS84
track-elbow.geojson       ... on field 2
track-ribbon.geojson      ... on field 3
track-pond-across.geojson log of a second operation on field 1 eight days later, across the
                          first, with the same set
track-*.shp ... .zip      the same logs as shapefiles, plain and zipped
sweep-mounted.toml        the set that worked fields 1 and 3, three headland rounds
sweep-trailed.toml        the set that worked field 2, four headland rounds
weather.csv               a weather station beside the fields, hour by hour
spots.csv                 spot checks on field 1 the day after, with a section set too
                          deep, a lost sweep and a bar that hangs to the right

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

// Farm is what was written: the names of the files in order, and what is wrong on purpose with the logs, field by field. Beside
// that stands what sets of that size leave where the corners of headland rounds are rounder than the field's.
type Farm struct {
	Names  []string
	Faults []Fault
}

// Write writes the invented farm into dir, which it makes if need be. It
// overwrites nothing: a file that is there
// with other content is an error before anything is written; one with the same
// content is left alone. All files are put there or none. say hears what is odd about the folder: see folder.Fill.
func Write(ctx context.Context, dir string, seed uint64, say func(string)) (Farm, error) {
	files, faults, err := build(ctx, seed)
	if err != nil {
		return Farm{}, err
	}
	if err := folder.Settle(ctx, dir, say); err != nil {
		return Farm{}, err
	}
	farm := Farm{Faults: faults}
	var fresh folder.Result
	for _, f := range files {
		farm.Names = append(farm.Names, f.name)
		there, err := os.ReadFile(filepath.Join(dir, f.name))
		switch {
		case errors.Is(err, fs.ErrNotExist):
			fresh.Files = append(fresh.Files, folder.File{Name: f.name, Write: func(w io.Writer) error { _, err := w.Write(f.data); return err }})
		case err != nil:
			return Farm{}, err
		case !bytes.Equal(there, f.data):
			return Farm{}, fmt.Errorf("%s is there already with other content, and demo overwrites nothing", filepath.Join(dir, f.name))
		}
	}
	if len(fresh.Files) > 0 {
		if _, err := folder.Fill(ctx, dir, fresh, say); err != nil {
			return Farm{}, err
		}
	}
	return farm, nil
}

type file struct {
	name string
	data []byte
}

// build makes all files in memory.
func build(ctx context.Context, seed uint64) (files []file, faults []Fault, err error) {
	add := func(name string, data []byte) { files = append(files, file{name, data}) }
	all := grounds()
	text := readme
	add("sweep-mounted.toml", []byte(mounted))
	add("sweep-trailed.toml", []byte(trailed))
	fields, err := fieldsGeoJSON(all)
	if err != nil {
		return nil, nil, err
	}
	add("fields.geojson", fields)
	shapes, err := shapefile("fields", fieldsLayer(all))
	if err != nil {
		return nil, nil, err
	}
	files = append(files, shapes...)
	for i, g := range operations() {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		op, err := g.work(ctx, seed+uint64(i))
		if err != nil {
			return nil, nil, err
		}
		wrong := g.faultsOf(op)
		faults = append(faults, wrong...)
		name := g.name
		if g.days > 0 {
			name += ", " + g.begin().Format(time.DateOnly)
		}
		text += name + "\n" + list(wrong) + "\n"
		l := geo.LocalAt(g.centre)
		track, err := trackGeoJSON(l, g, op.log)
		if err != nil {
			return nil, nil, err
		}
		add("track-"+g.slug+".geojson", track)
		if g.days > 0 {
			continue
		}
		shapes, err := shapefile("track-"+g.slug, trackLayer(l, op.log))
		if err != nil {
			return nil, nil, err
		}
		files = append(files, shapes...)
	}
	add("weather.csv", weather())
	add("spots.csv", spots)
	add("README.txt", []byte(text))
	return files, faults, nil
}

// shapefile is a layer as the files of a shapefile, in the order of their names, and as a zip of them.
func shapefile(base string, l vector.Layer) ([]file, error) {
	parts, err := vector.Shapefile(base, l, start)
	if err != nil {
		return nil, err
	}
	packed := vector.Part{Name: base + ".zip", Write: func(w io.Writer) error { return vector.Zip(w, parts, start) }}
	inOrder := slices.SortedFunc(slices.Values(parts), func(a, b vector.Part) int { return strings.Compare(a.Name, b.Name) })
	var files []file
	for _, part := range append(inOrder, packed) {
		var b bytes.Buffer
		if err := part.Write(&b); err != nil {
			return nil, err
		}
		files = append(files, file{part.Name, b.Bytes()})
	}
	return files, nil
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

func fieldsLayer(all []ground) vector.Layer {
	l := vector.Layer{Name: "fields", Kind: vector.Areas, Columns: []vector.Property{{Name: "name", Holds: vector.Words, Size: 40}, {Name: "invented", Holds: vector.Words}}}
	for _, g := range all {
		l.Features = append(l.Features, vector.Feature{Geometry: g.boundary(), Row: []any{g.name, "yes"}})
	}
	return l
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

func trackLayer(l geo.Local, log []fix) vector.Layer {
	track := vector.Layer{Name: "track", Kind: vector.Points, Columns: []vector.Property{
		{Name: "time", Holds: vector.Words}, {Name: "working", Holds: vector.Whole}, {Name: "speed", Holds: vector.Number, Size: 6, Decimals: 2},
		{Name: "quality", Holds: vector.Words, Size: 12}, {Name: "height", Holds: vector.Number, Size: 8, Decimals: 2}}}
	for _, f := range log {
		working := 0
		if f.working {
			working = 1
		}
		row := []any{stamp(f.time), working, math.Round(f.speed*100) / 100, f.quality(), math.Round(f.height*100) / 100}
		track.Features = append(track.Features, vector.Feature{Geometry: rounded(l.Point(f.at)), Row: row})
	}
	return track
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }
