package sheet

import (
	"balk/coverage"
	"balk/coverage/drive"
	"balk/export/answer"
	"balk/export/sheet/paper"
	"balk/export/words"

	"github.com/paulmach/orb"
)

// legend draws the kinds of ground with their balance, then the lines of the map,
// and gives how far down it came. The rows add up to the field's.
func (s *checkSetting) legend(l *leaf, b paper.Box) float64 {
	haX, shareX := b.X+b.W*0.78, b.X+b.W
	right := paper.Lettering{Size: 7, Grey: true, Align: paper.Right}
	l.section(b.X, b.Y+3, s.table.Title.Words)
	l.As(paper.Row, "", func() {
		l.As(paper.HeadCell, "", func() {})
		l.As(paper.HeadCell, "", func() { l.Text(haX, b.Y+3, right, s.table.Title.M2) })
		l.As(paper.HeadCell, "", func() { l.Text(shareX, b.Y+3, right, s.table.Title.Share) })
	})
	y := b.Y + 3.5
	row := func(mark *paper.Hatching, r Row, bold bool) {
		y += 4.7
		if mark != nil {
			l.swatch(paper.Rect(b.X, y-3, 8, 3.6), *mark)
		}
		t := paper.Lettering{Size: 8, Bold: bold}
		l.As(paper.Row, "", func() {
			l.As(paper.HeadCell, "", func() { l.Text(b.X+10, y, t, l.Fonts.Fit(t, r.Words, haX-l.Fonts.Width(t, r.M2)-b.X-11)) })
			t.Align = paper.Right
			l.As(paper.Cell, "", func() { l.Text(haX, y, t, r.M2) })
			l.As(paper.Cell, "", func() { l.Text(shareX, y, t, r.Share) })
		})
	}
	for i, mark := range []*paper.Hatching{&onceMark, &twiceMark, &moreMark, &missedMark, &unknownMark} {
		row(mark, s.table.Parts[i], false)
		if i == 0 && s.table.Ribbons.Words != "" {
			row(&ribbonMark, s.table.Ribbons, false)
		}
		if i == 0 && s.table.OtherBar.Words != "" {
			row(&otherBarMark, s.table.OtherBar, false)
		}
	}
	l.Line(b.X+10, y+1.2, b.X+b.W, y+1.2, paper.Pen{Colour: paper.Black, Width: 0.2})
	row(nil, s.table.Field, true)
	y += 0.8
	row(&outsideMark, s.table.Outside, false)
	row(nil, s.table.FullMissed, false)
	row(nil, s.table.Thin, false)
	return l.keys(b, y+firstKey-keyStep, s.mapKeys(s.passesShown()))
}

// Keys are the samples of lines and marks with their words, as many beside each other as there is room for.
const (
	keyGap   = 2.0 // mm, between a sample and its words
	keyApart = 4.0 // mm, between a key and the next
	keyStep  = 4.4 // mm, from line to line
	firstKey = 5.2 // mm, from the balance to the first line
)

var keyLettering = paper.Lettering{Size: 7.5}

// key is one of them; wide is its sample's, drawn on the base line y.
type key struct {
	words   string
	x, wide float64 // mm
	sample  func(l *leaf, x, y float64)
}

// passesShown says whether the lines of passes are on the map.
func (s *checkSetting) passesShown() bool {
	return (s.result.Work.Width-s.result.Work.Overlap)*s.view.mm() >= passesApart
}

func (s *checkSetting) mapKeys(passes bool) []key {
	pass := s.Word("pass (bar centre)")
	if !passes {
		pass = s.Word("pass (not on this map: too close)")
	}
	keys := []key{lineKey(s.Word("boundary"), boundaryPen), lineKey(s.Word("headland"), headlandPen), groundKey(s.Word("obstacle"), noGoMark), lineKey(pass, passLinePen)}
	if n := drive.TurningOf(s.result.Turns).Tight; n > 0 {
		keys = append(keys, tightKey(s.Say("turn too tight for the set (%d)", n)))
	}
	return keys
}

func lineKey(words string, p paper.Pen) key {
	return key{words: words, wide: 8, sample: func(l *leaf, x, y float64) { l.Line(x, y-1, x+8, y-1, p) }}
}

