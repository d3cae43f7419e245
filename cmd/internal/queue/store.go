package queue

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"net/url"
	"os"
	"path/filepath"
	"strings"

	"balk/cmd/internal/batch"
	"balk/cmd/internal/crew"
	"balk/geo/workers"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// The files of a run, in the folder Dir of its folder.
const (
	Dir       = "run"
	storeFile = "results.db"
	lockFile  = "lock.db"
	queueFile = "queue.db"
)

// form is the version of the form of a store; another one is not read.
const form = 2

// Store keeps the results of a run in a file.
type Store struct {
	path string
	db   *sql.DB

	surveyed, keep, drop, put *sql.Stmt // asked for every log or task: to parse one takes longer than to do it
}

// prepare parses what is asked often. Closing the database closes it.
func (s *Store) prepare(ctx context.Context) (err error) {
	for _, one := range []struct {
		as   **sql.Stmt
		text string
	}{
		{&s.surveyed, "SELECT survey FROM survey WHERE key = ?"},
		{&s.keep, "INSERT OR REPLACE INTO survey VALUES (?, ?)"},
		{&s.drop, "DELETE FROM row WHERE key = ?"},
		{&s.put, "INSERT INTO row VALUES (?, ?, ?, ?, ?, ?)"},
	} {
		if *one.as, err = s.db.PrepareContext(ctx, one.text); err != nil {
			return err
		}
	}
	return nil
}

// open opens a database of SQLite; wait is how long others are waited for that write, ms.
func open(path string, wait int, more ...string) (*sql.DB, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, err
	}
	slashed := filepath.ToSlash(abs)
	if !strings.HasPrefix(slashed, "/") {
		slashed = "/" + slashed
	}
	query := url.Values{"_pragma": append([]string{fmt.Sprintf("busy_timeout(%d)", wait)}, more...), "_txlock": {"immediate"}}
	return sql.Open("sqlite", (&url.URL{Scheme: "file", Path: slashed, RawQuery: query.Encode()}).String())
}

// patience is how long another connection that writes is waited for, ms.
const patience = 60_000

// OpenStore opens the store of a run in a folder. make: one is made where there is none.
func OpenStore(ctx context.Context, out string, make bool) (_ *Store, err error) {
	s := &Store{path: filepath.Join(out, Dir, storeFile)}
	if _, err := os.Stat(s.path); !make && errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: no folder of a batch: there is no %s in it", out, filepath.Join(Dir, storeFile))
	}
	if make {
		if err := os.MkdirAll(filepath.Dir(s.path), 0o755); err != nil {
			return nil, err
		}
	}
	if s.db, err = open(s.path, patience, "journal_mode(WAL)", "synchronous(NORMAL)"); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(s.told(err), s.db.Close())
		}
	}()
	var have int
	if err := s.db.QueryRowContext(ctx, "PRAGMA user_version").Scan(&have); err != nil {
		return nil, err
	}
	switch {
	case have == form:
		return s, s.prepare(ctx)
	case have != 0 || !make:
		return nil, fmt.Errorf("its form has version %d, and this balk knows %d: name another folder", have, form)
	}
	_, err = s.db.ExecContext(ctx, fmt.Sprintf(`BEGIN IMMEDIATE;
CREATE TABLE IF NOT EXISTS survey (key TEXT PRIMARY KEY, survey TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS log (place INTEGER PRIMARY KEY, state TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS task (key TEXT PRIMARY KEY, place INTEGER NOT NULL, task TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS row (key TEXT NOT NULL, part INTEGER NOT NULL, field INTEGER NOT NULL, begun TEXT NOT NULL, state TEXT NOT NULL, row TEXT NOT NULL, PRIMARY KEY (key, part)) WITHOUT ROWID;
PRAGMA user_version = %d;
COMMIT`, form))
	if err == nil {
		err = s.prepare(ctx)
	}
	return s, err
}

// Close closes the store.
func (s *Store) Close() error { return s.db.Close() }

