package paper

import (
	"image/color"

	"github.com/go-text/typesetting/font/opentype"
	"github.com/paulmach/orb"
)

// words are a line of text in its place on a leaf.
type words struct {
	at       orb.Point // of the base line, where the text is aligned to
	sin, cos float64   // of how it is turned, counter-clockwise
	shift    float64   // mm from there to the line's left end
	width    float64   // mm
	how      Lettering
	colour   color.NRGBA
	line     []piece
	said     string // the letters in the order read
}

// place is a place on the page from one in the line: so far along it from its left end and up from its base line, mm.
func (w words) place(along, up float64) orb.Point {
	along += w.shift
	return orb.Point{w.at[0] + along*w.cos - up*w.sin, w.at[1] - along*w.sin - up*w.cos}
}

// unit is how long a unit of a piece's font is, mm.
func (w words) unit(p piece) float64 { return w.how.Size * point / float64(p.face.Upem()) }

// Heights of a line of text above and below its base line, in its size: those of most letters with their marks.
const above, below = 0.76, 0.24

// box is what the line takes.
func (w words) box() Box {
	up, down := above*w.how.Size*point, below*w.how.Size*point
	b := orb.MultiPoint{w.place(0, -down), w.place(w.width, -down), w.place(w.width, up), w.place(0, up)}.Bound()
	return Box{b.Min[0], b.Min[1], b.Max[0] - b.Min[0], b.Max[1] - b.Min[1]}
}

// outline is the outline of some pieces of the line on the page, in mm.
func (w words) outline(line ...piece) []opentype.Segment {
	var out []opentype.Segment
	for _, p := range line {
		unit := w.unit(p)
		for _, g := range p.glyphs {
			for _, s := range p.face.outline(g.id) {
				args := s.ArgsSlice()
				for i, a := range args {
					at := w.place(p.x+(g.x+float64(a.X))*unit, (g.y+float64(a.Y))*unit)
					args[i] = opentype.SegmentPoint{X: float32(at[0]), Y: float32(at[1])}
				}
				out = append(out, s)
			}
		}
	}
	return out
}
