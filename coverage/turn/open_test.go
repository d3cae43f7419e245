package turn

import (
	"math"
	"testing"

	"balk/geo"
	"balk/geo/plane"
	open "balk/testdata/trial"
)

// TestRealFieldsTwice judges the row ends of real fields with obstacles (origin and licence in SOURCES.md of the
// folder) and looks at some turns again by overlay: where spare metres are left no swept ground lies outside, where
// something is crossed some does.
func TestRealFieldsTwice(t *testing.T) {
	fields := open.Registered(t)
	im := mountedSet()
	seen, bad := 0, 0
	for n, f := range fields {
		if n%24 != 0 {
			continue
		}
		local := geo.LocalAt(f.Boundary[0][0][0])
		var rings []plane.Ring
		for _, poly := range f.Boundary {
			for _, r := range poly {
				var ring plane.Ring
				for _, p := range r[:len(r)-1] {
					ring = append(ring, local.XY(p))
				}
				rings = append(rings, ring)
			}
		}
		field, err := plane.Mend(rings)
		if err != nil {
			t.Fatal(err)
		}
		core, err := plane.Inset(bg, field, 7.5)
		if err != nil {
			t.Fatal(err)
		}
		if len(core) == 0 {
			continue
		}
		e := judged(t, field, im, 7.5, 0.7)
		if !near(e.HeadlandShare, e.Headland/e.Field, 1e-9) || e.HeadlandShare <= 0 || e.HeadlandShare >= 1 {
			t.Errorf("field %d: headland %g of %g m², share %g", f.Number, e.Headland, e.Field, e.HeadlandShare)
		}
		r := room(t, field...)
		for i, end := range e.Ends {
			if i%23 != 0 || end.Turn.Kind == "" {
				continue
			}
			again, err := Judge(bg, end.Turn.Kind, end.line, im, r)
			if err != nil {
				t.Fatal(err)
			}
			g, err := again.Driven.Swept(bg)
			if err != nil {
				t.Fatal(err)
			}
			over, err := plane.Difference(bg, g.Both, field)
			if err != nil {
				t.Fatal(err)
			}
			var out float64
			for _, p := range over {
				out += p.Area()
			}
			seen++
			if !again.Feasible {
				bad++
			}
			if again.Feasible != end.Turn.Feasible || math.Abs(again.Spare-end.Turn.Spare) > 1e-6 {
				t.Errorf("field %d, row %d: spare %.4f m, judged again %.4f m", f.Number, end.Row, end.Turn.Spare, again.Spare)
			}
			// Within 5 mm of the boundary the overlay leaves out what is thinner than its slivers.
			if beyond := -im.Turning.Margin - again.Spare; beyond > 5e-3 && out == 0 || beyond < -5e-4 && out > 0 {
				t.Errorf("field %d, row %d, %s: %.4f m² outside, spare %.4f m", f.Number, end.Row, end.Turn.Kind, out, again.Spare)
			}
		}
	}
	t.Logf("%d turns looked at again, %d of them infeasible", seen, bad)
	if seen < 50 || bad < 3 {
		t.Errorf("%d turns, %d infeasible: the fields say little", seen, bad)
	}
}
