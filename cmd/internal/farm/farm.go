package farm

import (
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// File is the name of the store in a farm folder, and Logs of the folder of the logs' originals in it.
const (
	File = "farm.gpkg"
	Logs = "logs"
)

// patience is how long another process is waited for that writes.
const patience = 30 * time.Second

// Farm is an open farm folder.
type Farm struct {
	dir, path string
	db        *sql.DB
	conn      *sql.Conn
}

// NotThere is the error of a folder that holds no farm.
type NotThere struct{ Dir string }

func (e *NotThere) Error() string {
	return fmt.Sprintf("%s: no farm folder: there is no %s in it\nhint: balk season add makes one", e.Dir, File)
}

// Open opens a farm for reading.
func Open(ctx context.Context, dir string) (*Farm, error) { return open(ctx, dir, false) }

// OpenToChange opens a farm, which it makes where there is none, and brings its form up to date.
func OpenToChange(ctx context.Context, dir string) (*Farm, error) { return open(ctx, dir, true) }

func open(ctx context.Context, dir string, change bool) (_ *Farm, err error) {
	f := &Farm{dir: dir, path: filepath.Join(dir, File)}
	mode := "ro"
	if change {
		if mode = "rwc"; len(steps) == 0 {
			return nil, errors.New("no form of a farm is known")
		}
		if err := os.MkdirAll(dir, 0o755); err != nil {
			return nil, err
		}
	} else if info, err := os.Stat(f.path); errors.Is(err, fs.ErrNotExist) || err == nil && info.Size() == 0 {
		return nil, &NotThere{dir}
	} else if err != nil {
		return nil, err
	} else if _, err := os.Stat(f.path + "-journal"); err == nil {
		mode = "rw" // what a killed process left undone has to be taken back first
	}
	abs, err := filepath.Abs(f.path)
	if err != nil {
		return nil, err
	}
	slashed := filepath.ToSlash(abs)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed
	}
	query := url.Values{"mode": {mode}, "_pragma": {fmt.Sprintf("busy_timeout(%d)", patience.Milliseconds()), "foreign_keys(1)", "trusted_schema(0)"}}
	if f.db, err = sql.Open("sqlite", (&url.URL{Scheme: "file", Path: slashed, RawQuery: query.Encode()}).String()); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = f.told(err)
			_ = f.Close() // the first error counts
		}
	}()
	if f.conn, err = f.db.Conn(ctx); err != nil {
		return nil, err
	}
	if change {
		return f, errors.Join(f.forward(ctx), f.tidy(ctx))
	}
	have, err := f.version(ctx, f.conn)
	if err == nil && have < len(steps) {
		err = fmt.Errorf("%s: its form has version %d; balk season add brings it to %d, after a copy", f.path, have, len(steps))
	}
	return f, err
}

// Close closes the farm.
func (f *Farm) Close() error {
	var err error
	if f.conn != nil {
		err = f.conn.Close()
	}
	return errors.Join(err, f.db.Close())
}

// told is an error of SQLite with the file it is about, and what it means for people.
func (f *Farm) told(err error) error {
	fault, ok := errors.AsType[*sqlite.Error](err)
	if !ok {
		return err
	}
	switch fault.Code() & 0xff {
	case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
		return fmt.Errorf("%s: another program has been writing into it for %s", f.path, patience)
	case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
		return fmt.Errorf("%s: cannot be written: %w", f.path, fs.ErrPermission)
	case sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT:
		return fmt.Errorf("%s: no farm that can be read: %w", f.path, err)
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%s: the disk is full", f.path)
	}
	return fmt.Errorf("%s: %w", f.path, err)
}

// querier is what rows are read from.
type querier interface {
	QueryRowContext(ctx context.Context, text string, args ...any) *sql.Row
	QueryContext(ctx context.Context, text string, args ...any) (*sql.Rows, error)
}

// tx is one change of the farm.
type tx struct {
	ctx context.Context
	*Farm
}

func (t *tx) do(text string, args ...any) error {
	_, err := t.conn.ExecContext(t.ctx, text, args...)
	return err
}

// insert gives the number of the row.
func (t *tx) insert(text string, args ...any) (int64, error) {
	r, err := t.conn.ExecContext(t.ctx, text, args...)
	if err != nil {
		return 0, err
	}
	return r.LastInsertId()
}

// change makes one change: all of it or nothing.
func (f *Farm) change(ctx context.Context, what func(*tx) error) (err error) {
	t := &tx{context.WithoutCancel(ctx), f}
	if _, err := f.conn.ExecContext(ctx, "BEGIN IMMEDIATE"); err != nil {
		return f.told(err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(f.told(err), t.do("ROLLBACK"))
		}
	}()
	if err := what(t); err != nil {
		return err
	}
	return t.do("COMMIT")
}

// copyTo copies the file as it stands, all of it or nothing. A copy that is there already stays: it was made by one who was cut off
// after it, or by another at the same time, who may have changed the file since.
func (f *Farm) copyTo(ctx context.Context, path string) error {
	if _, err := os.Stat(path); err == nil {
		return nil
	}
	half := path + ".half-" + rand.Text()
	_, err := f.conn.ExecContext(ctx, "VACUUM INTO ?", half)
	if err != nil {
		return errors.Join(f.told(err), gone(half))
	}
	if err = os.Link(half, path); errors.Is(err, fs.ErrExist) {
		err = nil
	} else if err != nil { // a file system without links
		return os.Rename(half, path)
	}
	return errors.Join(err, gone(half))
}
