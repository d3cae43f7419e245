package folder

import (
	"errors"
	"os"
	"strconv"
	"syscall"
)

const (
	queryLimited     = 0x1000 // PROCESS_QUERY_LIMITED_INFORMATION
	synchronize      = 0x100000
	invalidParameter = syscall.Errno(87) // what OpenProcess says of a number that no process has
)

// mark tells this process from others of the same number: when it began.
func mark() string {
	began, _, _ := look(os.Getpid())
	return began
}

// dead says whether a process of this machine is certainly no more.
func dead(pid int, mark string) bool {
	began, ended, err := look(pid)
	if err != nil {
		return errors.Is(err, invalidParameter)
	}
	return ended || mark != "" && began != mark
}

// look is when a process began, and whether it has ended.
func look(pid int) (began string, ended bool, err error) {
	h, err := syscall.OpenProcess(queryLimited|synchronize, false, uint32(pid))
	if err != nil {
		return "", false, err
	}
	defer syscall.CloseHandle(h)
	var created, exited, kernel, user syscall.Filetime
	if err := syscall.GetProcessTimes(h, &created, &exited, &kernel, &user); err != nil {
		return "", false, err
	}
	waited, err := syscall.WaitForSingleObject(h, 0)
	return strconv.FormatInt(created.Nanoseconds(), 10), err == nil && waited == syscall.WAIT_OBJECT_0, nil
}
