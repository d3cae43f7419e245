package plane

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"slices"

	"balk/geo/workers"
)

// arrangement is the working state of Arrange. Vertices of all outlines lie one
// after the other, the first of an outline repeated at its end, so that edge i
// runs from v[i] to v[i+1].
type arrangement struct {
	v      []XY
	start  []int32  // start[o] is the first vertex of outline o; its edges are start[o] … start[o+1]−2
	weight []uint64 // what one time round adds to a label
	lane   []int32

	lanes   int                   // no outline may have a higher lane than the last of so many
	weigh   func(lane int) uint64 // weight of a lane
	outside uint64                // label of the unbounded outside

	workers  int
	cos, sin float64 // the search frame: x along the driving direction
	origin   XY
	chunks   []chunk
	grid     grid

	cross  []crossing
	events []event
	first  []int32    // first[o] is the first event of outline o
	at     [][2]int32 // the two events of a crossing
	node   []int32    // per event: −1, or the cluster of coinciding crossings it belongs to
	inner  []bool     // per event: the fragment it starts stays within its cluster
	place  []XY       // per cluster
	begin  []uint64   // per outline: label left of its first edge
	tight  []uint64   // bit set: edges that come very near to another one
	sides             // by class
}

// sides are the classes on both sides of fragments: class left | class right << 4.
type sides struct {
	of   []uint8 // per event: of the fragment it starts
	lone []uint8 // per outline without events
}

// chunk is a run of edges of one outline that is monotone in the search frame,
// or a piece of one long edge.
type chunk struct {
	minx, miny, maxx, maxy float32
	first, n               int32
	outline                int32
	head                   int32 // the chunk that collects the crossings of these edges
	piece, pieces          int32
	flags                  uint8 // x grows, x falls, y grows, y falls
}

// near: edges closer than this come under repair when polygons are drawn, since
// rounding could make them touch. 0.5 mm, four steps of the repair grid.
const near = 4 * repairStep

const maxChunk = 12

// blocks cuts the outlines into runs of about the same work, whatever the
// number of workers.
func (a *arrangement) blocks() [][2]int {
	const want = 1 << 15
	var out [][2]int
	from := 0
	for o := range a.weight {
		if int(a.start[o+1]-a.start[from]) >= want || o == len(a.weight)-1 {
			out = append(out, [2]int{from, o + 1})
			from = o + 1
		}
	}
	return out
}

// each runs f(0) … f(n−1) on the workers.
func each(on, n int, f func(worker, i int)) {
	_ = workers.Numbered(context.Background(), on, n, func(worker, i int) error { // nothing here fails or waits
		f(worker, i)
		return nil
	})
}

// load copies the outlines to the lattice, in an order that depends on nothing
// but their shape, without repeated points.
func (a *arrangement) load(outlines []Outline, on int) error {
	if on <= 0 {
		on = runtime.GOMAXPROCS(0)
	}
	a.workers = on
	order := make([]int, len(outlines))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(i, j int) int { return compareOutlines(outlines[i], outlines[j]) })
	count, asIs := make([]int, len(order)), make([]bool, len(order))
	err := workers.Each(context.Background(), on, len(order), func(k int) (err error) {
		if count[k], asIs[k], err = corners(outlines[order[k]], a.lanes); err != nil {
			err = fmt.Errorf("outline %d%w", order[k]+1, err)
		}
		return err
	})
	if err != nil {
		return err
	}
	total := 0
	var kept []int // by their number in order
	a.start = append(a.start, 0)
	for k, n := range count {
		if n == 0 {
			continue // fewer than three different points wind round nothing
		}
		total += n + 1
		if total > math.MaxInt32 {
			return fmt.Errorf("more than %d points in one arrangement", math.MaxInt32)
		}
		kept = append(kept, k)
		a.start = append(a.start, int32(total))
	}
	a.v = make([]XY, total)
	a.weight = make([]uint64, len(kept))
	a.lane = make([]int32, len(kept))
	each(on, len(kept), func(_, k int) {
		o := outlines[order[kept[k]]]
		a.weight[k] = a.weigh(o.Lane)
		a.lane[k] = int32(o.Lane)
		dst := a.v[a.start[k]:a.start[k+1]]
		if asIs[kept[k]] {
			dst[copy(dst, o.Line)] = o.Line[0]
			return
		}
		n := 0
		for _, p := range o.Line {
			p = Snap(p)
			if n == 0 || p != dst[n-1] {
				if n == len(dst) {
					break
				}
				dst[n] = p
				n++
			}
		}
		dst[len(dst)-1] = dst[0]
	})
	return nil
}

