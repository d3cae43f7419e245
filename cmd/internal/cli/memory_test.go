package cli

import (
	"math"
	"runtime/debug"
	"testing"
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
		want  int
	}{{1000, "", usualGrowth}, {largeFiles + 1, "80", usualGrowth}, {largeFiles + 1, "", largeGrowth}, {-1, "", largeGrowth}} {
		debug.SetGCPercent(usualGrowth)
		t.Setenv("GOGC", c.named)
		new(memory).opened(c.bytes)
		if got := debug.SetGCPercent(usualGrowth); got != c.want {
			t.Errorf("%d bytes, GOGC %q: memory grows by %d %%, want %d", c.bytes, c.named, got, c.want)
		}
	}
	debug.SetMemoryLimit(before)
	t.Setenv("GOMEMLIMIT", "1GiB")
	new(memory).opened(1000)
	if got := debug.SetMemoryLimit(-1); got != before {
		t.Errorf("with GOMEMLIMIT: a limit of %d bytes, want %d", got, before)
	}
}
