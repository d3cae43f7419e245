package vector

import (
	"bufio"
	"bytes"
	"io"
)

// CSV says how a table is written. The zero value is RFC 4180 with decimal
// points.
type CSV struct {
	BOM          bool // begin with a byte order mark, by which some spreadsheets know UTF-8
	DecimalComma bool // decimal commas, and semicolons between cells
}

// WriteCSV writes the rows of a layer as a table (RFC 4180, UTF-8) for a
// spreadsheet, names of the properties in the first line. Geometry is left out:
// the layers of strips have their place in the columns lon and lat.
//
// A text that a spreadsheet would take for a formula, one that begins with = + -
// @ tab or carriage return, gets an apostrophe in front; so does one that begins
// with apostrophes and then one of these, so that taking one apostrophe off
// always gives the text back. Numbers stay numbers.
func WriteCSV(w io.Writer, l Layer, o CSV) error {
	if err := l.check(); err != nil {
		return err
	}
	t := table{w: bufio.NewWriterSize(w, 1<<16), separator: ','}
	if o.BOM {
		t.buf = append(t.buf, "\uFEFF"...)
	}
	if o.DecimalComma {
		t.separator = ';'
	}
	t.head(l)
	if err := t.end(); err != nil {
		return err
	}
	for _, f := range l.Features {
		for i, v := range f.Row {
			cell := t.guarded(l.Columns[i], v)
			if o.DecimalComma && l.Columns[i].Holds == Number {
				cell = bytes.Replace(cell, []byte{'.'}, []byte{','}, 1)
			}
			t.put(i, cell)
		}
		if err := t.end(); err != nil {
			return err
		}
	}
	return t.w.Flush()
}

// isFormula says whether a spreadsheet would take a text for a formula, once the
// apostrophes before it are off.
func isFormula(cell []byte) bool {
	cell = bytes.TrimLeft(cell, "'")
	return len(cell) > 0 && bytes.IndexByte([]byte("=+-@\t\r"), cell[0]) >= 0
}

// table writes lines of cells.
type table struct {
	w         *bufio.Writer
	separator byte
	buf       []byte // of the line under way
	cell      []byte
}

func (t *table) head(l Layer) {
	for i, c := range l.Columns {
		t.put(i, []byte(c.Name))
	}
}

// guarded is the text of a value, no formula to a spreadsheet; see WriteCSV.
func (t *table) guarded(c Property, v any) []byte {
	cell := c.appendText(t.cell[:0], v)
	if c.Holds == Words && isFormula(cell) {
		cell = append([]byte{'\''}, cell...)
	}
	return cell
}

// put adds cell i of a line, in quotes if it has a separator, a quote, a line
// break, or blanks at an end.
func (t *table) put(i int, cell []byte) {
	t.cell = cell
	if i > 0 {
		t.buf = append(t.buf, t.separator)
	}
	if !bytes.ContainsAny(cell, "\"\r\n") && bytes.IndexByte(cell, t.separator) < 0 && len(bytes.TrimSpace(cell)) == len(cell) {
		t.buf = append(t.buf, cell...)
		return
	}
	t.buf = append(t.buf, '"')
	t.buf = append(t.buf, bytes.ReplaceAll(cell, []byte{'"'}, []byte(`""`))...)
	t.buf = append(t.buf, '"')
}

// end writes the line. One empty cell is written with quotes, for an empty line
// is no row to many readers.
func (t *table) end() error {
	if len(t.buf) == 0 {
		t.buf = append(t.buf, `""`...)
	}
	t.buf = append(t.buf, "\r\n"...)
	_, err := t.w.Write(t.buf)
	t.buf = t.buf[:0]
	return err
}
