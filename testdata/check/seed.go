package check

import (
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"os"
	"sync"
	"testing"
)

var drawn = struct {
	sync.Mutex
	times map[string]int
}{times: map[string]int{}}

// Seed draws the seed of a test that draws its cases, and logs it. With BALK_SEED set, any text, it is one that follows from that text, the
// test's name and how often the test has asked: the gate sets it to what it checks, so that it says the same of the same files each time.
func Seed(t testing.TB) uint64 {
	t.Helper()
	seed := rand.Uint64()
	if from := os.Getenv("BALK_SEED"); from != "" {
		drawn.Lock()
		n := drawn.times[t.Name()]
		drawn.times[t.Name()]++
		drawn.Unlock()
		seed = seedFrom(from, t.Name(), n)
	}
	t.Logf("seed %d", seed)
	return seed
}

func seedFrom(text, name string, n int) uint64 {
	h := fnv.New128a()
	fmt.Fprintf(h, "%q %q %d", text, name, n)
	return binary.BigEndian.Uint64(h.Sum(nil)[8:])
}
