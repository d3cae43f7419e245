package turn

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"balk/geo/plane"
)

// Room is the ground a turn may use: a boundary minus its obstacles.
type Room struct {
	edges     plane.Edges
	clearance clearance
}

// NewRoom takes polygons whose holes are obstacles. Errors: no edge, or a coordinate
// that is not finite.
func NewRoom(polys []plane.Polygon) (*Room, error) {
	for i, poly := range polys {
		for k, ring := range poly {
			for _, p := range ring {
				if !(math.Abs(p.X) <= plane.Limit && math.Abs(p.Y) <= plane.Limit) {
					return nil, fmt.Errorf("polygon %d, ring %d: corner at %g, %g: must be within ±%d m", i+1, k+1, p.X, p.Y, int64(plane.Limit))
				}
			}
		}
	}
	r := new(Room)
	r.edges.AddPolygons(polys)
	if r.edges.Len() == 0 {
		return nil, errors.New("room without a boundary: needs one ring at least")
	}
	return r, nil
}

// Fit says how swept ground lies in a room.
type Fit struct {
	// Spare is how far the ground stays from boundary and obstacles beyond the margin asked
	// for, m. Negative: short by so much.
	Spare float64
	At    plane.XY // where that is, on the boundary or on an outline beyond it
	Cross bool     // the ground crosses a boundary or an obstacle
}

// Fits says whether the turn may be driven.
func (f Fit) Fits() bool { return !f.Cross && f.Spare >= -summing }

// summing is what sums of lengths may be off by, m: a turn that needs 8.2 m fits into a headland of 8.2 m.
const summing = 1e-9

// Fit is how the ground swept by d lies in r, margin metres kept from boundary and
// obstacles. It is found without that ground's outline:
//
//  1. Where nothing is crossed, Spare + margin is the least distance from the ground of Swept to any edge.
//     That ground is made of the rectangle at the start and of the quadrilaterals that its sides sweep. Of
//     an edge and a quadrilateral that do not meet, the nearest points lie on the edge and on the
//     quadrilateral's rim, and one of them is an end: a corner of an outline, or a corner of the
//     boundary. So corners against edges, and corners of the boundary against sides and the ways of corners
//     between moments, are all there is to measure.
//  2. Where something is crossed, Spare + margin is minus the greatest of: how far a corner of an outline
//     gets beyond the boundary or into an obstacle, at a moment; how far an edge gets into an outline,
//     at a moment, measured to the outline's nearest side. That is how far an outline would
//     have to be moved there.
//  3. Moving, turning and mirroring all changes nothing; a larger margin takes as much off Spare.
//
// Both are exact for the set as driven to its fine. O(log n) for the edges of the
// boundary, O(moments) for those nearby. A Driven that Drive did not make fits nowhere.
func (r *Room) Fit(d *Driven, margin float64) Fit {
	if len(d.quads[ofImplement]) == 0 || r.edges.Len() == 0 {
		return Fit{Cross: true}
	}
	q := newSearch(r, d)
	q.open()
	for _, body := range q.bodies {
		q.each(body, blockOf, func() float64 { return math.Sqrt(q.best2) }, q.measure)
	}
	f := Fit{Spare: math.Sqrt(q.best2) - margin, At: q.at, Cross: q.cross}
	if !q.cross && q.outside() {
		f.Cross = true
	}
	if f.Cross {
		f.Spare, f.At = q.short()
		f.Spare -= margin
	}
	return f
}

// Holds says whether the ground swept by d lies in r, margin metres kept: what Fit(d, margin) says, without by how
// much, and so in a part of the time.
func (r *Room) Holds(d *Driven, margin float64) bool {
	if len(d.quads[ofImplement]) == 0 || r.edges.Len() == 0 {
		return false
	}
	q := newSearch(r, d)
	bound := max(0, margin*math.Abs(margin))
	q.best2 = bound // what is farther does not matter
	q.find(math.Sqrt(bound))
	for _, body := range q.bodies {
		q.each(body, blockOf, func() float64 { return math.Sqrt(bound) }, func(block []quad, edges []int32) {
			if !q.cross && q.best2 >= bound {
				q.measure(block, edges)
			}
		})
	}
	return !q.cross && q.best2 >= bound && !q.outside()
}

// search is one question to a room.
type search struct {
	room   *Room
	bodies [][]quad
	box    plane.Box // around all of them
	near   []int32   // edges that can matter
	best2  float64   // m², least distance so far
	at     plane.XY
	cross  bool

	deep   float64 // m, greatest depth beyond or inside
	deepAt plane.XY
	kept   [][]int32 // edges that can matter, by how often the moments were halved
	far    []float64 // m², of the edges looked at
}

