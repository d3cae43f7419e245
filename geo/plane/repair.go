package plane

import (
	"cmp"
	"errors"
	"math"
	"slices"
)

// Where edges of a layer's boundary come nearer to each other than `near`, or
// several crossings fall on one place, rounding could make rings touch or
// cross. These edges are snap-rounded (Hobby, Comput. Geom. 13 (1999) 199): every
// end and crossing goes to a grid of repairStep, every edge is led through the
// grid points it passes, opposite edges cancel, and rings are drawn anew. All
// other edges stay as they are; they are far enough away not to notice.

// repairStep is the grid of the repair: 2^-13 m, an eighth of a millimetre.
const repairStep = 1.0 / (1 << 13)

// stretch is a run of boundary edges that needs no repair, ends included.
type stretch []XY

// edges are lines of edges, one behind the other.
type edges struct {
	at    []XY
	begin []int32 // which places begin a line
}

// add adds an edge, to the last line where that ends so.
func (e *edges) add(from, to XY) {
	if n := len(e.at); n == 0 || e.at[n-1] != from {
		e.begin = append(e.begin, int32(n))
		e.at = append(e.at, from)
	}
	e.at = append(e.at, to)
}

// lines gives the places of each line, from … to−1.
func (e *edges) lines(yield func(from, to int) bool) {
	for k, from := range e.begin {
		to := len(e.at)
		if k+1 < len(e.begin) {
			to = int(e.begin[k+1])
		}
		if !yield(int(from), to) {
			return
		}
	}
}

var errRepair = errors.New("internal: the repaired boundary does not close")

// tatter cuts a chain into the edges under repair and the stretches between.
func (l *layer) tatter(chain []step) {
	from, _ := l.ends(chain[0])
	// all stretches of the chain lie in one array, each sharing no point with the next
	line := append(make([]XY, 0, l.count(chain)+1), l.point(from))
	start := 0
	flush := func() {
		if len(line)-start > 1 {
			l.pieces = append(l.pieces, line[start:len(line):len(line)])
			line = append(line, line[len(line)-1])
			start = len(line) - 1
		}
	}
	put := func(p XY, tight bool) {
		last := line[len(line)-1]
		if p == last {
			return
		}
		if !tight {
			line = append(line, p)
			return
		}
		flush()
		l.thin.add(last, p)
		line[len(line)-1] = p
	}
	for _, s := range chain {
		from, to := l.ends(s)
		if l.a.node[from] < 0 && l.checker(from) {
			flush()
		}
		one, two, edges := l.course(s >> 1)
		n := len(one) + len(two)
		vertex := func(k int) XY {
			if k < len(one) {
				return one[k]
			}
			return two[k-len(one)]
		}
		// tight says whether the edge that ends in vertex k, or in the event behind the last, is under repair.
		tight := func(k int) bool {
			if k < len(one) || edges[1][1] == 0 {
				return l.a.isTight(edges[0][0] + int32(k))
			}
			return l.a.isTight(edges[1][0] + int32(k-len(one)))
		}
		if s&1 == 0 {
			for k := range n {
				put(vertex(k), tight(k))
			}
			put(l.point(to), tight(n))
			continue
		}
		for k := n - 1; k >= 0; k-- {
			put(vertex(k), tight(k+1))
		}
		put(l.point(to), tight(0))
	}
	flush()
}

func (l *layer) tatterLone(o int32, back bool) {
	a := l.a
	line := slices.Clone(a.v[a.start[o]:a.start[o+1]])
	n := len(line) - 1
	tight := make([]bool, n)
	for i := range n {
		tight[i] = a.isTight(a.start[o] + int32(i))
	}
	if back {
		slices.Reverse(line)
		slices.Reverse(tight)
	}
	run := stretch{line[0]}
	for i := range n {
		if !tight[i] {
			run = append(run, line[i+1])
			continue
		}
		if len(run) > 1 {
			l.pieces = append(l.pieces, run)
		}
		l.thin.add(line[i], line[i+1])
		run = stretch{line[i+1]}
	}
	if len(run) > 1 {
		l.pieces = append(l.pieces, run)
	}
}

