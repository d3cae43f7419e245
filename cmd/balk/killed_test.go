package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"sync"
	"testing"
	"time"

	"balk/testdata/check"
)

// kills is how many times the command is killed; .ci/long asks for more (BALK_KILLS).
func kills(t *testing.T) int {
	n, err := strconv.Atoi(cmp.Or(os.Getenv("BALK_KILLS"), "15"))
	if err != nil || n < 1 {
		t.Fatalf("BALK_KILLS=%s: must be a number from 1", os.Getenv("BALK_KILLS"))
	}
	return n
}

// acre is an invented field and a drive along its middle.
func acre(t *testing.T) (field, track string) {
	t.Helper()
	dir := t.TempDir()
	field, track = filepath.Join(dir, "field.geojson"), filepath.Join(dir, "track.geojson")
	for path, text := range map[string]string{
		field: `{"type":"Feature","properties":{"name":"Short Acre"},"geometry":{"type":"Polygon","coordinates":[[[11.57,48.14],[11.572,48.14],[11.572,48.141],[11.57,48.141],[11.57,48.14]]]}}`,
		track: `{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[[11.5701,48.1405],[11.5705,48.1405],[11.571,48.1405],[11.5715,48.1405],[11.5719,48.1405]]}}`,
	} {
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return field, track
}

// inFolder is what lies in a folder, hidden files too.
func inFolder(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && path == dir {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil || d.IsDir() {
			all[rel] = "folder"
			return err
		}
		text, err := os.ReadFile(path)
		all[rel] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func run(t *testing.T, args ...string) {
	t.Helper()
	if text, err := exec.Command("balk", args...).CombinedOutput(); err != nil {
		t.Fatalf("balk %q: %v\n%s", args, err, text)
	}
}

// TestKilledWhileItWrites kills the command at many instants, half of them drawn and half of them from
// when the journal is there. The next call, which only reads there, must find or make one whole result.
func TestKilledWhileItWrites(t *testing.T) {
	seed := check.Seed(t)
	draw := rand.New(rand.NewPCG(seed, 0))
	field, track := acre(t)
	t.Chdir(t.TempDir()) // so that the reports name the same folder
	call := func(widths string) []string {
		return []string{"compare", field, "--widths", widths, "--speed", "8", "--out", "out"}
	}
	wholes := map[string]map[string]string{}
	takes := time.Minute
	for _, widths := range []string{"4,5,6", "7"} {
		began := time.Now()
		run(t, call(widths)...)
		takes = min(takes, time.Since(began))
		wholes[widths] = inFolder(t, "out")
	}
	if maps.Equal(wholes["4,5,6"], wholes["7"]) {
		t.Fatal("both results are the same: nothing would be seen")
	}
	stands, other := "7", "4,5,6"
	var committed, finished, killed, i int
	n := kills(t)
	for ; killed < n && i < 10*n; i++ { // a call that ended before it was killed is none
		c := exec.Command("balk", call(other)...)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		ended, over := make(chan error, 1), make(chan struct{})
		go func() { ended <- c.Wait(); close(over) }()
		waits := time.After(time.Duration(draw.Int64N(int64(takes))))
		if i%2 == 1 {
			waits = journalSeen(over, time.Duration(draw.Int64N(int64(2*time.Millisecond))))
		}
		var err error
		select {
		case err = <-ended:
		case <-waits:
			_ = c.Process.Kill() // it may just have ended
			err = <-ended
		}
		if exit, ok := errors.AsType[*exec.ExitError](err); ok && exit.Exited() && runtime.GOOS != "windows" {
			t.Fatalf("seed %d, call %d: ended by itself with %v", seed, i+1, err)
		}
		if err != nil {
			killed++
		}
		left, _ := filepath.Glob(filepath.Join("out", ".balk-*", "journal"))
		committed += len(left)
		run(t, "check", field, track, "--width", "5", "--plan", filepath.Join("out", "plan-1.geojson"))
		got := inFolder(t, "out")
		switch {
		case maps.Equal(got, wholes[stands]):
		case maps.Equal(got, wholes[other]):
			finished++
			stands, other = other, stands
		default:
			t.Fatalf("seed %d, call %d: the folder holds neither result, but %q", seed, i+1, slices.Sorted(maps.Keys(got)))
		}
	}
	if killed < n {
		t.Errorf("seed %d: only %d of %d calls were killed before their end, want %d", seed, killed, i, n)
	}
	if committed == 0 {
		t.Errorf("seed %d: none of %d kills fell between the journal and its end", seed, n)
	}
	t.Logf("seed %d: %d of %d calls killed, %d of them with the journal in place; %d times the new result stood", seed, killed, i, committed, finished)
}

// journalSeen tells some time after the journal of a call is in place, or when the call is over.
func journalSeen(over <-chan struct{}, later time.Duration) <-chan time.Time {
	seen := make(chan time.Time, 1)
	go func() {
		defer func() { seen <- time.Now() }()
		for {
			select {
			case <-over:
				return
			default:
			}
			if found, err := filepath.Glob(filepath.Join("out", ".balk-*", "journal")); err == nil && len(found) > 0 {
				time.Sleep(later)
				return
			}
			time.Sleep(50 * time.Microsecond)
		}
	}()
	return seen
}

// TestEightAtOnce runs eight calls that fill one folder: each ends well, and the folder holds the whole
// result of one of them.
func TestEightAtOnce(t *testing.T) {
	field, _ := acre(t)
	t.Chdir(t.TempDir())
	call := func(i int) []string {
		return []string{"compare", field, "--widths", fmt.Sprint(3 + i), "--speed", "8", "--out", "out"}
	}
	wholes := make([]map[string]string, 8)
	for i := range wholes {
		run(t, call(i)...)
		wholes[i] = inFolder(t, "out")
	}
	for _, fresh := range []bool{false, true} {
		if fresh {
			if err := os.RemoveAll("out"); err != nil {
				t.Fatal(err)
			}
		}
		var wg sync.WaitGroup
		for i := range wholes {
			wg.Go(func() {
				var stderr bytes.Buffer
				c := exec.Command("balk", call(i)...)
				c.Stderr = &stderr
				var exit *exec.ExitError
				if err := c.Run(); errors.As(err, &exit) {
					t.Errorf("width %d: exit code %d\n%s", 3+i, exit.ExitCode(), stderr.String())
				} else if err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
		got := inFolder(t, "out")
		if !slices.ContainsFunc(wholes, func(w map[string]string) bool { return maps.Equal(w, got) }) {
			t.Errorf("the folder holds none of the results, but %q", slices.Sorted(maps.Keys(got)))
		}
	}
}
