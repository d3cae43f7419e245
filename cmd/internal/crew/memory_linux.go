package crew

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"strconv"
	"syscall"
)

// limitMemory lets this process have so many bytes of address space beyond what it has: Go reserves much at its start that it does not use.
func limitMemory(bytes uint64) error {
	have, err := addressSpace()
	if err != nil {
		return err
	}
	most := have + bytes
	return syscall.Setrlimit(syscall.RLIMIT_AS, &syscall.Rlimit{Cur: most, Max: most})
}

// addressSpace is that of this process, in bytes.
func addressSpace() (uint64, error) {
	text, err := os.ReadFile("/proc/self/statm") // proc(5): its first number is the size in pages
	if err != nil {
		return 0, err
	}
	size, _, _ := bytes.Cut(text, []byte(" "))
	pages, err := strconv.ParseUint(string(size), 10, 64)
	if err != nil {
		return 0, fmt.Errorf("/proc/self/statm: %w", err)
	}
	return pages * uint64(os.Getpagesize()), nil
}

// polled is a pipe that is read by the poller of Go's runtime. Else a goroutine that waits for a line holds the one processor of the process, and the work
// stands still until the runtime looks: some ms a line.
func polled(in io.Reader) (io.Reader, error) {
	f, is := in.(*os.File)
	if !is {
		return in, nil
	}
	own, err := syscall.Dup(int(f.Fd())) // each of the two files closes its own
	if err != nil {
		return nil, err
	}
	syscall.CloseOnExec(own)
	if err := syscall.SetNonblock(own, true); err != nil {
		return nil, err
	}
	return os.NewFile(uintptr(own), f.Name()), nil
}
