package rework

import (
	"errors"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo/plane"

	"github.com/tidwall/rtree"
)

// terrain is the field as one drives on it.
type terrain struct {
	rims    [][]plane.XY // boundary and obstacles, closed, the field on the left
	edges   [][2]plane.XY
	tree    rtree.RTreeG[int32]
	room    *turn.Room // nil: the set's outline is not known
	corners []plane.XY // around which ways may lead
	roads   [][]float64
}

const (
	// cornerGap: a way leads round a corner at least at this distance, m, and rims are
	// thinned by half of it before their corners are taken, so that a way between two of them stays inside.
	cornerGap = 1.0
	// fineOutline is how exactly the set's outline is driven over a way, m; see turn.Drive.
	fineOutline = 0.02
)

func terrainOf(field []plane.Polygon, im rig.Implement) (*terrain, error) {
	g := &terrain{}
	gap := max(cornerGap, im.Turning.Margin+max(im.Tractor.Width, im.Body.Width)/2)
	for _, p := range field {
		for k, r := range p {
			if outer := k == 0; outer != (r.Area() > 0) {
				r = slices.Clone(r)
				slices.Reverse(r)
			}
			g.rims = append(g.rims, append(slices.Clone([]plane.XY(r)), r[0]))
			for i, a := range r {
				b := r[(i+1)%len(r)]
				box := plane.EmptyBox().Extend(a, b)
				g.tree.Insert([2]float64{box.Min.X, box.Min.Y}, [2]float64{box.Max.X, box.Max.Y}, int32(len(g.edges)))
				g.edges = append(g.edges, [2]plane.XY{a, b})
			}
		}
	}
	if len(g.edges) == 0 {
		return nil, errors.New("re-work: the result has no field")
	}
	for _, rim := range g.rims {
		g.addCorners(thinnedRing(rim[:len(rim)-1], gap/2), gap)
	}
	g.layRoads()
	if turn.Describes(im) == nil {
		var err error
		if g.room, err = turn.NewRoom(field); err != nil {
			return nil, err
		}
	}
	return g, nil
}

// addCorners takes the corners of a rim that stand into the field, moved off it by gap.
func (g *terrain) addCorners(r plane.Ring, gap float64) {
	n := len(r)
	for i, p := range r {
		in, out := p.Sub(r[(i+n-1)%n]), r[(i+1)%n].Sub(p)
		if in.Cross(out) >= 0 {
			continue
		}
		q := p.Add(unit(unit(in).Left().Add(unit(out).Left())).Scale(gap * math.Sqrt2))
		if g.holds(q) && !slices.ContainsFunc(g.corners, func(c plane.XY) bool { return c.Dist(q) < touch }) {
			g.corners = append(g.corners, q)
		}
	}
}

// layRoads finds the shortest ways between all corners (Floyd 1962, Warshall 1962).
func (g *terrain) layRoads() {
	n := len(g.corners)
	g.roads = make([][]float64, n)
	for i := range n {
		g.roads[i] = make([]float64, n)
		for k := range n {
			if g.roads[i][k] = math.Inf(1); i == k {
				g.roads[i][k] = 0
			} else if g.clear(g.corners[i], g.corners[k]) {
				g.roads[i][k] = g.corners[i].Dist(g.corners[k])
			}
		}
	}
	for m := range n {
		for i := range n {
			if math.IsInf(g.roads[i][m], 1) {
				continue
			}
			for k := range n {
				g.roads[i][k] = min(g.roads[i][k], g.roads[i][m]+g.roads[m][k])
			}
		}
	}
}

// clear says whether the segment a b crosses no rim.
func (g *terrain) clear(a, b plane.XY) bool {
	ok := true
	d := b.Sub(a)
	box := plane.EmptyBox().Extend(a, b)
	g.tree.Search([2]float64{box.Min.X, box.Min.Y}, [2]float64{box.Max.X, box.Max.Y}, func(_, _ [2]float64, k int32) bool {
		e := g.edges[k]
		f := e[1].Sub(e[0])
		ok = (d.Cross(e[0].Sub(a)) > 0) == (d.Cross(e[1].Sub(a)) > 0) ||
			(f.Cross(a.Sub(e[0])) > 0) == (f.Cross(b.Sub(e[0])) > 0)
		return ok
	})
	return ok
}

// rimWithin says whether the box of an edge meets box.
func (g *terrain) rimWithin(box plane.Box) bool {
	found := false
	g.tree.Search([2]float64{box.Min.X, box.Min.Y}, [2]float64{box.Max.X, box.Max.Y}, func(_, _ [2]float64, _ int32) bool {
		found = true
		return false
	})
	return found
}

// rimNear gives the steps of a swath, a ring of ringOf, from bar i to bar k the edges whose boxes meet theirs, halving what
// is not clear of all.
func (g *terrain) rimNear(near [][]int32, ring plane.Ring, i, k int) {
	n := len(ring)
	box := plane.EmptyBox().Extend(ring[i : k+1]...).Extend(ring[n-1-k : n-i]...)
	if k-i == 1 {
		g.tree.Search([2]float64{box.Min.X, box.Min.Y}, [2]float64{box.Max.X, box.Max.Y}, func(_, _ [2]float64, e int32) bool {
			near[i] = append(near[i], e)
			return true
		})
		return
	}
	if g.rimWithin(box) {
		g.rimNear(near, ring, i, (i+k)/2)
		g.rimNear(near, ring, (i+k)/2, k)
	}
}

