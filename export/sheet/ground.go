package sheet

import (
	"balk/coverage"
	"balk/export/sheet/paper"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

const (
	straw  = "#E3CF9B"
	slate  = "#5B7A99"
	ink    = "#27364A"
	pink   = "#C2247F"
	orange = "#E08A1E"
)

// The marks of DESIGN section 6, on paper. Missed ground is plain and of a middle
// lightness; whatever else is as dark has lines.
var (
	onceMark    = paper.Hatching{Fill: straw}
	twiceMark   = paper.Hatching{Fill: slate, Lines: []paper.HatchLines{{Turn: 45, Apart: 1.1, With: paper.Pen{Colour: "#DCE5EE", Width: 0.2}}}, Rim: paper.Pen{Colour: slate, Width: 0.1}}
	moreMark    = paper.Hatching{Fill: ink, Lines: []paper.HatchLines{{Turn: 45, Apart: 1.1, With: paper.Pen{Colour: "#9FB2C8", Width: 0.15}}, {Turn: -45, Apart: 1.1, With: paper.Pen{Colour: "#9FB2C8", Width: 0.15}}}, Rim: paper.Pen{Colour: ink, Width: 0.1}}
	missedMark  = paper.Hatching{Fill: pink, Rim: paper.Pen{Colour: pink, Width: 0.1}}
	unknownMark = paper.Hatching{Fill: "#F2F2F2", Lines: []paper.HatchLines{{Turn: -45, Apart: 1.4, With: paper.Pen{Colour: "#6F6F6F", Width: 0.22}}}, Rim: paper.Pen{Colour: "#6F6F6F", Width: 0.2}}
	outsideMark = paper.Hatching{Fill: "#FFF4E3", Lines: []paper.HatchLines{{Turn: 60, Apart: 1.4, With: paper.Pen{Colour: orange, Width: 0.8}}}, Rim: paper.Pen{Colour: "#B96B0C", Width: 0.12}}
	noGoMark    = paper.Hatching{Fill: "#FFFFFF", Lines: []paper.HatchLines{{Turn: 0, Apart: 1.2, With: paper.Pen{Colour: "#555555", Width: 0.35, Dash: []float64{0.35, 1.2}}}}, Rim: paper.Pen{Colour: paper.Black, Width: 0.35}}
)

// passesApart is the distance of passes on paper in mm from which their lines are
// drawn: nearer ones run together.
const passesApart = 1.0

// showMissed is how wide in mm a missed strip of some width (see stressed) is drawn at
// least, so that it shows on the map of a large field.
const showMissed = 0.35

// ground draws what became of the field within a view, and the view's frame.
func (l *leaf) ground(v view, r coverage.Result) {
	l.Fill(v.frame.Path(), "#F7F7F4")
	l.Cover(v.rings(r.Layers.Outside), outsideMark)
	l.Fill(v.rings(r.Layers.Field), straw)
	if (r.Work.Width-r.Work.Overlap)*v.mm() >= passesApart {
		for _, p := range r.Passes {
			l.Stroke(v.lines(p.Line), paper.Pen{Colour: passLinePen.Colour, Width: 0.12})
		}
	}
	l.Cover(v.rings(r.Layers.Double), twiceMark)
	l.Cover(v.rings(r.Layers.Triple), moreMark)
	l.Cover(v.rings(r.Layers.Unknown), unknownMark)
	l.Cover(v.rings(r.Layers.Missed), missedMark)
	var wide []plane.Polygon
	for _, s := range r.Strips {
		if s.MeanWidth >= stressed && s.MeanWidth*v.mm() < showMissed {
			wide = append(wide, s.Shape)
		}
	}
	l.Stroke(v.rings(wide), paper.Pen{Colour: pink, Width: showMissed})
	var holes []plane.Polygon
	for _, poly := range r.Layers.Field {
		for i, ring := range poly {
			if i > 0 {
				holes = append(holes, plane.Polygon{ring})
			}
		}
	}
	l.Cover(v.rings(holes), noGoMark)
	l.Stroke(v.outlines(r.Layers.Headland), headlandPen)
	l.Stroke(v.outlines(r.Layers.Field), boundaryPen)
	l.Stroke(v.frame.Path(), paper.Pen{Colour: paper.Black, Width: 0.25})
}

var (
	headlandPen = paper.Pen{Colour: "#333333", Width: 0.25, Dash: []float64{2, 1.2}}
	boundaryPen = paper.Pen{Colour: paper.Black, Width: 0.4}
	passLinePen = paper.Pen{Colour: "#A08A4E", Width: 0.2}
)

// tightRadius is how large a ring with a cross is, mm.
const tightRadius = 1.3

// tightTurn is a ring with a cross: a turn tighter than the set may turn. It is white inside, or, where that would
// hide something, not filled.
func (l *leaf) tightTurn(at orb.Point, filled bool) {
	const arm = 0.92 // mm
	if filled {
		l.Fill([]orb.LineString{paper.Ring(at, tightRadius)}, "#FFFFFF")
	}
	l.Stroke([]orb.LineString{paper.Ring(at, tightRadius), {{at[0] - arm, at[1] - arm}, {at[0] + arm, at[1] + arm}}, {{at[0] - arm, at[1] + arm}, {at[0] + arm, at[1] - arm}}},
		paper.Pen{Colour: paper.Black, Width: 0.35})
}
