package plane

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"balk/geo/workers"
)

const (
	laneBits = 16
	laneBias = 1 << (laneBits - 2)
	bias     = laneBias | laneBias<<laneBits | laneBias<<(2*laneBits) | laneBias<<(3*laneBits)
	guard    = 0x8000_8000_8000_8000 // set when a count leaves −16384 … 16383
)

// Count is how often the outlines of a lane wind round the place. It is never
// beyond ±16383: Arrange refuses deeper stacks.
func (l Label) Count(lane int) int {
	return int(l>>(laneBits*lane)&(1<<laneBits-1)) - laneBias
}

var errTooDeep = errors.New("a place is covered more than 16383 times in one lane")

// clump is the distance along an outline within which two crossings count as
// one place, 1 µm: far above the error of a crossing's position on its edge
// (1e-12 m), far below anything a receiver sees. Crossings so close together
// may be sorted either way without moving an area, and polygons treat them as
// one node.
const clump = 1e-6

// next is the event after e on its outline, round the end.
func (a *arrangement) next(e int32, o int32) int32 {
	if e+1 < a.first[o+1] {
		return e + 1
	}
	return a.first[o]
}

// previous is the event before e on its outline, round the start.
func (a *arrangement) previous(e int32, o int32) int32 {
	if e > a.first[o] {
		return e - 1
	}
	return a.first[o+1] - 1
}

// outline is the outline on which e lies, partner the same crossing met from
// the other one.
func (a *arrangement) outline(e int32) int32 {
	c := a.events[e].cross
	if c&1 == 0 {
		return a.cross[c>>1].oi
	}
	return a.cross[c>>1].other()
}

func (a *arrangement) partner(e int32) int32 {
	c := a.events[e].cross
	return a.at[c>>1][c&1^1]
}

// change is what crossing the other line at e adds to the label left of the
// outline: its weight when it comes from the left, minus it when it comes from
// the right.
func (a *arrangement) change(e int32) uint64 {
	if o, more := a.met(e); more {
		return a.weight[o]
	} else {
		return -a.weight[o]
	}
}

// met is the other line at e, and whether we come to its left, where it counts once more.
func (a *arrangement) met(e int32) (o int32, more bool) {
	c := a.events[e].cross
	x := &a.cross[c>>1]
	if c&1 == 0 { // we are i; j goes to our left: what lay left of j is behind us
		return x.other(), !x.left()
	}
	return x.oi, x.left()
}

// pathWithin says whether the way along outline o from event e to event f is
// shorter than clump.
func (a *arrangement) pathWithin(e, f, o int32) bool {
	p, q := a.cross[a.events[e].cross>>1].at, a.cross[a.events[f].cross>>1].at
	if p.Dist(q) >= clump {
		return false
	}
	i, j := a.events[e].edge, a.events[f].edge
	if i == j && f > e {
		return true
	}
	var way float64
	for way < clump {
		i++
		way += p.Dist(a.v[i])
		p = a.v[i]
		if i == a.start[o+1]-1 {
			i = a.start[o]
		}
		if i == j {
			return way+p.Dist(q) < clump
		}
	}
	return false
}

// gather joins crossings that fall on one place to nodes.
func (a *arrangement) gather() {
	near := newGroups(len(a.cross))
	a.inner = make([]bool, len(a.events))
	each(a.workers, (len(a.weight)+255)/256, func(_, b int) {
		for o := int32(b * 256); o < min(int32(b+1)*256, int32(len(a.weight))); o++ {
			for e := a.first[o]; e < a.first[o+1]; e++ {
				if f := a.next(e, o); f != e && a.pathWithin(e, f, o) {
					a.inner[e] = true
				}
			}
		}
	})
	a.tightenShort()
	joined := false
	for e, in := range a.inner {
		if !in {
			continue
		}
		joined = true
		f := a.next(int32(e), a.outline(int32(e)))
		near.join(a.events[e].cross>>1, a.events[f].cross>>1)
	}
	a.node = make([]int32, len(a.events))
	for i := range a.node {
		a.node[i] = -1
	}
	if !joined {
		return
	}
	// numbered in the order of the events, which no worker count changes
	number := make([]int32, len(a.cross))
	taken := make([]bool, len(a.cross))
	for e, in := range a.inner {
		if in {
			taken[near.of(a.events[e].cross>>1)] = true
		}
	}
	for e := range a.events {
		r := near.of(a.events[e].cross >> 1)
		if !taken[r] {
			continue
		}
		if number[r] == 0 {
			a.place = append(a.place, a.cross[a.events[e].cross>>1].at)
			number[r] = int32(len(a.place))
		}
		a.node[e] = number[r] - 1
	}
}

