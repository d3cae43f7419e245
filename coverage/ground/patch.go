package ground

import (
	"math"

	"balk/geo/plane"
)

// patch is a convex counter-clockwise piece of a quad with the travel at which the bar
// passed its places: affine, s + grad·(p − at).
//
// Where the heading comes from the track, a place was passed when a bar square to the
// leg stood on it: at s0 + d·(p − p0), d the direction of the leg, but neither before
// s0 nor after s1. So on a leg s is the way driven along it, however many bars stand on
// it. Only at a bend, where the bar stands slanted, there are triangles beyond s0 and
// s1: there s stays the same, the bar swings.
//
// Where the heading is logged, bars stand slanted as the set did. Then s is s0 on the bar R0 L0,
// s1 on R1 L1, and half way between at the centre, the mean of the four corners:
//
//	L0 ────── L1    four triangles round it, so that mirrored or read backwards they
//	│ ╲    ╱ │      are the same. Where the bars are parallel the four are of one
//	│   ╳    │      plane: the quad is one patch. The bar's own travel would be a
//	│ ╱    ╲ │      conic's, which no arrangement holds; the triangles are the
//	R0 ────── R1    definition.
type patch struct {
	corners [6]plane.XY // a quad cut twice has no more
	n       int
	at      plane.XY
	s       float64 // m
	grad    plane.XY
}

func (t *patch) ring() plane.Ring { return t.corners[:t.n] }

// travel is the travel at p.
func (t *patch) travel(p plane.XY) float64 { return t.s + t.grad.Dot(p.Sub(t.at)) }

// standing is a patch whose places were all passed at s.
func standing(r plane.Ring, s float64) patch {
	t := patch{n: len(r), s: s}
	copy(t.corners[:], r)
	return t
}

// corner is a place with its travel.
type corner struct {
	plane.XY
	s float64
}

// triangle is the patch of three corners, whichever way they turn; ok is false where
// they hold no ground.
func triangle(a, b, c corner) (t patch, ok bool) {
	u, v := b.Sub(a.XY), c.Sub(a.XY)
	det := wedge(u, v)
	if det == 0 {
		return t, false
	}
	du, dv := b.s-a.s, c.s-a.s
	if t.corners[0], t.corners[1], t.corners[2], t.n = a.XY, b.XY, c.XY, 3; det < 0 {
		t.corners[1], t.corners[2] = c.XY, b.XY
	}
	t.at, t.s, t.grad = a.XY, a.s, plane.XY{X: (du*v.Y - dv*u.Y) / det, Y: (dv*u.X - du*v.X) / det}
	return t, true
}

// patchesOf gives the patches of quad i. Together they hold what pieces has.
// Those of a quad that does not advance:
//
//	both bars cross          two triangles, s half way at the crossing; the same
//	                         where the ends' ways cross, by the mean of both ways
//	an arrowhead             the two halves along the diagonal inside
//	the bar pivots           s is the same everywhere
func patchesOf(bars []bar, i int) []patch {
	q, s0, s1 := quad(bars, i), bars[i].s, bars[i+1].s
	var out []patch
	if s0 == s1 {
		for _, p := range pieces(q) {
			out = append(out, standing(p, s0))
		}
		return out
	}
	if leg, lean, ok := legOf(bars, i); ok {
		return legPatches(leg, s0, s1, lean)
	}
	c := [4]corner{{q[0], s0}, {q[1], s1}, {q[2], s1}, {q[3], s0}}
	add := func(a, b, c corner) {
		if t, ok := triangle(a, b, c); ok {
			out = append(out, t)
		}
	}
	round := func(m corner) []patch {
		for k := range c {
			add(c[k], c[(k+1)%4], m)
		}
		return out
	}
	middle := corner{q[0].Add(q[2]).Add(q[1].Add(q[3])).Scale(0.25), (s0 + s1) / 2}
	if advancing(q) {
		if t, ok := triangle(c[0], c[1], c[3]); ok && math.Abs(t.travel(q[2])-s1) <= travelStep {
			t.n = copy(t.corners[:], q[:])
			return []patch{t}
		}
		return round(middle)
	}
	if x, ok := crossing(q[0], q[3], q[1], q[2]); ok {
		m := corner{x, middle.s}
		add(c[0], c[1], m)
		add(c[2], c[3], m)
		return out
	}
	if x, ok := crossing(q[0], q[1], q[2], q[3]); ok {
		part := x.Dist(q[0])/q[1].Dist(q[0]) + x.Dist(q[3])/q[2].Dist(q[3])
		m := corner{x, s0 + (s1-s0)*part/2}
		add(c[1], c[2], m)
		add(c[3], c[0], m)
		return out
	}
	first, second := turn(q[0], q[1], q[2]) >= 0, turn(q[1], q[2], q[3]) >= 0
	third, fourth := turn(q[2], q[3], q[0]) >= 0, turn(q[3], q[0], q[1]) >= 0
	switch {
	case first == second && second == third && third == fourth: // clockwise throughout
		return round(middle)
	case first == third:
		add(c[0], c[1], c[2])
		add(c[2], c[3], c[0])
	default:
		add(c[1], c[2], c[3])
		add(c[3], c[0], c[1])
	}
	return out
}

