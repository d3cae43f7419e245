package plane

import "math"

const (
	// circlePrecision is how much larger than the circle found the largest circle
	// may be, in metres of radius.
	circlePrecision = 1e-3
	// circleFinest is the length in metres (or the angle in radians) below which
	// a stretch of boundary is one place: far below the lattice, above rounding.
	circleFinest = 1e-9
	// circleSamples is the number of edges looked at beforehand, for a good circle
	// to beat: a strip of even width has one anywhere.
	circleSamples = 64
)

// Inscribed finds the largest circle that lies inside p and holds no part of
// its boundary: its centre and radius in metres. The radius is exact for the
// centre given, and no other centre gives more than 1 mm more. A polygon without
// ground has radius 0.
//
// The largest circle touches the boundary, square to it: inside an edge, or at
// a corner that turns right, between the normals of its two edges. So it is
// enough to go once along the boundary and ask of every place, how large a
// circle that touches there may be. For a place b with normal n, a point q of
// the boundary with (q-b)·n > 0 is not inside the circle of radius r when
//
//	r <= R(b, n, q) = |q-b|² / (2 (q-b)·n),
//
// and the limit set by an edge f is the least R of its points. Both ends of a
// stretch of boundary tell about what lies between:
//
//	(1) Along an edge n is fixed and, if q moves evenly along f as b moves along
//	    the edge, R is a square over a linear term of the same variable, which is
//	    convex. So from b0 to b1 the limit set by f is never above the greater of
//	    the limits set at b0 and b1.
//	(2) Around a corner b is fixed, and R = |q-b|/(2 cos t), where t is the angle
//	    from n to q. That is convex in t, so the same holds for any point q.
//
// What limits the circle at one end therefore settles a first part of the
// stretch, what limits it at the other end a last part, and only what is left
// in the middle has to be looked at again. Between even sides nothing is left,
// however long or bent the strip: the work grows with the number of edges, not
// with length over width.
func Inscribed(p Polygon) (centre XY, radius float64) { return InscribedUpTo(p, math.Inf(1)) }

// InscribedUpTo is Inscribed, or the first circle found whose radius is as large as enough: then there may be larger ones.
func InscribedUpTo(p Polygon, enough float64) (centre XY, radius float64) {
	s := newCircleSearch(p)
	if s == nil {
		return XY{}, 0
	}
	s.enough = enough * (1 + circleFinest) // after rounding too
	found := s.run()
	if found.radius == 0 {
		return XY{}, 0
	}
	d2 := math.Inf(1)
	for _, e := range s.edges {
		v := found.best.Sub(e.Nearest(found.best))
		d2 = min(d2, v.Dot(v))
	}
	return found.best, math.Sqrt(d2)
}

type circleSearch struct {
	edges  []Segment // ring after ring, the ground on the left
	next   []int32   // the edge that follows each edge in its ring
	tree   edgeTree
	widest float64 // of the box around p: no circle inside has a larger diameter
	guess  float64 // of the radius
	enough float64 // a circle of this radius need not be the largest
	disc   float64 // m, radius of the disc that was rolled along the boundary; mouths of its pockets are edges too

	best   XY
	radius float64
}

// newCircleSearch gives nil for a polygon without extent.
func newCircleSearch(p Polygon) *circleSearch {
	s := &circleSearch{enough: math.Inf(1)}
	n := p.Corners()
	s.edges, s.next = make([]Segment, 0, n), make([]int32, 0, n)
	var area, length float64
	box := EmptyBox()
	for _, r := range p {
		first := len(s.edges)
		for _, side := range r.Sides() {
			if side.A == side.B {
				continue
			}
			s.edges = append(s.edges, side)
			s.next = append(s.next, int32(len(s.edges)))
			area += side.A.Sub(p[0][0]).Cross(side.B.Sub(p[0][0])) / 2
			length += side.A.Dist(side.B)
			box = box.Extend(side.A)
		}
		if last := len(s.edges) - 1; last >= first {
			s.next[last] = int32(first)
		}
	}
	if len(s.edges) == 0 {
		return nil
	}
	size := box.Max.Sub(box.Min)
	s.widest = min(size.X, size.Y)
	if !(s.widest > 0) || math.IsInf(s.widest, 0) || !(length > 0) {
		return nil
	}
	s.guess = max(math.Abs(area)/length, circlePrecision)
	s.tree = newEdgeTree(s.edges)
	return s
}

