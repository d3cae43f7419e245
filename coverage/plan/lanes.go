package plan

import (
	"cmp"
	"container/heap"
	"context"
	"math"
	"slices"

	"balk/geo/plane"
)

const (
	// laneSlack: the rims of lanes are thinned to so much, m. They lie twice as much nearer to the
	// boundary than half a width, so that the outermost round is inside them.
	laneSlack = 0.05
	// nodeStep is how far apart nodes are at most, m: near enough that a place sees one beside it.
	nodeStep = 15.0
	// seesFrom: a line that only touches a lane's rim is open, m.
	seesFrom = 1e-6
)

// lanes are where a set may run with the tool lifted: a part of the field less some depth
// along boundary and obstacles. Its rims, and the shortest bridges between them, are the net of runs.
type lanes struct {
	grounds []laneGround
}

type laneGround struct {
	rings []plane.Ring
	boxes []plane.Box // of the rings
	nodes []plane.XY
	links [][]int32
}

func lanesOf(ctx context.Context, part plane.Polygon, depth float64) (*lanes, error) {
	open, err := plane.Inset(ctx, []plane.Polygon{part}, depth)
	if err != nil {
		return nil, err
	}
	l := new(lanes)
	for _, p := range open {
		var g laneGround
		var starts []int32 // of the nodes of each ring
		for _, ring := range p {
			if ring = thinned(ring, laneSlack); len(ring) < 3 {
				continue
			}
			g.rings, g.boxes = append(g.rings, ring), append(g.boxes, ring.Bounds())
			starts = append(starts, int32(len(g.nodes)))
			g.net(ring)
		}
		if len(g.rings) > 0 {
			g.bridge(append(starts, int32(len(g.nodes))))
			l.grounds = append(l.grounds, g)
		}
	}
	return l, nil
}

// net adds nodes along a ring, no farther apart than nodeStep.
func (g *laneGround) net(ring plane.Ring) {
	from := int32(len(g.nodes))
	for i, a := range ring {
		b := ring[(i+1)%len(ring)]
		n := 1 + int(a.Dist(b)/nodeStep)
		for k := range n {
			g.nodes = append(g.nodes, a.Lerp(b, float64(k)/float64(n)))
		}
	}
	n := int32(len(g.nodes)) - from
	g.links = append(g.links, make([][]int32, n)...)
	for i := range n {
		g.link(from+i, from+(i+1)%n)
	}
}

func (g *laneGround) link(a, b int32) {
	g.links[a] = append(g.links[a], b)
	g.links[b] = append(g.links[b], a)
}

// bridge links every ring to one linked already, the nearest first (Prim's tree, from
// memory), between their nearest nodes that see each other.
func (g *laneGround) bridge(starts []int32) {
	n := len(g.rings)
	linked := make([]bool, n)
	pair := make([][2]int32, n)
	dist := make([]float64, n)
	for o := range dist {
		dist[o] = math.Inf(1)
	}
	linked[0] = true
	for last := 0; last >= 0; {
		for o := range n {
			if linked[o] {
				continue
			}
			if a, b, d := g.nearestPair(starts[last], starts[last+1], starts[o], starts[o+1]); d < dist[o] {
				dist[o], pair[o] = d, [2]int32{a, b}
			}
		}
		last = -1
		for o := range n {
			if !linked[o] && !math.IsInf(dist[o], 1) && (last < 0 || dist[o] < dist[last]) {
				last = o
			}
		}
		if last >= 0 {
			g.link(pair[last][0], pair[last][1])
			linked[last] = true
		}
	}
}

// nearestPair is the nearest nodes of two rings, and how far apart they are if they see each
// other; else infinity: what lies between is a third ring, and nearer.
func (g *laneGround) nearestPair(a0, a1, b0, b1 int32) (a, b int32, metres float64) {
	metres = math.Inf(1)
	for i := a0; i < a1; i++ {
		for k := b0; k < b1; k++ {
			if d := g.nodes[i].Dist(g.nodes[k]); d < metres {
				a, b, metres = i, k, d
			}
		}
	}
	if !g.sees(g.nodes[a], g.nodes[b]) {
		metres = math.Inf(1)
	}
	return a, b, metres
}

