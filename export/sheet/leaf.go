package sheet

import (
	"errors"
	"fmt"
	"image/png"
	"io"
	"math"

	"github.com/paulmach/orb"
	"github.com/tdewolff/canvas"
	"github.com/tdewolff/canvas/renderers/rasterizer"
	"github.com/tdewolff/canvas/renderers/svg"
)

// Leaf is one page of a sheet, drawn once for all forms. Places on it are in
// millimetres from its upper left corner.
type Leaf struct {
	Width, Height float64 // mm
	canvas        *canvas.Canvas
	fonts         *fonts
}

func newLeaf(w, h float64, f *fonts) *Leaf {
	l := &Leaf{Width: w, Height: h, canvas: canvas.New(w, h), fonts: f}
	l.fill(rect{0, 0, w, h}.path(), "#FFFFFF")
	return l
}

// outlined draws letters as outlines: the same picture whatever fonts a reader has.
type outlined struct{ *svg.SVG }

func (o outlined) RenderText(t *canvas.Text, m canvas.Matrix) {
	t.RenderAsPath(o.SVG, m, canvas.DPI(300))
}

// SVG writes the page as SVG, with its letters as outlines.
func (l *Leaf) SVG(w io.Writer) error {
	opts := svg.DefaultOptions
	opts.EmbedFonts = false
	checked := &writer{w: w}
	s := svg.New(checked, l.Width, l.Height, &opts)
	l.canvas.RenderTo(outlined{s})
	return errors.Join(s.Close(), checked.err)
}

// writer keeps the first error of a writer for those that do not look.
type writer struct {
	w   io.Writer
	err error
}

func (w *writer) Write(b []byte) (int, error) {
	if w.err != nil {
		return 0, w.err
	}
	n, err := w.w.Write(b)
	w.err = err
	return n, err
}

// Resolutions of a picture in dots per inch: below, letters are lost; above, an A3
// page takes more than 1 GiB.
const leastDPI, mostDPI = 30, 1200

// PNG writes the page as a picture.
func (l *Leaf) PNG(w io.Writer, dpi float64) error {
	if !(dpi >= leastDPI && dpi <= mostDPI) {
		return fmt.Errorf("resolution %g dpi: must be from %d to %d", dpi, leastDPI, mostDPI)
	}
	dots := canvas.DPI(dpi)
	r := rasterizer.New(l.Width, l.Height, dots, canvas.DefaultColorSpace)
	l.canvas.RenderTo(inked{r, dots})
	r.Close()
	return png.Encode(w, r.Image)
}

// rect is an upright box on the page.
type rect struct{ x, y, w, h float64 }

func (r rect) bound() orb.Bound {
	return orb.Bound{Min: orb.Point{r.x, r.y}, Max: orb.Point{r.x + r.w, r.y + r.h}}
}

// inset is r with so many mm taken off each side.
func (r rect) inset(d float64) rect { return rect{r.x + d, r.y + d, r.w - 2*d, r.h - 2*d} }

func (r rect) meets(q rect) bool {
	return r.x < q.x+q.w && q.x < r.x+r.w && r.y < q.y+q.h && q.y < r.y+r.h
}

func (r rect) within(q rect) bool {
	return r.x >= q.x && r.y >= q.y && r.x+r.w <= q.x+q.w && r.y+r.h <= q.y+q.h
}

func (r rect) path() []orb.LineString {
	return []orb.LineString{{{r.x, r.y}, {r.x + r.w, r.y}, {r.x + r.w, r.y + r.h}, {r.x, r.y + r.h}, {r.x, r.y}}}
}

// pen is how a line is drawn.
type pen struct {
	colour string
	width  float64 // mm
	dash   []float64
	round  bool // ends
}

