package job

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"balk/coverage/drive"
	"balk/testdata/check"
	"balk/testdata/trial"
)

var logSizes = []int{10_000, 100_000, 1_000_000}

// BenchmarkCheck is balk check as a whole, files to files and without files; its twin
// BenchmarkDecode is how long encoding/json takes only to decode the track.
func BenchmarkCheck(b *testing.B) {
	for _, out := range []bool{false, true} {
		for _, fixes := range logSizes {
			b.Run(fmt.Sprintf("out=%t/fixes=%d", out, fixes), func(b *testing.B) {
				field, track := trial.Log(b, fixes)
				s := Spec{Boundary: field, Tracks: []string{track}, Work: drive.Work{Width: 5, Overlap: 0.1, Rounds: 2}}
				if out {
					s.Out = filepath.Join(b.TempDir(), "out")
				}
				var rep Report
				used := check.CPUTime(b)
				for b.Loop() {
					var err error
					if rep, err = Run(context.Background(), s, nil); err != nil {
						b.Fatal(err)
					}
				}
				if bal := rep.Balance; rep.Fixes != fixes || bal.Once < 0.9*bal.Field {
					b.Fatalf("%d fixes, balance %+v: not the field that was simulated", rep.Fixes, bal)
				}
				perFix(b, fixes, check.CPUTime(b)-used)
			})
		}
	}
}

// perFix says what a fix cost, by the clock and of processors.
func perFix(b *testing.B, fixes int, cpu time.Duration) {
	n := float64(b.N) * float64(fixes)
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/n, "ns/fix")
	b.ReportMetric(float64(cpu.Nanoseconds())/n, "cpu-ns/fix")
}

// BenchmarkDecode decodes into what the reader wants of a feature, or with the properties as a map.
func BenchmarkDecode(b *testing.B) {
	type point struct {
		Coordinates [2]float64 `json:"coordinates"`
	}
	var typed struct {
		Features []struct {
			Geometry   point `json:"geometry"`
			Properties struct {
				Time    time.Time `json:"time"`
				Working bool      `json:"working"`
				Speed   float64   `json:"speed"`
			} `json:"properties"`
		} `json:"features"`
	}
	var mapped struct {
		Features []struct {
			Geometry   point          `json:"geometry"`
			Properties map[string]any `json:"properties"`
		} `json:"features"`
	}
	for _, into := range []struct {
		name string
		v    any
		read func() int
	}{
		{"struct", &typed, func() int { n := len(typed.Features); typed.Features = nil; return n }},
		{"map", &mapped, func() int { n := len(mapped.Features); mapped.Features = nil; return n }},
	} {
		for _, fixes := range logSizes {
			b.Run(fmt.Sprintf("into=%s/fixes=%d", into.name, fixes), func(b *testing.B) {
				_, track := trial.Log(b, fixes)
				used := check.CPUTime(b)
				for b.Loop() {
					text, err := os.ReadFile(track)
					if err != nil {
						b.Fatal(err)
					}
					if err := json.Unmarshal(text, into.v); err != nil {
						b.Fatal(err)
					}
					if n := into.read(); n != fixes {
						b.Fatalf("%d features, want %d", n, fixes)
					}
				}
				perFix(b, fixes, check.CPUTime(b)-used)
			})
		}
	}
}