// legOf is quad i as one patch, where it is a leg whose heading comes from the track, and by
// how much its travel there goes beyond s0 and s1 at most, m.
func legOf(bars []bar, i int) (t patch, lean float64, ok bool) {
	q, s0, s1 := quad(bars, i), bars[i].s, bars[i+1].s
	if bars[i].told || bars[i+1].told || s0 == s1 || !advancing(q) {
		return t, 0, false
	}
	begin, end := q[0].Lerp(q[3], 0.5), q[1].Lerp(q[2], 0.5)
	leg := end.Sub(begin)
	t = patch{at: begin, s: s0, grad: leg.Scale((s1 - s0) / leg.Dot(leg))}
	t.n = copy(t.corners[:], q[:])
	for _, p := range q {
		s := t.travel(p)
		lean = max(lean, s0-s, s-s1)
	}
	return t, lean, true
}

// legPatches are the patches of a leg: what lies between s0 and s1, and what lies beyond.
func legPatches(leg patch, s0, s1, lean float64) []patch {
	if lean <= travelStep {
		return []patch{leg}
	}
	out := []patch{leg}
	beyond := func(s, side float64) { // side: 1 for above s, −1 for below
		var some [8]plane.XY
		r := below(some[:0], leg.ring(), func(p plane.XY) float64 { return side * (s - leg.travel(p)) })
		if len(r) > 2 {
			out = append(out, standing(r, s))
		}
		r = below(some[:0], out[0].ring(), func(p plane.XY) float64 { return side * (leg.travel(p) - s) })
		out[0].n = copy(out[0].corners[:], r)
	}
	beyond(s0, -1)
	beyond(s1, 1)
	return out
}

// part is the ground of an earlier quad i by which a later one, j, comes within relap of
// travel; all says that it is all of i. Only inside j does it mean anything.
//
// Both travels are affine, so where their difference is less than relap is cut by a
// straight. Its ends lie on the earlier quad's edges, not on the later one's, so that
// a long edge keeps its corners but for the few metres beside the cut.
func (l *laps) part(bars []bar, i, j int) (some []plane.Ring, all bool) {
	var one, two [16]plane.XY
	// spanOf is how far apart in travel a and b are on what they have in common.
	spanOf := func(a, b *patch) (common plane.Ring, least, most float64) {
		common, least, most = overlap(one[:0], two[:0], a.ring(), b.ring()), math.Inf(1), math.Inf(-1)
		for _, p := range common {
			d := b.travel(p) - a.travel(p)
			least, most = min(least, d), max(most, d)
		}
		return common, least, most
	}
	if a, p, ok := legOf(bars, i); ok { // nearly always one or the other
		if b, q, ok := legOf(bars, j); ok {
			_, least, most := spanOf(&a, &b)
			if least > most || !l.within(least-p-q) {
				return nil, false
			}
			if l.within(most + p + q) {
				return nil, true
			}
		}
	}
	later := patchesOf(bars, j)
	for _, a := range patchesOf(bars, i) {
		for _, b := range later {
			common, least, most := spanOf(&a, &b)
			if len(common) < 3 || !l.within(least) {
				continue
			}
			ring := common
			if len(later) == 1 {
				ring = a.ring()
			}
			if toStep(most) > l.relap {
				var cut [16]plane.XY
				ring = below(cut[:0], ring, func(p plane.XY) float64 { return b.travel(p) - a.travel(p) - l.relap })
			}
			if ring = snapped(ring); ring.Area() > 0 {
				some = append(some, ring)
			}
		}
	}
	return some, false
}

// overlap is what two convex counter-clockwise rings have in common, in the room of one or two.
func overlap(one, two, a, b plane.Ring) plane.Ring {
	for i, p := range b {
		e := b[(i+1)%len(b)].Sub(p)
		a = below(one[:0], a, func(q plane.XY) float64 { return -wedge(e, q.Sub(p)) })
		one, two = two, one
	}
	return a
}

// below appends a ring without the part in which f, which is affine, is above 0 (Sutherland and Hodgman, Communications of the ACM
// 17 (1974) 32). One that is not convex may run along the cut to and fro.
func below(to, r plane.Ring, f func(plane.XY) float64) plane.Ring {
	if len(r) == 0 {
		return to
	}
	p := r[len(r)-1]
	a := f(p)
	for _, q := range r {
		b := f(q)
		if a < 0 && b > 0 || a > 0 && b < 0 {
			to = append(to, p.Lerp(q, a/(a-b)))
		}
		if b <= 0 {
			to = append(to, q)
		}
		p, a = q, b
	}
	return to
}

// snapped is the ring on the lattice.
func snapped(r plane.Ring) plane.Ring {
	out := make(plane.Ring, len(r))
	for i, p := range r {
		out[i] = plane.Snap(p)
	}
	return out
}
