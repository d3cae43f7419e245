//go:build !unix

package trial

import (
	"testing"
	"time"
)

// CPUTime is not measured here.
func CPUTime(testing.TB) time.Duration { return 0 }