func groundKey(words string, h paper.Hatching) key {
	return key{words: words, wide: 8, sample: func(l *leaf, x, y float64) { l.swatch(paper.Rect(x, y-2.8, 8, 3.4), h) }}
}

func tightKey(words string) key {
	return key{words: words, wide: 2 * tightRadius, sample: func(l *leaf, x, y float64) { l.tightTurn(orb.Point{x + tightRadius, y - 1}, true) }}
}

// keyLines lays keys out in lines so wide.
func keyLines(f *paper.Fonts, width float64, keys []key) [][]key {
	var lines [][]key
	x := 0.0
	for _, k := range keys {
		long := k.wide + keyGap + f.Width(keyLettering, k.words)
		if n := len(lines); n == 0 || x+long > width {
			lines, x = append(lines, nil), 0
		}
		k.x = x
		last := len(lines) - 1
		lines[last] = append(lines[last], k)
		x += long + keyApart
	}
	return lines
}

// keys draws keys under a base line, and gives that of the last of them.
func (l *leaf) keys(b paper.Box, y float64, keys []key) float64 {
	for _, line := range keyLines(l.Fonts, b.W, keys) {
		y += keyStep
		for _, k := range line {
			k.sample(l, b.X+k.x, y)
			l.Text(b.X+k.x+k.wide+keyGap, y, keyLettering, k.words)
		}
	}
	return y
}

// swatch is a sample of a kind of ground.
func (l *leaf) swatch(b paper.Box, h paper.Hatching) {
	if h.Rim.Width == 0 {
		h.Rim = paper.Pen{Colour: "#8A7A4A", Width: 0.12}
	}
	l.Cover(b.Path(), h)
}

// legendHeight is what legend, headland and receiver take in a column.
func (s *checkSetting) legendHeight() float64 {
	// Before the scale is known either words may stand for the passes.
	lines := max(len(keyLines(s.fonts, columnWidth, s.mapKeys(true))), len(keyLines(s.fonts, columnWidth, s.mapKeys(false))))
	h := 52.5 + firstKey + keyStep*float64(lines)
	for _, line := range sureties(s.Language, s.result) {
		h += 3.3 * float64(len(s.fonts.Wrap(suretyLettering, line, columnWidth)))
	}
	if s.result.Headland.Depth > 0 {
		h += 18.5
	}
	return h
}

// suretyLettering is that of the lines on surety.
var suretyLettering = paper.Lettering{Size: 7, Grey: true}

// sureties says what the receiver's error and the log leave open.
func sureties(l words.Language, r coverage.Result) []string {
	n := r.Noise
	if r.Telling.Strips == coverage.GraspNone {
		return nil // said already
	}
	if n.PassErrorFrom == "" {
		return []string{l.Word("How sure a strip is, is not known: no receiver error given.")}
	}
	lines := []string{l.Say("Pass-to-pass error %.3f m (95 %%): missed %s to %s.", n.PassError, answer.Area(l, r.Telling.Missed[0]), answer.Area(l, r.Telling.Missed[1]))}
	return append(lines, l.Word("Numbers with ? are not certain."))
}

// headlandRows writes what the headland cost, and what the receiver leaves open; it gives how far down it came.
func (s *checkSetting) headlandRows(l *leaf, b paper.Box, y float64) float64 {
	small := paper.Lettering{Size: 7.5}
	if h := s.result.Headland; h.Depth > 0 {
		y += 6.5
		l.section(b.X, y, s.Say("Headland, %.2f m wide, %s", h.Depth, s.Digits(Area(h.Area))))
		for _, row := range []Row{s.table.Missed, s.table.Lifted, s.table.Twice} {
			y += 3.9
			l.cells(b, y, small, []float64{0, -0.78, -1}, l.Fonts.Fit(small, row.Words, b.W*0.78-l.Fonts.Width(small, row.M2)-1), row.M2, row.Share)
		}
	}
	y += 2.5
	for _, line := range sureties(s.Language, s.result) {
		y = l.Paragraph(b.X, y+3.3, b.W, 3.3, suretyLettering, line) - 3.3
	}
	return y
}
