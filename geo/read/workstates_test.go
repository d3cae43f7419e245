package read

import (
	"archive/zip"
	"bytes"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"balk/geo"
)

// stateFormats are the formats that have a work state as words, each with a writer of a track of points with one
// value each in a column; "" is none.
var stateFormats = map[string]func(column string, values []string) string{
	"log.csv": func(column string, values []string) string {
		var b strings.Builder
		fmt.Fprintf(&b, "lon,lat,%s\n", column)
		for i, v := range values {
			fmt.Fprintf(&b, "%g,48,%s\n", 11+float64(i)/1000, v)
		}
		return b.String()
	},
	"log.geojson": func(column string, values []string) string {
		var list []string
		for i, v := range values {
			list = append(list, fmt.Sprintf(`{"type":"Feature","properties":{%q:%q},"geometry":{"type":"Point","coordinates":[%g,48]}}`, column, v, 11+float64(i)/1000))
		}
		return `{"type":"FeatureCollection","features":[` + strings.Join(list, ",") + "]}"
	},
	"line.geojson": func(column string, values []string) string {
		var at, list []string
		for i, v := range values {
			at, list = append(at, fmt.Sprintf("[%g,48]", 11+float64(i)/1000)), append(list, fmt.Sprintf("%q", v))
		}
		return fmt.Sprintf(`{"type":"Feature","properties":{%q:[%s]},"geometry":{"type":"LineString","coordinates":[%s]}}`, column, strings.Join(list, ","), strings.Join(at, ","))
	},
	"log.gpx": func(column string, values []string) string {
		var b strings.Builder
		b.WriteString(`<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1"><trk><trkseg>`)
		for i, v := range values {
			fmt.Fprintf(&b, `<trkpt lon="%g" lat="48"><extensions><%s>%s</%[2]s></extensions></trkpt>`, 11+float64(i)/1000, column, v)
		}
		return b.String() + "</trkseg></trk></gpx>"
	},
	"log.kml": func(column string, values []string) string {
		var b strings.Builder
		b.WriteString(`<kml xmlns="http://www.opengis.net/kml/2.2"><Document>`)
		for i, v := range values {
			fmt.Fprintf(&b, `<Placemark><TimeStamp><when>2024-05-31T10:00:%02dZ</when></TimeStamp><ExtendedData><Data name="%s"><value>%s</value></Data></ExtendedData><Point><coordinates>%g,48</coordinates></Point></Placemark>`, i, column, v, 11+float64(i)/1000)
		}
		return b.String() + "</Document></kml>"
	},
	"schema.kml": func(column string, values []string) string {
		var b strings.Builder
		b.WriteString(`<kml xmlns="http://www.opengis.net/kml/2.2"><Document>`)
		for i, v := range values {
			fmt.Fprintf(&b, `<Placemark><TimeStamp><when>2024-05-31T10:00:%02dZ</when></TimeStamp><ExtendedData><SchemaData><SimpleData name="%s">%s</SimpleData></SchemaData></ExtendedData><Point><coordinates>%g,48</coordinates></Point></Placemark>`, i, column, v, 11+float64(i)/1000)
		}
		return b.String() + "</Document></kml>"
	},
	"track.kml": func(column string, values []string) string {
		var at, list strings.Builder
		for i, v := range values {
			fmt.Fprintf(&at, "<gx:coord>%g 48 0</gx:coord>", 11+float64(i)/1000)
			fmt.Fprintf(&list, "<gx:value>%s</gx:value>", v)
		}
		return `<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2"><Placemark><gx:Track>` + at.String() +
			`<ExtendedData><SchemaData><gx:SimpleArrayData name="` + column + `">` + list.String() + `</gx:SimpleArrayData></SchemaData></ExtendedData></gx:Track></Placemark></kml>`
	},
	"log.kmz": nil, // log.kml in a zip
}

// statesRead writes a log in a format and reads it.
func statesRead(t *testing.T, name, column string, values []string, o TrackOptions) ([]geo.WorkState, []geo.Finding) {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	var text []byte
	if write := stateFormats[name]; write != nil {
		text = []byte(write(column, values))
	} else {
		var b bytes.Buffer
		z := zip.NewWriter(&b)
		w, err := z.Create("log.kml")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(stateFormats["log.kml"](column, values))); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		text = b.Bytes()
	}
	if err := os.WriteFile(path, text, 0o644); err != nil {
		t.Fatal(err)
	}
	tracks, findings, err := Tracks(path, o)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	if len(tracks) != 1 || tracks[0].Fixes() != len(values) {
		t.Fatalf("%s: %d tracks, want one of %d fixes", name, len(tracks), len(values))
	}
	return tracks[0].State, findings
}

