package vector

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// Every strip has a line along its middle, as long as the strip, with the strip's number; a GPX has it as a route. The strips are invented.
func TestAlongStrips(t *testing.T) {
	r := strips(12)
	l, err := Along(r, nil)
	if err != nil || l.Kind != Lines || len(l.Features) != 12 {
		t.Fatalf("%d lines of %s, %v", len(l.Features), l.Kind, err)
	}
	for i, f := range l.Features {
		line, ok := f.Geometry.(orb.LineString)
		if !ok || f.Row[0] != i+1 {
			t.Fatalf("strip %v is %T", f.Row[0], f.Geometry)
		}
		a, b := r.Local.XY(line[0]), r.Local.XY(line[len(line)-1])
		if long := a.Dist(b); math.Abs(long-20) > 0.5 {
			t.Errorf("strip %d: %.2f m, want 20", i+1, long)
		}
		if d := a.Lerp(b, 0.5).Dist(r.Local.XY(r.Strips[i].At)); d > 0.3 {
			t.Errorf("strip %d: its middle lies %.2f m off", i+1, d)
		}
	}
}
