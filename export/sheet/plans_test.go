package sheet

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"balk/coverage/plan"
	"balk/coverage/turn"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"
)

// twoPlans are two plans on a field with an obstacle, the second with a turn that does not fit.
func twoPlans() []PlanPicture {
	field := []plane.Polygon{{levelRing(0, 0, 200, 100), hole(80, 40, 20, 20)}}
	gate := plane.XY{X: 0, Y: 50}
	found := func(name string, fault *plan.Fault) plan.Found {
		return plan.Found{
			Plan: plan.Plan{Field: field, Options: plan.Options{Gate: &gate}, Passes: []plan.Pass{{Number: 1, Block: 1, Line: []plane.XY{{X: 5, Y: 5}, {X: 195, Y: 5}}}, {Number: 2, Round: 1, Line: levelRing(3, 3, 194, 94)}},
				Moves: []plan.Move{{Kind: plan.Run, Line: []plane.XY{gate, {X: 5, Y: 5}}}, {Kind: turn.PlainU, Line: []plane.XY{{X: 195, Y: 5}, {X: 198, Y: 8}}, Fault: fault}, {Kind: plan.None}}},
			Candidate: plan.Candidate{Name: name, Width: 5, Passes: 20, Turns: 19, Runs: 3, Hours: 1.507, Missed: 123.4},
			Curve:     []plan.Sample{{Direction: 0, Value: 2}, {Direction: 90, Value: 1.5}, {Direction: 179, Value: 2}},
		}
	}
	second := found("", &plan.Fault{At: plane.XY{X: 195, Y: 5}, Why: "short"})
	c := &second.Candidate
	c.Bent = true
	c.Hours, c.Missed, c.Passes, c.Turns, c.Runs, c.Double, c.Cost, c.Infeasible = 1.926, 123.9, 31, 44, 5, 2345, 12.5, []plan.Fault{{Why: "short"}}
	return []PlanPicture{{Number: 1, Found: found("a & b", nil), Bearing: 90}, {Number: 2, Found: second, Weighed: true}}
}

// Both plans are drawn, with figures, curve, and the turn that does not fit.
func TestPlansAreDrawn(t *testing.T) {
	l, err := Plans(geo.Field{Name: `Field "x"`}, twoPlans(), Page{})
	if err != nil {
		t.Fatal(err)
	}
	said := linesOf(l)
	for _, words := range []string{"against plan 1: 0:26 h longer, +11 passes, +25 turns, +2 runs, +1 turn or run that does not fit, +1 m² missed, +2345 m² worked twice, costs +12.50", "estimated in the weights of the ranking: 1.50 to 2.00"} { // wrapped, not cut
		if flat := strings.ReplaceAll(said, "\n", " "); !strings.Contains(flat, words) {
			t.Errorf("lacks %q", words)
		}
	}
	for _, number := range []string{"1", "2"} {
		if strings.Count("\n"+said, "\n"+number+"\n") != 2 {
			t.Errorf("number %s does not stand once on each map", number)
		}
	}
	for _, want := range []string{`Field "x": plans compared, the best first`, "1. a & b", "2. 5.00 m", "rows at 90°,", "rows at 0° bent,", "1:30 h", "123 m²", "3 runs", "estimated: 1.50 h to 2.00 h", "a turn or run that does not fit",
		"turn, tool lifted", "run, tool lifted", "start", "end", "gate"} {
		if !strings.Contains(said, want) {
			t.Errorf("lacks %q", want)
		}
	}
	if l, err = Plans(geo.Field{}, twoPlans(), Page{Language: words.German}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"gegen Plan 1: 0:26 h länger, +11 Bahnen, +25 Wendungen, +2 Leerfahrten, +1 ohne Platz, +1 m² nicht bearbeitet, +2345 m² doppelt bearbeitet, Kosten +12,50", "Arbeitsrichtung 0° Bogen,"} {
		if n := strings.Count(strings.ReplaceAll(linesOf(l), "\n", " "), want); n != 1 {
			t.Errorf("in German %q stands %d times, want once", want, n)
		}
	}
	for language, want := range map[words.Language]string{
		words.English: "rows at 90°, 1 headland round, 1 pass, 1 turn, 1 run, 1 turn or run that does not fit",
		words.German:  "Arbeitsrichtung 90°, 1 Vorgewenderunde, 1 Bahn, 1 Wendung, 1 Leerfahrt, 1 ohne Platz",
	} {
		single := twoPlans()[:1]
		c := &single[0].Found.Candidate
		c.Rounds, c.Passes, c.Turns, c.Runs, c.Infeasible = 1, 1, 1, 1, []plan.Fault{{Why: "short"}}
		if l, err = Plans(geo.Field{}, single, Page{Language: language}); err != nil || !strings.Contains(strings.ReplaceAll(linesOf(l), "\n", " "), want) {
			t.Errorf("%v, lacks %q:\n%s", err, want, linesOf(l))
		}
	}
	same := twoPlans()[:1]
	same = append(same, same[0])
	same[1].Number = 2
	if l, err = Plans(geo.Field{}, same, Page{Language: words.German}); err != nil || !strings.Contains(linesOf(l), "kein Unterschied") {
		t.Errorf("%v, the same plan twice:\n%s", err, linesOf(l))
	}
	var with, without bytes.Buffer
	plans := twoPlans()
	for _, b := range []*bytes.Buffer{&with, &without} {
		if l, err = Plans(geo.Field{}, plans, Page{}); err == nil {
			err = l.SVG(b)
		}
		if err != nil {
			t.Fatal(err)
		}
		plans[1].Found.Plan.Moves[1].Fault = nil
	}
	if a, b := strings.Count(with.String(), "<path"), strings.Count(without.String(), "<path"); a <= b {
		t.Errorf("%d paths with a turn that does not fit, %d without", a, b)
	}
	if _, err := Plans(geo.Field{}, nil, Page{}); err == nil {
		t.Error("no plan: no error")
	}
	if _, err := Plans(geo.Field{}, []PlanPicture{{}}, Page{}); err == nil {
		t.Error("a plan without a field: no error")
	}
}

