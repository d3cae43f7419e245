package plan

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// realFields are the valid ones of the open fields (shared folder open/, licence in
// each feature), in metres around their middle.
func realFields(t testing.TB) [][]plane.Polygon {
	t.Helper()
	dir := os.Getenv("BALK_SHARED")
	if dir == "" {
		t.Skip("skipped: BALK_SHARED is not set")
	}
	raw, err := os.ReadFile(filepath.Join(dir, "open", "fields_permissive.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	collection, err := geojson.UnmarshalFeatureCollection(raw)
	if err != nil {
		t.Fatal(err)
	}
	var fields [][]plane.Polygon
	for _, f := range collection.Features {
		if valid, _ := f.Properties["valid"].(bool); !valid {
			continue // rings that cross themselves are refused when read
		}
		var multi orb.MultiPolygon
		switch g := f.Geometry.(type) {
		case orb.Polygon:
			multi = orb.MultiPolygon{g}
		case orb.MultiPolygon:
			multi = g
		}
		fields = append(fields, onPlane(multi))
	}
	return fields
}

func onPlane(multi orb.MultiPolygon) []plane.Polygon {
	local := geo.LocalAt(multi.Bound().Center())
	var field []plane.Polygon
	for _, p := range multi {
		var poly plane.Polygon
		for i, r := range p {
			var ring plane.Ring
			for _, q := range r[:len(r)-1] {
				if xy := local.XY(q); len(ring) == 0 || xy != ring[len(ring)-1] {
					ring = append(ring, xy)
				}
			}
			if (ring.Area() > 0) != (i == 0) {
				for a, b := 0, len(ring)-1; a < b; a, b = a+1, b-1 {
					ring[a], ring[b] = ring[b], ring[a]
				}
			}
			poly = append(poly, ring)
		}
		field = append(field, poly)
	}
	return field
}

func TestRealProbe(t *testing.T) {
	fields := realFields(t)
	var tb, tl, ts time.Duration
	worst := 0.0
	for i, f := range fields {
		t0 := time.Now()
		s, err := surveyOf(t.Context(), f, mounted(6), Options{Speed: 8})
		if err != nil {
			t.Errorf("field %d: %v", i, err)
			continue
		}
		cur, err := s.curve(t.Context(), Objective{})
		if err != nil {
			t.Fatal(err)
		}
		t1 := time.Now()
		hs := finalists(cur)
		p, err := Lay(t.Context(), f, mounted(6), Options{Speed: 8, Heading: hs[0]})
		if err != nil {
			t.Errorf("field %d: %v", i, err)
			continue
		}
		t2 := time.Now()
		c, err := Simulate(t.Context(), p)
		if err != nil {
			t.Errorf("field %d: %v", i, err)
			continue
		}
		t3 := time.Now()
		tb += t1.Sub(t0)
		tl += t2.Sub(t1)
		ts += t3.Sub(t2)
		worst = max(worst, c.InteriorLeft/c.Field)
		t.Logf("%d %.2f ha holes %d: dirs %d %v lay %v sim %v | passes %d blocks %d turns %d inf %d tight %d runs %d left %.5f%% missed %.2f%% out %.2f m² h %.2f eff %.2f within/bound %.2f idle %.0f m", i, c.Field/1e4, len(f[0])-1, len(cur), t1.Sub(t0), t2.Sub(t1), t3.Sub(t2),
			c.Passes, c.Blocks, c.Turns, len(c.Infeasible), len(c.Tight), c.Runs, 100*c.InteriorLeft/c.Field, 100*c.Missed/c.Field, c.Outside, c.Hours, c.Share, c.Within/c.Bound, c.Idle.Metres)
	}
	t.Logf("best %v lay %v sim %v worst %g", tb, tl, ts, worst)
}
