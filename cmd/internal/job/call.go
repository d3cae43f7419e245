package job

import (
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"

	"balk/cmd/internal/folder"
	"balk/coverage"
	"balk/export/words"
	"balk/geo"
	"balk/geo/read"
)

// Call is what the steps of one call of balk share: whoever listens to it, and the files it opened, none
// of which it writes over. The zero value is ready, and a nil one stands for it where a job is all of the call.
type Call struct {
	Progress func(what string, done, of int) // how far a job is; nil = nobody asks
	Say      func(string)                    // what is odd about a folder of results; nil = nobody listens
	// Page writes the page to look at a result, in one file that wants no server; nil = nobody can.
	Page   func(w io.Writer, r Report, c coverage.Result, l words.Language) error
	opened read.Files
}

// ready is c, or a call of its own for a job without one. Wherever it reads, the result of a call that was
// cut off is finished first, or removed.
func (c *Call) ready() *Call {
	if c == nil {
		c = new(Call)
	}
	c.opened.Slow = func(path string) { c.say(geo.Shown(path) + ": waits for somebody to write into it") }
	if c.opened.Before == nil {
		c.opened.Before = func(dir string) error { return folder.Settle(context.Background(), dir, c.say) }
	}
	return c
}

// Input is what the path "-" reads.
func (c *Call) Input(in io.Reader) { c.opened.Input = in }

// Sized has f called with the bytes of every file that is opened, see read.Files.
func (c *Call) Sized(f func(bytes int64)) { c.opened.Sized = f }

func (c *Call) step(what string, done, of int) {
	if c.Progress != nil {
		c.Progress(what, done, of)
	}
}

// within has all that is told until end count as one of several steps, the steps of a job within a job.
func (c *Call) within(done, of int) (end func()) {
	outer := c.Progress
	if outer != nil {
		c.Progress = func(what string, _, _ int) { outer(what, done, of) }
	}
	return func() { c.Progress = outer }
}

func (c *Call) say(what string) {
	if c.Say != nil {
		c.Say(what)
	}
}

// guard refuses, before the work, a folder in which a file to be written is one that this call opened,
// whatever way it is spelled, and one where anything else is in its way that is not balk's own.
func (c *Call) guard(ctx context.Context, out string, names targets) error {
	if out == "" {
		return nil
	}
	for _, list := range [][]string{names.sure, names.perhaps} {
		for _, name := range list {
			target := filepath.Join(out, filepath.FromSlash(name))
			there, err := os.Stat(target)
			if err != nil {
				continue // nothing there that could be lost
			}
			if in, ok := c.opened.Opened(there); ok {
				return wrong("%s would overwrite the input %s; choose another folder", target, in)
			}
		}
	}
	return called(folder.Check(ctx, out, names.sure, c.say))
}

// called makes a fault of the call of what is in the way in the folder it named.
func called(err error) error {
	if way, ok := errors.AsType[*folder.InTheWay](err); ok {
		return &WrongCall{way}
	}
	return err
}
