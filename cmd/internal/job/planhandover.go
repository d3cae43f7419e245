package job

import (
	"context"
	"fmt"
	"io"
	"slices"

	"balk/coverage/plan"
	"balk/export/record"
	"balk/export/sheet"
	"balk/export/sheet/paper"
	"balk/export/vector"
	"balk/export/words"

	"github.com/paulmach/orb"
)

// PlanHandoverSpec says which plan is handed over, with what no plan knows.
type PlanHandoverSpec struct {
	CompareSpec // of one implement
	Paperwork
}

// Validate says what is wrong with s; it opens no files.
func (s PlanHandoverSpec) Validate() error {
	if s.Out == "" {
		return fmt.Errorf("no folder named to hand over (--out)")
	}
	if n := len(s.Implements); n != 1 {
		return fmt.Errorf("%d implements: one plan is handed over", n)
	}
	if err := s.Paperwork.Validate(s.Implements[0]); err != nil {
		return err
	}
	return s.CompareSpec.Validate()
}

// The files of a plan's handover, beside those named for planBase.
const (
	planBase    = "plan"
	planDrawing = "plan.svg"
	planPackage = "plan.gpkg"
	planWays    = "ways.geojson"
	orderText   = "order.txt"
	orderJSON   = "order.json"
)

// HandoverPlan lays a plan out again and makes the folder for whoever drives it. Errors as Compare.
func HandoverPlan(ctx context.Context, s PlanHandoverSpec, call *Call) (CompareReport, error) {
	if err := s.Validate(); err != nil {
		return CompareReport{Spec: s.CompareSpec}, &WrongCall{err}
	}
	call = call.ready()
	rep, err := compared(ctx, s.CompareSpec, targets{s.Pictures.with(planNames()), s.Pictures.names()}, call)
	if err != nil {
		return rep, err
	}
	files, err := s.files(&rep)
	if err != nil {
		return rep, err
	}
	err = call.fill(ctx, s.Out, handoverVerb, files, &rep.Placed, func(w io.Writer) error { return rep.JSON(w) })
	return rep, err
}

// planNames are those of the files of every plan's handover.
func planNames() []string {
	return append(guidanceNames(planBase), handoverRead, handoverSheet, orderText, orderJSON, planDrawing, planPackage, planWays, reportFile)
}

func (s PlanHandoverSpec) files(rep *CompareReport) ([]output, error) {
	f, page := rep.found[0], s.pageWith(rep.found[0].Plan.Implement)
	guidance := rep.guidance(planBase, f.Plan, s.Language)
	title, bearing := rep.Field.title(), rep.Bearing(f.Candidate)
	planned := sheet.Planned{Field: rep.ground, Local: rep.local, Plan: f.Plan, Candidate: f.Candidate, Bearing: bearing}
	order, ways := s.order(rep), rep.waysLayer(f.Plan)
	layers := []vector.Layer{rep.fieldLayer(), rep.guidanceLayer(f.Plan, words.English), ways}
	files := []output{
		{name: handoverRead, write: func(w io.Writer) error { _, err := io.WriteString(w, planText(title, s.Language)); return err }},
		{name: handoverSheet, write: func(w io.Writer) error { return sheet.PlanPDF(w, planned, page) }},
		{name: orderText, write: func(w io.Writer) error { return order.Text(w, s.Language) }},
		{name: orderJSON, write: order.JSON},
	}
	files = append(files, s.Pictures.drawing(planDrawing, func() (*paper.Leaf, error) {
		return sheet.Plans(rep.ground, []sheet.PlanPicture{{Number: 1, Found: f, Bearing: bearing, Weighed: rep.Weighed()}}, s.page())
	})...)
	if err := vector.Check(layers); err != nil {
		rep.Findings = append(rep.Findings, leftOut(planPackage+" and "+planWays, err))
	} else {
		files = append(files, output{name: planPackage, place: func(ctx context.Context, path string) error { return vector.WriteGeoPackage(ctx, path, layers, planAt) }},
			output{name: planWays, write: func(w io.Writer) error { return vector.WriteGeoJSON(w, ways) }})
	}
	pictures, err := s.Pictures.outputs(func() ([]*paper.Leaf, error) { return sheet.PlanPages(planned, page) })
	if err != nil {
		return nil, err
	}
	return slices.Concat(files, pictures, guidance), nil
}

