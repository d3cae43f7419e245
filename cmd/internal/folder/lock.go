package folder

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"
)

const (
	lockFile = ".balk-lock"
	// speechless is how old a lock must be that says nothing: its maker died before it could write.
	speechless = 2 * time.Second
	glance     = 20 * time.Millisecond // between two looks at a lock that is held
)

// Changed by tests, which do not wait so long.
var (
	patience = time.Minute     // how long one holder of a lock is waited for; a result is written in seconds
	silence  = 2 * time.Second // how long is waited before that is said
)

// began is about when this process did.
var began = time.Now().UTC().Truncate(time.Second)

// holder is who holds a lock, as its file says.
type holder struct {
	Host    string    `json:"host"`
	Process int       `json:"process"`
	Start   time.Time `json:"start"`
	Mark    string    `json:"mark,omitempty"` // tells the process from a later one of the same number
	ID      string    `json:"id"`             // of this lock: one process may hold many, one after the other
}

func (h holder) String() string {
	return fmt.Sprintf("process %d on %s, begun %s", h.Process, h.Host, h.Start.Format("2006-01-02 15:04:05 UTC"))
}

// lock is held by this call.
type lock struct {
	path string
	holder
}

// hold takes the lock of a folder. It waits for a holder that is at work, and takes the place of one that
// is gone, which it says.
func hold(ctx context.Context, dir string, say func(string)) (*lock, error) {
	host, err := os.Hostname()
	if err != nil {
		return nil, fmt.Errorf("lock %s: %w", dir, err)
	}
	l := &lock{filepath.Join(dir, lockFile), holder{host, os.Getpid(), began, mark(), rand.Text()}}
	text, err := json.Marshal(l.holder)
	if err != nil {
		return nil, err
	}
	var seen []byte // of the holder that is waited for
	since := time.Now()
	told := false
	pause := func() error {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(glance):
			return nil
		}
	}
	for {
		err := writeNew(l.path, text)
		if err == nil {
			return l, nil
		}
		var there []byte
		if errors.Is(err, fs.ErrExist) {
			there, err = os.ReadFile(l.path)
		}
		switch {
		case err == nil:
		case time.Since(since) < speechless && (errors.Is(err, fs.ErrNotExist) && standing(dir) || // just set free
			runtime.GOOS == "windows" && errors.Is(err, fs.ErrPermission)): // being removed while another looks at it
			if err := pause(); err != nil {
				return nil, err
			}
			continue
		default:
			return nil, fmt.Errorf("lock: %w", plainly(err))
		}
		other, gone := l.judge(there)
		if gone {
			taken, err := l.succeed(there, text)
			if err != nil {
				return nil, fmt.Errorf("lock: %w", plainly(err))
			}
			if taken {
				say(fmt.Sprintf("%s was locked by %s, which is gone: its lock is taken over", dir, other))
				return l, nil
			}
		}
		if !bytes.Equal(there, seen) {
			seen, since, told = there, time.Now(), false
		}
		if !told && time.Since(since) > silence {
			told = true
			say(fmt.Sprintf("%s is being filled by %s: waiting for it", dir, other))
		}
		if time.Since(since) > patience {
			return nil, fmt.Errorf("%s is being filled by %s, for more than %v\nhint: if no balk runs there any more, delete %s", dir, other, patience, l.path)
		}
		if err := pause(); err != nil {
			return nil, err
		}
	}
}

// standing says whether dir is a folder that is there.
func standing(dir string) bool {
	info, err := os.Stat(dir)
	return err == nil && info.IsDir()
}

// judge says who wrote a lock, and whether that process is certainly gone.
func (l *lock) judge(text []byte) (who holder, gone bool) {
	if json.Unmarshal(text, &who) != nil || who.ID == "" {
		who = holder{Host: "an unknown host"}
		info, err := os.Stat(l.path)
		return who, err == nil && time.Since(info.ModTime()) > speechless
	}
	if who.Host != l.Host {
		return who, false // cannot be asked from here
	}
	return who, dead(who.Process, who.Mark) || who.Process == l.Process && !who.Start.Equal(l.Start)
}

// succeed puts this call's lock in the place of a dead one, and says whether it could. Of many that try
// only the one succeeds that makes a second file, named for the dead lock; it looks again whether that
// still stands, for another may have come and gone since.
func (l *lock) succeed(deadText, text []byte) (bool, error) {
	claim := l.path + "-" + sum(deadText)[:16]
	if err := writeNew(claim, text); err != nil {
		if info, old := os.Stat(claim); old == nil && time.Since(info.ModTime()) > speechless {
			return false, gone(os.Remove(claim)) // of one that died between two lines
		}
		if errors.Is(err, fs.ErrExist) {
			return false, nil
		}
		return false, err
	}
	there, err := os.ReadFile(l.path)
	if err != nil || !bytes.Equal(there, deadText) {
		return false, gone(errors.Join(gone(err), gone(os.Remove(claim))))
	}
	if err := os.Rename(claim, l.path); err != nil {
		return false, gone(err)
	}
	return true, nil
}

// free gives the lock back, if it is still this call's.
func (l *lock) free() error {
	text, err := os.ReadFile(l.path)
	if err != nil {
		return gone(err)
	}
	var who holder
	if json.Unmarshal(text, &who) != nil || who.ID != l.ID {
		return fmt.Errorf("%s was taken over by %s while this call held it", l.path, who)
	}
	return os.Remove(l.path)
}

// writeNew writes a file that must not be there yet.
func writeNew(path string, text []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	if _, err := f.Write(text); err != nil {
		return errors.Join(err, f.Close(), os.Remove(path))
	}
	return f.Close()
}

// gone is err, but for a file that is no longer there.
func gone(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}