const (
	blockOf = 16 // moments that are compared with an edge together
	deepOf  = 4  // moments that are asked together how deep they are
	thin    = 4  // moments, of which one serves for a first bound

	// fewEdges: so many are looked at for each block, which takes no longer than leaving some out for many blocks at once.
	fewEdges = 32
)

func newSearch(r *Room, d *Driven) *search {
	q := &search{room: r, box: plane.EmptyBox(), bodies: make([][]quad, 0, len(d.quads))}
	for i, body := range d.quads {
		if d.tip[i].half == 0 {
			continue
		}
		q.bodies = append(q.bodies, body)
		for k := range body {
			q.box = q.box.Extend(body[k][:]...)
		}
	}
	return q
}

// open finds the edges that can be nearest: some corner's distance to the
// boundary bounds that of the ground. A few steps from the corner nearest to an edge to the edge
// nearest to that corner make the bound a good one, so that hardly anything else is looked at.
func (q *search) open() {
	p := q.bodies[0][len(q.bodies[0])/2][0]
	q.best2 = math.Inf(1)
	for range 4 {
		k, _ := q.room.edges.Nearest(p)
		e, before := q.room.edges.At(k), q.best2
		for _, body := range q.bodies {
			for i := 0; i < len(body); i += thin {
				for c := range body[i] {
					if d := e.Dist2(body[i][c]); d < q.best2 {
						q.best2, q.at, p = d, e.Nearest(body[i][c]), body[i][c]
					}
				}
			}
		}
		if q.best2 == before {
			break
		}
	}
	q.find(math.Sqrt(q.best2))
}

// find takes the edges around.
func (q *search) find(around float64) {
	q.near = slices.AppendSeq(q.near[:0], q.room.edges.In(q.box.Grown(around)))
	slices.Sort(q.near)
}

// each calls f for blocks of `size` moments, in their order, with the edges that can matter to one: an edge
// farther from the block's middle than its radius by more than the nearest one is nearest to
// nothing in it. Blocks that stay farther than `beyond` from all edges are left out.
func (q *search) each(body []quad, size int, beyond func() float64, f func(block []quad, edges []int32)) {
	q.halves(body, 0, (len(body)+size-1)/size, size, 0, q.near, beyond, f)
}

// halves is each for some blocks by number and the edges that can matter to any of them, so many halvings down: what cannot matter to
// all blocks together cannot matter to one.
func (q *search) halves(body []quad, from, to, size, down int, edges []int32, beyond func() float64, f func(block []quad, edges []int32)) {
	if to-from == 1 || len(edges) > fewEdges {
		part := body[from*size : min(to*size+1, len(body))] // one more: the way to the next block
		middle := part[len(part)/2].middle()
		var radius float64
		for i := range part {
			for _, p := range part[i] {
				d := p.Sub(middle)
				radius = max(radius, d.Dot(d))
			}
		}
		radius = math.Sqrt(radius)
		for len(q.kept) <= down {
			q.kept = append(q.kept, nil)
		}
		kept := q.kept[down][:0]
		least := math.Inf(1)
		q.far = q.far[:0]
		for _, k := range edges {
			d := q.room.edges.Dist2(k, middle)
			least = min(least, d)
			q.far = append(q.far, d)
		}
		least = math.Sqrt(least)
		most := min(least+radius, beyond()) + radius
		if least > most {
			return
		}
		for i, k := range edges {
			if q.far[i] <= most*most {
				kept = append(kept, k)
			}
		}
		q.kept[down] = kept
		if edges = kept; to-from == 1 {
			f(part, edges)
			return
		}
	}
	mid := (from + to) / 2
	q.halves(body, from, mid, size, down+1, edges, beyond, f)
	q.halves(body, mid, to, size, down+1, edges, beyond, f)
}

func (q quad) middle() plane.XY { return q[0].Lerp(q[2], 0.5) }

// measure takes the distances of one block.
func (q *search) measure(block []quad, edges []int32) {
	radius := block[0][0].Dist(block[0].middle())
	for i := range block {
		middle := block[i].middle()
		reach := radius
		if i+1 < len(block) { // the way to the next moment belongs to it
			for c, p := range block[i+1] {
				reach = max(reach, radius+p.Dist(block[i][c]))
			}
		}
		for _, k := range edges {
			if least := reach + math.Sqrt(q.best2); q.room.edges.Dist2(k, middle) > least*least {
				continue
			}
			q.moment(block, i, k)
		}
	}
}

