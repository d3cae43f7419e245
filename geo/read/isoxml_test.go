package read

import (
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"balk/geo"
	"balk/testdata/check"

	"github.com/paulmach/orb"
)

// The open task data (see open/SOURCES.md) against the logs as another program
// decoded them: every fix, its time, work state and width, and the distance
// counter.
func TestOpenTaskDataGivesItsDecodedLogs(t *testing.T) {
	dir := check.Shared(t, "open", "isobus")
	tracks, findings, err := tracksOf(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(findings) != 4 || !findings[0].Lost || !strings.Contains(findings[0].What, "18 of 21 logs are not there: TLG00001, ") {
		t.Errorf("findings %v", findings)
	}
	if len(tracks) != 3 {
		t.Fatalf("%d tracks, want 3", len(tracks))
	}
	fields, _, err := Fields(dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct {
		log, task, field string
		working          float64 // m, from TASKDATA.XML
		area, fuel       float64 // m², l, from TASKDATA.XML
	}{
		{"TLG00004", "TSK4", "YmB4QHFgW", 3529.801, 30100, 56.837},
		{"TLG00009", "TSK8", "dqQIKYhUkcV", 5448, 48200, 87.394},
		{"TLG00021", "TSK15", "CW1J0iFSq", 2041, 17900, 36.722},
	} {
		t.Run(want.log, func(t *testing.T) {
			track := tracks[i]
			if !strings.Contains(track.Name, want.task) || !strings.Contains(track.Name, want.log) || track.FieldRef != want.field {
				t.Errorf("name %q, field %q", track.Name, track.FieldRef)
			}
			if !slices.ContainsFunc(fields, func(f geo.Field) bool { return f.Name == track.FieldRef }) {
				t.Errorf("no field is called %q", track.FieldRef)
			}
			compareLog(t, track, filepath.Join(dir, want.log+".csv"))
			if c := track.Counted; c == nil || math.Abs(c.Area-want.area) > 1 || math.Abs(c.Fuel-want.fuel) > 0.01 || !math.IsNaN(c.Depth) {
				t.Errorf("counted %+v, want %g m² and %g l", c, want.area, want.fuel)
			}
			if c := track.Counted; c == nil || math.Abs(c.Working-want.working) > 2 {
				t.Errorf("counted %+v, want %g m working", c, want.working)
			}
		})
	}
}

func compareLog(t *testing.T, track geo.Track, name string) {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rows = rows[1:]
	if track.Fixes() != len(rows) || len(rows) < 1000 {
		t.Fatalf("%d fixes, want %d", track.Fixes(), len(rows))
	}
	flat := track.Line.FlatCoords()
	if len(track.State) != len(rows) || len(track.Width) != len(rows) {
		t.Fatalf("%d states, %d widths", len(track.State), len(track.Width))
	}
	wrong := 0
	for i, row := range rows {
		at, err := time.Parse(time.RFC3339, row[0])
		if err != nil {
			t.Fatal(err)
		}
		number := func(s string) float64 {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				return math.NaN()
			}
			return v
		}
		state := map[string]geo.WorkState{"0": geo.Lifted, "1": geo.Working}[row[3]]
		width := number(row[4]) / 1000
		sameWidth := track.Width[i] == width || math.IsNaN(width) && math.IsNaN(track.Width[i])
		if math.Abs(flat[3*i]-number(row[1])) > 1e-8 || math.Abs(flat[3*i+1]-number(row[2])) > 1e-8 || math.Abs(flat[3*i+2]-float64(at.Unix())) >= 1 || track.State[i] != state || !sameWidth {
			if wrong++; wrong < 5 {
				t.Errorf("fix %d: %v, state %d, width %g; want %v", i, flat[3*i:3*i+3], track.State[i], track.Width[i], row)
			}
		}
	}
	if wrong > 0 {
		t.Errorf("%d of %d fixes differ", wrong, len(rows))
	}
}

func TestOpenTaskDataGivesItsBoundaries(t *testing.T) {
	dir := check.Shared(t, "open", "isobus")
	fields, findings, err := Fields(filepath.Join(dir, "TASKDATA.XML"), Options{})
	if err != nil {
		t.Fatal(err)
	}
	raw, err := os.ReadFile(filepath.Join(dir, "boundaries.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Features []struct {
			Properties struct {
				ID   string  `json:"id"`
				Area float64 `json:"declared_area_m2"`
			}
			Geometry struct{ Coordinates []orb.Ring }
		}
	}
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	if len(fields) != len(want.Features) || len(fields) != 21 {
		t.Fatalf("%d fields, want %d: %v", len(fields), len(want.Features), findings)
	}
	for i, f := range fields {
		w := want.Features[i]
		ring := append(orb.Ring(nil), w.Geometry.Coordinates[0]...)
		if f.Number != i+1 || f.Name == "" || len(f.Boundary) != 1 || len(f.Boundary[0]) != 1 {
			t.Errorf("%s: %q, number %d, %d parts", w.Properties.ID, f.Name, f.Number, len(f.Boundary))
			continue
		}
		for _, p := range ring {
			if !slices.ContainsFunc(f.Boundary[0][0], func(q orb.Point) bool {
				return math.Abs(p[0]-q[0]) < 1e-9 && math.Abs(p[1]-q[1]) < 1e-9
			}) {
				t.Errorf("%s: corner %v is missing", w.Properties.ID, p)
			}
		}
		// The east-west scale of the data is short by anonymisation (open/SOURCES.md).
		if got := 1e4 * hectares(f.Boundary); got > w.Properties.Area || got < 0.9*w.Properties.Area {
			t.Errorf("%s: %.0f m², declared %.0f", w.Properties.ID, got, w.Properties.Area)
		}
	}
}

// A stick as machines write it: a folder TASKDATA on it.
func TestFolderWithTaskDataBelow(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "TaskData"), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, _, err := tracksOf(dir); err == nil || !strings.Contains(err.Error(), "the folder has no files in it") {
		t.Errorf("an empty one: %v", err)
	}
	for name, f := range demoSet(demoLog()) {
		if err := os.WriteFile(filepath.Join(dir, "TaskData", filepath.Base(name)), f.Data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, path := range []string{dir, filepath.Join(dir, "TaskData"), filepath.Join(dir, "TaskData", "TaskData.xml")} {
		tracks, _, err := tracksOf(path)
		if err != nil || len(tracks) != 1 || tracks[0].Fixes() != 6 || tracks[0].Source != filepath.Join(dir, "TaskData", "TLG00001.bin") {
			t.Errorf("%s: %v, %v", path, tracks, err)
		}
		if fields, _, err := Fields(path, Options{}); err != nil || len(fields) != 2 {
			t.Errorf("%s: %d fields, %v", path, len(fields), err)
		}
	}
}

// Task data whose XML is in UTF-16, as a program may save it: in its folder, by its file, in a zip; with logs, boundaries and lines.
func TestTaskDataInUTF16(t *testing.T) {
	for name, order := range map[string]binary.AppendByteOrder{"little-endian": binary.LittleEndian, "big-endian": binary.BigEndian} {
		for _, declared := range []bool{true, false} {
			dir := t.TempDir()
			var zipped []any
			for name, f := range demoSet(demoLog()) {
				data := f.Data
				if strings.HasSuffix(strings.ToLower(name), ".xml") {
					text := strings.Replace(string(data), `encoding="UTF-8"`, `encoding="UTF-16"`, 1)
					if declared {
						text = "\ufeff" + text
					}
					data = utf16Of(order, text)
				}
				if err := os.WriteFile(filepath.Join(dir, filepath.Base(name)), data, 0o600); err != nil {
					t.Fatal(err)
				}
				zipped = append(zipped, "TASKDATA/"+filepath.Base(name), data)
			}
			whole := filepath.Join(t.TempDir(), "stick.zip")
			if err := os.WriteFile(whole, zipOf(t, zipped...), 0o600); err != nil {
				t.Fatal(err)
			}
			for _, path := range []string{dir, filepath.Join(dir, "TaskData.xml"), whole} {
				tracks, _, err := tracksOf(path)
				if err != nil || len(tracks) != 1 || tracks[0].Fixes() != 6 {
					t.Errorf("%s, mark %t: %s: %v, %v", name, declared, path, tracks, err)
				}
				if fields, _, err := Fields(path, Options{}); err != nil || len(fields) != 2 {
					t.Errorf("%s, mark %t: %s: %d fields, %v", name, declared, path, len(fields), err)
				}
			}
		}
	}
}

// XML that says it is in UTF-16.
func TestXMLInUTF16(t *testing.T) {
	for kind, text := range map[string]string{
		"GPX": `<?xml version="1.0" encoding="UTF-16"?><gpx><trk><name>Ä</name><trkseg><trkpt lat="48" lon="11"/><trkpt lat="48" lon="12"/></trkseg></trk></gpx>`,
		"KML": `<?xml version="1.0" encoding="utf-16"?><kml><Placemark><name>Ä</name><LineString><coordinates>11,48 12,48</coordinates></LineString></Placemark></kml>`,
	} {
		tracks, _, err := Tracks(StandardInput, TrackOptions{Files: &Files{Input: bytes.NewReader(utf16Of(binary.LittleEndian, "\ufeff"+text))}})
		if err != nil || len(tracks) != 1 || tracks[0].Fixes() != 2 || tracks[0].Name != "Ä" {
			t.Errorf("%s: %v, %v", kind, tracks, err)
		}
	}
}