// sees says whether the straight from a to b stays in the ground: it crosses no rim,
// and its middle is inside.
func (g *laneGround) sees(a, b plane.XY) bool {
	box := plane.EmptyBox().Extend(a, b)
	d := b.Sub(a)
	long := d.Len()
	if long < seesFrom {
		return true
	}
	for r, ring := range g.rings {
		if o := g.boxes[r]; o.Min.X > box.Max.X || o.Max.X < box.Min.X || o.Min.Y > box.Max.Y || o.Max.Y < box.Min.Y {
			continue
		}
		p := ring[len(ring)-1]
		sp := d.Cross(p.Sub(a)) / long
		for _, q := range ring {
			sq := d.Cross(q.Sub(a)) / long
			if (sp > seesFrom) != (sq > seesFrom) || (sp < -seesFrom) != (sq < -seesFrom) {
				if t := sp - sq; math.Abs(t) > seesFrom {
					at := p.Lerp(q, sp/t)
					along := at.Sub(a).Dot(d) / long
					if along > seesFrom && along < long-seesFrom && min(sp, sq) < -seesFrom && max(sp, sq) > seesFrom {
						return false
					}
				}
			}
			p, sp = q, sq
		}
	}
	return plane.Polygon(g.rings).Holds(a.Lerp(b, 0.5)) || g.rim(a.Lerp(b, 0.5)) <= laneSlack
}

// rim is how far p lies from the nearest rim, m.
func (g *laneGround) rim(p plane.XY) float64 {
	best := math.Inf(1)
	for _, ring := range g.rings {
		for i, a := range ring {
			best = min(best, distance(p, a, ring[(i+1)%len(ring)]))
		}
	}
	return best
}

// at is the ground that p is in, or nearest to; nil: there is none.
func (l *lanes) at(p plane.XY) *laneGround {
	var best *laneGround
	near := math.Inf(1)
	for i := range l.grounds {
		g := &l.grounds[i]
		if plane.Polygon(g.rings).Holds(p) {
			return g
		}
		if d := g.rim(p); d < near {
			best, near = g, d
		}
	}
	return best
}

// entered is p, or where p lies beside the lanes the place on their rim next to it.
func (l *lanes) entered(p plane.XY) plane.XY {
	g := l.at(p)
	if g == nil || plane.Polygon(g.rings).Holds(p) {
		return p
	}
	var best plane.XY
	near := math.Inf(1)
	for _, ring := range g.rings {
		if _, q, d := nearestOn(ring, p); d < near {
			best, near = q, d
		}
	}
	return best
}

// run is a way from a to b inside the lanes; ok is false where there is none known. It
// is the shortest on the net, pulled straight where it sees through.
func (l *lanes) run(a, b plane.XY) (line []plane.XY, ok bool) {
	g := l.at(a)
	if g == nil || g != l.at(b) {
		return nil, false
	}
	if g.sees(a, b) {
		return []plane.XY{a, b}, true
	}
	net := g.shortest(a, b)
	if net == nil {
		return nil, false
	}
	line = slices.Concat([]plane.XY{a}, net, []plane.XY{b})
	out := line[:1:1]
	for i := 0; i < len(line)-1; {
		k := i + 1
		for k+1 < len(line) && g.sees(line[i], line[k+1]) {
			k++
		}
		out = append(out, line[k])
		i = k
	}
	return g.taut(out), true
}

const (
	// mostTaut bounds the rounds over the corners of a run; each shortens it.
	mostTaut = 50
	// inCorner: so far towards the inner side of a bend a place is looked at, m, to see what it leads round.
	inCorner = 1e-4
)

// taut is the shortest line that a line inside the ground can be drawn to without leaving it: its corners
// are corners of rims that it leads round.
//
// Between three of its points a, c, b nothing but corners of rims inside the triangle keeps it from the straight
// from a to b, and the shortest way past them is their hull's chain on the side of c.
func (g *laneGround) taut(line []plane.XY) []plane.XY {
	for range mostTaut {
		changed := false
		out := line[:1:1]
		for i := 1; i < len(line)-1; i++ {
			a, c, b := out[len(out)-1], line[i], line[i+1]
			chain := g.past(a, c, b)
			if len(chain) != 1 || chain[0] != c {
				changed = true
			}
			out = append(out, chain...)
		}
		line = append(out, line[len(line)-1])
		if !changed {
			break
		}
	}
	return line
}

