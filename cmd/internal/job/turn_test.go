package job

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/plan"
	"balk/coverage/rework"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/export/vector"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// bowTie is a ring that crosses itself: it is mended, and said to be.
const bowTie = `{"type":"Feature","properties":{"name":"Bow"},"geometry":{"type":"Polygon","coordinates":[[[11.57,48.14],[11.574,48.142],[11.574,48.14],[11.57,48.142],[11.57,48.14]]]}}`

// written is a file of a folder of its own.
func written(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "field.geojson")
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// Each step of a call is told once, by its number of all, and the last one when all is done.
func TestStepsAreTold(t *testing.T) {
	field := written(t, acre)
	for name, c := range map[string]struct {
		run  func(out string, call *Call) error
		want []string
	}{
		"compare": {func(out string, call *Call) error {
			s := CompareSpec{Boundary: field, Implements: []rig.Implement{Assumed(6, 0.1)}, Options: plan.Options{Speed: 8}, Out: out}
			_, err := Compare(t.Context(), s, call)
			return err
		}, []string{"reading boundaries 0/3", "planning 1/3", "planning: N laid out 1/3", "writing OUT 2/3", "done 3/3"}},
		"turn on a field": {func(out string, call *Call) error {
			_, err := Turn(t.Context(), TurnSpec{Boundary: field, Implement: Assumed(6, 0.1), Out: out}, call)
			return err
		}, []string{"reading boundaries 0/3", "turning 0/3", "row ends 1/3", "writing OUT 2/3", "done 3/3"}},
		"turn": {func(_ string, call *Call) error {
			_, err := Turn(t.Context(), TurnSpec{Implement: Assumed(6, 0.1)}, call)
			return err
		}, []string{"turning 0/3", "done 3/3"}},
	} {
		out := filepath.Join(t.TempDir(), "out")
		var told []string
		if err := c.run(out, &Call{Progress: func(what string, done, of int) {
			if one := regexp.MustCompile(`\d+ laid out`).ReplaceAllString(fmt.Sprintf("%s %d/%d", strings.ReplaceAll(what, out, "OUT"), done, of), "N laid out"); len(told) == 0 || one != told[len(told)-1] {
				told = append(told, one)
			}
		}}); err != nil || !slices.Equal(told, c.want) {
			t.Errorf("%s: %q (%v), want %q", name, told, err, c.want)
		}
	}
}

// What is found about the boundaries is said, however the field is used.
func TestFindingsOfTheBoundaries(t *testing.T) {
	field := written(t, bowTie)
	turned, err := Turn(t.Context(), TurnSpec{Boundary: field, Reading: Reading{Mend: true}, Implement: Assumed(6, 0.1), Headland: 20}, nil)
	if err != nil || len(turned.Findings) == 0 || !strings.Contains(turned.Findings[0].String(), field) {
		t.Errorf("turn: %v (%v)", turned.Findings, err)
	}
	compared, err := Compare(t.Context(), CompareSpec{Boundary: field, Reading: Reading{Mend: true}, Implements: []rig.Implement{Assumed(6, 0.1)}, Options: plan.Options{Speed: 8}}, nil)
	if err != nil || len(compared.Findings) == 0 || !strings.Contains(compared.Findings[0].String(), field) {
		t.Errorf("compare: %v (%v)", compared.Findings, err)
	}
}

// A drawbar that bears no more than 1° lets a set turn at no depth: that is said, not judged at a depth of 0.
func TestNoTurnAtAnyDepth(t *testing.T) {
	im := Assumed(6, 0.1)
	im.Mount = rig.Mount{Trailed: true, Hitch: 1, Drawbar: 4, MaxAngle: 1}
	if rep, err := Turn(t.Context(), TurnSpec{Implement: im}, nil); err == nil || !strings.Contains(err.Error(), "no turn is feasible for this set, whatever the headland up to 200 m") {
		t.Errorf("%g m (%v)", rep.Headland, err)
	}
}