// order is the order of work for the plan.
func (s PlanHandoverSpec) order(rep *CompareReport) record.Order {
	c, im := rep.Candidates[0], rep.found[0].Plan.Implement
	o := record.Order{
		Details: s.Details, Field: rep.Field.Name, Number: rep.Field.Number, Area: c.Field, Width: im.Width, Overlap: im.Overlap, Bearing: rep.Bearing(c), Also: c.Also,
		Rounds: c.Rounds, Headland: c.Depth, First: s.Options.HeadlandFirst, Trodden: c.Trodden, Passes: c.Passes, Blocks: c.Blocks, Turns: c.Turns, Runs: c.Runs, Small: c.Small, Bends: c.Bends, Lifts: c.Lifts, Way: c.Working.Metres,
		Working: c.Working.Hours * 3600, Turning: c.Turning.Hours * 3600, Idle: c.Idle.Hours * 3600, OnField: c.Hours * 3600,
		Speed: s.Options.Speed.MetresPerSecond(), Capacity: c.Capacity, Efficiency: c.Share, Missed: c.Missed, Double: c.Double,
	}
	o.Fuel, o.FuelBasis = c.Litres, sheet.FuelBasis(s.Language, s.Options.Fuel)
	if o.Implement == "" {
		o.Implement = im.Name
	}
	for _, f := range c.Infeasible {
		o.Unfit = append(o.Unfit, s.Language.Told(f.Why)+s.Language.Word(", at ")+words.Place(rep.local.Point(f.At)))
	}
	return o
}

// fieldLayer is the field.
func (r *CompareReport) fieldLayer() vector.Layer {
	return vector.Marked(vector.Layer{
		Name: "field", Title: "Field", Kind: vector.Areas, Label: "name", Style: vector.Style{Line: "#222222", Width: 2},
		Columns:  []vector.Property{{Name: "name", Holds: vector.Words}, {Name: "area_ha", Title: "area", Unit: "ha", Holds: vector.Number, Decimals: 4}},
		Features: []vector.Feature{{Geometry: orb.MultiPolygon(r.ground.Boundary), Row: []any{r.Field.title(), r.Area / 1e4}}},
	})
}

// waysLayer is what is driven between passes with the tool lifted.
func (r *CompareReport) waysLayer(p plan.Plan) vector.Layer {
	l := vector.Layer{
		Name: "ways", Title: "Turns and runs, tool lifted", Kind: vector.Lines, Label: "name", Style: vector.Style{Line: "#5B7A99", Width: 1, Dashed: true},
		Columns: []vector.Property{
			{Name: "name", Holds: vector.Words}, {Name: "to_pass", Title: "pass it leads to; 0 is the gate", Holds: vector.Whole}, {Name: "kind", Holds: vector.Words},
			{Name: "length_m", Title: "length", Unit: "m", Holds: vector.Number, Decimals: 1}, {Name: "time_s", Title: "time", Unit: "s", Holds: vector.Number, Decimals: 0},
			{Name: "unfit", Title: "why it does not fit", Holds: vector.Words},
		},
	}
	for i, m := range p.Moves {
		if len(m.Line) < 2 || m.Length == 0 {
			continue
		}
		to, name, unfit := i+1, fmt.Sprintf("to pass %d", i+1), "fits"
		if i == len(p.Passes) {
			to, name = 0, "to the gate"
		}
		if m.Fault != nil {
			unfit = m.Fault.Why
		}
		l.Features = append(l.Features, vector.Feature{Geometry: vector.Halved(r.degrees(m.Line)), Row: []any{name, to, string(m.Kind), m.Length, m.Seconds, unfit}})
	}
	return vector.Marked(l)
}

// planText says what is in the folder.
func planText(field string, l words.Language) string {
	caution := words.Wrap(l.BeforeWork(), "") + "\n"
	if l == words.German {
		return field + `: was zu tun ist

sheet.pdf                 das Blatt zum Drucken: Karte, Reihenfolge, Wendungen, Hinweise
order.txt, order.json     der Arbeitsauftrag
plan.geojson .kml .gpx .zip   die Leitlinien in der Reihenfolge, in der gefahren wird
TASKDATA/TASKDATA.XML     Grenze und Leitlinien für ein Terminal im Schlepper (ISO 11783-10)
ways.geojson              Wendungen und Leerfahrten dazwischen
plan.gpkg                 Schlag, Leitlinien und Wege für ein Geoinformationssystem
plan.svg                  die Zeichnung: öffnet sich in jedem Browser
report.json               alle Zahlen; balk check --plan nimmt plan.geojson und nennt danach die nicht gefahrenen Fahrten

` + caution
	}
	return field + `: what is to be done

sheet.pdf                 the sheet to print: map, order, turns, cautions
order.txt, order.json     the order of work
plan.geojson .kml .gpx .zip   the guidance lines in the order they are driven
TASKDATA/TASKDATA.XML     boundary and guidance lines for a terminal in the tractor (ISO 11783-10)
ways.geojson              turns and runs between them
plan.gpkg                 field, guidance lines and ways for a geographic information system
plan.svg                  the drawing: opens in any browser
report.json               all numbers; balk check --plan takes plan.geojson and then names passes that were not driven

` + caution
}
