package sheet

import (
	"strings"
)

// codeSide is how large a QR code is printed, in mm.
const codeSide = 32.0

// side draws the QR code, remarks and the lines to write on and sign; beside each
// other where the box is wide.
func (s *setting) side(l *Leaf, b rect) {
	const wide, codeRoom = 150.0, 70.0 // mm
	code := b
	if b.w > wide {
		code.w = codeRoom
	}
	h := s.codeWithWords(l, code)
	if b.w > wide && h > 0 {
		b.x, b.w = b.x+codeRoom+partGap, b.w-codeRoom-partGap
	} else {
		b.y, b.h = b.y+h, b.h-h
	}
	s.remarks(l, b)
}

// codeWithWords draws the QR code and what it holds, and gives the height taken.
func (s *setting) codeWithWords(l *Leaf, b rect) float64 {
	if s.held == 0 {
		return 0
	}
	l.code(rect{b.x, b.y, codeSide, codeSide}, s.squares)
	n := len(s.result.Strips)
	words := s.say("The code holds the places of the %d largest of %d strips", s.held, n)
	switch {
	case n == 1:
		words = s.word("The code holds the place of the strip")
	case s.held == n:
		words = s.say("The code holds the places of all %d strips", n)
	}
	words += s.word(", as geo: URIs (RFC 5870), one a line: a telephone shows them as text and opens each on its map.")
	l.paragraph(b.x+codeSide+3, b.y+4, b.w-codeSide-3, 3.6, lettering{size: 7.5}, words)
	return codeSide + 3
}

// remarks writes the remarks, lines to write on, and where to sign.
func (s *setting) remarks(l *Leaf, b rect) {
	const sign, step, ruled = 15.0, 3.5, 6.5 // mm
	l.text(b.x, b.y+3, lettering{size: 9, bold: true}, s.word("Remarks"))
	y, bottom := b.y+7, b.y+b.h-sign
	t := lettering{size: 7.5}
	lines := l.fonts.wrap(t, s.page.Remarks, b.w)
	for i, line := range lines {
		if y+step > bottom && i+1 < len(lines) {
			s.rest = strings.Join(lines[i:], " ")
			l.text(b.x, y, lettering{size: 7, grey: true}, s.word("continued on the last page"))
			y += step
			break
		}
		l.text(b.x, y, t, line)
		y += step
	}
	for y += 2; y < bottom; y += ruled {
		l.line(b.x, y, b.x+b.w, y, pen{colour: "#777777", width: 0.12})
	}
	end := b.y + b.h - 4
	half := (b.w - 6) * 0.35
	l.line(b.x, end, b.x+half, end, pen{colour: black, width: 0.15})
	l.line(b.x+half+6, end, b.x+b.w, end, pen{colour: black, width: 0.15})
	l.text(b.x, end+3.2, lettering{size: 6.5, grey: true}, s.word("date"))
	l.text(b.x+half+6, end+3.2, lettering{size: 6.5, grey: true}, s.word("signature"))
}

// remarksPage goes on with remarks that the first page has no room for.
func (s *setting) remarksPage() *Leaf {
	l := newLeaf(s.w, s.h, s.fonts)
	y := s.pageHead(l, s.word("Remarks, continued"))
	l.paragraph(paperMargin, y+4, s.inner().w, 4, lettering{size: 8.5}, s.rest)
	return l
}
