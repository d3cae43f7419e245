package rework

import (
	"context"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// each calls f for 0 ≤ k < n on so many workers (0 = one per processor). It returns the error of the least k: all before one
// that is begun are begun, so which error that is does not depend on the workers' race.
func each(ctx context.Context, workers, n int, f func(k int) error) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	errs := make([]error, n)
	var next atomic.Int64
	var failed atomic.Bool
	var group sync.WaitGroup
	for range min(workers, n) {
		group.Go(func() {
			for !failed.Load() && ctx.Err() == nil {
				k := int(next.Add(1)) - 1
				if k >= n {
					return
				}
				if errs[k] = f(k); errs[k] != nil {
					failed.Store(true)
				}
			}
		})
	}
	group.Wait()
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// least is the least number told so far, by several workers at once; at first +Inf.
type least struct{ bits atomic.Uint64 }

func newLeast() *least {
	l := new(least)
	l.bits.Store(math.Float64bits(math.Inf(1)))
	return l
}

func (l *least) get() float64 { return math.Float64frombits(l.bits.Load()) }

func (l *least) lower(to float64) {
	for {
		now := l.bits.Load()
		if math.Float64frombits(now) <= to || l.bits.CompareAndSwap(now, math.Float64bits(to)) {
			return
		}
	}
}
