//go:build !unix

package job

import (
	"testing"
	"time"
)

// cpuTime is not measured here.
func cpuTime(*testing.B) time.Duration { return 0 }
