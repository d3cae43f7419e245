//go:build unix

package job

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A pipe that nobody writes to is named, and an interruption ends the waiting for it, whichever input it is; nothing is left.
func TestPipeNobodyWritesTo(t *testing.T) {
	for _, what := range []string{"boundary", "track", "plan"} {
		t.Run(what, func(t *testing.T) {
			t.Parallel()
			s := spec(t)
			dir := filepath.Dir(s.Boundary)
			pipe := filepath.Join(dir, "pipe")
			if err := syscall.Mkfifo(pipe, 0o600); err != nil {
				t.Skip(err)
			}
			defer func() { // whoever still waits goes on
				if f, err := os.OpenFile(pipe, os.O_RDWR, 0); err == nil {
					f.Close()
				}
			}()
			switch what {
			case "boundary":
				s.Boundary = pipe
			case "track":
				s.Tracks = []string{pipe}
			case "plan":
				s.Plan = pipe
			}
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			said := make(chan string, 10)
			_, err := Run(ctx, s, &Call{Say: func(text string) {
				said <- text
				cancel()
			}})
			if !errors.Is(err, context.Canceled) {
				t.Errorf("%v, want the interruption", err)
			}
			select {
			case text := <-said:
				if !strings.Contains(text, pipe+": waits") {
					t.Errorf("said %q", text)
				}
			default:
				t.Error("the pipe is not named")
			}
			left, err := os.ReadDir(dir)
			if err != nil || len(left) != 3 {
				t.Errorf("%v left behind (%v), want two inputs and the pipe", left, err)
			}
		})
	}
}
