package folder

import (
	"bytes"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// File is one file of a result.
type File struct {
	Name  string // in the folder, with slashes
	Write func(io.Writer) error
	Place func(ctx context.Context, path string) error // instead of Write: for formats that need a file of their own
}

// Result is what one run of a verb puts into a folder.
type Result struct {
	Verb  string
	Files []File
	// Report writes the report, which holds the list as its member "folder". nil: the result has none, and
	// every file of it must find its place free.
	Report func(io.Writer, Manifest) error
}

// Unwritten are files of a result that could not be made. All others are in the folder.
type Unwritten struct {
	Files []FileFault
	Left  int // how many were written
}

// FileFault is why a file was not made.
type FileFault struct {
	Name string
	Err  error
}

func (e *Unwritten) Error() string {
	var b strings.Builder
	for _, f := range e.Files {
		fmt.Fprintf(&b, "%s is not written: %v\n", f.Name, f.Err)
	}
	fmt.Fprintf(&b, "the other files of the result are in the folder, %d in all", e.Left)
	return b.String()
}

// Settle finishes the result of a call that was cut off, in dir or in a folder that dir lies in, or removes
// what it left: for whoever reads there.
func Settle(ctx context.Context, dir string, say func(string)) error {
	// The deepest file of a result lies two folders down.
	for range 3 {
		if err := settleIfLeft(ctx, dir, say); err != nil {
			return err
		}
		dir = filepath.Join(dir, "..")
	}
	return nil
}

// Replace writes one file beside those of a result, or in another's place: all of it or nothing.
func Replace(path string, text []byte, mode fs.FileMode) error {
	half := path + ".part"
	err := os.WriteFile(half, text, mode)
	if err == nil {
		err = os.Rename(half, path)
	}
	if err != nil {
		if gone := os.Remove(half); !errors.Is(gone, fs.ErrNotExist) {
			err = errors.Join(err, gone)
		}
	}
	return err
}

// clean are folders in which nothing was left, by their full path, each with when it was last changed: a thousand logs in one folder are
// opened one by one.
var clean sync.Map

func settleIfLeft(ctx context.Context, dir string, say func(string)) error {
	full, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	info, err := os.Stat(full)
	if err != nil {
		return nil // who reads there will say it
	}
	changed := info.ModTime()
	if at, is := clean.Load(full); is && changed.Equal(at.(time.Time)) {
		return nil
	}
	looked := time.Now()
	list, err := os.ReadDir(full)
	if err != nil {
		return nil // as above
	}
	for _, e := range list {
		if e.Name() == lockFile || stagedName.MatchString(e.Name()) {
			return locked(ctx, dir, say, func() error { return nil })
		}
	}
	if looked.Sub(changed) > sameTick {
		clean.Store(full, changed)
	}
	return nil
}

// sameTick is how long two changes of a folder may bear the same time: two seconds on FAT, the coarsest of the usual file systems.
const sameTick = 3 * time.Second

// locked does something to a folder that is locked and settled.
func locked(ctx context.Context, dir string, say func(string), do func() error) (err error) {
	l, err := hold(ctx, dir, say)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, l.free()) }()
	if err := settle(dir, say); err != nil {
		return err
	}
	return do()
}

// Check says whether files of these names may be put into dir: before the work, so that it is not in vain.
// It is an *InTheWay where something stands there that is not balk's own.
func Check(ctx context.Context, dir string, names []string, say func(string)) error {
	info, err := os.Stat(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return standingAbove(dir)
	}
	if err != nil {
		return err
	}
	if !info.IsDir() {
		return &InTheWay{dir, "is a file; --out wants a folder"}
	}
	return locked(ctx, dir, say, func() error {
		m, own, err := readManifest(dir)
		if err != nil {
			return err
		}
		for _, name := range names {
			if _, err := wasAt(dir, name, m, own); err != nil {
				return err
			}
		}
		return nil
	})
}

// standingAbove says whether a folder can be made at path.
func standingAbove(path string) error {
	path, err := filepath.Abs(path)
	if err != nil {
		return err
	}
	for {
		info, err := os.Stat(path)
		if err == nil && info.IsDir() {
			return nil
		}
		if err == nil {
			return &InTheWay{path, "is a file; a folder is wanted"}
		}
		parent := filepath.Dir(path)
		if parent == path {
			return err
		}
		path = parent
	}
}

