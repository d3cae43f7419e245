package web

import (
	"bytes"
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

	"balk/cmd/internal/folder"
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
	return folder.Replace(path, append(text, '\n'), 0o644)
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
		if !properName(given) {
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

// sort tells files apart, which all stand among the tracks: the boundary, the description of the set, the logs, and the log of a weather station. Whatever is none of
// these is left out, and so are other formats of a boundary or log that has the same name. Zips of several things are unpacked before.
func (k *kept) sort(ctx context.Context, dir string) error {
	all, err := unpackedAll(ctx, dir, k.Tracks)
	if err != nil {
		return err
	}
	slices.Sort(all)
	var sets, fields, logs, stations, others []string
	var call job.Call
	if k.Implement != "" {
		sets = []string{k.Implement}
	}
	for _, name := range all {
		file, end := filepath.Join(dir, filepath.FromSlash(name)), strings.ToLower(path.Ext(name))
		switch {
		case name == k.Implement || slices.Contains(beside, end):
		case end == ".toml" || end == ".json" && isImplement(&call, file):
			if k.Implement == "" {
				sets = append(sets, name)
			}
		default:
			plain, err := plainPoints(file)
			if err != nil {
				return err
			}
			if plain {
				logs = append(logs, name)
				continue
			}
			switch is, log := call.Holds(ctx, file); {
			case !is && call.IsWeather(ctx, file): // a table, which any log may be too, with rain and temperature in it
				stations = append(stations, name)
			case log:
				logs = append(logs, name)
			case is:
				fields = append(fields, name)
			default:
				others = append(others, name)
			}
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	fields, logs, others = oncePerName(fields), oncePerName(logs), oncePerName(others)
	if len(fields) == 0 { // reading it says what is wrong with it
		fields = others
	}
	switch {
	case len(fields) == 0 && len(logs) == 0:
		return errors.New("neither a boundary nor a log is among the files")
	case len(fields) == 0:
		return errors.New("no boundary is among the files: put it on the page together with the log")
	case len(logs) == 0 && len(fields) == 1: // task data holds both
		logs = fields
	case len(logs) == 0:
		return errors.New("no log is among the files: put it on the page together with the boundary")
	case len(fields) > 1:
		return fmt.Errorf("more than one file may be the boundary: %s", geo.Shown(strings.Join(fields, ", ")))
	case len(sets) > 1:
		return fmt.Errorf("more than one file describes a set: %s: leave out all but that which drove", geo.Shown(strings.Join(sets, ", ")))
	case len(stations) > 1:
		return fmt.Errorf("more than one file is the log of a weather station: %s: leave out all but the nearest", geo.Shown(strings.Join(stations, ", ")))
	}
	if len(sets) == 1 {
		k.Implement = sets[0]
	}
	if len(stations) == 1 {
		k.Weather = stations[0]
	}
	k.Boundary, k.Tracks = fields[0], logs
	return nil
}

// plainPoints says whether a file is GeoJSON with points and no polygon in it: then it is a log, which is known without reading it as a
// boundary first, which would take as long as reading it does. Other files, and what balk wrote itself, are looked at more closely.
func plainPoints(file string) (yes bool, err error) {
	f, err := os.Open(file)
	if err != nil {
		return false, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	head := make([]byte, 1<<12)
	n, err := io.ReadFull(f, head)
	head = bytes.TrimLeft(head[:n], " \t\r\n")
	if err != nil || head[0] != '{' || !bytes.Contains(head, []byte(`"Point"`)) { // a file that is as short as that is read in no time
		return false, nil
	}
	rest, err := io.ReadAll(f)
	if err != nil {
		return false, err
	}
	for _, other := range []string{"olygon", `"balk"`, `\u`} {
		if bytes.Contains(head, []byte(other)) || bytes.Contains(rest, []byte(other)) {
			return false, nil
		}
	}
	return true, nil
}

// oncePerName are names without those that differ from one before only in their end.
func oncePerName(names []string) []string {
	var out []string
	seen := map[string]bool{}
	for _, name := range names {
		stem := strings.TrimSuffix(name, path.Ext(name))
		if !seen[stem] {
			seen[stem] = true
			out = append(out, name)
		}
	}
	return out
}

func isImplement(call *job.Call, file string) bool {
	im, err := call.Implement(file)
	return err == nil && im.Width > 0
}
