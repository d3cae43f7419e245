package sheet

import (
	"context"

	"balk/coverage/turn"
	"balk/export/sheet/paper"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// EndsPlan is a field with its row ends judged.
type EndsPlan struct {
	Field   geo.Field
	Ground  []plane.Polygon // the field on its plane
	Bearing geo.Bearing     // of the rows
	Ends    turn.Ends
	Least   turn.Least // the least headland with which all ends are feasible
}

// RowEnds draws where on a field the set can turn into the next row and where not.
// Errors: a field without extent; ctx done; page is not valid.
func RowEnds(ctx context.Context, e EndsPlan, page Page) (*paper.Leaf, error) {
	l := page.Language
	p, err := newPicture(page, l.Say("%s: turning at the row ends, rows at %.0f°", fieldName(e.Field, l), float64(e.Bearing)), "")
	if err != nil {
		return nil, err
	}
	hull, err := outlineOf(e.Ground)
	if err != nil {
		return nil, err
	}
	core, err := plane.Inset(ctx, e.Ground, e.Ends.HeadlandDepth)
	if err != nil {
		return nil, err
	}
	frame := p.room
	frame.H -= 8 // for the scale bar
	views := viewsOf(frame, hull)
	north, size := northWindow(views, e.Ground, nil)
	for k, v := range views {
		p.field(v, e.Ground, straw)
		p.rims(v, e.Ground, core)
		for _, feasible := range []bool{true, false} { // those that are not above the others
			for _, one := range e.Ends.Ends {
				if one.Turn.Feasible == feasible && windowOf(views, one.At) == k {
					p.rowEnd(v.at(one.At), feasible)
				}
			}
		}
		if k == north {
			p.northArrow(v, e.Ground, nil, size, nil)
		}
	}
	last := views[len(views)-1].frame
	p.scaleBar(last.X, last.Y+last.H+6, last.W/noteShare, views[0])

	p.heading(p.Word("Row ends"))
	dot := key{words: p.Say("%d: the set can turn into the next row", len(e.Ends.Ends)-e.Ends.Infeasible), wide: 8, sample: func(l *leaf, x, y float64) { l.rowEnd(orb.Point{x + 4, y - 1}, true) }}
	cross := dot
	cross.words, cross.sample = p.Say("%d: it cannot", e.Ends.Infeasible), func(l *leaf, x, y float64) { l.rowEnd(orb.Point{x + 4, y - 1}, false) }
	p.y = p.keys(p.column, p.y+1, []key{dot, cross, lineKey(p.Say("headland, %.2f m wide, %.1f %% of the field", e.Ends.HeadlandDepth, 100*e.Ends.HeadlandShare), headlandPen)})
	least := p.Say("No headland up to %.1f m makes all row ends feasible.", e.Least.Limit)
	if e.Least.Found {
		least = p.Say("All row ends are feasible from a headland of %.2f m on, which takes %s, %.1f %% of the field.", e.Least.Depth, p.Digits(Area(e.Least.Ends.Headland)), 100*e.Least.Ends.HeadlandShare)
	}
	p.y += 2
	p.words(paper.Lettering{Size: 8}, 3.8, least)
	p.caution(p.BeforeWork())
	return p.Leaf, nil
}

// rowEnd is a small dot where the set can turn, else a ring with a cross.
func (l *leaf) rowEnd(at orb.Point, feasible bool) {
	if feasible {
		l.Fill([]orb.LineString{paper.Ring(at, 0.7)}, ink)
	} else {
		l.tightTurn(at, true)
	}
}