// corners is the number of corners that an outline has on the lattice, without points repeated one after the other; 0: fewer than
// three, which wind round nothing. As is: all points of the line are such corners, and lie on the lattice.
func corners(o Outline, lanes int) (n int, asIs bool, err error) {
	if o.Lane < 0 || o.Lane >= lanes {
		return 0, false, fmt.Errorf(": lane %d: must be 0 to %d", o.Lane, lanes-1)
	}
	var last XY
	asIs = true
	for i, p := range o.Line {
		if !(p.X > -Limit && p.X < Limit && p.Y > -Limit && p.Y < Limit) {
			return 0, false, fmt.Errorf(", point %d: coordinates %g, %g: must be finite and within ±%d m", i+1, p.X, p.Y, Limit)
		}
		at := Snap(p)
		asIs = asIs && at == p
		if n == 0 || at != last {
			n++
			last = at
		}
	}
	if n > 1 && Snap(o.Line[0]) == last {
		n--
	}
	if n < 3 {
		n = 0
	}
	return n, asIs && n == len(o.Line), nil
}

func compareXY(p, q XY) int {
	switch {
	case p.X < q.X:
		return -1
	case p.X > q.X:
		return 1
	case p.Y < q.Y:
		return -1
	case p.Y > q.Y:
		return 1
	}
	return 0
}

func compareOutlines(a, b Outline) int {
	if a.Lane != b.Lane {
		return a.Lane - b.Lane
	}
	for i := range min(len(a.Line), len(b.Line)) {
		if c := compareXY(a.Line[i], b.Line[i]); c != 0 {
			return c
		}
	}
	return len(a.Line) - len(b.Line)
}

// rot takes a vertex to the search frame. Only boxes are made there, never
// decisions.
func (a *arrangement) rot(p XY) XY {
	x, y := p.X-a.origin.X, p.Y-a.origin.Y
	return XY{a.cos*x + a.sin*y, a.cos*y - a.sin*x}
}

// frameEdges is how many edges about the direction is taken from. It makes the boxes of chunks tight and decides nothing.
const frameEdges = 1 << 15

// frame finds the direction in which most of the outlines' length runs, modulo
// a right angle: the mean of length·e^(4iθ) of edges evenly spread.
func (a *arrangement) frame() {
	blocks, stride := a.blocks(), 1+len(a.v)/frameEdges
	type part struct {
		c, s float64
		box  Box
	}
	parts := make([]part, len(blocks))
	each(a.workers, len(blocks), func(_, b int) {
		p := part{box: EmptyBox()}
		for o := blocks[b][0]; o < blocks[b][1]; o++ {
			line := a.v[a.start[o]:a.start[o+1]]
			for i := 1; i < len(line); i += stride {
				d := line[i].Sub(line[i-1])
				l2 := d.Dot(d)
				// e^(2iθ)·l² = (dx²−dy², 2dxdy); squared again and divided by l³
				c2, s2 := d.X*d.X-d.Y*d.Y, 2*d.X*d.Y
				k := 1 / (l2 * math.Sqrt(l2))
				p.c += (c2*c2 - s2*s2) * k
				p.s += 2 * c2 * s2 * k
				p.box = p.box.Extend(line[i])
			}
		}
		parts[b] = p
	})
	var c, s float64
	box := EmptyBox()
	for _, p := range parts {
		c, s = c+p.c, s+p.s
		box = box.Extend(p.box.Min, p.box.Max)
	}
	a.origin = Snap(box.Min.Lerp(box.Max, 0.5))
	a.sin, a.cos = math.Sincos(math.Atan2(s, c) / 4)
}