// What does not fit where a set begins is marked beside that place, not under its mark.
func TestUnfitBesideStart(t *testing.T) {
	drawn := func(at plane.XY) string {
		plans := twoPlans()[:1]
		plans[0].Found.Plan.Moves[1].Fault = &plan.Fault{At: at, Why: "short"}
		l, err := Plans(geo.Field{}, plans, Page{})
		if err != nil {
			t.Fatal(err)
		}
		return svgOf(t, "a plan", l)
	}
	lines := func(svg string) int { return strings.Count(svg, `stroke-width="0.15"`) }
	if start, free := lines(drawn(plane.XY{X: 5, Y: 5})), lines(drawn(plane.XY{X: 60, Y: 75})); start != free+1 {
		t.Errorf("%d lines of that breadth with a mark at the start, %d with one on free ground: want one more, which leads to its place", start, free)
	}
}

// A plan alone fills an A4 sheet, and its map is of a larger scale than beside another.
func TestPlanAloneFillsTheSheet(t *testing.T) {
	scale := func(plans []PlanPicture) (denominator float64, l *paper.Leaf) {
		l, err := Plans(geo.Field{}, plans, Page{})
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range l.Lines() {
			if n, err := fmt.Sscanf(line.Words, "1 : %g", &denominator); n == 1 && err == nil {
				return denominator, l
			}
		}
		t.Fatal("no scale")
		return 0, nil
	}
	beside, _ := scale(twoPlans())
	alone, l := scale(twoPlans()[:1])
	if a4 := papers["A4"]; l.Width != a4[1] || l.Height != a4[0] {
		t.Errorf("%g × %g mm, want %g × %g mm", l.Width, l.Height, a4[1], a4[0])
	}
	if !(alone < 0.8*beside) {
		t.Errorf("1 : %g alone, 1 : %g beside another", alone, beside)
	}
}

// On paper without colour the lines of a plan are told apart by breadth, by their strokes or by how dark they are.
func TestPlanLinesWithoutColour(t *testing.T) {
	dark := func(p paper.Pen) float64 { // luma of ITU-R BT.601, from 0 to 1
		var r, g, b int
		if n, err := fmt.Sscanf(p.Colour, "#%02x%02x%02x", &r, &g, &b); n != 3 || err != nil {
			t.Fatalf("colour %q", p.Colour)
		}
		return (0.299*float64(r) + 0.587*float64(g) + 0.114*float64(b)) / 255
	}
	pens := []paper.Pen{passPen, roundPen, turnPen, runPen, headlandPen, boundaryPen}
	for i, a := range pens {
		for _, b := range pens[:i] {
			if r := a.Width / b.Width; slices.Equal(a.Dash, b.Dash) && r < 1.4 && r > 1/1.4 && math.Abs(dark(a)-dark(b)) < 0.3 {
				t.Errorf("%+v and %+v look alike in grey", a, b)
			}
		}
	}
}

// linesOf is the text of a leaf.
func linesOf(l *paper.Leaf) string {
	var b strings.Builder
	for _, line := range l.Lines() {
		b.WriteString(line.Words + "\n")
	}
	return b.String()
}

// endsPlan is a field of which one row end has no room.
func endsPlan() EndsPlan {
	return EndsPlan{
		Field: geo.Field{Name: "Long Acre"}, Ground: []plane.Polygon{{levelRing(0, 0, 200, 100), hole(80, 40, 20, 20)}}, Bearing: 90,
		Ends: turn.Ends{HeadlandDepth: 12, HeadlandShare: 0.25, Infeasible: 1, Ends: []turn.RowEnd{
			{At: plane.XY{X: 12, Y: 20}, Turn: turn.Turn{Feasible: true}}, {At: plane.XY{X: 188, Y: 20}, Turn: turn.Turn{Feasible: true}}, {At: plane.XY{X: 68, Y: 50}}}},
		Least: turn.Least{Found: true, Depth: 14.25, Ends: turn.Ends{Headland: 6500, HeadlandShare: 0.325}},
	}
}

// Each row end is marked as it was judged, and counted, and what would do for all is said.
func TestRowEndsAreDrawn(t *testing.T) {
	l, err := RowEnds(t.Context(), endsPlan(), Page{})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Long Acre: turning at the row ends, rows at 90°", "2: the set can turn into the next row", "1: it cannot", "headland, 12.00 m wide, 25.0 % of the field",
		"All row ends are feasible from a headland of 14.25 m on, which takes 6500 m²", "N", "overhead lines"} {
		if !strings.Contains(strings.ReplaceAll(linesOf(l), "\n", " "), want) {
			t.Errorf("lacks %q", want)
		}
	}
	if n := strings.Count(svgOf(t, "row ends", l), `fill="`+ink+`"`); n != 3 { // two on the field, one in the legend
		t.Errorf("%d dots, want 3", n)
	}
	for name, broken := range map[string]EndsPlan{"no extent": {}, "a headland of no number": func() EndsPlan { e := endsPlan(); e.Ends.HeadlandDepth = math.NaN(); return e }()} {
		if _, err := RowEnds(t.Context(), broken, Page{}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
