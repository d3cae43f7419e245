package vector

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"balk/testdata/check"
)

// gdal runs a program of GDAL, and fails if it has anything to complain about.
func gdal(t *testing.T, program string, args ...string) []byte {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		check.Skip(t, program+" (Debian gdal-bin) is not installed")
	}
	var out, complaints bytes.Buffer
	cmd := exec.Command(path, args...)
	cmd.Stdout, cmd.Stderr = &out, &complaints
	if err := cmd.Run(); err != nil || complaints.Len() > 0 {
		t.Errorf("%s %v: %v\n%s", program, args, err, complaints.Bytes())
	}
	return out.Bytes()
}

// seen is a layer as GDAL reads it.
type seen struct {
	Features []struct {
		Geometry struct {
			Type        string          `json:"type"`
			Coordinates json.RawMessage `json:"coordinates"`
		} `json:"geometry"`
		Properties map[string]any `json:"properties"`
	} `json:"features"`
}

func seenBy(t *testing.T, file, layer string, options ...string) (s seen) {
	t.Helper()
	args := append([]string{"-f", "GeoJSON", "/vsistdout/", file, "-lco", "COORDINATE_PRECISION=15"}, options...)
	if layer != "" {
		args = append(args, layer)
	}
	if err := json.Unmarshal(gdal(t, "ogr2ogr", args...), &s); err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	return s
}

// sameShapes compares what GDAL read with a layer: as many, in the same order,
// positions to 1e-12°, whatever the direction of rings and whether parts are counted as many.
func sameShapes(t *testing.T, what string, s seen, l Layer) {
	t.Helper()
	if len(s.Features) != len(l.Features) {
		t.Errorf("%s: %d features, want %d", what, len(s.Features), len(l.Features))
		return
	}
	for i, f := range s.Features {
		got := numbersIn(t, f.Geometry.Coordinates)
		want := flatOf(l.Features[i].Geometry)
		if strings.Contains(f.Geometry.Type, "Polygon") { // rings may have been turned
			got, want = sortedPairs(got), sortedPairs(want)
		}
		if !slices.EqualFunc(got, want, func(a, b float64) bool { return math.Abs(a-b) <= 1e-12 }) {
			t.Errorf("%s, feature %d: %v, want %v", what, i+1, got, want)
		}
	}
}

func numbersIn(t *testing.T, raw json.RawMessage) (out []float64) {
	t.Helper()
	var v any
	if err := json.Unmarshal(raw, &v); err != nil {
		t.Fatal(err)
	}
	var walk func(any)
	walk = func(v any) {
		switch v := v.(type) {
		case float64:
			out = append(out, v)
		case []any:
			if len(v) == 3 { // a height of 0 that a driver adds
				if _, number := v[0].(float64); number {
					v = v[:2]
				}
			}
			for _, x := range v {
				walk(x)
			}
		}
	}
	walk(v)
	return out
}

func sortedPairs(flat []float64) []float64 {
	pairs := make([][2]float64, len(flat)/2)
	for i := range pairs {
		pairs[i] = [2]float64{flat[2*i], flat[2*i+1]}
	}
	slices.SortFunc(pairs, func(a, b [2]float64) int {
		for k := range a {
			if math.Abs(a[k]-b[k]) > 1e-12 {
				return map[bool]int{true: -1, false: 1}[a[k] < b[k]]
			}
		}
		return 0
	})
	var out []float64
	for _, p := range pairs {
		out = append(out, p[0], p[1])
	}
	return out
}

// GDAL reads the same shapes and values out of every format it knows.
func TestGDALReadsTheSame(t *testing.T) {
	layers := sampleLayers(t)
	for _, l := range layers {
		for _, format := range []string{"GeoJSON", "shapefile", "GeoPackage", "WKB"} {
			file, layer := saved(t, format, l), ""
			var options []string
			switch format {
			case "GeoPackage":
				layer = l.Name
			case "WKB":
				if len(l.Features) == 0 {
					continue // a table without rows tells no types
				}
				options = []string{"-oo", "GEOM_POSSIBLE_NAMES=wkb", "-oo", "KEEP_GEOM_COLUMNS=NO"}
			}
			s := seenBy(t, file, layer, options...)
			what := fmt.Sprintf("%s, layer %s", format, l.Name)
			sameShapes(t, what, s, l)
			if format != "WKB" {
				sameValues(t, what, s, l, format == "shapefile")
			}
		}
	}
}

