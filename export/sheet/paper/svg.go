package paper

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"math"
	"strconv"
	"strings"

	"balk/geo"

	"github.com/go-text/typesetting/font/opentype"
	"github.com/paulmach/orb"
)

// families are fonts that letters of the sheet's own are shown in, the narrow ones first: a reader that knows no textLength
// keeps them in their room.
const families = "DejaVu Sans Condensed, Liberation Sans, Arial, Helvetica, DejaVu Sans, sans-serif"

// SVG writes the page as SVG, with its title and language. Letters of the sheet's own fonts are text that can be searched
// and read out; where a reader lacks these fonts, its own are stretched to the lengths measured here, so that all stays in its place.
// Letters of other fonts are outlines that name their words.
func (l *Leaf) SVG(w io.Writer) error {
	b := &svg{}
	width, height := number(l.Width), number(l.Height)
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %s %s" role="img"`, width, height, width, height)
	b.attribute("lang", l.Language)
	b.attribute("xml:lang", l.Language)
	b.attribute("font-family", families)
	b.WriteString(` stroke-linejoin="bevel">` + "\n")
	b.title(l.Title)
	if err := l.draw(b); err != nil {
		return err
	}
	b.WriteString("</svg>\n")
	_, err := w.Write(b.Bytes())
	return err
}

// svg is the back that writes SVG.
type svg struct {
	bytes.Buffer
	clips int
}

// attribute writes one that has a value.
func (b *svg) attribute(name, value string) {
	if value != "" {
		b.WriteString(" " + name + `="`)
		escape(b, value)
		b.WriteByte('"')
	}
}

func (b *svg) title(words string) {
	if words != "" {
		b.WriteString("<title>")
		escape(b, words)
		b.WriteString("</title>\n")
	}
}

// escape writes text out of files and calls as XML holds it.
func escape(b *svg, s string) {
	_ = xml.EscapeText(b, []byte(geo.Shown(s))) // a buffer does not fail
}

// paint writes the attributes of a colour for a fill or stroke.
func (b *svg) paint(of string, c color.NRGBA) {
	fmt.Fprintf(b, ` %s="#%02X%02X%02X"`, of, c.R, c.G, c.B)
	if c.A < 255 {
		fmt.Fprintf(b, ` %s-opacity="%s"`, of, number(float64(c.A)/255))
	}
}

func (b *svg) path(lines []orb.LineString) {
	b.WriteString(` d="`)
	d := b.AvailableBuffer()
	for _, line := range lines {
		n := len(line)
		closed := n > 2 && line[0] == line[n-1]
		if closed {
			n--
		}
		for i, p := range line[:n] {
			switch i {
			case 0:
				d = append(d, 'M')
			case 1:
				d = append(d, 'L')
			default:
				d = append(d, ' ')
			}
			d = appendNumber(append(appendNumber(d, p[0]), ' '), p[1])
		}
		if closed {
			d = append(d, 'Z')
		}
	}
	b.Write(append(d, '"'))
}

func (b *svg) fill(rings []orb.LineString, c color.NRGBA) {
	b.WriteString("<path")
	b.paint("fill", c)
	b.WriteString(` fill-rule="evenodd"`)
	b.path(rings)
	b.WriteString("/>\n")
}

func (b *svg) stroke(lines []orb.LineString, c color.NRGBA, p Pen) {
	b.WriteString(`<path fill="none"`)
	b.paint("stroke", c)
	b.attribute("stroke-width", number(p.Width))
	var dash []string
	for _, d := range p.Dash {
		dash = append(dash, number(d))
	}
	b.attribute("stroke-dasharray", strings.Join(dash, " "))
	if p.Round {
		b.WriteString(` stroke-linecap="round" stroke-linejoin="round"`)
	}
	b.path(lines)
	b.WriteString("/>\n")
}

// halo writes white around letters.
func (b *svg) halo(mm float64) {
	if mm > 0 {
		fmt.Fprintf(b, ` stroke="#FFFFFF" stroke-width="%s" stroke-linejoin="round" paint-order="stroke"`, number(2*mm))
	}
}