// chop cuts the outlines into chunks.
func (a *arrangement) chop() {
	blocks := a.blocks()
	edges := len(a.v) - len(a.weight)
	ext := a.extent()
	cell := max((ext.Max.X-ext.Min.X)*(ext.Max.Y-ext.Min.Y)/float64(edges/8+1), 1e-6)
	// float32 boxes: widened by half the near distance and by the rounding of
	// float32 at the largest coordinate
	reach := max(-ext.Min.X, -ext.Min.Y, ext.Max.X, ext.Max.Y)
	widen := near/2 + reach*(1.0/(1<<22)) + 1e-9
	made := make([][]chunk, len(blocks))
	each(a.workers, len(blocks), func(_, b int) {
		list := make([]chunk, 0, int(a.start[blocks[b][1]]-a.start[blocks[b][0]])/8+16)
		for o := blocks[b][0]; o < blocks[b][1]; o++ {
			list = a.chopOutline(list, int32(o), cell, widen)
		}
		made[b] = list
	})
	n := 0
	for _, l := range made {
		n += len(l)
	}
	a.chunks = make([]chunk, 0, n)
	for _, l := range made {
		base := int32(len(a.chunks))
		for i := range l {
			l[i].head += base
		}
		a.chunks = append(a.chunks, l...)
	}
}

func (a *arrangement) extent() Box {
	blocks := a.blocks()
	boxes := make([]Box, len(blocks))
	each(a.workers, len(blocks), func(_, b int) {
		line := a.v[a.start[blocks[b][0]]:a.start[blocks[b][1]]]
		first := a.rot(line[0])
		box := Box{first, first}
		for _, p := range line[1:] {
			box = box.with(a.rot(p))
		}
		boxes[b] = box
	})
	box := EmptyBox()
	for _, b := range boxes {
		box = box.Extend(b.Min, b.Max)
	}
	return box
}

func stepFlags(d XY) uint8 {
	// A step counts as growing or falling only if it leans by a sixteenth. Less,
	// and a spike that runs back along itself would pass for a monotone line: its
	// edges do not cross, but come near. still is in m, far above the rounding of
	// rot.
	const still, lean = 1e-9, 1.0 / 16
	var f uint8
	x, y := math.Abs(d.X), math.Abs(d.Y)
	if x > still && x > lean*y {
		f = 1
		if d.X < 0 {
			f = 2
		}
	}
	if y > still && y > lean*x {
		if d.Y > 0 {
			return f | 4
		}
		return f | 8
	}
	return f
}

func (a *arrangement) chopOutline(list []chunk, o int32, cell, widen float64) []chunk {
	i, end := a.start[o], a.start[o+1]-1
	p := a.rot(a.v[i])
	for i < end {
		q := a.rot(a.v[i+1])
		d := q.Sub(p)
		head := int32(len(list))
		if long := math.Abs(d.X * d.Y); long > 4*cell {
			k := int(math.Ceil(math.Sqrt(long / cell)))
			for s := range k {
				b := EmptyBox().Extend(p.Lerp(q, float64(s)/float64(k)), p.Lerp(q, float64(s+1)/float64(k)))
				list = append(list, boxed(b, widen, chunk{first: i, n: 1, outline: o, head: head, piece: int32(s), pieces: int32(k), flags: stepFlags(d)}))
			}
			i++
			p = q
			continue
		}
		first, flags := i, stepFlags(d)
		b := Box{p, p}.with(q)
		i++
		p = q
		for i < end && i-first < maxChunk {
			q = a.rot(a.v[i+1])
			f := flags & stepFlags(q.Sub(p))
			if f == 0 {
				break
			}
			g := b.with(q)
			if (g.Max.X-g.Min.X)*(g.Max.Y-g.Min.Y) > cell {
				break
			}
			flags, b = f, g
			i++
			p = q
		}
		list = append(list, boxed(b, widen, chunk{first: first, n: i - first, outline: o, head: head, pieces: 1, flags: flags}))
	}
	return list
}

func boxed(b Box, widen float64, c chunk) chunk {
	c.minx, c.miny = float32(b.Min.X-widen), float32(b.Min.Y-widen)
	c.maxx, c.maxy = float32(b.Max.X+widen), float32(b.Max.Y+widen)
	return c
}

// grid lists the chunks by cell of a uniform grid in the search frame.
type grid struct {
	minx, miny float64
	cx, cy     float64 // cell size, m
	nx, ny     int
	from       []int32 // from[cell] … from[cell+1] in list
	list       []int32
}

func (g *grid) col(x float64) int { return min(max(int((x-g.minx)/g.cx), 0), g.nx-1) }
func (g *grid) row(y float64) int { return min(max(int((y-g.miny)/g.cy), 0), g.ny-1) }

