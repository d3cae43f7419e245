package read

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"
)

// lineText is a LineString of n fixes going back and forth over a field,
// invented for the benchmark.
func lineText(n int, times bool) []byte {
	var b bytes.Buffer
	b.WriteString(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"LineString","coordinates":[`)
	for i := range n {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "[%.8f,%.8f]", 11.57+1e-5*float64(i%400), 48.13+6e-5*float64(i/400))
	}
	b.WriteString(`]},"properties":{"width":6`)
	if times {
		b.WriteString(`,"coordTimes":[`)
		at := time.Date(2024, 5, 1, 6, 0, 0, 0, time.UTC)
		for i := range n {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(at.Add(time.Duration(i) * time.Second).Format(`"2006-01-02T15:04:05Z"`))
		}
		b.WriteByte(']')
	}
	b.WriteString("}}]}")
	return b.Bytes()
}

// pointText is the same as a FeatureCollection of Points.
func pointText(n int) []byte {
	var b bytes.Buffer
	b.WriteString(`{"type":"FeatureCollection","features":[`)
	at := time.Date(2024, 5, 1, 6, 0, 0, 0, time.UTC)
	for i := range n {
		if i > 0 {
			b.WriteByte(',')
		}
		fmt.Fprintf(&b, "\n"+`{"type":"Feature","geometry":{"type":"Point","coordinates":[%.8f,%.8f]},"properties":{"time":"%s","state":%d,"width":6,"heading":%.1f,"speed":2.%d}}`,
			11.57+1e-5*float64(i%400), 48.13+6e-5*float64(i/400), at.Add(time.Duration(i)*time.Second).Format(time.RFC3339), i%2, float64(i%3600)/10, i%10)
	}
	b.WriteString("]}")
	return b.Bytes()
}

func BenchmarkGeoJSONTrack(b *testing.B) {
	for _, c := range []struct {
		name string
		make func(n int) []byte
	}{
		{"line", func(n int) []byte { return lineText(n, false) }},
		{"line with times", func(n int) []byte { return lineText(n, true) }},
		{"points", pointText},
	} {
		for _, n := range []int{1_000, 100_000, 1_000_000} {
			text := c.make(n)
			name := strings.ReplaceAll(c.name, " ", "-") + fmt.Sprintf("/fixes=%d/", n)
			b.Run(name+"read", func(b *testing.B) {
				b.SetBytes(int64(len(text)))
				b.ReportAllocs()
				for b.Loop() {
					tracks, findings, err := geoJSONTracks(bytes.NewReader(text), "bench")
					if err != nil || len(tracks) != 1 || tracks[0].Fixes() != n || len(findings) != 0 {
						b.Fatal(len(tracks), findings, err)
					}
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/fix")
			})
			if n > 100_000 {
				continue // the standard library takes seconds and gigabytes
			}
			b.Run(name+"encoding-json", func(b *testing.B) {
				b.SetBytes(int64(len(text)))
				b.ReportAllocs()
				for b.Loop() {
					var v struct {
						Features []struct {
							Geometry   struct{ Coordinates any }
							Properties map[string]any
						}
					}
					if err := json.Unmarshal(text, &v); err != nil || len(v.Features) == 0 {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/fix")
			})
		}
	}
}
