package sheet

import (
	"fmt"

	"balk/export/sheet/paper"

	"github.com/paulmach/orb"
	qr "github.com/piglig/go-qr"
)

// leastModule is how small in mm a square of a QR code may be printed so that a telephone held at arm's length,
// 0.6 m, reads it: a camera of 4000 dots across 65° sees 5 dots a mm there, 3 for a square (from memory, no source).
const leastModule = 0.57

// quietRim is how many light squares a code has around it (ISO/IEC 18004).
const quietRim = 4

// geoURI is a place as RFC 5870 writes it: latitude first, WGS84. Six decimals are
// 0.1 m.
func geoURI(at orb.Point) string { return fmt.Sprintf("geo:%.6f,%.6f", at[1], at[0]) }

// placeCode is the QR code of one place, as telephones open it on their map: of several lines they make a text that leads
// nowhere. It has 25 by 25 squares wherever the place is, and the quiet rim around them; true is dark.
func placeCode(at orb.Point) ([][]bool, error) {
	code, err := qr.EncodeText(geoURI(at), qr.Medium)
	if err != nil {
		return nil, fmt.Errorf("QR code of a place: %w", err)
	}
	n := code.Size() + 2*quietRim
	squares := make([][]bool, n)
	for y := range n {
		squares[y] = make([]bool, n)
		for x := range n {
			squares[y][x] = code.Module(x-quietRim, y-quietRim) // light beyond the code
		}
	}
	return squares, nil
}

// code draws the squares of a QR code.
func (l *leaf) code(b paper.Box, squares [][]bool) {
	m := b.W / float64(len(squares))
	var dark []orb.LineString
	for row, line := range squares {
		for from := 0; from < len(line); {
			to := from
			for to < len(line) && line[to] == line[from] {
				to++
			}
			if line[from] {
				dark = append(dark, paper.Rect(b.X+float64(from)*m, b.Y+float64(row)*m, float64(to-from)*m, m).Path()...)
			}
			from = to
		}
	}
	l.Fill(b.Path(), "#FFFFFF")
	l.Fill(dark, "#000000")
}
