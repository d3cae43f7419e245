package read

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"
)

// Files opens what a call reads, and keeps which files that were: by what they are on the disk, not by
// how they were named, so that none of them is written over afterwards. All readers of this package that
// take a path open it here. The zero value is ready; nil opens and keeps nothing. It may be used from
// many goroutines.
type Files struct {
	// Input is the standard input, which the path "-" means; nil = there is none.
	Input io.Reader
	// Before is called once for every folder before anything in it is opened or listed.
	Before func(dir string) error
	// Slow is called where opening a file takes a second, as it does for a pipe that nobody writes to; nil = nobody asks.
	Slow func(path string)
	// Sized is called with the bytes of every file that is opened, −1 where nobody knows them, as of a pipe; nil = nobody asks.
	Sized func(bytes int64)

	mu      sync.Mutex
	taken   bool     // the input was read
	met     []string // layers that were asked for and found
	opened  []openedFile
	entered map[string]bool
}

type openedFile struct {
	path string
	info fs.FileInfo
}

// Open opens a file for reading. A folder is opened too, but not kept.
func (f *Files) Open(path string) (*os.File, error) {
	if err := f.enter(path); err != nil {
		return nil, err
	}
	file, err := f.open(path)
	if err != nil {
		return nil, err
	}
	if err := f.keep(path, file); err != nil {
		file.Close()
		return nil, err
	}
	return file, nil
}

// open tells Slow where it waits.
func (f *Files) open(path string) (*os.File, error) {
	if f != nil && f.Slow != nil {
		defer time.AfterFunc(time.Second, func() { f.Slow(path) }).Stop()
	}
	file, err := os.Open(path)
	if err != nil {
		return nil, &unopened{path, err}
	}
	return file, nil
}

// unopened is the error of a file that cannot be opened, in plain words where the system's are known.
type unopened struct {
	path string
	err  error
}

func (e *unopened) Error() string {
	switch {
	case errors.Is(e.err, fs.ErrNotExist):
		return e.path + ": there is no such file"
	case errors.Is(e.err, fs.ErrPermission):
		return e.path + ": may not be read by you"
	}
	return e.err.Error()
}

func (e *unopened) Unwrap() error { return e.err }

// Folder is what lies in dir, each file kept as it is opened.
func (f *Files) Folder(dir string) fs.FS { return filesFS{os.DirFS(dir), dir, f} }

// Opened gives the path by which a file was opened, whatever other names it has.
func (f *Files) Opened(info fs.FileInfo) (path string, ok bool) {
	if f == nil {
		return "", false
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	for _, o := range f.opened {
		if os.SameFile(o.info, info) {
			return o.path, true
		}
	}
	return "", false
}

// enter calls Before for the folder at path, or that path lies in.
func (f *Files) enter(path string) error {
	if f == nil || f.Before == nil {
		return nil
	}
	dir := path
	if info, err := os.Stat(path); err != nil || !info.IsDir() {
		dir = filepath.Dir(path)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.entered[dir] {
		return nil
	}
	if err := f.Before(dir); err != nil {
		return err
	}
	if f.entered == nil {
		f.entered = map[string]bool{}
	}
	f.entered[dir] = true
	return nil
}

func (f *Files) keep(path string, file fs.File) error {
	if f == nil {
		return nil
	}
	info, err := file.Stat()
	if err != nil || info.IsDir() {
		return err
	}
	if info.Mode().IsRegular() {
		f.sized(info.Size())
	} else {
		f.sized(-1)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.opened = append(f.opened, openedFile{path, info})
	return nil
}

func (f *Files) sized(bytes int64) {
	if f.Sized != nil {
		f.Sized(bytes)
	}
}

// forget takes a file back that was opened and found to be no input: a result of balk may be replaced by the next.
func (f *Files) forget(path string) {
	if f == nil {
		return
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	f.opened = slices.DeleteFunc(f.opened, func(o openedFile) bool { return o.path == path })
}

// keepBeside keeps a file that a library opens by itself, if it is there.
func (f *Files) keepBeside(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return nil // then the library cannot open it either
	}
	defer file.Close()
	return f.keep(path, file)
}

// filesFS is a folder whose files are kept.
type filesFS struct {
	fs.FS
	dir   string
	files *Files
}

func (d filesFS) Open(name string) (fs.File, error) {
	file, err := d.FS.Open(name)
	if err != nil {
		return nil, err
	}
	if err := d.files.keep(filepath.Join(d.dir, filepath.FromSlash(name)), file); err != nil {
		file.Close()
		return nil, err
	}
	return file, nil
}
