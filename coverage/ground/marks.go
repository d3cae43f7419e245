package ground

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/drive"
	"balk/geo/plane"
)

const (
	// steepest: an edge that a transect meets at a small angle moves along it by many times what it is moved; by no more than this here. So
	// what edges within 6° of the transects add is told too small.
	steepest = 10.0
	// farthest: an end of work lies so many standard deviations out or in at most, where corners are looked at.
	farthest = 3.0
	// chord: the way of a bar's end is taken over so many metres of travel to either side, so that fixes near each other do not turn it.
	chord = 1.0 // m
	// oneGround: spans of a run that touch and are so near in travel are one.
	oneGround = 1.0  // m
	touching  = 1e-6 // m, far below what a receiver tells and above the lattice
)

// cutter finds where transects go in and out of ground.
type cutter struct {
	t     *transects
	bars  []bar
	found []crossed // of one outline
	marks []mark    // of these
	own   []span    // of one run
}

// crossed is where an edge crosses a transect.
type crossed struct {
	at         float64 // m along it
	line, mark int32
	into       int32 // 1, or -1 out of the ground
}

// run finds the spans and the ends of work of a run.
func (c *cutter) run(one *drive.Run, run int, less float64) {
	c.own = c.own[:0]
	c.bars = appendBars(c.bars[:0], one.Stops, one.Parts, setting{less: less}, 0)
	for from := 0; from < len(c.bars); { // unbroken work, as endsMoved has it
		to := from
		for to+1 < len(c.bars) && c.bars[to].next != drive.StepCut {
			to++
		}
		if to > from {
			begins := int32(len(c.t.ends))
			c.t.ends = append(c.t.ends, c.workEnd(one, run, from, to), c.workEnd(one, run, to, from))
			c.unbroken(one, int32(run), from, to, begins)
		}
		from = to + 1
	}
	slices.SortFunc(c.own, func(a, b span) int {
		if a.line != b.line {
			return cmp.Compare(a.line, b.line)
		}
		return cmp.Compare(a.from.at, b.from.at)
	})
	n := 0 // so many are left
	for k := 0; k < len(c.own); n++ {
		joined := c.own[k]
		for k++; k < len(c.own) && c.own[k].line == joined.line && c.own[k].from.at <= joined.to.at+touching && math.Abs(c.own[k].from.s-joined.to.s) <= oneGround; k++ {
			if c.own[k].to.at > joined.to.at {
				if joined.to = c.own[k].to; joined.bound >= 0 {
					joined.bound = max(0, c.own[k].bound)
				}
			}
		}
		c.own[n] = joined
	}
	c.t.spans = append(c.t.spans, slices.Clone(c.own[:n]))
}

// workEnd is the end of unbroken work at bar k, which has its other end at bar other.
func (c *cutter) workEnd(one *drive.Run, run, k, other int) workEnd {
	inner, step := k, 1
	if other < k {
		step = -1
	}
	for inner != other && math.Abs(c.bars[inner].s-c.bars[k].s) < sideBase {
		inner += step
	}
	out := one.Stops[k].At.Sub(one.Stops[inner].At)
	open := one.Switch(k)
	return workEnd{run, one.Stops[k].At, out.Scale(1 / max(out.Len(), 1e-9)), k < other, open, farthest * math.Hypot(open.SD(), one.EndsLean)}
}

// unbroken finds the spans of bars from..to, which are worked without a cut: outlines as coverOf has them, all of one lane. The numbers of
// its ends of work are begins and the next.
func (c *cutter) unbroken(one *drive.Run, run int32, from, to int, begins int32) {
	markOf := func(k int, way plane.XY) mark {
		m := c.t.moving(way)
		m.run, m.end, m.s, m.slow = run, -1, c.bars[k].s, one.Parts[one.Stops[k].Part].Slow
		return m
	}
	for i := from; i < to; {
		if c.bars[i].next == drive.StepUnknown || !advances(&c.bars[i], &c.bars[i+1]) {
			for _, p := range pieces(quad(c.bars, i)) {
				for k, a := range p {
					b := p[(k+1)%len(p)]
					c.edge(a, b, func() mark { return markOf(i, b.Sub(a)) })
				}
				c.wound()
			}
			i++
			continue
		}
		last := i + 1
		for last < to && c.bars[last].next.Ground() && advances(&c.bars[last], &c.bars[last+1]) {
			last++
		}
		side := func(k int, end func(b *bar) plane.XY) mark { // on the way of the bar's end from bar k to the next
			a, b := k, k+1
			for a > i && c.bars[k].s-c.bars[a].s < chord {
				a--
			}
			for b < last && c.bars[b].s-c.bars[k].s < chord {
				b++
			}
			return markOf(k, end(&c.bars[b]).Sub(end(&c.bars[a])))
		}
		across := func(k int, end int32) mark { // on bar k itself
			left := c.bars[k].left.Sub(c.bars[k].right)
			m := markOf(k, left)
			if k == from || k == to {
				out := c.outward(k, from)
				m.end, m.out = end, m.east*out.X+m.north*out.Y
			}
			return m
		}
		for k := i; k < last; k++ {
			c.edge(c.bars[k].right, c.bars[k+1].right, func() mark { return side(k, func(b *bar) plane.XY { return b.right }) })
			c.edge(c.bars[k+1].left, c.bars[k].left, func() mark { return side(k, func(b *bar) plane.XY { return b.left }) })
		}
		c.edge(c.bars[last].right, c.bars[last].left, func() mark { return across(last, begins+1) })
		c.edge(c.bars[i].left, c.bars[i].right, func() mark { return across(i, begins) })
		own := len(c.own)
		c.wound()
		if i == from {
			c.corners(own, i, c.outward(i, from), across(i, begins), markOf(i, c.outward(i, from)))
		}
		if last == to {
			c.corners(own, last, c.outward(last, from), across(last, begins+1), markOf(last, c.outward(last, from)))
		}
		i = last
	}
}

