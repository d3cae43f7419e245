package vector

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"balk/geo"

	"github.com/paulmach/orb"
)

// dbfColumn is a column of a .dbf: C text, N number, L yes or no.
type dbfColumn struct {
	name           string
	kind           byte
	size, decimals int
}

// Limits of a .dbf. Numbers longer than 20 characters and text longer than 254
// are not read by many programs (dBase III and IV, from memory).
const (
	maxDBFText    = 254
	maxDBFNumber  = 20
	maxDBFColumns = 255
	maxDBFRow     = 1<<15 - 1
	dbfName       = 10
)

// shapeFileOf lays out the shapefile of a layer: every column is as wide as its
// longest value. Text is cut to what a column takes, see ShapefileFindings.
func shapeFileOf(l Layer, date time.Time) (shapeFile, error) {
	if err := l.check(); err != nil {
		return shapeFile{}, err
	}
	f := shapeFile{kind: shapeOf[l.Kind], n: len(l.Features), date: date, shape: func(i int) orb.Geometry { return l.Features[i].Geometry }}
	names := shortNames(l.Columns)
	cell := make([]byte, 0, 64)
	for k, c := range l.Columns {
		d := dbfColumn{name: names[k], kind: 'C', size: 1}
		switch c.Holds {
		case Whole:
			d.kind = 'N'
		case Number:
			d.kind, d.decimals, d.size = 'N', c.Decimals, c.Decimals+2
		case Truth:
			d.kind = 'L'
		}
		d.size = max(d.size, c.Size)
		for i, feature := range l.Features {
			if cell = dbfText(c, feature.Row[k], cell[:0]); d.kind == 'N' && len(cell) > maxDBFNumber {
				return shapeFile{}, &LayerError{Layer: l.Name, Feature: i + 1, What: fmt.Sprintf("property %q takes %d characters: a number of a shapefile has at most %d", c.Name, len(cell), maxDBFNumber)}
			}
			d.size = max(d.size, len(cell))
		}
		f.columns = append(f.columns, d)
	}
	f.cell = func(i, k int, b []byte) []byte { return dbfText(l.Columns[k], l.Features[i].Row[k], b) }
	if err := f.check(); err != nil {
		return shapeFile{}, &LayerError{Layer: l.Name, What: err.Error()}
	}
	return f, nil
}

// dbfText is a value as it stands in a table, at most as long as a text may be.
func dbfText(c Property, v any, b []byte) []byte {
	switch v := v.(type) {
	case bool:
		if v {
			return append(b, 'T')
		}
		return append(b, 'F')
	case nil:
		if c.Holds == Truth {
			return append(b, '?')
		}
	}
	return c.cut(c.appendText(b, v), maxDBFText)
}

// cut is text of at most limit bytes. A list loses whole items at its end, and says
// how many: "4 5 … and 60 more". Other text loses letters and ends in "…".
func (p Property) cut(text []byte, limit int) []byte {
	if len(text) <= limit {
		return text
	}
	between := ""
	switch {
	case p.Holds == Wholes:
		between = " "
	case p.Listed:
		between = ", "
	}
	if between != "" {
		items := bytes.Count(text, []byte(between)) + 1
		room := text[:limit]
		for kept := bytes.Count(room, []byte(between)); kept > 0; kept-- {
			room = room[:bytes.LastIndex(room, []byte(between))]
			if tail := fmt.Sprintf(" … and %d more", items-kept); len(room)+len(tail) <= limit {
				return append(room, tail...)
			}
		}
	}
	const dots = "…"
	n := limit - len(dots)
	for n > 0 && !utf8.RuneStart(text[n]) {
		n--
	}
	return append(text[:n], dots...)
}

// ShapefileFindings says which texts of layers are cut in shapefiles, a finding per
// property with its first record, or why there can be none of them. file is the name for
// messages.
func ShapefileFindings(file string, layers []Layer) ([]geo.Finding, error) {
	var findings []geo.Finding
	var cell []byte
	for _, l := range layers {
		if _, err := shapeFileOf(l, time.Time{}); err != nil {
			return nil, err
		}
		for k, c := range l.Columns {
			if c.Holds != Words && c.Holds != Wholes {
				continue
			}
			first, n := 0, 0
			for i, f := range l.Features {
				if cell = c.appendText(cell[:0], f.Row[k]); len(cell) <= maxDBFText {
					continue
				}
				if n++; n == 1 {
					first = i + 1
				}
			}
			if n > 0 {
				findings = append(findings, geo.Finding{File: file, Record: first, What: fmt.Sprintf("layer %s, %s: longer than the %d bytes of a shapefile in %d of %d records (first: here), cut there; whole in the other formats", l.Name, c.title(), maxDBFText, n, len(l.Features))})
			}
		}
	}
	return findings, nil
}

