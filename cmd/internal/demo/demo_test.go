package demo

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

func TestSameSeedGivesTheSameBytes(t *testing.T) {
	a, _, err := build(context.Background(), 1)
	if err != nil {
		t.Fatal(err)
	}
	b, _, err := build(context.Background(), 1)
	if err != nil {
		t.Fatal(err)
	}
	c, _, err := build(context.Background(), 2)
	if err != nil {
		t.Fatal(err)
	}
	if len(a) != 1+2+1+1+1+6+3*7+1 {
		t.Errorf("%d files, want a README, 2 implements, a weather log, spot checks, 3 tracks and the fields as GeoJSON, shapefile and zip, and a fourth track as GeoJSON", len(a))
	}
	differ := 0
	for i := range a {
		if a[i].name != b[i].name || !bytes.Equal(a[i].data, b[i].data) {
			t.Errorf("%s differs between two runs with one seed", a[i].name)
		}
		if !bytes.Equal(a[i].data, c[i].data) {
			differ++
		}
	}
	if differ == 0 {
		t.Error("another seed changes nothing")
	}
}

func TestWriteOverwritesNothing(t *testing.T) {
	dir := t.TempDir()
	farm, err := Write(context.Background(), dir, 1, func(string) {})
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range farm.Names {
		if _, err := os.Stat(filepath.Join(dir, n)); err != nil {
			t.Error(err)
		}
	}
	if _, err := Write(context.Background(), dir, 1, func(string) {}); err != nil {
		t.Errorf("the same farm again: %v", err)
	}
	if _, err := Write(context.Background(), dir, 2, func(string) {}); err == nil || !strings.Contains(err.Error(), "there already") {
		t.Errorf("another farm into the same folder: %v", err)
	}
}

func TestInterruptedRunWritesNothing(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	dir := filepath.Join(t.TempDir(), "farm")
	if _, err := Write(ctx, dir, 1, func(string) {}); err == nil {
		t.Error("no error after the interruption")
	}
	if _, err := os.Stat(dir); !os.IsNotExist(err) {
		t.Errorf("the folder was made: %v", err)
	}
}

// The log must look like a log: time goes on, speeds are possible and vary, the tool goes
// up and down, and the set keeps to the field.
func TestLogsLookLikeLogs(t *testing.T) {
	for _, g := range operations() {
		t.Run(g.slug, func(t *testing.T) {
			op, err := g.work(t.Context(), 1)
			if err != nil {
				t.Fatal(err)
			}
			lowered, gaps, floats, slowest, fastest := 0, 0, 0, 99.0, 0.0
			for i := 1; i < len(op.log); i++ {
				a, b := op.log[i-1], op.log[i]
				dt := b.time.Sub(a.time)
				if dt <= 0 {
					t.Fatalf("fix %d: time goes back by %v", i, -dt)
				}
				if dt > 10*time.Second {
					gaps++
				} else if dt > 500*time.Millisecond {
					v := b.at.Dist(a.at) / dt.Seconds()
					if slowest, fastest = min(slowest, v), max(fastest, v); math.Abs(v-(a.speed+b.speed)/2) > 0.15 {
						t.Errorf("fix %d: %.2f m/s by its places, %.2f logged", i, v, b.speed)
					}
				}
				if b.working && !a.working {
					lowered++
				}
				if b.float {
					floats++
				}
				if !(plane.Polygon{g.outer}).Holds(b.at) {
					t.Fatalf("fix %d at %v lies outside the field", i, b.at)
				}
				if b.height < level-10 || b.height > level+10 {
					t.Errorf("fix %d: %.1f m high", i, b.height)
				}
			}
			want := map[Kind]int{}
			for _, f := range g.faults {
				want[f.kind]++
			}
			if lowered != len(op.jobs) {
				t.Errorf("lowered %d times for %d passes", lowered, len(op.jobs))
			}
			if gaps != want[LogGap] || (floats > 0) != (want[WorseFix] > 0) {
				t.Errorf("%d log gaps and %d float fixes, want %v", gaps, floats, want)
			}
			if fastest > 1.06*g.pace || slowest > g.pace-0.5 {
				t.Errorf("from %.2f to %.2f m/s, at a pace of %.2f", slowest, fastest, g.pace)
			}
		})
	}
}

// What is known of a fix stands in the file: place and height, time, state, speed and quality.
func TestFilesHoldWhatIsLogged(t *testing.T) {
	files, _, err := build(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	g := grounds()[0]
	op, err := g.work(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	k := slices.IndexFunc(files, func(f file) bool { return f.name == "track-pond.geojson" })
	var log struct {
		Features []struct {
			Geometry   struct{ Coordinates [3]float64 }
			Properties struct {
				Time    time.Time
				Working bool
				Speed   float64
				Quality string
			}
		}
	}
	if err := json.Unmarshal(files[k].data, &log); err != nil {
		t.Fatal(err)
	}
	if len(log.Features) != len(op.log) {
		t.Fatalf("%d fixes in the file, %d logged", len(log.Features), len(op.log))
	}
	l, floats := geo.LocalAt(g.centre), 0
	for i, f := range op.log {
		c, p := log.Features[i].Geometry.Coordinates, log.Features[i].Properties
		if l.XY(orb.Point{c[0], c[1]}).Dist(f.at) > 1e-3 || math.Abs(c[2]-f.height) > 0.006 || !p.Time.Equal(f.time) || p.Working != f.working || math.Abs(p.Speed-f.speed) > 0.006 {
			t.Fatalf("fix %d: %v, %+v in the file, %+v logged", i, c, p, f)
		}
		if p.Quality == "float" {
			floats++
		} else if p.Quality != "fixed" {
			t.Fatalf("fix %d: quality %q", i, p.Quality)
		}
	}
	if float64(floats) < worse-2 || float64(floats) > worse+2 {
		t.Errorf("%d float fixes, want one a second for %g s", floats, worse)
	}
}
