package job

import (
	"archive/zip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"balk/coverage/drive"
	"balk/export/vector"
	"balk/export/words"
	"balk/geo/read"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// lateRows is a field (invented) of rows 5 m apart, each begun 12 m late: one strip borders them all.
func lateRows(t *testing.T, rows int, name string) HandoverSpec {
	t.Helper()
	dir := t.TempDir()
	const lat, lon = 9.0e-6, 1.46e-5 // degrees of a metre near 52° north, about
	at := func(x, y float64) orb.Point { return orb.Point{10 + x*lon, 52 + y*lat} }
	w, h := 100.0, 5*float64(rows)
	fields, tracks := geojson.NewFeatureCollection(), geojson.NewFeatureCollection()
	field := geojson.NewFeature(orb.Polygon{{at(0, 0), at(w, 0), at(w, h), at(0, h), at(0, 0)}})
	field.Properties["name"] = name
	fields.Append(field)
	for k := range rows {
		y := 2.5 + 5*float64(k)
		var line orb.LineString
		for x := 12.0; x <= w; x += 22 {
			line = append(line, at(x, y))
		}
		tracks.Append(geojson.NewFeature(line))
	}
	s := HandoverSpec{Spec: Spec{Boundary: filepath.Join(dir, "field.geojson"), Tracks: []string{filepath.Join(dir, "track.geojson")}, Out: filepath.Join(dir, "out"), Work: drive.Work{Width: 5}}}
	s.Language = words.English
	for path, c := range map[string]*geojson.FeatureCollection{s.Boundary: fields, s.Tracks[0]: tracks} {
		b, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// A strip beside more passes than a table of a shapefile has room for: the whole folder is
// written, and what is cut there is said.
func TestStripBesideManyPassesIsHandedOver(t *testing.T) {
	for rows, cut := range map[int]bool{60: false, 120: true} {
		s := lateRows(t, rows, "Late")
		rep, err := Handover(context.Background(), s, nil)
		if err != nil {
			t.Fatalf("%d rows: %v", rows, err)
		}
		if n := len(rep.Strips[0].Passes); n != rows {
			t.Fatalf("%d rows: the first strip borders %d", rows, n)
		}
		said := 0
		for _, f := range rep.Findings {
			if f.File == handoverShapes && strings.Contains(f.What, "254 bytes") {
				said++
			}
		}
		if (said > 0) != cut || rep.Lost() {
			t.Errorf("%d rows: %d findings on the shapefiles, lost %v: %v", rows, said, rep.Lost(), rep.Findings)
		}
		for _, name := range s.handoverNames() {
			if _, err := os.Stat(filepath.Join(s.Out, name)); err != nil && !strings.HasPrefix(name, "rework") {
				t.Errorf("%d rows: %v", rows, err)
			}
		}
		csv, err := os.ReadFile(filepath.Join(s.Out, handoverStrips))
		if err != nil || !strings.Contains(string(csv), fmt.Sprintf(" %d,", rows)) {
			t.Errorf("%d rows: the table lacks the last pass (%v)", rows, err)
		}
	}
}

// A file that one format cannot hold is left out and said, the others are written: task data cuts
// nothing of 2^31 m², a shapefile no number of more than 20 digits.
func TestOneFormatsTroubleStopsNoOther(t *testing.T) {
	l := vector.Layer{Name: "x", Kind: vector.Points, Columns: []vector.Property{{Name: "a", Holds: vector.Number, Decimals: 10}},
		Features: []vector.Feature{{Geometry: orb.Point{11, 48}, Row: []any{1234567890.5}}}}
	files, findings := shapefiles("a.zip", []vector.Layer{l}, time.Time{})
	if len(files) != 0 || len(findings) != 1 || !findings[0].Lost || !strings.Contains(findings[0].String(), "a.zip") {
		t.Errorf("shapefile: %d files, %v", len(files), findings)
	}
	files, findings = taskData("T.XML", vector.TaskData{Fields: []vector.TaskField{{Name: "big", Area: 1e10}}})
	if len(files) != 0 || len(findings) != 1 || !findings[0].Lost {
		t.Errorf("task data: %d files, %v", len(files), findings)
	}
	// With a boundary whose ring jumps across the antimeridian no layer can be written, the papers can.
	s := lateRows(t, 3, "Late")
	_, result, err := judge(context.Background(), s.Spec, nil, nil, new(Call))
	if err != nil {
		t.Fatal(err)
	}
	result.Field.Boundary[0][0][1][0] = -179
	rep := Report{Spec: s.Spec}
	files, findings, err = s.files(&rep, result, nil)
	if err != nil || len(findings) != 1 || !findings[0].Lost || !strings.Contains(findings[0].What, "antimeridian") {
		t.Fatalf("%v, %v", findings, err)
	}
	there := map[string]bool{}
	for _, f := range files {
		there[f.name] = true
	}
	for _, name := range []string{handoverSheet, handoverRecord, handoverJSON, mapFile, handoverRead} {
		if !there[name] {
			t.Errorf("%s is not written", name)
		}
	}
	if there[handoverKMZ] || there["geojson/missed.geojson"] {
		t.Errorf("layers are written: %v", there)
	}
	var broken *vector.LayerError
	if _, err := vector.LayersOf(result); !errors.As(err, &broken) {
		t.Errorf("the case is none: %v", err)
	}
}

// Files of an operation without times bear no date, and those of one with times its own: never that of
// the writing, nor one made up. A GeoPackage has to have one, and says that it is not the operation's.
func TestDatesAreOfTheOperation(t *testing.T) {
	s := lateRows(t, 3, "Late")
	if _, err := Handover(context.Background(), s, nil); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{handoverKMZ, handoverShapes} {
		z, err := zip.OpenReader(filepath.Join(s.Out, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range z.File {
			if f.ModifiedDate != 0 || f.ModifiedTime != 0 {
				t.Errorf("%s: %s is dated %v", name, f.Name, f.Modified)
			}
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
	}
	gpx, err := os.ReadFile(filepath.Join(s.Out, handoverGPX))
	if err != nil || strings.Contains(string(gpx), "<time>") {
		t.Errorf("the GPX has a time (%v)", err)
	}
	if tracks, _, err := read.Tracks(filepath.Join(s.Out, handoverShapes), read.TrackOptions{}); err != nil || len(tracks) == 0 {
		t.Errorf("shapefiles without a date do not read back: %v", err)
	}
}