// outward is square to bar k, and away from work that begins at a bar.
func (c *cutter) outward(k, from int) plane.XY {
	left := c.bars[k].left.Sub(c.bars[k].right)
	out := plane.XY{X: left.Y, Y: -left.X}.Scale(1 / left.Len())
	if k == from {
		out = out.Scale(-1)
	}
	return out
}

// corners sees to it that an end of work at bar k takes ground of the bar's own width when it moves:
//
//	      ╲       ╲       ╲     out
//	       ╲       ╲       ╲
//	┌────────1───────2─┐    3     1 leaves by the bar, and by the side beyond it when that moves out far
//	│          ╲       ╲      ╲   2 leaves by the bar, or by the side where the bar moves out
//	│            ╲       ╲        3 passes by, and will be in the work when the bar moves out; so with 2 there is
//	│              ╲       ╲ │      one that leaves by the side, and leaves by the bar when that moves in
//
// Of the run's spans those from number own on are of this work. end is a mark on the bar, side one on its sides.
func (c *cutter) corners(own, k int, out plane.XY, end, side mark) {
	t := c.t
	reach := t.ends[end.end].reach
	rate := out.Dot(t.way) // m outward for each metre along a transect
	if !(reach > 0) || min(math.Abs(rate), math.Abs(out.Cross(t.way))) < 1/steepest {
		return
	}
	middle := c.bars[k].left.Lerp(c.bars[k].right, 0.5)
	half := c.bars[k].left.Dist(c.bars[k].right) / 2
	on := func(line int32, m mark, way plane.XY, by float64) mark { // where the transect lies by so much that way from the middle of the bar
		m.at = (way.Dot(middle) + by - way.Dot(t.way.Left())*t.left[line]) / way.Dot(t.way)
		return m
	}
	// Where a transect meets the bar drawn out, and the first and the last of the sides drawn out.
	meets := func(line int32) (bar, first, last mark) {
		bar, first, last = on(line, end, out, 0), on(line, side, out.Left(), -half), on(line, side, out.Left(), half)
		if last.at < first.at {
			first, last = last, first
		}
		return bar, first, last
	}
	for n := own; n < len(c.own); n++ {
		s := &c.own[n]
		bar, first, last := meets(s.line)
		leaves, beyond := &s.to, last
		if rate < 0 {
			leaves, beyond = &s.from, first
		}
		if leaves.end != end.end {
			if math.Abs((bar.at-leaves.at)*rate) > reach || math.Abs(leaves.s-end.s) > reach+half {
				continue
			}
			beyond = bar
		}
		if s.bound == 0 {
			t.bound = append(t.bound, beyond)
			if s.bound = int32(len(t.bound)); rate < 0 {
				s.bound = -s.bound
			}
		}
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range [2]plane.XY{c.bars[k].left, c.bars[k].right} {
		for _, q := range [2]plane.XY{p, p.Add(out.Scale(reach))} {
			low, high = min(low, t.way.Cross(q)), max(high, t.way.Cross(q))
		}
	}
	for line := int(max(0, (low-t.low)/t.apart)); line < len(t.left) && t.left[line] < high; line++ {
		switch bar, first, last := meets(int32(line)); {
		case rate > 0 && bar.at <= first.at && (first.at-bar.at)*rate < reach:
			c.own = append(c.own, span{int32(line), 0, first, bar})
		case rate < 0 && bar.at >= last.at && (last.at-bar.at)*rate < reach:
			c.own = append(c.own, span{int32(line), 0, bar, last})
		}
	}
}

// moving is how a mark on an edge of this direction moves.
func (t *transects) moving(u plane.XY) mark {
	n := t.way.Left()
	by := u.Dot(t.way) / u.Dot(n)
	if math.IsNaN(by) { // an edge of no length
		by = 0
	}
	by = max(-steepest, min(by, steepest))
	return mark{east: t.way.X - n.X*by, north: t.way.Y - n.Y*by}
}

// edge adds where transects cross an edge of an outline, whose ground lies to its left. of tells of each how it moves.
func (c *cutter) edge(a, b plane.XY, of func() mark) {
	t := c.t
	na, nb := t.way.Cross(a), t.way.Cross(b)
	low, high := min(na, nb), max(na, nb)
	for k := int(max(0, (low-t.low)/t.apart)); k < len(t.left) && t.left[k] < high; k++ {
		if t.left[k] < low {
			continue
		}
		x := crossed{t.way.Dot(a.Lerp(b, (t.left[k]-na)/(nb-na))), int32(k), int32(len(c.marks)), 1}
		if nb > na {
			x.into = -1
		}
		m := of()
		m.at = x.at
		c.found, c.marks = append(c.found, x), append(c.marks, m)
	}
}

// wound adds the spans in an outline all edges of which were added: where it winds round a transect once or more.
func (c *cutter) wound() {
	slices.SortFunc(c.found, func(a, b crossed) int {
		if a.line != b.line {
			return cmp.Compare(a.line, b.line)
		}
		return cmp.Compare(a.at, b.at)
	})
	count, from := int32(0), int32(0)
	for _, x := range c.found {
		before := count
		count += x.into
		switch {
		case before <= 0 && count > 0:
			from = x.mark
		case before > 0 && count <= 0:
			c.own = append(c.own, span{x.line, 0, c.marks[from], c.marks[x.mark]})
		}
	}
	c.found, c.marks = c.found[:0], c.marks[:0]
}