// sameValues compares the rows. short: the names are those of a shapefile.
func sameValues(t *testing.T, what string, s seen, l Layer, short bool) {
	t.Helper()
	names := shortNames(l.Columns)
	for i, f := range s.Features {
		if i >= len(l.Features) {
			return
		}
		for k, c := range l.Columns {
			key := c.Name
			if short {
				key = names[k]
			}
			want := l.Features[i].Row[k]
			got, there := f.Properties[key]
			switch v := want.(type) {
			case nil:
				if got != nil {
					t.Errorf("%s, feature %d: %s is %v, want none", what, i+1, key, got)
				}
			case float64:
				if x, ok := got.(float64); !ok || math.Abs(x-v) > 1e-9 {
					t.Errorf("%s, feature %d: %s is %v, want %v", what, i+1, key, got, v)
				}
			case int:
				if got != float64(v) {
					t.Errorf("%s, feature %d: %s is %v, want %v", what, i+1, key, got, v)
				}
			case string:
				if short {
					v = strings.TrimRight(v, " ")
				}
				if got != v {
					t.Errorf("%s, feature %d: %s is %q, want %q", what, i+1, key, got, v)
				}
			default: // times, lists and truths have a form of their own in each format
				if !there || got == nil {
					t.Errorf("%s, feature %d: %s is not there, want %v", what, i+1, key, want)
				}
			}
		}
	}
}

func TestGDALReadsKML(t *testing.T) {
	layers := []Layer{named(wild), guidance()}
	dir := t.TempDir()
	for _, name := range []string{"doc.kml", "doc.kmz"} {
		path := filepath.Join(dir, name)
		text := writtenBytes(t, func(w io.Writer) error {
			if name == "doc.kmz" {
				return WriteKMZ(w, "farm", layers, at)
			}
			return WriteKML(w, "farm", layers)
		})
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
		for _, l := range layers {
			s := seenBy(t, path, l.title())
			sameShapes(t, name+", "+l.title(), s, l)
			for i, f := range s.Features {
				if want := l.labelOf(l.Features[i].Row); f.Properties["Name"] != want {
					t.Errorf("%s: name %q, want %q", name, f.Properties["Name"], want)
				}
			}
		}
	}
}

func TestGDALReadsGPX(t *testing.T) {
	places, err := Places(strips(12), nil)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "farm.gpx")
	text := writtenBytes(t, func(w io.Writer) error { return WriteGPX(w, "farm", []Layer{places, straight()}, at) })
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	s := seenBy(t, path, "waypoints")
	sameShapes(t, "waypoints", s, places)
	for i, f := range s.Features {
		if f.Properties["name"] != fmt.Sprint(i+1) {
			t.Errorf("waypoint %d is called %v", i+1, f.Properties["name"])
		}
	}
	sameShapes(t, "routes", seenBy(t, path, "routes"), straight())
}

func TestGDALReadsTheTable(t *testing.T) {
	places, err := Places(strips(12), nil)
	if err != nil {
		t.Fatal(err)
	}
	s := seenBy(t, saved(t, "CSV", places), "", "-oo", "X_POSSIBLE_NAMES=lon", "-oo", "Y_POSSIBLE_NAMES=lat", "-oo", "AUTODETECT_TYPE=YES")
	sameShapes(t, "table", s, places)
	sameValues(t, "table", s, places, false)
}

