package job

import (
	"math"
	"path/filepath"
	"testing"

	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/geo/read"
)

// The planned lines come back from every format in which they are written, as they come from GeoJSON.
func TestPlanOfEveryFormat(t *testing.T) {
	out := filepath.Join(t.TempDir(), "plans")
	s := CompareSpec{Boundary: written(t, `{"type":"Polygon","coordinates":[[[11.57,48.14],[11.574,48.14],[11.574,48.142],[11.57,48.142],[11.57,48.14]]]}`), Implements: []rig.Implement{Assumed(12, 0)}, Options: plan.Options{Speed: 8}, Out: out}
	if _, err := Compare(t.Context(), s, nil); err != nil {
		t.Fatal(err)
	}
	handed := filepath.Join(t.TempDir(), "handed")
	s.Out = handed
	if _, err := HandoverPlan(t.Context(), PlanHandoverSpec{CompareSpec: s}, nil); err != nil {
		t.Fatal(err)
	}
	base := comparedBase(0)
	want, _, err := read.Lines(filepath.Join(out, base+".geojson"), read.Taking{}, nil)
	if err != nil || len(want) < 10 {
		t.Fatalf("%d lines, %v", len(want), err)
	}
	paths := []string{filepath.Join(handed, planPackage), filepath.Join(out, base, "TASKDATA")}
	for _, name := range guidanceNames(base) {
		paths = append(paths, filepath.Join(out, name))
	}
	for _, path := range paths {
		got, findings, err := read.Lines(path, read.Taking{}, nil)
		if err != nil || len(got) != len(want) || Lost(findings) {
			t.Errorf("%s: %d lines of %d, %v, %v", path, len(got), len(want), findings, err)
			continue
		}
		for i, l := range got {
			if l.Name != want[i].Name || len(l.Line) != len(want[i].Line) {
				t.Errorf("%s: line %d is %q with %d places, want %q with %d", path, i+1, l.Name, len(l.Line), want[i].Name, len(want[i].Line))
				break
			}
			for k, q := range l.Line {
				if w := want[i].Line[k]; math.Hypot(q[0]-w[0], q[1]-w[1]) > 2e-8 {
					t.Fatalf("%s: %s is at %v, want %v", path, l.Name, q, w)
				}
			}
		}
	}
}
