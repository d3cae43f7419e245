package folder

import (
	"os"
	"time"
)

func init() {
	systemLocks = func(lockOf func(holder) string, host string, begun time.Time, was int) locks {
		boot, space := machine()
		began, _ := running(os.Getppid())
		return locks{
			waits: map[string]string{
				"another process at work":  lockOf(holder{host, os.Getppid(), begun, boot + " " + space + " " + began, "x"}),
				"another space of numbers": lockOf(holder{host, 4194000, begun, boot + " pid:[1] 77", "x"}),
			},
			deads: map[string]string{
				"a process that was":                   lockOf(holder{host, was, begun, boot + " " + space + " 77", "x"}),
				"its number used again":                lockOf(holder{host, os.Getppid(), begun, boot + " " + space + " 77", "x"}),
				"before the machine was started again": lockOf(holder{host, os.Getppid(), begun, "other-boot " + space + " 77", "x"}),
			},
		}
	}
}
