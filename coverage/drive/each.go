package drive

import (
	"context"
	"runtime"
	"sync"
)

// Each calls f for 0 ≤ k < n on so many workers (0 = one per processor). It returns the error of the least
// k, so what it returns does not depend on the workers' race, or that of ctx.
func Each(ctx context.Context, workers, n int, f func(k int) error) error {
	return Chunks(ctx, n, 1, workers, func(k, _ int) error { return f(k) })
}

// inChunks is Each over pieces of size.
func Chunks(ctx context.Context, n, size, workers int, f func(from, to int) error) error {
	chunks := (n + size - 1) / size
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	workers = min(workers, chunks)
	errs := make([]error, chunks)
	var next int
	failed := false // chunks before one that failed are all begun by then
	var lock sync.Mutex
	var group sync.WaitGroup
	for range workers {
		group.Go(func() {
			for {
				lock.Lock()
				c, stop := next, failed
				next++
				lock.Unlock()
				if c >= chunks || stop || ctx.Err() != nil {
					return
				}
				if errs[c] = f(c*size, min(n, (c+1)*size)); errs[c] != nil {
					lock.Lock()
					failed = true
					lock.Unlock()
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
