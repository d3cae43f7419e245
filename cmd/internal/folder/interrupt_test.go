package folder

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
)

// An interruption does not wait for a file that takes long, be it to work out or to write, and leaves nothing, whatever
// such a file still writes afterwards.
func TestInterruptedWhileWriting(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "out")
	ctx, cancel := context.WithCancel(t.Context())
	begun, ended, never := make(chan struct{}), make(chan error, 1), make(chan struct{})
	slow := func(w io.Writer) error {
		if _, err := w.Write(make([]byte, 1<<20)); err != nil {
			return err
		}
		close(begun)
		<-never
		_, err := w.Write(make([]byte, 1<<20))
		ended <- err
		return err
	}
	go func() {
		<-begun
		cancel()
	}()
	_, err := Fill(ctx, dir, Result{Verb: "check", Files: []File{{Name: "slow", Write: slow}}, Report: func(io.Writer, Manifest) error { return nil }}, nil)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want the interruption", err)
	}
	left := func() {
		t.Helper()
		if list, err := os.ReadDir(filepath.Dir(dir)); err != nil || len(list) > 0 {
			t.Errorf("left behind: %v (%v)", list, err)
		}
	}
	left()
	close(never)
	if err := <-ended; err == nil {
		t.Error("a file that was given up could still be written")
	}
	left()
}
