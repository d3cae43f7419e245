package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"balk/cmd/internal/job"
	"balk/geo"
)

// Limits of what is put on the page at once (common practice, no source).
const (
	mostUpload = 4 << 30 // bytes: a log of a million fixes has a twentieth of it
	mostFiles  = 2000    // a folder of task data has some hundred
	mostFlag   = 200     // bytes of one value
)

// beside are the ends of names of files that are read with another of the same name.
var beside = []string{".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx", ".qmd", ".xml.aux"}

// take puts files on the shelf that come with a request, together with the flags of their call.
func (s *shelf) take(ctx context.Context, form *multipart.Reader) (*source, error) {
	s.mu.Lock()
	s.last++
	number := s.last
	for exists(filepath.Join(s.Keep, strconv.Itoa(number))) {
		number++
	}
	s.last = number
	s.mu.Unlock()
	dir := filepath.Join(s.Keep, strconv.Itoa(number))
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	k, err := received(form, dir)
	if err == nil {
		err = k.sort(ctx, dir)
	}
	if err == nil {
		err = written(filepath.Join(dir, keptFile), k)
	}
	if err != nil {
		return nil, errors.Join(err, os.RemoveAll(dir))
	}
	return s.add(strconv.Itoa(number), k.args(dir), dir), nil
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// written puts a value into a file as JSON, all of it or nothing.
func written(path string, v any) error {
	text, err := json.MarshalIndent(v, "", "  ")
	if err != nil {
		return err
	}
	half := path + ".part"
	if err := os.WriteFile(half, append(text, '\n'), 0o644); err != nil {
		return err
	}
	return os.Rename(half, path)
}

// received writes the files of a form into a folder, as they come, and gives all that is no file: flags, and which file is what.
func received(form *multipart.Reader, dir string) (kept, error) {
	var k kept
	root, err := os.OpenRoot(dir) // nothing that is named can lead out of it
	if err != nil {
		return k, err
	}
	defer root.Close()
	var all []string
	for {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return k, fmt.Errorf("the files did not come whole: %w", err)
		}
		name, given := part.FormName(), path.Clean(strings.ReplaceAll(partName(part), `\`, "/"))
		if given == "." {
			value, err := io.ReadAll(io.LimitReader(part, mostFlag+1))
			if err != nil {
				return k, fmt.Errorf("the files did not come whole: %w", err)
			}
			if err := k.flag(name, string(value)); err != nil {
				return k, err
			}
			continue
		}
		if !filepath.IsLocal(given) || strings.EqualFold(given, keptFile) || strings.ContainsFunc(given, func(r rune) bool { return r < ' ' || r == ':' }) {
			return k, fmt.Errorf("%s: no name for a file here", geo.Shown(given))
		}
		if all = append(all, given); len(all) > mostFiles {
			return k, fmt.Errorf("more than %d files at once", mostFiles)
		}
		if err := put(root, given, part); err != nil {
			return k, err
		}
		if name == "implement" {
			k.Implement = given
		}
	}
	if len(all) == 0 {
		return k, errors.New("no files came")
	}
	k.Tracks = all
	return k, nil
}

// partName is the name of a file with its folders, which the library cuts off.
func partName(part *multipart.Part) string {
	_, params, err := mime.ParseMediaType(part.Header.Get("Content-Disposition"))
	if err != nil {
		return part.FileName()
	}
	return params["filename"]
}

// put writes one file below a folder.
func put(root *os.Root, name string, from io.Reader) (err error) {
	if dir := path.Dir(name); dir != "." {
		if err := root.MkdirAll(filepath.FromSlash(dir), 0o755); err != nil {
			return err
		}
	}
	f, err := root.OpenFile(filepath.FromSlash(name), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, os.ErrExist) {
		return fmt.Errorf("%s: two files of that name came", geo.Shown(name))
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	_, err = io.Copy(f, from)
	return err
}

// flag takes a flag of the call.
func (k *kept) flag(name, value string) error {
	if len(value) > mostFlag || strings.HasPrefix(value, "--") {
		return fmt.Errorf("--%s %.20q: no value", name, value)
	}
	if !slices.Contains(supposable, name) {
		return fmt.Errorf("%s: no flag that the page may set", geo.Shown(name))
	}
	if value != "" {
		k.Flags = suppose(k.Flags, name, value)
	}
	return nil
}

// sort tells files apart, which all stand among the tracks: the boundary, the description of the set, and the logs.
func (k *kept) sort(ctx context.Context, dir string) error {
	var boundaries, logs []string
	var call job.Call
	for _, name := range k.Tracks {
		file, end := filepath.Join(dir, name), strings.ToLower(path.Ext(name))
		switch {
		case name == k.Implement || slices.Contains(beside, end):
		case k.Implement == "" && (end == ".toml" || end == ".json" && isImplement(&call, file)):
			k.Implement = name
		case call.IsLog(ctx, file):
			logs = append(logs, name)
		default:
			boundaries = append(boundaries, name)
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	switch {
	case len(boundaries) == 0 && len(logs) == 0:
		return errors.New("neither a boundary nor a log is among the files")
	case len(boundaries) == 0:
		return errors.New("no boundary is among the files: put it on the page together with the log")
	case len(logs) == 0 && len(boundaries) == 1: // task data holds both
		logs = boundaries
	case len(logs) == 0:
		return errors.New("no log is among the files: put it on the page together with the boundary")
	case len(boundaries) > 1:
		return fmt.Errorf("more than one file may be the boundary: %s", geo.Shown(strings.Join(boundaries, ", ")))
	}
	k.Boundary, k.Tracks = boundaries[0], logs
	return nil
}

func isImplement(call *job.Call, file string) bool {
	im, err := call.Implement(file)
	return err == nil && im.Width > 0
}