// in are the chunks in a cell.
func (g *grid) in(cell int) []int32 { return g.list[g.from[cell]:g.from[cell+1]] }

// raySlack is how far beside a ray cells are looked at, m: far above the rounding of rot.
const raySlack = 1e-6

// eastward visits the cells that a ray from a place to the east meets, up to a last column,
// and at most some beside them, column by column. east is that direction in the
// search frame, which is turned by 45° at most (see frame), so x grows along it.
func (g *grid) eastward(from, east XY, last int, visit func(cell int)) {
	slope := east.Y / east.X
	x0 := from.X
	for x := g.col(from.X); x <= min(last, g.nx-1); x++ {
		x1 := g.minx + float64(x+1)*g.cx
		y0, y1 := from.Y+(x0-from.X)*slope, from.Y+(x1-from.X)*slope
		bottom, top := min(y0, y1)-raySlack, max(y0, y1)+raySlack
		below, above := top < g.miny, bottom > g.miny+float64(g.ny)*g.cy
		if below && slope <= 0 || above && slope >= 0 {
			return
		}
		for y := g.row(bottom); y <= g.row(top) && !below && !above; y++ {
			visit(y*g.nx + x)
		}
		x0 = x1
	}
}

func (a *arrangement) index() { a.grid = a.gridOf(nil) }

// gridOf is the grid of some chunks by number; nil: of all.
func (a *arrangement) gridOf(some []int32) grid {
	n := len(some)
	if some == nil {
		n = len(a.chunks)
	}
	number := func(i int) int32 {
		if some == nil {
			return int32(i)
		}
		return some[i]
	}
	box := EmptyBox()
	var w, h float64
	for i := range n {
		c := &a.chunks[number(i)]
		w += float64(c.maxx - c.minx)
		h += float64(c.maxy - c.miny)
		box = box.Extend(XY{float64(c.minx), float64(c.miny)}, XY{float64(c.maxx), float64(c.maxy)})
	}
	w, h = w/float64(n), h/float64(n)
	var g grid
	g.minx, g.miny = box.Min.X, box.Min.Y
	width, height := box.Max.X-box.Min.X, box.Max.Y-box.Min.Y
	area := width * height * 2 / float64(n) // two chunks to a cell, if they lay evenly
	g.cx = max(w, math.Sqrt(area/8))
	g.cy = max(h, area/g.cx)
	g.nx = min(int(width/g.cx)+1, 1<<14)
	g.ny = min(int(height/g.cy)+1, 1<<14)
	for g.nx*g.ny > 4*n+64 {
		if g.nx > g.ny {
			g.nx = (g.nx + 1) / 2
		} else {
			g.ny = (g.ny + 1) / 2
		}
	}
	g.cx, g.cy = width/float64(g.nx), height/float64(g.ny)
	parts := a.workers
	if n < 4096 {
		parts = 1
	}
	counts := make([][]int32, parts)
	share := func(p int) (int, int) { return p * n / parts, (p + 1) * n / parts }
	visit := func(p int, f func(chunk int32, cell int)) {
		lo, hi := share(p)
		for i := lo; i < hi; i++ {
			k := number(i)
			c := &a.chunks[k]
			x0, x1 := g.col(float64(c.minx)), g.col(float64(c.maxx))
			y0, y1 := g.row(float64(c.miny)), g.row(float64(c.maxy))
			for y := y0; y <= y1; y++ {
				for x := x0; x <= x1; x++ {
					f(k, y*g.nx+x)
				}
			}
		}
	}
	each(parts, parts, func(_, p int) {
		count := make([]int32, g.nx*g.ny)
		visit(p, func(_ int32, cell int) { count[cell]++ })
		counts[p] = count
	})
	g.from = make([]int32, g.nx*g.ny+1)
	var sum int32
	for cell := range g.nx * g.ny {
		g.from[cell] = sum
		for p := range parts {
			k := counts[p][cell]
			counts[p][cell] = sum
			sum += k
		}
	}
	g.from[g.nx*g.ny] = sum
	g.list = make([]int32, sum)
	each(parts, parts, func(_, p int) {
		next := counts[p]
		visit(p, func(c int32, cell int) {
			g.list[next[cell]] = c
			next[cell]++
		})
	})
	return g
}
