package trial

import (
	"bufio"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// Log writes an invented square field and the log of parallel passes on it, a GeoJSON point per fix at 10 Hz
// and 8 km/h, with a slow receiver error of about 2 cm, and gives the names of both files.
func Log(t testing.TB, fixes int) (field, track string) {
	t.Helper()
	const (
		credited = 4.9
		step     = 8 / 3.6 / 10 // m between fixes
		lon, lat = 11.57, 48.14
		my       = 111_200.0 // m per degree of latitude there, near enough for a simulation
	)
	mx := 111_320 * math.Cos(lat*math.Pi/180)
	side := math.Sqrt(float64(fixes) * step * credited)
	passes := int(math.Ceil(side / credited))
	dir := t.TempDir()
	field, track = filepath.Join(dir, "field.geojson"), filepath.Join(dir, "track.geojson")
	e, n := lon+side/mx, lat+float64(passes)*credited/my
	boundary := fmt.Sprintf(`{"type":"Feature","properties":{"name":"simulated"},"geometry":{"type":"Polygon","coordinates":[[[%g,%g],[%g,%g],[%g,%g],[%g,%g],[%g,%g]]]}}`,
		lon, lat, e, lat, e, n, lon, n, lon, lat)
	if err := os.WriteFile(field, []byte(boundary), 0o644); err != nil {
		t.Fatal(err)
	}
	f, err := os.Create(track)
	if err != nil {
		t.Fatal(err)
	}
	w := bufio.NewWriter(f)
	rng := rand.New(rand.NewPCG(1, 2))
	fmt.Fprint(w, `{"type":"FeatureCollection","features":[`)
	at := time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC)
	wander, perPass := 0.0, fixes/passes
	for i := range fixes {
		pass, k := i/perPass, i%perPass
		x, y := side*float64(k)/float64(perPass-1), (float64(pass)+0.5)*credited
		if pass%2 == 1 {
			x = side - x
		}
		wander = 0.995*wander + 0.002*rng.NormFloat64()
		if i > 0 {
			fmt.Fprint(w, ",")
		}
		if k == 0 {
			at = at.Add(8 * time.Second)
		}
		at = at.Add(100 * time.Millisecond)
		fmt.Fprintf(w, "\n"+`{"type":"Feature","geometry":{"type":"Point","coordinates":[%.8f,%.8f]},"properties":{"time":%q,"working":%t,"speed":2.22}}`,
			lon+x/mx, lat+(y+wander)/my, at.Format("2006-01-02T15:04:05.000Z"), k < perPass-1)
	}
	fmt.Fprint(w, "\n]}\n")
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	return field, track
}
