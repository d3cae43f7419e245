package coverage

import (
	"cmp"
	"math"
	"slices"

	"balk/geo/plane"
)

// crosses says whether a rung meets one of others, or is one of them.
func crosses(others []rung, tree *plane.Tree[int], g rung) bool {
	for i := range tree.In(g.Box()) {
		o := others[i]
		if g.ends == o.ends || g.ends == [2]rungEnd{o.ends[1], o.ends[0]} {
			return true
		}
		shared := g.ends[0] == o.ends[0] || g.ends[0] == o.ends[1] || g.ends[1] == o.ends[0] || g.ends[1] == o.ends[1]
		if !shared && g.Crosses(o.Segment) {
			return true
		}
	}
	return false
}

// cuts are the rungs between cores and slivers, and those between cores.
func (c cutter) cuts(l *ladder) []rung {
	core := make([]bool, len(l.cells))
	for k, cell := range l.cells {
		_, core[k] = broad(cell, coreNecks*c.neck)
	}
	group := make([]int, len(l.cells)) // of slivers that hang together
	for k := range group {
		group[k] = k
	}
	root := func(k int) int {
		for group[k] != k {
			group[k] = group[group[k]]
			k = group[k]
		}
		return k
	}
	for _, s := range l.sides {
		if !core[s[0]] && !core[s[1]] {
			group[root(s[0])] = root(s[1])
		}
	}
	doors, rims := make([]int, len(l.cells)), make([]float64, len(l.cells))
	for k, cell := range l.cells {
		rims[root(k)] += cell.Perimeter()
	}
	for _, s := range l.sides {
		if core[s[0]] != core[s[1]] {
			sliver := s[0]
			if core[sliver] {
				sliver = s[1]
			}
			doors[root(sliver)]++
		}
	}
	var out []rung
	for i, s := range l.sides {
		keep := core[s[0]] && core[s[1]]
		if core[s[0]] != core[s[1]] {
			sliver := s[0]
			if core[sliver] {
				sliver = s[1]
			}
			k := root(sliver)
			keep = doors[k] > 1 || rims[k]/2 >= c.tail
		}
		if keep {
			out = append(out, l.rungs[i])
		}
	}
	return out
}

// ladder is ground cut along rungs.
type ladder struct {
	rungs []rung
	cells []plane.Polygon
	sides [][2]int // of each rung: the cells beside it
}

// node is a place of the rim where rungs may end.
type node struct {
	at   plane.XY
	next int32 // the node after it along the rim
	fan  int32 // number of the fan that leaves it, from 1; 0: no rung ends here
}

// fan are the rungs that end at a node, as arcs that leave it, counter-clockwise from the rim that leaves it. Few of the nodes of a long rim have one.
type fan []int

// ladderOf cuts along rungs. One that has the same cell on both sides, as one from rim to hole has, cuts nothing off and is left out.
//
// Every cell is walked round with its ground on the left. At the end of an arc the walk goes on by the arc next to the left:
//
//	  ╲ 2   │ 1
//	   ╲    │       a walk that comes by the rim leaves by 2, one that comes by 2 by 1, one that comes by 1 by the rim
//	────●───────
func ladderOf(rim []plane.Edge, rungs []rung) *ladder {
	for {
		l, idle := cellsAlong(rim, rungs)
		if len(idle) == 0 {
			return l
		}
		kept := make([]rung, 0, len(rungs))
		for i, g := range rungs {
			if !idle[i] {
				kept = append(kept, g)
			}
		}
		rungs = kept
	}
}

