package fieldday

import (
	"math"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"

	"github.com/peterstace/simplefeatures/geom"
)

func box(x0, y0, x1, y1 float64) []plane.XY {
	return []plane.XY{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

func scanOf(odd bool, rings ...[]plane.XY) Scan {
	g := make(Scan, lines)
	g.put(&scanner{}, odd, rings...)
	return g.merged()
}

// TestScan holds the measures of a Scan to areas that a person can work out.
func TestScan(t *testing.T) {
	near := func(what string, got, want, tol float64) {
		t.Helper()
		if !(math.Abs(got-want) <= tol) {
			t.Errorf("%s: got %.4f, want %g within %g", what, got, want, tol)
		}
	}
	field := scanOf(true, box(-100, -70, 100, 70), box(-10, -10, 10, 10))
	near("200 m × 140 m less 20 m × 20 m", field.Area(), 27600, 0.05)
	// a bow tie winds once forth and once back: both its triangles count, 2 × ½ × 10 × 5
	near("bow tie", scanOf(false, []plane.XY{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 0, Y: 10}, {X: 10, Y: 10}}).Area(), 50, 0.05)
	worked := scanOf(true, box(-100, -70, 0, 70))
	worked.put(&scanner{}, true, box(-0.5, -70, 50, 70)) // laps by 0.5 m
	worked.put(&scanner{}, true, box(50.3, -70, 80, 70)) // leaves 0.3 m
	missed := field.less(worked.merged())
	near("left", missed.Area(), 0.3*140+20*140, 0.05)
	in, all := missed.within(&scanner{}, box(49, 0, 51, 10))
	near("asked of", all, 20, 0.02)
	near("missed there", in, 3, 0.01)
	for name, c := range map[string]struct {
		of   Scan
		want int
	}{
		"two strips":                             {missed, 2},
		"two blocks and 5 m of 3 cm between":     {scanOf(false, box(0, 0, 1, 1), box(0.9, 0.5, 6.1, 0.53), box(6, 0, 7, 1)), 3},
		"two blocks and 1 m of 3 cm between":     {scanOf(false, box(0, 0, 1, 1), box(0.9, 0.5, 2.1, 0.53), box(2, 0, 3, 1)), 2},
		"two blocks and 5 m of 20 cm between":    {scanOf(false, box(0, 0, 1, 1), box(0.9, 0.5, 6.1, 0.7), box(6, 0, 7, 1)), 1},
		"a strip of 7 cm that is 4 cm on 3 m":    {scanOf(false, box(0, 0, 5, 0.07), box(4.9, 0, 8.1, 0.04), box(8, 0, 13, 0.07)), 1},
		"a block, and 3 cm that leads to no end": {scanOf(false, box(0, 0, 1, 1), box(0.9, 0.5, 6, 0.53)), 2},
		"2 cm":                                   {scanOf(false, box(0, 0, 9, 0.02)), 0},
	} {
		if n := c.of.strips(); n != c.want {
			t.Errorf("%s: %d strips, want %d", name, n, c.want)
		}
	}
	for _, p := range missed.wide(0.2) {
		// the middles of squares, askew: nearer to each other than the strip's ends by what goes into the ends
		if l := p.long(); p.area < 100 && (l < 139 || l > 140.5) {
			t.Errorf("strip of 140 m by 30 cm: %.2f m long", l)
		}
	}
	if got := len(missed.wide(0.2)); got != 2 {
		t.Errorf("%d strips of 20 cm, want 2", got)
	}
}

// TestTruthBesideAnotherEngine: the missed ground of whole drives beside that of an overlay by another hand (simplefeatures), which
// takes every step of the bar as a polygon of its own.
func TestTruthBesideAnotherEngine(t *testing.T) {
	seed := check.Seed(t)
	for _, how := range []Driving{{}, {Trailed: true, Late: late}, {Section: sectionRow, SectionFrom: sectionFrom, SectionOver: sectionOver, SectionWidth: sectionLifted}, {Bent: true}} {
		d, err := sent(how, seed)
		if err != nil {
			t.Fatal(err)
		}
		half := set(how.Trailed).Width / 2
		got := d.missed(&scanner{}, fieldOf(&scanner{}, d.layout), half).Area()
		want := overlaid(t, d, half)
		t.Logf("%+v: %.2f m², by overlay %.2f", how, got, want)
		if math.Abs(got-want) > 0.15 {
			t.Errorf("%+v: missed %.3f m², by overlay %.3f", how, got, want)
		}
	}
}

// overlaid is the missed ground of a drive, m²: the field less the union of the bar's steps, leg by leg.
func overlaid(t *testing.T, d *driven, half float64) float64 {
	t.Helper()
	polygon := func(rings ...[]plane.XY) geom.Geometry {
		var lines []geom.LineString
		for _, r := range rings {
			var flat []float64
			for _, p := range append(r[:len(r):len(r)], r[0]) {
				flat = append(flat, p.X, p.Y)
			}
			lines = append(lines, geom.NewLineString(geom.NewSequence(flat, geom.DimXY)))
		}
		return geom.NewPolygon(lines).AsGeometry()
	}
	left := polygon(d.layout.Rings...)
	for from := 0; from < len(d.leg); {
		to := from
		for to+1 < len(d.leg) && d.leg[to+1] == d.leg[from] {
			to++
		}
		if d.leg[from] != none {
			var steps []geom.Geometry
			bars := d.bars(from, to)
			for k, b := range bars[1:] {
				up := 0.0
				if bars[k].lifted {
					up = d.how.SectionWidth
				}
				l0, r0 := bars[k].ends(half, up)
				l1, r1 := b.ends(half, up)
				if l0.Dist(l1) < 1e-6 || r0.Dist(r1) < 1e-6 {
					continue
				}
				steps = append(steps, polygon([]plane.XY{r0, r1, l1, l0}))
			}
			worked, err := geom.UnionMany(steps)
			if err != nil {
				t.Fatal(err)
			}
			if left, err = geom.Difference(left, worked); err != nil {
				t.Fatal(err)
			}
		}
		from = to + 1
	}
	return left.Area()
}