// rim is a part of the boundary where a circle may touch: an edge, by the
// distance from its beginning, or the corner at its end, by the angle turned.
type rim struct {
	from   XY
	to     XY      // end of the edge
	length float64 // of the edge
	along  XY      // unit vector of the edge
	corner bool
	own    [2]int32 // the edges that the circle touches anyway
}

// place is where a circle touches: at from + at·along, its centre to the left.
type place struct {
	from, along XY
	at          float64
}

func (t rim) place(u float64) place {
	if t.corner {
		return place{from: t.from, along: rotate(t.along, -u)}
	}
	if u == t.length {
		return place{from: t.to, along: t.along} // exactly: the next edge begins there
	}
	return place{from: t.from, along: t.along, at: u}
}

// contact is what limits the circle that touches at a place. Without ground
// there radius is 0 and known false.
type contact struct {
	known  bool
	radius float64
	number int32 // of the edge that limits it
	edge   Segment
	point  XY // of the edge
}

// limit is what settles other places of the rim: see (1) and (2).
func (t rim) limit(c contact) Segment {
	if t.corner && c.point != t.from {
		return Segment{c.point, c.point}
	}
	return c.edge // for an edge that meets the corner itself: no ground on its side
}

// run gives the search with the circle found.
func (s *circleSearch) run() *circleSearch {
	if s.sample() {
		return s
	}
	if s = s.rolled(); !s.full() {
		s.round()
	}
	return s
}

// sample looks at some places, and says whether the circle found is as wide as the box around the polygon, or wide enough.
func (s *circleSearch) sample() (full bool) {
	for k := 0; k < len(s.edges) && !s.full(); k += max(1, len(s.edges)/circleSamples) {
		if t := s.edge(int32(k)); !s.tree.mouth(int32(k)) {
			s.look(t, t.length/2)
		} else if t, turn := s.corner(int32(k)); turn > 0 {
			s.look(t, turn/2)
		}
	}
	return s.full()
}

func (s *circleSearch) full() bool {
	return s.radius >= s.enough || s.radius >= s.widest/2-circlePrecision
}

// round goes once along the boundary, or until a circle is wide enough.
func (s *circleSearch) round() {
	var begin, end contact
	for k := 0; k < len(s.edges) && s.radius < s.enough; k++ {
		mouth := s.tree.mouth(int32(k))
		if !mouth {
			t := s.edge(int32(k))
			begin = s.lookFrom(t, 0, end)
			end = s.lookFrom(t, t.length, begin)
			s.settle(t, 0, t.length, begin, end)
		}
		if t, turn := s.corner(int32(k)); turn > 0 {
			if mouth {
				end = s.lookFrom(t, 0, end)
			}
			begin, end = end, s.lookFrom(t, turn, end)
			s.settle(t, 0, turn, begin, end)
		}
	}
}

func (s *circleSearch) edge(k int32) rim {
	e := s.edges[k]
	l := e.A.Dist(e.B)
	return rim{from: e.A, to: e.B, length: l, along: e.B.Sub(e.A).Scale(1 / l), own: [2]int32{k, k}}
}

// corner is the one at the end of edge k, and by how much a circle turns there; 0: it does not touch there.
func (s *circleSearch) corner(k int32) (t rim, turn float64) {
	in, on := s.leaves(k), s.begins(s.next[k])
	cross := in.Cross(on)
	if !(cross < 0) {
		return rim{}, 0
	}
	t = rim{from: s.edges[k].B, along: in, corner: true, own: [2]int32{k, s.next[k]}}
	if s.tree.mouth(k) { // which stands for its first corner, another one
		t.own[0] = s.next[k]
	}
	return t, math.Atan2(-cross, in.Dot(on))
}