// told is an error of SQLite with the file it is about.
func (s *Store) told(err error) error {
	fault, ok := errors.AsType[*sqlite.Error](err)
	switch {
	case err == nil:
		return nil
	case ok && fault.Code()&0xff == sqlite3.SQLITE_FULL:
		return fmt.Errorf("%s: the disk is full", s.path)
	case ok && (fault.Code()&0xff == sqlite3.SQLITE_NOTADB || fault.Code()&0xff == sqlite3.SQLITE_CORRUPT):
		return fmt.Errorf("%s: no results that can be read: %w", s.path, err)
	}
	return fmt.Errorf("%s: %w", s.path, err)
}

// change makes one change: all of it or nothing.
func (s *Store) change(ctx context.Context, what func(*sql.Tx) error) (err error) {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return s.told(err)
	}
	if err := what(tx); err != nil {
		return errors.Join(s.told(err), tx.Rollback())
	}
	return s.told(tx.Commit())
}

// AnySurvey tells whether a survey of any log is kept.
func (s *Store) AnySurvey(ctx context.Context) (some bool, err error) {
	err = s.db.QueryRowContext(ctx, "SELECT EXISTS (SELECT 1 FROM survey)").Scan(&some)
	return some, s.told(err)
}

// Surveyed is that of batch.Kept.
func (s *Store) Surveyed(ctx context.Context, key string) (one batch.Survey, is bool, err error) {
	var text string
	err = s.surveyed.QueryRowContext(ctx, key).Scan(&text)
	if errors.Is(err, sql.ErrNoRows) {
		return one, false, nil
	}
	if err != nil {
		return one, false, s.told(err)
	}
	err = json.Unmarshal([]byte(text), &one)
	return one, err == nil, s.told(err)
}

// entry is something to keep: a survey under its key, or the rows of a task in the place of those that were there.
type entry struct {
	key    string
	survey *batch.Survey // nil = rows
	rows   []crew.Kept
}

