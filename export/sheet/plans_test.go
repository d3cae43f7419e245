package sheet

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"strings"
	"testing"

	"balk/coverage/plan"
	"balk/coverage/turn"
	"balk/geo/plane"
)

// Two plans on a field with an obstacle: both are drawn, with figures, curve, and
// the turn that does not fit; the drawing is well-formed.
func TestPlansAreDrawn(t *testing.T) {
	field := []plane.Polygon{{levelRing(0, 0, 200, 100), hole(80, 40, 20, 20)}}
	found := func(name string, fault *plan.Fault) plan.Found {
		return plan.Found{
			Plan: plan.Plan{Field: field, Passes: []plan.Pass{{Line: []plane.XY{{X: 5, Y: 5}, {X: 195, Y: 5}}}},
				Moves: []plan.Move{{Kind: turn.PlainU, Line: []plane.XY{{X: 195, Y: 5}, {X: 198, Y: 8}}, Fault: fault}}},
			Candidate: plan.Candidate{Name: name, Width: 5, Passes: 20, Turns: 19, Hours: 1.5, Missed: 123, Difference: "the <best>"},
			Curve:     []plan.Sample{{Direction: 0, Value: 2}, {Direction: 90, Value: 1.5}, {Direction: 179, Value: 2}},
		}
	}
	var b bytes.Buffer
	plans := []PlanPicture{{1, found("a & b", nil), 90}, {2, found("", &plan.Fault{At: plane.XY{X: 195, Y: 5}, Why: "short"}), 0}}
	if err := PlansSVG(&b, `Field "x"`, plans); err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(bytes.NewReader(b.Bytes()))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{"1. a &amp; b", "2. 5.00 m", "rows at 90°", "1.50 h", "0.0123 ha", "the &lt;best&gt;", "by direction", "1.50 to 2.00"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("lacks %q", want)
		}
	}
	if n := strings.Count(b.String(), "m-5 0a5 5"); n != 2 { // one in the plan, one in the legend
		t.Errorf("%d rings with a cross, want 2", n)
	}
	if PlansSVG(io.Discard, "x", nil) == nil || PlansSVG(io.Discard, "x", []PlanPicture{{}}) == nil {
		t.Error("no plan, or a plan without a field, is drawn")
	}
}