func (b *svg) letter(w words) {
	base := w.line[0].level
	own := true
	for _, p := range w.line {
		base, own = min(base, p.level), own && p.face.own != ""
	}
	if own {
		b.text(w, 0, w.width, w.how.Align, w.said, base%2 == 1)
		return
	}
	for _, p := range w.line {
		if p.face.own != "" {
			b.text(w, p.x, p.width*w.unit(p), Left, string(p.letters), p.right())
		} else if outline := w.outline(p); len(outline) > 0 {
			b.outline(w, p, outline)
		}
	}
}

// text writes letters of a line as text, which begins so far along it and has such a width: where a reader gives it another one after all,
// the end that is aligned stays. right is the direction in which it is read on the whole.
func (b *svg) text(w words, along, width float64, at align, letters string, right bool) {
	anchor := map[align]string{Centre: "middle", Right: "end"}[at]
	along += width * float64(at) / 2
	if right && at != Centre {
		anchor = map[align]string{Left: "end"}[at]
	}
	fmt.Fprintf(b, `<text x="%s" y="%s" font-size="%s" textLength="%s" lengthAdjust="spacingAndGlyphs" xml:space="preserve"`, number(w.at[0]+w.shift+along), number(w.at[1]), number(w.how.Size*point), number(width))
	if right {
		b.WriteString(` direction="rtl"`)
	}
	b.attribute("text-anchor", anchor)
	if w.how.Bold {
		b.WriteString(` font-weight="bold"`)
	}
	if w.how.Turn != 0 {
		fmt.Fprintf(b, ` transform="rotate(%s %s %s)"`, number(-w.how.Turn), number(w.at[0]), number(w.at[1]))
	}
	b.paint("fill", w.colour)
	b.halo(w.how.Halo)
	b.WriteByte('>')
	escape(b, letters)
	b.WriteString("</text>\n")
}

func (b *svg) outline(w words, p piece, outline []opentype.Segment) {
	b.WriteString("<path")
	b.paint("fill", w.colour)
	b.halo(w.how.Halo)
	b.attribute("aria-label", string(p.letters))
	b.WriteString(` d="`)
	d := b.AvailableBuffer()
	for i, s := range outline {
		if s.Op == opentype.SegmentOpMoveTo && i > 0 {
			d = append(d, 'Z')
		}
		d = append(d, "MLQC"[s.Op])
		for k, p := range s.ArgsSlice() {
			if k > 0 {
				d = append(d, ' ')
			}
			d = appendNumber(append(appendNumber(d, float64(p.X)), ' '), float64(p.Y))
		}
	}
	b.Write(append(d, `Z"/>`+"\n"...))
}

func (b *svg) begin(g Group) {
	b.WriteString("<g")
	for _, d := range g.Data {
		b.attribute("data-"+d[0], d[1])
	}
	if g.Title != "" {
		b.WriteString(` role="group"`)
		b.attribute("aria-label", g.Title)
	}
	if g.Clip != (Box{}) {
		b.clips++
		fmt.Fprintf(b, ` clip-path="url(#clip%d)"><clipPath id="clip%d"><path`, b.clips, b.clips)
		b.path(g.Clip.Path())
		b.WriteString("/></clipPath")
	}
	b.WriteString(">\n")
	b.title(g.Title)
}

func (b *svg) end(Group) { b.WriteString("</g>\n") }

func (b *svg) open(Part, string) {}
func (b *svg) close()            {}

// number writes a number with at most two decimals.
func number(v float64) string { return string(appendNumber(nil, v)) }

func appendNumber(b []byte, v float64) []byte {
	n := int64(math.Round(v * 100))
	if n < 0 {
		b, n = append(b, '-'), -n
	}
	b = strconv.AppendInt(b, n/100, 10)
	switch n %= 100; {
	case n == 0:
	case n%10 == 0:
		b = append(b, '.', byte('0'+n/10))
	default:
		b = append(b, '.', byte('0'+n/10), byte('0'+n%10))
	}
	return b
}
