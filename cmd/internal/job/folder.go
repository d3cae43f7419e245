package job

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"balk/coverage"
	"balk/export/sheet"
	"balk/export/vector"
)

// The files of a result folder beside the layers.
const (
	mapFile    = "map.svg"
	reportFile = "report.json"
)

// targets are the names of the files of a result folder.
func targets() []string {
	var names []string
	for _, l := range vector.Layers {
		names = append(names, l+".geojson")
	}
	return append(names, mapFile, reportFile)
}

// guardInputs refuses a folder in which a file to be written is one of the
// inputs, whatever way it is spelled, and a folder that is no folder.
func (s Spec) guardInputs() error {
	if s.Out == "" {
		return nil
	}
	if info, err := os.Stat(s.Out); err == nil && !info.IsDir() {
		return wrong("%s is a file; --out wants a folder", s.Out)
	}
	for _, name := range targets() {
		target := filepath.Join(s.Out, name)
		there, err := os.Stat(target)
		if err != nil {
			continue // nothing there that could be lost
		}
		for _, in := range append([]string{s.Boundary}, s.Tracks...) {
			if info, err := os.Stat(in); err == nil && os.SameFile(info, there) {
				return wrong("%s would overwrite the input %s; choose another folder", target, in)
			}
		}
	}
	return nil
}

// write puts the result into the folder. All files are first written whole into
// a hidden folder beside their places, then renamed one by one; an error or an
// interruption before that leaves the folder as it was.
func (r *Report) write(ctx context.Context, c coverage.Result) (err error) {
	out := r.Spec.Out
	base, err := standing(out)
	if err != nil {
		return err
	}
	tmp, err := os.MkdirTemp(base, ".balk-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(tmp)) }()

	names := targets()
	for _, name := range names {
		r.Files = append(r.Files, filepath.Join(out, name))
	}
	defer func() {
		if err != nil {
			r.Files = nil
		}
	}()
	var writers []func(io.Writer) error // in the order of names
	for _, layer := range vector.Layers {
		writers = append(writers, func(w io.Writer) error { return vector.Write(w, layer, c) })
	}
	writers = append(writers, func(w io.Writer) error { return sheet.SVG(w, c) }, r.JSON)
	if err := saveAll(ctx, tmp, names, writers); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	for _, name := range names {
		if err := os.Rename(filepath.Join(tmp, name), filepath.Join(out, name)); err != nil {
			return err
		}
	}
	return nil
}

// saveAll writes the files side by side, and gives the error of the first in
// order that failed.
func saveAll(ctx context.Context, dir string, names []string, writers []func(io.Writer) error) error {
	failed := make([]error, len(writers))
	next := make(chan int)
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(writers)) {
		wg.Go(func() {
			for i := range next {
				if failed[i] = ctx.Err(); failed[i] == nil {
					failed[i] = save(filepath.Join(dir, names[i]), writers[i])
				}
			}
		})
	}
	for i := range writers {
		next <- i
	}
	close(next)
	wg.Wait()
	for _, err := range failed {
		if err != nil {
			return err
		}
	}
	return nil
}

// JSON writes the report, the same for the terminal, the folder and the page.
func (r Report) JSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(r)
}

// save writes one file and makes sure that it reached the disk's door.
func save(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	b := bufio.NewWriterSize(f, 1<<16)
	if err := write(b); err != nil {
		return errors.Join(fmt.Errorf("%s: %w", filepath.Base(path), err), f.Close())
	}
	if err := b.Flush(); err != nil {
		return errors.Join(err, f.Close())
	}
	return f.Close()
}

// standing is the nearest folder at or above path that is there already.
func standing(path string) (string, error) {
	path, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	for {
		info, err := os.Stat(path)
		if err == nil && info.IsDir() {
			return path, nil
		}
		if err == nil {
			return "", wrong("%s is a file; a folder is wanted", path)
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return "", err
		}
		parent := filepath.Dir(path)
		if parent == path {
			return "", err
		}
		path = parent
	}
}
