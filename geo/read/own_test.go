package read

import (
	"errors"
	"strings"
	"testing"
)

// TestOldResultsWithoutAMark: layers as versions before the mark wrote them are known by their properties; what
// shares some of these names is not.
func TestOldResultsWithoutAMark(t *testing.T) {
	feature := func(properties, geometry string) string {
		return `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{` + properties + `},"geometry":` + geometry + `}]}`
	}
	const line, ring = `{"type":"LineString","coordinates":[[11.57,48.14],[11.571,48.14]]}`, `{"type":"Polygon","coordinates":[[[11.57,48.14],[11.571,48.14],[11.571,48.141],[11.57,48.14]]]}`
	for _, c := range []struct {
		name, text string
		field      bool
		layer      string // "": it is what it seems
	}{
		{"passes", feature(`"pass":1,"track":1,"from":null,"to":null,"length_m":80,"area_m2":400,"gaps":0`, line), false, "passes"},
		{"states", feature(`"state":"working","activity":"working","inferred":false,"why":""`, line), false, ""},
		{"states without a state", feature(`"activity":"working","inferred":false,"why":""`, line), false, "states"},
		{"re-work", feature(`"name":"re-work 1","order":1,"does":"working","strips":"1","length_m":3,"time_s":2,"unfit":"fits"`, line), false, "rework"},
		{"a log with areas and lengths", feature(`"pass":1,"length_m":80,"area_m2":400`, line), false, ""},
		{"a log that says why", feature(`"activity":"seeding","why":"rain"`, line), false, ""},
		{"strips", feature(`"strip":1,"area_m2":77,"mean_width_m":0.3,"cause":"corner"`, ring), true, "missed"},
		{"headland", feature(`"number":1,"area_m2":77,"depth_m":9`, ring), true, "headland"},
		{"a field with number and area", feature(`"name":"Long Acre","number":1,"area_m2":77`, ring), true, ""},
		{"a table of strips", "strip,area_m2,length_m,mean_width_m,cause,lon,lat\n1,2,3,4,corner,11.57,48.14\n", false, "missed"},
	} {
		var err error
		if r := strings.NewReader(c.text); c.field {
			_, _, err = GeoJSONFields(r, c.name, Options{})
		} else if c.text[0] == '{' {
			_, _, err = geoJSONTracks(r, c.name)
		} else {
			_, _, err = CSVTracks(r, c.name, TrackOptions{})
		}
		own, is := errors.AsType[*OwnError](err)
		if is != (c.layer != "") || is && own.Layer != c.layer || !is && err != nil {
			t.Errorf("%s: %v, want layer %q", c.name, err, c.layer)
		}
	}
}

// TestHowFixesCame: what a table says of the order of its fixes is handed on.
func TestHowFixesCame(t *testing.T) {
	const text = "lon,lat,Distance,pass,Seq\n11.57,48.14,116,a,7\n11.571,48.14,159,b,8\n11.572,48.14,,a,9\n"
	tracks, _, err := CSVTracks(strings.NewReader(text), "log.csv", TrackOptions{})
	if err != nil {
		t.Fatal(err)
	}
	came := tracks[0].Came
	if !came.Points || came.Numbered != "Seq" || came.Order != nil || len(came.Apart) != 3 || came.Apart[1] != 159 || came.Apart[2] == came.Apart[2] || len(came.Pass) != 3 || came.Pass[0] != came.Pass[2] || came.Pass[0] == came.Pass[1] {
		t.Errorf("%+v", came)
	}
	tracks, _, err = CSVTracks(strings.NewReader(text), "log.csv", TrackOptions{Columns: map[string]string{"order": "Seq"}})
	if err != nil || len(tracks[0].Came.Order) != 3 || tracks[0].Came.Order[2] != 9 {
		t.Errorf("%+v, %v", tracks, err)
	}
}