// checkTable holds the layout of the table to its limits.
func (f shapeFile) checkTable() error {
	if y := f.date.UTC().Year(); !f.date.IsZero() && (y < 1900 || y > 2155) {
		return fmt.Errorf("a table dated in the year %d: 1900 to 2155 are wanted", y)
	}
	if len(f.columns) > maxDBFColumns {
		return fmt.Errorf("%d columns: a table has at most %d", len(f.columns), maxDBFColumns)
	}
	seen := map[string]bool{}
	for _, c := range f.columns {
		switch {
		case c.name == "" || len(c.name) > dbfName:
			return fmt.Errorf("column name %q: 1 to %d bytes are wanted", c.name, dbfName)
		case seen[strings.ToUpper(c.name)]:
			return fmt.Errorf("two columns are called %q but for upper and lower case", c.name)
		case c.size < 1 || c.size > maxDBFText || c.decimals > c.size:
			return fmt.Errorf("column %q: %d characters with %d decimals, 1 to %d characters are wanted", c.name, c.size, c.decimals, maxDBFText)
		}
		seen[strings.ToUpper(c.name)] = true
	}
	if n := f.rowBytes(); n > maxDBFRow {
		return fmt.Errorf("rows of %d bytes: a table has at most %d", n, maxDBFRow)
	}
	return nil
}

func (f shapeFile) rowBytes() int {
	n := 1 // the mark of deleted rows
	for _, c := range f.columns {
		n += c.size
	}
	return n
}

func (f shapeFile) tableBytes() int64 {
	return int64(33+32*len(f.columns)) + int64(f.n)*int64(f.rowBytes()) + 1
}

// table writes the .dbf (dBase III, from memory; as read back in the tests by
// two readers).
func (f shapeFile) table(w io.Writer) error {
	out := bufio.NewWriterSize(w, 1<<16)
	head := []byte{3, 0, 0, 0} // no date
	if d := f.date.UTC(); !d.IsZero() {
		head = []byte{3, byte(d.Year() - 1900), byte(d.Month()), byte(d.Day())}
	}
	head = little.AppendUint32(head, uint32(f.n))
	head = little.AppendUint16(head, uint16(33+32*len(f.columns)))
	head = little.AppendUint16(head, uint16(f.rowBytes()))
	head = append(head, make([]byte, 20)...)
	for _, c := range f.columns {
		at := len(head)
		head = append(head, make([]byte, 32)...)
		copy(head[at:at+dbfName], c.name)
		head[at+11], head[at+16], head[at+17] = c.kind, byte(c.size), byte(c.decimals)
	}
	if _, err := out.Write(append(head, '\r')); err != nil {
		return err
	}
	var row, cell []byte
	for i := range f.n {
		row = append(row[:0], ' ')
		for k, c := range f.columns {
			cell = f.cell(i, k, cell[:0])
			blanks := c.size - len(cell) // the column is as wide as its longest cell
			if c.kind == 'N' {           // numbers stand at the right
				row, blanks = append(row, strings.Repeat(" ", blanks)...), 0
			}
			row = append(append(row, cell...), strings.Repeat(" ", blanks)...)
		}
		if _, err := out.Write(row); err != nil {
			return err
		}
	}
	if err := out.WriteByte(0x1A); err != nil {
		return err
	}
	return out.Flush()
}

// shortNames are the names of columns in a shapefile, at most 10 characters and
// different from each other:
//
//  1. Short where it is given, else Name.
//  2. What is longer than 10 is cut to 10.
//  3. What an earlier column has already loses characters at its end for "_2",
//     "_3" ..., until it is a name of its own.
func shortNames(columns []Property) []string {
	taken := map[string]bool{}
	names := make([]string, len(columns))
	for i, c := range columns {
		name := c.Short
		if name == "" {
			name = c.Name
		}
		name = name[:min(len(name), dbfName)]
		unique := name
		for n := 2; taken[unique]; n++ {
			tail := "_" + strconv.Itoa(n)
			unique = name[:min(len(name), dbfName-len(tail))] + tail
		}
		taken[unique] = true
		names[i] = unique
	}
	return names
}

// WriteLegend writes what the short names of shapefiles mean, layer by layer: a
// line per property with its short name, its whole name and its title and unit.
func WriteLegend(w io.Writer, layers []Layer) error {
	if err := checkAll(layers); err != nil {
		return err
	}
	out := bufio.NewWriter(w)
	line := func(format string, args ...any) { _, _ = fmt.Fprintf(out, format+"\r\n", args...) } // errors stick to out
	for i, l := range layers {
		if i > 0 {
			line("")
		}
		line("%s: %s", l.Name, l.title())
		if about := l.aboutIt(); about != "" {
			line("  %s", about)
		}
		for k, name := range shortNames(l.Columns) {
			c := l.Columns[k]
			text := c.title()
			if c.Unit != "" {
				text += ", " + c.Unit
			}
			line("  %-10s  %s  %s", name, c.Name, text)
		}
	}
	return out.Flush()
}
