package cli

import (
	"math"
	"runtime"
	"runtime/debug"
	"runtime/metrics"
	"testing"
	"time"
)

// The limit grows with the files of a call, is lifted for good where nobody knows how many bytes come, and leaves one named from outside alone.
func TestMemoryFollowsFiles(t *testing.T) {
	before := debug.SetMemoryLimit(-1)
	defer debug.SetMemoryLimit(before)
	t.Setenv("GOMEMLIMIT", "")
	m := new(memory)
	for _, c := range []struct{ bytes, want int64 }{
		{0, memoryAtFirst},
		{1000, memoryAtFirst + 1000*memoryPerByte},
		{500, memoryAtFirst + 1500*memoryPerByte},
		{-1, math.MaxInt64},
		{500, math.MaxInt64},
	} {
		m.opened(c.bytes)
		if got := debug.SetMemoryLimit(-1); got != c.want {
			t.Errorf("%d bytes more: a limit of %d bytes, want %d", c.bytes, got, c.want)
		}
	}
	growth := debug.SetGCPercent(usualGrowth)
	defer debug.SetGCPercent(growth)
	for _, c := range []struct {
		bytes int64
		named string // GOGC
		even  bool
	}{{1000, "", false}, {largeFiles + 1, "80", false}, {largeFiles + 1, "", true}, {-1, "", true}} {
		debug.SetGCPercent(usualGrowth)
		t.Setenv("GOGC", c.named)
		m := new(memory)
		m.opened(c.bytes)
		m.rest()
		if got := debug.SetGCPercent(usualGrowth); got == usualGrowth == c.even {
			t.Errorf("%d bytes, GOGC %q: memory grows by %d %%; by even steps: want %t", c.bytes, c.named, got, c.even)
		}
	}
	debug.SetMemoryLimit(before)
	t.Setenv("GOMEMLIMIT", "1GiB")
	new(memory).opened(1000)
	if got := debug.SetMemoryLimit(-1); got != before {
		t.Errorf("with GOMEMLIMIT: a limit of %d bytes, want %d", got, before)
	}
}

// However much is in use, memory grows by about the same number of bytes until it is looked for.
func TestMemoryGrowsByEvenSteps(t *testing.T) {
	growth := debug.SetGCPercent(usualGrowth)
	defer debug.SetGCPercent(growth)
	before := debug.SetMemoryLimit(-1)
	defer debug.SetMemoryLimit(before)
	t.Setenv("GOGC", "")
	m := new(memory)
	m.opened(largeFiles + 1)
	defer m.rest()
	for _, held := range []int{8 << 20, 64 << 20, 1 << 29} {
		all := make([]byte, held)
		runtime.GC()
		for wait := 0; ; wait++ { // the next step is told beside what runs
			sample := []metrics.Sample{{Name: "/gc/heap/live:bytes"}, {Name: "/gc/gogc:percent"}}
			metrics.Read(sample)
			live, percent := sample[0].Value.Uint64(), sample[1].Value.Uint64()
			if step := live * percent / 100; live >= uint64(held) && (percent == leastGrowth || percent == mostGrowth || step <= evenStep && step+live/100 >= evenStep) {
				break
			} else if wait == 1000 {
				t.Fatalf("%d bytes in use: %d %% more, which are %d bytes: want %d", live, percent, step, evenStep)
			}
			time.Sleep(10 * time.Millisecond)
		}
		runtime.KeepAlive(all)
	}
}