// tightenShort puts edges under repair that meet an outline in crossings nearer
// than near to each other: when one of the crossings is moved, lines through the
// other must make way.
func (a *arrangement) tightenShort() {
	mark := func(edge int32) { a.tight[edge>>6] |= 1 << (edge & 63) }
	for o := range int32(len(a.weight)) {
		for e := a.first[o]; e < a.first[o+1]; e++ {
			f := a.next(e, o)
			if f == e {
				continue
			}
			if d := a.cross[a.events[e].cross>>1].at.Sub(a.cross[a.events[f].cross>>1].at); d.Dot(d) >= near*near {
				continue
			}
			for _, x := range [2]int32{a.events[e].cross >> 1, a.events[f].cross >> 1} {
				mark(a.cross[x].i)
				mark(a.cross[x].j)
			}
		}
	}
}

// label finds the label left of every outline's first edge. Outlines that cross
// are tied together by the crossing; one outline of every tied group is placed
// by a ray. Crossings that fall on one place are not used: their order along an
// outline is not certain.
func (a *arrangement) label() error {
	rel, err := a.relative()
	if err != nil {
		return err
	}
	root, offset := a.carry(rel)
	a.begin = make([]uint64, len(a.weight))
	var roots []int32
	for o, r := range root {
		if r == int32(o) {
			roots = append(roots, r)
		}
	}
	stamps := make([][]int32, a.workers)
	far := a.farOutlines(len(roots))
	each(a.workers, len(roots), func(w, k int) {
		if stamps[w] == nil {
			stamps[w] = make([]int32, len(a.chunks))
		}
		a.begin[roots[k]] = a.ray(roots[k], stamps[w], int32(k)+1, far)
	})
	for o := range a.begin {
		if r := root[o]; r != int32(o) {
			a.begin[o] = a.begin[r] + offset[o]
		}
	}
	return a.agree(rel)
}

// eachOutline calls f for all outlines, and gives the error of the first one that has one.
func (a *arrangement) eachOutline(f func(o int32) error) error {
	const some = 256 // outlines at a time
	return workers.Chunks(context.Background(), len(a.weight), some, a.workers, func(from, to int) error {
		for o := from; o < to; o++ {
			if err := f(int32(o)); err != nil {
				return err
			}
		}
		return nil
	})
}

// relative is, by event, the label before it less the label at its outline's start.
func (a *arrangement) relative() ([]uint64, error) {
	rel := make([]uint64, len(a.events))
	err := a.eachOutline(func(o int32) error {
		var sum uint64
		for e := a.first[o]; e < a.first[o+1]; e++ {
			rel[e] = sum
			sum += a.change(e)
		}
		if sum != 0 {
			return fmt.Errorf("internal: the cover along outline %d does not return to its start", o)
		}
		return nil
	})
	return rel, err
}

// carry takes labels from outline to outline over their crossings: by outline, the root of those that hang together,
// and the label at its start less that at the root's.
func (a *arrangement) carry(rel []uint64) (root []int32, offset []uint64) {
	n := len(a.weight)
	root, offset = make([]int32, n), make([]uint64, n)
	for i := range root {
		root[i] = -1
	}
	var queue []int32
	for s := range int32(n) {
		if root[s] >= 0 {
			continue
		}
		root[s] = s
		queue = append(queue[:0], s)
		for len(queue) > 0 {
			o := queue[len(queue)-1]
			queue = queue[:len(queue)-1]
			for e := a.first[o]; e < a.first[o+1]; e++ {
				if a.node[e] >= 0 {
					continue
				}
				f := a.partner(e)
				if q := a.outline(f); root[q] < 0 {
					root[q] = s
					offset[q] = offset[o] + a.across(e, rel[e]) - rel[f]
					queue = append(queue, q)
				}
			}
		}
	}
	return root, offset
}

// agree says whether every crossing agrees with the labels carried along both its lines.
func (a *arrangement) agree(rel []uint64) error {
	return a.eachOutline(func(o int32) error {
		for e := a.first[o]; e < a.first[o+1]; e++ {
			if a.node[e] >= 0 || a.events[e].cross&1 == 1 {
				continue
			}
			f := a.partner(e)
			if a.across(e, a.begin[o]+rel[e]) != a.begin[a.outline(f)]+rel[f] {
				at := a.cross[a.events[e].cross>>1].at
				return fmt.Errorf("internal: the cover at a crossing near %.3f, %.3f is not the same along both lines", at.X, at.Y)
			}
		}
		return nil
	})
}

