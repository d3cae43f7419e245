package paper

import (
	"fmt"
	"image/png"
	"io"
	"math"

	"github.com/paulmach/orb"
	"github.com/tdewolff/canvas"
	"github.com/tdewolff/canvas/renderers/rasterizer"
)

// Leaf is one page of a sheet, drawn once for all forms. Places on it are in
// millimetres from its upper left corner.
type Leaf struct {
	Width, Height float64 // mm
	Title         string  // what the page shows, for those who do not see it
	Language      string  // of its words, as "de" (BCP 47)
	canvas        *canvas.Canvas
	Fonts         *Fonts
	written       []Written
	letters       []placed
}

// Written is a line of text on a leaf: its letters as they stand there, and the box they take, the
// whole height of a line. Level is text that runs across the page.
type Written struct {
	Words string
	Box   Box
	Level bool
}

// Lines are the lines of text on a leaf in the order written.
func (l *Leaf) Lines() []Written { return l.written }

func New(w, h float64, f *Fonts) *Leaf {
	l := &Leaf{Width: w, Height: h, canvas: canvas.New(w, h), Fonts: f}
	l.Fill(Box{0, 0, w, h}.Path(), "#FFFFFF")
	return l
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

// Box is an upright box on the page.
type Box struct{ X, Y, W, H float64 }

// Rect is the box with its upper left corner at x, y.
func Rect(x, y, w, h float64) Box { return Box{x, y, w, h} }

func (r Box) Bound() orb.Bound {
	return orb.Bound{Min: orb.Point{r.X, r.Y}, Max: orb.Point{r.X + r.W, r.Y + r.H}}
}

// Inset is r with so many mm taken off each side.
func (r Box) Inset(d float64) Box { return Box{r.X + d, r.Y + d, r.W - 2*d, r.H - 2*d} }

func (r Box) Meets(q Box) bool {
	return r.X < q.X+q.W && q.X < r.X+r.W && r.Y < q.Y+q.H && q.Y < r.Y+r.H
}

func (r Box) Within(q Box) bool {
	return r.X >= q.X && r.Y >= q.Y && r.X+r.W <= q.X+q.W && r.Y+r.H <= q.Y+q.H
}

func (r Box) Path() []orb.LineString {
	return []orb.LineString{{{r.X, r.Y}, {r.X + r.W, r.Y}, {r.X + r.W, r.Y + r.H}, {r.X, r.Y + r.H}, {r.X, r.Y}}}
}

// Pen is how a line is drawn.
type Pen struct {
	Colour string
	Width  float64 // mm
	Dash   []float64
	Round  bool // ends
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

// Fill fills rings (even-odd; PNG counts windings, so there holes must go the other way
// round than what they are in).
func (l *Leaf) Fill(lines []orb.LineString, colour string) {
	if p := l.path(lines); !p.Empty() {
		style := canvas.DefaultStyle
		style.Fill = canvas.Paint{Color: canvas.Hex(colour)}
		style.FillRule = canvas.EvenOdd
		l.canvas.RenderPath(p, style, canvas.Identity)
	}
}

func (l *Leaf) Stroke(lines []orb.LineString, with Pen) {
	if p := l.path(lines); !p.Empty() {
		style := canvas.DefaultStyle
		style.Fill = canvas.Paint{}
		style.Stroke = canvas.Paint{Color: canvas.Hex(with.Colour)}
		style.StrokeWidth = with.Width
		style.StrokeJoiner = canvas.BevelJoin
		if with.Round {
			style.StrokeCapper, style.StrokeJoiner = canvas.RoundCap, canvas.RoundJoin
		}
		for _, d := range with.Dash {
			style.Dashes = append(style.Dashes, d/with.Width) // the library counts in line widths
		}
		l.canvas.RenderPath(p, style, canvas.Identity)
	}
}

func (l *Leaf) Line(x1, y1, x2, y2 float64, with Pen) {
	l.Stroke([]orb.LineString{{{x1, y1}, {x2, y2}}}, with)
}

// Ring is a circle as a many-sided line.
func Ring(at orb.Point, radius float64) orb.LineString {
	const sides = 24
	out := make(orb.LineString, sides+1)
	for i := range sides {
		s, c := math.Sincos(2 * math.Pi * float64(i) / sides)
		out[i] = orb.Point{at[0] + radius*c, at[1] + radius*s}
	}
	out[sides] = out[0]
	return out
}

// Text draws one line of text with its base line at y and gives its width.
func (l *Leaf) Text(x, y float64, t Lettering, s string) float64 {
	line, width := l.Fonts.set(t, s)
	shift := 0.0
	switch t.Align {
	case Right:
		shift = -width
	case Centre:
		shift = -width / 2
	}
	l.written = append(l.written, writtenAt(x, y, shift, width, t, line))
	m := canvas.Identity.Translate(x, l.Height-y)
	if t.Turn != 0 {
		m = m.Rotate(t.Turn)
	}
	for _, p := range line {
		at := m.Translate(shift+p.x, 0)
		if p.outlined {
			l.outline(p, at)
			continue
		}
		l.letters = append(l.letters, placed{piece: p, with: t, at: orb.Point{x, y}, shift: shift, whole: len(line) == 1})
		l.canvas.RenderText(p.text, at)
	}
	return width
}

// Heights of a line of text above and below its base line, in its size: those of most letters with their marks.
const above, below = 0.76, 0.24

func writtenAt(x, y, shift, width float64, t Lettering, line []piece) Written {
	const mm = 25.4 / 72 // a point
	up, down := above*t.Size*mm, below*t.Size*mm
	w := Written{Level: t.Turn == 0}
	for _, p := range line {
		w.Words += p.text.Text
	}
	sin, cos := math.Sincos(t.Turn * math.Pi / 180)
	b := orb.Bound{Min: orb.Point{x, y}, Max: orb.Point{x, y}}
	for i, c := range []orb.Point{{shift, -down}, {shift + width, -down}, {shift + width, up}, {shift, up}} {
		at := orb.Point{x + c[0]*cos - c[1]*sin, y - c[0]*sin - c[1]*cos}
		if i == 0 {
			b = orb.Bound{Min: at, Max: at}
		}
		b = b.Extend(at)
	}
	w.Box = Box{b.Min[0], b.Min[1], b.Max[0] - b.Min[0], b.Max[1] - b.Min[1]}
	return w
}

// outline draws a piece of text as outlines. A font that fails in that, though it drew the text
// when it was chosen, is kept for Pages to tell.
func (l *Leaf) outline(p piece, at canvas.Matrix) {
	defer func() {
		if e := recover(); e != nil && l.Fonts.Fault == nil {
			l.Fonts.Fault = fmt.Errorf("the font for %q: %v", p.text.Text, e)
		}
	}()
	p.text.RenderAsPath(l.canvas, at, 0)
}

// Paragraph draws lines under each other and gives the base line of the next.
func (l *Leaf) Paragraph(x, y, room, step float64, t Lettering, s string) float64 {
	for _, line := range l.Fonts.Wrap(t, s, room) {
		l.Text(x, y, t, line)
		y += step
	}
	return y
}
