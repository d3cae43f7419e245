package sheet

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// hatching is how a kind of ground is drawn: a colour, and lines over it so that it
// can be told from the others on a grey print. The lines go by the page, so they
// run on from piece to piece.
type hatching struct {
	fill  string
	lines []hatchLines
	rim   pen
}

type hatchLines struct {
	turn, apart float64 // degrees counter-clockwise from the page's width; mm
	with        pen
}

const (
	black  = "#222222"
	straw  = "#E3CF9B"
	slate  = "#5B7A99"
	ink    = "#27364A"
	pink   = "#C2247F"
	orange = "#E08A1E"
)

// The marks of DESIGN section 6, on paper. Missed ground is plain and of a middle
// lightness; whatever else is as dark has lines.
var (
	onceMark    = hatching{fill: straw}
	twiceMark   = hatching{slate, []hatchLines{{45, 1.1, pen{colour: "#DCE5EE", width: 0.2}}}, pen{colour: slate, width: 0.1}}
	moreMark    = hatching{ink, []hatchLines{{45, 1.1, pen{colour: "#9FB2C8", width: 0.15}}, {-45, 1.1, pen{colour: "#9FB2C8", width: 0.15}}}, pen{colour: ink, width: 0.1}}
	missedMark  = hatching{fill: pink, rim: pen{colour: pink, width: 0.1}}
	unknownMark = hatching{"#F2F2F2", []hatchLines{{-45, 1.4, pen{colour: "#6F6F6F", width: 0.22}}}, pen{colour: "#6F6F6F", width: 0.2}}
	outsideMark = hatching{"#FFF4E3", []hatchLines{{60, 1.4, pen{colour: orange, width: 0.8}}}, pen{colour: "#B96B0C", width: 0.12}}
	noGoMark    = hatching{"#FFFFFF", []hatchLines{{0, 1.2, pen{colour: "#555555", width: 0.35, dash: []float64{0.35, 1.2}}}}, pen{colour: black, width: 0.35}}
)

// cover draws a kind of ground over rings on the page (even-odd).
func (l *Leaf) cover(rings []orb.LineString, h hatching) {
	l.fill(rings, h.fill)
	for _, lines := range h.lines {
		l.stroke(hatch(rings, lines.turn, lines.apart), lines.with)
	}
	if h.rim.width > 0 {
		l.stroke(rings, h.rim)
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
	hits := map[int][]float64{}
	for _, ring := range rings {
		for i := 1; i < len(ring); i++ {
			a, b := level(ring[i-1]), level(ring[i])
			if a[1] > b[1] {
				a, b = b, a
			}
			for k := int(math.Ceil(a[1] / apart)); float64(k)*apart < b[1]; k++ {
				hits[k] = append(hits[k], a[0]+(b[0]-a[0])*(float64(k)*apart-a[1])/(b[1]-a[1]))
			}
		}
	}
	var rows []int
	for k := range hits {
		rows = append(rows, k)
	}
	slices.Sort(rows)
	var out []orb.LineString
	for _, k := range rows {
		xs := hits[k]
		slices.Sort(xs)
		for i := 0; i+1 < len(xs); i += 2 {
			out = append(out, orb.LineString{page(xs[i], float64(k)*apart), page(xs[i+1], float64(k)*apart)})
		}
	}
	return out
}
