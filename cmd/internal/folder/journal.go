package folder

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
)

// What lies in a .balk-ID folder.
const (
	newFiles  = "new"     // written, not yet in their places
	oldFiles  = "old"     // that had those places
	draft     = "draft"   // the journal before it counts
	committed = "journal" // it counts: what is in new goes to its place
	undone    = "undone"  // a file could not be put in its place: what is in old goes back
)

// ours are the names of these folders, and of the locks' helpers.
var (
	stagedName = regexp.MustCompile(`^\.balk-[A-Z2-7]{26}$`) // as rand.Text makes them
	claimName  = regexp.MustCompile(`^\.balk-lock-[0-9a-f]{16}$`)
)

// step is one file of a journal.
type step struct {
	Name string   `json:"name"`
	New  *Content `json:"new,omitempty"` // none: it is only taken away
	Was  *Content `json:"was,omitempty"` // ours, in its place before; none: nothing was there
}

// journal says what becomes of a folder.
type journal struct {
	dir   string // the folder
	own   string // .balk-ID in it
	Steps []step `json:"steps"`
}

// InTheWay is a file or folder that is not balk's, at a place that a result needs.
type InTheWay struct {
	Path string
	What string // what it is
}

func (e *InTheWay) Error() string {
	return fmt.Sprintf("%s %s\nhint: choose another folder, or move it away", e.Path, e.What)
}

// fault fails a change of the disk on purpose; only tests set it.
var fault = func(what, name string) error { return nil }

// toDisk brings a file to the disk. Tests in which no power is cut do without.
var toDisk = (*os.File).Sync

func rename(from, to string) error {
	if err := fault("rename", to); err != nil {
		return err
	}
	return os.Rename(from, to)
}

func remove(path string) error {
	if err := fault("remove", path); err != nil {
		return err
	}
	return os.Remove(path)
}

func makeFolder(path string) error {
	if err := fault("folder", path); err != nil {
		return err
	}
	return os.MkdirAll(path, 0o755)
}

// syncFolder brings the names in a folder to the disk, where the system can.
func syncFolder(path string) error {
	if err := fault("sync", path); err != nil {
		return err
	}
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	err = toDisk(d)
	if runtime.GOOS == "windows" { // it keeps names by itself and refuses
		err = nil
	}
	return errors.Join(err, d.Close())
}

