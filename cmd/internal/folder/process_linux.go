package folder

import (
	"bytes"
	"errors"
	"os"
	"strconv"
	"strings"
	"syscall"
)

// mark tells this process from others of the same number: when the machine came up, whose numbers they
// are (a container has its own), and when the process began.
func mark() string {
	boot, space := machine()
	began, _ := running(os.Getpid())
	return boot + " " + space + " " + began
}

// dead says whether a process of this machine is certainly no more.
func dead(pid int, mark string) bool {
	part := strings.Split(mark, " ")
	if len(part) != 3 || pid <= 0 {
		return false
	}
	boot, space := machine()
	if boot == "" || space == "" || part[0] == "" || part[1] == "" {
		return false
	}
	if part[0] != boot {
		return true // the machine was started again
	}
	if part[1] != space {
		return false // cannot be seen from here
	}
	if errors.Is(syscall.Kill(pid, 0), syscall.ESRCH) {
		return true
	}
	began, ended := running(pid)
	return ended || began != "" && part[2] != "" && began != part[2]
}

// machine is the name of this run of the machine, and of the space of process numbers; "" where it is not told.
func machine() (boot, space string) {
	text, _ := os.ReadFile("/proc/sys/kernel/random/boot_id")
	space, _ = os.Readlink("/proc/self/ns/pid")
	return strings.TrimSpace(string(text)), space
}

// running is when a process began, in ticks since the machine came up ("" where it is not told), and
// whether it has ended and only waits for its parent to ask.
func running(pid int) (began string, ended bool) {
	text, err := os.ReadFile("/proc/" + strconv.Itoa(pid) + "/stat")
	if err != nil {
		return "", false
	}
	_, rest, ok := bytes.Cut(text[max(0, bytes.LastIndexByte(text, ')')):], []byte(" ")) // the name before it may hold anything
	part := strings.Fields(string(rest))
	if !ok || len(part) < 20 {
		return "", false
	}
	return part[19], part[0] == "Z" || part[0] == "X" // proc(5): fields 22 and 3
}
