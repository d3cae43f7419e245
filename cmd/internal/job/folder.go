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

// output is one file of a result folder; its name may lie in a folder below.
type output struct {
	name  string
	write func(io.Writer) error
	place func(path string) error // instead of write: for formats that need a file of their own
}

// write puts the result into the folder.
func (r *Report) write(ctx context.Context, c coverage.Result) error {
	for _, name := range targets() {
		r.Files = append(r.Files, filepath.Join(r.Spec.Out, name))
	}
	var files []output
	for _, layer := range vector.Layers {
		files = append(files, output{name: layer + ".geojson", write: func(w io.Writer) error { return vector.Write(w, layer, c) }})
	}
	files = append(files, output{name: mapFile, write: func(w io.Writer) error { return sheet.SVG(w, c) }}, output{name: reportFile, write: r.JSON})
	if err := fill(ctx, r.Spec.Out, files); err != nil {
		r.Files = nil
		return err
	}
	return nil
}

// fill puts files into a folder, which it makes if need be. All files are first
// written whole into a hidden folder beside their places, then renamed one by one;
// an error or an interruption before that leaves the folder as it was.
func fill(ctx context.Context, out string, files []output) (err error) {
	base, err := standing(out)
	if err != nil {
		return err
	}
	tmp, err := os.MkdirTemp(base, ".balk-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(tmp)) }()
	if err := saveAll(ctx, tmp, files); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	for _, f := range files {
		if err := os.MkdirAll(filepath.Dir(filepath.Join(out, f.name)), 0o755); err != nil {
			return err
		}
		if err := os.Rename(filepath.Join(tmp, f.name), filepath.Join(out, f.name)); err != nil {
			return err
		}
	}
	return nil
}

// saveAll writes the files side by side, and gives the error of the first in
// order that failed.
func saveAll(ctx context.Context, dir string, files []output) error {
	failed := make([]error, len(files))
	next := make(chan int)
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(files)) {
		wg.Go(func() {
			for i := range next {
				if failed[i] = ctx.Err(); failed[i] == nil {
					failed[i] = files[i].save(dir)
				}
			}
		})
	}
	for i := range files {
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
func (r Report) JSON(w io.Writer) error { return indented(w, r) }

// indented writes v as JSON for people too.
func indented(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// save writes one file and makes sure that it reached the disk's door.
func (o output) save(dir string) error {
	path := filepath.Join(dir, o.name)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	if o.place != nil {
		if err := o.place(path); err != nil {
			return fmt.Errorf("%s: %w", o.name, err)
		}
		return nil
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	b := bufio.NewWriterSize(f, 1<<16)
	if err := o.write(b); err != nil {
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
