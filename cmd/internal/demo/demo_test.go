package demo

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"balk/geo/plane"
)

func TestSameSeedGivesTheSameBytes(t *testing.T) {
	a, err := build(context.Background(), 1)
	if err != nil {
		t.Fatal(err)
	}
	b, err := build(context.Background(), 1)
	if err != nil {
		t.Fatal(err)
	}
	c, err := build(context.Background(), 2)
	if err != nil {
		t.Fatal(err)
	}
	if len(a) != 1+2+1+6+3*7 {
		t.Errorf("%d files, want a README, 2 implements, and 3 tracks and the fields as GeoJSON, shapefile and zip", len(a))
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
	names, err := Write(context.Background(), dir, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, n := range names {
		if _, err := os.Stat(filepath.Join(dir, n)); err != nil {
			t.Error(err)
		}
	}
	if _, err := Write(context.Background(), dir, 1); err != nil {
		t.Errorf("the same farm again: %v", err)
	}
	if _, err := Write(context.Background(), dir, 2); err == nil || !strings.Contains(err.Error(), "there already") {
		t.Errorf("another farm into the same folder: %v", err)
	}
}

func TestInterruptedRunWritesNothing(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	dir := filepath.Join(t.TempDir(), "farm")
	if _, err := Write(ctx, dir, 1); err == nil {
		t.Error("no error after the interruption")
	}
	if _, err := os.Stat(dir); !os.IsNotExist(err) {
		t.Errorf("the folder was made: %v", err)
	}
}

// The log must look like a log: time goes on, speeds are possible, the tool goes
// up and down, and every work stays near the field.
func TestLogsLookLikeLogs(t *testing.T) {
	for _, g := range grounds() {
		t.Run(g.slug, func(t *testing.T) {
			log := g.work(1)
			box := g.outer.Bounds()
			lowered, gaps, fastest := 0, 0, 0.0
			for i := 1; i < len(log); i++ {
				dt := log[i].time.Sub(log[i-1].time)
				if dt <= 0 {
					t.Fatalf("fix %d: time goes back by %v", i, -dt)
				}
				if dt > 10*time.Second {
					gaps++
				} else if dt > 500*time.Millisecond {
					fastest = max(fastest, log[i].at.Dist(log[i-1].at)/dt.Seconds())
				}
				if log[i].working && !log[i-1].working {
					lowered++
				}
				p := log[i].at
				if p.X < box.Min.X-10 || p.X > box.Max.X+10 || p.Y < box.Min.Y-10 || p.Y > box.Max.Y+10 {
					t.Fatalf("fix %d at %v is far outside the field %v", i, p, box)
				}
			}
			if lowered < 8 {
				t.Errorf("lowered %d times, want 8 or more", lowered)
			}
			if want := len(g.faults.logGap); gaps != want {
				t.Errorf("%d log gaps, want %d", gaps, want)
			}
			if fastest > 2.5 {
				t.Errorf("fastest %.2f m/s, want at most 2.5 (8 km/h and the receiver's noise)", fastest)
			}
			t.Logf("%d fixes, lowered %d times, %v", len(log), lowered, log[len(log)-1].time.Sub(log[0].time))
		})
	}
}

func TestInsetOfASquare(t *testing.T) {
	square := plane.Ring{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 10}, {X: 0, Y: 10}}
	if a := inset(square, 1).Area(); a != 64 {
		t.Errorf("area %v, want 64 m²", a)
	}
	if a := inset(square, -1).Area(); a != 144 {
		t.Errorf("outwards: area %v, want 144 m²", a)
	}
}