// TestWorkStatesAreAllUnderstoodOrNotUsed: every format judges a column of work states alike.
func TestWorkStatesAreAllUnderstoodOrNotUsed(t *testing.T) {
	const u, l, w = geo.StateUnknown, geo.Lifted, geo.Working
	for _, c := range []struct {
		name    string
		column  string
		values  []string
		o       TrackOptions
		want    []geo.WorkState // nil: the column is not used
		finding string          // "": none about states
		lost    bool
	}{
		{"words", "state", []string{"working", "lifted", "up", "Down"}, TrackOptions{}, []geo.WorkState{w, l, l, w}, "", false},
		{"words in German", "Arbeitsstellung", []string{"ein", "aus", "Arbeit", "nein"}, TrackOptions{}, []geo.WorkState{w, l, w, l}, "", false},
		{"numbers", "working", []string{"1", "0", "0", "7"}, TrackOptions{}, []geo.WorkState{w, l, l, w}, "", false},
		{"some not logged", "state", []string{"on", "", "off", "unknown"}, TrackOptions{}, []geo.WorkState{w, u, l, u}, "", false},
		{"a longer name", "implement_lowered", []string{"yes", "no", "no", "yes"}, TrackOptions{}, []geo.WorkState{w, l, l, w}, "", false},
		{"letters of another tool, one reads as true", "state", []string{"T", "W", "W", "T"}, TrackOptions{}, nil, `work states "T" (2), "W" (2) are not all understood: none is used; name those that mean working, as in --working-values`, true},
		{"one word too many", "state", []string{"on", "off", "folding", "on"}, TrackOptions{}, nil, `work states "on" (2), "off" (1), "folding" (1)`, true},
		{"letters, named", "state", []string{"T", "W", "w", "T"}, TrackOptions{Working: []string{"W"}}, []geo.WorkState{l, w, w, l}, "", false},
		{"named against its usual meaning", "state", []string{"off", "on", "?", "on"}, TrackOptions{Working: []string{"off"}}, []geo.WorkState{w, l, u, l}, "", false},
		{"two are named, one is not there", "state", []string{"A", "B", "C", "B"}, TrackOptions{Working: []string{"A", "B", "Z"}}, []geo.WorkState{w, w, l, w}, `no work state is "Z", which was named as one that means working: there are "B" (2), "A" (1), "C" (1)`, false},
		{"another column, named", "Gestaenge", []string{"ein", "aus", "aus", "ein"}, TrackOptions{Columns: map[string]string{"state": "gestaenge"}}, []geo.WorkState{w, l, l, w}, "", false},
		{"another column, not there", "Gestaenge", []string{"ein", "aus", "aus", "ein"}, TrackOptions{Columns: map[string]string{"state": "Gerät"}}, nil, `Gerät`, true},
		{"a column without meaning", "Gestaenge", []string{"ein", "aus", "aus", "ein"}, TrackOptions{}, nil, "", false},
	} {
		for name := range stateFormats {
			if c.name == "another column, not there" && name == "log.csv" {
				continue // refused, as every column that is named and not there
			}
			state, findings := statesRead(t, name, c.column, c.values, c.o)
			if !slices.Equal(state, c.want) {
				t.Errorf("%s, %s: %v, want %v", c.name, name, state, c.want)
			}
			found := slices.IndexFunc(findings, func(f geo.Finding) bool {
				return strings.Contains(f.What, "work states \"") || strings.Contains(f.What, "no work state")
			})
			switch {
			case c.finding == "" && found >= 0:
				t.Errorf("%s, %s: %v, want no finding about states", c.name, name, findings)
			case c.finding != "" && (found < 0 || !strings.Contains(findings[found].What, c.finding) || findings[found].Lost != c.lost):
				t.Errorf("%s, %s: %v, want %q, lost %v", c.name, name, findings, c.finding, c.lost)
			}
		}
	}
}

// TestTwoValuedColumnsAreOffered: forty rows of 100 m with turns between; a column that changes with them is named, one
// that changes elsewhere, one of three values and one that never changes are not.
func TestTwoValuedColumnsAreOffered(t *testing.T) {
	var table, points strings.Builder
	table.WriteString("lon,lat,time,Hubwerk,gear,mode,tank\n")
	n := 0
	for row := range 40 {
		for k := range 60 { // 50 steps of 2 m, then half a circle of 6 m
			x, y := 2*float64(k), 12*float64(row)
			if k >= 50 {
				angle := float64(k-50) / 10 * math.Pi
				x, y = 100+6*math.Sin(angle), 12*float64(row)+6-6*math.Cos(angle)
			}
			if row%2 == 1 {
				x = 100 - x
			}
			lon, lat := 11+x/74000, 48+y/111000
			lift, gear, mode := "S1", "low", "a"
			if k >= 48 {
				lift = "S2"
			}
			if (n/37)%2 == 1 {
				gear = "high"
			}
			if n%3 == 0 {
				mode = []string{"b", "c"}[n%2]
			}
			fmt.Fprintf(&table, "%.8f,%.8f,%d,%s,%s,%s,full\n", lon, lat, 1717146000+n, lift, gear, mode)
			fmt.Fprintf(&points, `,{"type":"Feature","properties":{"Hubwerk":%q,"gear":%q,"mode":%q,"tank":"full"},"geometry":{"type":"Point","coordinates":[%.8f,%.8f]}}`, lift, gear, mode, lon, lat)
			n++
		}
	}
	for name, text := range map[string]string{"log.csv": table.String(), "log.geojson": `{"type":"FeatureCollection","features":[` + points.String()[1:] + "]}"} {
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		tracks, findings, err := tracksOf(path)
		if err != nil || len(tracks) != 1 || tracks[0].State != nil {
			t.Fatalf("%s: %d tracks, %v", name, len(tracks), err)
		}
		var offered []string
		for _, f := range findings {
			if strings.Contains(f.What, "changes with the turns") {
				offered = append(offered, f.What)
			}
		}
		if len(offered) != 1 || !strings.HasPrefix(offered[0], `column "Hubwerk" has two values, "S1" (1920) and "S2" (480), and changes with the turns`) || !strings.Contains(offered[0], `--column state="Hubwerk"`) {
			t.Errorf("%s: %q", name, offered)
		}
	}
}
