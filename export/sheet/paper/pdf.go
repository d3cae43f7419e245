package paper

import (
	"bytes"
	"fmt"
	"image/color"
	"io"
	"math"
	"slices"
	"time"

	"balk/geo"

	"codeberg.org/go-pdf/fpdf"
	"github.com/go-text/typesetting/font/opentype"
	"github.com/paulmach/orb"
)

// mostPDF is the last letter that a PDF of the library can hold as text: it numbers them with 16 bits.
const mostPDF = 0xFFFF

// PDF writes the leaves as one file, with the title and language of the first, and the date given; without a date if
// that is zero. The same leaves give the same bytes.
//
// Text is text where the sheet's own fonts set it letter by letter from the left. All else, such as joined letters, is
// drawn, and its letters lie over it unseen, so that a search finds them. What each part of a page is, is marked, for those to whom it is read (As).
func PDF(w io.Writer, leaves []*Leaf, when time.Time) error {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm", Size: fpdf.SizeType{Wd: leaves[0].Width, Ht: leaves[0].Height}})
	doc.SetCatalogSort(true)
	doc.SetAutoPageBreak(false, 0)
	doc.SetTitle(geo.Shown(leaves[0].Title), true)
	doc.SetLang(leaves[0].Language)
	doc.SetCreator("balk", false)
	doc.SetCreationDate(noDate)
	doc.SetModificationDate(noDate)
	own, err := ownFonts()
	if err != nil {
		return err
	}
	for _, f := range own {
		doc.AddUTF8FontFromBytes(f.name, "", f.bytes)
	}
	tree := new(structure)
	for _, l := range leaves {
		doc.AddPageFormat("P", fpdf.SizeType{Wd: l.Width, Ht: l.Height})
		tree.turn()
		page := &document{Fpdf: doc, height: l.Height, plain: own[0].name, tree: tree}
		if err := l.draw(page); err != nil {
			return err
		}
		page.mark(nothing)
	}
	var out bytes.Buffer
	if err := doc.Output(&out); err != nil {
		return fmt.Errorf("writing the PDF: %w", err)
	}
	b, err := dated(out.Bytes(), when)
	if err != nil {
		return err
	}
	if b, err = tree.tagged(b); err != nil {
		return err
	}
	_, err = w.Write(b)
	return err
}

// noDate stands for the date until the file is whole: without one, the library takes the clock's.
var noDate = time.Date(1, 1, 1, 1, 1, 1, 1, time.UTC)

// dated puts the date into a PDF in place of those of the library, or takes them out. What is shorter is filled with
// blanks, since the table of contents counts bytes.
func dated(b []byte, when time.Time) ([]byte, error) {
	none := []byte("/CreationDate (D:00010101010101)\n/ModDate (D:00010101010101)")
	at := bytes.LastIndex(b, none)
	if at < 0 {
		return nil, fmt.Errorf("writing the PDF: it has no date to be replaced")
	}
	date := b[at : at : at+len(none)]
	if !when.IsZero() {
		date = when.UTC().AppendFormat(date, "/CreationDate (D:20060102150405Z)")
	}
	copy(b[at+len(date):], bytes.Repeat([]byte(" "), len(none)-len(date)))
	return b, nil
}

// document is the back that writes PDF. Lines, grounds and colours go to the page by the operators of ISO 32000-1, 8,
// text through the library, which cuts the fonts down to the letters used.
type document struct {
	*fpdf.Fpdf
	height float64 // mm, of the page
	plain  string  // font of letters that are not seen
	tree   *structure
	buf    []byte
}

const toPoints = 1 / point

// op appends an operator with its numbers.
func (b *document) op(name string, numbers ...float64) {
	for _, v := range numbers {
		b.buf = append(appendNumber(b.buf, v), ' ')
	}
	b.buf = append(append(b.buf, name...), '\n')
}

// atPlace appends an operator with places on the page.
func (b *document) atPlace(name string, places ...orb.Point) {
	for _, p := range places {
		b.buf = append(appendNumber(b.buf, p[0]*toPoints), ' ')
		b.buf = append(appendNumber(b.buf, (b.height-p[1])*toPoints), ' ')
	}
	b.buf = append(append(b.buf, name...), '\n')
}

// flush gives what was appended to the page.
func (b *document) flush() {
	b.RawWriteBuf(bytes.NewReader(b.buf))
	b.buf = b.buf[:0]
}

// paint sets the colour for fills (rg) or strokes (RG).
func (b *document) paint(name string, c color.NRGBA) {
	if a := float64(c.A) / 255; c.A < 255 || b.opaque() < 1 {
		b.flush()
		b.SetAlpha(a, "Normal")
	}
	b.buf = fmt.Appendf(b.buf, "%.3f %.3f %.3f %s\n", float64(c.R)/255, float64(c.G)/255, float64(c.B)/255, name)
}

func (b *document) opaque() float64 {
	a, _ := b.GetAlpha()
	return a
}

func (b *document) path(lines []orb.LineString) {
	for _, line := range lines {
		n := len(line)
		closed := n > 2 && line[0] == line[n-1]
		if closed {
			n--
		}
		b.atPlace("m", line[0])
		for _, p := range line[1:n] {
			b.atPlace("l", p)
		}
		if closed {
			b.op("h")
		}
	}
}

