package job

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"balk/coverage/plan"
	"balk/export/sheet"
	"balk/export/vector"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// plansMap is the drawing of all plans side by side.
const plansMap = "plans.svg"

// planAt dates the files of plans, which belong to no day: so the same plan gives
// the same bytes.
var planAt = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// write puts the plans into the folder: the drawing, guidance lines of every plan
// for whatever the driver uses, and the report.
func (r *CompareReport) write(ctx context.Context) error {
	var files []output
	var pictures []sheet.PlanPicture
	for i, f := range r.found {
		pictures = append(pictures, sheet.PlanPicture{Number: i + 1, Found: f, Bearing: r.Bearing(f.Candidate)})
		more, err := r.guidance(fmt.Sprintf("plan-%d", i+1), f.Plan)
		if err != nil {
			return err
		}
		files = append(files, more...)
	}
	title := r.Field.title()
	files = append(files, output{name: plansMap, write: func(w io.Writer) error { return sheet.PlansSVG(w, title, pictures) }}, output{name: reportFile, write: r.JSON})
	var names []string
	for _, f := range files {
		names = append(names, f.name)
		r.Files = append(r.Files, filepath.Join(r.Spec.Out, filepath.FromSlash(f.name)))
	}
	if err := guard(r.Spec.Out, names, []string{r.Spec.Boundary}); err != nil {
		return err
	}
	if err := fill(ctx, r.Spec.Out, files); err != nil {
		r.Files = nil
		return err
	}
	return nil
}

// guidance are the lines of a plan in all formats that have lines.
func (r *CompareReport) guidance(base string, p plan.Plan) ([]output, error) {
	l := r.guidanceLayer(p)
	name := r.Field.title()
	task := vector.TaskData{Maker: "balk", Version: "1", Fields: []vector.TaskField{{Name: name, Area: r.Area, Boundary: r.ground.Boundary, Guidance: []vector.Layer{l}}}}
	taskName := "TASKDATA/TASKDATA.XML"
	if base != planBase {
		taskName = base + "/" + taskName
	}
	taskFile, findings, err := taskData(taskName, task)
	if err != nil {
		return nil, err
	}
	r.Findings = append(r.Findings, findings...)
	return []output{
		{name: base + ".geojson", write: func(w io.Writer) error { return vector.WriteGeoJSON(w, l) }},
		{name: base + ".kml", write: func(w io.Writer) error { return vector.WriteKML(w, name, []vector.Layer{l}) }},
		{name: base + ".gpx", write: func(w io.Writer) error { return vector.WriteGPX(w, name, []vector.Layer{l}, planAt) }},
		{name: base + ".zip", write: func(w io.Writer) error { return vector.ZipShapefiles(w, []vector.Layer{l}, planAt) }},
		taskFile,
	}, nil
}

// guidanceLayer is the lines to drive along.
func (r *CompareReport) guidanceLayer(p plan.Plan) vector.Layer {
	l := vector.Layer{
		Name: "guidance", Title: "Guidance lines", Kind: vector.Lines, Label: "name", Style: vector.Style{Line: "#27364A", Width: 1.5},
		Columns: []vector.Property{{Name: "name", Holds: vector.Words}, {Name: "kind", Holds: vector.Words},
			{Name: "pass", Title: "number in the order driven", Holds: vector.Whole}, {Name: "part", Title: "part of the field", Holds: vector.Whole},
			{Name: "block", Title: "block; 0 is a headland round", Holds: vector.Whole}},
	}
	for _, g := range plan.Guidance(p) {
		l.Features = append(l.Features, vector.Feature{Geometry: r.degrees(g.Line), Row: []any{g.Name, g.Kind, g.Pass, g.Part, g.Block}})
	}
	return l
}

func (r *CompareReport) degrees(line []plane.XY) orb.LineString {
	out := make(orb.LineString, len(line))
	for i, q := range line {
		out[i] = r.local.Point(q)
	}
	return out
}