// wasAt is the content of our own file at the place for name; nil where nothing is. What else is there is
// an *InTheWay.
func wasAt(dir, name string, m Manifest, own *Content) (*Content, error) {
	for at := filepath.Dir(filepath.FromSlash(name)); at != "."; at = filepath.Dir(at) {
		if info, err := os.Stat(filepath.Join(dir, at)); err == nil && !info.IsDir() {
			return nil, &InTheWay{filepath.Join(dir, at), "is a file; a folder of that name is to be filled"}
		}
	}
	path := place(dir, name)
	info, err := os.Lstat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		return nil, &InTheWay{path, "is a folder; a file of that name is to be written"}
	}
	listed, ok := m.entry(name)
	if name == Report && own != nil {
		listed, ok = *own, true
	}
	if ok {
		if ok, err = listed.is(path, info); err != nil {
			return nil, err
		}
		if ok {
			return &listed, nil
		}
		return nil, &InTheWay{path, "was changed since balk wrote it, or is another file"}
	}
	return nil, &InTheWay{path, "is there and was not written by balk"}
}

// Fill puts a result into dir, which it makes if need be, and gives the list of what is in it. On an error
// the folder is as it was; but where all that is wrong are single files that could not be made, the others
// are put there, and the error is *Unwritten. An *InTheWay is the fault of who named the folder.
func Fill(ctx context.Context, dir string, r Result, say func(string)) (m Manifest, err error) {
	var made []string
	defer func() {
		if err != nil {
			for _, d := range made {
				_ = os.Remove(d) // what something was put into stays
			}
		}
	}()
	for {
		more, err := makeAll(dir)
		made = append(more, made...)
		if err != nil {
			return Manifest{}, err
		}
		err = locked(ctx, dir, say, func() error {
			m, err = fill(ctx, dir, r)
			return err
		})
		if errors.Is(err, fs.ErrNotExist) && !standing(dir) {
			continue // another call that made it has just given up, and removed it
		}
		return m, err
	}
}

// makeAll makes a folder and those it lies in, and gives those that were not there, the deepest first.
func makeAll(dir string) (made []string, err error) {
	if err := standingAbove(dir); err != nil {
		return nil, err
	}
	for at := filepath.Clean(dir); !there(at); at = filepath.Dir(at) {
		made = append(made, at)
	}
	return made, os.MkdirAll(dir, 0o755)
}

// fill is Fill in a folder that is locked and settled.
func fill(ctx context.Context, dir string, r Result) (m Manifest, err error) {
	old, own, err := readManifest(dir)
	if err != nil {
		return Manifest{}, err
	}
	j := journal{dir: dir, own: filepath.Join(dir, ".balk-"+rand.Text())}
	was := map[string]*Content{}
	for _, f := range r.Files {
		if was[f.Name], err = wasAt(dir, f.Name, old, own); err != nil {
			return Manifest{}, err
		}
	}
	if r.Report != nil {
		if was[Report], err = wasAt(dir, Report, old, own); err != nil {
			return Manifest{}, err
		}
	}
	defer func() { err = errors.Join(plainly(err), j.abandon()) }()
	staged := filepath.Join(j.own, newFiles)
	entries, unwritten, err := stage(ctx, staged, r.Files)
	if err != nil {
		return Manifest{}, err
	}
	for _, e := range entries {
		j.Steps = append(j.Steps, step{e.Name, &e.Content, was[e.Name]})
	}
	for _, e := range old.of(r.Verb) {
		if _, again := was[e.Name]; !again || failed(unwritten, e.Name) {
			j.Steps = append(j.Steps, step{Name: e.Name, Was: &e.Content})
		}
	}
	if r.Report != nil {
		m = old.with(r.Verb, entries)
		var text bytes.Buffer
		if err := Safely(func() error { return r.Report(&text, m) }); err != nil {
			return Manifest{}, fmt.Errorf("%s: %w", Report, err)
		}
		whole, seal, err := seal(text.Bytes())
		if err != nil {
			return Manifest{}, err
		}
		m.Seal = seal
		report := File{Name: Report, Write: func(w io.Writer) error { _, err := w.Write(whole); return err }}
		content, err := report.save(ctx, staged)
		if err != nil {
			return Manifest{}, err
		}
		j.Steps = append(j.Steps, step{Report, &content, was[Report]})
	}
	if err := syncTree(staged); err != nil {
		return Manifest{}, err
	}
	if err := ctx.Err(); err != nil {
		return Manifest{}, err
	}
	if err := j.commit(); err != nil {
		return Manifest{}, err
	}
	if err := j.finish(); err != nil {
		return Manifest{}, err
	}
	if len(unwritten) > 0 {
		return m, &Unwritten{unwritten, len(entries)}
	}
	return m, nil
}

func failed(list []FileFault, name string) bool {
	for _, f := range list {
		if f.Name == name {
			return true
		}
	}
	return false
}