// GDAL finds bounds, system, spatial index and styles of the GeoPackage.
func TestGDALSeesAWholeGeoPackage(t *testing.T) {
	layers := sampleLayers(t)
	path := filepath.Join(t.TempDir(), "farm.gpkg")
	if err := WriteGeoPackage(t.Context(), path, layers, at); err != nil {
		t.Fatal(err)
	}
	for _, l := range layers {
		text := string(gdal(t, "ogrinfo", "-so", path, l.Name))
		want := []string{fmt.Sprintf("Feature Count: %d\n", len(l.Features)), `ID["EPSG",4326]`, "Geometry Column = geom", "FID Column = fid"}
		if b, ok := l.bound(); ok {
			want = append(want, fmt.Sprintf("Extent: (%.6f, %.6f) - (%.6f, %.6f)", b.Min[0], b.Min[1], b.Max[0], b.Max[1]))
		}
		for _, s := range want {
			if !strings.Contains(text, s) {
				t.Errorf("layer %s: %q is not in\n%s", l.Name, s, text)
			}
		}
		index := string(gdal(t, "ogrinfo", "-q", path, "-sql", fmt.Sprintf("SELECT HasSpatialIndex('%s', 'geom') AS yes", l.Name)))
		if !strings.Contains(index, "= 1") {
			t.Errorf("layer %s has no spatial index: %s", l.Name, index)
		}
	}
	if text := string(gdal(t, "ogrinfo", "-q", path, stylesTable)); strings.Count(text, "<StyledLayerDescriptor") != len(layers) {
		t.Errorf("styles:\n%s", text)
	}
	missed := layers[7]
	box := missed.Features[0].Geometry.Bound()
	spot := fmt.Sprintf("%.9f %.9f %.9f %.9f", box.Min[0]-1e-7, box.Min[1]-1e-7, box.Min[0]+1e-7, box.Max[1]+1e-7)
	args := append([]string{"-q", path, "missed", "-spat"}, strings.Fields(spot)...)
	if n := strings.Count(string(gdal(t, "ogrinfo", args...)), "OGRFeature("); n != 1 {
		t.Errorf("%d strips in the box of the first, want 1", n)
	}
}

// The triggers of the spatial index keep it right in a program that has their
// functions: rows come, change their place, their number, or both, and go.
func TestGeoPackageIndexFollowsChanges(t *testing.T) {
	layers := sampleLayers(t)
	path := filepath.Join(t.TempDir(), "farm.gpkg")
	if err := WriteGeoPackage(t.Context(), path, layers, at); err != nil {
		t.Fatal(err)
	}
	before := strings.Join(asked(t, path, "SELECT id FROM rtree_missed_geom ORDER BY id"), " ")
	if before != "1 2 3 4 5 6 7" {
		t.Fatalf("boxes %s", before)
	}
	for _, step := range []struct{ change, boxes, same string }{
		{"DELETE FROM missed WHERE fid = 1", "2 3 4 5 6 7", ""},
		{"INSERT INTO missed (fid, geom) SELECT 50, geom FROM missed WHERE fid = 4", "2 3 4 5 6 7 50", "4 50"},
		{"INSERT INTO missed (fid, geom) VALUES (51, NULL)", "2 3 4 5 6 7 50", ""},
		{"UPDATE missed SET geom = (SELECT geom FROM missed WHERE fid = 5) WHERE fid = 3", "2 3 4 5 6 7 50", "3 5"},
		{"UPDATE missed SET geom = NULL WHERE fid = 3", "2 4 5 6 7 50", ""},
		{"UPDATE missed SET fid = 60 WHERE fid = 5", "2 4 6 7 50 60", ""},
		{"UPDATE missed SET fid = 61, geom = (SELECT geom FROM missed WHERE fid = 7) WHERE fid = 60", "2 4 6 7 50 61", "7 61"},
		{"UPDATE missed SET fid = 62, geom = NULL WHERE fid = 61", "2 4 6 7 50", ""},
	} {
		gdal(t, "ogrinfo", "-q", path, "-sql", step.change)
		if got := strings.Join(asked(t, path, "SELECT id FROM rtree_missed_geom ORDER BY id"), " "); got != step.boxes {
			t.Fatalf("after %s: boxes %s, want %s", step.change, got, step.boxes)
		}
		if a, b, ok := strings.Cut(step.same, " "); ok {
			// Boxes have numbers of 32 bits, rounded outwards by each program in
			// its way: 1e-5° apart at most.
			const far = "SELECT max(abs(a.minx - b.minx), abs(a.maxx - b.maxx), abs(a.miny - b.miny), abs(a.maxy - b.maxy)) < 1e-5 FROM rtree_missed_geom a, rtree_missed_geom b WHERE a.id = ? AND b.id = ?"
			if got := asked(t, path, far, a, b); !slices.Equal(got, []string{"1"}) {
				t.Errorf("after %s: the boxes of %s and %s differ", step.change, a, b)
			}
		}
	}
}
