package sheet

import (
	"context"
	"fmt"
	"io"

	"balk/coverage"
	"balk/coverage/ground"
	"balk/coverage/turn"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// EndsPlan is a field with its row ends judged.
type EndsPlan struct {
	Title string
	Field []plane.Polygon
	Ends  turn.Ends
	Notes []string // lines below the legend
}

// EndsSVG draws where on a field the set can turn into the next row and where not.
// Errors: a field without extent; ctx done.
func EndsSVG(ctx context.Context, w io.Writer, p EndsPlan) error {
	f, err := newFrame(coverage.Result{Layers: ground.Layers{Field: p.Field}})
	if err != nil {
		return err
	}
	d := &drawing{frame: f}
	fmt.Fprintf(d, `<rect x="%d" y="%d" width="%d" height="%.0f" fill="#F7F7F4" stroke="#BBBBBB"/>`+"\n", mapLeft, mapTop, mapWidth, d.height)
	d.area("field", p.Field, `fill="#E3CF9B" fill-rule="evenodd"`)
	if p.Ends.HeadlandDepth > 0 {
		core, err := plane.Inset(ctx, p.Field, p.Ends.HeadlandDepth)
		if err != nil {
			return err
		}
		d.area("headland", core, `fill="none" stroke="#333333" stroke-width="1.1" stroke-dasharray="7 4"`)
	}
	for _, poly := range p.Field {
		for _, hole := range poly[1:] {
			d.area("obstacle", []plane.Polygon{{hole}}, `fill="url(#obstacle)" stroke="#222222" stroke-width="1.4"`)
		}
	}
	d.area("boundary", p.Field, `fill="none" stroke="#222222" stroke-width="1.6"`)
	for _, e := range p.Ends.Ends {
		at := d.pixel(e.At)
		if e.Turn.Feasible {
			d.feasibleTurn(at)
		}
	}
	for _, e := range p.Ends.Ends { // above the others
		if !e.Turn.Feasible {
			d.tightTurn(d.pixel(e.At))
		}
	}
	d.scaleBar()
	d.northArrow()
	body := d.take()

	d.text(margin, 40, 21, `font-weight="bold"`, shorten(p.Title, 88))
	y := float64(mapTop + 12)
	d.text(panelLeft, y, 13, `font-weight="bold"`, "Row ends")
	row := func(mark func(orb.Point), words string) {
		y += 21
		mark(orb.Point{panelLeft + 13, y - 4})
		d.text(panelLeft+36, y, 12, "", words)
	}
	row(d.feasibleTurn, fmt.Sprintf("%d: the set can turn into the next row", len(p.Ends.Ends)-p.Ends.Infeasible))
	row(d.tightTurn, fmt.Sprintf("%d: it cannot", p.Ends.Infeasible))
	y += 21
	fmt.Fprintf(d, `<path d="M%d %.1fh26" stroke="#333333" stroke-width="1.1" stroke-dasharray="7 4"/>`+"\n", panelLeft, y-4)
	d.text(panelLeft+36, y, 12, "", fmt.Sprintf("headland, %.2f m deep, %.1f %% of the field", p.Ends.HeadlandDepth, 100*p.Ends.HeadlandShare))
	y += 8
	for _, note := range p.Notes {
		for _, line := range wrap(note, 58) {
			y += 15
			d.text(panelLeft, y, 11, "", line)
		}
		y += 4
	}
	y += 8
	for _, line := range wrap(turnCaution, 62) {
		y += 14
		d.text(panelLeft, y, 10.5, `fill="#333333"`, line)
	}
	panel := d.take()

	height := max(y, f.top+f.height) + margin
	return document(w, sheetWidth, height, p.Title, patterns, body, panel)
}

// feasibleTurn is a small filled dot.
func (d *drawing) feasibleTurn(at orb.Point) {
	fmt.Fprintf(d, `<circle cx="%.1f" cy="%.1f" r="2.6" fill="#27364A"/>`+"\n", at[0], at[1])
}
