package sheet

import (
	"math"

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

	mapColour = "#F7F7F4" // of maps beyond the field
)

// The marks of DESIGN section 6, on paper. Missed ground is plain and of a middle
// lightness; whatever else is as dark has lines.
var (
	onceMark   = paper.Hatching{Fill: straw}
	twiceMark  = paper.Hatching{Fill: slate, Lines: []paper.HatchLines{{Turn: 45, Apart: 1.1, With: paper.Pen{Colour: "#DCE5EE", Width: 0.2}}}, Rim: paper.Pen{Colour: slate, Width: 0.1}}
	moreMark   = paper.Hatching{Fill: ink, Lines: []paper.HatchLines{{Turn: 45, Apart: 1.1, With: paper.Pen{Colour: "#9FB2C8", Width: 0.15}}, {Turn: -45, Apart: 1.1, With: paper.Pen{Colour: "#9FB2C8", Width: 0.15}}}, Rim: paper.Pen{Colour: ink, Width: 0.1}}
	missedMark = paper.Hatching{Fill: pink, Rim: paper.Pen{Colour: pink, Width: 0.1}}
	ribbonMark = paper.Hatching{Fill: "#B58F45", Rim: paper.Pen{Colour: "#7A5C1E", Width: 0.06}} // of worked once, darker
	// otherBarMark is of worked once, with dots: another bar of the set missed it.
	otherBarMark = paper.Hatching{Fill: straw, Lines: []paper.HatchLines{{Turn: 30, Apart: 1.1, With: paper.Pen{Colour: "#3F6B4F", Width: 0.4, Dash: []float64{0.4, 0.9}}}}, Rim: paper.Pen{Colour: "#3F6B4F", Width: 0.12}}
	unknownMark  = paper.Hatching{Fill: "#F2F2F2", Lines: []paper.HatchLines{{Turn: -45, Apart: 1.4, With: paper.Pen{Colour: "#6F6F6F", Width: 0.22}}}, Rim: paper.Pen{Colour: "#6F6F6F", Width: 0.2}}
	outsideMark  = paper.Hatching{Fill: "#FFF4E3", Lines: []paper.HatchLines{{Turn: 60, Apart: 1.4, With: paper.Pen{Colour: orange, Width: 0.8}}}, Rim: paper.Pen{Colour: "#B96B0C", Width: 0.12}}
	noGoMark     = paper.Hatching{Fill: "#FFFFFF", Lines: []paper.HatchLines{{Turn: 0, Apart: 1.6, With: paper.Pen{Colour: "#555555", Width: 0.35, Dash: []float64{0.35, 1.6}}}}, Rim: paper.Pen{Colour: paper.Black, Width: 0.35}}
)

// passesApart is the distance of passes on paper in mm from which their lines are
// drawn: nearer ones run together.
const passesApart = 1.0

// stressed is the mean width in metres from which a missed strip gets a line of
// its own colour around it, so that it shows on a large field. Narrower ones
// would look worse than they are.
const stressed = 0.10

// showMissed is how wide in mm a missed strip of some width (see stressed) is drawn at
// least, so that it shows on the map of a large field.
const showMissed = 0.35

// ground draws what became of the field within a view, and the view's frame.
func (l *leaf) ground(v view, r coverage.Result) {
	l.Fill(v.frame.Path(), mapColour)
	cover := func(words string, polys []plane.Polygon, h paper.Hatching) { // its name shows where someone points at it
		l.Group(paper.Group{Title: l.Word(words)}, func() { l.Cover(v.rings(polys), h) })
	}
	cover("worked outside", r.Layers.Outside, outsideMark)
	cover("worked once", r.Layers.Field, onceMark)
	if (r.Work.Width-r.Work.Overlap)*v.mm() >= passesApart {
		for _, p := range r.Passes {
			l.Stroke(v.lines(p.Line), paper.Pen{Colour: passLinePen.Colour, Width: 0.12})
		}
	}
	cover("worked twice", r.Layers.Double, twiceMark)
	cover("three times or more", r.Layers.Triple, moreMark)
	if r.Ribbons != nil {
		cover("uncut between sweeps", r.Ribbons.Shapes, ribbonMark)
	}
	if r.Bars != nil {
		cover("missed by another bar", r.Bars.Others, otherBarMark)
	}
	cover("unknown (log gap)", r.Layers.Unknown, unknownMark)
	cover("missed", r.Layers.Missed, missedMark)
	var wide []plane.Polygon
	for _, s := range r.Strips {
		if s.MeanWidth >= stressed && s.MeanWidth*v.mm() < showMissed {
			wide = append(wide, s.Shape)
		}
	}
	l.Stroke(v.rings(wide), paper.Pen{Colour: pink, Width: showMissed})
	l.rims(v, r.Layers.Field, r.Layers.Headland)
}

// field draws the ground of a field within a view, before anything is known of its work.
func (l *leaf) field(v view, field []plane.Polygon, colour string) {
	l.Fill(v.frame.Path(), mapColour)
	l.Fill(v.rings(field), colour)
}

// rims draws what bounds the work within a view, over the ground: obstacles, headland, boundary, the view's frame.
func (l *leaf) rims(v view, field, headland []plane.Polygon) {
	l.Cover(v.rings(obstacles(field)), noGoMark)
	l.Stroke(v.outlines(headland), headlandPen)
	l.Stroke(v.outlines(field), boundaryPen)
	l.Stroke(v.frame.Path(), framePen)
}

// obstacles are the holes of a field.
func obstacles(field []plane.Polygon) []plane.Polygon {
	var out []plane.Polygon
	for _, poly := range field {
		for i, ring := range poly {
			if i > 0 {
				out = append(out, plane.Polygon{ring})
			}
		}
	}
	return out
}

var (
	headlandPen = paper.Pen{Colour: "#333333", Width: 0.25, Dash: []float64{2, 1.2}}
	framePen    = paper.Pen{Colour: paper.Black, Width: 0.25}
	boundaryPen = paper.Pen{Colour: paper.Black, Width: 0.4}
	passLinePen = paper.Pen{Colour: "#A08A4E", Width: 0.2}
)

// tightRadius is how large a ring with a cross is, mm.
const tightRadius = 1.3

// tightTurn is a ring with a cross: a turn tighter than the set may turn, or one that does not fit. It is white inside, or,
// where that would hide something, not filled.
func (l *leaf) tightTurn(at orb.Point, filled bool) {
	l.crossedRing(at, tightRadius, filled, paper.Pen{Colour: paper.Black, Width: 0.35})
}

func (l *leaf) crossedRing(at orb.Point, radius float64, filled bool, with paper.Pen) {
	if filled {
		l.Fill([]orb.LineString{paper.Ring(at, radius)}, "#FFFFFF")
	}
	arm := radius * math.Sqrt2 / 2
	l.Stroke([]orb.LineString{paper.Ring(at, radius), {{at[0] - arm, at[1] - arm}, {at[0] + arm, at[1] + arm}}, {{at[0] - arm, at[1] + arm}, {at[0] + arm, at[1] - arm}}}, with)
}

// label writes words with white around them, so that they can be read over lines and patterns.
func (l *leaf) label(at orb.Point, t paper.Lettering, words string) {
	t.Halo = 0.9
	l.Text(at[0], at[1], t, words)
}
