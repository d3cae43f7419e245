package coverage

import "balk/geo/plane"

const (
	// besides: rungs of a hairline follow each other by no more edges than so many on either side.
	besides = 8
	// endRungs: so many rungs at either end of a hairline are looked at, so that those left out between them, shorter than the
	// next neck, hardly ever cross one that would be kept.
	endRungs = 8
)

// A hairline is ground that is nowhere broader than three slivers, such as two passes leave that lie side by side but for the rounding of their places: it
// has thousands of corners, and at nearly each of the inward ones it is a neck.
//
//	a ────●───╲    ╱───●────   from rung to rung of one side: both are shorter than a sliver, and the corners of either side
//	      │    ╲──╱    │       lie within a sliver of the straight between their ends
//	b ────┴────────────┴────
//
// No core lies in it, since coreNecks is more, so a rung between two others of it is no cut, and is left out. What hangs together by these
// rungs is one sliver anyway. Only where a hairline ends in broader ground its rungs matter.
type hairline struct {
	rim   *plane.Edges
	tail  float64 // m; one that is hardly longer stays as it is, since its perimeter decides
	rungs []rung  // from corners of one side, in the order of the rim
}

// add adds the next rung from an inward corner. Where it does not go on with the hairline, that is at its end.
func (h *hairline) add(found []rung, g rung) []rung {
	if n := len(h.rungs); n > 0 && !h.follows(h.rungs[n-1], g) {
		found = h.end(found)
	}
	h.rungs = append(h.rungs, g)
	return found
}

// end adds to what was found the rungs of the hairline that matter.
func (h *hairline) end(found []rung) []rung {
	all, long := h.rungs, 0.0
	for k := endRungs + 1; k < len(all)-endRungs; k++ {
		long += all[k-1].A.Dist(all[k].A)
	}
	if long > 0 && long >= 2*h.tail {
		found = append(found, all[:endRungs]...)
		all = all[len(all)-endRungs:]
	}
	found = append(found, all...)
	h.rungs = h.rungs[:0]
	return found
}

// follows says whether the ground between two rungs is a hairline's.
func (h *hairline) follows(a, b rung) bool {
	if a.A.Dist(a.B) >= sliver || b.A.Dist(b.B) >= sliver {
		return false
	}
	return h.straight(a.ends[0], b.ends[0], plane.Segment{A: a.A, B: b.A}) && h.straight(b.ends[1], a.ends[1], plane.Segment{A: b.B, B: a.B})
}

// straight says whether the rim, from one place on it to another, lies within a sliver of the straight between them.
func (h *hairline) straight(from, to rungEnd, chord plane.Segment) bool {
	if to.edge < from.edge || to.edge > from.edge+besides || h.rim.At(from.edge).Ring != h.rim.At(to.edge).Ring {
		return false
	}
	for k := from.edge + 1; k <= to.edge; k++ {
		if chord.Dist(h.rim.At(k).A) > sliver {
			return false
		}
	}
	return true
}