// settle makes sure that no circle that touches between lo and hi beats the
// best by more than circlePrecision; begin and end are the contacts there.
// Every place looked at settles some ground to both sides, for the best is by
// then at least as large as its circle; so the halving ends.
func (s *circleSearch) settle(t rim, lo, hi float64, begin, end contact) {
	if !begin.known && !end.known {
		return
	}
	first, last := t.limit(begin), t.limit(end)
	settled := func(u float64, by contact, g Segment) bool {
		if !by.known {
			return false
		}
		r, _ := t.place(u).limit(g)
		return r <= s.radius+circlePrecision
	}
	if settled(hi, begin, first) || settled(lo, end, last) {
		return
	}
	for hi-lo > circleFinest {
		mid := lo + (hi-lo)/2
		up, down := settled(mid, begin, first), settled(mid, end, last)
		if up && down {
			return
		}
		if !up && !down {
			c := s.look(t, mid)
			s.settle(t, lo, mid, begin, c)
			s.settle(t, mid, hi, c, end)
			return
		}
		if up {
			lo = mid
		} else {
			hi = mid
		}
	}
}

// lookFrom spares the search where the edge that limited the circle at the place
// before limits it enough.
func (s *circleSearch) lookFrom(t rim, u float64, before contact) contact {
	if n := before.number; before.known && n != t.own[0] && n != t.own[1] {
		if r, point := t.place(u).limit(before.edge); r <= s.radius+circlePrecision {
			return contact{true, r, n, before.edge, point}
		}
	}
	return s.look(t, u)
}

// look finds the largest circle that touches at a place, and keeps it if it is
// the best.
func (s *circleSearch) look(t rim, u float64) contact {
	p := t.place(u)
	q := query{place: p, own: t.own}
	// Growing from a likely size keeps the search near the place.
	for r := 2 * max(s.radius, s.guess); !q.found.known; r *= 2 {
		q.found.radius = min(r, s.widest)
		q.centre = p.centre(q.found.radius)
		s.tree.shrink(&q, 1)
		if r >= s.widest {
			break
		}
	}
	if !q.found.known {
		return contact{}
	}
	if r := q.found.radius; r > s.radius+circleFinest {
		if !s.tree.inside(q.centre) {
			return contact{} // edges lie on each other: there is no ground here
		}
		s.best, s.radius = q.centre, r
	}
	return q.found
}

// centre is the centre of the circle of radius r that touches at p.
func (p place) centre(r float64) XY {
	return p.from.Add(p.along.Scale(p.at)).Add(p.along.Left().Scale(r))
}

// limit is the radius of the largest circle touching at p that does not hold a
// point of g, and the point where it touches g; +Inf where g does not limit it.
func (p place) limit(g Segment) (radius float64, point XY) {
	// Seen from p, with y to the centre. The differences are exact for near
	// points, so that neighbours at an angle close to 180° are not misjudged.
	va, vb := g.A.Sub(p.from), g.B.Sub(p.from)
	ax, ay := p.along.Dot(va)-p.at, p.along.Cross(va)
	bx, by := p.along.Dot(vb)-p.at, p.along.Cross(vb)
	if ay <= 0 && by <= 0 {
		return math.Inf(1), XY{}
	}
	if ax == 0 && ay == 0 {
		return 0, g.A
	}
	if bx == 0 && by == 0 {
		return 0, g.B
	}
	ux, uy := bx-ax, by-ay
	var t float64
	if l2 := ux*ux + uy*uy; l2 > 0 {
		// The line at distance h >= 0 with unit normal m touches the circle of
		// radius h/(1+m.y), at r·m above the centre, which is at the height h.
		l := math.Sqrt(l2)
		mx, my := -uy/l, ux/l
		h := mx*ax + my*ay
		if h < 0 {
			mx, my, h = -mx, -my, -h
		}
		k := 1 + my
		if my < 0 {
			k = mx * mx / (1 - my) // the same without cancellation
		}
		if k == 0 {
			return math.Inf(1), XY{}
		}
		r := h / k
		t = ((r*mx-ax)*ux + (h-ay)*uy) / l2
		if t >= 0 && t <= 1 {
			return r, g.A.Lerp(g.B, t)
		}
	}
	// R only grows away from there: the nearer end counts.
	x, y, point := ax, ay, g.A
	if t > 1 {
		x, y, point = bx, by, g.B
	}
	if y <= 0 {
		return math.Inf(1), XY{}
	}
	return (x*x + y*y) / (2 * y), point
}
