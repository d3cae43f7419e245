//go:build !unix

package check

import (
	"testing"
	"time"
)

// CPUTime is not measured here.
func CPUTime(testing.TB) time.Duration { return 0 }
