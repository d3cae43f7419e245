package plane

import "slices"

// A boundary of many corners that wavers keeps its circles from most of them: with a circle of some radius known, no larger one comes to a corner
// that a disc of that radius does not touch as it rolls along (see roll.go). Let a → c be the mouth of such a pocket, D the disc over it, and C a
// larger disc, its centre outside of the pocket, that holds neither a nor c. What C has of the pocket lies beyond a → c, on the other side than its centre, and
// between a and c. There its arc is flatter than that of D, so all of it lies in D, where the pocket has no edge. So of a pocket
// only a and c need to be looked at, and a circle that touches at a does so ahead of the place where it would reach c: its normal lies
// on the near side of that of D.

// rollAgain: where the discs have grown by so much since, it is worth while to roll along what is left with the larger one.
const rollAgain = 1.25

// rolled is the search along what a disc of the radius found so far touches, with larger ones as they are found; s itself where no ring is dense.
func (s *circleSearch) rolled() *circleSearch {
	if len(s.edges) < denseRing || s.radius == 0 {
		return s
	}
	var rings [][]XY
	var kept [][]int
	dense := false
	for first := 0; first < len(s.edges); {
		last := first
		for int(s.next[last]) != first {
			last++
		}
		ring := make([]XY, 0, last-first+1)
		for _, e := range s.edges[first : last+1] {
			ring = append(ring, e.A)
		}
		rings, kept = append(rings, ring), append(kept, upTo(len(ring)))
		dense = dense || len(ring) >= denseRing
		first = last + 1
	}
	if !dense {
		return s
	}
	for {
		radius := s.radius
		for i, ring := range rings {
			if len(ring) >= denseRing {
				kept[i] = rolledOver(ring, kept[i], radius)
			}
		}
		s = s.along(rings, kept)
		if s.sample(); s.radius < rollAgain*radius {
			return s
		}
	}
}

// along is the search along some corners of rings, given by number. Between two that do not follow each other lies a pocket.
func (s *circleSearch) along(rings [][]XY, kept [][]int) *circleSearch {
	out := &circleSearch{widest: s.widest, guess: s.guess, enough: s.enough, best: s.best, radius: s.radius, disc: s.radius}
	for r, ring := range rings {
		first := len(out.edges)
		for k, i := range kept[r] {
			j := kept[r][(k+1)%len(kept[r])]
			out.edges = append(out.edges, Segment{ring[i], ring[j]})
			out.next = append(out.next, int32(len(out.edges)))
			out.tree.mouths = append(out.tree.mouths, (i+1)%len(ring) != j)
		}
		out.next[len(out.next)-1] = int32(first)
	}
	mouths := out.tree.mouths
	out.tree = newEdgeTree(out.edges)
	out.tree.mouths = mouths
	return out
}

// rolledOver is touched among some corners, which a smaller disc touches.
func rolledOver(ring []XY, some []int, radius float64) []int {
	n := len(some)
	corner := func(k int) XY { return ring[some[k%n]] }
	stack := []int{0}
	for i := 1; i <= n; i++ {
		for k := len(stack) - 1; k > 0 && hidden(corner(stack[k-1]), corner(stack[k]), corner(i), radius); k-- {
			stack = stack[:k]
		}
		stack = append(stack, i)
	}
	var to []int
	for k, from := range stack[:len(stack)-1] {
		end := stack[k+1]
		last := len(ring)
		if end < n {
			last = some[end]
		}
		if to = append(to, some[from]); end == from+1 || goodPocket(ring, some[from], last, radius) {
			continue
		}
		to = append(to, some[from+1:end]...)
	}
	if len(to) < 3 { // no ring any more
		return some
	}
	return slices.Clip(to)
}

// leaves is the direction in which edge k comes to its end; of a pocket's mouth, that of the disc's arc over it.
func (s *circleSearch) leaves(k int32) XY {
	if e := s.edges[k]; s.tree.mouth(k) {
		return e.B.Sub(hanging(e.A, e.B, s.disc)).Left().Unit()
	}
	return s.edge(k).along
}

// begins is leaves at the beginning.
func (s *circleSearch) begins(k int32) XY {
	if e := s.edges[k]; s.tree.mouth(k) {
		return e.A.Sub(hanging(e.A, e.B, s.disc)).Left().Unit()
	}
	return s.edge(k).along
}
