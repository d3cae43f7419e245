package read

import (
	"bytes"
	"strings"
	"testing"
)

// Folders of a KML are layers, by --layer, wherever they lie in each other and whatever stands before and behind them; what is in
// others is no loss then. Of an own layer beside those with times it is said that one must be chosen.
func TestKMLFolders(t *testing.T) {
	const (
		fence = `<Placemark><name>F</name><LineString><coordinates>11,48 11,48.001</coordinates></LineString></Placemark>`
		track = `<Placemark><name>T</name><gx:Track><when>2024-05-31T17:30:15Z</when><when>2024-05-31T17:30:16Z</when><gx:coord>11.5 48.1 0</gx:coord><gx:coord>11.5 48.2 0</gx:coord></gx:Track></Placemark>`
		drawn = `<Placemark><name>D</name><LineString><coordinates>11.5,48.1 11.5,48.2</coordinates></LineString></Placemark>`
		field = `<Placemark><name>N</name><Polygon><outerBoundaryIs><LinearRing><coordinates>11,48 11.001,48 11.001,48.001 11,48</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>`
		zone  = `<Placemark><name>Z</name><Polygon><outerBoundaryIs><LinearRing><coordinates>12,48 12.001,48 12.001,48.001 12,48</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>`
	)
	in := func(name, what string) string { return `<Folder><name>` + name + `</name>` + what + `</Folder>` }
	whole := func(s string) string {
		return `<kml xmlns:gx="g"><Document><name>Farm</name>` + s + `</Document></kml>`
	}
	for situation, c := range map[string]struct {
		text   string
		layers []string
		want   string // names of tracks, and of fields
		errs   string
	}{
		"a folder of fences beside a log":      {whole(in("Fences", fence) + in("Logs", track)), nil, "/", "holds 2 layers of tracks, some with times and some without"},
		"the log is chosen":                    {whole(in("Fences", fence) + in("Logs", track)), []string{"logs"}, "T/", ""},
		"the fences are chosen":                {whole(in("Fences", fence) + in("Logs", track)), []string{"Fences"}, "F/", ""},
		"both are":                             {whole(in("Fences", fence) + in("Logs", track)), []string{"Fences", "Logs"}, "F T/", ""},
		"a folder in the chosen one":           {whole(in("Fences", fence) + in("2024", in("Logs", track)) + in("2025", fence)), []string{"2024"}, "T/", ""},
		"the log drawn as a line as well":      {whole(in("Points", track) + in("Line", drawn)), nil, "T D/", ""},
		"a layer of another file":              {whole(in("Logs", track)), []string{"tracks_2024"}, "T/", ""},
		"what lies before the chosen folder":   {whole(track + field + in("North", in("Plots", field))), []string{"Plots"}, "/N", ""},
		"of two folders of fields one":         {whole(in("Fields", field) + in("Soil", zone)), []string{"Soil"}, "/Z", ""},
		"of two folders of fields none chosen": {whole(in("Fields", field) + in("Soil", zone)), nil, "/N Z", ""},
		"the document is chosen":               {whole(in("Fields", field) + in("Soil", zone)), []string{"Farm"}, "/N Z", ""},
	} {
		how := Taking{Layers: c.layers}
		var got []string
		lost := ""
		tracks, findings, err := KMLTracks(strings.NewReader(c.text), "f.kml", TrackOptions{Taking: how})
		for _, track := range tracks {
			got = append(got, track.Name)
		}
		if c.errs != "" {
			if err == nil || !strings.Contains(err.Error(), c.errs) {
				t.Errorf("%s: %v", situation, err)
			}
			continue
		}
		if err == nil {
			for _, f := range findings {
				if f.Lost {
					lost += f.String()
				}
			}
		}
		fields, findings, err2 := KMLFields(strings.NewReader(c.text), "f.kml", Options{Taking: how})
		var names []string
		for _, f := range fields {
			names = append(names, f.Name)
		}
		if err2 == nil && err != nil {
			for _, f := range findings {
				if f.Lost && len(c.layers) > 0 {
					lost += f.String()
				}
			}
		}
		if all := strings.Join(got, " ") + "/" + strings.Join(names, " "); all != c.want || lost != "" {
			t.Errorf("%s: %s, want %s; lost %s; %v, %v", situation, all, c.want, lost, err, err2)
		}
	}
	files := &Files{Input: bytes.NewReader([]byte(whole(in("Logs", track))))}
	if _, _, err := Tracks(StandardInput, TrackOptions{Taking: Taking{Layers: []string{"Logs", "Lugs"}}, Files: files}); err != nil || files.Unmet([]string{"Logs"}) != "" || files.Unmet([]string{"Lugs"}) != "Lugs" {
		t.Errorf("layers met: %v, %q", err, files.Unmet([]string{"Logs", "Lugs"}))
	}
}
