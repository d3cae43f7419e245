//go:build unix && !linux

package folder

import (
	"errors"
	"syscall"
)

// mark: a later process of the same number is not told from this one here. Its lock is then waited for
// until the patience ends.
func mark() string { return "" }

// dead says whether a process of this machine is certainly no more.
func dead(pid int, _ string) bool {
	return pid > 0 && errors.Is(syscall.Kill(pid, 0), syscall.ESRCH)
}
