package plane

import (
	"container/heap"
	"math"

	"github.com/tidwall/rtree"
)

// circlePrecision is how much larger than the circle found the largest circle
// may be, in metres of radius.
const circlePrecision = 1e-3

// bruteEdges is the number of edges up to which looking at all of them is
// faster than a tree.
const bruteEdges = 64

// Inscribed finds the largest circle that lies inside p and holds no part of
// its boundary: its centre and radius in metres. The radius is exact for the
// centre given, and no other centre gives more than 1 mm more. A polygon without
// ground has radius 0.
//
// The plane is covered with square cells along the long axis of p; the cell
// that may hold the best centre is looked at first and quartered, until no cell
// can beat the best by circlePrecision. A cell with centre c and half diagonal
// h can hold at most
//
//	(1) dist(c) + h, since the distance to the boundary is 1-Lipschitz, and
//	(2) the largest value of (dist(x, e) + dist(x, f))/2 over its corners x, for
//	    any two edges e and f, since no circle around x is larger than the mean
//	    of both distances, and that mean is convex in x.
//
// (2) is what makes a strip of even width cheap: between two parallel edges the
// mean does not change, while by (1) alone every millimetre of the centre line
// would have to be looked at.
func Inscribed(p Polygon) (centre XY, radius float64) {
	s := newCircleSearch(p)
	if s == nil {
		return XY{}, 0
	}
	s.run()
	return rotate(s.best, s.angle).Add(s.origin), s.radius
}

type segment struct{ a, b XY }

type circleSearch struct {
	origin XY      // of the frame of the search
	angle  float64 // of its x-axis: the long axis of the polygon
	edges  []segment
	all    []int32              // the numbers of all edges
	tree   *rtree.RTreeG[int32] // nil for few edges

	best   XY
	radius float64
	queue  cellQueue
	made   int // cells so far: breaks ties in the order of making
}

// cell is a square with its centre and half the length of its side.
type cell struct {
	centre XY
	half   float64
	bound  float64
	number int
	near   []int32 // the edges that matter to it
}

func newCircleSearch(p Polygon) *circleSearch {
	s := &circleSearch{}
	// Long axis: the direction of the largest second moment of the boundary.
	var length, xx, xy, yy float64
	for _, r := range p {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			l := a.Dist(b)
			s.origin = s.origin.Add(a.Lerp(b, 0.5).Scale(l))
			length += l
		}
	}
	if !(length > 0) || math.IsInf(length, 0) {
		return nil
	}
	s.origin = s.origin.Scale(1 / length)
	for _, r := range p {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			m, d, l := a.Lerp(b, 0.5).Sub(s.origin), b.Sub(a), a.Dist(b)
			xx += l * (m.X*m.X + d.X*d.X/12)
			xy += l * (m.X*m.Y + d.X*d.Y/12)
			yy += l * (m.Y*m.Y + d.Y*d.Y/12)
		}
	}
	s.angle = math.Atan2(2*xy, xx-yy) / 2
	for _, r := range p {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			e := segment{rotate(a.Sub(s.origin), -s.angle), rotate(b.Sub(s.origin), -s.angle)}
			if d := e.b.Sub(e.a); d.Dot(d) > 0 {
				s.all = append(s.all, int32(len(s.edges)))
				s.edges = append(s.edges, e)
			}
		}
	}
	if len(s.edges) > bruteEdges {
		s.tree = &rtree.RTreeG[int32]{}
		for i, e := range s.edges {
			box := EmptyBox().Extend(e.a, e.b)
			s.tree.Insert([2]float64{box.Min.X, box.Min.Y}, [2]float64{box.Max.X, box.Max.Y}, int32(i))
		}
	}
	return s
}

func (s *circleSearch) run() {
	box := EmptyBox()
	for _, e := range s.edges {
		box = box.Extend(e.a, e.b)
	}
	size := box.Max.Sub(box.Min)
	side := min(size.X, size.Y)
	if !(side > 0) {
		return
	}
	// At most maxStart cells to begin with: quartering finds the rest.
	const maxStart = 256
	side = max(side, size.X/maxStart, size.Y/maxStart)
	for y := box.Min.Y + side/2; y-side/2 < box.Max.Y; y += side {
		for x := box.Min.X + side/2; x-side/2 < box.Max.X; x += side {
			s.look(XY{x, y}, side/2, s.around(XY{x, y}, side*math.Sqrt2/2))
		}
	}
	for len(s.queue) > 0 {
		c := heap.Pop(&s.queue).(cell)
		if c.bound <= s.radius+circlePrecision {
			return // the others are bounded by less
		}
		q := c.half / 2
		for _, d := range [4]XY{{-q, -q}, {q, -q}, {-q, q}, {q, q}} {
			s.look(c.centre.Add(d), q, c.near)
		}
	}
}

