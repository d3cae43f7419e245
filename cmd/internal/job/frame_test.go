package job

import (
	"fmt"
	"io"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"balk/export/vector"
	"balk/geo/crs"
)

// TestFrame: the acre by degrees, and by a map of ETRS89; a log with a date and one without. Moved back from the satellites' frame
// the log meets a boundary that was moved by hand.
func TestFrame(t *testing.T) {
	dir := t.TempDir()
	s := spec(t)
	fields, _, err := (&Call{}).fields(t.Context(), s.Boundary, s.Reading)
	if err != nil || len(fields) != 1 || fields[0].Frame != "" {
		t.Fatalf("%+v, %v", fields, err)
	}
	p, err := crs.FromEPSG(25832)
	if err != nil {
		t.Fatal(err)
	}
	turned := func(name, crs string, to func(lon, lat float64) (x, y float64)) string {
		var ring []string
		for _, at := range fields[0].Boundary[0][0] {
			x, y := to(at[0], at[1])
			ring = append(ring, fmt.Sprintf("[%.9f,%.9f]", x, y))
		}
		return toFile(t, filepath.Join(dir, name), func(w io.Writer) error {
			_, err := fmt.Fprintf(w, `{"type":"Feature",%s"properties":{},"geometry":{"type":"Polygon","coordinates":[[%s]]}}`, crs, strings.Join(ring, ","))
			return err
		})
	}
	d := driven(time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC))
	l := vector.Layer{Name: "log", Kind: vector.Points, Columns: []vector.Property{{Name: "time", Holds: vector.Words}}}
	undated := vector.Layer{Name: "undated", Kind: vector.Points}
	for _, f := range d {
		l.Features = append(l.Features, vector.Feature{Geometry: f.at, Row: []any{f.when.Format(time.RFC3339)}})
		undated.Features = append(undated.Features, vector.Feature{Geometry: f.at})
	}
	log := toFile(t, filepath.Join(dir, "log.geojson"), func(w io.Writer) error { return vector.WriteGeoJSON(w, l) })
	dateless := toFile(t, filepath.Join(dir, "undated.geojson"), func(w io.Writer) error { return vector.WriteGeoJSON(w, undated) })
	at := fields[0].Boundary.Bound().Center()
	drift, _ := crs.DriftAt("ETRS89", at[0], at[1], d[len(d)/2].when)
	if off := math.Hypot(drift.East, drift.North); !(off > 0.95 && off < 1) {
		t.Fatalf("%+v", drift)
	}
	told := turned("etrs.geojson", `"crs":{"type":"name","properties":{"name":"EPSG:25832"}},`, p.Forward)

	check := func(boundary string, f Frame, log string) (Report, string) {
		t.Helper()
		one := s
		one.Boundary, one.Frame = boundary, f
		return checked(t, one, log)
	}
	r, _ := check(s.Boundary, FrameUnknown, log)
	if f := r.Open.Frame; f.Map != "ETRS89" || f.EPSG != 8405 || f.Told || math.Abs(f.East-drift.East) > 1e-3 || !f.Day.Equal(time.Date(2026, 4, 14, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("degrees: %+v", f)
	}
	if r, _ = check(told, FrameUnknown, log); !r.Open.Frame.Told || r.Open.Frame.Map != "ETRS89" {
		t.Errorf("a map of ETRS89: %+v", r.Open.Frame)
	}
	straight, _ := check(told, FrameMaps, log)
	if straight.Open.Frame.Map != "" {
		t.Errorf("one frame: %+v", straight.Open.Frame)
	}
	if r, _ = check(s.Boundary, FrameUnknown, dateless); r.Open.Frame.Map != "" {
		t.Errorf("no date: %+v", r.Open.Frame)
	}
	if _, said := check(told, FrameSatellites, dateless); !strings.Contains(said, "not moved, for the log has no date") {
		t.Errorf("no date, to be moved: %s", said)
	}
	// The acre as the satellites' frame has it, with a log that is moved away from there, is the acre.
	there := turned("there.geojson", "", func(lon, lat float64) (x, y float64) { return lon - drift.Lon, lat - drift.Lat })
	moved, said := check(there, FrameSatellites, log)
	if !strings.Contains(said, "moved by -0.7") || !strings.Contains(said, "on 2026-04-14 to that of maps, ETRS89 (EPSG:8405)") {
		t.Errorf("moved: %s", said)
	}
	if off := moved.Balance.Missed - straight.Balance.Missed; math.Abs(off) > 0.01 || moved.Open.Frame.Map != "" {
		t.Errorf("moved: %.3f m² missed, as logged %.3f", moved.Balance.Missed, straight.Balance.Missed)
	}
	if err := (Frame("wgs84")).validate(); err == nil {
		t.Error("another frame was taken")
	}
}
