package sheet

import (
	"strings"

	"balk/export/sheet/paper"
)

// How large a QR code is printed, in mm: by itself, and beside the words under a detail map.
const (
	codeSide       = 24.0
	detailCodeSide = 20.0
)

// side draws the QR code, remarks and the lines to write on and sign; beside each
// other where the box is wide.
func (s *checkSetting) side(l *leaf, b paper.Box) {
	const wide, codeRoom = 150.0, 70.0 // mm
	code := b
	if b.W > wide {
		code.W = codeRoom
	}
	h := s.codeWithWords(l, code)
	if b.W > wide && h > 0 {
		b.X, b.W = b.X+codeRoom+partGap, b.W-codeRoom-partGap
	} else {
		b.Y, b.H = b.Y+h, b.H-h
	}
	s.remarks(l, b)
}

// codeWithWords draws the QR code of the first strip and what it does, and gives the height taken.
func (s *checkSetting) codeWithWords(l *leaf, b paper.Box) float64 {
	if s.details == 0 {
		return 0
	}
	words := s.Say("The code opens strip %d on the map of a telephone (geo: URI, RFC 5870).", s.result.Strips[0].Number)
	if s.details > 1 {
		words += " " + s.Say("Each of the %d largest has its own on page 2.", s.details)
	}
	l.figure(words, func() { l.code(paper.Rect(b.X, b.Y, codeSide, codeSide), s.codes[0]) })
	l.Paragraph(b.X+codeSide+3, b.Y+4, b.W-codeSide-3, 3.6, paper.Lettering{Size: 7.5}, words)
	return codeSide + 3
}

// remarks writes the remarks, lines to write on, and where to sign.
func (s *setting) remarks(l *leaf, b paper.Box) {
	const sign, step, ruled = 15.0, 3.5, 6.5 // mm
	l.section(b.X, b.Y+3, s.Word("Remarks"))
	y, bottom := b.Y+7, b.Y+b.H-sign
	t := paper.Lettering{Size: 7.5}
	lines := l.Fonts.Wrap(t, s.page.Remarks, b.W)
	for i, line := range lines {
		if y+step > bottom && i+1 < len(lines) {
			s.rest = strings.Join(lines[i:], " ")
			l.Text(b.X, y, paper.Lettering{Size: 7, Grey: true}, s.Word("continued on the last page"))
			y += step
			break
		}
		l.Text(b.X, y, t, line)
		y += step
	}
	for y += 2; y < bottom; y += ruled {
		l.Line(b.X, y, b.X+b.W, y, paper.Pen{Colour: "#777777", Width: 0.12})
	}
	end := b.Y + b.H - 4
	half := (b.W - 6) * 0.35
	l.Line(b.X, end, b.X+half, end, paper.Pen{Colour: paper.Black, Width: 0.15})
	l.Line(b.X+half+6, end, b.X+b.W, end, paper.Pen{Colour: paper.Black, Width: 0.15})
	l.Text(b.X, end+3.2, paper.Lettering{Size: 6.5, Grey: true}, s.Word("date"))
	l.Text(b.X+half+6, end+3.2, paper.Lettering{Size: 6.5, Grey: true}, s.Word("signature"))
}

// remarksPage goes on with remarks that the first page has no room for.
func (s *setting) remarksPage() *leaf {
	l := s.newLeaf()
	y := s.pageHead(l, s.Word("Remarks, continued"))
	l.Paragraph(paperMargin, y+4, s.inner().W, 4, paper.Lettering{Size: 8.5}, s.rest)
	return l
}
