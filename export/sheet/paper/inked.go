package paper

import (
	"github.com/paulmach/orb"
	"github.com/tdewolff/canvas"
	"github.com/tdewolff/canvas/renderers/rasterizer"
)

// inked draws lines as dots of a picture, out of a box for every step and what joins them.
//
// The library makes one outline of a whole line. That outline is cut out of itself where the line bends
// sharply, for which the library joins nearly parallel edges and then looks for the edge that it joined: with steps of a few
// hundredths of a millimetre, as thin strips have them, it panics. Boxes need no cutting: all of them run the same way
// round, so that what they cover together is what a picture fills.
type inked struct {
	*rasterizer.Rasterizer
	resolution canvas.Resolution
}

func (r inked) RenderPath(p *canvas.Path, style canvas.Style, m canvas.Matrix) {
	with := style
	style.Stroke = canvas.Paint{}
	if style.HasFill() {
		r.Rasterizer.RenderPath(p, style, m)
	}
	if !with.HasStroke() {
		return
	}
	if len(with.Dashes) > 0 {
		offset, dashes := canvas.ScaleDash(with.StrokeWidth, with.DashOffset, with.Dashes)
		p = p.Dash(offset, dashes...)
	}
	_, round := with.StrokeJoiner.(canvas.RoundJoiner)
	style.Fill, style.FillRule = with.Stroke, canvas.NonZero
	if ink := inkOf(p, with.StrokeWidth/2, round); !ink.Empty() {
		r.Rasterizer.RenderPath(ink, style, m)
	}
}

func (r inked) RenderText(t *canvas.Text, m canvas.Matrix) {
	t.RenderAsPath(r, m, r.resolution)
}

// inkOf is the ground of lines half on each side, as pieces that all run counter-clockwise: a box for each
// step, and a bevel or, if round, a disc at each corner, round at the ends too.
func inkOf(p *canvas.Path, half float64, round bool) *canvas.Path {
	ink := &canvas.Path{}
	piece := func(pts ...canvas.Point) {
		ink.MoveTo(pts[0].X, pts[0].Y)
		for _, q := range pts[1:] {
			ink.LineTo(q.X, q.Y)
		}
		ink.Close()
	}
	corner := func(at, before, behind canvas.Point) { // of steps whose left sides are so far off
		switch turn := before.PerpDot(behind); {
		case turn > 0:
			piece(at, at.Sub(before), at.Sub(behind))
		case turn < 0:
			piece(at, at.Add(behind), at.Add(before))
		}
	}
	disc := func(at canvas.Point) {
		var pts []canvas.Point
		for _, q := range Ring(orb.Point{at.X, at.Y}, half)[1:] {
			pts = append(pts, canvas.Point{X: q[0], Y: q[1]})
		}
		piece(pts...)
	}
	for _, line := range p.Split() {
		pts := line.Coords()
		var first, last canvas.Point // left sides of the first and last step
		drawn := false
		for i, b := range pts {
			if round {
				disc(b)
			}
			if i == 0 || b.Equals(pts[i-1]) {
				continue
			}
			a := pts[i-1]
			left := b.Sub(a).Rot90CCW().Norm(half)
			piece(a.Sub(left), b.Sub(left), b.Add(left), a.Add(left))
			switch {
			case !drawn:
				first, drawn = left, true
			case !round:
				corner(a, last, left)
			}
			last = left
		}
		if line.Closed() && drawn && !round {
			corner(pts[0], last, first)
		}
	}
	return ink
}
