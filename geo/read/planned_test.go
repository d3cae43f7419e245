package read

import (
	"strings"
	"testing"

	"balk/geo"
)

func TestPlannedLines(t *testing.T) {
	lines, findings, err := plannedLines("p.geojson", strings.NewReader(`{"type":"FeatureCollection","features":[
		{"type":"Feature","properties":{"name":"round 1"},"geometry":{"type":"LineString","coordinates":[[11,48],[11.1,48]]}},
		{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[11,48],[11,48.1]]}},
		{"type":"Feature","properties":{"name":"a place"},"geometry":{"type":"Point","coordinates":[11,48]}},
		{"type":"Feature","properties":{"name":"nowhere"},"geometry":{"type":"LineString","coordinates":[[11,48],[11,480]]}}]}`))
	if err != nil || len(lines) != 2 || lines[0].Name != "round 1" || lines[1].Name != "line 2" {
		t.Errorf("%+v, %v", lines, err)
	}
	if len(findings) != 2 || findings[0].Record != 3 || !findings[1].Lost {
		t.Errorf("findings %v", findings)
	}
	for name, text := range map[string]string{"empty": "", "no line": `{"type":"FeatureCollection","features":[]}`, "no GeoJSON": `{"a":1}`, "cut": `{"type":"FeatureCollection","features":[{`} {
		if _, _, err := plannedLines("p", strings.NewReader(text)); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

func FuzzPlannedLines(f *testing.F) {
	f.Add(`{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"a"},"geometry":{"type":"LineString","coordinates":[[11,48],[11.1,48]]}}]}`)
	f.Add(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":null}]}`)
	f.Fuzz(func(t *testing.T, text string) {
		lines, _, err := plannedLines("f", strings.NewReader(text))
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
