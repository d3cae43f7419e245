package turn

import (
	"math"
	"testing"

	"balk/geo/plane"
)

// A line from (1, 1) to (5, 4), 5 m long: 3-4-5 triangles.
func TestDistanceToASegment(t *testing.T) {
	s := segment{plane.XY{X: 1, Y: 1}, plane.XY{X: 5, Y: 4}}
	point := segment{plane.XY{X: 1, Y: 1}, plane.XY{X: 1, Y: 1}}
	for _, c := range []struct {
		name        string
		s           segment
		p           plane.XY
		share, dist float64
	}{
		{"on the start", s, plane.XY{X: 1, Y: 1}, 0, 0},
		{"on the end", s, plane.XY{X: 5, Y: 4}, 1, 0},
		{"on the middle", s, plane.XY{X: 3, Y: 2.5}, 0.5, 0},
		{"5 m to the left of the middle", s, plane.XY{X: 0, Y: 6.5}, 0.5, 5},
		{"5 m to the right of the end", s, plane.XY{X: 8, Y: 0}, 1, 5},
		{"10 m before the start", s, plane.XY{X: -7, Y: -5}, 0, 10},
		{"behind the end and beside it", s, plane.XY{X: 5, Y: 7}, 1, 3},
		{"a segment of no length", point, plane.XY{X: 4, Y: 5}, 0, 5},
	} {
		if share, dist := c.s.near(c.p), math.Sqrt(c.s.dist2(c.p)); math.Abs(share-c.share) > 1e-12 || math.Abs(dist-c.dist) > 1e-12 {
			t.Errorf("%s: nearest at %g of it, %g m away; want %g, %g m", c.name, share, dist, c.share, c.dist)
		}
	}
}

func TestSegmentsCross(t *testing.T) {
	s := segment{plane.XY{}, plane.XY{X: 4, Y: 4}}
	for _, c := range []struct {
		name string
		t    segment
		want bool
	}{
		{"square across the middle", segment{plane.XY{X: 4}, plane.XY{Y: 4}}, true},
		{"aslant near the end", segment{plane.XY{X: 3, Y: 4}, plane.XY{X: 4, Y: 3}}, true},
		{"beyond the end", segment{plane.XY{X: 4, Y: 5}, plane.XY{X: 5, Y: 4}}, false},
		{"before the start", segment{plane.XY{X: -1, Y: 0}, plane.XY{X: 0, Y: -1}}, false},
		{"it ends before the line", segment{plane.XY{X: 4}, plane.XY{X: 3, Y: 2}}, false},
		{"it begins behind the line", segment{plane.XY{X: 1, Y: 2}, plane.XY{Y: 4}}, false},
		{"beside it, the same way", segment{plane.XY{X: 1}, plane.XY{X: 5, Y: 4}}, false},
	} {
		back := segment{c.t.b, c.t.a}
		if s.crosses(c.t) != c.want || c.t.crosses(s) != c.want || s.crosses(back) != c.want || back.crosses(s) != c.want {
			t.Errorf("%s: want %t, whichever is asked and whichever way it runs", c.name, c.want)
		}
	}
}

// A quadrilateral run either way, and a bow-tie: of that both triangles are inside, what lies beside its waist is not.
func TestInsideAQuadrilateral(t *testing.T) {
	kite := [4]plane.XY{{X: 0, Y: 0}, {X: 3, Y: -1}, {X: 5, Y: 2}, {X: 1, Y: 3}}
	tie := [4]plane.XY{{X: 0, Y: 0}, {X: 4, Y: 4}, {X: 4, Y: 0}, {X: 0, Y: 4}}
	for _, c := range []struct {
		name string
		q    [4]plane.XY
		p    plane.XY
		want bool
	}{
		{"the middle", kite, plane.XY{X: 2, Y: 1}, true},
		{"left of it", kite, plane.XY{X: -0.5, Y: 1}, false},
		{"right of it", kite, plane.XY{X: 4.8, Y: 1}, false},
		{"below it, between its corners", kite, plane.XY{X: 0.5, Y: -0.5}, false},
		{"above it", kite, plane.XY{X: 1, Y: 3.5}, false},
		{"just inside a side", kite, plane.XY{X: 1.5, Y: -0.45}, true},
		{"the left wing", tie, plane.XY{X: 1, Y: 2}, true},
		{"the right wing", tie, plane.XY{X: 3, Y: 2}, true},
		{"below the waist", tie, plane.XY{X: 2, Y: 1}, false},
		{"above the waist", tie, plane.XY{X: 2, Y: 3}, false},
	} {
		a, b, d, e := c.q[0], c.q[1], c.q[2], c.q[3]
		for k := range 4 {
			if winds(c.p, a, b, d, e) != c.want || winds(c.p, e, d, b, a) != c.want {
				t.Errorf("%s, from corner %d: want %t", c.name, k+1, c.want)
			}
			a, b, d, e = b, d, e, a
		}
	}
}