// past are the corners of the shortest way from a to b that stays on the side of c of everything in the
// triangle of the three.
func (g *laneGround) past(a, c, b plane.XY) []plane.XY {
	bend := c.Sub(a).Cross(b.Sub(c))
	side := math.Copysign(1, bend)
	if math.Abs(bend) <= seesFrom*a.Dist(b) {
		return nil
	}
	box := plane.EmptyBox().Extend(a, b, c)
	in := func(p plane.XY) bool {
		return side*c.Sub(a).Cross(p.Sub(a)) >= 0 && side*b.Sub(c).Cross(p.Sub(c)) >= 0 && side*a.Sub(b).Cross(p.Sub(b)) > seesFrom*a.Dist(b)
	}
	var held []plane.XY
	for r, ring := range g.rings {
		if o := g.boxes[r]; o.Min.X > box.Max.X || o.Max.X < box.Min.X || o.Min.Y > box.Max.Y || o.Max.Y < box.Min.Y {
			continue
		}
		for _, p := range ring {
			if p != a && p != b && p != c && in(p) {
				held = append(held, p)
			}
		}
	}
	inward := unit(unit(a.Sub(c)).Add(unit(b.Sub(c))))
	if !plane.Polygon(g.rings).Holds(c.Add(inward.Scale(inCorner))) {
		return []plane.XY{c} // it leads round this one: all others are nearer to the straight
	}
	// The chain from a to b, as of a hull: it bends to the side of c's only.
	slices.SortFunc(held, func(p, q plane.XY) int {
		along := b.Sub(a)
		return cmp.Compare(p.Sub(a).Dot(along), q.Sub(a).Dot(along))
	})
	chain := []plane.XY{a}
	for _, p := range append(held, b) {
		for len(chain) > 1 && side*p.Sub(chain[len(chain)-2]).Cross(chain[len(chain)-1].Sub(chain[len(chain)-2])) >= 0 {
			chain = chain[:len(chain)-1]
		}
		chain = append(chain, p)
	}
	return chain[1 : len(chain)-1]
}

// entries are nodes near p that it sees, the nearest first; none where it sees none.
func (g *laneGround) entries(p plane.XY) []int32 {
	near := make([]reached, len(g.nodes))
	for i, at := range g.nodes {
		near[i] = reached{int32(i), at.Dist(p)}
	}
	slices.SortFunc(near, func(a, b reached) int { return cmp.Compare(a.metres, b.metres) })
	var seen []int32
	for _, n := range near[:min(len(near), mostLooks)] {
		if g.sees(p, g.nodes[n.node]) {
			if seen = append(seen, n.node); len(seen) == mostEntries {
				return seen
			}
		}
	}
	return seen
}

const (
	mostEntries = 6  // onto the net; enough to leave a place in every direction
	mostLooks   = 60 // at nodes; farther ones are reached over nearer ones
)

// shortest is the way over the net between two places (Dijkstra 1959, from memory); nil:
// there is none.
func (g *laneGround) shortest(a, b plane.XY) []plane.XY {
	dist := make([]float64, len(g.nodes))
	prev := make([]int32, len(g.nodes))
	for i := range dist {
		dist[i], prev[i] = math.Inf(1), -1
	}
	q := new(queue)
	for _, n := range g.entries(a) {
		dist[n] = a.Dist(g.nodes[n])
		heap.Push(q, reached{n, dist[n]})
	}
	for q.Len() > 0 {
		n := heap.Pop(q).(reached)
		if n.metres > dist[n.node] {
			continue
		}
		for _, o := range g.links[n.node] {
			if d := n.metres + g.nodes[n.node].Dist(g.nodes[o]); d < dist[o] {
				dist[o], prev[o] = d, n.node
				heap.Push(q, reached{o, d})
			}
		}
	}
	end, least := int32(-1), math.Inf(1)
	for _, n := range g.entries(b) {
		if d := dist[n] + g.nodes[n].Dist(b); d < least {
			end, least = n, d
		}
	}
	var line []plane.XY
	for n := end; n >= 0; n = prev[n] {
		line = append(line, g.nodes[n])
	}
	slices.Reverse(line)
	return line
}

type reached struct {
	node   int32
	metres float64
}

// queue is a heap of what was reached, the nearest first.
type queue []reached

func (q queue) Len() int           { return len(q) }
func (q queue) Less(i, k int) bool { return q[i].metres < q[k].metres }
func (q queue) Swap(i, k int)      { q[i], q[k] = q[k], q[i] }
func (q *queue) Push(x any)        { *q = append(*q, x.(reached)) }
func (q *queue) Pop() any {
	last := (*q)[len(*q)-1]
	*q = (*q)[:len(*q)-1]
	return last
}

func lengthOf(line []plane.XY) float64 {
	var l float64
	for i := 1; i < len(line); i++ {
		l += line[i].Dist(line[i-1])
	}
	return l
}
