//go:build unix

package job

import (
	"io/fs"
	"syscall"
)

// sameDisk tells whether two folders lie in one file system.
func sameDisk(a, b fs.FileInfo) bool {
	x, ok := a.Sys().(*syscall.Stat_t)
	y, ok2 := b.Sys().(*syscall.Stat_t)
	return !ok || !ok2 || x.Dev == y.Dev
}
