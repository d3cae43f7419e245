package paper

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"balk/geo"

	"github.com/paulmach/orb"
	"github.com/tdewolff/canvas"
	"github.com/tdewolff/canvas/renderers/svg"
)

// SVG writes the page as SVG, with its title and language. Letters of the sheet's own fonts are text that can be searched
// and read out; where a reader lacks these fonts, its own are stretched to the lengths measured here, so that all stays in its place.
// Letters of other fonts are outlines.
func (l *Leaf) SVG(w io.Writer) error {
	var body bytes.Buffer
	opts := svg.DefaultOptions
	opts.EmbedFonts = false
	s := svg.New(&body, l.Width, l.Height, &opts)
	l.canvas.RenderTo(&readable{SVG: s, body: &body, letters: l.letters})
	if err := s.Close(); err != nil {
		return err
	}
	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" width="%gmm" height="%gmm" viewBox="0 0 %g %g" role="img" lang="%[5]s" xml:lang="%[5]s" font-family="%s">`,
		l.Width, l.Height, l.Width, l.Height, l.Language, families)
	fmt.Fprintf(&out, "<title>%s</title>\n", escape(l.Title))
	_, drawn, _ := bytes.Cut(body.Bytes(), []byte(">")) // its own head
	out.Write(drawn)
	_, err := w.Write(out.Bytes())
	return err
}

// families are fonts that letters of the sheet's own are shown in, the narrow ones first: a reader that knows no textLength
// keeps them in their room.
const families = "DejaVu Sans Condensed, Liberation Sans, Arial, Helvetica, DejaVu Sans, sans-serif"

// placed is a piece of a line of text as it was set.
type placed struct {
	piece
	with  Lettering
	at    orb.Point // of the line
	shift float64   // mm, from there to the line's left end
	whole bool      // it is the whole line
}

// readable writes letters as text.
type readable struct {
	*svg.SVG
	body    *bytes.Buffer
	letters []placed // in the order drawn
}

func (r *readable) RenderText(t *canvas.Text, m canvas.Matrix) {
	p := r.letters[0]
	r.letters = r.letters[1:]
	if !p.own {
		t.RenderAsPath(r.SVG, m, canvas.DPI(300))
		return
	}
	x, anchor := p.at[0]+p.shift+p.x, ""
	if p.whole && p.with.Align != alignLeft {
		// Where the letters get another length after all, the aligned end stays.
		x, anchor = p.at[0], map[align]string{Centre: ` text-anchor="middle"`, Right: ` text-anchor="end"`}[p.with.Align]
	}
	const mm = 25.4 / 72 // a point
	fmt.Fprintf(r.body, `<text x="%.2f" y="%.2f" font-size="%.2f" textLength="%.2f" lengthAdjust="spacingAndGlyphs" fill="%s"%s`, x, p.at[1], p.with.Size*mm, p.width, p.with.colour(), anchor)
	if p.with.Bold {
		r.body.WriteString(` font-weight="bold"`)
	}
	if p.with.Turn != 0 {
		fmt.Fprintf(r.body, ` transform="rotate(%g %.2f %.2f)"`, -p.with.Turn, p.at[0], p.at[1])
	}
	fmt.Fprintf(r.body, ">%s</text>\n", escape(p.text.Text))
}

// escape is text as XML holds it.
func escape(s string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(geo.Shown(s))); err != nil {
		return "" // a strings.Builder does not fail
	}
	return b.String()
}
