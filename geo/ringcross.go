package geo

import (
	"iter"
	"math"

	"balk/geo/plane"

	"github.com/paulmach/orb"
	"github.com/tidwall/rtree"
)

// touch is how far over another ring a corner may poke and still count as
// touching it, in degrees: 1e-9° is 0.1 mm, a hundredth of the best receiver's
// noise. Corners set on a neighbour's edge come out of a map projection that
// far off the edge; it is far above the 3e-14° of rounding.
const touch = 1e-9

// mostBeside is along how many others an edge runs at most, on average over all.
// Sound boundaries have one, a side with many corners beside it one for each
// of these. Our own choice: far above them, and yet soon reached.
const mostBeside = 32

// edge is one side of a ring: from corner at to the next.
type edge struct{ ring, at int }

// crossing finds the first place where rings, clean and closed, cross
// themselves or each other; nil: nowhere. Touching in points is not crossing.
// Where edges run along each other it takes more than a look at one place to
// say; the first such place is shared. Where edges run along each other at every
// turn, as with one hole written a thousand times, that is a crossing.
func crossing(rings []orb.Ring) (found, shared *fault) {
	edges := 0
	for _, r := range rings {
		edges += len(r) - 1
	}
	beside := 0 // pairs of edges that share a line
	for e, other := range nearEdges(rings) {
		at, how := cross(rings, e, other)
		if how == along {
			beside++
		}
		if how == apartFrom || how == along && shared != nil && beside <= mostBeside*edges {
			continue
		}
		f := &fault{e.ring, RingSimple, at}
		if other.ring != e.ring {
			f.rule = RingApart
		}
		if how == through || shared != nil {
			return f, nil
		}
		shared = f
	}
	return nil, shared
}

// edgesPerBox: so many edges that follow each other share a box of the tree. Looking at them one by one takes less time than finding a box of its
// own for each.
const edgesPerBox = 16

// nearEdges gives each two edges once whose boxes meet, the later one first.
func nearEdges(rings []orb.Ring) iter.Seq2[edge, edge] {
	var edges []edge
	for k, r := range rings {
		for i := range len(r) - 1 {
			edges = append(edges, edge{k, i})
		}
	}
	box := func(n int32) orb.Bound { return edgeBox(rings[edges[n].ring], edges[n].at) }
	type run struct {
		from, end int32
		box       orb.Bound
	}
	return func(yield func(edge, edge) bool) {
		var tree rtree.RTreeG[[2]int32] // from which edge up to which
		var near []run
		boxes := make([]orb.Bound, 0, edgesPerBox) // of the edges of one run
		for from := int32(0); int(from) < len(edges); {
			boxes, all, end := boxes[:0], orb.Bound{Min: orb.Point{math.Inf(1), math.Inf(1)}, Max: orb.Point{math.Inf(-1), math.Inf(-1)}}, from
			for ; int(end) < len(edges) && end-from < edgesPerBox && edges[end].ring == edges[from].ring; end++ {
				b := box(end)
				boxes, all = append(boxes, b), orb.Bound{
					Min: orb.Point{min(all.Min[0], b.Min[0]), min(all.Min[1], b.Min[1])},
					Max: orb.Point{max(all.Max[0], b.Max[0]), max(all.Max[1], b.Max[1])},
				}
			}
			near = near[:0]
			tree.Search(all.Min, all.Max, func(lo, hi [2]float64, r [2]int32) bool {
				near = append(near, run{r[0], r[1], orb.Bound{Min: lo, Max: hi}})
				return true
			})
			tree.Insert(all.Min, all.Max, [2]int32{from, end})
			near = append(near, run{from, end, all})
			for n := from; n < end; n++ {
				around := boxes[n-from]
				for _, r := range near {
					if !r.box.Intersects(around) {
						continue
					}
					for m := r.from; m < min(r.end, n); m++ {
						if box(m).Intersects(around) && !yield(edges[n], edges[m]) {
							return
						}
					}
				}
			}
			from = end
		}
	}
}

// edgeBox is the box around an edge and what touches it.
func edgeBox(r orb.Ring, i int) orb.Bound {
	a, b := r[i], r[i+1]
	return orb.Bound{Min: orb.Point{min(a[0], b[0]) - touch, min(a[1], b[1]) - touch}, Max: orb.Point{max(a[0], b[0]) + touch, max(a[1], b[1]) + touch}}
}

// meeting is how two edges meet.
type meeting uint8

const (
	apartFrom meeting = iota // not at all, or they touch in a point
	along                    // they share a line
	through                  // they cross
)

// corner gives the corner at place i of a closed ring, and the one before and
// after it.
func corner(r orb.Ring, i int) (before, at, after orb.Point) {
	n := len(r) - 1
	i %= n
	return r[(i+n-1)%n], r[i], r[i+1]
}

