package job

import (
	"context"
	"fmt"
	"io"
	"slices"
	"time"

	"balk/coverage/plan"
	"balk/export/sheet"
	"balk/export/sheet/paper"
	"balk/export/vector"
	"balk/export/words"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// plansMap is the drawing of all plans side by side.
const plansMap = "plans.svg"

// planAt dates the files of plans: they belong to no day.
var planAt time.Time

// write puts the plans into the folder: the drawing, guidance lines of every plan
// for whatever the driver uses, and the report.
func (r *CompareReport) write(ctx context.Context, call *Call) error {
	var files []output
	var pictures []sheet.PlanPicture
	for i, f := range r.found {
		pictures = append(pictures, sheet.PlanPicture{Number: i + 1, Found: f, Bearing: r.Bearing(f.Candidate), Weighed: r.Weighed()})
		files = append(files, r.guidance(comparedBase(i), f.Plan, r.Spec.Language)...)
	}
	files = append(files, r.Spec.Pictures.drawing(plansMap, func() (*paper.Leaf, error) { return sheet.Plans(r.ground, pictures, r.Spec.page()) })...)
	return call.fill(ctx, r.Spec.Out, "compare", files, &r.Placed, func(w io.Writer) error { return r.JSON(w) })
}

// comparedBase begins the names of the files of plan i, from 0.
func comparedBase(i int) string { return fmt.Sprintf("%s-%d", planBase, i+1) }

// comparedNames are those of all files of a comparison of so many plans.
func comparedNames(plans int) []string {
	names := []string{plansMap, reportFile}
	for i := range plans {
		names = append(names, guidanceNames(comparedBase(i))...)
	}
	return names
}

// guidanceNames are those of the lines of a plan, its task data last.
func guidanceNames(base string) []string {
	task := "TASKDATA/TASKDATA.XML"
	if base != planBase {
		task = base + "/" + task
	}
	return []string{base + ".geojson", base + ".kml", base + ".gpx", base + ".zip", task}
}

// guidance are the lines of a plan in all formats that have lines, in a language those for people. What a format cannot hold is a finding.
func (r *CompareReport) guidance(base string, p plan.Plan, in words.Language) []output {
	plain, l := forBoth(in, func(in words.Language) vector.Layer { return r.guidanceLayer(p, in) })
	name := r.Field.title()
	task := vector.TaskData{Maker: "balk", Version: "1", Fields: []vector.TaskField{{Name: name, Area: r.Area, Boundary: r.ground.Boundary, Guidance: []vector.Layer{l}}}}
	names := guidanceNames(base)
	if err := vector.Check([]vector.Layer{plain}); err != nil {
		r.Findings = append(r.Findings, leftOut(base+" in all formats", err))
		return nil
	}
	shapes, findings := shapefiles(names[3], []vector.Layer{plain}, planAt)
	taskFile, more := taskData(names[4], task)
	r.Findings = slices.Concat(r.Findings, findings, more)
	return slices.Concat([]output{
		{name: names[0], write: func(w io.Writer) error { return vector.WriteGeoJSON(w, plain) }},
		{name: names[1], write: func(w io.Writer) error { return vector.WriteKML(w, name, []vector.Layer{l}) }},
		{name: names[2], write: func(w io.Writer) error { return vector.WriteGPX(w, name, []vector.Layer{l}, planAt) }},
	}, shapes, taskFile)
}

// guidanceLayer is the lines to drive along, their names and kinds in a language.
func (r *CompareReport) guidanceLayer(p plan.Plan, in words.Language) vector.Layer {
	l := vector.Layer{
		Name: "guidance", Title: "Guidance lines", Kind: vector.Lines, Label: "name", Style: vector.Style{Line: "#27364A", Width: 1.5},
		Columns: []vector.Property{{Name: "name", Holds: vector.Words}, {Name: "kind", Holds: vector.Words},
			{Name: "pass", Title: "number in the order driven", Holds: vector.Whole}, {Name: "part", Title: "part of the field", Holds: vector.Whole},
			{Name: "block", Title: "block; 0 is a headland round", Holds: vector.Whole}},
	}
	for _, g := range plan.Guidance(p) {
		l.Features = append(l.Features, vector.Feature{Geometry: vector.Halved(r.degrees(g.Line)), Row: []any{in.Told(g.Name), in.Word(string(g.Kind)), g.Pass, g.Part, g.Block}})
	}
	return vector.Marked(l)
}

func (r *CompareReport) degrees(line []plane.XY) orb.LineString {
	out := make(orb.LineString, len(line))
	for i, q := range line {
		out[i] = r.local.Point(q)
	}
	return out
}
