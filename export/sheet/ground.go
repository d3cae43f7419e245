package sheet

import (
	"balk/coverage"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// passesApart is the distance of passes on paper in mm from which their lines are
// drawn: nearer ones run together.
const passesApart = 1.0

// showMissed is how wide in mm a missed strip of some width (see stressed) is drawn at
// least, so that it shows on the map of a large field.
const showMissed = 0.35

// ground draws what became of the field within a view, and the view's frame.
func (l *Leaf) ground(v view, r coverage.Result) {
	l.fill(v.frame.path(), "#F7F7F4")
	l.cover(v.rings(r.Layers.Outside), outsideMark)
	l.fill(v.rings(r.Layers.Field), straw)
	if (r.Work.Width-r.Work.Overlap)*v.mm() >= passesApart {
		for _, p := range r.Passes {
			l.stroke(v.lines(p.Line), pen{colour: passLinePen.colour, width: 0.12})
		}
	}
	l.cover(v.rings(r.Layers.Double), twiceMark)
	l.cover(v.rings(r.Layers.Triple), moreMark)
	l.cover(v.rings(r.Layers.Unknown), unknownMark)
	l.cover(v.rings(r.Layers.Missed), missedMark)
	var wide []plane.Polygon
	for _, s := range r.Strips {
		if s.MeanWidth >= stressed && s.MeanWidth*v.mm() < showMissed {
			wide = append(wide, s.Shape)
		}
	}
	l.stroke(v.rings(wide), pen{colour: pink, width: showMissed})
	var holes []plane.Polygon
	for _, poly := range r.Layers.Field {
		for i, ring := range poly {
			if i > 0 {
				holes = append(holes, plane.Polygon{ring})
			}
		}
	}
	l.cover(v.rings(holes), noGoMark)
	l.stroke(v.outlines(r.Layers.Headland), headlandPen)
	l.stroke(v.outlines(r.Layers.Field), boundaryPen)
	l.stroke(v.frame.path(), pen{colour: black, width: 0.25})
}

var (
	headlandPen = pen{colour: "#333333", width: 0.25, dash: []float64{2, 1.2}}
	boundaryPen = pen{colour: black, width: 0.4}
	passLinePen = pen{colour: "#A08A4E", width: 0.2}
)

// tightRadius is how large a ring with a cross is, mm.
const tightRadius = 1.3

// tightTurn is a ring with a cross: a turn tighter than the set may turn. It is white inside, or, where that would
// hide something, not filled.
func (l *Leaf) tightTurn(at orb.Point, filled bool) {
	const arm = 0.92 // mm
	if filled {
		l.fill([]orb.LineString{ring(at, tightRadius)}, "#FFFFFF")
	}
	l.stroke([]orb.LineString{ring(at, tightRadius), {{at[0] - arm, at[1] - arm}, {at[0] + arm, at[1] + arm}}, {{at[0] - arm, at[1] + arm}, {at[0] + arm, at[1] - arm}}},
		pen{colour: black, width: 0.35})
}
