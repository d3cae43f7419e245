package cli

import (
	"math"
	"os"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"sync"
)

// memory is what the files of a call may take before memory no longer used is looked for at every step. Then a small file that makes
// much work, such as a boundary that crosses itself thousands of times, does not fill the machine; large logs never come near it. It also says how
// often such memory is looked for else.
type memory struct {
	mu    sync.Mutex
	files int64 // bytes
	even  bool  // memory grows by even steps
}

const (
	memoryAtFirst = 48 << 20 // bytes: with balk itself, 64 MB
	memoryPerByte = 280      // a log of a million fixes takes 6 for each of its own

	usualGrowth = 70 // percent of what is in use by which memory grows until it is looked for

	// Where so many bytes come most of the memory is columns without pointers, in which the collector has nothing to follow, so that it costs
	// about the same whenever it runs. It then runs by bytes and not by shares: seldom while little is in use, and without much on top of the most.
	largeFiles  = 4 << 20 // bytes: 100,000 fixes as a table, more as a compressed one
	evenStep    = 8 << 20 // bytes by which memory grows until it is looked for
	leastGrowth = 4       // percent, where that would be often
	mostGrowth  = 400
)

// opened takes the bytes of another file, −1: nobody knows how many. What whoever calls balk names (GOMEMLIMIT, GOGC) is left alone.
func (m *memory) opened(bytes int64) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if bytes < 0 || m.files < 0 {
		m.files = -1
	} else {
		m.files += bytes
	}
	if os.Getenv("GOGC") == "" && (m.files < 0 || m.files > largeFiles) && !m.even {
		m.even = true
		m.step()
	}
	if os.Getenv("GOMEMLIMIT") != "" {
		return
	}
	limit := int64(math.MaxInt64)
	if m.files >= 0 && m.files < limit/(2*memoryPerByte) {
		limit = memoryAtFirst + memoryPerByte*m.files
	}
	debug.SetMemoryLimit(limit)
}

// step says how far memory may grow from what was in use at the last collection, and has itself called after the next one.
func (m *memory) step() {
	live := []metrics.Sample{{Name: "/gc/heap/live:bytes"}}
	metrics.Read(live)
	growth := 100 * evenStep / max(1, live[0].Value.Uint64())
	debug.SetGCPercent(int(min(max(growth, leastGrowth), mostGrowth)))
	type beat struct{ m *memory } // collected next time
	runtime.AddCleanup(&beat{m}, func(m *memory) {
		m.mu.Lock()
		defer m.mu.Unlock()
		if m.even {
			m.step()
		}
	}, m)
}

// rest ends even steps.
func (m *memory) rest() {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.even = false
}