// look measures the middle of a cell and keeps the cell if it may hold a
// better centre. Of the edges in near only those are handed down that can be
// nearest to some place of the cell, or face such an edge.
func (s *circleSearch) look(centre XY, half float64, near []int32) {
	diagonal := half * math.Sqrt2
	e, dist := s.nearest(centre, near)
	good := s.radius + circlePrecision
	if dist+diagonal <= good {
		return
	}
	inside := s.inside(centre)
	if !inside && dist >= diagonal {
		return
	}
	if inside && dist > s.radius {
		s.best, s.radius = centre, dist
	}
	f := s.facing(centre, e, near)
	bound := dist + diagonal
	if !inside {
		bound = diagonal - dist
	}
	bound = min(bound, s.cornerBound(centre, half, e, f))
	if bound <= s.radius+circlePrecision {
		return
	}
	if inside && f != e {
		s.middle(centre, e, f, near)
	}
	reach := max(dist, 2*good-dist) + 2*diagonal
	var handed []int32
	for _, i := range near {
		if s.edges[i].dist(centre) <= reach {
			handed = append(handed, i)
		}
	}
	s.made++
	heap.Push(&s.queue, cell{centre, half, bound, s.made, handed})
}

// around lists the edges that can be nearest to some place within reach of x.
func (s *circleSearch) around(x XY, reach float64) []int32 {
	if s.tree == nil {
		return s.all
	}
	var near []int32
	first := math.Inf(1)
	s.tree.Nearby(func(lo, hi [2]float64, i int32, item bool) float64 {
		if item {
			return s.edges[i].dist(x)
		}
		return math.Hypot(max(lo[0]-x.X, 0, x.X-hi[0]), max(lo[1]-x.Y, 0, x.Y-hi[1]))
	}, func(_, _ [2]float64, i int32, d float64) bool {
		first = min(first, d)
		near = append(near, i)
		return d <= first+2*reach
	})
	return near
}

// cornerBound is bound (2) of Inscribed, for the pair e, f and for e alone.
func (s *circleSearch) cornerBound(centre XY, half float64, e, f int32) float64 {
	var alone, mean float64
	for _, d := range [4]XY{{-half, -half}, {half, -half}, {-half, half}, {half, half}} {
		x := centre.Add(d)
		de, df := s.edges[e].dist(x), s.edges[f].dist(x)
		alone, mean = max(alone, de), max(mean, (de+df)/2)
	}
	return min(alone, mean)
}

// middle tries the place half-way between the two edges that pinch x. It only
// finds good centres sooner; no bound rests on it. The edges near x may not be
// all that are near there, so the tree has the last word.
func (s *circleSearch) middle(x XY, e, f int32, near []int32) {
	x = s.edges[e].closest(x).Lerp(s.edges[f].closest(x), 0.5)
	if _, dist := s.nearest(x, near); dist <= s.radius || !s.inside(x) {
		return
	}
	if _, dist := s.nearest(x, s.around(x, 0)); dist > s.radius {
		s.best, s.radius = x, dist
	}
}

// nearest gives the nearest of some edges to x, and its distance.
func (s *circleSearch) nearest(x XY, near []int32) (e int32, dist float64) {
	dist = math.Inf(1)
	for _, i := range near {
		if d := s.edges[i].dist(x); d < dist {
			e, dist = i, d
		}
	}
	return e, dist
}

// facing gives the nearest of some edges that lies on the other side of x, as
// seen from there, than e, and e itself where there is none.
func (s *circleSearch) facing(x XY, e int32, near []int32) int32 {
	to, f, far := s.edges[e].closest(x).Sub(x), e, math.Inf(1)
	for _, i := range near {
		if v := s.edges[i].closest(x).Sub(x); faces(to, v) {
			if d := v.Dot(v); d < far {
				f, far = i, d
			}
		}
	}
	return f
}

// faces says whether two arrows are more than 120° apart.
func faces(a, b XY) bool { return a.Dot(b) < -0.5*a.Len()*b.Len() }

// inside counts the edges that a ray across the long axis meets. Places on the
// boundary may come out either way; their distance is 0 anyway.
func (s *circleSearch) inside(x XY) bool {
	odd := false
	count := func(i int32) {
		a, b := s.edges[i].a, s.edges[i].b
		if (a.X > x.X) != (b.X > x.X) && x.Y < a.Y+(x.X-a.X)*(b.Y-a.Y)/(b.X-a.X) {
			odd = !odd
		}
	}
	if s.tree == nil {
		for i := range s.edges {
			count(int32(i))
		}
		return odd
	}
	s.tree.Search([2]float64{x.X, x.Y}, [2]float64{x.X, math.Inf(1)}, func(_, _ [2]float64, i int32) bool {
		count(i)
		return true
	})
	return odd
}

// closest is the point of the segment nearest to x.
func (g segment) closest(x XY) XY {
	d := g.b.Sub(g.a)
	t := x.Sub(g.a).Dot(d) / d.Dot(d)
	return g.a.Add(d.Scale(min(1, max(0, t))))
}

func (g segment) dist(x XY) float64 {
	v := x.Sub(g.closest(x))
	return math.Sqrt(v.Dot(v))
}

// cellQueue is a heap: greatest bound first, then the first made.
type cellQueue []cell

func (q cellQueue) Len() int { return len(q) }
func (q cellQueue) Less(i, j int) bool {
	if q[i].bound != q[j].bound {
		return q[i].bound > q[j].bound
	}
	return q[i].number < q[j].number
}
func (q cellQueue) Swap(i, j int) { q[i], q[j] = q[j], q[i] }
func (q *cellQueue) Push(x any)   { *q = append(*q, x.(cell)) }
func (q *cellQueue) Pop() any {
	old := *q
	c := old[len(old)-1]
	*q = old[:len(old)-1]
	return c
}
