package paper

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"balk/geo"

	"github.com/tdewolff/canvas/renderers/pdf"
)

// PDF writes the leaves as one file, with the title and date given; without a date if that is zero. The
// same leaves give the same bytes.
func PDF(w io.Writer, leaves []*Leaf, title string, when time.Time) error {
	b, err := bind(leaves, title)
	if err != nil {
		return err
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
