package plane

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"balk/geo/workers"
)

// crossing is a place where edge i and edge j cross properly, in the symbolic
// sense of tie.
type crossing struct {
	at     XY
	i, j   int32 // edges, i < j
	oi, oj int32 // their outlines; oj as ^oj where edge j goes from right to left of edge i
}

// left says whether edge j goes from right to left of edge i.
func (x *crossing) left() bool { return x.oj < 0 }

// other is the outline of edge j.
func (x *crossing) other() int32 {
	if x.oj < 0 {
		return ^x.oj
	}
	return x.oj
}

// event is a crossing as met when walking along one of its two outlines.
type event struct {
	t     float64
	edge  int32
	cross int32 // crossing<<1, +1 when this edge is the crossing's j
}

// found is a crossing before it is sorted along its outlines.
type found struct {
	crossing
	ti, tj float64  // where on edges i and j, as share of them
	heads  [2]int32 // the chunks that collect the crossings of these edges
}

// finder collects what one worker finds, block by block: nothing is copied as they get more, and each block is free for others as soon
// as its crossings are sorted.
type finder struct {
	full  []*block
	last  *block
	n     int
	tight []uint64 // as that of an arrangement
	cell  []int32  // the chunks of one cell, in order
}

const perBlock = 1 << 10

type block struct {
	some [perBlock]found
	n    int
}

// blocksOfCrossings keeps the room of blocks between arrangements.
var blocksOfCrossings = sync.Pool{New: func() any { return new(block) }}

// add gives the place for another crossing.
func (f *finder) add() *found {
	if f.last == nil || f.last.n == perBlock {
		f.last = blocksOfCrossings.Get().(*block)
		f.last.n = 0
		f.full = append(f.full, f.last)
	}
	f.last.n++
	f.n++
	return &f.last.some[f.last.n-1]
}

// free gives the blocks back.
func (f *finder) free() {
	for _, b := range f.full {
		blocksOfCrossings.Put(b)
	}
	f.full, f.last = nil, nil
}

const (
	// A log of honest work crosses itself some ten times per edge at the most; one that goes
	// to and fro on one spot does so as often as it has edges, and would fill the
	// memory with crossings. With some 75 bytes for each these take 60 MB, and 2.4 kB per edge.
	mostPerEdge   = 32
	mostCrossings = 3 << 18 // taken however few the edges
)

// ErrTangled says that outlines cross each other so often that they are no ground
// anyone worked: more than 32 times per edge, and 786,432 times.
var ErrTangled = errors.New("the outlines cross each other too often to be the ground of any work")

