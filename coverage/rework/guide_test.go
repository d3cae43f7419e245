package rework

import (
	"math"
	"slices"
	"testing"

	"balk/geo/plane"
)

// TestBesideAKink: places beside a guide that turns left by a right angle, its ends going on straight.
//
//	        │ 20
//	        │
//	0 ──────┘ 10
func TestBesideAKink(t *testing.T) {
	g := guideOf([]plane.XY{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 10}}, false)
	for _, c := range []struct {
		name string
		p    plane.XY
		s, t float64
	}{
		{"left of the first side", plane.XY{X: 5, Y: 2}, 5, 2},
		{"right of the second side", plane.XY{X: 12, Y: 5}, 15, -2},
		{"before the beginning", plane.XY{X: -3, Y: 1}, -3, 1},
		{"beyond the end", plane.XY{X: 9, Y: 14}, 24, 1},
		{"outside the kink", plane.XY{X: 13, Y: -4}, 10, -5},
		{"inside the kink, nearer to the second side", plane.XY{X: 8, Y: 3}, 13, 2},
	} {
		if s, left := g.frame(c.p); math.Abs(s-c.s) > 1e-9 || math.Abs(left-c.t) > 1e-9 {
			t.Errorf("%s: %g m along, %g m to the left; want %g and %g", c.name, s, left, c.s, c.t)
		}
	}
	for _, c := range []struct {
		name        string
		from, to, t float64
		want        []plane.XY
	}{
		{"inside, all of it", 0, 20, 1, []plane.XY{{X: 0, Y: 1}, {X: 9, Y: 1}, {X: 9, Y: 10}}},
		{"outside, from before the beginning", -5, 20, -1, []plane.XY{{X: -5, Y: -1}, {X: 11, Y: -1}, {X: 11, Y: 10}}},
		{"the second side, and on", 12, 25, 2, []plane.XY{{X: 8, Y: 2}, {X: 8, Y: 15}}},
		{"up to the kink", 2, 10, 1, []plane.XY{{X: 2, Y: 1}, {X: 10, Y: 1}}},
	} {
		got := g.beside(c.from, c.to, c.t)
		if !slices.EqualFunc(got, c.want, func(a, b plane.XY) bool { return a.Dist(b) < 1e-9 }) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// TestMiddleOf: centres of mass of shapes put together from rectangles, or less one.
func TestMiddleOf(t *testing.T) {
	hole := plane.Ring(rectangle(6, 6, 8, 8))
	slices.Reverse(hole)
	for _, c := range []struct {
		name  string
		shape plane.Polygon
		want  plane.XY
	}{
		{"rectangle far from the origin", plane.Polygon{rectangle(1000, -500, 1004, -494)}, plane.XY{X: 1002, Y: -497}},
		{"L of 20 by 10 and 10 by 10", plane.Polygon{{{X: 0, Y: 0}, {X: 20, Y: 0}, {X: 20, Y: 10}, {X: 10, Y: 10}, {X: 10, Y: 20}, {X: 0, Y: 20}}}, plane.XY{X: (200*10 + 100*5) / 300.0, Y: (200*5 + 100*15) / 300.0}},
		{"square of 10 with a hole of 2 off its middle", plane.Polygon{rectangle(0, 0, 10, 10), hole}, plane.XY{X: (100*5 - 4*7) / 96.0, Y: (100*5 - 4*7) / 96.0}},
	} {
		if got := middleOf(c.shape); got.Dist(c.want) > 1e-9 {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// TestLinesNear: what of lines lies near a square, in runs of whole sides, and of lines the longest first.
func TestLinesNear(t *testing.T) {
	square := []plane.Ring{rectangle(0, 0, 10, 10)}
	past := []plane.XY{{X: -30, Y: 12}, {X: -10, Y: 12}, {X: 5, Y: 12}, {X: 20, Y: 12}, {X: 40, Y: 12}}                            // 2 m off, two sides of it
	twice := []plane.XY{{X: 12, Y: 0}, {X: 12, Y: 5}, {X: 30, Y: 5}, {X: 30, Y: 20}, {X: 13, Y: 20}, {X: 13, Y: 9}, {X: 13, Y: 8}} // comes, goes and comes again
	far := []plane.XY{{X: -30, Y: 14}, {X: 30, Y: 14}}                                                                             // 4 m off
	corner := []plane.XY{{X: 12, Y: 14}, {X: 14, Y: 12}}                                                                           // 3√2 m off the corner, its box nearer
	got := linesNear([][]plane.XY{past, twice, far, corner}, square, 3)
	want := [][]plane.XY{past[1:4], twice[:3], twice[4:]}
	if !slices.EqualFunc(got, want, func(a, b []plane.XY) bool { return slices.Equal(a, b) }) {
		t.Errorf("%v, want %v", got, want)
	}
	if got := longest([][]plane.XY{corner, far, past, twice}, 3); len(got) != 3 || !slices.Equal(got[0], past) || !slices.Equal(got[1], twice) || !slices.Equal(got[2], far) {
		t.Errorf("the longest: %v", got)
	}
	if a, b := longestEdge(twice); a != twice[1] || b != twice[2] {
		t.Errorf("longest edge from %v to %v", a, b)
	}
}

// TestCutAlong: a frame cut beside its middle, and a U whose arms fall apart.
func TestCutAlong(t *testing.T) {
	inner := plane.Ring(rectangle(4, 4, 6, 6))
	slices.Reverse(inner)
	u := plane.Polygon{{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 10}, {X: 7, Y: 10}, {X: 7, Y: 2}, {X: 4, Y: 2}, {X: 4, Y: 10}, {X: 0, Y: 10}}}
	for _, c := range []struct {
		name  string
		shape plane.Polygon
		cut   line
		want  []float64 // m²
	}{
		{"frame, through its hole", plane.Polygon{rectangle(0, 0, 10, 10), inner}, line{plane.XY{X: 5, Y: 5}, plane.XY{X: 1}}, []float64{48, 48}},
		{"frame, beside its hole", plane.Polygon{rectangle(0, 0, 10, 10), inner}, line{plane.XY{X: 5, Y: 3}, plane.XY{X: 1}}, []float64{30, 66}},
		{"U, above its base", u, line{plane.XY{X: 4, Y: 2}, plane.XY{X: 1}}, []float64{20, 24, 32}},
		{"past it", u, line{plane.XY{X: 4, Y: 11}, plane.XY{X: 1}}, []float64{76}},
		{"far off on the line", u, line{plane.XY{X: 400, Y: 2}, plane.XY{X: -1}}, []float64{20, 24, 32}},
	} {
		parts, err := cutAlong(t.Context(), c.shape, c.cut)
		if err != nil {
			t.Fatal(err)
		}
		var got []float64
		for _, p := range parts {
			got = append(got, math.Round(1e3*p.Area())/1e3)
		}
		if slices.Sort(got); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v m², want %v", c.name, got, c.want)
		}
	}
}

// TestNearRings: corners of one shape within 2 m of edges of another.
func TestNearRings(t *testing.T) {
	a := plane.Polygon{rectangle(0, 0, 10, 10)}
	for _, c := range []struct {
		name string
		b    plane.Polygon
		want bool
	}{
		{"corner before an edge", plane.Polygon{{{X: 11.5, Y: 5}, {X: 20, Y: 0}, {X: 20, Y: 10}}}, true},
		{"corner too far before an edge", plane.Polygon{{{X: 12.5, Y: 5}, {X: 20, Y: 0}, {X: 20, Y: 10}}}, false},
		{"corner to corner", plane.Polygon{rectangle(11, 11, 20, 20)}, true},
		{"corner to corner, the boxes nearer than they", plane.Polygon{rectangle(11.9, 11.9, 20, 20)}, false},
		{"corner above an edge", plane.Polygon{{{X: 5, Y: 11.5}, {X: 8, Y: 20}, {X: 2, Y: 20}}}, true},
		{"corner left of an edge", plane.Polygon{{{X: -1.5, Y: 5}, {X: -8, Y: 9}, {X: -8, Y: 2}}}, true},
	} {
		if got := nearRings(c.b, a, 2); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
