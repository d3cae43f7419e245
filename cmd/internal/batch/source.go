package batch

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"iter"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"balk/geo"
	"balk/geo/read"
)

// Log is a file, or a folder of task data, that may be a log. What a list says of it wins over rules, and rules over what it says itself.
type Log struct {
	Name    string `json:"name"`             // from its source, with slashes; a source has each name once
	Path    string `json:"path"`             // by which its Source opens it
	Fault   string `json:"fault,omitempty"`  // why it cannot be read, where that is known
	Listed  bool   `json:"listed,omitempty"` // somebody says that it is a log
	Set     string `json:"set,omitempty"`    // file of the implement; "" = by rules
	Field   string `json:"field,omitempty"`
	Driver  string `json:"driver,omitempty"`
	Machine string `json:"machine,omitempty"`
	Farm    string `json:"farm,omitempty"`
}

// Folder is the folder a log lies in, from its source; "." = in none.
func (l Log) Folder() string { return path.Dir(l.Name) }

// Source lists logs and opens them.
type Source interface {
	// Logs are all that may be logs, in the order of their names. An error ends the list.
	Logs(ctx context.Context) iter.Seq2[Log, error]
	// Open gives the path at which a log can be read as a file until done is called, which is never nil.
	Open(ctx context.Context, l Log) (path string, done func(), err error)
}

// OnDisk opens logs that are files already.
type OnDisk struct{}

// Open is that of a Source.
func (OnDisk) Open(_ context.Context, l Log) (string, func(), error) { return l.Path, func() {}, nil }

// Tree is the Source of all files in a folder and the folders in it. What a run writes there is none of them.
type Tree struct {
	OnDisk
	Dir  string
	Skip string // a folder that is passed over; "" = none
}

// Logs are those of the tree.
func (t Tree) Logs(ctx context.Context) iter.Seq2[Log, error] {
	return func(yield func(Log, error) bool) {
		skip, err := filepath.Abs(t.Skip)
		if err != nil {
			yield(Log{}, err)
			return
		}
		names, _, odd, err := read.Below(t.Dir, nil)
		if err != nil {
			yield(Log{}, err)
			return
		}
		names = slices.DeleteFunc(names, read.Settings) // they lie where they belong, and are no logs that could not be read
		faults := map[string]string{}
		for _, f := range odd {
			names = append(names, f.File)
			faults[f.File] = f.What
		}
		slices.Sort(names)
		for _, one := range taskFolders(names) {
			if err := ctx.Err(); err != nil {
				yield(Log{}, err)
				return
			}
			if abs, err := filepath.Abs(one); t.Skip != "" && err == nil && strings.HasPrefix(abs, skip+string(filepath.Separator)) {
				continue
			}
			name, err := filepath.Rel(t.Dir, one)
			if !yield(Log{Name: filepath.ToSlash(name), Path: one, Fault: faults[one]}, err) || err != nil {
				return
			}
		}
	}
}

// taskFolders are files, with the folder of task data in the place of the files that make it up.
func taskFolders(names []string) (out []string) {
	folders := map[string]bool{}
	for _, one := range names {
		if strings.EqualFold(filepath.Base(one), "TASKDATA.XML") {
			folders[filepath.Dir(one)] = true
		}
	}
	said := map[string]bool{}
	for _, one := range names {
		dir, kind := filepath.Dir(one), strings.ToUpper(filepath.Ext(one))
		if !folders[dir] || kind != ".XML" && kind != ".BIN" {
			out = append(out, one)
		} else if !said[dir] {
			said[dir] = true
			out = append(out, dir)
		}
	}
	return out
}

// Sources are some of them as one. Where they are several each log has the name of its source in front.
func Sources(ctx context.Context, named []string, out string) (Source, error) {
	var all many
	for _, one := range named {
		info, err := os.Stat(one)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", geo.Shown(one), plainly(err))
		}
		switch list, is, err := readList(one, info); {
		case err != nil:
			return nil, err
		case is:
			all.sources = append(all.sources, list)
		case info.IsDir():
			all.sources = append(all.sources, Tree{Dir: one, Skip: out})
		default:
			all.sources = append(all.sources, List{logs: []Log{{Name: filepath.Base(one), Path: one, Listed: true}}})
		}
		all.names = append(all.names, filepath.ToSlash(filepath.Clean(one)))
	}
	if len(all.sources) == 1 {
		return all.sources[0], nil
	}
	return all, ctx.Err()
}

// many are Sources one after the other.
type many struct {
	OnDisk
	sources []Source
	names   []string
}

func (m many) Logs(ctx context.Context) iter.Seq2[Log, error] {
	return func(yield func(Log, error) bool) {
		seen := map[string]bool{}
		for i, s := range m.sources {
			for l, err := range s.Logs(ctx) {
				if _, is := s.(Tree); is {
					l.Name = path.Join(m.names[i], l.Name)
				}
				if err == nil && seen[l.Path] {
					continue // named twice
				}
				seen[l.Path] = true
				if !yield(l, err) || err != nil {
					return
				}
			}
		}
	}
}

// plainly is a fault of the system without the path, which stands in front of it.
func plainly(err error) error {
	if errors.Is(err, fs.ErrNotExist) {
		return errors.New("there is no such file")
	}
	if fault, ok := errors.AsType[*os.PathError](err); ok {
		return fault.Err
	}
	return err
}
