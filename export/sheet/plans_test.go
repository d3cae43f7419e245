package sheet

import (
	"bytes"
	"math"
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
	found := func(name string, fault *plan.Fault) plan.Found {
		return plan.Found{
			Plan: plan.Plan{Field: field, Passes: []plan.Pass{{Line: []plane.XY{{X: 5, Y: 5}, {X: 195, Y: 5}}}},
				Moves: []plan.Move{{Kind: turn.PlainU, Line: []plane.XY{{X: 195, Y: 5}, {X: 198, Y: 8}}, Fault: fault}}},
			Candidate: plan.Candidate{Name: name, Width: 5, Passes: 20, Turns: 19, Hours: 1.5, Missed: 123, Difference: "the <best>"},
			Curve:     []plan.Sample{{Direction: 0, Value: 2}, {Direction: 90, Value: 1.5}, {Direction: 179, Value: 2}},
		}
	}
	return []PlanPicture{{1, found("a & b", nil), 90}, {2, found("", &plan.Fault{At: plane.XY{X: 195, Y: 5}, Why: "short"}), 0}}
}

// Both plans are drawn, with figures, curve, and the turn that does not fit.
func TestPlansAreDrawn(t *testing.T) {
	l, err := Plans(geo.Field{Name: `Field "x"`}, twoPlans(), Page{})
	if err != nil {
		t.Fatal(err)
	}
	said := linesOf(l)
	for _, want := range []string{`Field "x": plans compared, the best first`, "1. a & b", "2. 5.00 m", "rows at 90°", "1.50 h", "0.0123 ha", "the <best>", "by direction", "1.50 to 2.00", "a turn or run that does not fit"} {
		if !strings.Contains(said, want) {
			t.Errorf("lacks %q", want)
		}
	}
	if l, err = Plans(geo.Field{}, twoPlans(), Page{Language: words.German}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"1,50 h für 20 Fahrten und 19 Wendungen", "gegen Plan 1: +0,00 h, +0 Fahrten, +0 Wendungen"} {
		if strings.Count(linesOf(l), want) != 1 {
			t.Errorf("in German %q stands %d times, want once", want, strings.Count(linesOf(l), want))
		}
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
		plans[1].Found.Plan.Moves[0].Fault = nil
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
	for _, want := range []string{"Long Acre: turning at the row ends, rows at 90°", "2: the set can turn into the next row", "1: it cannot", "headland, 12.00 m deep, 25.0 % of the field",
		"All row ends are feasible from a headland of 14.25 m on, which takes 0.6500 ha", "N", "overhead lines"} {
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
