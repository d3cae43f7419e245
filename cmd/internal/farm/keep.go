package farm

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// Log is the original of a log, kept unchanged.
type Log struct {
	SHA256 string `json:"sha256"`
	Name   string `json:"name"`  // that it came under
	Bytes  int64  `json:"bytes"` // of it
	Kept   string `json:"kept"`  // where it is, from the farm folder
}

// path is where a log is kept, from the farm folder.
func (l Log) path(extension string) string { return Logs + "/" + l.SHA256 + extension }

// Keep puts the original of a log into the farm folder and on the disk: all of it or nothing. One that is there already stays as it
// is. It belongs to no operation yet.
func (f *Farm) Keep(name string, content io.Reader) (l Log, err error) {
	dir := filepath.Join(f.dir, Logs)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return Log{}, err
	}
	half := filepath.Join(dir, ".half-"+rand.Text())
	file, err := os.OpenFile(half, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return Log{}, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("keep %s: %w", name, err), gone(half))
		}
	}()
	h := sha256.New()
	n, err := io.Copy(io.MultiWriter(file, h), content)
	if err == nil {
		err = file.Sync()
	}
	if err = errors.Join(err, file.Close()); err != nil {
		return Log{}, err
	}
	l = Log{SHA256: hex.EncodeToString(h.Sum(nil)), Name: filepath.Base(name), Bytes: n}
	l.Kept = l.path(extensionOf(l.Name))
	if there, err := filepath.Glob(filepath.Join(dir, l.SHA256+"*")); err == nil && len(there) > 0 {
		l.Kept = l.path(strings.TrimPrefix(filepath.Base(there[0]), l.SHA256))
		return l, gone(half)
	}
	target := filepath.Join(f.dir, filepath.FromSlash(l.Kept))
	if err := os.Rename(half, target); err != nil {
		return Log{}, err
	}
	return l, syncFolder(dir)
}

// abandoned is how old a half log must be that no process is still copying.
const abandoned = time.Hour

// tidy removes what killed processes left: halves of logs and copies, and originals whose operation was never confirmed.
func (f *Farm) tidy(ctx context.Context) error {
	halves, err := filepath.Glob(filepath.Join(f.dir, Logs, ".half-*"))
	copies, err2 := filepath.Glob(f.path + ".form-*.half-*")
	left, err3 := f.unconfirmed(ctx)
	err = errors.Join(err, err2, err3)
	for _, half := range slices.Concat(halves, copies, left) {
		if info, err2 := os.Stat(half); err2 == nil && time.Since(info.ModTime()) > abandoned {
			err = errors.Join(err, gone(half))
		}
	}
	return err
}

// unconfirmed are the originals that no log of the farm is.
func (f *Farm) unconfirmed(ctx context.Context) (left []string, err error) {
	all, err := os.ReadDir(filepath.Join(f.dir, Logs))
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			err = nil
		}
		return nil, err
	}
	kept := map[string]bool{}
	err = f.rows(ctx, func(r *sql.Rows) error {
		var sum string
		err := r.Scan(&sum)
		kept[sum] = true
		return err
	}, "SELECT sha256 FROM log")
	for _, one := range all {
		sum, _, _ := strings.Cut(one.Name(), ".")
		if hash, err := hex.DecodeString(sum); err == nil && len(hash) == sha256.Size && !kept[sum] {
			left = append(left, filepath.Join(f.dir, Logs, one.Name()))
		}
	}
	return left, err
}

// extensionOf is the end of a name by which its kind is known, in letters and digits.
func extensionOf(name string) string {
	ext := strings.ToLower(filepath.Ext(name))
	if len(ext) > 12 || strings.Trim(strings.TrimPrefix(ext, "."), "abcdefghijklmnopqrstuvwxyz0123456789") != "" || ext == "." {
		return ""
	}
	return ext
}

// gone removes a file that need not be there.
func gone(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// syncFolder brings the names in a folder to the disk, where the system can do that.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, fs.ErrPermission) && !errors.Is(err, fs.ErrInvalid) {
		return err
	}
	return nil
}
