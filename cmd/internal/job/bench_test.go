package job

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"balk/coverage/drive"
)

// simulated writes a square field and the log of parallel passes on it, at 10 Hz
// and 8 km/h, with a slow receiver error of about 2 cm, and gives the spec.
func simulated(b *testing.B, fixes int) Spec {
	b.Helper()
	const (
		credited = 4.9
		step     = 8 / 3.6 / 10 // m between fixes
		lon, lat = 11.57, 48.14
		my       = 111_200.0 // m per degree of latitude there, near enough for a simulation
	)
	mx := 111_320 * math.Cos(lat*math.Pi/180)
	side := math.Sqrt(float64(fixes) * step * credited)
	passes := int(math.Ceil(side / credited))
	dir := b.TempDir()
	s := Spec{Boundary: filepath.Join(dir, "field.geojson"), Tracks: []string{filepath.Join(dir, "track.geojson")}, Out: filepath.Join(dir, "out"),
		Work: drive.Work{Width: 5, Overlap: 0.1, Rounds: 2}}
	e, n := lon+side/mx, lat+float64(passes)*credited/my
	field := fmt.Sprintf(`{"type":"Feature","properties":{"name":"simulated"},"geometry":{"type":"Polygon","coordinates":[[[%g,%g],[%g,%g],[%g,%g],[%g,%g],[%g,%g]]]}}`,
		lon, lat, e, lat, e, n, lon, n, lon, lat)
	if err := os.WriteFile(s.Boundary, []byte(field), 0o644); err != nil {
		b.Fatal(err)
	}
	f, err := os.Create(s.Tracks[0])
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(f)
	rng := rand.New(rand.NewPCG(1, 2))
	fmt.Fprint(w, `{"type":"FeatureCollection","features":[`)
	t := time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC)
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
			t = t.Add(8 * time.Second)
		}
		t = t.Add(100 * time.Millisecond)
		fmt.Fprintf(w, "\n"+`{"type":"Feature","geometry":{"type":"Point","coordinates":[%.8f,%.8f]},"properties":{"time":%q,"working":%t,"speed":2.22}}`,
			lon+x/mx, lat+(y+wander)/my, t.Format("2006-01-02T15:04:05.000Z"), k < perPass-1)
	}
	fmt.Fprint(w, "\n]}\n")
	if err := w.Flush(); err != nil {
		b.Fatal(err)
	}
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
	return s
}

// BenchmarkCheck is balk check as a whole, files to files; its twin
// BenchmarkDecode is how long encoding/json takes only to decode the track.
func BenchmarkCheck(b *testing.B) {
	for _, fixes := range []int{10_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprintf("fixes=%d", fixes), func(b *testing.B) {
			s := simulated(b, fixes)
			var rep Report
			for b.Loop() {
				var err error
				if rep, err = Run(context.Background(), s, nil); err != nil {
					b.Fatal(err)
				}
			}
			if bal := rep.Balance; rep.Fixes != fixes || bal.Once < 0.9*bal.Field {
				b.Fatalf("%d fixes, balance %+v: not the field that was simulated", rep.Fixes, bal)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(fixes), "ns/fix")
		})
	}
}

func BenchmarkDecode(b *testing.B) {
	for _, fixes := range []int{10_000, 100_000, 1_000_000} {
		b.Run(fmt.Sprintf("fixes=%d", fixes), func(b *testing.B) {
			s := simulated(b, fixes)
			var fc struct {
				Features []struct {
					Geometry struct {
						Coordinates [2]float64 `json:"coordinates"`
					} `json:"geometry"`
					Properties struct {
						Time    time.Time `json:"time"`
						Working bool      `json:"working"`
						Speed   float64   `json:"speed"`
					} `json:"properties"`
				} `json:"features"`
			}
			for b.Loop() {
				text, err := os.ReadFile(s.Tracks[0])
				if err != nil {
					b.Fatal(err)
				}
				fc.Features = nil
				if err := json.Unmarshal(text, &fc); err != nil {
					b.Fatal(err)
				}
			}
			if len(fc.Features) != fixes {
				b.Fatalf("%d features, want %d", len(fc.Features), fixes)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(fixes), "ns/fix")
		})
	}
}
