package crew

import (
	"runtime"
	"testing"
)

// What is of no use is collected when the heap has grown by 32 MB, not by 4 MB, which is Go's way where little is in use. How often that is while pieces are
// made depends on how quick the collector is beside them, so what is held against it is the size at which it begins.
func TestSmallHeapsAreCollectedSeldom(t *testing.T) {
	room := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.NextGC - min(m.NextGC, m.HeapAlloc)
	}
	without := room()
	let := Floor()
	with := room()
	let()
	if with < floor*9/10 || without > floor/2 {
		t.Errorf("the heap may grow by %d bytes with the floor, by %d without, before garbage is collected", with, without)
	}
}
