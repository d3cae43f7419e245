package plane

import (
	"math/bits"
)

// leafEdges is the number of edges up to which looking at all of them is faster
// than looking at boxes first.
const leafEdges = 4

// edgeTree holds boxes around edges that follow each other, pair by pair: node 1
// holds all, node k the nodes 2k and 2k+1. Neighbours in a ring are neighbours
// on the ground, so the boxes are small without sorting.
type edgeTree struct {
	edges  []Segment
	boxes  []Box
	leaves int    // a power of two; the last may be empty
	mouths []bool // edges that are mouths of pockets, of which only the first corner limits a circle; nil: none
}

func newEdgeTree(edges []Segment) edgeTree {
	t := edgeTree{edges: edges, leaves: 1}
	if n := (len(edges) - 1) / leafEdges; n > 0 {
		t.leaves = 1 << bits.Len(uint(n))
	}
	t.boxes = make([]Box, 2*t.leaves)
	for k := range t.boxes {
		t.boxes[k] = EmptyBox()
	}
	for i, e := range edges {
		k := t.leaves + i/leafEdges
		t.boxes[k] = t.boxes[k].Extend(e.A, e.B)
	}
	for k := t.leaves - 1; k > 0; k-- {
		a, b := t.boxes[2*k], t.boxes[2*k+1]
		t.boxes[k] = Box{
			Min: XY{min(a.Min.X, b.Min.X), min(a.Min.Y, b.Min.Y)},
			Max: XY{max(a.Max.X, b.Max.X), max(a.Max.Y, b.Max.Y)},
		}
	}
	return t
}

func (t *edgeTree) mouth(k int32) bool { return t.mouths != nil && t.mouths[k] }

// leaf gives the numbers of the edges of a leaf: from, and one past the last.
func (t *edgeTree) leaf(node int) (from, to int) {
	from = (node - t.leaves) * leafEdges
	return from, min(from+leafEdges, len(t.edges))
}

// query is a circle that touches at a place, smaller with every edge met.
type query struct {
	place  place
	own    [2]int32 // edges passed over
	found  contact
	centre XY
}

// shrink makes the circle so small that it holds no part of an edge below node. Of two boxes that one comes first in which a
// smaller circle could end: no point of a box at distance d of the place that reaches h above it limits the circle to less than
// d²/2h. By distance alone, a circle that nestles into a corner would meet all edges from the corner up to where it touches.
func (t *edgeTree) shrink(q *query, node int) {
	if gap2(t.boxes[node], q.centre) >= q.found.radius*q.found.radius {
		return
	}
	if node >= t.leaves {
		for i, to := t.leaf(node); i < to; i++ {
			if int32(i) == q.own[0] || int32(i) == q.own[1] {
				continue
			}
			edge := t.edges[i]
			if t.mouth(int32(i)) {
				edge.B = edge.A
			}
			if r, point := q.place.limit(edge); r < q.found.radius {
				q.found = contact{true, r, int32(i), edge, point}
				q.centre = q.place.centre(r)
			}
		}
		return
	}
	first, second := 2*node, 2*node+1
	at, up := q.place.centre(0), q.place.along.Left()
	d, h := gap2(t.boxes[first], at), rise(t.boxes[first], at, up)
	e, i := gap2(t.boxes[second], at), rise(t.boxes[second], at, up)
	if e*h < d*i { // e/2i < d/2h
		first, second = second, first
	}
	t.shrink(q, first)
	t.shrink(q, second)
}

// rise is how far a box reaches beyond a place in a direction, at least 0.
func rise(b Box, from, up XY) float64 {
	x, y := b.Max.X, b.Max.Y
	if up.X < 0 {
		x = b.Min.X
	}
	if up.Y < 0 {
		y = b.Min.Y
	}
	return max(0, (XY{x, y}).Sub(from).Dot(up))
}

// gap2 is the squared distance from x to a box, 0 inside.
func gap2(b Box, x XY) float64 {
	dx, dy := max(b.Min.X-x.X, 0, x.X-b.Max.X), max(b.Min.Y-x.Y, 0, x.Y-b.Max.Y)
	return dx*dx + dy*dy
}

// inside says whether a ray from x along y meets an odd number of edges. Places
// on the boundary may come out either way.
func (t *edgeTree) inside(x XY) bool { return t.above(x, 1)%2 == 1 }

// above counts the edges below node that pass over x.
func (t *edgeTree) above(x XY, node int) int {
	b := t.boxes[node]
	if b.Max.X < x.X || b.Min.X > x.X || b.Max.Y < x.Y {
		return 0
	}
	if node < t.leaves {
		return t.above(x, 2*node) + t.above(x, 2*node+1)
	}
	n := 0
	for i, to := t.leaf(node); i < to; i++ {
		a, b := t.edges[i].A, t.edges[i].B
		if (a.X > x.X) != (b.X > x.X) && x.Y < a.Y+(x.X-a.X)*(b.Y-a.Y)/(b.X-a.X) {
			n++
		}
	}
	return n
}
