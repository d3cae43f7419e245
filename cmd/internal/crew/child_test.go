package crew

import (
	"runtime"
	"testing"
)

// What is of no use is collected once in 32 MB, not once in 4 MB, which is Go's way where little is in use: 128 MB in small pieces make it four times.
func TestSmallHeapsAreCollectedSeldom(t *testing.T) {
	var kept []byte
	collected := func() uint32 {
		runtime.GC()
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		for range 128 << 10 {
			kept = make([]byte, 1024)
		}
		runtime.ReadMemStats(&after)
		runtime.KeepAlive(kept)
		return after.NumGC - before.NumGC
	}
	without := collected()
	let := Floor()
	with := collected()
	let()
	if with > 5 || without < 3*with {
		t.Errorf("garbage was collected %d times with the floor, %d times without", with, without)
	}
}
