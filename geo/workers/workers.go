// Package workers shares out work that can be done in any order.
//
// In: how many pieces there are, and a function that does one. Out: the error of the first piece that has one, whatever
// the number of workers. What a piece gives is stored by the function in a place of its own, so results do not depend
// on the workers' race either.
package workers

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// Each calls f for 0 ≤ k < n on so many workers (0 = one per processor), and not any more once a call has failed or
// ctx is done. It returns the error of the least k, or that of ctx.
func Each(ctx context.Context, workers, n int, f func(k int) error) error {
	return Numbered(ctx, workers, n, func(_, k int) error { return f(k) })
}

// Chunks is Each over pieces of size.
func Chunks(ctx context.Context, n, size, workers int, f func(from, to int) error) error {
	return Each(ctx, workers, (n+size-1)/size, func(c int) error { return f(c*size, min(n, (c+1)*size)) })
}

// Numbered is Each with the number of the worker, 0 to workers−1, that calls f: for memory that one worker uses again.
func Numbered(ctx context.Context, workers, n int, f func(worker, k int) error) error {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	var (
		next  atomic.Int64
		stop  atomic.Bool
		lock  sync.Mutex // of what follows
		least = n        // that failed
		first error
		group sync.WaitGroup
	)
	work := func(worker int) {
		// Who has taken a piece does it, so that all before one that failed are done.
		for !stop.Load() && ctx.Err() == nil {
			k := int(next.Add(1)) - 1
			if k >= n {
				return
			}
			if err := f(worker, k); err != nil {
				stop.Store(true)
				lock.Lock()
				if k < least {
					least, first = k, err
				}
				lock.Unlock()
			}
		}
	}
	if workers = min(workers, n); workers == 1 {
		work(0)
	} else {
		for w := range workers {
			group.Go(func() { work(w) })
		}
		group.Wait()
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	return first
}
