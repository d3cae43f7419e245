package plan

import (
	"context"
	"fmt"
	"math"
	"slices"

	"balk/geo/plane"
)

const (
	// fine: the lines of rounds are thinned to so much, m; a quarter of the best receiver's noise.
	fine = 5e-3
	// offBend: a bend tighter than the set can steer is reported where the set would leave
	// the line by more, m: what a lap of the usual size takes up.
	offBend = 0.1
)

// loop is one headland round, closed.
type loop struct {
	round int // 1 is the outermost
	ring  plane.Ring
	tight []Fault
}

// loopsOf are the headland rounds of one part of a field, innermost first: its
// insets by (k − ½)·credited with corners rounded to the radius r.
//
// Rounding is an opening: inset by r more and let out again, which takes exactly the corners that
// a wheel of that radius cannot reach. Where that would lose a neck or a whole piece the sharp line stays. Around
// obstacles and reflex corners the inset is an arc of radius (k − ½)·credited already; what is tighter
// than r there cannot be rounded without leaving the field or missing ground, and is reported.
func loopsOf(ctx context.Context, part plane.Polygon, rounds int, width, r float64) ([]loop, error) {
	var loops []loop
	for k := rounds; k > 0; k-- {
		depth := (float64(k) - 0.5) * width
		sharp, err := plane.Inset(ctx, []plane.Polygon{part}, depth)
		if err != nil {
			return nil, fmt.Errorf("headland round %d: %w", k, err)
		}
		if len(sharp) == 0 {
			continue
		}
		round, err := opened(ctx, part, depth, r)
		if err != nil {
			return nil, fmt.Errorf("headland round %d: %w", k, err)
		}
		for _, p := range sharp {
			for _, ring := range pick(p, round) {
				ring = thinned(ring, fine)
				if len(ring) >= 3 {
					loops = append(loops, loop{k, ring, tightBends(ring, r, k)})
				}
			}
		}
	}
	return loops, nil
}

// pick is the rounded rings of a piece, or its own where rounding would lose ground.
func pick(p plane.Polygon, round []plane.Ring) []plane.Ring {
	var in []plane.Ring
	for _, ring := range round {
		// Rounded rings touch the sharp ones; the middle of the first side may lie on it, so by a
		// majority of corners.
		votes := 0
		for _, q := range ring {
			if contains(p[:1], q) {
				votes++
			}
		}
		if 2*votes > len(ring) {
			in = append(in, ring)
		}
	}
	if len(in) == len(p) {
		return in
	}
	return p
}

// opened are the rings of the inset by depth, opened by r.
func opened(ctx context.Context, part plane.Polygon, depth, r float64) ([]plane.Ring, error) {
	core, err := plane.Inset(ctx, []plane.Polygon{part}, depth+r)
	if err != nil || len(core) == 0 {
		return nil, err
	}
	box := plane.EmptyBox()
	for _, p := range core {
		box = box.Extend(p[0]...)
	}
	away := plane.XY{X: 4 * r, Y: 4 * r}
	lo, hi := box.Min.Sub(away), box.Max.Add(away)
	frame := plane.Polygon{{lo, {X: hi.X, Y: lo.Y}, hi, {X: lo.X, Y: hi.Y}}}
	around, err := plane.Difference(ctx, []plane.Polygon{frame}, core)
	if err != nil {
		return nil, err
	}
	around, err = plane.Inset(ctx, around, r)
	if err != nil {
		return nil, err
	}
	var rings []plane.Ring
	for _, p := range around {
		for _, ring := range p {
			if b := ring.Bounds(); b.Min.X < lo.X+2*r && b.Max.X > hi.X-2*r {
				continue // the frame's own
			}
			ring = slices.Clone(ring)
			slices.Reverse(ring)
			rings = append(rings, ring)
		}
	}
	return rings, nil
}

// tightBends are the bends of a ring that a set with least radius r leaves by more
// than offBend. A bend by θ on radius q < r is left by (r − q)·(1/cos(θ/2) − 1): the arcs
// of both radii touch the same two tangents.
func tightBends(ring plane.Ring, r float64, round int) []Fault {
	n := len(ring)
	bend := func(i int) float64 {
		a, b := ring[i].Sub(ring[(i+n-1)%n]), ring[(i+1)%n].Sub(ring[i])
		return math.Atan2(a.Cross(b), a.Dot(b))
	}
	first := 0 // start where a straight ends, so that no bend is cut in two
	for first < n && ring[first].Dist(ring[(first+n-1)%n]) <= r/2 {
		first++
	}
	var out []Fault
	for i := 0; i < n; {
		at, theta, way := (first+i)%n, bend((first+i)%n), 0.0
		from := i
		for i++; i < n; i++ {
			k := (first + i) % n
			step, next := ring[k].Dist(ring[(k+n-1)%n]), bend(k)
			if step > r/2 || next*theta < 0 {
				break
			}
			theta, way = theta+next, way+step
		}
		turned := math.Abs(theta)
		if turned == 0 {
			continue
		}
		q := way / turned
		if q < r && (r-q)*(1/math.Cos(min(turned, 3)/2)-1) > offBend {
			at = (at + (i-from)/2) % n
			out = append(out, Fault{At: ring[at], Why: fmt.Sprintf("bend by %.0f° on a radius of %.1f m in headland round %d: must be %.1f m at least", turned*180/math.Pi, q, round, r)})
		}
	}
	return out
}

// thinned leaves out what lies within tolerance of the line without it (Douglas
// & Peucker 1973, from memory).
func thinned(ring plane.Ring, tolerance float64) plane.Ring {
	if len(ring) < 4 {
		return ring
	}
	far := 0
	for i, p := range ring {
		if p.Dist(ring[0]) > ring[far].Dist(ring[0]) {
			far = i
		}
	}
	keep := make([]bool, len(ring)+1)
	keep[0], keep[far], keep[len(ring)] = true, true, true
	line := append(slices.Clone(ring), ring[0])
	todo := [][2]int{{0, far}, {far, len(ring)}}
	for len(todo) > 0 {
		s := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		worst, at := tolerance, -1
		for i := s[0] + 1; i < s[1]; i++ {
			if d := distance(line[i], line[s[0]], line[s[1]]); d > worst {
				worst, at = d, i
			}
		}
		if at >= 0 {
			keep[at] = true
			todo = append(todo, [2]int{s[0], at}, [2]int{at, s[1]})
		}
	}
	var out plane.Ring
	for i, p := range ring {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}

// distance is from p to the straight from a to b, m.
func distance(p, a, b plane.XY) float64 { return p.Dist(nearest(p, a, b)) }

// nearest is the point of the straight from a to b that is nearest to p.
func nearest(p, a, b plane.XY) plane.XY {
	d := b.Sub(a)
	if l := d.Dot(d); l > 0 {
		return a.Lerp(b, min(1, max(0, p.Sub(a).Dot(d)/l)))
	}
	return a
}

// contains says whether p lies inside rings by the even-odd rule.
func contains(rings []plane.Ring, p plane.XY) bool {
	in := false
	for _, ring := range rings {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(b.X-a.X)*(p.Y-a.Y)/(b.Y-a.Y) {
				in = !in
			}
		}
	}
	return in
}
