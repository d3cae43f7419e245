package turn

import (
	"math"

	"balk/geo/plane"
)

// segment is a straight line from a to b.
type segment struct{ a, b plane.XY }

// near is the place on s nearest to p, as share of its length.
func (s segment) near(p plane.XY) float64 {
	d := s.b.Sub(s.a)
	l2 := d.Dot(d)
	if l2 == 0 {
		return 0
	}
	return math.Max(0, math.Min(1, p.Sub(s.a).Dot(d)/l2))
}

// dist2 is the square of the distance from p to s, m².
func (s segment) dist2(p plane.XY) float64 {
	d := p.Sub(s.a.Lerp(s.b, s.near(p)))
	return d.Dot(d)
}

// crosses says whether s and t cross in a point inside both.
func (s segment) crosses(t segment) bool {
	d, e := s.b.Sub(s.a), t.b.Sub(t.a)
	return (d.Cross(t.a.Sub(s.a)) > 0) != (d.Cross(t.b.Sub(s.a)) > 0) &&
		(e.Cross(s.a.Sub(t.a)) > 0) != (e.Cross(s.b.Sub(t.a)) > 0)
}

// winds says whether p lies inside the quadrilateral by the even-odd rule: a
// bow-tie has both its triangles inside.
func winds(p, a, b, c, d plane.XY) bool {
	in := false
	for _, e := range [4]segment{{a, b}, {b, c}, {c, d}, {d, a}} {
		if (e.a.Y > p.Y) != (e.b.Y > p.Y) {
			if side := e.b.Sub(e.a).Cross(p.Sub(e.a)); (side > 0) == (e.b.Y > e.a.Y) {
				in = !in
			}
		}
	}
	return in
}
