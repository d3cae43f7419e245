package workers

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"time"
)

// The first error whatever the number of workers, and nothing runs once ctx is done.
func TestEachGivesTheFirstError(t *testing.T) {
	first, other := errors.New("first"), errors.New("other")
	for _, on := range []int{0, 1, 2, 7} {
		for range 20 {
			err := Each(t.Context(), on, 100, func(k int) error {
				switch {
				case k == 10:
					return first
				case k > 10:
					return other
				}
				return nil
			})
			if !errors.Is(err, first) {
				t.Fatalf("%d workers: %v", on, err)
			}
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if err := Each(ctx, on, 5, func(int) error { t.Error("ran"); return nil }); !errors.Is(err, context.Canceled) {
			t.Errorf("%d workers, cancelled: %v", on, err)
		}
	}
}

// The error of the first piece counts even where that of a later one comes first.
func TestLaterErrorComesFirst(t *testing.T) {
	first, other := errors.New("first"), errors.New("other")
	failed := make(chan struct{})
	err := Each(t.Context(), 2, 2, func(k int) error {
		if k == 1 {
			defer time.AfterFunc(10*time.Millisecond, func() { close(failed) }) // after the error is noted
			return other
		}
		<-failed
		return first
	})
	if !errors.Is(err, first) {
		t.Errorf("%v, want %v", err, first)
	}
}

// Every piece is done once, by a worker with a number below theirs that does one at a time, and chunks leave nothing out.
func TestEveryPieceOnce(t *testing.T) {
	for _, n := range []int{0, 1, 5, 1000} {
		for _, on := range []int{1, 3, 8} {
			done, busy := make([]atomic.Int32, n), make([]atomic.Int32, on)
			err := Numbered(t.Context(), on, n, func(worker, k int) error {
				if busy[worker].Add(1) != 1 {
					t.Errorf("worker %d does two at a time", worker)
				}
				done[k].Add(1)
				busy[worker].Add(-1)
				return nil
			})
			chunked := make([]atomic.Int32, n)
			err = errors.Join(err, Chunks(t.Context(), n, 7, on, func(from, to int) error {
				for k := from; k < to; k++ {
					chunked[k].Add(1)
				}
				return nil
			}))
			if err != nil {
				t.Fatal(err)
			}
			for k := range n {
				if done[k].Load() != 1 || chunked[k].Load() != 1 {
					t.Errorf("%d pieces on %d workers: piece %d done %d times, in chunks %d times", n, on, k, done[k].Load(), chunked[k].Load())
				}
			}
		}
	}
}