func cellsAlong(rim []plane.Edge, rungs []rung) (*ladder, map[int]bool) {
	nodes, fans, of := nodesOf(rim, rungs)
	// Arcs: 2i and 2i+1 are rung i both ways, then one along the rim from each node.
	first := 2 * len(rungs)
	from := func(arc int) int {
		if arc >= first {
			return arc - first
		}
		return of[arc/2][arc%2]
	}
	follow := func(arc int) int {
		if arc >= first {
			n := int(nodes[arc-first].next)
			if r := fans[nodes[n].fan]; len(r) > 0 {
				return r[len(r)-1]
			}
			return first + n
		}
		n := of[arc/2][1-arc%2]
		r := fans[nodes[n].fan]
		if i := slices.Index(r, arc^1); i > 0 {
			return r[i-1]
		}
		return first + n
	}
	cell := make([]int32, first+len(nodes)) // ring of an arc, one more
	var rings []plane.Ring
	for arc := range cell {
		if cell[arc] > 0 {
			continue
		}
		var r plane.Ring
		for a := arc; cell[a] == 0; a = follow(a) {
			cell[a] = int32(len(rings)) + 1
			r = append(r, nodes[from(a)].at)
		}
		rings = append(rings, r)
	}
	idle := map[int]bool{}
	for i := range rungs {
		if cell[2*i] == cell[2*i+1] {
			idle[i] = true
		}
	}
	if len(idle) > 0 {
		return nil, idle
	}
	l := &ladder{rungs: rungs}
	place := make([]int, len(rings)) // of a ring: the cell it goes round
	var tree plane.Tree[int]
	for k, r := range rings {
		if r.Area() > 0 {
			place[k] = len(l.cells)
			tree.Insert(r.Bounds(), len(l.cells))
			l.cells = append(l.cells, plane.Polygon{r})
		}
	}
	for k, r := range rings {
		if r.Area() > 0 {
			continue
		}
		// Of the cells that are larger the smallest around a hole has it. What lies inside, between two islands, is smaller. Rings touch at corners.
		q, least := r[0].Lerp(r[1], 0.5), math.Inf(1)
		for i := range tree.In(plane.Box{Min: q, Max: q}) {
			if a := l.cells[i][0].Area(); a > -r.Area() && (a < least || a == least && i < place[k]) && l.cells[i][:1].Holds(q) {
				place[k], least = i, a
			}
		}
		l.cells[place[k]] = append(l.cells[place[k]], r)
	}
	for i := range rungs {
		l.sides = append(l.sides, [2]int{place[cell[2*i]-1], place[cell[2*i+1]-1]})
	}
	return l, nil
}

// nodesOf are the corners of the rim, by their numbers, and behind them the ends of rungs between corners; their fans, of which number 0 is empty; and the nodes of each rung.
func nodesOf(rim []plane.Edge, rungs []rung) (nodes []node, fans []fan, of [][2]int) {
	n := len(rim)
	nodes = make([]node, n, n+2*len(rungs))
	for k, e := range rim {
		nodes[k] = node{at: e.A, next: e.Next}
	}
	type inserted struct {
		rungEnd
		rung, side int
	}
	var between []inserted
	of = make([][2]int, len(rungs))
	for i, g := range rungs {
		for side, e := range g.ends {
			if of[i][side] = int(e.edge); e.share > 0 {
				between = append(between, inserted{e, i, side})
			}
		}
	}
	slices.SortFunc(between, func(a, b inserted) int {
		return cmp.Or(cmp.Compare(a.edge, b.edge), cmp.Compare(a.share, b.share), cmp.Compare(a.rung, b.rung))
	})
	for k, b := range between {
		last := int(b.edge)
		if k > 0 && between[k-1].edge == b.edge {
			last = len(nodes) - 1
			if between[k-1].share == b.share {
				of[b.rung][b.side] = last
				continue
			}
		}
		of[b.rung][b.side] = len(nodes)
		at := rungs[b.rung].A
		if b.side == 1 {
			at = rungs[b.rung].B
		}
		nodes = append(nodes, node{at: at, next: nodes[last].next})
		nodes[last].next = int32(len(nodes)) - 1
	}
	fans = make([]fan, 1, 2*len(rungs)+1)
	for i := range rungs {
		for side, k := range of[i] {
			if nodes[k].fan == 0 {
				nodes[k].fan = int32(len(fans))
				fans = append(fans, nil)
			}
			f := &fans[nodes[k].fan]
			*f = append(*f, 2*i+side)
		}
	}
	for k := range nodes {
		f := fans[nodes[k].fan]
		if len(f) < 2 {
			continue
		}
		at, ahead := nodes[k].at, nodes[nodes[k].next].at.Sub(nodes[k].at)
		turn := func(arc int) float64 {
			g := rungs[arc/2]
			d := g.B.Sub(at)
			if arc%2 == 1 {
				d = g.A.Sub(at)
			}
			return math.Mod(ahead.AngleTo(d)+2*math.Pi, 2*math.Pi)
		}
		slices.SortFunc(f, func(a, b int) int { return cmp.Compare(turn(a), turn(b)) })
	}
	return nodes, fans, of
}
