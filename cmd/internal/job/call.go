package job

import (
	"os"
	"path/filepath"

	"balk/geo/read"
)

// Call is what the steps of one call of balk share: whoever listens to it, and the files it opened, none
// of which it writes over. The zero value is ready, and a nil one stands for it where a job is all of the call.
type Call struct {
	Progress func(what string, done, of int) // how far a job is; nil = nobody asks
	opened   read.Files
}

// ready is c, or a call of its own for a job without one.
func (c *Call) ready() *Call {
	if c == nil {
		return new(Call)
	}
	return c
}

func (c *Call) step(what string, done, of int) {
	if c.Progress != nil {
		c.Progress(what, done, of)
	}
}

// guard refuses a folder in which a file to be written is one that this call opened, whatever way it is
// spelled, or a folder, and a folder that is no folder.
func (c *Call) guard(out string, names []string) error {
	if out == "" {
		return nil
	}
	if info, err := os.Stat(out); err == nil && !info.IsDir() {
		return wrong("%s is a file; --out wants a folder", out)
	}
	for _, name := range names {
		target := filepath.Join(out, filepath.FromSlash(name))
		there, err := os.Stat(target)
		if err != nil {
			continue // nothing there that could be lost
		}
		if there.IsDir() {
			return wrong("%s is a folder; a file of that name is to be written: choose another --out", target)
		}
		if in, ok := c.opened.Opened(there); ok {
			return wrong("%s would overwrite the input %s; choose another folder", target, in)
		}
	}
	return nil
}
