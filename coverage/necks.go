package coverage

import (
	"cmp"
	"slices"

	"balk/coverage/drive"
	"balk/geo/plane"
)

const (
	// tailLong: a sliver that hangs on to a strip by one end and is shorter stays with it.
	tailLong = 2.0 // m
	// coreNecks: ground into which no circle of so many necks' breadth goes is no strip of its own. A sliver whose breadth goes up and
	// down about that of a neck is then one sliver.
	coreNecks = 2.0
	// neck: good guidance wanders by more, and so do good receivers from pass to pass. It hangs on no error known of the log: more
	// error would make other strips, whose parts could not be compared.
	neck = narrowBy
	// facing: the sides of a sliver part by less than 60°; a blunter point is no sliver.
	facing = -0.5
	// aslant: what lies across a corner may lie 1° off the square, as rounded places do.
	aslant = 0.0175
)

// cutter cuts missed ground at its necks.
//
//	┌─────────┐                            ┌───────┐
//	│  block  ├────────────────────────────┤ block │     two blocks and a sliver
//	└─────────┴────────────────────────────┴───────┘
//
// A rung is a straight line across ground that is no broader than a neck there: from an inward corner to the nearest place of the rim that
// faces it, or between two sides that part, where they lie a neck apart. Rungs cut the ground into cells. Those into which a circle of coreNecks goes
// are cores; the others between them, or hanging on to one by more than tail metres, are slivers. The rungs
// between cores and slivers are the cuts.
//
//  1. The pieces have no ground in common, and their areas add up to that of the whole, but for the rounding of the cuts' ends to float64.
//  2. No cut is longer than a neck.
//  3. Ground without such a neck comes back as it is.
type cutter struct {
	neck float64  // m; 0: nothing is cut
	tail float64  // m
	axis plane.XY // along or square to it run most sides; boxes around sides are thin then
}

func cutterOf(runs []drive.Run) cutter { return cutter{neck, tailLong, mainAxis(runs)} }

// rungEnd is a place on the rim: on an edge, or at the corner where that begins (share 0).
type rungEnd struct {
	edge  int32
	share float64
}

type rung struct {
	ends [2]rungEnd
	plane.Segment
}

// cut are the pieces of p, into which a circle of so many metres goes, and the cuts; none: it is whole.
func (c cutter) cut(p plane.Polygon, wide float64) ([]plane.Polygon, []plane.Segment) {
	if !(c.neck > 0) || wide < coreNecks*c.neck || p.Perimeter()/2 < c.tail {
		return nil, nil
	}
	var rim []plane.Edge
	var turned plane.Edges // of the same numbers
	for k, r := range p {
		r = r.Turned(k > 0)
		rim = plane.AppendEdges(rim, r, k)
		t := make(plane.Ring, len(r))
		for i, v := range r {
			t[i] = plane.XY{X: c.axis.Dot(v), Y: c.axis.Cross(v)}
		}
		turned.Add(t)
	}
	rungs := c.rungs(&turned)
	for i := range rungs {
		for side, e := range rungs[i].ends {
			at := rim[e.edge].At(e.share)
			if side == 0 {
				rungs[i].A = at
			} else {
				rungs[i].B = at
			}
		}
	}
	if len(rungs) == 0 {
		return nil, nil
	}
	if rungs = c.cuts(ladderOf(rim, rungs)); len(rungs) == 0 {
		return nil, nil
	}
	l := ladderOf(rim, rungs)
	cuts := make([]plane.Segment, len(l.rungs))
	for i, g := range l.rungs {
		cuts[i] = g.Segment
	}
	return l.cells, cuts
}

// A knife cuts ground inside that of strips where these were cut.
type knife struct{ tree plane.Tree[plane.Segment] }

// beyond its ends a cut goes on for so far, so that it meets a rim that it ends on.
const beyond = 1e-3 // m

func (k *knife) add(cuts []plane.Segment) {
	for _, s := range cuts {
		d := s.B.Sub(s.A).Unit().Scale(beyond)
		s = plane.Segment{A: s.A.Sub(d), B: s.B.Add(d)}
		k.tree.Insert(s.Box(), s)
	}
}

// hair: what lies so near to a corner lies on it; places are told apart by 1.5e-8 m.
const hair = 1e-7 // m

// endAt is a place on an edge; within a hair of a corner it is that corner.
func endAt(rim *plane.Edges, edge int32, share float64) rungEnd {
	switch e := rim.At(edge); {
	case share*e.A.Dist(e.B) < hair:
		return rungEnd{edge, 0}
	case (1-share)*e.A.Dist(e.B) < hair:
		return rungEnd{e.Next, 0}
	}
	return rungEnd{edge, share}
}

// apart are the pieces of p.
func (k *knife) apart(p plane.Polygon) []plane.Polygon {
	var cuts []plane.Segment
	for s := range k.tree.In(p[0].Bounds()) {
		cuts = append(cuts, s)
	}
	if len(cuts) == 0 {
		return []plane.Polygon{p}
	}
	slices.SortFunc(cuts, func(a, b plane.Segment) int { return cmp.Or(cmp.Compare(a.A.X, b.A.X), cmp.Compare(a.A.Y, b.A.Y)) })
	var rim plane.Edges
	rim.AddPolygons([]plane.Polygon{p})
	var rungs []rung
	for _, s := range cuts {
		type meeting struct {
			on float64 // share of the cut
			rungEnd
		}
		var met []meeting
		for f := range rim.In(s.Box().Grown(hair)) {
			e := rim.At(f).Segment
			switch {
			case s.Dist(e.A) < hair:
				met = append(met, meeting{s.Share(e.A), rungEnd{f, 0}})
			case s.Dist(e.B) >= hair && e.Crosses(s):
				d := s.B.Sub(s.A)
				a, b := d.Cross(e.A.Sub(s.A)), d.Cross(e.B.Sub(s.A))
				share := a / (a - b)
				met = append(met, meeting{s.Share(e.At(share)), endAt(&rim, f, share)})
			}
		}
		slices.SortFunc(met, func(a, b meeting) int { return cmp.Or(cmp.Compare(a.on, b.on), cmp.Compare(a.edge, b.edge)) })
		for i := 1; i < len(met); i++ {
			a, b := met[i-1].rungEnd, met[i].rungEnd
			g := rung{[2]rungEnd{a, b}, plane.Segment{A: rim.At(a.edge).At(a.share), B: rim.At(b.edge).At(b.share)}}
			if a != b && rim.Holds(g.At(0.5)) {
				rungs = append(rungs, g)
			}
		}
	}
	return ladderOf(rim.All(), apartFrom(rungs)).cells
}

