package cli

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// FuzzCommand gives whatever comes to the command, as field or as log, to one of its verbs: it ends with one of its exit codes,
// and says something wherever it is not 0.
func FuzzCommand(f *testing.F) {
	const field = `{"type":"Polygon","coordinates":[[[11.57,48.14],[11.572,48.14],[11.572,48.141],[11.57,48.141],[11.57,48.14]]]}`
	log := "lon,lat,time,working\n"
	for i := range 40 {
		log += fmt.Sprintf("%.6f,%.6f,2026-04-14T06:%02d:%02dZ,%d\n", 11.5702+1e-5*float64(i%20*8), 48.1402+5e-5*float64(i/20), i/20, 2*(i%20), 1)
	}
	kml := `<kml><Placemark><name>N</name><Polygon><outerBoundaryIs><LinearRing><coordinates>11.57,48.14 11.572,48.14 11.572,48.141 11.57,48.14</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></kml>`
	gpx := `<gpx><trk><trkseg><trkpt lat="48.1402" lon="11.5702"><time>2026-04-14T06:00:00Z</time></trkpt><trkpt lat="48.1402" lon="11.5718"><time>2026-04-14T06:01:00Z</time></trkpt></trkseg></trk></gpx>`
	for verb := range byte(4) {
		for _, seed := range []string{field, log, kml, gpx, "wkt;speed_ms\nLINESTRING(11.5702 48.1402,11.5718 48.1402);2\n", "$GPGLL,4808.412,N,01134.212,E,225444,A\n$GPGLL,4808.412,N,01134.312,E,225504,A\n",
			`{"type":"MultiPolygon","coordinates":[[[[11.57,48.14],[11.572,48.14],[11.572,48.141],[11.57,48.14]],[[11.5705,48.1402],[11.571,48.1402],[11.571,48.1404],[11.5705,48.1402]]]]}`} {
			f.Add([]byte(seed), verb)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte, verb byte) {
		dir := t.TempDir()
		given, fixed := filepath.Join(dir, "given"), filepath.Join(dir, "fixed")
		text := field
		if verb%4 == 1 {
			text = log
		}
		for path, content := range map[string][]byte{given: data, fixed: []byte(text)} {
			if err := os.WriteFile(path, content, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		args := [][]string{
			{"check", fixed, given, "--width", "6", "--pass-error", "0.05"}, {"check", given, fixed, "--width", "6", "--mend", "--json"},
			{"turn", given, "--width", "6", "--mend"}, {"check", fixed, given, "--width", "6", "--plan", given, "--together"},
		}[verb%4]
		var out, said strings.Builder
		code := Run(context.Background(), args, strings.NewReader(""), &out, &said)
		if code < 0 || code > 3 {
			t.Fatalf("%q: exit %d", args, code)
		}
		if code != 0 && said.Len() == 0 {
			t.Fatalf("%q: exit %d without a word", args, code)
		}
		if _, err := io.WriteString(io.Discard, out.String()); err != nil {
			t.Fatal(err)
		}
	})
}
