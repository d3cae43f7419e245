package read

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"balk/geo"

	geom "github.com/twpayne/go-geom"
)

func plannedIn(data []byte) ([]geo.Line, []geo.Finding, error) {
	return plannedLines(StandardInput, Taking{}, &Files{Input: strings.NewReader(string(data))})
}

func TestPlannedLines(t *testing.T) {
	lines, findings, err := plannedIn([]byte(`{"type":"FeatureCollection","features":[
		{"type":"Feature","properties":{"name":"round 1"},"geometry":{"type":"LineString","coordinates":[[11,48],[11.1,48]]}},
		{"type":"Feature","properties":{"balk":"guidance"},"geometry":{"type":"MultiLineString","coordinates":[[[11,48],[11,48.1]],[[11,48.2],[11,48.3]]]}},
		{"type":"Feature","properties":{"name":"a place"},"geometry":{"type":"Point","coordinates":[11,48]}},
		{"type":"Feature","properties":{"name":"nowhere"},"geometry":{"type":"LineString","coordinates":[[11,48],[11,480]]}}]}`))
	if err != nil || len(lines) != 3 || lines[0].Name != "round 1" || lines[1].Name != "line 2" || len(lines[2].Line) != 2 {
		t.Errorf("%+v, %v", lines, err)
	}
	lost := 0
	for _, f := range findings {
		if f.Lost {
			lost++
		}
	}
	if lost < 2 {
		t.Errorf("findings %v", findings)
	}
	for name, text := range map[string]string{"empty": "", "no line": `{"type":"FeatureCollection","features":[]}`, "no GeoJSON": `{"a":1}`, "cut": `{"type":"FeatureCollection","features":[{`, "a point": `{"type":"Point","coordinates":[1,2]}`} {
		if lines, _, err := plannedIn([]byte(text)); err == nil {
			t.Errorf("%s: taken as %v", name, lines)
		}
	}
}

func FuzzPlannedLines(f *testing.F) {
	f.Add([]byte(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"a"},"geometry":{"type":"LineString","coordinates":[[11,48],[11.1,48]]}}]}`))
	f.Add([]byte(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null}]}`))
	f.Add([]byte(`<gpx><rte><name>a</name><rtept lat="48" lon="11"/><rtept lat="48" lon="12"/></rte></gpx>`))
	f.Add([]byte(`<kml><Placemark><name>a</name><LineString><coordinates>11,48 12,48</coordinates></LineString></Placemark></kml>`))
	f.Add(zipOf(f, "TASKDATA.XML", []byte(`<ISO11783_TaskData VersionMajor="3"><PFD A="PFD1"><GGP A="GGP1"><GPN A="GPN1" B="x" C="1"><LSG A="5"><PNT A="6" C="48" D="11"/><PNT A="7" C="48" D="12"/></LSG></GPN></GGP></PFD></ISO11783_TaskData>`)))
	f.Fuzz(func(t *testing.T, text []byte) {
		lines, _, err := plannedIn(text)
		if err != nil && lines != nil {
			t.Error("lines beside an error")
		}
		for _, l := range lines {
			for _, p := range l.Line {
				if !geo.OnEarth(p[0], p[1]) {
					t.Errorf("not on earth: %v", p)
				}
			}
			if len(l.Line) < 2 || l.Name == "" {
				t.Errorf("not valid: %+v", l)
			}
		}
	})
}

// farmPackage is a GeoPackage in which a log, fences, two boundaries and treatment zones lie beside each other.
func farmPackage(t *testing.T) string {
	at := func(g geom.T) []byte { return blob(t, g, 4326, 0, binary.LittleEndian) }
	area := func(x float64) []byte {
		return at(geom.NewPolygonFlat(geom.XY, packedSquare(x, 48, 0.001), []int{10}))
	}
	return writeGeoPackage(t, "farm.gpkg",
		featureTableText("fields", "POLYGON", 4326, ", name TEXT"), "INSERT INTO fields (geom, name) VALUES (?, 'North')", area(11), "INSERT INTO fields (geom, name) VALUES (?, 'South')", area(12),
		featureTableText("zones", "POLYGON", 4326, ""), "INSERT INTO zones (geom) VALUES (?)", area(11.0001),
		featureTableText("Log 14 April", "POINT", 4326, ", time TEXT"), `INSERT INTO "Log 14 April" (geom, time) VALUES (?, '2026-04-14T06:30:00Z')`, at(geom.NewPointFlat(geom.XY, []float64{11, 48})),
		featureTableText("fences", "LINESTRING", 4326, ""), "INSERT INTO fences (geom) VALUES (?)", at(geom.NewLineStringFlat(geom.XY, []float64{11, 48, 11, 48.001})),
		featureTableText("nothing yet", "POINT", 4326, ""))
}

