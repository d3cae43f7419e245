package crew

import (
	"bufio"
	"errors"
	"os"
	"syscall"
	"testing"
	"time"
)

// Who waits for a line on stdin holds no processor: the poller of Go's runtime waits for it, which only a file that it knows has a deadline for (os.File).
// What a pipe brings is what went into it.
func TestPolled(t *testing.T) {
	var ends [2]int
	if err := syscall.Pipe(ends[:]); err != nil { // both block, as a process finds its stdin
		t.Fatal(err)
	}
	blocking, into := os.NewFile(uintptr(ends[0]), "stdin"), os.NewFile(uintptr(ends[1]), "other end")
	defer blocking.Close()
	if err := blocking.SetReadDeadline(time.Time{}); !errors.Is(err, os.ErrNoDeadline) {
		t.Fatalf("%v: it is polled before", err)
	}
	in, err := polled(blocking)
	if err != nil {
		t.Fatal(err)
	}
	f, is := in.(*os.File)
	if !is {
		t.Fatalf("%T", in)
	}
	defer f.Close()
	if err := f.SetReadDeadline(time.Time{}); err != nil {
		t.Errorf("stdin is not polled: %v", err)
	}
	go func() {
		_, _ = into.WriteString("a line\n") // what came tells
		_ = into.Close()
	}()
	lines := bufio.NewScanner(f)
	if !lines.Scan() || lines.Text() != "a line" || lines.Scan() || lines.Err() != nil {
		t.Errorf("%q, %v", lines.Text(), lines.Err())
	}
}