func (b *document) fill(rings []orb.LineString, c color.NRGBA) {
	b.markShape()
	b.paint("rg", c)
	b.path(rings)
	b.op("f*")
	b.flush()
}

func (b *document) stroke(lines []orb.LineString, c color.NRGBA, p Pen) {
	b.markShape()
	b.paint("RG", c)
	b.op("w", p.Width*toPoints)
	if p.Round {
		b.op("J 1 j", 1)
	} else {
		b.op("J 2 j", 0)
	}
	b.buf = append(b.buf, '[')
	for _, d := range p.Dash {
		b.buf = append(appendNumber(b.buf, d*toPoints), ' ')
	}
	b.buf = append(b.buf, "] 0 d\n"...)
	b.path(lines)
	b.op("S")
	b.flush()
}

func (b *document) letter(w words) {
	b.markText(w)
	if w.how.Halo > 0 {
		b.paint("RG", color.NRGBA{255, 255, 255, 255})
		b.op("w", 2*w.how.Halo*toPoints)
		b.op("J 1 j", 1)
		b.buf = append(b.buf, "[] 0 d\n"...)
		b.outline(w.outline(w.line...), "S")
	}
	b.paint("rg", w.colour)
	for _, p := range w.line {
		if !p.written {
			b.outline(w.outline(p), "f")
		}
	}
	b.flush()
	for _, p := range w.line {
		if p.written {
			b.text(w, p)
		} else {
			b.unseen(w, p)
		}
	}
}

// text writes the letters of a piece, in one go as far as each stands where the one before it ends.
func (b *document) text(w words, p piece) {
	unit := w.unit(p)
	b.SetFont(p.face.own, "", w.how.Size)
	for from := 0; from < len(p.glyphs); {
		first := p.glyphs[from]
		end, to := first.x, from
		for to < len(p.glyphs) && p.glyphs[to].y == first.y && math.Abs(p.glyphs[to].x-end) < 0.5 {
			end += float64(p.face.HorizontalAdvance(p.glyphs[to].id))
			to++
		}
		b.set(w, w.place(p.x+first.x*unit, first.y*unit), string(p.letters[from:to]))
		from = to
	}
}

// set writes letters at a place on the page.
func (b *document) set(w words, at orb.Point, letters string) {
	if w.how.Turn == 0 {
		b.Text(at[0], at[1], letters)
		return
	}
	b.buf = fmt.Appendf(b.buf, "q %.5f %.5f %.5f %.5f %.2f %.2f cm", w.cos, w.sin, -w.sin, w.cos, at[0]*toPoints, (b.height-at[1])*toPoints)
	b.flush()
	b.Text(0, b.height, letters)
	b.RawWriteStr("Q")
}

// unseen lays the letters of a piece that is drawn over it, in the order in which they stand, as wide together.
func (b *document) unseen(w words, p piece) {
	letters := slices.DeleteFunc(slices.Clone(p.letters), func(r rune) bool { return r > mostPDF })
	if p.right() {
		slices.Reverse(letters)
	}
	unit := w.unit(p)
	b.SetFont(b.plain, "", w.how.Size)
	wide := b.GetStringWidth(string(letters))
	if wide == 0 || p.width == 0 {
		return
	}
	b.RawWriteStr(fmt.Sprintf("3 Tr %.2f Tz", 100*p.width*unit/wide))
	b.set(w, w.place(p.x, 0), string(letters))
	b.RawWriteStr("0 Tr 100 Tz")
}

// outline appends the path of an outline, if there is one, and what becomes of it.
func (b *document) outline(outline []opentype.Segment, paint string) {
	if len(outline) == 0 {
		return
	}
	at := func(p opentype.SegmentPoint) orb.Point { return orb.Point{float64(p.X), float64(p.Y)} }
	var last orb.Point
	for i, s := range outline {
		switch s.Op {
		case opentype.SegmentOpMoveTo:
			if i > 0 {
				b.op("h")
			}
			b.atPlace("m", at(s.Args[0]))
		case opentype.SegmentOpLineTo:
			b.atPlace("l", at(s.Args[0]))
		case opentype.SegmentOpQuadTo: // as a cubic curve: two thirds of the way to the point that steers it
			steer, end := at(s.Args[0]), at(s.Args[1])
			b.atPlace("c", along([]orb.Point{last, steer}, 2./3), along([]orb.Point{end, steer}, 2./3), end)
		case opentype.SegmentOpCubeTo:
			b.atPlace("c", at(s.Args[0]), at(s.Args[1]), at(s.Args[2]))
		}
		args := s.ArgsSlice()
		last = at(args[len(args)-1])
	}
	b.op("h " + paint)
}

func (b *document) begin(g Group) {
	b.mark(nothing)
	if b.opaque() < 1 {
		b.SetAlpha(1, "Normal") // what follows the group is as opaque as the library takes it for
	}
	b.op("q")
	if c := g.Clip; c != (Box{}) {
		b.path(c.Path())
		b.op("W n")
	}
	b.flush()
}

func (b *document) end(Group) {
	b.mark(nothing)
	b.op("Q")
	b.flush()
}
