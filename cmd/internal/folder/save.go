package folder

import (
	"bufio"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"

	"balk/geo/workers"
)

// stage writes the files side by side. It gives what was written, and which files could not be made, both
// in the order of files. Error: the disk, or an interruption.
func stage(ctx context.Context, dir string, files []File) ([]Entry, []FileFault, error) {
	contents, faults := make([]Content, len(files)), make([]error, len(files))
	if err := makeFolder(dir); err != nil {
		return nil, nil, err
	}
	err := workers.Each(ctx, 0, len(files), func(i int) error {
		contents[i], faults[i] = files[i].save(ctx, dir)
		return ctx.Err()
	})
	if err != nil {
		return nil, nil, err
	}
	var entries []Entry
	var unwritten []FileFault
	for i, f := range files {
		var disk *diskError
		switch err := faults[i]; {
		case err == nil:
			entries = append(entries, Entry{f.Name, contents[i]})
		case errors.As(err, &disk):
			return nil, nil, err
		default:
			if err := gone(os.Remove(place(dir, f.Name))); err != nil {
				return nil, nil, err
			}
			unwritten = append(unwritten, FileFault{f.Name, err})
		}
	}
	return entries, unwritten, nil
}

// diskError is one of the disk, not of what is written: the other files would not fare better.
type diskError struct{ err error }

func (e *diskError) Error() string { return e.err.Error() }
func (e *diskError) Unwrap() error { return e.err }

func onDisk(name string, err error) error {
	if err == nil {
		return nil
	}
	if fault, ok := errors.AsType[*fs.PathError](err); ok { // its path is where the file lies meanwhile, which is nobody's business
		err = fmt.Errorf("%s: %w", fault.Op, fault.Err)
	}
	return &diskError{fmt.Errorf("%s: %w", name, err)}
}

// meanwhile is where files lie before they are in their place, and a lock.
var meanwhile = regexp.MustCompile(`[/\\]\.balk-(lock|[A-Z2-7]{26}([/\\](` + strings.Join([]string{newFiles, oldFiles, draft, committed, undone}, "|") + `))?)`)

// unnamed is a fault of the disk, told of the folder and not of what lies in it meanwhile.
type unnamed struct{ err error }

func (e *unnamed) Error() string { return meanwhile.ReplaceAllString(e.err.Error(), "") }
func (e *unnamed) Unwrap() error { return e.err }

// plainly leaves names out of a fault of the disk that are nobody's business.
func plainly(err error) error {
	_, path := errors.AsType[*fs.PathError](err)
	_, link := errors.AsType[*os.LinkError](err)
	if path || link {
		return &unnamed{err}
	}
	return err
}

// save writes one file below dir and brings it to the disk.
func (f File) save(ctx context.Context, dir string) (Content, error) {
	path := place(dir, f.Name)
	if err := makeFolder(filepath.Dir(path)); err != nil {
		return Content{}, onDisk(f.Name, err)
	}
	if f.Place != nil {
		return f.saveAt(ctx, path)
	}
	file, err := os.Create(path)
	if err != nil {
		return Content{}, onDisk(f.Name, err)
	}
	hash := sha256.New()
	d := &disk{to: io.MultiWriter(file, hash), name: path}
	// Once it is interrupted, what it still writes goes to a file that is closed.
	_, err = workers.Until(ctx, func() (struct{}, error) {
		b := bufio.NewWriterSize(d, 1<<16)
		err := Safely(func() error { return f.Write(b) })
		if err == nil {
			err = b.Flush()
		}
		if err == nil {
			err = d.sync(file)
		}
		return struct{}{}, err
	})
	info, unknown := file.Stat()
	closed := errors.Join(unknown, file.Close())
	switch {
	case ctx.Err() != nil:
		return Content{}, ctx.Err()
	case d.failed != nil:
		return Content{}, onDisk(f.Name, d.failed)
	case err != nil:
		return Content{}, err
	case closed != nil:
		return Content{}, onDisk(f.Name, closed)
	}
	return Content{info.Size(), hex.EncodeToString(hash.Sum(nil))}, nil
}

// saveAt is save for a format that makes its file by itself.
func (f File) saveAt(ctx context.Context, path string) (Content, error) {
	if err := Safely(func() error { return f.Place(ctx, path) }); err != nil {
		return Content{}, err
	}
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return Content{}, onDisk(f.Name, err)
	}
	d := &disk{to: file, name: path}
	if err := errors.Join(d.sync(file), file.Close()); err != nil {
		return Content{}, onDisk(f.Name, err)
	}
	content, err := contentOf(path)
	return content, onDisk(f.Name, err)
}

// disk writes, and keeps the first fault of the disk, which a format may hide in an error of its own.
type disk struct {
	to     io.Writer
	name   string
	failed error
}

func (d *disk) Write(p []byte) (int, error) {
	n, err := 0, fault("write", d.name)
	if err == nil {
		n, err = d.to.Write(p)
	}
	d.keep(err)
	return n, err
}

func (d *disk) sync(f *os.File) error {
	err := fault("sync", d.name)
	if err == nil {
		err = toDisk(f)
	}
	d.keep(err)
	return err
}

func (d *disk) keep(err error) {
	if d.failed == nil {
		d.failed = err
	}
}

// Safely does something that may panic: what draws and packs is not all ours. A panic is a *Panic.
func Safely(do func() error) (err error) {
	defer func() {
		if r := recover(); r != nil {
			err = &Panic{r, origin()}
		}
	}()
	return do()
}

// Panic is a fault of the program that went no further than one file.
type Panic struct {
	Value any
	Place string // the line of code it came from
}

func (e *Panic) Error() string {
	return fmt.Sprintf("a fault in the program: %v, %s", e.Value, e.Place)
}

// origin is the line of code that the panic at hand came from.
func origin() string {
	var pc [64]uintptr
	frames := runtime.CallersFrames(pc[:runtime.Callers(1, pc[:])])
	for panicked := false; ; {
		f, more := frames.Next()
		inRuntime := strings.HasPrefix(f.Function, "runtime.")
		if panicked && !inRuntime || !more {
			return fmt.Sprintf("%s:%d", f.File, f.Line)
		}
		panicked = panicked || f.Function == "runtime.gopanic"
	}
}

// syncTree brings the names in a folder, and those below it, to the disk.
func syncTree(dir string) error {
	return filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || !e.IsDir() {
			return err
		}
		return syncFolder(path)
	})
}