// across is the label left of the other line just before the crossing e, given
// the label left of our line before it. With our line running east and the
// other one north, that is the south-west corner: north-west less our weight.
// With the other one running south it is the north-east corner.
func (a *arrangement) across(e int32, before uint64) uint64 {
	c := a.events[e].cross
	x := &a.cross[c>>1]
	ours := x.oi
	north := x.left()
	if c&1 == 1 {
		ours = x.other()
		north = !north
	}
	if north {
		return before - a.weight[ours]
	}
	return before + a.change(e)
}

// Outlines that lie beside each other by the thousand, and cross none, take a ray each, which would meet all that lie east of them. An outline
// winds round places in its box alone: one that reaches over few columns of the grid, and begins east of a place, adds nothing there.
const (
	farColumns = 8
	fewRays    = 64 // that are not worth sorting outlines for
)

// farOutlines are those that reach over more than farColumns.
type farOutlines struct {
	least []float32 // by outline: its least x in the search frame; −∞ for those
	grid  grid      // of their chunks
}

// farOutlines sorts outlines for so many rays; nil: for few, all are looked at.
func (a *arrangement) farOutlines(rays int) *farOutlines {
	if rays <= fewRays {
		return nil
	}
	inf := float32(math.Inf(1))
	f := farOutlines{least: slices.Repeat([]float32{inf}, len(a.weight))}
	most := slices.Repeat([]float32{-inf}, len(a.weight))
	for i := range a.chunks {
		c := &a.chunks[i]
		f.least[c.outline], most[c.outline] = min(f.least[c.outline], c.minx), max(most[c.outline], c.maxx)
	}
	for o := range most {
		if float64(most[o])-float64(f.least[o]) > farColumns*a.grid.cx {
			f.least[o] = -inf
		}
	}
	var chunks []int32
	for i := range a.chunks {
		if f.least[a.chunks[i].outline] == -inf {
			chunks = append(chunks, int32(i))
		}
	}
	if len(chunks) > 0 {
		f.grid = a.gridOf(chunks)
	}
	return &f
}

// ray counts what covers the place left of the first edge of outline o, just
// after its first vertex: a ray to the east crosses every edge that goes up
// from left to right of it once.
func (a *arrangement) ray(o int32, stamp []int32, mark int32, far *farOutlines) uint64 {
	s, last := a.start[o], a.start[o+1]-2
	p := a.v[s]
	label := a.outside
	up := above(p, a.v[s+1], s, a.id(s+1, o))
	if up {
		label += a.weight[o] // we stand left of our own edge, which goes up
	}
	// the edge before ours, as far as it lies on the ray
	before := a.v[last]
	if comesDown := above(p, before, s, last); comesDown == up {
		right, _, _ := side(p, a.v[s+1], before, s, a.id(s+1, o), last)
		if up && right < 0 {
			label -= a.weight[o]
		}
		if !up && right > 0 {
			label += a.weight[o]
		}
	}
	meet := func(list []int32, skip func(c *chunk) bool) {
		for _, ci := range list {
			c := &a.chunks[ci]
			if skip != nil && skip(c) {
				continue
			}
			if c.pieces > 1 {
				ci = c.head // a long edge counts once, wherever it is met
				c = &a.chunks[ci]
			}
			if stamp[ci] == mark {
				continue
			}
			stamp[ci] = mark
			label += a.crossedFrom(c, o)
		}
	}
	at, east := a.rot(p), XY{a.cos, -a.sin}
	if far == nil {
		a.grid.eastward(at, east, a.grid.nx, func(cell int) { meet(a.grid.in(cell), nil) })
		return label
	}
	a.grid.eastward(at, east, a.grid.col(at.X)+farColumns+1, func(cell int) {
		meet(a.grid.in(cell), func(c *chunk) bool {
			least := far.least[c.outline]
			return math.IsInf(float64(least), -1) || float64(least) > at.X+raySlack
		})
	})
	if far.grid.nx == 0 { // there are none
		return label
	}
	far.grid.eastward(at, east, far.grid.nx, func(cell int) { meet(far.grid.in(cell), nil) })
	return label
}