// moment compares one moment, and the way to the next, with an edge.
func (q *search) moment(block []quad, i int, k int32) {
	e, now := q.room.edges.At(k).Segment, block[i]
	for c, p := range now {
		if d2 := e.Dist2(p); d2 < q.best2 {
			q.best2, q.at = d2, e.Nearest(p)
		}
		side := plane.Segment{A: p, B: now[(c+1)%4]}
		q.closer(side, e.A)
		if side.Crosses(e) {
			q.cross = true
		}
		if i+1 < len(block) {
			then := block[i+1]
			way := plane.Segment{A: p, B: then[c]}
			q.closer(way, e.A)
			if way.Crosses(e) || winds(e.A, side.A, side.B, then[(c+1)%4], then[c]) {
				q.cross = true
			}
		}
	}
	if winds(e.A, now[0], now[1], now[2], now[3]) {
		q.cross = true
	}
}

func (q *search) closer(s plane.Segment, at plane.XY) {
	if d2 := s.Dist2(at); d2 < q.best2 {
		q.best2, q.at = d2, at
	}
}

// outside says whether the set starts outside the room.
func (q *search) outside() bool {
	p := q.bodies[0][0].middle()
	k, _ := q.room.edges.Nearest(p)
	return q.room.edges.SignedFrom(p, k) < 0
}

// short is minus the greatest depth, see property 2 of Fit. A corner beyond the
// boundary is no farther from it than the ground is wide, for the ground is in one piece and crosses
// it; a set that is outside from the start is measured all the same.
func (q *search) short() (float64, plane.XY) {
	middle := q.box.Min.Lerp(q.box.Max, 0.5)
	_, away2 := q.room.edges.Nearest(middle)
	q.find(q.box.Max.Dist(middle) + math.Sqrt(away2)) // no place of the box has its nearest edge farther off
	for _, body := range q.bodies {
		q.each(body, deepOf, func() float64 { return math.Inf(1) }, q.depths)
	}
	return -q.deep, q.deepAt
}

// depths takes the depths of one block. The signed distance changes by no more than the place does, so
// whatever lies within r of a middle at m is at most r − m deep.
func (q *search) depths(block []quad, edges []int32) {
	r := block[0][0].Dist(block[0].middle())
	for i := range block[:min(len(block), deepOf)] {
		middle := block[i].middle()
		if m := q.room.signed(middle, edges); r-m <= q.deep {
			continue
		}
		for _, p := range block[i] {
			if d := -q.room.signed(p, edges); d > q.deep {
				q.deep, q.deepAt = d, p
			}
		}
		for _, k := range edges {
			if q.room.edges.Dist2(k, middle) < r*r {
				if d, at := block[i].depth(q.room.edges.At(k).Segment); d > q.deep {
					q.deep, q.deepAt = d, at
				}
			}
		}
	}
}

// signed is the distance of p from the nearest of some edges, negative outside.
func (r *Room) signed(p plane.XY, edges []int32) float64 {
	nearest, least := edges[0], math.Inf(1)
	for _, k := range edges {
		if d := r.edges.Dist2(k, p); d < least {
			nearest, least = k, d
		}
	}
	return r.edges.SignedFrom(p, nearest)
}

// winds says whether p lies inside the quadrilateral by the even-odd rule: a
// bow-tie has both its triangles inside.
func winds(p, a, b, c, d plane.XY) bool {
	in := false
	for _, e := range [4][2]plane.XY{{a, b}, {b, c}, {c, d}, {d, a}} {
		if from, to := e[0], e[1]; (from.Y > p.Y) != (to.Y > p.Y) {
			if side := to.Sub(from).Cross(p.Sub(from)); (side > 0) == (to.Y > from.Y) {
				in = !in
			}
		}
	}
	return in
}

// depth is how deep e gets into the rectangle, m, measured to its nearest side, and
// where. Below 0 it stays outside.
//
// The distance from each side's line is linear along e, so the least of the four is greatest at an end of e
// or where two of them are equal.
func (r quad) depth(e plane.Segment) (float64, plane.XY) {
	var from, to [4]float64
	for c, p := range r {
		side := r[(c+1)%4].Sub(p)
		l := math.Sqrt(side.Dot(side))
		if l == 0 {
			return math.Inf(-1), p
		}
		from[c], to[c] = side.Cross(e.A.Sub(p))/l, side.Cross(e.B.Sub(p))/l
		if from[c] < 0 && to[c] < 0 {
			return math.Inf(-1), p
		}
	}
	best, at := math.Inf(-1), 0.0
	try := func(t float64) {
		if !(t >= 0 && t <= 1) {
			return
		}
		least := math.Inf(1)
		for c := range from {
			least = min(least, from[c]+t*(to[c]-from[c]))
		}
		if least > best {
			best, at = least, t
		}
	}
	try(0)
	try(1)
	for c := range from {
		for k := range c {
			try((from[k] - from[c]) / ((to[c] - from[c]) - (to[k] - from[k])))
		}
	}
	return best, e.At(at)
}
