package plane

import (
	"math"
	"testing"
)

// A line from (1, 1) to (5, 4), 5 m long: 3-4-5 triangles.
func TestDistanceToASegment(t *testing.T) {
	s := Segment{XY{X: 1, Y: 1}, XY{X: 5, Y: 4}}
	point := Segment{XY{X: 1, Y: 1}, XY{X: 1, Y: 1}}
	for _, c := range []struct {
		name        string
		s           Segment
		p           XY
		share, dist float64
	}{
		{"on the start", s, XY{X: 1, Y: 1}, 0, 0},
		{"on the end", s, XY{X: 5, Y: 4}, 1, 0},
		{"on the middle", s, XY{X: 3, Y: 2.5}, 0.5, 0},
		{"5 m to the left of the middle", s, XY{X: 0, Y: 6.5}, 0.5, 5},
		{"5 m to the right of the end", s, XY{X: 8, Y: 0}, 1, 5},
		{"10 m before the start", s, XY{X: -7, Y: -5}, 0, 10},
		{"behind the end and beside it", s, XY{X: 5, Y: 7}, 1, 3},
		{"a segment of no length", point, XY{X: 4, Y: 5}, 0, 5},
	} {
		if share, dist := c.s.Share(c.p), math.Sqrt(c.s.Dist2(c.p)); math.Abs(share-c.share) > 1e-12 || math.Abs(dist-c.dist) > 1e-12 {
			t.Errorf("%s: nearest at %g of it, %g m away; want %g, %g m", c.name, share, dist, c.share, c.dist)
		}
	}
}

func TestSegmentsCross(t *testing.T) {
	s := Segment{XY{}, XY{X: 4, Y: 4}}
	for _, c := range []struct {
		name string
		t    Segment
		want bool
	}{
		{"square across the middle", Segment{XY{X: 4}, XY{Y: 4}}, true},
		{"aslant near the end", Segment{XY{X: 3, Y: 4}, XY{X: 4, Y: 3}}, true},
		{"beyond the end", Segment{XY{X: 4, Y: 5}, XY{X: 5, Y: 4}}, false},
		{"before the start", Segment{XY{X: -1, Y: 0}, XY{X: 0, Y: -1}}, false},
		{"it ends before the line", Segment{XY{X: 4}, XY{X: 3, Y: 2}}, false},
		{"it begins behind the line", Segment{XY{X: 1, Y: 2}, XY{Y: 4}}, false},
		{"beside it, the same way", Segment{XY{X: 1}, XY{X: 5, Y: 4}}, false},
	} {
		back := Segment{c.t.B, c.t.A}
		if s.Crosses(c.t) != c.want || c.t.Crosses(s) != c.want || s.Crosses(back) != c.want || back.Crosses(s) != c.want {
			t.Errorf("%s: want %t, whichever is asked and whichever way it runs", c.name, c.want)
		}
	}
}
