package job

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"balk/export/vector"
	"balk/geo"
	"balk/geo/read"
)

// TestWorkStatesInEveryFormat: a column "stand" with the letters of another tool, A where the tool is down. By itself it
// is offered, named and with what A means it is the work state, named alone it is not understood.
func TestWorkStatesInEveryFormat(t *testing.T) {
	d := driven(time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC))
	l := vector.Layer{Name: "log", Kind: vector.Points, Columns: []vector.Property{{Name: "time", Holds: vector.Words}, {Name: "stand", Holds: vector.Words}}}
	letter := map[bool]string{true: "A", false: "B"}
	for _, f := range d {
		l.Features = append(l.Features, vector.Feature{Geometry: f.at, Row: []any{f.when.Format("2006-01-02T15:04:05.000Z"), letter[f.down]}})
	}
	dir := t.TempDir()
	gpkg := filepath.Join(dir, "log.gpkg")
	if err := vector.WriteGeoPackage(t.Context(), gpkg, []vector.Layer{l}, d[0].when); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{
		shapefile(t, filepath.Join(dir, "log"), l, d[0].when), gpkg,
		toFile(t, filepath.Join(dir, "log.geojson"), func(w io.Writer) error { return vector.WriteGeoJSON(w, l) }),
		toFile(t, filepath.Join(dir, "log.zip"), func(w io.Writer) error {
			return vector.ZipShapefiles(w, []vector.Layer{l}, d[0].when)
		}),
		toFile(t, filepath.Join(dir, "log.csv"), func(w io.Writer) error {
			fmt.Fprintln(w, "time,stand,lon,lat")
			for _, f := range d {
				fmt.Fprintf(w, "%s,%s,%.8f,%.8f\n", f.when.Format("2006-01-02T15:04:05.000Z"), letter[f.down], f.at[0], f.at[1])
			}
			return nil
		}),
	} {
		said := func(o read.TrackOptions) (geo.Track, string) {
			tracks, findings, err := read.Tracks(path, o)
			if err != nil || len(tracks) != 1 || tracks[0].Fixes() != len(d) {
				t.Fatalf("%s: %d tracks, %v", path, len(tracks), err)
			}
			var words []string
			for _, f := range findings {
				words = append(words, f.What)
			}
			return tracks[0], strings.Join(words, "\n")
		}
		if track, words := said(read.TrackOptions{}); track.State != nil || !strings.Contains(words, `column "stand" has two values`) {
			t.Errorf("%s: not offered: %q", path, words)
		}
		named := read.TrackOptions{Columns: map[string]string{"state": "stand"}}
		if track, words := said(named); track.State != nil || !strings.Contains(words, "are not all understood") {
			t.Errorf("%s: named alone: %q", path, words)
		}
		named.Working = []string{"A"}
		track, words := said(named)
		if strings.Contains(words, "understood") || strings.Contains(words, "two values") || len(track.State) != len(d) {
			t.Fatalf("%s: named with its meaning: %d states, %q", path, len(track.State), words)
		}
		for i, s := range track.State {
			if (s == geo.Working) != d[i].down || s == geo.StateUnknown {
				t.Fatalf("%s: fix %d is %v, want down %v", path, i, s, d[i].down)
			}
		}
	}
}
