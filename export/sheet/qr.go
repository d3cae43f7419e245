package sheet

import (
	"fmt"
	"strings"

	"balk/export/sheet/paper"

	"github.com/paulmach/orb"
	qr "github.com/piglig/go-qr"
)

// leastModule is how small in mm a square of a QR code may get so that a telephone
// at arm's length still reads a print of 300 dots to the inch: five dots (common
// practice, no source).
const leastModule = 0.42

// quietRim is how many light squares a code has around it (ISO/IEC 18004).
const quietRim = 4

// mostCode is how many letters a code may hold in any case: beyond, error correction
// suffers more from a folded sheet than the places are worth (common practice, no
// source).
const mostCode = 400

// geoURI is a place as RFC 5870 writes it: latitude first, WGS84. Six decimals are
// 0.1 m.
func geoURI(at orb.Point) string { return fmt.Sprintf("geo:%.6f,%.6f", at[1], at[0]) }

// placesCode is a QR code with the first of some places, one URI a line: as
// many as keep its squares readable on so many mm. It gives the code's squares
// with their quiet rim, true is dark, and how many places it holds.
func placesCode(places []orb.Point, side float64) (squares [][]bool, held int, err error) {
	var text strings.Builder
	for i, at := range places {
		if i > 0 {
			text.WriteByte('\n')
		}
		text.WriteString(geoURI(at))
		if text.Len() > mostCode {
			break
		}
		code, err := qr.EncodeText(text.String(), qr.Medium)
		if err != nil {
			return nil, 0, fmt.Errorf("QR code of %d places: %w", i+1, err)
		}
		n := code.Size() + 2*quietRim
		if side/float64(n) < leastModule {
			break
		}
		squares, held = make([][]bool, n), i+1
		for y := range n {
			squares[y] = make([]bool, n)
			for x := range n {
				squares[y][x] = code.Module(x-quietRim, y-quietRim) // light beyond the code
			}
		}
	}
	return squares, held, nil
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