// commit makes the journal count.
func (j *journal) commit() error {
	text, err := json.Marshal(j)
	if err != nil {
		return err
	}
	path := filepath.Join(j.own, draft)
	if err := fault("write", path); err != nil {
		return err
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if _, err := f.Write(text); err != nil {
		return errors.Join(err, f.Close())
	}
	if err := errors.Join(toDisk(f), f.Close()); err != nil {
		return err
	}
	if err := syncFolder(j.own); err != nil {
		return err
	}
	if err := syncFolder(j.dir); err != nil {
		return err
	}
	if err := rename(path, filepath.Join(j.own, committed)); err != nil {
		return err
	}
	if err := syncFolder(j.own); err != nil {
		return errors.Join(err, rename(filepath.Join(j.own, committed), path))
	}
	return nil
}

// abandon removes what never counted.
func (j *journal) abandon() error {
	if there(filepath.Join(j.own, committed)) || there(filepath.Join(j.own, undone)) {
		return nil // the next call sees to it
	}
	return os.RemoveAll(j.own)
}

// finish brings a committed result to its place, or where that cannot be, takes back what was; then it
// removes the journal. It can be cut off anywhere and called again.
func (j *journal) finish() error {
	err := j.forward()
	if err == nil {
		return j.clear(committed)
	}
	if taken := rename(filepath.Join(j.own, committed), filepath.Join(j.own, undone)); taken != nil {
		return errors.Join(err, taken)
	}
	if back := j.back(); back != nil {
		return errors.Join(err, back)
	}
	return err
}

// forward puts every file in its place.
func (j *journal) forward() error {
	touched := map[string]bool{}
	for _, s := range j.Steps {
		target, fresh, aside := place(j.dir, s.Name), place(filepath.Join(j.own, newFiles), s.Name), place(filepath.Join(j.own, oldFiles), s.Name)
		if s.New != nil && !there(fresh) || s.New == nil && there(aside) {
			continue // done before
		}
		found, err := s.Was.lies(target)
		if err != nil {
			return err
		}
		if found == another && s.New == nil {
			continue // it was changed: not ours any more
		}
		if found == another || found == same && there(aside) {
			return &InTheWay{target, "is not balk's own, and stands where a file of an unfinished result is to go"}
		}
		touched[filepath.Dir(target)] = true
		if found == same {
			if err := makeFolder(filepath.Dir(aside)); err != nil {
				return err
			}
			if err := rename(target, aside); err != nil {
				return err
			}
		}
		if s.New != nil {
			if err := makeFolder(filepath.Dir(target)); err != nil {
				return err
			}
			if err := rename(fresh, target); err != nil {
				return err
			}
		}
	}
	for dir := range touched {
		if err := syncFolder(dir); err != nil {
			return err
		}
	}
	for _, s := range j.Steps {
		if s.New == nil {
			j.emptied(s.Name)
		}
	}
	return nil
}

// back takes the new files from their places and puts the old ones there, the last first; then it removes
// the journal.
func (j *journal) back() error {
	for _, s := range slices.Backward(j.Steps) {
		target, fresh, aside := place(j.dir, s.Name), place(filepath.Join(j.own, newFiles), s.Name), place(filepath.Join(j.own, oldFiles), s.Name)
		if s.New != nil && !there(fresh) {
			found, err := s.New.lies(target)
			if err != nil {
				return err
			}
			if found == another {
				return &InTheWay{target, "is not balk's own, and stands where a file of an unfinished result is to be taken back"}
			}
			if found == same {
				if err := rename(target, fresh); err != nil {
					return err
				}
			}
		}
		if !there(aside) {
			continue
		}
		if there(target) {
			return &InTheWay{target, "is not balk's own, and stands where a file of the earlier result is to go back"}
		}
		if err := makeFolder(filepath.Dir(target)); err != nil {
			return err
		}
		if err := rename(aside, target); err != nil {
			return err
		}
	}
	for _, s := range j.Steps {
		if s.Was == nil {
			j.emptied(s.Name)
		}
	}
	return j.clear(undone)
}

// clear removes the journal, of that state, and all beside it. The journal goes first: what is left without
// one is never put anywhere.
func (j *journal) clear(state string) error {
	if err := syncFolder(j.dir); err != nil {
		return err
	}
	if err := remove(filepath.Join(j.own, state)); err != nil {
		return err
	}
	if err := syncFolder(j.own); err != nil {
		return err
	}
	return removeAll(j.own)
}

func removeAll(path string) error {
	if err := fault("remove", path); err != nil {
		return err
	}
	return os.RemoveAll(path)
}

// emptied removes the folders below j.dir that a file lay in, as far as nothing is left in them.
func (j *journal) emptied(name string) {
	for dir := path.Dir(name); dir != "." && dir != "/"; dir = path.Dir(dir) {
		if err := remove(place(j.dir, dir)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return // something is left in it
		}
	}
}

// what lies at a place, seen from a content.
type lying int

const (
	nothing lying = iota
	same
	another
)

// lies says what is at path: nothing, this content, or another. A nil content is none.
func (c *Content) lies(path string) (lying, error) {
	info, err := os.Lstat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nothing, nil
	}
	if err != nil {
		return another, err
	}
	if c == nil {
		return another, nil
	}
	is, err := c.is(path, info)
	if err != nil || !is {
		return another, err
	}
	return same, nil
}

func there(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// settle finishes what calls that were cut off committed, and removes what they did not. The folder is
// locked.
func settle(dir string, say func(string)) error {
	list, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, e := range list {
		path := filepath.Join(dir, e.Name())
		switch {
		case claimName.MatchString(e.Name()):
			if err := gone(os.Remove(path)); err != nil { // of a call that died while it took over a lock
				return err
			}
		case e.IsDir() && stagedName.MatchString(e.Name()):
			if err := settleOne(dir, path, say); err != nil {
				return err
			}
		}
	}
	return nil
}

func settleOne(dir, own string, say func(string)) error {
	j := journal{dir: dir, own: own}
	for _, state := range []string{committed, undone} {
		text, err := os.ReadFile(filepath.Join(own, state))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		if err := json.Unmarshal(text, &j); err != nil {
			return fmt.Errorf("%s: %w", filepath.Join(own, state), err)
		}
		for _, s := range j.Steps {
			if !filepath.IsLocal(filepath.FromSlash(s.Name)) {
				return fmt.Errorf("%s names %q, which lies outside the folder", filepath.Join(own, state), s.Name)
			}
		}
		if state == undone {
			if err := j.back(); err != nil {
				return err
			}
			say(dir + ": a result that could not be put in its place is taken back, the earlier one stands")
			return nil
		}
		if err := j.finish(); err != nil {
			return err
		}
		say(dir + ": the result of a call that was cut off is finished")
		return nil
	}
	if err := removeAll(own); err != nil {
		return err
	}
	say(dir + ": what a call left that was cut off is removed, no result was touched")
	return nil
}
