package plane

import (
	"context"
	"math"
	"slices"
	"testing"
)

func rectangle(x0, y0, x1, y1 float64) Polygon {
	return Polygon{{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}}
}

func backwards(r Ring) Ring {
	r = slices.Clone(r)
	slices.Reverse(r)
	return r
}

func TestBoolean(t *testing.T) {
	donut := Polygon{rectangle(0, 0, 10, 10)[0], backwards(rectangle(3, 3, 7, 7)[0])}
	for _, c := range []struct {
		name                                     string
		a, b                                     []Polygon
		union, intersection, difference, symDiff float64
	}{
		{"two squares lap", []Polygon{rectangle(0, 0, 10, 10)}, []Polygon{rectangle(5, 5, 15, 15)}, 175, 25, 75, 150},
		{"the same square", []Polygon{rectangle(0, 0, 10, 10)}, []Polygon{rectangle(0, 0, 10, 10)}, 100, 100, 0, 0},
		{"neighbours with a common side", []Polygon{rectangle(0, 0, 10, 10)}, []Polygon{rectangle(10, 0, 20, 10)}, 200, 0, 100, 200},
		{"squares that meet in a corner", []Polygon{rectangle(0, 0, 10, 10)}, []Polygon{rectangle(10, 10, 20, 20)}, 200, 0, 100, 200},
		{"one inside the other", []Polygon{rectangle(0, 0, 10, 10)}, []Polygon{rectangle(2, 2, 4, 4)}, 100, 4, 96, 96},
		{"a hole filled exactly", []Polygon{donut}, []Polygon{rectangle(3, 3, 7, 7)}, 100, 0, 84, 100},
		{"a hole and a bar across it", []Polygon{donut}, []Polygon{rectangle(-1, 4, 11, 6)}, 84 + 8 + 4, 12, 72, 72 + 12},
		{"outer ring clockwise, hole counter-clockwise", []Polygon{{backwards(donut[0]), backwards(donut[1])}}, nil, 84, 0, 84, 84},
		{"polygons of one list lap", []Polygon{rectangle(0, 0, 10, 10), rectangle(5, 0, 15, 10)}, []Polygon{rectangle(0, 0, 15, 1)}, 150, 15, 135, 135},
		{"the hole of one is filled by another of its list", []Polygon{donut, rectangle(2, 2, 8, 8)}, nil, 100, 0, 100, 100},
		{"nothing and nothing", nil, nil, 0, 0, 0, 0},
		{"nothing and something", nil, []Polygon{rectangle(0, 0, 1, 1)}, 1, 0, 0, 1},
		{"an empty polygon and a line", []Polygon{{}, {{{0, 0}, {5, 5}}}}, []Polygon{rectangle(0, 0, 1, 1)}, 1, 0, 0, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			ctx := context.Background()
			for _, op := range []struct {
				name string
				f    func(context.Context, []Polygon, []Polygon) ([]Polygon, error)
				want float64
			}{
				{"union", Union, c.union}, {"intersection", Intersection, c.intersection},
				{"difference", Difference, c.difference}, {"symmetric difference", SymDifference, c.symDiff},
				{"split, in", splitIn, c.intersection}, {"split, out", splitOut, c.difference},
			} {
				got, err := op.f(ctx, c.a, c.b)
				if err != nil {
					t.Fatalf("%s: %v", op.name, err)
				}
				if area := layerArea(got); math.Abs(area-op.want) > layerTolerance(got) {
					t.Errorf("%s: %.6f m², want %.0f m²", op.name, area, op.want)
				}
				if op.want == 0 && len(got) != 0 {
					t.Errorf("%s: %v, want nothing", op.name, got)
				}
				if err := invalid(got); err != nil {
					t.Errorf("%s: %v", op.name, err)
				}
			}
		})
	}
}

// SymDifference is the ground that lies in exactly one of a and b. The program has no need of it; published cases do.
func SymDifference(ctx context.Context, a, b []Polygon) ([]Polygon, error) {
	return combine(ctx, "symmetric difference", a, b, func(inA, inB bool) bool { return inA != inB })
}

func splitIn(ctx context.Context, a, b []Polygon) ([]Polygon, error) {
	in, _, err := Split(ctx, a, b)
	return in, err
}

