package cli

import (
	"math"
	"os"
	"runtime/debug"
	"sync"
)

// memory is what the files of a call may take before memory no longer used is looked for at every step. Then a small file that makes
// much work, such as a boundary that crosses itself thousands of times, does not fill the machine; large logs never come near it.
type memory struct {
	mu    sync.Mutex
	files int64 // bytes
}

const (
	memoryAtFirst = 48 << 20 // bytes: with balk itself, 64 MB
	memoryPerByte = 280      // a log of a million fixes takes 6 for each of its own
)

// opened takes the bytes of another file, −1: nobody knows how many. A limit named by whoever calls balk (GOMEMLIMIT) is left alone.
func (m *memory) opened(bytes int64) {
	if os.Getenv("GOMEMLIMIT") != "" {
		return
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if bytes < 0 || m.files < 0 {
		m.files = -1
	} else {
		m.files += bytes
	}
	limit := int64(math.MaxInt64)
	if m.files >= 0 && m.files < limit/(2*memoryPerByte) {
		limit = memoryAtFirst + memoryPerByte*m.files
	}
	debug.SetMemoryLimit(limit)
}