// cross says whether two edges cross, or whether their rings cross in a corner
// that lies on both.
//
//	   d            a corner of one ring on an edge (or a corner) of the other:
//	a──┼──b         the rings cross there if the two sides that meet in the
//	   c            corner go to different sides of the other ring.
func cross(rings []orb.Ring, e, f edge) (at orb.Point, how meeting) {
	re, rf := rings[e.ring], rings[f.ring]
	a, b, c, d := re[e.at], re[e.at+1], rf[f.at], rf[f.at+1]
	if e.ring == f.ring {
		n := len(re) - 1
		if (e.at+1)%n == f.at || (f.at+1)%n == e.at {
			return at, apartFrom // neighbours: spikes are gone, so they share just the corner
		}
	}
	// Corners that lie on the other edge, within touch.
	var on [4]orb.Point
	corners := 0
	for _, c := range [2]struct {
		r, other orb.Ring
		k, i     int
	}{{re, rf, e.at, f.at}, {rf, re, f.at, e.at}} {
		for _, k := range [2]int{c.k, c.k + 1} {
			if v := c.r[k]; onEdge(v, c.other[c.i], c.other[c.i+1]) {
				on[corners] = v
				corners++
				if passes(c.r, k, c.other, c.i) {
					return v, through
				}
			}
		}
	}
	for _, v := range on[:corners] {
		if math.Hypot(v[0]-on[0][0], v[1]-on[0][1]) > 2*touch {
			return on[0], along
		}
	}
	if corners == 0 && plane.Orientation(a, b, c)*plane.Orientation(a, b, d) < 0 && plane.Orientation(c, d, a)*plane.Orientation(c, d, b) < 0 {
		return meet(a, b, c, d), through
	}
	return at, apartFrom
}

// passes says whether ring r goes through ring s in r's corner k, which lies on
// s's edge i or on an end of it.
func passes(r orb.Ring, k int, s orb.Ring, i int) bool {
	before, v, after := corner(r, k)
	for _, j := range [2]int{i, i + 1} {
		p, q, n := corner(s, j)
		if math.Abs(q[0]-v[0]) <= touch && math.Abs(q[1]-v[1]) <= touch {
			x, y := turnSide(p, q, n, before), turnSide(p, q, n, after)
			return x*y < 0
		}
	}
	p, q := s[i], s[i+1]
	return clearSide(p, q, before)*clearSide(p, q, after) < 0
}

// turnSide says on which side of the bend p → q → n the point x lies, seen from
// q: 1 left, -1 right, 0 on it (within touch).
func turnSide(p, q, n, x orb.Point) int {
	if onRay(q, p, x) || onRay(q, n, x) {
		return 0
	}
	in, out := plane.Orientation(p, q, x), plane.Orientation(q, n, x)
	switch turn := plane.Orientation(p, q, n); {
	case turn > 0 || turn == 0 && (n[0]-q[0])*(p[0]-q[0])+(n[1]-q[1])*(p[1]-q[1]) > 0:
		if in > 0 && out > 0 {
			return 1
		}
		return -1
	case turn < 0:
		if in < 0 && out < 0 {
			return -1
		}
		return 1
	default:
		return in
	}
}

// onRay says whether x lies on the ray from q through p, or p on the ray from q
// through x: the two run on each other, within touch.
func onRay(q, p, x orb.Point) bool {
	return onEdge(x, q, p) || onEdge(p, q, x)
}

// clearSide is the side of p → q on which x lies, 0 within touch of the line.
func clearSide(p, q, x orb.Point) int {
	l := math.Hypot(q[0]-p[0], q[1]-p[1])
	if det := (q[0]-p[0])*(x[1]-p[1]) - (q[1]-p[1])*(x[0]-p[0]); math.Abs(det) <= touch*l {
		return 0
	}
	return plane.Orientation(p, q, x)
}

// onEdge says whether v lies on the edge p–q, within touch.
func onEdge(v, p, q orb.Point) bool {
	dx, dy := q[0]-p[0], q[1]-p[1]
	l2 := dx*dx + dy*dy
	t := 0.0
	if l2 > 0 {
		t = max(0, min(1, ((v[0]-p[0])*dx+(v[1]-p[1])*dy)/l2))
	}
	return math.Hypot(v[0]-p[0]-t*dx, v[1]-p[1]-t*dy) <= touch
}

// meet is about where two crossing edges meet.
func meet(a, b, c, d orb.Point) orb.Point {
	rx, ry, sx, sy := b[0]-a[0], b[1]-a[1], d[0]-c[0], d[1]-c[1]
	den := rx*sy - ry*sx
	if den == 0 {
		return c
	}
	t := ((c[0]-a[0])*sy - (c[1]-a[1])*sx) / den
	return orb.Point{a[0] + t*rx, a[1] + t*ry}
}

// ringHolds says whether p lies inside the closed ring r (1), outside (-1) or on
// it (0), by counting the edges crossed by a ray to the right.
func ringHolds(p orb.Point, r orb.Ring) int {
	in := -1
	for i := range len(r) - 1 {
		a, b := r[i], r[i+1]
		if a[1] == p[1] && b[1] == p[1] {
			if p[0] >= min(a[0], b[0]) && p[0] <= max(a[0], b[0]) {
				return 0
			}
			continue
		}
		if a[1] > p[1] == (b[1] > p[1]) {
			if p == a || p == b {
				return 0
			}
			continue
		}
		if p[0] < min(a[0], b[0]) {
			in = -in
			continue
		}
		if p[0] > max(a[0], b[0]) {
			continue
		}
		s := plane.Orientation(a, b, p)
		if s == 0 {
			return 0
		}
		if s > 0 == (b[1] > a[1]) {
			in = -in
		}
	}
	return in
}

// onRing says whether p lies on the ring within touch.
func onRing(p orb.Point, r orb.Ring) bool {
	for i := range len(r) - 1 {
		if onEdge(p, r[i], r[i+1]) {
			return true
		}
	}
	return false
}