// clearAlong says whether a line crosses no rim.
func (g *terrain) clearAlong(line []plane.XY) bool {
	if len(line) > 2 && !g.rimWithin(plane.EmptyBox().Extend(line...)) {
		return true
	}
	for i := 1; i < len(line); i++ {
		if !g.clear(line[i-1], line[i]) {
			return false
		}
	}
	return true
}

// holds says whether p lies in the field, by the rims to the east of it.
func (g *terrain) holds(p plane.XY) bool {
	in := false
	g.tree.Search([2]float64{p.X, p.Y}, [2]float64{math.Inf(1), p.Y}, func(_, _ [2]float64, k int32) bool {
		a, b := g.edges[k][0], g.edges[k][1]
		if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(b.X-a.X)*(p.Y-a.Y)/(b.Y-a.Y) {
			in = !in
		}
		return true
	})
	return in
}

// beyond is how much of a line lies outside the boundary or in an obstacle, m; near are the edges near each step. A step that
// meets none lies where the step before it ended.
func (g *terrain) beyond(line []plane.XY, near [][]int32) float64 {
	const about = 1e-9 // of a step or an edge: a step that only just meets an edge, or does not, is looked at anew
	var out float64
	var cuts []float64
	known, in := false, false
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		d := b.Sub(a)
		cuts = append(cuts[:0], 0, 1)
		for _, k := range near[i-1] {
			e, to := g.edges[k][1].Sub(g.edges[k][0]), g.edges[k][0].Sub(a)
			c := d.Cross(e)
			if c == 0 { // side by side, or the step has no length
				known = known && math.Abs(d.Cross(to)) > about*d.Dot(d)
				continue
			}
			if t, u := to.Cross(e)/c, to.Cross(d)/c; t >= -about && t <= 1+about && u >= -about && u <= 1+about {
				known = false
				cuts = append(cuts, min(1, max(0, t)))
			}
		}
		slices.Sort(cuts)
		for k := 1; k < len(cuts); k++ {
			if cuts[k] == cuts[k-1] {
				continue
			}
			if !known {
				in = g.holds(a.Lerp(b, (cuts[k-1]+cuts[k])/2))
			}
			if !in {
				out += (cuts[k] - cuts[k-1]) * d.Len()
			}
		}
		known = true
	}
	return out
}

// intoField: a gate on the boundary is moved so far into the field, m, that rounding does
// not put it outside.
const intoField = 0.01

// gateAt is the place in the field nearest to p.
func (g *terrain) gateAt(p plane.XY) plane.XY {
	if g.holds(p) {
		return p
	}
	return g.onRim(p)
}

// onRim is the place of the boundary nearest to p.
func (g *terrain) onRim(p plane.XY) plane.XY {
	best, at := math.Inf(1), p
	for _, e := range g.edges {
		d := e[1].Sub(e[0])
		t := min(1, max(0, p.Sub(e[0]).Dot(d)/d.Dot(d)))
		q := e[0].Lerp(e[1], t)
		if l := q.Dist(p); l < best-touch {
			best = l
			// off the ends of the edge, where the next one may lean over it
			q = e[0].Lerp(e[1], min(1-share(d), max(share(d), t)))
			at = q.Add(unit(d).Left().Scale(intoField))
		}
	}
	return at
}

// share is how much of an edge is 2·intoField, half of it at the most.
func share(d plane.XY) float64 { return min(0.5, 2*intoField/d.Len()) }

// around is the shortest way from a to b that crosses no rim, as a line of points; nil where
// there is none.
func (g *terrain) around(a, b plane.XY) []plane.XY {
	if g.clear(a, b) {
		return []plane.XY{a, b}
	}
	first, last, least := -1, -1, math.Inf(1)
	var ends []int
	for k, c := range g.corners {
		if g.clear(c, b) {
			ends = append(ends, k)
		}
	}
	for i, c := range g.corners {
		d := a.Dist(c)
		if d >= least || !g.clear(a, c) {
			continue
		}
		for _, k := range ends {
			if l := d + g.roads[i][k] + g.corners[k].Dist(b); l < least-touch {
				first, last, least = i, k, l
			}
		}
	}
	if first < 0 {
		return nil
	}
	way := []plane.XY{a, g.corners[first]}
	for at := first; at != last; {
		at = g.step(at, last)
		way = append(way, g.corners[at])
	}
	return append(way, b)
}

// step is the next corner on the shortest way from one to another.
func (g *terrain) step(from, to int) int {
	best, next := math.Inf(1), to
	for k := range g.corners {
		if k == from || !g.clear(g.corners[from], g.corners[k]) {
			continue
		}
		if l := g.corners[from].Dist(g.corners[k]) + g.roads[k][to]; l < best {
			best, next = l, k
		}
	}
	return next
}