// path joins lines; one that ends where it begins is closed. Places are rounded
// to a hundredth of a millimetre, which no printer shows.
func (l *Leaf) path(lines []orb.LineString) *canvas.Path {
	p := &canvas.Path{}
	hundredth := func(v float64) float64 { return math.Round(v*100) / 100 }
	for _, line := range lines {
		n := len(line)
		if n < 2 {
			continue
		}
		closed := n > 3 && line[0] == line[n-1]
		if closed {
			n--
		}
		var last orb.Point
		for i, q := range line[:n] {
			at := orb.Point{hundredth(q[0]), hundredth(l.Height - q[1])}
			if i == 0 {
				p.MoveTo(at[0], at[1])
			} else if at != last {
				p.LineTo(at[0], at[1])
			}
			last = at
		}
		if closed {
			p.Close()
		}
	}
	return p
}

// fill fills rings (even-odd; PNG counts windings, so there holes must go the other way
// round than what they are in).
func (l *Leaf) fill(lines []orb.LineString, colour string) {
	if p := l.path(lines); !p.Empty() {
		style := canvas.DefaultStyle
		style.Fill = canvas.Paint{Color: canvas.Hex(colour)}
		style.FillRule = canvas.EvenOdd
		l.canvas.RenderPath(p, style, canvas.Identity)
	}
}

func (l *Leaf) stroke(lines []orb.LineString, with pen) {
	if p := l.path(lines); !p.Empty() {
		style := canvas.DefaultStyle
		style.Fill = canvas.Paint{}
		style.Stroke = canvas.Paint{Color: canvas.Hex(with.colour)}
		style.StrokeWidth = with.width
		style.StrokeJoiner = canvas.BevelJoin
		if with.round {
			style.StrokeCapper, style.StrokeJoiner = canvas.RoundCap, canvas.RoundJoin
		}
		for _, d := range with.dash {
			style.Dashes = append(style.Dashes, d/with.width) // the library counts in line widths
		}
		l.canvas.RenderPath(p, style, canvas.Identity)
	}
}

func (l *Leaf) line(x1, y1, x2, y2 float64, with pen) {
	l.stroke([]orb.LineString{{{x1, y1}, {x2, y2}}}, with)
}

// ring is a circle as a many-sided line.
func ring(at orb.Point, radius float64) orb.LineString {
	const sides = 24
	out := make(orb.LineString, sides+1)
	for i := range sides {
		s, c := math.Sincos(2 * math.Pi * float64(i) / sides)
		out[i] = orb.Point{at[0] + radius*c, at[1] + radius*s}
	}
	out[sides] = out[0]
	return out
}

// text draws one line of text with its base line at y and gives its width.
func (l *Leaf) text(x, y float64, t lettering, s string) float64 {
	line, width := l.fonts.set(t, s)
	shift := 0.0
	switch t.align {
	case canvas.Right:
		shift = -width
	case canvas.Center:
		shift = -width / 2
	}
	m := canvas.Identity.Translate(x, l.Height-y)
	if t.turn != 0 {
		m = m.Rotate(t.turn)
	}
	for _, p := range line {
		at := m.Translate(shift+p.x, 0)
		if p.outlined {
			l.outline(p, at)
			continue
		}
		l.canvas.RenderText(p.text, at)
	}
	return width
}

// outline draws a piece of text as outlines. A font that fails in that, though it drew the text
// when it was chosen, is kept for Pages to tell.
func (l *Leaf) outline(p piece, at canvas.Matrix) {
	defer func() {
		if e := recover(); e != nil && l.fonts.fault == nil {
			l.fonts.fault = fmt.Errorf("the font for %q: %v", p.text.Text, e)
		}
	}()
	p.text.RenderAsPath(l.canvas, at, 0)
}

// paragraph draws lines under each other and gives the base line of the next.
func (l *Leaf) paragraph(x, y, room, step float64, t lettering, s string) float64 {
	for _, line := range l.fonts.wrap(t, s, room) {
		l.text(x, y, t, line)
		y += step
	}
	return y
}
