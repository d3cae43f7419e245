package batch

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"balk/geo"
)

// List is the Source of the logs that a file names.
type List struct {
	OnDisk
	logs []Log
}

// Logs are those of the list, by name.
func (l List) Logs(ctx context.Context) iter.Seq2[Log, error] {
	return func(yield func(Log, error) bool) {
		for _, one := range l.logs {
			if !yield(one, ctx.Err()) {
				return
			}
		}
	}
}

// listed are the names of the columns of a list, and of the members of its JSON lines.
var listed = []string{"log", "set", "field", "driver", "machine", "farm"}

// firstLine is where the first line of a list ends at the latest, bytes.
const firstLine = 1 << 16

// readList reads a list of logs: a table whose first line names "log" and no other columns than listed, or a JSON object with such members
// in each line. is: the file is one; else it may be a log itself. Paths in it are from its folder.
func readList(path string, info fs.FileInfo) (l List, is bool, err error) {
	if !info.Mode().IsRegular() {
		return List{}, false, nil
	}
	file, err := os.Open(path)
	if err != nil {
		return List{}, false, fmt.Errorf("%s: %w", path, plainly(err))
	}
	defer file.Close()
	head := make([]byte, firstLine)
	n, err := io.ReadFull(file, head)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		return List{}, false, fmt.Errorf("%s: %w", path, plainly(err))
	}
	head = bytes.TrimPrefix(head[:n], []byte("\xef\xbb\xbf"))
	first, _, _ := bytes.Cut(bytes.TrimLeft(head, " \t\r\n"), []byte("\n"))
	rest := func() ([]byte, error) {
		more, err := io.ReadAll(file)
		return append(head, more...), err
	}
	var rows []map[string]string
	var lines []int
	switch {
	case bytes.HasPrefix(first, []byte("{")):
		var one map[string]any
		if json.Unmarshal(first, &one) != nil || one["log"] == nil {
			return List{}, false, nil
		}
		var text []byte
		if text, err = rest(); err == nil {
			rows, lines, err = listLines(text)
		}
	default:
		if !slices.Contains(headOf(first), "log") {
			return List{}, false, nil
		}
		var text []byte
		if text, err = rest(); err == nil {
			rows, lines, err = table(text, listed)
		}
	}
	if err != nil {
		return List{}, true, fmt.Errorf("%s: %w", path, err)
	}
	for i, row := range rows {
		if row["log"] == "" {
			return List{}, true, fmt.Errorf("%s, line %d: names no log", path, lines[i])
		}
		at := func(name string) string {
			if name == "" || filepath.IsAbs(name) {
				return name
			}
			return filepath.Join(filepath.Dir(path), filepath.FromSlash(name))
		}
		l.logs = append(l.logs, Log{Name: filepath.ToSlash(row["log"]), Path: at(row["log"]), Listed: true, Set: at(row["set"]), Field: row["field"], Driver: row["driver"], Machine: row["machine"], Farm: row["farm"]})
	}
	slices.SortStableFunc(l.logs, func(a, b Log) int { return strings.Compare(a.Name, b.Name) })
	for i := 1; i < len(l.logs); i++ {
		if l.logs[i].Name == l.logs[i-1].Name {
			return List{}, true, fmt.Errorf("%s: names the log %s twice", path, geo.Shown(l.logs[i].Name))
		}
	}
	return l, true, nil
}

// headOf are the names in the first line of a table.
func headOf(line []byte) []string {
	names, err := tableReader(line).Read()
	if err != nil {
		return nil
	}
	for i := range names {
		names[i] = strings.ToLower(strings.TrimSpace(names[i]))
	}
	return names
}

// tableReader reads a table with the separator that is in its first line: semicolon, tab or comma.
func tableReader(text []byte) *csv.Reader {
	first, _, _ := bytes.Cut(text, []byte("\n"))
	r := csv.NewReader(bytes.NewReader(text))
	for _, s := range ";\t" {
		if bytes.ContainsRune(first, s) {
			r.Comma = s
			break
		}
	}
	return r
}

// table reads rows of named columns, none but those known.
func table(text []byte, known []string) (rows []map[string]string, lines []int, err error) {
	r := tableReader(text)
	names, err := r.Read()
	if err != nil {
		return nil, nil, err
	}
	for i, name := range names {
		name = strings.ToLower(strings.TrimSpace(name))
		if names[i] = name; !slices.Contains(known, name) {
			return nil, nil, fmt.Errorf("line 1, column %d: no such column is known: %q: must be one of %s", i+1, name, strings.Join(known, ", "))
		}
		if slices.Contains(names[:i], name) {
			return nil, nil, fmt.Errorf("line 1, column %d: %s stands there twice", i+1, name)
		}
	}
	for {
		values, err := r.Read()
		if errors.Is(err, io.EOF) {
			return rows, lines, nil
		}
		line, _ := r.FieldPos(0)
		if fault, ok := errors.AsType[*csv.ParseError](err); ok {
			return nil, nil, fmt.Errorf("line %d: %w", fault.Line, fault.Err)
		}
		if err != nil {
			return nil, nil, err
		}
		row := map[string]string{}
		for i, v := range values {
			row[names[i]] = strings.TrimSpace(v)
		}
		rows, lines = append(rows, row), append(lines, line)
	}
}

// listLines reads a JSON object in each line, with texts as members.
func listLines(text []byte) (rows []map[string]string, lines []int, err error) {
	n := 0
	for line := range bytes.Lines(text) {
		if n++; len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		var row map[string]string
		if err := json.Unmarshal(line, &row); err != nil {
			return nil, nil, fmt.Errorf("line %d: must be an object whose members are texts", n)
		}
		for name := range row {
			if !slices.Contains(listed, name) {
				return nil, nil, fmt.Errorf("line %d: no such member is known: %q: must be one of %s", n, name, strings.Join(listed, ", "))
			}
		}
		rows, lines = append(rows, row), append(lines, n)
	}
	return rows, lines, nil
}