func toRepairGrid(p XY) XY {
	return XY{math.Round(p.X/repairStep) * repairStep, math.Round(p.Y/repairStep) * repairStep}
}

// straight: an arc that runs along no stretch.
const straight = -1

// arc is a directed piece of repaired boundary from node to node.
type arc struct {
	from, to int32
	piece    int32 // the stretch along which it runs, of the layer's
}

func (l *layer) repair() error {
	if len(l.pieces) == 0 && len(l.thin.at) == 0 {
		return nil
	}
	// Ends of edges under repair go to the grid. Stretches that meet elsewhere, in
	// crossings where rings touch, do so in the crossing as it is: nothing is near.
	nodes := newSpots(len(l.thin.at))
	ends := make([]int32, len(l.thin.at)) // nodes of these edges
	for k, p := range l.thin.at {
		ends[k] = nodes.number(toRepairGrid(p))
	}
	meets := newSpots(2 * len(l.pieces)) // where stretches end
	whole := make([][2]int32, len(l.pieces))
	for k, p := range l.pieces {
		whole[k] = [2]int32{meets.number(p[0]), meets.number(p[len(p)-1])}
	}
	moved := make([]int32, len(meets.at)) // 1 + the node of edges under repair that end there; 0: none do
	for k, p := range l.thin.at {
		if m := meets.find(p); m >= 0 {
			moved[m] = ends[k] + 1
		}
	}
	arcs := l.snapRound(ends, nodes.at)
	l.thin, ends = edges{}, nil // their memory is wanted for rings
	node := func(m int32) int32 {
		if moved[m] == 0 {
			moved[m] = nodes.number(meets.at[m]) + 1
		}
		return moved[m] - 1
	}
	for k, p := range l.pieces {
		f, t := node(whole[k][0]), node(whole[k][1])
		if f == t && len(p) == 2 {
			continue
		}
		arcs = append(arcs, arc{f, t, int32(k)})
	}
	return l.redraw(arcs, nodes.at)
}

// snapRound rounds the thin edges, from node to node, and gives the arcs that remain after opposite
// ones have cancelled.
func (l *layer) snapRound(ends []int32, place []XY) []arc {
	points := newPlaces(place)
	// From the lesser node of an arc to the greater, how often it runs so, less how often back.
	type link struct{ from, to, net, next int32 }
	links := make([]link, 0, len(ends)+len(ends)/4) // in the order in which they came; one more for each node passed
	first := make([]int32, len(place))              // of the lesser node: 1 + a link, which tells the next; 0: none
	add := func(from, to, sign int32) {
		if from > to {
			from, to, sign = to, from, -sign
		}
		k := first[from] - 1
		for k >= 0 && links[k].to != to {
			k = links[k].next
		}
		if k < 0 {
			k = int32(len(links))
			links = append(links, link{from, to, 0, first[from] - 1})
			first[from] = k + 1
		}
		links[k].net += sign
	}
	var stops []int32
	for from, to := range l.thin.lines {
		for k := from + 1; k < to; k++ {
			p, q, way := l.thin.at[k-1], l.thin.at[k], int32(1)
			// the edge's own ends come first and last whatever lies beside them
			at, last := ends[k-1], ends[k]
			if at == last {
				continue
			}
			if compareXY(p, q) > 0 { // both directions of one edge take the same way
				p, q, at, last, way = q, p, last, at, -1
			}
			stops = append(passedBy(stops[:0], Segment{p, q}, points, at, last), last)
			for _, to := range stops {
				if to != at {
					add(at, to, way)
					at = to
				}
			}
		}
	}
	n := 0
	for _, k := range links {
		n += int(max(k.net, -k.net))
	}
	arcs := make([]arc, 0, n+len(l.pieces))
	for _, k := range links {
		for range k.net {
			arcs = append(arcs, arc{k.from, k.to, straight})
		}
		for range -k.net {
			arcs = append(arcs, arc{k.to, k.from, straight})
		}
	}
	return arcs
}

