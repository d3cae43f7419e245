package workers

import "context"

// Until gives what f comes to, or the error of ctx as soon as that is done. Then f goes on by itself, whatever it looks at
// on its way, and what it comes to is dropped: it is for work that leaves nothing behind, such as reading and working out.
func Until[T any](ctx context.Context, f func() (T, error)) (T, error) {
	type outcome struct {
		value T
		err   error
	}
	var none T
	if err := ctx.Err(); err != nil {
		return none, err
	}
	if ctx.Done() == nil {
		return f()
	}
	done := make(chan outcome, 1) // room for what nobody waits for any more
	go func() {
		value, err := f()
		done <- outcome{value, err}
	}()
	select {
	case o := <-done:
		return o.value, o.err
	case <-ctx.Done():
		return none, ctx.Err()
	}
}