// rungs are all places where the ground is a neck, but for those within hairlines; of those that cross each other the shortest.
func (c cutter) rungs(rim *plane.Edges) []rung {
	var found []rung
	rungOf := func(a, b rungEnd) rung {
		at := func(e rungEnd) plane.XY { return rim.At(e.edge).At(e.share) }
		return rung{[2]rungEnd{a, b}, plane.Segment{A: at(a), B: at(b)}}
	}
	line := hairline{rim: rim, tail: c.tail}
	var near []int32
	for k := range int32(rim.Len()) {
		e := rim.At(k)
		near = near[:0]
		for f := range rim.In(e.Box().Grown(c.neck)) {
			near = append(near, f)
		}
		if b, ok := c.acrossCorner(rim, k, near); ok {
			found = line.add(found, rungOf(rungEnd{k, 0}, b))
		}
		d := e.B.Sub(e.A).Unit()
		for _, f := range near {
			o := rim.At(f)
			if f <= k || d.Dot(o.B.Sub(o.A).Unit()) > facing {
				continue
			}
			if s, t, ok := c.between(e.Segment, o.Segment); ok {
				found = append(found, rungOf(rungEnd{k, s}, rungEnd{f, t}))
			} else if t, s, ok := c.between(o.Segment, e.Segment); ok {
				found = append(found, rungOf(rungEnd{k, s}, rungEnd{f, t}))
			}
		}
	}
	found = line.end(found)
	slices.SortFunc(found, func(a, b rung) int {
		return cmp.Or(cmp.Compare(a.A.Dist(a.B), b.A.Dist(b.B)), cmp.Compare(a.A.X, b.A.X), cmp.Compare(a.A.Y, b.A.Y), cmp.Compare(a.B.X, b.B.X), cmp.Compare(a.B.Y, b.B.Y))
	})
	return apartFrom(slices.DeleteFunc(found, func(g rung) bool { return c.blocked(rim, g) }))
}

// apartFrom leaves out rungs that cross one before them, or are one of them.
func apartFrom(rungs []rung) (kept []rung) {
	var tree plane.Tree[int]
	for _, g := range rungs {
		if !crosses(kept, &tree, g) {
			tree.Insert(g.Box(), len(kept))
			kept = append(kept, g)
		}
	}
	return kept
}

// acrossCorner is the place of the rim nearest to an inward corner, of those that lie square to it, if it is nearer than a neck. All edges so near are
// among those given.
//
//	────┐ ← the corner      what lies ahead of the side that ends here and behind the one that
//	    │╲                  begins has no place of either nearer than the corner
func (c cutter) acrossCorner(rim *plane.Edges, k int32, near []int32) (at rungEnd, ok bool) {
	e := rim.At(k)
	last := rim.At(e.Last)
	v, in, out := e.A, e.A.Sub(last.A).Unit(), e.B.Sub(e.A).Unit()
	if in.Cross(out) >= 0 {
		return at, false
	}
	best := c.neck
	for _, f := range near {
		if f == k || f == e.Last {
			continue
		}
		o := rim.At(f)
		s := o.Share(v)
		q := o.At(s)
		d := q.Sub(v)
		far := d.Len()
		if d.Dot(in) < -aslant*far || d.Dot(out) > aslant*far || o.B.Sub(o.A).Cross(v.Sub(o.A)) <= 0 {
			continue
		}
		if end := endAt(rim, f, s); far > 0 && (far < best || far == best && ok && end.edge < at.edge) {
			best, at, ok = far, end, true
		}
	}
	return at, ok
}

// between is where e lies a neck away from f, if it passes that between its ends, and where f lies beside that place, as shares.
func (c cutter) between(e, f plane.Segment) (s, t float64, ok bool) {
	along := f.B.Sub(f.A).Unit()
	a, b := along.Cross(e.A.Sub(f.A))-c.neck, along.Cross(e.B.Sub(f.A))-c.neck
	if (a > 0) == (b > 0) {
		return 0, 0, false
	}
	s = a / (a - b)
	t = along.Dot(e.At(s).Sub(f.A)) / f.A.Dist(f.B)
	return s, t, s > 0 && s < 1 && t > 0 && t < 1
}

// blocked says whether the rim runs through a rung.
func (c cutter) blocked(rim *plane.Edges, g rung) bool {
	var own [4]int32
	for i, e := range g.ends {
		own[2*i], own[2*i+1] = e.edge, e.edge
		if e.share == 0 {
			own[2*i+1] = rim.At(e.edge).Last
		}
	}
	for f := range rim.In(g.Box()) {
		if !slices.Contains(own[:], f) && g.Crosses(rim.At(f).Segment) {
			return true
		}
	}
	return false
}
