package plane

import (
	"context"
	"errors"
	"fmt"
	"math"
)

// traceTolerance is how far the area of the traced rings may be from the area
// of the arrangement, in m² per metre of ring: a clump of crossings is drawn as
// one point.
const traceTolerance = clump

// Trace gives the boundary of all places whose label is kept as closed rings
// with the place on their left: holes run clockwise. Unlike the layers of
// Arrange nothing is rounded for drawing: vertices are the outlines' own and
// their crossings on the lattice, so the rings may touch themselves and each
// other and slivers stay in. Their winding number is 1 on the places kept and 0
// elsewhere, which makes them outlines for another arrangement, exact to the
// lattice. It runs on one goroutine and is meant for small sets.
func Trace(ctx context.Context, outlines []Outline, keep func(Label) bool) ([]Ring, error) {
	if keep(Label(bias)) {
		return nil, errors.New("trace: the unbounded outside is kept")
	}
	classify := func(l Label) Class {
		if keep(l) {
			return wanted
		}
		return 0
	}
	a := new(arrangement)
	if err := a.load(outlines, 1); err != nil {
		return nil, err
	}
	if len(a.weight) == 0 {
		return nil, nil
	}
	var ans Answer
	for _, stage := range []func() error{
		func() error { a.frame(); a.chop(); return nil },
		func() error { a.index(); return nil },
		func() error { a.find(); return nil },
		func() error { a.gather(); return a.label() },
		func() error { return a.sum(classify, &ans) },
	} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if err := stage(); err != nil {
			return nil, err
		}
	}
	l := layer{a: a, set: 1 << wanted, sliver: 0}
	if err := l.trace(); err != nil {
		return nil, err
	}
	var area, rim float64
	for _, r := range l.rings {
		area += r.Area()
		rim += r.Perimeter()
	}
	if d := math.Abs(area - ans.Area[wanted]); !(d <= traceTolerance*(1+rim)) {
		return nil, fmt.Errorf("internal: traced rings hold %g m² more or less than the arrangement's %g m²: must be within %g m²", d, ans.Area[wanted], traceTolerance*(1+rim))
	}
	return l.rings, nil
}

// trace collects the boundary's lines from node to node and joins them in any
// order in which they close: the winding number does not depend on it.
func (l *layer) trace() error {
	a := l.a
	l.seen = make([]bool, len(a.events))
	var arcs []arc
	leaving := make([][]int, len(a.place))
	var chain []step
	for e := range int32(len(a.events)) {
		if a.node[e] < 0 {
			continue
		}
		for _, out := range [2]bool{true, false} {
			s, ok := l.leaves(e, out)
			if !ok {
				continue
			}
			var err error
			if chain, err = l.follow(chain[:0], s); err != nil {
				return err
			}
			_, to := l.ends(chain[len(chain)-1])
			leaving[a.node[e]] = append(leaving[a.node[e]], len(arcs))
			arcs = append(arcs, arc{a.node[e], a.node[to], stretch(append(l.line(chain), l.point(to)))})
		}
	}
	used := make([]bool, len(arcs))
	for k := range arcs {
		var ring Ring
		for n := k; !used[n]; {
			used[n] = true
			ring = append(ring, arcs[n].line[:len(arcs[n].line)-1]...)
			at := arcs[n].to
			out := leaving[at]
			for len(out) > 0 && used[out[len(out)-1]] {
				out = out[:len(out)-1]
			}
			if leaving[at] = out; len(out) == 0 {
				if at != arcs[k].from {
					return errOpenRing
				}
				break
			}
			n = out[len(out)-1]
		}
		if len(ring) > 2 {
			l.rings = append(l.rings, ring)
		}
	}
	for e := range int32(len(a.events)) {
		if l.seen[e] || a.inner[e] {
			continue
		}
		b := l.bound(a.sides[e])
		if b == 0 {
			continue
		}
		s := e << 1
		if b < 0 {
			s |= 1
		}
		var err error
		if chain, err = l.follow(chain[:0], s); err != nil {
			return err
		}
		l.rings = append(l.rings, l.line(chain))
	}
	for o := range a.weight {
		b := l.bound(a.lone[o])
		if a.first[o] != a.first[o+1] || b == 0 {
			continue
		}
		r := append(Ring(nil), a.v[a.start[o]:a.start[o+1]-1]...)
		if b < 0 {
			for i, j := 0, len(r)-1; i < j; i, j = i+1, j-1 {
				r[i], r[j] = r[j], r[i]
			}
		}
		l.rings = append(l.rings, r)
	}
	return nil
}

// line gives the vertices of a chain without its last point.
func (l *layer) line(chain []step) Ring {
	var r Ring
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