func splitOut(ctx context.Context, a, b []Polygon) ([]Polygon, error) {
	_, out, err := Split(ctx, a, b)
	return out, err
}

func TestBooleanLeavesItsArgumentsAlone(t *testing.T) {
	a := []Polygon{{backwards(rectangle(0, 0, 10.0000000001, 10)[0])}}
	before := slices.Clone(a[0][0])
	if _, err := Union(context.Background(), a, a); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(a[0][0], before) {
		t.Errorf("changed to %v", a[0][0])
	}
}

func TestBooleanStopsWhenTold(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if got, err := Union(ctx, nil, nil); err == nil || got != nil {
		t.Errorf("nothing to do: %v %v, want an error", got, err)
	}
	if got, err := Union(ctx, []Polygon{rectangle(0, 0, 1, 1)}, nil); err == nil || got != nil {
		t.Errorf("something to do: %v %v, want an error", got, err)
	}
}

func TestMend(t *testing.T) {
	for _, c := range []struct {
		name  string
		rings []Ring
		area  float64
		parts int
		holes int
	}{
		{"valid already", []Ring{rectangle(0, 0, 10, 10)[0]}, 100, 1, 0},
		{"clockwise", []Ring{backwards(rectangle(0, 0, 10, 10)[0])}, 100, 1, 0},
		{"figure eight", []Ring{{{0, 0}, {10, 10}, {10, 0}, {0, 10}}}, 50, 2, 0},
		{"closed by hand", []Ring{{{0, 0}, {10, 0}, {10, 10}, {0, 10}, {0, 0}}}, 100, 1, 0},
		{"hole running either way", []Ring{rectangle(0, 0, 10, 10)[0], rectangle(2, 2, 4, 4)[0], backwards(rectangle(6, 6, 8, 8)[0])}, 92, 1, 2},
		{"island in a hole", []Ring{rectangle(0, 0, 10, 10)[0], rectangle(1, 1, 9, 9)[0], rectangle(2, 2, 8, 8)[0]}, 36 + 36, 2, 1},
		{"spike outward", []Ring{{{0, 0}, {10, 0}, {10, 5}, {30, 5}, {10, 5}, {10, 10}, {0, 10}}}, 100, 1, 0},
		{"pinched at a point", []Ring{{{0, 0}, {5, 5}, {10, 0}, {10, 10}, {5, 5}, {0, 10}}}, 50, 2, 0},
		{"five-pointed star: the middle is even", []Ring{{{0, 10}, {6, -8}, {-9.5, 3}, {9.5, 3}, {-6, -8}}}, 77.3568, 5, 0},
		{"all on one line", []Ring{{{0, 0}, {10, 0}, {5, 0}}}, 0, 0, 0},
		{"nothing", nil, 0, 0, 0},
		{"too short", []Ring{{{0, 0}, {1, 1}}, {}}, 0, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, err := Mend(c.rings)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(layerArea(got)-c.area) > layerTolerance(got) {
				t.Errorf("%.6f m², want %.4f m²", layerArea(got), c.area)
			}
			holes := 0
			for _, p := range got {
				holes += len(p) - 1
			}
			if len(got) != c.parts || holes != c.holes {
				t.Errorf("%d polygons with %d holes, want %d with %d: %v", len(got), holes, c.parts, c.holes, got)
			}
			if err := invalid(got); err != nil {
				t.Error(err)
			}
			again, err := Mend(flat(got))
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(layerArea(again)-layerArea(got)) > layerTolerance(got, again) || len(again) != len(got) {
				t.Errorf("mended again: %v instead of %v", again, got)
			}
		})
	}
	if got, err := Mend([]Ring{{{0, 0}, {math.NaN(), 0}, {1, 1}}}); err == nil || got != nil {
		t.Errorf("not a number: %v %v, want an error", got, err)
	}
	if got, err := Mend([]Ring{{{0, 0}, {2 * Limit, 0}, {1, 1}}}); err == nil || got != nil {
		t.Errorf("beyond the limit: %v %v, want an error", got, err)
	}
}

func flat(polys []Polygon) (rings []Ring) {
	for _, p := range polys {
		rings = append(rings, p...)
	}
	return rings
}
