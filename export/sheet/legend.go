package sheet

import (
	"balk/coverage"

	"github.com/paulmach/orb"
	"github.com/tdewolff/canvas"
)

// legend draws the kinds of ground with their balance, then the lines of the map,
// and gives how far down it came. The rows add up to the field's.
func (s *setting) legend(l *Leaf, b rect) float64 {
	haX, shareX := b.x+b.w*0.78, b.x+b.w
	right := lettering{size: 7, grey: true, align: canvas.Right}
	l.text(b.x, b.y+3, lettering{size: 9, bold: true}, s.word("Balance at credited width"))
	l.text(haX, b.y+3, right, "ha")
	l.text(shareX, b.y+3, right, s.word("% of field"))
	y := b.y + 3.5
	row := func(mark *hatching, r Row, bold bool) {
		y += 4.7
		if mark != nil {
			l.swatch(rect{b.x, y - 3, 8, 3.6}, *mark)
		}
		t := lettering{size: 8, bold: bold}
		l.text(b.x+10, y, t, r.Words)
		t.align = canvas.Right
		l.text(haX, y, t, r.Ha)
		l.text(shareX, y, t, r.Share)
	}
	for i, mark := range []*hatching{&onceMark, &twiceMark, &moreMark, &missedMark, &unknownMark} {
		row(mark, s.table.Parts[i], false)
	}
	l.line(b.x+10, y+1.2, b.x+b.w, y+1.2, pen{colour: black, width: 0.2})
	row(nil, s.table.Field, true)
	y += 0.8
	row(&outsideMark, s.table.Outside, false)
	row(nil, s.table.FullMissed, false)
	row(nil, s.table.Thin, false)
	y += 5.2
	t := lettering{size: 7.5}
	l.line(b.x, y-1, b.x+8, y-1, boundaryPen)
	l.text(b.x+10, y, t, s.word("boundary"))
	l.line(b.x+30, y-1, b.x+38, y-1, headlandPen)
	l.text(b.x+40, y, t, s.word("headland"))
	l.swatch(rect{b.x + 60, y - 2.8, 8, 3.4}, noGoMark)
	l.text(b.x+70, y, t, s.word("obstacle"))
	y += 4.4
	l.line(b.x, y-1, b.x+8, y-1, pen{colour: "#A08A4E", width: 0.2})
	words := s.word("pass (bar centre)")
	if (s.result.Work.Width-s.result.Work.Overlap)*s.view.mm() < passesApart {
		words = s.word("pass (not on this map: too close)")
	}
	l.text(b.x+10, y, t, words)
	if n := coverage.TurningOf(s.result.Turns).Tight; n > 0 {
		x := b.x + 54
		l.tightTurn(orb.Point{x, y - 1})
		l.text(x+3, y, t, s.say("turn too tight for the set (%d)", n))
	}
	return y
}

// swatch is a sample of a kind of ground.
func (l *Leaf) swatch(b rect, h hatching) {
	if h.rim.width == 0 {
		h.rim = pen{colour: "#8A7A4A", width: 0.12}
	}
	l.cover(b.path(), h)
}

// legendHeight is what legend, headland and receiver take in a column.
func (s *setting) legendHeight() float64 {
	h := 66.5
	for _, line := range s.suretyLines() {
		h += 3.3 * float64(len(s.fonts.wrap(suretyLettering, line, columnWidth)))
	}
	if s.result.Headland.Depth > 0 {
		h += 18.5
	}
	return h
}

// suretyLettering is that of the lines on surety.
var suretyLettering = lettering{size: 7, grey: true}

// suretyLines are those on how sure the strips are; the table sums those within noise.
func (s *setting) suretyLines() []string {
	lines := sureties(s.result, s.page.Language)
	if s.result.Noise.PassErrorFrom != "" && s.result.Noise.Pieces > 0 {
		lines = lines[1:]
	}
	return lines
}

// headlandRows writes what the headland cost, and what the receiver leaves open.
func (s *setting) headlandRows(l *Leaf, b rect, y float64) {
	small := lettering{size: 7.5}
	right := lettering{size: 7.5, align: canvas.Right}
	if h := s.result.Headland; h.Depth > 0 {
		y += 6.5
		l.text(b.x, y, lettering{size: 9, bold: true}, s.say("Headland, %.2f m deep, %s ha", h.Depth, s.table.HeadlandArea.Ha))
		for _, row := range []Row{s.table.Missed, s.table.Lifted, s.table.Twice} {
			y += 3.9
			l.text(b.x, y, small, row.Words)
			l.text(b.x+b.w*0.78, y, right, row.Ha)
			l.text(b.x+b.w, y, right, row.Share)
		}
	}
	y += 2.5
	for _, line := range s.suretyLines() {
		y = l.paragraph(b.x, y+3.3, b.w, 3.3, suretyLettering, line) - 3.3
	}
}
