package cli

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// logsOn writes the demo's logs into a folder, and so many times, a month apart.
func logsOn(t *testing.T, farm string, times int) (folder string) {
	t.Helper()
	folder = t.TempDir()
	for _, name := range []string{"pond", "pond-across", "elbow", "ribbon"} {
		b, err := os.ReadFile(filepath.Join(farm, "track-"+name+".geojson"))
		if err != nil {
			t.Fatal(err)
		}
		for k := range times {
			write(t, filepath.Join(folder, fmt.Sprintf("%s-%d.geojson", name, k)), string(bytes.ReplaceAll(b, []byte(`"2026-04-`), fmt.Appendf(nil, `"2026-%02d-`, 4+k))))
		}
	}
	return folder
}

// wandering writes a log as a telephone has it: without its quality, off by a slow wander of 3 m (an invented one, of periods of minutes).
func wandering(t *testing.T, from, to string) {
	t.Helper()
	b, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	var all struct {
		Type     string           `json:"type"`
		Features []map[string]any `json:"features"`
	}
	if err := json.Unmarshal(b, &all); err != nil {
		t.Fatal(err)
	}
	for i, f := range all.Features {
		delete(f["properties"].(map[string]any), "quality")
		at := f["geometry"].(map[string]any)["coordinates"].([]any)
		s := float64(i) // a fix a second
		east := 3 * (math.Sin(s/97) + math.Sin(s/61+1)) / math.Sqrt2
		north := 3 * (math.Cos(s/83) + math.Sin(s/151+2)) / math.Sqrt2
		at[0] = at[0].(float64) + east/(111320*math.Cos(48.14*math.Pi/180))
		at[1] = at[1].(float64) + north/111200
	}
	if b, err = json.Marshal(all); err != nil {
		t.Fatal(err)
	}
	write(t, to, string(b))
}

// twoFaults is an invented field of 300 × 142 m with a log of 24 rows of a set 6 m wide, 5.90 m apart, which is lowered 2.5 m late at the west end, and of
// which all rows from the 15th on lie 0.40 m too far north.
func twoFaults(t *testing.T, dir string) (field, track string) {
	t.Helper()
	const lon, lat = 11.57, 48.14
	degLat := 1 / 111200.0
	degLon := degLat / math.Cos(lat*math.Pi/180)
	at := func(x, y float64) string { return fmt.Sprintf("[%.9f,%.9f]", lon+x*degLon, lat+y*degLat) }
	field = filepath.Join(dir, "acre.geojson")
	write(t, field, `{"type":"Feature","properties":{"name":"Long Acre (invented)"},"geometry":{"type":"Polygon","coordinates":[[`+
		strings.Join([]string{at(0, 0), at(300, 0), at(300, 24*5.9), at(0, 24*5.9), at(0, 0)}, ",")+`]]}}`)
	var features []string
	second := 0
	fix := func(x, y float64, working bool) {
		features = append(features, fmt.Sprintf(`{"type":"Feature","properties":{"time":"2026-04-14T%02d:%02d:%02dZ","working":%t,"quality":"fixed"},"geometry":{"type":"Point","coordinates":%s}}`,
			6+second/3600, second/60%60, second%60, working, at(x, y)))
		second++
	}
	for row := range 24 {
		y, east := 2.95+5.9*float64(row), row%2 == 0
		if row >= 14 {
			y += 0.40
		}
		for x := -6.0; x <= 306; x += 2 {
			along, from := x, 2.5
			if !east {
				along, from = 300-x, 0
			}
			fix(along, y+0.004*math.Sin(1.7*float64(second)), along >= from && along <= 300)
		}
		for k := 1; k < 8 && row < 23; k++ {
			out := 6 + 4*math.Sin(math.Pi*float64(k)/8)
			fix(map[bool]float64{true: 300 + out, false: -out}[east], y+5.9*float64(k)/8, false)
		}
	}
	track = filepath.Join(dir, "track-acre.geojson")
	write(t, track, `{"type":"FeatureCollection","features":[`+strings.Join(features, ",\n")+`]}`)
	return field, track
}
