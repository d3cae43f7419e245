package plane

import (
	"errors"
	"fmt"
	"slices"
)

// A step is a fragment (the stretch of an outline from one event to the next)
// with a direction: event<<1, +1 when it is walked backwards.
type step = int32

var errOpenRing = errors.New("internal: a ring does not close")

// layer draws the polygons of one set of classes.
type layer struct {
	a *arrangement
	sides
	set  ClassSet
	seen []bool // fragments already walked

	rings   []Ring
	dropped float64
	sliver  float64

	pieces []stretch // what needs repair: stretches whose ends do, and the edges between
	thin   edges
}

// bound says whether a fragment with these sides bounds the set: +1 walked
// forwards, −1 walked backwards (the set lies on the left), 0 not at all.
func (l *layer) bound(sides uint8) int {
	left, right := int(l.set>>(sides&15)&1), int(l.set>>(sides>>4)&1)
	return left - right
}

// leaves says whether the set's boundary leaves event e along the fragment that
// starts there (out) or backwards along the one that ends there.
func (l *layer) leaves(e int32, out bool) (step, bool) {
	if out {
		return e << 1, !l.a.inner[e] && l.bound(l.sides.of[e]) > 0
	}
	p := l.a.previous(e, l.a.outline(e))
	return p<<1 | 1, !l.a.inner[p] && l.bound(l.sides.of[p]) < 0
}

// ends are the events where a step begins and ends.
func (l *layer) ends(s step) (from, to int32) {
	e := s >> 1
	f := l.a.next(e, l.a.outline(e))
	if s&1 == 1 {
		return f, e
	}
	return e, f
}

// turn finds the step after s: from the way we came, the first stretch of the
// boundary met clockwise. The ring so stays close to its own piece of the set
// where two pieces touch in a crossing.
func (l *layer) turn(s step) (step, bool) {
	_, x := l.ends(s)
	y := l.a.partner(x)
	c := l.a.events[x].cross
	north := l.a.cross[c>>1].left() == (c&1 == 0) // y's line goes to the left of x's
	cameBack := s&1 == 0                          // seen from x, we came along the stretch behind it
	// clockwise: out(x) → back(y) or out(y) → back(x) → …
	firstOut := cameBack == north
	if t, ok := l.leaves(y, firstOut); ok {
		return t, true
	}
	if t, ok := l.leaves(x, cameBack); ok {
		return t, true
	}
	return l.leaves(y, !firstOut)
}

// walk goes along the whole boundary of the set once: open gets the lines from
// node to node, closed the rings that pass no node, lone the outlines that nothing
// crosses, with the sense in which the set lies on their left. Chains are reused.
func (l *layer) walk(open, closed func(chain []step), lone func(o int32, back bool)) error {
	a := l.a
	l.seen = make([]bool, len(a.events))
	var chain []step
	var err error
	for e := range int32(len(a.events)) {
		if a.node[e] < 0 {
			continue
		}
		for _, out := range [2]bool{true, false} {
			s, ok := l.leaves(e, out)
			if !ok {
				continue
			}
			if chain, err = l.follow(chain[:0], s); err != nil {
				return err
			}
			open(chain)
		}
	}
	for e := range int32(len(a.events)) {
		if l.seen[e] || a.inner[e] {
			continue
		}
		b := l.bound(l.sides.of[e])
		if b == 0 {
			continue
		}
		s := e << 1
		if b < 0 {
			s |= 1
		}
		if chain, err = l.follow(chain[:0], s); err != nil {
			return err
		}
		if from, _ := l.ends(chain[0]); a.node[from] >= 0 {
			return errOpenRing
		}
		closed(chain)
	}
	for o := range int32(len(a.weight)) {
		if b := l.bound(l.lone[o]); a.first[o] == a.first[o+1] && b != 0 {
			lone(o, b < 0)
		}
	}
	return nil
}

// whole is an outline as a ring, walked backwards or not.
func (l *layer) whole(o int32, back bool) Ring {
	r := Ring(slices.Clone(l.a.v[l.a.start[o] : l.a.start[o+1]-1]))
	if back {
		slices.Reverse(r)
	}
	return r
}

// draw makes the rings of the layer and nests them to polygons.
func (l *layer) draw() ([]Polygon, error) {
	if err := l.collect(); err != nil {
		return nil, err
	}
	return l.polygons()
}

// collect goes along the boundary of the set. Behind it the arrangement is not asked any more.
func (l *layer) collect() error {
	err := l.walk(l.tatter, func(chain []step) {
		if l.anyTight(chain) {
			l.tatter(chain)
		} else {
			l.split(chain)
		}
	}, func(o int32, back bool) {
		if tightIn(l.a.tight, l.a.start[o], l.a.start[o+1]-1) {
			l.tatterLone(o, back)
		} else {
			l.add(l.whole(o, back))
		}
	})
	l.a, l.sides, l.seen = nil, sides{}, nil
	return err
}

// polygons repairs what needs it and nests the rings.
func (l *layer) polygons() ([]Polygon, error) {
	if err := l.repair(); err != nil {
		return nil, err
	}
	return nest(l.rings)
}

