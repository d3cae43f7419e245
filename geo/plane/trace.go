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
	a := inFourLanes()
	var ans Answer
	if err := a.solve(ctx, outlines, 1, classify, &ans); err != nil || len(a.weight) == 0 {
		return nil, err
	}
	l := layer{a: a, sides: a.sides, set: 1 << wanted, sliver: 0}
	if err := l.trace(); err != nil {
		return nil, err
	}
	var area, rim float64
	for _, r := range l.rings {
		area += r.Area()
		rim += r.Perimeter()
	}
	if d := math.Abs(area - ans.Area[wanted]); !(d <= traceTolerance*(1+rim)) {
		return nil, fmt.Errorf("internal: traced rings hold %.6g m² more or less than the arrangement's %.8g m²: must be within %.3g m²", d, ans.Area[wanted], traceTolerance*(1+rim))
	}
	return l.rings, nil
}

// trace collects the boundary's lines from node to node and joins them in any
// order in which they close: the winding number does not depend on it.
func (l *layer) trace() error {
	a := l.a
	type lineTo struct {
		from, to int32 // nodes
		line     []XY
	}
	var arcs []lineTo
	leaving := make([][]int, len(a.place))
	var closed []Ring
	err := l.walk(func(chain []step) {
		from, _ := l.ends(chain[0])
		_, to := l.ends(chain[len(chain)-1])
		leaving[a.node[from]] = append(leaving[a.node[from]], len(arcs))
		arcs = append(arcs, lineTo{a.node[from], a.node[to], append(l.line(chain), l.point(to))})
	}, func(chain []step) {
		closed = append(closed, l.line(chain))
	}, func(o int32, back bool) {
		closed = append(closed, l.whole(o, back))
	})
	if err != nil {
		return err
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
	l.rings = append(l.rings, closed...)
	return nil
}