// crossedFrom is what the edges of a chunk add to the label at the start of outline o, as its ray to the east crosses them. The two
// edges that meet there are left out.
func (a *arrangement) crossedFrom(c *chunk, o int32) (label uint64) {
	s, last := a.start[o], a.start[o+1]-2
	p := a.v[s]
	for e := c.first; e < c.first+c.n; e++ {
		if c.outline == o && (e == s || e == last) {
			continue
		}
		q, r := a.v[e], a.v[e+1]
		iq, ir := e, a.id(e+1, c.outline)
		from, to := above(p, q, s, iq), above(p, r, s, ir)
		if from == to || c.piece != 0 || max(q.X, r.X) < p.X {
			continue
		}
		d, _, _ := side(q, r, p, iq, ir, s)
		if to && d > 0 {
			label += a.weight[c.outline]
		} else if from && d < 0 {
			label -= a.weight[c.outline]
		}
	}
	return label
}

// sum walks every outline once: classes left and right of each fragment, and
// areas by shoelace. The area of a class is half the sum of the cross products
// of the fragments that have it on the left, less those that have it on the
// right.
func (a *arrangement) sum(classify func(Label) Class, ans *Answer) error {
	blocks := a.blocks()
	parts := make([]summing, len(blocks))
	a.sides = sides{make([]uint8, len(a.events)), make([]uint8, len(a.weight))}
	each(a.workers, len(blocks), func(_, b int) {
		p := &parts[b]
		p.classify = classify
		for o := int32(blocks[b][0]); o < int32(blocks[b][1]) && p.err == nil; o++ {
			a.sumOutline(o, p)
		}
	})
	for b := range parts {
		if parts[b].err != nil {
			return parts[b].err
		}
		for c := 1; c < 16; c++ {
			ans.Area[c] += parts[b].area[c] / 2
		}
		for l := range Lanes {
			ans.Outlines[l] += parts[b].lane[l] / 2
			ans.Depth[l] += parts[b].depth[l] / 2
		}
	}
	return nil
}

// summing is what some outlines come to. It remembers the last label that was sorted.
type summing struct {
	area     [16]float64    // by class, twice
	lane     [Lanes]float64 // m² that outlines wind round, twice
	depth    [Lanes]float64 // m² by how often they are covered, twice
	err      error
	classify func(Label) Class

	label, weight uint64
	both          uint8
	up            float64 // by how much the outline's own lane counts more on the left; it is never less than nought times
}

// sides are the classes left of an edge of a weight, where the label is so, and right of it.
func (p *summing) sides(label, weight uint64) uint8 {
	if label == p.label && weight == p.weight {
		return p.both
	}
	right := label - weight
	if (label|right)&guard != 0 {
		p.err = errTooDeep
		return 0
	}
	l, r := p.classify(Label(label)), p.classify(Label(right))
	if l > 15 || r > 15 {
		p.err = fmt.Errorf("class %d: must be 0 to 15", max(l, r))
		return 0
	}
	p.label, p.weight, p.both, p.up = label, weight, uint8(l)|uint8(r)<<4, 0
	if Label(label).Count(bits.TrailingZeros64(weight)/laneBits) > 0 {
		p.up = 1
	}
	return p.both
}

// sumOutline adds one outline.
func (a *arrangement) sumOutline(o int32, p *summing) {
	label, weight, lane := a.begin[o], a.weight[o], a.lane[o]
	now := p.sides(label, weight)
	var whole, depth float64
	e, last := a.first[o], a.first[o+1]
	a.fragments(o, func(s float64) {
		p.area[now&15] += s
		p.area[now>>4] -= s
		whole += s
		depth += s * p.up
		if e < last {
			label += a.change(e)
			now = p.sides(label, weight)
			a.sides.of[e] = now
			e++
		}
	})
	p.lane[lane] += whole
	p.depth[lane] += depth
	if a.first[o] == last {
		a.lone[o] = now
	}
}

// fragments hands out, from the outline's first vertex to its first event, from each event to the next and from the last
// one back to the first vertex, the sum of the cross products along that way.
func (a *arrangement) fragments(o int32, take func(s float64)) {
	i, end := a.start[o], a.start[o+1]-1
	at := a.v[i].Sub(a.origin)
	var s float64
	for e := a.first[o]; e < a.first[o+1]; e++ {
		ev := &a.events[e]
		for ; i < ev.edge; i++ {
			to := a.v[i+1].Sub(a.origin)
			s += at.Cross(to)
			at = to
		}
		to := a.cross[ev.cross>>1].at.Sub(a.origin)
		s += at.Cross(to)
		at = to
		take(s)
		s = 0
	}
	for ; i < end; i++ {
		to := a.v[i+1].Sub(a.origin)
		s += at.Cross(to)
		at = to
	}
	take(s)
}
