package read

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestSpeedWithoutUnit: 2.5 m/s due north, 1 Hz and 5 Hz with times cut to seconds, is 2.5 m/s in whatever unit its column is
// (9 km/h, 5.592 mph, 4.860 kn by the international mile of 1609.344 m and the nautical mile of 1852 m), in a table and in GeoJSON
// whose speed is m/s by its documentation; speeds that the places contradict are left out of a table, and left as they are where
// their unit is documented.
func TestSpeedWithoutUnit(t *testing.T) {
	const speed, degree = 2.5, 111194.9 // m on a sphere of 6371 km
	for _, c := range []struct {
		unit   string
		stands float64
		said   string
		want   float64 // in a table; 0: left out
	}{
		{"km/h", 9, "km/h", speed}, {"m/s", 2.5, "m/s", speed}, {"mph", 5.592, "mph", speed}, {"knots", 4.860, "kn", speed}, {"mm/s", 2500, "mm/s", speed},
		{"another speed", 6.5, "says no unit (km/h, m/s or mph): not used", 0},
	} {
		for _, hz := range []float64{1, 5} {
			var csv, json strings.Builder
			csv.WriteString("time,lon,lat,speed\n")
			for k := range 400 {
				s := float64(k) / hz
				lat := 48 + speed*s/degree
				at := 1776148200 + int(s)
				fmt.Fprintf(&csv, "%d,11.5,%.9f,%g\n", at, lat, c.stands)
				fmt.Fprintf(&json, "%s{\"type\":\"Feature\",\"properties\":{\"time\":%d,\"speed\":%g},\"geometry\":{\"type\":\"Point\",\"coordinates\":[11.5,%.9f]}}", map[bool]string{true: ","}[k > 0], at, c.stands, lat)
			}
			dir := t.TempDir()
			table, points := filepath.Join(dir, "a.csv"), filepath.Join(dir, "a.geojson")
			os.WriteFile(table, []byte(csv.String()), 0o600)
			os.WriteFile(points, []byte(`{"type":"FeatureCollection","features":[`+json.String()+`]}`), 0o600)
			tracks, findings, err := Tracks(table, TrackOptions{})
			if err != nil {
				t.Fatal(err)
			}
			said := fmt.Sprint(findings)
			lost := false
			for _, f := range findings {
				lost = lost || f.Lost
			}
			switch {
			case c.want == 0:
				if tracks[0].Speed != nil || !strings.Contains(said, c.said) || !lost {
					t.Errorf("%s, %g Hz: %d speeds, said %s", c.unit, hz, len(tracks[0].Speed), said)
				}
			case math.Abs(tracks[0].Speed[7]-c.want) > 0.001 || !strings.Contains(said, "taken as "+c.said+",") || lost:
				t.Errorf("%s, %g Hz: %g m/s, said %s", c.unit, hz, tracks[0].Speed[7], said)
			}
			if c.stands > 50 { // beyond what a speed in m/s may be, each is said
				continue
			}
			want := c.want
			if want == 0 {
				want = c.stands
			}
			tracks, findings, err = Tracks(points, TrackOptions{})
			if err != nil || math.Abs(tracks[0].Speed[7]-want) > 0.001 || strings.Contains(fmt.Sprint(findings), "not m/s") != (c.want > 0 && c.unit != "m/s") {
				t.Errorf("GeoJSON, %s, %g Hz: %g m/s, %v, said %v", c.unit, hz, tracks[0].Speed[7], err, findings)
			}
		}
	}
}
