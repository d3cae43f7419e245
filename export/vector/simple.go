package vector

import (
	"cmp"
	"slices"

	"balk/geo/plane"
)

// edge is one side of a ring of places; lo and hi are its ends along the sweep.
type edge struct {
	a, b    place
	lo, hi  int64
	ring, i int32
}

// start is where the sweep meets an edge.
type start struct {
	lo   int64
	edge int32
}

// simple tells whether the rings, as they will stand in the file, neither cross
// nor touch themselves or each other. Exact: places are integers, products are
// 128 bits wide.
func (s *rounding) simple(rings [][]place) bool {
	return s.eachPair(rings, func(e, o *edge) bool { return !e.meets(o, int32(len(rings[e.ring]))) })
}

// eachPair calls f with edges whose boxes overlap, each pair once, until it says no, and says whether it never did.
//
// A sweep along the longer side of the rings' box compares each edge with those
// it overlaps there; for strips, passes and rings along a boundary these are few.
func (s *rounding) eachPair(rings [][]place, f func(e, o *edge) bool) bool {
	n := 0
	for _, r := range rings {
		n += len(r)
	}
	edges, order := slices.Grow(s.edges[:0], n), slices.Grow(s.order[:0], n)
	box := [4]int64{1 << 62, 1 << 62, -1 << 62, -1 << 62}
	for k, r := range rings {
		for i, a := range r {
			edges = append(edges, edge{a: a, b: r[(i+1)%len(r)], ring: int32(k), i: int32(i)})
			box = [4]int64{min(box[0], a.lon), min(box[1], a.lat), max(box[2], a.lon), max(box[3], a.lat)}
		}
	}
	byLat := box[3]-box[1] > box[2]-box[0]
	for i := range edges {
		e := &edges[i]
		e.lo, e.hi = e.a.lon, e.b.lon
		if byLat {
			e.lo, e.hi = e.a.lat, e.b.lat
		}
		if e.lo > e.hi {
			e.lo, e.hi = e.hi, e.lo
		}
		order = append(order, start{e.lo, int32(i)})
	}
	slices.SortFunc(order, func(a, b start) int { return cmp.Compare(a.lo, b.lo) })
	active := s.active[:0]
	defer func() { s.edges, s.order, s.active = edges[:0], order[:0], active[:0] }()
	for _, n := range order {
		e := &edges[n.edge]
		kept := active[:0]
		for _, m := range active {
			o := &edges[m]
			if o.hi < e.lo {
				continue
			}
			kept = append(kept, m)
			if !f(e, o) {
				return false
			}
		}
		active = append(kept, n.edge)
	}
	return true
}

// meets tells whether two edges have a point in common that they should not
// have: neighbours of a ring of n edges share one end and nothing else.
func (e *edge) meets(o *edge, n int32) bool {
	if max(min(e.a.lon, e.b.lon), min(o.a.lon, o.b.lon)) > min(max(e.a.lon, e.b.lon), max(o.a.lon, o.b.lon)) ||
		max(min(e.a.lat, e.b.lat), min(o.a.lat, o.b.lat)) > min(max(e.a.lat, e.b.lat), max(o.a.lat, o.b.lat)) {
		return false
	}
	if e.ring == o.ring {
		switch {
		case (e.i+1)%n == o.i:
			return folds(e.a, e.b, o.b)
		case (o.i+1)%n == e.i:
			return folds(o.a, o.b, e.b)
		}
	}
	return side(e.a, e.b, o.a)*side(e.a, e.b, o.b) <= 0 && side(o.a, o.b, e.a)*side(o.a, o.b, e.b) <= 0
}

// folds tells whether the line p, v, q turns straight back at v.
func folds(p, v, q place) bool {
	if side(p, v, q) != 0 {
		return false
	}
	return (p.lon-v.lon < 0) == (q.lon-v.lon < 0) && (p.lat-v.lat < 0) == (q.lat-v.lat < 0) &&
		(p.lon != v.lon) == (q.lon != v.lon) && (p.lat != v.lat) == (q.lat != v.lat)
}

// side is 1 if c lies left of the line from a to b, −1 right, 0 on it. Places come from numbers of 53 bits, and are exact as such.
func side(a, b, c place) int { return plane.Orientation(a.exact(), b.exact(), c.exact()) }

func (p place) exact() [2]float64 { return [2]float64{float64(p.lon), float64(p.lat)} }