// Into the next row every kind of turn with a path is drawn, into farther rows the quickest alone; the folder holds them with the row
// ends, and lets no file of others be in their place.
func TestFilesAboutTurning(t *testing.T) {
	out := filepath.Join(t.TempDir(), "out")
	s := TurnSpec{Boundary: written(t, acre), Implement: Assumed(6, 0.1), MostSkip: 2, Out: out}
	rep, err := Turn(t.Context(), s, nil)
	if err != nil {
		t.Fatal(err)
	}
	want := []string{reportFile, endsMap, endsLayer}
	for _, p := range rep.Patterns {
		for _, one := range p.Turns {
			if one.Length > 0 && (p.Skip == 0 || one.Kind == p.Best) {
				want = append(want, turnDrawing(p.Skip, one.Kind))
			}
		}
	}
	var got []string
	for _, f := range rep.Files {
		got = append(got, filepath.Base(f))
	}
	slices.Sort(got)
	slices.Sort(want)
	if !slices.Equal(got, want) || len(want) < 3+3 {
		t.Errorf("%q, want %q", got, want)
	}
	if rep.Patterns[0].Turns[0].Length != 0 || rep.Patterns[0].Turns[1].Length == 0 {
		t.Errorf("the first kind, %s, has a path, or the second has none: the test does not reach what it is for", rep.Patterns[0].Turns[0].Kind)
	}
	if n := s.names(); !slices.Equal(n.sure, []string{reportFile, endsMap, endsLayer}) || len(n.perhaps) != 3*len(turn.Kinds()) {
		t.Errorf("on a field %q and %d drawings", n.sure, len(n.perhaps))
	}
	s.Boundary = ""
	if n := s.names(); !slices.Equal(n.sure, []string{reportFile}) {
		t.Errorf("at a straight row end %q", n.sure)
	}
}

// The row ends have the ways out that are known, those without one zeros.
func TestRowEndsHaveTheirWayOut(t *testing.T) {
	f := FieldTurns{Places: []orb.Point{{11, 48}, {12, 48}}, Ends: turn.Ends{Ends: []turn.RowEnd{
		{Row: 1, Next: 2, WayOut: &turn.WayOut{Deeper: 2.5, Skip: 3}}, {Row: 2, Next: 3, Far: true, Turn: turn.Turn{Feasible: true, Kind: turn.Bulb}}}}}
	l := f.layer()
	column := func(name string) int {
		return slices.IndexFunc(l.Columns, func(c vector.Property) bool { return c.Name == name })
	}
	for k, want := range []string{"1 2 false 2.5 3", "2 3 true 0 0"} {
		r := l.Features[k].Row
		if got := fmt.Sprint(r[column("row")], r[column("into")], r[column("feasible")], r[column("earlier_m")], r[column("leave")]); got != want || l.Features[k].Geometry != f.Places[k] {
			t.Errorf("row end %d: %s at %v, want %s", k+1, got, l.Features[k].Geometry, want)
		}
	}
}

// Ways of no length and of one place are no lines; half a metre is one. The last way of a plan leads to the gate.
func TestWaysThatAreLines(t *testing.T) {
	local := geo.LocalAt(orb.Point{11, 48})
	still, half := []plane.XY{{}, {}}, []plane.XY{{}, {X: 0.5}}
	ways := (&CompareReport{local: local}).waysLayer(plan.Plan{Passes: make([]plan.Pass, 3), Moves: []plan.Move{
		{Kind: turn.Bulb, Line: half, Length: 0.5, Seconds: 2}, {Line: still}, {Line: half[:1], Length: 1}, {Kind: turn.Hook, Line: half, Length: 0.5, Seconds: 2, Fault: &plan.Fault{Why: "no way"}}}})
	again := reworkLayer(rework.Plan{Passes: []rework.Pass{{Strips: []int{7, 9}}}, Route: []rework.Piece{
		{Line: half, Length: 0.5, Time: 2}, {Line: still}, {Line: half[:1], Length: 1}, {Pass: 1, Line: half, Length: 0.5, Time: 2, Unfit: "no way"}}}, coverage.Result{Local: local}, words.English)
	planned := rework.Plan{Passes: []rework.Pass{{Strips: []int{7, 9}}}, Route: []rework.Piece{
		{Line: half, Length: 0.5, Time: 2}, {Pass: 1, Line: half, Length: 0.5, Time: 2, Unfit: "ends outside the boundary"}}}
	if one := reworkLayer(worked(planned), coverage.Result{Local: local}, words.German).Features; len(one) != 1 || one[0].Row[0] != "Nacharbeit 1" || one[0].Row[1] != 2 {
		t.Errorf("%v is worked, want the second piece", one)
	}
	german := reworkLayer(planned, coverage.Result{Local: local}, words.German) // as planned still, the way in it
	for _, c := range []struct {
		layer vector.Layer
		want  []string
	}{
		{german, []string{"Weg 1, 1, Weg, ausgehoben, keine, 0.5, 2, passt, rework", "Nacharbeit 1, 2, Arbeiten, 7 9, 0.5, 2, endet außerhalb der Grenze, rework"}},
		{ways, []string{"to pass 1, 1, bulb, 0.5, 2, fits, ways", "to the gate, 0, hook, 0.5, 2, no way, ways"}},
		{again, []string{"way 1, 1, way, tool lifted, none, 0.5, 2, fits, rework", "re-work 1, 4, working, 7 9, 0.5, 2, no way, rework"}},
	} {
		var got []string
		for _, f := range c.layer.Features {
			var row []string
			for _, v := range f.Row {
				row = append(row, fmt.Sprint(v))
			}
			got = append(got, strings.Join(row, ", "))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.layer.Name, got, c.want)
		}
	}
}
