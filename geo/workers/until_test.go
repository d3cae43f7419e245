package workers

import (
	"context"
	"errors"
	"testing"
)

// What f gives comes back, its error too; once ctx is done nobody waits for f, which may never end.
func TestUntil(t *testing.T) {
	failed := errors.New("failed")
	for _, ctx := range []context.Context{context.Background(), t.Context()} {
		if got, err := Until(ctx, func() (int, error) { return 7, failed }); got != 7 || !errors.Is(err, failed) {
			t.Errorf("%d, %v", got, err)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	begun, never := make(chan struct{}), make(chan struct{})
	defer close(never)
	go func() {
		<-begun
		cancel()
	}()
	got, err := Until(ctx, func() (int, error) {
		close(begun)
		<-never
		return 7, nil
	})
	if got != 0 || !errors.Is(err, context.Canceled) {
		t.Errorf("%d, %v", got, err)
	}
	if _, err := Until(ctx, func() (int, error) { t.Error("ran"); return 0, nil }); !errors.Is(err, context.Canceled) {
		t.Errorf("begun after the interruption: %v", err)
	}
}
