package job

import (
	"fmt"
	"io"
	"path/filepath"
	"testing"
	"time"

	"balk/export/vector"
	"balk/geo/read"
)

// TestUSTimesInEveryFormat: a log as a program in America writes it: month first, 12 hours with AM and PM, over noon and over midnight,
// on days that could be months; as one text, and as date and time apart.
func TestUSTimesInEveryFormat(t *testing.T) {
	for _, start := range []time.Time{time.Date(2024, 5, 6, 23, 58, 0, 0, time.UTC), time.Date(2024, 5, 6, 11, 58, 0, 0, time.UTC), time.Date(2024, 5, 31, 0, 0, 0, 0, time.UTC)} {
		for _, forms := range [][]string{{"1/2/2006 3:04:05 PM"}, {"01/02/2006 03:04:05 pm"}, {"1/2/2006 3:04:05.000 PM"}, {"1/2/2006", "3:04:05 PM"}} {
			d := driven(start)[:300]
			l := vector.Layer{Name: "log", Kind: vector.Points}
			for i := range forms {
				l.Columns = append(l.Columns, vector.Property{Name: []string{"time", "clock"}[i], Holds: vector.Words})
			}
			if len(forms) == 2 {
				l.Columns[0].Name, l.Columns[1].Name = "date", "time"
			}
			for _, f := range d {
				var row []any
				for _, form := range forms {
					row = append(row, f.when.Format(form))
				}
				l.Features = append(l.Features, vector.Feature{Geometry: f.at, Row: row})
			}
			dir := t.TempDir()
			gpkg := filepath.Join(dir, "log.gpkg")
			if err := vector.WriteGeoPackage(t.Context(), gpkg, []vector.Layer{l}, start); err != nil {
				t.Fatal(err)
			}
			paths := []string{
				shapefile(t, filepath.Join(dir, "log"), l, start), gpkg,
				toFile(t, filepath.Join(dir, "log.geojson"), func(w io.Writer) error { return vector.WriteGeoJSON(w, l) }),
				toFile(t, filepath.Join(dir, "log.csv"), func(w io.Writer) error {
					for i, f := range d {
						if i == 0 {
							for _, c := range l.Columns {
								fmt.Fprintf(w, "%s;", c.Name)
							}
							fmt.Fprintln(w, "lon;lat")
						}
						for _, form := range forms {
							fmt.Fprintf(w, "%s;", f.when.Format(form))
						}
						fmt.Fprintf(w, "%.8f;%.8f\n", f.at[0], f.at[1])
					}
					return nil
				}),
				toFile(t, filepath.Join(dir, "line.geojson"), func(w io.Writer) error {
					if len(forms) == 2 {
						return vector.WriteGeoJSON(w, l)
					}
					fmt.Fprint(w, `{"type":"Feature","geometry":{"type":"LineString","coordinates":[`)
					for i, f := range d {
						fmt.Fprintf(w, "%s[%.8f,%.8f]", []string{",", ""}[max(0, 1-i)], f.at[0], f.at[1])
					}
					fmt.Fprint(w, `]},"properties":{"coordTimes":[`)
					for i, f := range d {
						fmt.Fprintf(w, "%s%q", []string{",", ""}[max(0, 1-i)], f.when.Format(forms[0]))
					}
					_, err := fmt.Fprint(w, `]}}`)
					return err
				}),
				toFile(t, filepath.Join(dir, "log.kml"), func(w io.Writer) error {
					fmt.Fprint(w, `<kml><Document>`)
					for _, f := range d {
						when := f.when.Format(forms[0])
						if len(forms) == 2 {
							when += " " + f.when.Format(forms[1])
						}
						fmt.Fprintf(w, `<Placemark><TimeStamp><when>%s</when></TimeStamp><Point><coordinates>%.8f,%.8f</coordinates></Point></Placemark>`, when, f.at[0], f.at[1])
					}
					_, err := fmt.Fprint(w, `</Document></kml>`)
					return err
				}),
				toFile(t, filepath.Join(dir, "log.gpx"), func(w io.Writer) error {
					fmt.Fprint(w, `<gpx><trk><trkseg>`)
					for _, f := range d {
						when := f.when.Format(forms[0])
						if len(forms) == 2 {
							when += " " + f.when.Format(forms[1])
						}
						fmt.Fprintf(w, `<trkpt lat="%.8f" lon="%.8f"><time>%s</time></trkpt>`, f.at[1], f.at[0], when)
					}
					_, err := fmt.Fprint(w, `</trkseg></trk></gpx>`)
					return err
				}),
			}
			for _, path := range paths {
				situation := fmt.Sprintf("%s, %q, from %s", filepath.Ext(path), forms, start.Format(time.DateTime))
				tracks, findings, err := read.Tracks(path, read.TrackOptions{})
				if err != nil || len(tracks) != 1 || tracks[0].Fixes() != len(d) {
					t.Errorf("%s: %d tracks, %v, %v", situation, len(tracks), findings, err)
					continue
				}
				flat := tracks[0].Line.FlatCoords()
				for k, f := range d {
					if got := flat[3*k+2]; got != float64(f.when.Unix()) {
						t.Errorf("%s: fix %d at %.0f, want %d; %v", situation, k+1, got, f.when.Unix(), findings)
						break
					}
				}
			}
		}
	}
}
