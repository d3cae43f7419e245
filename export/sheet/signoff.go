package sheet

import (
	"fmt"
	"strings"
)

// codeSide is how large a QR code is printed, in mm.
const codeSide = 32.0

// side draws the QR code, remarks and the lines to write on and sign.
func (s *setting) side(l *Leaf, b rect) {
	y := b.y
	if squares, held, err := placesCode(s.result.Strips, codeSide); err == nil && held > 0 {
		l.code(rect{b.x, y, codeSide, codeSide}, squares)
		words := fmt.Sprintf("The code holds the places of the %d largest of %d strips", held, len(s.result.Strips))
		if held == len(s.result.Strips) {
			words = fmt.Sprintf("The code holds the places of all %d strips", held)
			if held == 1 {
				words = "The code holds the place of the strip"
			}
		}
		words += ", as geo: URIs (RFC 5870), one a line: a telephone shows them as text and opens each on its map."
		l.paragraph(b.x+codeSide+3, y+4, b.w-codeSide-3, 3.6, lettering{size: 7.5}, words)
		y += codeSide + 3
	} else if err != nil {
		y = l.paragraph(b.x, y+3, b.w, 3.6, lettering{size: 7.5}, "No QR code: "+err.Error()+".") + 2
	}
	l.text(b.x, y+3, lettering{size: 9, bold: true}, "Remarks")
	y += 7
	const sign, step, ruled = 15.0, 3.5, 6.5
	bottom := b.y + b.h - sign
	t := lettering{size: 7.5}
	lines := l.fonts.wrap(t, s.page.Remarks, b.w)
	for i, line := range lines {
		if y+step > bottom && i+1 < len(lines) {
			s.rest = strings.Join(lines[i:], " ")
			l.text(b.x, y, lettering{size: 7, grey: true}, "goes on on the last page")
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
	l.text(b.x, end+3.2, lettering{size: 6.5, grey: true}, "date")
	l.text(b.x+half+6, end+3.2, lettering{size: 6.5, grey: true}, "signature")
}
