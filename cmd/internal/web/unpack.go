package web

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"balk/geo"
	"balk/geo/read"
)

// unpackedAll are files with zips that hold several things unpacked in their place, each into a folder of its name. A zip of one
// thing, such as a shapefile or task data, is read as it is.
func unpackedAll(ctx context.Context, dir string, names []string) ([]string, error) {
	var out []string
	for _, name := range names {
		if strings.ToLower(path.Ext(name)) != ".zip" {
			out = append(out, name)
			continue
		}
		more, err := unpack(ctx, dir, name)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", geo.Shown(name), err)
		}
		if more == nil {
			more = []string{name}
		}
		if out = append(out, more...); len(out) > mostFiles {
			return nil, fmt.Errorf("more than %d files at once", mostFiles)
		}
	}
	return out, nil
}

// unpack unpacks a zip of several things; nil: it is none.
func unpack(ctx context.Context, dir, name string) (files []string, err error) {
	file := filepath.Join(dir, filepath.FromSlash(name))
	z, err := zip.OpenReader(file)
	if err != nil {
		return nil, nil // what is wrong with it is told when it is read
	}
	defer z.Close()
	if !several(&z.Reader) {
		return nil, nil
	}
	info, err := os.Stat(file)
	if err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	most := read.Unpacked(info.Size())
	left := most
	into := strings.TrimSuffix(name, path.Ext(name)) + ".unpacked"
	for _, f := range z.File {
		given := path.Clean(strings.ReplaceAll(f.Name, `\`, "/"))
		if f.FileInfo().IsDir() {
			continue
		}
		if !properName(given) || f.Mode()&fs.ModeType != 0 {
			return nil, fmt.Errorf("%s: no name for a file here", geo.Shown(given))
		}
		if files = append(files, into+"/"+given); len(files) > mostFiles {
			return nil, fmt.Errorf("more than %d files at once", mostFiles)
		}
		from, err := f.Open()
		if err != nil {
			return nil, err
		}
		to := &counted{from: io.LimitReader(from, left+1)}
		if err := errors.Join(put(root, files[len(files)-1], to), from.Close(), ctx.Err()); err != nil {
			return nil, err
		}
		if left -= to.read; left < 0 {
			return nil, read.Grown(info.Size(), uint64(most-left))
		}
	}
	return files, nil
}

// counted counts what is read.
type counted struct {
	from io.Reader
	read int64
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.from.Read(p)
	c.read += int64(n)
	return n, err
}

// several says whether a zip holds more than one thing that balk reads.
func several(z *zip.Reader) bool {
	stems := map[string]bool{}
	for _, f := range z.File {
		name := strings.ReplaceAll(f.Name, `\`, "/")
		if strings.EqualFold(path.Base(name), "TASKDATA.XML") {
			return false
		}
		if end := path.Ext(name); !f.FileInfo().IsDir() && !slices.Contains(beside, strings.ToLower(end)) {
			stems[strings.TrimSuffix(name, end)] = true
		}
	}
	return len(stems) > 1
}

// properName says whether a name that came from elsewhere stays below a folder, and is not that of the call kept there.
func properName(name string) bool {
	return filepath.IsLocal(name) && !strings.EqualFold(name, keptFile) && !strings.ContainsFunc(name, func(r rune) bool { return r < ' ' || r == ':' })
}
