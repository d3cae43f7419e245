// Package check holds what tests compare with and that does not come from this
// project: small tables of check values, which every clone has, and the way to larger
// data kept outside the repository. Only tests import it.
//
// In: the name of a table below this folder. Out: its rows by the names in its head.
// Sources and licences stand in testdata/README.md and in the tables' own heads.
package check

import (
	"embed"
	"encoding/csv"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

//go:embed chance coverage geodesy nmea season turning
var tables embed.FS

// Text is a file of check values as it stands.
func Text(t testing.TB, name string) string {
	t.Helper()
	b, err := tables.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// Row is one row of a table, by the names in its head.
type Row struct {
	t     testing.TB
	table string
	line  int
	cells map[string]string
}

// Rows are the rows of a comma-separated table; lines that begin with '#' are remarks.
// A cell that a row lacks is empty.
func Rows(t testing.TB, name string) []Row {
	t.Helper()
	r := csv.NewReader(strings.NewReader(Text(t, name)))
	r.Comment, r.FieldsPerRecord = '#', -1
	lines, err := r.ReadAll()
	if err != nil || len(lines) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(lines), err)
	}
	rows := make([]Row, len(lines)-1)
	for i, line := range lines[1:] {
		rows[i] = Row{t, name, i + 1, map[string]string{}}
		for k, head := range lines[0] {
			if k < len(line) {
				rows[i].cells[head] = line[k]
			}
		}
	}
	return rows
}

// Text is the cell of a column. A column that the head does not name fails the test.
func (r Row) Text(column string) string {
	r.t.Helper()
	s, ok := r.cells[column]
	if !ok {
		r.t.Fatalf("%s, row %d: no column %q", r.table, r.line, column)
	}
	return s
}

// Number is the cell of a column as a number.
func (r Row) Number(column string) float64 {
	r.t.Helper()
	v, err := strconv.ParseFloat(r.Text(column), 64)
	if err != nil {
		r.t.Fatalf("%s, row %d, column %q: %v", r.table, r.line, column, err)
	}
	return v
}

// Shared is a path below the folder of data that is kept outside the repository, named
// by BALK_SHARED. Without it the test is skipped, and says so.
func Shared(t testing.TB, path ...string) string {
	t.Helper()
	dir := os.Getenv("BALK_SHARED")
	if dir == "" {
		Skip(t, "BALK_SHARED is not set")
	}
	return filepath.Join(append([]string{dir}, path...)...)
}

// Skip skips a test for want of something that is not part of the repository. The
// reason is also added to the file named by BALK_SKIPPED, if one is, so that whoever
// runs all tests can say at the end what was left out.
func Skip(t testing.TB, reason string) {
	t.Helper()
	if name := os.Getenv("BALK_SKIPPED"); name != "" {
		f, err := os.OpenFile(name, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
		if err == nil {
			_, err = f.WriteString(reason + ": " + t.Name() + "\n")
			err = errors.Join(err, f.Close())
		}
		if err != nil {
			t.Error(err)
		}
	}
	t.Skip("skipped: " + reason)
}
