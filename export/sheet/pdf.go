package sheet

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"balk/coverage"
	"balk/geo"

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
	b, err := bind(leaves, heading(r, p.Language))
	if err != nil {
		return err
	}
	var when time.Time
	if n := len(r.Passes); n > 0 {
		when = r.Passes[n-1].To
	}
	if b, err = timeless(b, when); err != nil {
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
	doc.SetInfo(geo.Shown(title), "", "", "", "balk")
	for i, l := range leaves {
		if i > 0 {
			doc.NewPage(l.Width, l.Height)
		}
		l.canvas.RenderTo(doc)
	}
	err = doc.Close()
	return out.Bytes(), err
}
