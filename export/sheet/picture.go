package sheet

import (
	"cmp"
	"math"

	"balk/export/sheet/paper"
	"balk/export/words"
)

// picture is a leaf that stands alone: A4 across, a head over it, a map or a turn on its left, and a column
// of words on its right.
type picture struct {
	*leaf
	room   paper.Box // room of the map, with the words under it
	column paper.Box
	y      float64 // base line of the last line in the column, or its top
}

const pictureHead = 13.0 // mm

// newPicture is a picture with its head; sub is a line under the title, texts are those beside the title that come from
// outside. It fails where page is not valid.
func newPicture(page Page, title, sub string, texts ...string) (*picture, error) {
	f, err := page.open(append(texts, title, sub)...)
	if err != nil {
		return nil, err
	}
	return pictureOn(f, page.Language, title, sub), nil
}

func pictureOn(f *paper.Fonts, l words.Language, title, sub string) *picture {
	size := papers["A4"]
	p := &picture{leaf: newLeaf(size[1], size[0], f, l, title)}
	p.head(title, sub)
	b := paper.Rect(0, 0, p.Width, p.Height).Inset(paperMargin)
	b.Y, b.H = b.Y+pictureHead, b.H-pictureHead
	p.column = paper.Rect(b.X+b.W-columnWidth, b.Y, columnWidth, b.H)
	p.room = paper.Rect(b.X, b.Y, b.W-columnWidth-1.5*partGap, b.H)
	p.y = p.column.Y
	return p
}

// head writes the title and a line under it.
func (l *leaf) head(title, sub string) {
	room := l.Width - 2*paperMargin
	bold, t := paper.Lettering{Size: 15, Bold: true}, paper.Lettering{Size: 8.5, Grey: true}
	for bold.Size > 10 && l.Fonts.Width(bold, title) > room {
		bold.Size--
	}
	l.As(paper.Heading, "", func() { l.Text(paperMargin, paperMargin+4.5, bold, l.Fonts.Fit(bold, title, room)) })
	if sub != "" {
		l.Text(paperMargin, paperMargin+9.5, t, l.Fonts.Fit(t, sub, room))
	}
}

// section writes the head of a part of the page.
func (l *leaf) section(x, y float64, words string) {
	l.As(paper.Subheading, "", func() { l.Text(x, y, paper.Lettering{Size: 9, Bold: true}, words) })
}

// figure draws what is no text; instead says what it shows to those who do not see it, "" = what the page shows.
func (l *leaf) figure(instead string, draw func()) {
	l.As(paper.Figure, cmp.Or(instead, l.Title), draw)
}

// newLeaf is a page with what it shows and in which language.
func newLeaf(w, h float64, f *paper.Fonts, l words.Language, title string) *leaf {
	l = cmp.Or(l, words.English)
	one := &leaf{paper.New(w, h, f), l}
	one.Title, one.Leaf.Language = title, string(l)
	return one
}

// heading writes a line in bold.
func (p *picture) heading(words string) {
	p.y += 4
	p.section(p.column.X, p.y, words)
}

// row writes words and, at the column's right end, their value.
func (p *picture) row(words, value string) {
	p.y += 4.2
	t := paper.Lettering{Size: 8}
	p.Text(p.column.X, p.y, t, words)
	t.Bold, t.Align = true, paper.Right
	p.Text(p.column.X+p.column.W, p.y, t, value)
}

// words write a paragraph below what stands in the column.
func (p *picture) words(t paper.Lettering, step float64, words string) {
	p.y = p.Paragraph(p.column.X, p.y+step, p.column.W, step, t, words) - step
}

// The short form of the cautions.
var cautionLettering = paper.Lettering{Size: 7, Grey: true}

const cautionLine = 3.1 // mm

// caution writes it below all else.
func (p *picture) caution(words string) {
	p.y += 3
	p.words(cautionLettering, cautionLine, words)
}

// cells writes the words of a row of a table into columns: each begins at a share of the width or, where that is negative, ends
// at it.
func (l *leaf) cells(b paper.Box, y float64, t paper.Lettering, columns []float64, words ...string) {
	l.As(paper.Row, "", func() {
		for i, w := range words {
			t.Align = paper.Left
			if columns[i] < 0 {
				t.Align = paper.Right
			}
			l.As(paper.Cell, "", func() { l.Text(b.X+b.W*math.Abs(columns[i]), y, t, w) })
		}
	})
}
