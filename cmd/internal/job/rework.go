package job

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"slices"
	"strings"

	"balk/coverage"
	"balk/coverage/rework"
	"balk/coverage/rig"
	"balk/export/vector"
	"balk/export/words"
	"balk/geo"
	"balk/geo/workers"

	"github.com/paulmach/orb"
)

// reworkNames are the names of the files of a re-work plan.
var reworkNames = []string{"rework.geojson", "rework.kml", "rework.gpx", "rework.json"}

// rework plans the re-work and gives its files, and its passes as lines to drive
// along: none where nothing is missed, or
// where the implement is not described well enough, or the log cannot tell strips, which is said.
func (s HandoverSpec) rework(ctx context.Context, rep *Report, c *coverage.Result) ([]output, []vector.Layer, error) {
	im := rep.Spec.Implement
	if s.Again != nil {
		im = *s.Again
	}
	if im.TurnRadius() == 0 || len(c.Strips) == 0 {
		return nil, nil, nil
	}
	if c.Telling.Strips == coverage.GraspNone {
		rep.Findings = append(rep.Findings, geo.Finding{File: reworkNames[0], What: "left out: the log cannot tell missed strips, so that nothing can be worked again by it"})
		return nil, nil, nil
	}
	o := s.Rework
	o.Approach = 60 * s.Approach
	o.First = append(slices.Clone(o.First), first(c)...)
	if o.Value == 0 {
		o.Take = s.Going.take(o.Take)
	}
	if gate := cmp.Or(s.Gate, rep.gate); gate != nil {
		at, err := gateOn(c.Local, c.Layers.Field, *gate)
		if err != nil {
			return nil, nil, err
		}
		o.Gate = &at
	}
	p, err := workers.Until(ctx, func() (rework.Plan, error) { return rework.Of(ctx, *c, im, o) })
	if err != nil {
		return nil, nil, fmt.Errorf("re-work plan: %w", err)
	}
	if len(p.Worth.Steps) > 0 {
		c.Worth, rep.Worth = &p.Worth, &p.Worth
		rep.say(*c)
	}
	rep.Rework = reworkOf(p, *c, im)
	files, not := rep.Rework.files(*c, rep.Field.title(), s.Language)
	if not != nil {
		rep.Findings = append(rep.Findings, *not)
		return files, nil, nil
	}
	if len(p.Passes) == 0 {
		return files, nil, nil
	}
	_, l := forBoth(s.Language, func(in words.Language) vector.Layer { return reworkLayer(worked(p), *c, in) })
	return files, []vector.Layer{l}, nil
}

// worked is a plan without the ways to its passes; these keep their places in its order.
func worked(p rework.Plan) rework.Plan {
	p.Route = slices.Clone(p.Route)
	for i := range p.Route {
		if p.Route[i].Pass == 0 {
			p.Route[i].Line = nil
		}
	}
	return p
}

func reworkOf(p rework.Plan, c coverage.Result, im rig.Implement) *Rework {
	return &Rework{Plan: p, Gate: c.Local.Point(p.Gate), Implement: im.Name, Width: im.Width, Overlap: im.Overlap}
}

// files are those of a re-work plan, those for people in the language given; or why all but one of them are left out. A plan without passes is the plan alone.
func (r *Rework) files(c coverage.Result, title string, in words.Language) ([]output, *geo.Finding) {
	plain, l := forBoth(in, func(in words.Language) vector.Layer { return reworkLayer(r.Plan, c, in) })
	whole := output{name: reworkNames[3], write: func(w io.Writer) error { return indented(w, r) }}
	if len(r.Passes) == 0 {
		return []output{whole}, nil
	}
	if err := vector.Check([]vector.Layer{l}); err != nil {
		not := leftOut("rework in all formats but "+whole.name, err)
		return []output{whole}, &not
	}
	return []output{
		{name: reworkNames[0], write: func(w io.Writer) error { return vector.WriteGeoJSON(w, plain) }},
		{name: reworkNames[1], write: func(w io.Writer) error { return vector.WriteKML(w, title, []vector.Layer{l}) }},
		{name: reworkNames[2], write: func(w io.Writer) error { return vector.WriteGPX(w, title, []vector.Layer{l}, endOf(c)) }},
		whole,
	}, nil
}

// Rework is a re-work plan with its gate on the map; its lines are in the layer.
type Rework struct {
	rework.Plan
	Gate      orb.Point `json:"gate"`                // lon, lat
	Implement string    `json:"implement,omitempty"` // name of the machine it is planned for
	Width     float64   `json:"width"`               // m, its working width
	Overlap   float64   `json:"overlap"`             // m
}

// reworkLayer is the way of a re-work plan, piece by piece in the order driven, its rows in a language.
func reworkLayer(p rework.Plan, c coverage.Result, in words.Language) vector.Layer {
	l := vector.Layer{
		Name: "rework", Title: "Re-work", Kind: vector.Lines, Label: "name", Style: vector.Style{Line: "#27364A", Width: 2},
		Columns: []vector.Property{
			{Name: "name", Holds: vector.Words}, {Name: "order", Holds: vector.Whole},
			{Name: "does", Title: "working or on the way", Holds: vector.Words},
			{Name: "strips", Title: "missed strips it is for", Holds: vector.Words},
			{Name: "length_m", Title: "length", Unit: "m", Holds: vector.Number, Decimals: 1},
			{Name: "time_s", Title: "time", Unit: "s", Holds: vector.Number, Decimals: 0},
			{Name: "unfit", Title: "why it does not fit into the field", Holds: vector.Words},
		},
	}
	if c.Slope != nil {
		for _, one := range [2][2]string{{"across_pct", "greatest slope across"}, {"down_pct", "greatest slope downhill"}} {
			l.Columns = append(l.Columns, vector.Property{Name: one[0], Title: one[1], Unit: "%", Holds: vector.Number, Decimals: 1})
		}
	}
	for i, piece := range p.Route {
		if len(piece.Line) < 2 || piece.Length == 0 {
			continue
		}
		line := make(orb.LineString, len(piece.Line))
		for k, q := range piece.Line {
			line[k] = c.Local.Point(q)
		}
		name, does, strips, unfit := in.Say("way %d", i+1), in.Word("way, tool lifted"), in.Word("none"), in.Word("fits")
		if piece.Pass > 0 {
			name, does = in.Say("re-work %d", piece.Pass), in.Word("working")
			strips = strings.Trim(fmt.Sprint(p.Passes[piece.Pass-1].Strips), "[]")
		}
		if piece.Unfit != "" {
			unfit = in.Told(piece.Unfit)
		}
		row := []any{name, i + 1, does, strips, piece.Length, piece.Time, unfit}
		if slope := piece.Slope; slope != nil {
			row = append(row, 100*slope.Across, 100*slope.Down)
		} else if c.Slope != nil {
			row = append(row, nil, nil)
		}
		l.Features = append(l.Features, vector.Feature{Geometry: vector.Halved(line), Row: row})
	}
	return vector.Marked(l)
}
