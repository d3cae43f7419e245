package job

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"

	"balk/coverage/turn"
	"balk/export/sheet"
	"balk/export/sheet/paper"
	"balk/export/vector"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// The files of a folder about turning beside the drawings.
const (
	endsMap   = "row-ends.svg"
	endsLayer = "row-ends.geojson"
)

// write puts drawings, row ends and the report into the folder.
func (r *TurnReport) write(ctx context.Context, call *Call) error {
	files, err := r.drawings(ctx)
	if err != nil {
		return err
	}
	if f := r.Field; f != nil {
		plan := sheet.EndsPlan{Field: f.ground, Ground: f.plane, Bearing: f.Bearing, Ends: f.Ends, Least: f.Least}
		files = append(append(files, r.Spec.Pictures.drawing(endsMap, func() (*paper.Leaf, error) { return sheet.RowEnds(ctx, plan, r.Spec.page()) })...),
			output{name: endsLayer, write: func(w io.Writer) error { return vector.WriteGeoJSON(w, f.layer()) }})
	}
	return call.fill(ctx, r.Spec.Out, "turn", files, &r.Placed, func(w io.Writer) error { return r.JSON(w) })
}

// turnDrawing is the name of the drawing of a turn over so many rows.
func turnDrawing(skip int, kind turn.Kind) string {
	return fmt.Sprintf("turn-%d-%s.svg", skip+1, strings.ReplaceAll(strings.ToLower(string(kind)), " ", "-"))
}

// names are those of the files that will be written, and of the drawings there may be.
func (s TurnSpec) names() targets {
	names := targets{sure: []string{reportFile}}
	if s.Boundary != "" {
		names.sure = append(names.sure, endsMap, endsLayer)
	}
	for skip := range s.MostSkip + 1 {
		for _, kind := range turn.Kinds() {
			names.perhaps = append(names.perhaps, turnDrawing(skip, kind))
		}
	}
	return targets{s.Pictures.with(names.sure), s.Pictures.with(names.perhaps)}
}

// wide is half the width of the straight room that a turn is drawn in, m.
const wide = 500.0

// drawings are the turns that have a path: into the next row all kinds, into others
// the quickest.
func (r *TurnReport) drawings(ctx context.Context) ([]output, error) {
	room, err := turn.NewRoom([]plane.Polygon{{{{X: -wide, Y: -wide}, {X: wide, Y: -wide}, {X: wide, Y: r.Headland}, {X: -wide, Y: r.Headland}}}})
	if err != nil {
		return nil, err
	}
	var files []output
	for _, p := range r.Patterns {
		for _, t := range p.Turns {
			if t.Length == 0 || p.Skip > 0 && t.Kind != p.Best {
				continue
			}
			line := turn.Line{From: turn.Pose{Heading: math.Pi / 2}, Distance: p.RowDistance, Left: t.Side != "right"}
			drawn, err := turn.Judge(ctx, t.Kind, line, r.Spec.Implement, room)
			if err != nil {
				return nil, err
			}
			if drawn.Driven == nil {
				continue
			}
			drawn.Skip = t.Skip
			ground, err := drawn.Driven.Swept(ctx)
			if err != nil {
				return nil, err
			}
			plan := sheet.TurnPlan{Implement: r.Spec.Implement, Line: line, Turn: drawn, Ground: ground, Headland: r.Headland}
			files = append(files, r.Spec.Pictures.drawing(turnDrawing(p.Skip, t.Kind), func() (*paper.Leaf, error) { return sheet.Turn(plan, r.Spec.page()) })...)
		}
	}
	return files, nil
}

// layer is the row ends as points.
func (f FieldTurns) layer() vector.Layer {
	l := vector.Layer{
		Name: "row_ends", Title: "Row ends", Kind: vector.Points, Label: "row", Style: vector.Style{Line: "#222222", Width: 1},
		Columns: []vector.Property{
			{Name: "row", Holds: vector.Whole}, {Name: "into", Title: "next row", Holds: vector.Whole},
			{Name: "far", Title: "at the far end", Holds: vector.Truth}, {Name: "feasible", Holds: vector.Truth},
			{Name: "kind", Title: "turn", Holds: vector.Words}, {Name: "why", Holds: vector.Words},
			{Name: "spare_m", Title: "spare", Unit: "m", Holds: vector.Number, Decimals: 2},
			{Name: "depth_m", Title: "depth needed", Unit: "m", Holds: vector.Number, Decimals: 2},
			{Name: "time_s", Title: "time", Unit: "s", Holds: vector.Number, Decimals: 0},
			{Name: "earlier_m", Title: "feasible if the rows end so much earlier", Unit: "m", Holds: vector.Number, Decimals: 2},
			{Name: "leave", Title: "feasible if so many rows are left for later", Holds: vector.Whole},
		},
	}
	for i, e := range f.Ends.Ends {
		var earlier float64
		var leave int
		if e.WayOut != nil {
			earlier, leave = e.WayOut.Deeper, e.WayOut.Skip
		}
		l.Features = append(l.Features, vector.Feature{Geometry: orb.Point(f.Places[i]),
			Row: []any{e.Row, e.Next, e.Far, e.Turn.Feasible, string(e.Turn.Kind), e.Turn.Why, e.Turn.Spare, e.Turn.Depth, e.Turn.Time, earlier, leave}})
	}
	return vector.Marked(l)
}
