package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"time"

	"balk/coverage"

	"github.com/tdewolff/canvas/renderers/pdf"
)

// PDF writes the sheet to print. It fails, and writes nothing, where Pages fails.
// The same result and page give the same bytes: the file's date is that of the
// operation, or missing if no time was logged.
func PDF(w io.Writer, r coverage.Result, p Page) error {
	leaves, err := Pages(r, p)
	if err != nil {
		return err
	}
	b, err := bind(leaves, heading(r))
	if err != nil {
		return err
	}
	var when time.Time
	if n := len(r.Passes); n > 0 {
		when = r.Passes[n-1].To
	}
	if b, err = dated(b, when); err != nil {
		return err
	}
	_, err = w.Write(b)
	return err
}

// bind puts the leaves into one file. A font that cannot be cut down to the letters
// used is an error.
func bind(leaves []*Leaf, title string) (b []byte, err error) {
	defer func() {
		if p := recover(); p != nil {
			b, err = nil, fmt.Errorf("writing the PDF: %v", p)
		}
	}()
	var out bytes.Buffer
	opts := pdf.DefaultOptions
	doc := pdf.New(&out, leaves[0].Width, leaves[0].Height, &opts)
	doc.SetInfo(title, "", "", "", "balk")
	for i, l := range leaves {
		if i > 0 {
			doc.NewPage(l.Width, l.Height)
		}
		l.canvas.RenderTo(doc)
	}
	err = doc.Close()
	return out.Bytes(), err
}

// dated sets the date of a PDF, which the library takes from the machine's clock
// and zone, and moves the places of what stands behind it in the table of contents
// (ISO 32000-1, 7.5.4: xref) accordingly. A zero time leaves no date.
func dated(b []byte, when time.Time) ([]byte, error) {
	const key = "/CreationDate("
	from := bytes.LastIndex(b, []byte(key))
	table := bytes.LastIndex(b, []byte("\nxref\n")) + 1
	if from < 0 || table <= from {
		return nil, errors.New("the PDF has no date to set, or no table of contents")
	}
	to := from + bytes.IndexByte(b[from:], ')') + 1
	date := ""
	if !when.IsZero() {
		date = key + when.UTC().Format("D:20060102150405Z") + ")"
	}
	moved := len(date) - (to - from)
	out := append(bytes.Clone(b[:from]), date...)
	out = append(out, b[to:table]...)
	for _, line := range bytes.SplitAfter(b[table:], []byte("\n")) {
		digits := line[:min(10, len(line))]
		if len(line) == 20 && bytes.HasSuffix(line, []byte(" n \n")) {
			at, err := strconv.Atoi(string(digits))
			if err != nil {
				return nil, fmt.Errorf("table of contents of the PDF: %w", err)
			}
			if at > from {
				at += moved
			}
			line = fmt.Appendf(nil, "%010d%s", at, line[10:])
		} else if string(bytes.TrimSpace(line)) == strconv.Itoa(table) {
			line = fmt.Appendf(nil, "%d\n", table+moved)
		}
		out = append(out, line...)
	}
	return out, nil
}