// find meets every pair of chunks whose boxes overlap, once, in the cell of the
// lower left corner of the overlap, and every pair of their edges.
func (a *arrangement) find(ctx context.Context) error {
	g := &a.grid
	most := mostCrossings + mostPerEdge*len(a.v)
	words := len(a.v)/64 + 1
	finders := make([]finder, max(a.workers, 1))
	for i := range finders {
		finders[i].tight = make([]uint64, words)
		defer finders[i].free()
	}
	// Who finds too many stops all of them, and they are counted below.
	err := workers.Numbered(ctx, a.workers, g.ny, func(w, y int) error {
		f := &finders[w]
		for x := range g.nx {
			if err := a.meetIn(ctx, f, x, y); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil && !errors.Is(err, ErrTangled) {
		return err
	}
	n := 0
	for i := range finders {
		n += finders[i].n
	}
	if n > most {
		return fmt.Errorf("%w: more than %d times (%d edges)", ErrTangled, most, len(a.v))
	}
	a.tight = finders[0].tight
	for _, f := range finders[1:] {
		for k, some := range f.tight {
			a.tight[k] |= some
		}
	}
	a.order(finders, n)
	return nil
}

// meetIn compares the chunks of a cell, each pair in one of the cells that both are in. It stops where crossings get too many.
func (a *arrangement) meetIn(ctx context.Context, f *finder, x, y int) error {
	g := &a.grid
	cell := y*g.nx + x
	list, along := f.inOrder(a, g.in(cell))
	most := mostCrossings + mostPerEdge*len(a.v)
	for k, ci := range list {
		if f.n > most {
			return ErrTangled
		}
		if k%64 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		c := &a.chunks[ci]
		for _, di := range list[k+1:] {
			d := &a.chunks[di]
			if along == alongX && d.minx > c.maxx || along == alongY && d.miny > c.maxy {
				break // so do all that come after it
			}
			if c.minx > d.maxx || d.minx > c.maxx || c.miny > d.maxy || d.miny > c.maxy {
				continue
			}
			if g.col(float64(max(c.minx, d.minx))) == x && g.row(float64(max(c.miny, d.miny))) == y {
				a.meet(f, ci, di)
			}
		}
	}
	return nil
}

// longCell: the chunks of a cell that has more are put in order before they are compared. Where a boundary has a corner each few millimetres, thousands
// lie in one cell, and hardly any pair of them meets.
const longCell = 32

// Orders of the chunks of a cell.
type along uint8

const (
	asListed along = iota
	alongX         // by where they begin in x
	alongY
)

// inOrder are the chunks of a cell in the order of where they begin, along the axis on which their beginnings lie farther apart. It holds until
// the next call.
func (f *finder) inOrder(a *arrangement, list []int32) ([]int32, along) {
	if len(list) <= longCell {
		return list, asListed
	}
	box := EmptyBox()
	for _, k := range list {
		c := &a.chunks[k]
		box = box.with(XY{float64(c.minx), float64(c.miny)})
	}
	f.cell = append(f.cell[:0], list...)
	if box.Max.X-box.Min.X >= box.Max.Y-box.Min.Y {
		slices.SortFunc(f.cell, func(i, j int32) int { return cmp.Compare(a.chunks[i].minx, a.chunks[j].minx) })
		return f.cell, alongX
	}
	slices.SortFunc(f.cell, func(i, j int32) int { return cmp.Compare(a.chunks[i].miny, a.chunks[j].miny) })
	return f.cell, alongY
}

func (a *arrangement) isTight(edge int32) bool { return a.tight[edge>>6]&(1<<(edge&63)) != 0 }

// follows says whether edge j is the next edge after i on outline o.
func (a *arrangement) follows(i, j, o int32) bool {
	if j == i+1 {
		return j < a.start[o+1]-1
	}
	return j == a.start[o] && i == a.start[o+1]-2
}

// meet tests the edges of two chunks. Two chunks that follow each other and are
// monotone in one common direction form a monotone line and cannot cross.
func (a *arrangement) meet(f *finder, ci, di int32) {
	c, d := &a.chunks[ci], &a.chunks[di]
	if c.outline == d.outline && c.flags&d.flags != 0 {
		if a.follows(c.first+c.n-1, d.first, c.outline) || a.follows(d.first+d.n-1, c.first, c.outline) {
			return
		}
	}
	minx, miny := float64(max(c.minx, d.minx)), float64(max(c.miny, d.miny))
	maxx, maxy := float64(min(c.maxx, d.maxx)), float64(min(c.maxy, d.maxy))
	var cbox, dbox [maxChunk]Box
	var cedge, dedge [maxChunk]int32
	cn := a.inside(c, minx, miny, maxx, maxy, &cbox, &cedge)
	if cn == 0 {
		return
	}
	dn := a.inside(d, minx, miny, maxx, maxy, &dbox, &dedge)
	for x := range cn {
		for y := range dn {
			p, q := &cbox[x], &dbox[y]
			if p.Min.X > q.Max.X || q.Min.X > p.Max.X || p.Min.Y > q.Max.Y || q.Min.Y > p.Max.Y {
				continue
			}
			if cedge[x] < dedge[y] {
				a.test(f, ci, di, cedge[x], dedge[y])
			} else if dedge[y] < cedge[x] {
				a.test(f, di, ci, dedge[y], cedge[x])
			}
		}
	}
}

// inside lists the edges of a chunk whose boxes reach into a rectangle of the
// search frame.
func (a *arrangement) inside(c *chunk, minx, miny, maxx, maxy float64, box *[maxChunk]Box, edge *[maxChunk]int32) int {
	const half = near/2 + 1e-9
	n := 0
	p := a.rot(a.v[c.first])
	for e := c.first; e < c.first+c.n; e++ {
		q := a.rot(a.v[e+1])
		b := Box{XY{min(p.X, q.X) - half, min(p.Y, q.Y) - half}, XY{max(p.X, q.X) + half, max(p.Y, q.Y) + half}}
		p = q
		if b.Min.X > maxx || b.Max.X < minx || b.Min.Y > maxy || b.Max.Y < miny {
			continue
		}
		box[n], edge[n] = b, e
		n++
	}
	return n
}

// test decides whether two edges, i < j, cross, and whether they come near.
func (a *arrangement) test(f *finder, ci, di, i, j int32) {
	c, d := &a.chunks[ci], &a.chunks[di]
	p, q, r, s := a.v[i], a.v[i+1], a.v[j], a.v[j+1]
	if c.outline == d.outline && (a.follows(i, j, c.outline) || a.follows(j, i, c.outline)) {
		a.testNeighbours(f, i, j)
		return
	}
	ip, iq, ir, is := i, a.id(i+1, c.outline), j, a.id(j+1, d.outline)
	s1, d1, o1 := side(p, q, r, ip, iq, ir)
	s2, d2, o2 := side(p, q, s, ip, iq, is)
	if s1 == s2 {
		l := q.Sub(p)
		if m := min(math.Abs(d1), math.Abs(d2)); o1 != exactly || o2 != exactly || m*m < near*near*l.Dot(l) {
			f.mark(p, q, r, s, i, j)
		}
		return
	}
	s3, d3, o3 := side(r, s, p, ir, is, ip)
	s4, d4, o4 := side(r, s, q, ir, is, iq)
	if s3 == s4 {
		l := s.Sub(r)
		if m := min(math.Abs(d3), math.Abs(d4)); o3 != exactly || o4 != exactly || m*m < near*near*l.Dot(l) {
			f.mark(p, q, r, s, i, j)
		}
		return
	}
	ti, tj := share(r, s, p, q, d3, d4, o3, o4), share(p, q, r, s, d1, d2, o1, o2)
	if piece(ti, c.pieces) != c.piece || piece(tj, d.pieces) != d.piece {
		return // another piece of a long edge meets it
	}
	oj := d.outline
	if s2 > 0 {
		oj = ^oj
	}
	*f.add() = found{crossing{p.Lerp(q, ti), i, j, c.outline, oj}, ti, tj, [2]int32{c.head, d.head}}
	f.mark(p, q, r, s, i, j) // an end near the other edge: they touch, or run along each other
}

// id is the number of a vertex for the tie break: the closing vertex is the
// first one again.
func (a *arrangement) id(i, o int32) int32 {
	if i == a.start[o+1]-1 {
		return a.start[o]
	}
	return i
}

func piece(t float64, pieces int32) int32 {
	return min(max(int32(t*float64(pieces)), 0), pieces-1)
}

// share is where on p→q the line r→s is met, 0 to 1; dp and dq are the areas of
// (r, s, p) and (r, s, q). They have different signs, so nothing cancels, and
// t is good to a few units in the last place. Where one of them is only a power
// of ε it is nothing beside the other, smaller power; where both are the same
// power their terms decide: the limit of the crossing as ε goes to zero, so
// that crossings along one line keep the order they have for small ε.
func share(r, s, p, q XY, dp, dq float64, op, oq order) float64 {
	switch {
	case op.less(oq):
		return 1
	case oq.less(op):
		return 0
	}
	if m := math.Abs(dp) + math.Abs(dq); op == exactly && m < 1e-3*s.Sub(r).Len()*q.Sub(p).Len() {
		dp, dq = detExact(r, s, p), detExact(r, s, q)
	}
	return min(max(dp/(dp-dq), 0), 1)
}

// mark notes two edges that come nearer to each other than near. They do not cross, so an end of one is nearest.
func (f *finder) mark(p, q, r, s XY, i, j int32) {
	a, b := Segment{p, q}, Segment{r, s}
	if min(b.Dist2(p), b.Dist2(q), a.Dist2(r), a.Dist2(s)) < near*near {
		f.touch(i, j)
	}
}

// touch puts two edges under repair.
func (f *finder) touch(i, j int32) {
	f.tight[i>>6] |= 1 << (i & 63)
	f.tight[j>>6] |= 1 << (j & 63)
}

// testNeighbours looks for a spike: an edge that runs back along the one before.
func (a *arrangement) testNeighbours(f *finder, i, j int32) {
	p, q, r, s := a.v[i], a.v[i+1], a.v[j], a.v[j+1]
	if p == s { // j comes before i
		p, q, r, s = r, s, p, q
	}
	if q.Sub(p).Dot(s.Sub(r)) >= 0 {
		return
	}
	if (Segment{p, q}).Dist2(s) < near*near || (Segment{r, s}).Dist2(p) < near*near {
		f.touch(i, j)
	}
}

// order sorts the crossings along their outlines.
func (a *arrangement) order(finders []finder, crossings int) {
	n := 2 * crossings
	count := make([]int32, len(a.chunks)+1)
	for _, f := range finders {
		for _, b := range f.full {
			for k := range b.some[:b.n] {
				h := &b.some[k].heads
				count[h[0]+1]++
				count[h[1]+1]++
			}
		}
	}
	for i := range len(a.chunks) {
		count[i+1] += count[i]
	}
	a.events = make([]event, n)
	a.cross = make([]crossing, 0, crossings)
	next := slices.Clone(count[:len(a.chunks)])
	for i := range finders {
		for _, b := range finders[i].full {
			for k := range b.some[:b.n] {
				x := &b.some[k]
				c := int32(len(a.cross)) << 1
				a.cross = append(a.cross, x.crossing)
				a.events[next[x.heads[0]]] = event{x.ti, x.i, c}
				next[x.heads[0]]++
				a.events[next[x.heads[1]]] = event{x.tj, x.j, c | 1}
				next[x.heads[1]]++
			}
		}
		finders[i].free()
	}
	other := func(e event) int32 {
		x := &a.cross[e.cross>>1]
		return x.i ^ x.j ^ e.edge
	}
	each(a.workers, (len(a.chunks)+1023)/1024, func(_, b int) {
		for c := b * 1024; c < min((b+1)*1024, len(a.chunks)); c++ {
			if part := a.events[count[c]:count[c+1]]; len(part) > 1 {
				slices.SortFunc(part, func(e, f event) int {
					switch {
					case e.edge != f.edge:
						return int(e.edge) - int(f.edge)
					case e.t < f.t:
						return -1
					case e.t > f.t:
						return 1
					}
					return int(other(e)) - int(other(f))
				})
			}
		}
	})
	a.at = make([][2]int32, len(a.cross))
	for e := range a.events {
		c := a.events[e].cross
		a.at[c>>1][c&1] = int32(e)
	}
	a.first = make([]int32, len(a.weight)+1)
	e := 0
	for o := range a.weight {
		a.first[o] = int32(e)
		for e < n && a.events[e].edge < a.start[o+1] {
			e++
		}
	}
	a.first[len(a.weight)] = int32(n)
}
