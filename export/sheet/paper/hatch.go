package paper

import (
	"maps"
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// Hatching is how a kind of ground is drawn: a colour, and lines over it so that it
// can be told from the others on a grey print. The lines go by the page, so they
// run on from piece to piece.
type Hatching struct {
	Fill  string
	Lines []HatchLines
	Rim   Pen
}

type HatchLines struct {
	Turn, Apart float64 // degrees counter-clockwise from the page's width; mm
	With        Pen
}

// Black is the colour of lines and letters.
const Black = "#222222"

// Cover draws a kind of ground over rings on the page (even-odd).
func (l *Leaf) Cover(rings []orb.LineString, h Hatching) {
	l.Fill(rings, h.Fill)
	for _, lines := range h.Lines {
		l.Stroke(hatch(rings, lines.Turn, lines.Apart), lines.With)
	}
	if h.Rim.Width > 0 {
		l.Stroke(rings, h.Rim)
	}
}

// hatch is the parts within rings (even-odd) of parallel lines so far apart. The
// rings are turned so that the lines lie level; each side then meets the lines
// between its two ends.
//
//  1. The sum of the lengths times their distance tends to the area.
//  2. Lines lie at whole multiples of their distance from the page's corner.
func hatch(rings []orb.LineString, turn, apart float64) []orb.LineString {
	sin, cos := math.Sincos(turn * math.Pi / 180)
	level := func(p orb.Point) orb.Point { return orb.Point{p[0]*cos - p[1]*sin, p[0]*sin + p[1]*cos} }
	page := func(x, y float64) orb.Point { return orb.Point{x*cos + y*sin, -x*sin + y*cos} }
	// above is the first line at a height or over it: as a product, whatever the quotient is rounded to, so that a side that lies
	// along a line meets none.
	above := func(y float64) int {
		k := int(math.Ceil(y / apart))
		for float64(k)*apart < y {
			k++
		}
		for float64(k-1)*apart >= y {
			k--
		}
		return k
	}
	hits := map[int][]float64{}
	for _, ring := range rings {
		for i := 1; i < len(ring); i++ {
			a, b := level(ring[i-1]), level(ring[i])
			if a[1] > b[1] {
				a, b = b, a
			}
			for k, end := above(a[1]), above(b[1]); k < end; k++ {
				hits[k] = append(hits[k], a[0]+(b[0]-a[0])*(float64(k)*apart-a[1])/(b[1]-a[1]))
			}
		}
	}
	var out []orb.LineString
	for _, k := range slices.Sorted(maps.Keys(hits)) {
		xs := hits[k]
		slices.Sort(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			out = append(out, orb.LineString{page(xs[i], float64(k)*apart), page(xs[i+1], float64(k)*apart)})
		}
	}
	return out
}
