//go:build unix

package check

import (
	"syscall"
	"testing"
	"time"
)

// CPUTime is what this process took of all processors.
func CPUTime(b testing.TB) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
