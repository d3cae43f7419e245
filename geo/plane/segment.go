package plane

import (
	"iter"
	"math"
)

// Segment is the straight line from A to B.
type Segment struct{ A, B XY }

// Share is where on s the place nearest to p lies, as share of its length: 0 at A, 1 at B.
func (s Segment) Share(p XY) float64 {
	d := s.B.Sub(s.A)
	if l2 := d.Dot(d); l2 > 0 {
		return min(1, max(0, p.Sub(s.A).Dot(d)/l2))
	}
	return 0
}

// At is the place at a share of the length.
func (s Segment) At(share float64) XY { return s.A.Lerp(s.B, share) }

// Nearest is the place on s that is nearest to p.
func (s Segment) Nearest(p XY) XY { return s.At(s.Share(p)) }

// Dist is the distance from p to s in metres.
func (s Segment) Dist(p XY) float64 { return math.Sqrt(s.Dist2(p)) }

// Dist2 is the square of the distance from p to s, m². It divides only where the nearest place is no end.
func (s Segment) Dist2(p XY) float64 {
	x, y := s.B.X-s.A.X, s.B.Y-s.A.Y
	px, py := p.X-s.A.X, p.Y-s.A.Y
	if dot := px*x + py*y; dot > 0 {
		t := 1.0
		if l2 := x*x + y*y; dot < l2 {
			t = dot / l2
		}
		px, py = px-t*x, py-t*y
	}
	return px*px + py*py
}

// Crosses says whether s and t cross in a place inside both. Where an end of one lies on the other, rounding decides.
func (s Segment) Crosses(t Segment) bool {
	d, e := s.B.Sub(s.A), t.B.Sub(t.A)
	return (d.Cross(t.A.Sub(s.A)) > 0) != (d.Cross(t.B.Sub(s.A)) > 0) &&
		(e.Cross(s.A.Sub(t.A)) > 0) != (e.Cross(s.B.Sub(t.A)) > 0)
}

// passes says whether a ray from p to the east, half-open as to heights, meets s.
func (s Segment) passes(p XY) bool {
	return (s.A.Y > p.Y) != (s.B.Y > p.Y) && p.X < s.A.X+(s.B.X-s.A.X)*(p.Y-s.A.Y)/(s.B.Y-s.A.Y)
}

// Box is the box around s.
func (s Segment) Box() Box {
	return Box{XY{min(s.A.X, s.B.X), min(s.A.Y, s.B.Y)}, XY{max(s.A.X, s.B.X), max(s.A.Y, s.B.Y)}}
}

// Sides are the sides of a ring, by the number of the corner at which each begins.
func (r Ring) Sides() iter.Seq2[int, Segment] {
	return func(yield func(int, Segment) bool) {
		for i, a := range r {
			next := i + 1
			if next == len(r) {
				next = 0
			}
			if !yield(i, Segment{a, r[next]}) {
				return
			}
		}
	}
}

// Length is the length of an open line in metres.
func Length(line []XY) float64 {
	var l float64
	for i := 1; i < len(line); i++ {
		l += line[i].Dist(line[i-1])
	}
	return l
}
