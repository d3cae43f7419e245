//go:build unix

package main

import (
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"balk/testdata/check"
	"balk/testdata/trial"
)

// TestMemoryOfALargeLog holds what a fix of a log takes, from small to large. The whole command, with all its layers.
func TestMemoryOfALargeLog(t *testing.T) {
	if testing.Short() || trial.UnderRaceDetector() || runtime.GOOS != "linux" { // elsewhere the most memory is told in other units
		t.Skip("long, or not told here")
	}
	const perFix = 520 // bytes: columns, bars, outlines and their arrangement
	most := func(fixes int) float64 {
		field, track := trial.Log(t, fixes)
		c := exec.Command("balk", "check", field, track, "--width", "5", "--overlap", "0.1", "--rounds", "2", "--out", filepath.Join(t.TempDir(), "out"))
		if text, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%d fixes: %v\n%s", fixes, err, text)
		}
		return float64(c.ProcessState.SysUsage().(*syscall.Rusage).Maxrss) * 1024
	}
	few, many := 150_000, 600_000
	a, b := most(few), most(many)
	t.Logf("%d fixes: %.0f MB, %d fixes: %.0f MB", few, a/1e6, many, b/1e6)
	if grown := (b - a) / float64(many-few); grown > perFix {
		t.Errorf("%.0f bytes more for each fix, at most %d are allowed", grown, perFix)
	}
}

// TestInterrupted interrupts the command at many instants, once or twice. It must end with 130, with nothing left in the
// folder, or with 0 and the whole result.
func TestInterrupted(t *testing.T) {
	seed := check.Seed(t)
	draw := rand.New(rand.NewPCG(seed, 1))
	field, track := trial.Log(t, 100_000)
	t.Chdir(t.TempDir())
	call := func(out string) *exec.Cmd {
		return exec.Command("balk", "check", field, track, "--width", "5", "--overlap", "0.1", "--rounds", "2", "--out", out)
	}
	began := time.Now()
	if text, err := call("whole").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	takes := time.Since(began)
	whole := inFolder(t, "whole")
	interrupted := 0
	for i := range kills(t) {
		if err := os.RemoveAll("out"); err != nil {
			t.Fatal(err)
		}
		c := call("out")
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		for range 1 + i%2 {
			time.Sleep(time.Duration(draw.Int64N(int64(takes))) / time.Duration(1+9*(i%2)))
			_ = c.Process.Signal(os.Interrupt) // it may just have ended
		}
		err := c.Wait()
		exit, failed := errors.AsType[*exec.ExitError](err)
		got := map[string]string{}
		if _, err := os.Stat("out"); err == nil {
			got = inFolder(t, "out")
		}
		for name := range got {
			if strings.Contains(name, ".balk") {
				t.Errorf("seed %d, call %d: %s is left in the folder", seed, i+1, name)
			}
		}
		switch {
		case !failed && len(got) == len(whole):
		case failed && exit.ExitCode() == -1 && len(got) == 0: // it did not listen yet
		case failed && exit.ExitCode() == 130 && len(got) == 0:
			interrupted++
		default:
			t.Errorf("seed %d, call %d: %v, and %d files, where the whole result has %d", seed, i+1, err, len(got), len(whole))
		}
	}
	if interrupted == 0 {
		t.Errorf("seed %d: no call was interrupted", seed)
	}
}