// passedBy adds the nodes, but for two, whose squares of side repairStep the edge meets, in their order along it.
func passedBy(stops []int32, edge Segment, points *places, first, last int32) []int32 {
	d, place := edge.B.Sub(edge.A), points.at
	points.in(edge.Box().Grown(repairStep/2), func(n int32) {
		w := place[n].Sub(edge.A)
		if n != first && n != last && math.Abs(d.Cross(w)) <= repairStep/2*(math.Abs(d.X)+math.Abs(d.Y)) {
			stops = append(stops, n)
		}
	})
	slices.SortFunc(stops, func(a, b int32) int {
		return cmp.Or(cmp.Compare(place[a].Sub(edge.A).Dot(d), place[b].Sub(edge.A).Dot(d)), cmp.Compare(a, b))
	})
	return stops
}

// netting links arcs to rings.
type netting struct {
	arcs   []arc
	place  []XY
	pieces []stretch
	from   []int32 // of a node: where the arcs that leave it begin in out; of one more: where the last end
	out    []int32
	used   []bool // by arc
}

// redraw links the arcs to rings, always taking the first way clockwise from
// the one it came, and cuts them where they pass a node twice.
func (l *layer) redraw(arcs []arc, place []XY) error {
	n := netting{arcs, place, l.pieces, make([]int32, len(place)+1), make([]int32, len(arcs)), make([]bool, len(arcs))}
	in := make([]int32, len(place)) // of a node: how many arcs come to it, less those put into out
	for _, c := range arcs {
		n.from[c.from+1]++
		in[c.to]++
	}
	position := make([]int32, len(place)) // of a node: on which place of the walk an arc leaves it; −1: none does
	for i := range place {
		if n.from[i+1] != in[i] {
			return errRepair
		}
		n.from[i+1] += n.from[i]
		position[i] = -1
	}
	for i := len(arcs) - 1; i >= 0; i-- {
		f := arcs[i].from
		in[f]--
		n.out[n.from[f]+in[f]] = int32(i)
	}
	var walk []int32
	for s := range arcs {
		if n.used[s] {
			continue
		}
		walk = walk[:0]
		for i := int32(s); i >= 0; {
			n.used[i] = true
			position[arcs[i].from] = int32(len(walk))
			walk = append(walk, i)
			if k := position[arcs[i].to]; k >= 0 {
				for _, j := range walk[k:] {
					position[arcs[j].from] = -1
				}
				l.add(n.ring(walk[k:]))
				for _, j := range walk[k:] { // they are asked no more
					if piece := arcs[j].piece; piece != straight {
						n.pieces[piece] = nil
					}
				}
				walk = walk[:k]
			}
			next := n.next(i)
			if len(walk) == 0 {
				break // the loop is closed; another one may start here, later
			}
			if next < 0 {
				return errRepair
			}
			i = next
		}
	}
	return nil
}

// line is the stretch along which an arc runs; nil: it is straight.
func (n netting) line(arc int32) stretch {
	if k := n.arcs[arc].piece; k != straight {
		return n.pieces[k]
	}
	return nil
}

// ring is the ring of some arcs.
func (n netting) ring(arcs []int32) Ring {
	size := 0
	for _, i := range arcs {
		size += 1 + len(n.line(i))
	}
	r := make(Ring, 0, size)
	for _, i := range arcs {
		r = join(r, n.place[n.arcs[i].from])
		if line := n.line(i); len(line) > 2 {
			r = joinAll(r, line[1:len(line)-1])
		}
	}
	return r
}

// next is the arc not used yet that comes first clockwise from the way back along arc i, where that ends; −1: there is none.
func (n netting) next(i int32) int32 {
	best, angle := int32(-1), 0.0
	c := n.arcs[i]
	back := n.place[c.from].Sub(n.place[c.to])
	if line := n.line(i); len(line) > 2 {
		back = line[len(line)-2].Sub(n.place[c.to])
	}
	for _, j := range n.out[n.from[c.to]:n.from[c.to+1]] {
		if n.used[j] {
			continue
		}
		o := n.arcs[j]
		ahead := n.place[o.to].Sub(n.place[o.from])
		if line := n.line(j); len(line) > 2 {
			ahead = line[1].Sub(n.place[o.from])
		}
		w := ahead.AngleTo(back)
		if w <= 0 {
			w += 2 * math.Pi
		}
		if best < 0 || w < angle {
			best, angle = j, w
		}
	}
	return best
}
