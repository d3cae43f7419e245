package rework

import (
	"errors"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo/plane"
)

// terrain is the field as one drives on it.
type terrain struct {
	rims    [][]plane.XY   // boundary and obstacles, closed, the field on the left
	edges   plane.Edges    // of the rims
	outer   plane.Edges    // of the boundary alone: there is no gate at an obstacle
	room    *turn.Room     // nil: the set's outline is not known
	corners []plane.Corner // around which ways may lead
	detours *plane.Detours
}

const (
	// cornerGap: a way passes a corner at this distance at least, m. Rims are thinned by half of it before their corners are taken,
	// so that a way between two corners stays inside.
	cornerGap = 1.0
	// fineOutline is how exactly the set's outline is driven over a way, m; see turn.Drive.
	fineOutline = 0.02
)

func terrainOf(field []plane.Polygon, im rig.Implement) (*terrain, error) {
	g := &terrain{}
	gap := max(cornerGap, im.Turning.Margin+max(im.Tractor.Width, im.Body.Width)/2)
	g.edges.AddPolygons(field)
	if g.edges.Len() == 0 {
		return nil, errors.New("re-work: the result has no field")
	}
	for _, p := range field {
		g.outer.Add(p[0].Turned(false))
		for k, r := range p {
			r = r.Turned(k > 0)
			g.rims = append(g.rims, append(slices.Clone([]plane.XY(r)), r[0]))
			g.addCorners(thinnedRing(r, gap/2), gap)
		}
	}
	g.detours = plane.NewDetours(g.corners, g.clear)
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
		q := p.Add(in.Unit().Left().Add(out.Unit().Left()).Unit().Scale(gap * math.Sqrt2))
		if g.edges.Holds(q) && !slices.ContainsFunc(g.corners, func(c plane.Corner) bool { return c.At.Dist(q) < touch }) {
			g.corners = append(g.corners, plane.Bare(q)) // off the rim, by whose sides it is not bound
		}
	}
}

// clear says whether the straight from a to b crosses no rim.
func (g *terrain) clear(a, b plane.XY) bool { return !g.edges.Cross(plane.Segment{A: a, B: b}) }

// rimNear lists, for the steps of a swath from bar i to bar k, the edges whose boxes meet that of the step. The swath is a ring
// of ground.Ring. Halves of it that meet no edge are left out together.
func (g *terrain) rimNear(near [][]int32, ring plane.Ring, i, k int) {
	n := len(ring)
	box := plane.EmptyBox().Extend(ring[i : k+1]...).Extend(ring[n-1-k : n-i]...)
	if k-i == 1 {
		near[i] = slices.AppendSeq(near[i], g.edges.In(box))
		return
	}
	if g.edges.Meet(box) {
		g.rimNear(near, ring, i, (i+k)/2)
		g.rimNear(near, ring, (i+k)/2, k)
	}
}

// clearAlong says whether a line crosses no rim.
func (g *terrain) clearAlong(line []plane.XY) bool {
	if len(line) > 2 && !g.edges.Meet(plane.EmptyBox().Extend(line...)) {
		return true
	}
	for i := 1; i < len(line); i++ {
		if !g.clear(line[i-1], line[i]) {
			return false
		}
	}
	return true
}

// beyond is how much of a line lies outside the boundary or in an obstacle, m. near lists the edges near each step of the line. A
// step that meets no edge lies on the side on which the step before it ended.
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
			edge := g.edges.At(k)
			e, to := edge.B.Sub(edge.A), edge.A.Sub(a)
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
				in = g.edges.Holds(a.Lerp(b, (cuts[k-1]+cuts[k])/2))
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
	if g.edges.Holds(p) {
		return p
	}
	return g.onRim(p)
}

// onRim is the place of the boundary, not of an obstacle, nearest to p.
func (g *terrain) onRim(p plane.XY) plane.XY {
	best, at := math.Inf(1), p
	for k := range g.outer.Len() {
		e := g.outer.At(int32(k))
		t := e.Share(p)
		if l := e.At(t).Dist(p); l < best-touch {
			best = l
			// off the ends of the edge, where the next one may lean over it
			d := e.B.Sub(e.A)
			at = e.At(min(1-share(d), max(share(d), t))).Add(d.Unit().Left().Scale(intoField))
		}
	}
	return at
}

// share is how much of an edge is 2·intoField, half of it at the most.
func share(d plane.XY) float64 { return min(0.5, 2*intoField/d.Len()) }

// around is the shortest way from a to b that crosses no rim, as a line of points; nil where
// there is none.
func (g *terrain) around(a, b plane.XY) []plane.XY { return g.detours.Way(a, b) }
