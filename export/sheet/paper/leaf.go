package paper

import (
	"fmt"
	"image/color"
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// Leaf is one page of a sheet, drawn once for all forms. Places on it are in
// millimetres from its upper left corner.
type Leaf struct {
	Width, Height float64 // mm
	Title         string  // what it shows, for those who do not see it
	Language      string  // of its words (BCP 47); "" = not said
	Fonts         *Fonts

	drawn   []func(back)
	written []Written
	fault   error // the first colour that is none
}

// back is a form in which a leaf is written. Lines and rings have places in hundredths of a millimetre; a ring
// ends where it begins.
type back interface {
	fill(rings []orb.LineString, with color.NRGBA)
	stroke(lines []orb.LineString, with color.NRGBA, p Pen)
	letter(w words)
	begin(g Group)
	end(g Group)
	open(p Part, instead string)
	close()
}

func (l *Leaf) draw(b back) error {
	if l.fault != nil {
		return l.fault
	}
	for _, one := range l.drawn {
		one(b)
	}
	return nil
}

// New is an empty leaf of white paper.
func New(w, h float64, f *Fonts) *Leaf {
	l := &Leaf{Width: w, Height: h, Fonts: f}
	l.Fill(Box{0, 0, w, h}.Path(), "#FFFFFF")
	return l
}

// Pen is how a line is drawn.
type Pen struct {
	Colour string
	Width  float64 // mm
	Dash   []float64
	Round  bool // ends and corners
}

// Group is what belongs together on a leaf. Who reads an SVG as a program finds its title and data there.
type Group struct {
	Title string
	Data  [][2]string // names, of small letters and hyphens, and values
	Clip  Box         // nothing is drawn beyond it; none if it is empty
}

// Group draws what belongs together.
func (l *Leaf) Group(g Group, draw func()) {
	l.drawn = append(l.drawn, func(b back) { b.begin(g) })
	draw()
	l.drawn = append(l.drawn, func(b back) { b.end(g) })
}

// colour reads "#RRGGBB" or "#RRGGBBAA". Another one is kept as a fault of the leaf, which its forms give.
func (l *Leaf) colour(s string) color.NRGBA {
	v, err := uint64(0), strconv.ErrSyntax
	if len(s) == 7 || len(s) == 9 {
		v, err = strconv.ParseUint(s[1:], 16, 32)
	}
	if (err != nil || s[0] != '#') && l.fault == nil {
		l.fault = fmt.Errorf("colour %q: must be #RRGGBB or #RRGGBBAA", s)
	}
	if len(s) == 7 {
		v = v<<8 | 0xFF
	}
	return color.NRGBA{uint8(v >> 24), uint8(v >> 16), uint8(v >> 8), uint8(v)}
}

// hundredths rounds lines to hundredths of a millimetre, which no printer shows, and leaves out what is no line
// then.
func hundredths(lines []orb.LineString) []orb.LineString {
	round := func(p orb.Point) orb.Point {
		return orb.Point{math.Round(p[0]*100) / 100, math.Round(p[1]*100) / 100}
	}
	var out []orb.LineString
	for _, line := range lines {
		n := len(line)
		if n < 2 {
			continue
		}
		closed := n > 3 && line[0] == line[n-1]
		kept := make(orb.LineString, 1, n)
		kept[0] = round(line[0])
		for _, p := range line[1:] {
			if q := round(p); q != kept[len(kept)-1] {
				kept = append(kept, q)
			}
		}
		if len(kept) > 1 && (!closed || len(kept) > 2) {
			out = append(out, kept)
		}
	}
	return out
}

// Fill fills rings (even-odd; PNG counts windings, so there holes must go the other way
// round than what they are in).
func (l *Leaf) Fill(lines []orb.LineString, colour string) {
	if rings := hundredths(lines); len(rings) > 0 {
		c := l.colour(colour)
		l.drawn = append(l.drawn, func(b back) { b.fill(rings, c) })
	}
}

// Stroke draws lines; one that ends where it begins is closed.
func (l *Leaf) Stroke(lines []orb.LineString, with Pen) {
	if lines := hundredths(lines); len(lines) > 0 {
		c := l.colour(with.Colour)
		l.drawn = append(l.drawn, func(b back) { b.stroke(lines, c, with) })
	}
}

func (l *Leaf) Line(x1, y1, x2, y2 float64, with Pen) {
	l.Stroke([]orb.LineString{{{x1, y1}, {x2, y2}}}, with)
}

// Text draws one line of text with its base line at y and gives its width.
func (l *Leaf) Text(x, y float64, t Lettering, s string) float64 {
	line, said, width := l.Fonts.set(t, s)
	if len(line) == 0 {
		return 0
	}
	w := words{at: orb.Point{x, y}, how: t, line: line, said: said, width: width, colour: l.colour(t.colour())}
	switch t.Align {
	case Right:
		w.shift = -width
	case Centre:
		w.shift = -width / 2
	}
	w.sin, w.cos = math.Sincos(t.Turn * math.Pi / 180)
	l.written = append(l.written, Written{Words: said, Box: w.box(), Level: t.Turn == 0})
	l.drawn = append(l.drawn, func(b back) { b.letter(w) })
	return width
}

// Paragraph draws lines under each other and gives the base line of the next.
func (l *Leaf) Paragraph(x, y, room, step float64, t Lettering, s string) float64 {
	l.As(Paragraph, "", func() {
		for _, line := range l.Fonts.Wrap(t, s, room) {
			l.Text(x, y, t, line)
			y += step
		}
	})
	return y
}

// Written is a line of text on a leaf: its letters in the order read, and the box they take, the
// whole height of a line. Level is text that runs across the page.
type Written struct {
	Words string
	Box   Box
	Level bool
}

// Lines are the lines of text on a leaf in the order written.
func (l *Leaf) Lines() []Written { return l.written }