// follow walks from a step until it comes back to it or runs into a node.
func (l *layer) follow(chain []step, s step) ([]step, error) {
	first := s
	for {
		if l.seen[s>>1] {
			return nil, errOpenRing
		}
		l.seen[s>>1] = true
		chain = append(chain, s)
		if _, to := l.ends(s); l.a.node[to] >= 0 {
			return chain, nil
		}
		t, ok := l.turn(s)
		if !ok {
			_, to := l.ends(s)
			p := l.a.cross[l.a.events[to].cross>>1].at
			return nil, fmt.Errorf("%w near %.3f, %.3f", errOpenRing, p.X, p.Y)
		}
		if t == first {
			return chain, nil
		}
		s = t
	}
}

// course gives the vertices between the two events of a fragment, in up to two
// stretches, and the edges they belong to as half-open ranges.
func (l *layer) course(e int32) (one, two []XY, edges [2][2]int32) {
	a := l.a
	o := a.outline(e)
	f := a.next(e, o)
	i, j := a.events[e].edge, a.events[f].edge
	if i < j || i == j && f > e {
		return a.v[i+1 : j+1], nil, [2][2]int32{{i, j + 1}}
	}
	s, end := a.start[o], a.start[o+1]-1
	return a.v[i+1 : end+1], a.v[s+1 : j+1], [2][2]int32{{i, end}, {s, j + 1}}
}

func (l *layer) point(e int32) XY {
	if n := l.a.node[e]; n >= 0 {
		return l.a.place[n]
	}
	return l.a.cross[l.a.events[e].cross>>1].at
}

// tightIn looks for a tight edge in from … to−1.
func tightIn(set []uint64, from, to int32) bool {
	for from < to {
		w := set[from>>6] >> (from & 63)
		if n := to - from; n < 64 {
			w &= 1<<n - 1
		}
		if w != 0 {
			return true
		}
		from = (from | 63) + 1
	}
	return false
}

func (l *layer) anyTight(chain []step) bool {
	for _, s := range chain {
		_, _, edges := l.course(s >> 1)
		if tightIn(l.a.tight, edges[0][0], edges[0][1]) || tightIn(l.a.tight, edges[1][0], edges[1][1]) {
			return true
		}
	}
	return false
}

// touches says whether the chain comes through a crossing in which two pieces of
// the set, or of what it leaves out, touch.
func (l *layer) touches(chain []step) bool {
	for _, s := range chain {
		if from, _ := l.ends(s); l.checker(from) {
			return true
		}
	}
	return false
}

// split cuts a closed chain where it comes through one crossing twice, so that
// no ring touches itself, and adds the rings.
func (l *layer) split(chain []step) {
	if !l.touches(chain) {
		l.close(chain)
		return
	}
	where := map[int32]int{} // crossing → place in stack
	var stack []step
	for _, s := range chain {
		from, _ := l.ends(s)
		x := l.a.events[from].cross >> 1
		if k, again := where[x]; again {
			for _, t := range stack[k:] {
				f, _ := l.ends(t)
				delete(where, l.a.events[f].cross>>1)
			}
			l.close(stack[k:])
			stack = stack[:k]
		}
		where[x] = len(stack)
		stack = append(stack, s)
	}
	l.close(stack)
}

// checker says whether all four stretches at the crossing bound the set.
func (l *layer) checker(e int32) bool {
	a := l.a
	f := a.partner(e)
	p, q := a.previous(e, a.outline(e)), a.previous(f, a.outline(f))
	return l.bound(l.sides.of[e]) != 0 && l.bound(l.sides.of[f]) != 0 && l.bound(l.sides.of[p]) != 0 && l.bound(l.sides.of[q]) != 0
}

// count is how many points a chain has at most.
func (l *layer) count(chain []step) int {
	n := 0
	for _, s := range chain {
		one, two, _ := l.course(s >> 1)
		n += 1 + len(one) + len(two)
	}
	return n
}

// line gives the vertices of a chain without its last point.
func (l *layer) line(chain []step) Ring {
	r := make(Ring, 0, l.count(chain))
	for _, s := range chain {
		from, _ := l.ends(s)
		r = join(r, l.point(from))
		one, two, _ := l.course(s >> 1)
		if s&1 == 0 {
			r = joinAll(joinAll(r, one), two)
			continue
		}
		for _, part := range [2][]XY{two, one} {
			for i := len(part) - 1; i >= 0; i-- {
				r = join(r, part[i])
			}
		}
	}
	return r
}

// close adds the ring that a closed chain makes.
func (l *layer) close(chain []step) {
	r := l.line(chain)
	if len(r) > 1 && r[0] == r[len(r)-1] {
		r = r[:len(r)-1]
	}
	l.add(r)
}

func join(r Ring, p XY) Ring {
	if len(r) > 0 && r[len(r)-1] == p {
		return r
	}
	return append(r, p)
}

func joinAll(r Ring, line []XY) Ring {
	if len(line) == 0 {
		return r
	}
	return append(join(r, line[0]), line[1:]...)
}

// add keeps a ring unless it is narrower than the sliver limit.
func (l *layer) add(r Ring) {
	area := r.Area()
	if area < 0 {
		area = -area
	}
	if len(r) < 3 || 2*area < l.sliver*r.Perimeter() {
		l.dropped += area
		return
	}
	l.rings = append(l.rings, r)
}