func TestLayers(t *testing.T) {
	file := farmPackage(t)
	for _, c := range []struct {
		layers      []string
		tracks      string
		tracksError string
		fields      int
		fieldsError string
		unmet       string
	}{
		{layers: nil, tracksError: "holds 2 layers of tracks, and none is chosen (--layer NAME):\n  Log 14 April  (1 fix)\n  fences  (2 fixes without times)", fieldsError: "holds 2 layers of boundaries, and none is chosen (--layer NAME):\n  fields  (2 fields)\n  zones  (1 field)"},
		{layers: []string{"log 14 april", "fields"}, tracks: "Log 14 April: 11,48", fields: 2},
		{layers: []string{"fences"}, tracks: "fences: 11,48 11,48.001", fieldsError: "a boundary is a table of polygons"},
		{layers: []string{"Zones", "fields", "fences", "Log 14 April"}, fields: 3, tracks: "Log 14 April: 11,48;fences: 11,48 11,48.001"},
		{layers: []string{"lug"}, tracksError: `none of them called "lug"`, fieldsError: `none of them called "lug"`, unmet: "lug"},
	} {
		files := new(Files)
		tracks, _, err := Tracks(file, TrackOptions{Taking: Taking{Layers: c.layers}, Files: files})
		var got []string
		for _, k := range tracks {
			got = append(got, strings.Split(flatTrack(k), "@")[0])
		}
		if c.tracksError != "" {
			if err == nil || !strings.Contains(err.Error(), c.tracksError) {
				t.Errorf("layers %q: tracks %q, %v; want %q", c.layers, got, err, c.tracksError)
			}
		} else if s := strings.Join(got, ";"); err != nil || s != c.tracks {
			t.Errorf("layers %q: tracks %q, %v; want %q", c.layers, s, err, c.tracks)
		}
		fields, _, err := Fields(file, Options{Taking: Taking{Layers: c.layers}, Files: files})
		if c.fieldsError != "" && (err == nil || !strings.Contains(err.Error(), c.fieldsError)) || c.fieldsError == "" && (err != nil || len(fields) != c.fields) {
			t.Errorf("layers %q: fields %v, %v", c.layers, fields, err)
		}
		for i, f := range fields {
			if f.Number != i+1 {
				t.Errorf("layers %q: field %d has number %d", c.layers, i+1, f.Number)
			}
		}
		if got := files.Unmet(c.layers); got != c.unmet {
			t.Errorf("layers %q: %q was in no file", c.layers, got)
		}
	}
}

// Files of a zip are logs of one job, unless some of them have times and some have none.
func TestLayersOfZip(t *testing.T) {
	timed, also, fence := []byte("lon,lat,time\n11,48,2026-04-14T06:30:00Z\n"), []byte("lon,lat,time\n11.1,48,2026-04-14T07:30:00Z\n"), []byte("lon,lat\n11.2,48\n")
	read := func(data []byte, layers ...string) string {
		tracks, _, err := Tracks(StandardInput, TrackOptions{Taking: Taking{Layers: layers}, Files: &Files{Input: strings.NewReader(string(data))}})
		s := ""
		for _, k := range tracks {
			s += strings.SplitN(flatTrack(k), ",", 2)[0] + " "
		}
		if err != nil {
			s = err.Error()
		}
		return s
	}
	logs, both := zipOf(t, "a/1.csv", timed, "a/2.csv", also), zipOf(t, "1.csv", timed, "fence.csv", fence)
	for _, c := range []struct{ got, want string }{
		{read(logs), "11 11.1 "}, {read(logs, "2"), "11.1 "}, {read(logs, "A/1.CSV"), "11 "}, {read(logs, "2.csv", "1.csv"), "11 11.1 "},
		{read(both, "1"), "11 "}, {read(both, "fence"), "11.2 "},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
	if got := read(both); !strings.Contains(got, "some without") || !strings.Contains(got, "fence.csv  (1 fix without time)") {
		t.Errorf("%q", got)
	}
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// A closed line and a walked track are a boundary where that is asked for: a square of 0.001°, walked 10 % too far.
func TestClosed(t *testing.T) {
	walk := "lon,lat,time\n"
	for i := range 44 {
		at, side := float64(i%10)*1e-4, i%40/10
		x, y := [4]float64{at, 1e-3, 1e-3 - at, 0}[side], [4]float64{0, at, 1e-3, 1e-3 - at}[side]
		walk += strings.Join([]string{number(11 + x + 2e-7*float64(i/40)), number(48 + y + 2e-7*float64(i/40)), number(1e9 + float64(i))}, ",") + "\n"
	}
	line := `{"type":"LineString","coordinates":[[11,48],[11.001,48],[11.001,48.001],[11,48.001],[11,48]]}`
	for _, c := range []struct{ name, data, finding string }{
		{"line.geojson", line, ""},
		{"open.geojson", strings.Replace(line, ",[11,48]]", "]", 1), "over the 111.2 m"},
		{"walk.csv", walk, "over the 0.0 m"},
	} {
		path := filepath.Join(t.TempDir(), c.name)
		if err := os.WriteFile(path, []byte(c.data), 0o600); err != nil {
			t.Fatal(err)
		}
		fields, findings, err := Fields(path, Options{Close: true})
		if err != nil || len(fields) != 1 {
			t.Errorf("%s: %v, %v, %v", c.name, fields, findings, err)
			continue
		}
		area, ring := 0.0, fields[0].Boundary[0][0]
		for i := 1; i < len(ring); i++ {
			area += ((ring[i-1][0]-11)*(ring[i][1]-48) - (ring[i][0]-11)*(ring[i-1][1]-48)) / 2
		}
		if math.Abs(area-1e-6) > 5e-10 {
			t.Errorf("%s: %.10f square degrees", c.name, area)
		}
		if c.finding != "" && (len(findings) != 1 || findings[0].Lost || !strings.Contains(findings[0].What, c.finding)) {
			t.Errorf("%s: %v", c.name, findings)
		}
		if _, _, err := Fields(path, Options{}); err == nil || !strings.Contains(err.Error(), "--close") {
			t.Errorf("%s, without being asked: %v", c.name, err)
		}
	}
	path := filepath.Join(t.TempDir(), "short.csv")
	if err := os.WriteFile(path, []byte("lon,lat\n11,48\n11.1,48\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, _, err := Fields(path, Options{Close: true}); err == nil || !strings.Contains(err.Error(), "goes round no ground") {
		t.Error(err)
	}
}