// Keep keeps some in one change.
func (s *Store) Keep(ctx context.Context, some []entry) error {
	if len(some) == 0 {
		return nil
	}
	return s.change(ctx, func(tx *sql.Tx) error {
		keep, drop, put := tx.StmtContext(ctx, s.keep), tx.StmtContext(ctx, s.drop), tx.StmtContext(ctx, s.put)
		for _, one := range some {
			if one.survey != nil {
				text, err := json.Marshal(one.survey)
				if err != nil {
					return err
				}
				if _, err := keep.ExecContext(ctx, one.key, string(text)); err != nil {
					return err
				}
				continue
			}
			if _, err := drop.ExecContext(ctx, one.key); err != nil {
				return err
			}
			for _, r := range one.rows {
				begun := ""
				if !r.Begin.IsZero() {
					begun = r.Begin.UTC().Format("2006-01-02T15:04:05.000000Z")
				}
				if _, err := put.ExecContext(ctx, one.key, r.Part, r.Field, begun, string(r.State), string(r.Row)); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

// Begin notes how many logs a run has.
func (s *Store) Begin(ctx context.Context, logs int) error {
	return s.change(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, "DELETE FROM log"); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, "WITH RECURSIVE n (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n WHERE i < ?) INSERT INTO log SELECT i, '' FROM n WHERE i <= ?", logs, logs)
		return err
	})
}

// Plan notes what logs were found to hold, makes tasks all those of the run, and gives those of them without rows. Rows of other tasks are
// not of the run any more.
func (s *Store) Plan(ctx context.Context, surveys []batch.Survey, tasks []batch.Task) (open []batch.Task, err error) {
	err = s.change(ctx, func(tx *sql.Tx) error {
		note, err := tx.PrepareContext(ctx, "UPDATE log SET state = ? WHERE place = ?")
		if err != nil {
			return err
		}
		defer note.Close()
		for i, one := range surveys {
			if _, err := note.ExecContext(ctx, string(one.State), i+1); err != nil {
				return err
			}
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM task"); err != nil {
			return err
		}
		put, err := tx.PrepareContext(ctx, "INSERT INTO task VALUES (?, ?, ?)")
		if err != nil {
			return err
		}
		defer put.Close()
		for i, t := range tasks {
			text, err := json.Marshal(t)
			if err != nil {
				return err
			}
			if _, err := put.ExecContext(ctx, t.Key, i, string(text)); err != nil {
				return err
			}
		}
		if _, err := tx.ExecContext(ctx, "DELETE FROM row WHERE key NOT IN (SELECT key FROM task)"); err != nil {
			return err
		}
		done := map[string]bool{}
		for key, err := range texts(tx.QueryContext(ctx, "SELECT DISTINCT key FROM row")) {
			if err != nil {
				return err
			}
			done[key] = true
		}
		for _, t := range tasks {
			if !done[t.Key] {
				open = append(open, t)
			}
		}
		return nil
	})
	return open, err
}

// texts are the first column of an answer.
func texts(r *sql.Rows, err error) iter.Seq2[string, error] {
	return func(yield func(string, error) bool) {
		if err != nil {
			yield("", err)
			return
		}
		defer r.Close()
		for r.Next() {
			var text string
			if err := r.Scan(&text); !yield(text, err) || err != nil {
				return
			}
		}
		if err := r.Err(); err != nil {
			yield("", err)
		}
	}
}

// Rows are those of the run, by field, begin, key and part, without boundaries. Some are made of their texts at a time, on all processors.
func (s *Store) Rows(ctx context.Context) iter.Seq2[batch.Row, error] {
	return func(yield func(batch.Row, error) bool) {
		const some = 64
		text := make([]string, 0, some)
		row := make([]batch.Row, some)
		made := func(readErr error) bool {
			err := errors.Join(workers.Each(ctx, 0, len(text), func(k int) error {
				row[k] = batch.Row{}
				return json.Unmarshal([]byte(text[k]), &row[k])
			}), readErr)
			if err != nil {
				yield(batch.Row{}, s.told(err))
				return false
			}
			for _, r := range row[:len(text)] {
				if !yield(r, nil) {
					return false
				}
			}
			text = text[:0]
			return true
		}
		for one, err := range texts(s.db.QueryContext(ctx, "SELECT row FROM row ORDER BY field, begun, key, part")) {
			if err == nil {
				text = append(text, one)
			}
			if (err != nil || len(text) == some) && !made(err) {
				return
			}
		}
		made(nil)
	}
}

// StatusOf is that of the run in a folder.
func StatusOf(ctx context.Context, out string) (st batch.Status, err error) {
	s, err := OpenStore(ctx, out, false)
	if err != nil {
		return st, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	err = s.db.QueryRowContext(ctx, `SELECT (SELECT count(*) FROM log), (SELECT count(*) FROM log WHERE state <> ''), (SELECT count(*) FROM log WHERE state = ?1),
		(SELECT count(*) FROM task), (SELECT count(DISTINCT key) FROM row), (SELECT count(*) FROM row WHERE state = ?1)`, string(batch.Failed)).Scan(&st.Logs, &st.Looked, &st.LogsFailed, &st.Tasks, &st.Done, &st.Failed)
	if err != nil {
		return st, s.told(err)
	}
	free, err := hold(ctx, out)
	if _, st.Running = errors.AsType[*AtWork](err); st.Running {
		return st, nil
	}
	if err == nil {
		err = free()
	}
	return st, err
}

// AtWork is the error of a folder in which another process works.
type AtWork struct{ Dir string }

func (e *AtWork) Error() string { return e.Dir + ": another balk is at work on this batch" }

// hold takes the lock of a run until free is called, or the process is gone.
func hold(ctx context.Context, out string) (free func() error, err error) {
	path := filepath.Join(out, Dir, lockFile)
	db, err := open(path, 0)
	if err != nil {
		return nil, err
	}
	conn, err := db.Conn(ctx)
	if err == nil {
		_, err = conn.ExecContext(ctx, "BEGIN EXCLUSIVE")
	}
	if fault, ok := errors.AsType[*sqlite.Error](err); ok && fault.Code()&0xff == sqlite3.SQLITE_BUSY {
		err = &AtWork{out}
	}
	if err != nil {
		if conn != nil {
			_ = conn.Close() // the first error counts
		}
		return nil, errors.Join(err, db.Close())
	}
	return func() error { return errors.Join(conn.Close(), db.Close()) }, nil
}
