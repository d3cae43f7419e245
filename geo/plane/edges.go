package plane

import (
	"iter"
	"math"
	"slices"

	"github.com/tidwall/rtree"
)

// Tree finds things by the boxes around them.
type Tree[T any] struct{ tree rtree.RTreeG[T] }

// Insert adds a thing.
func (t *Tree[T]) Insert(b Box, thing T) {
	t.tree.Insert([2]float64{b.Min.X, b.Min.Y}, [2]float64{b.Max.X, b.Max.Y}, thing)
}

// Remove takes a thing out again that was inserted with that box.
func (t *Tree[T]) Remove(b Box, thing T) {
	t.tree.Delete([2]float64{b.Min.X, b.Min.Y}, [2]float64{b.Max.X, b.Max.Y}, thing)
}

// In gives the things whose boxes meet b, in no order that means anything.
func (t *Tree[T]) In(b Box) iter.Seq[T] {
	return func(yield func(T) bool) {
		t.tree.Search([2]float64{b.Min.X, b.Min.Y}, [2]float64{b.Max.X, b.Max.Y}, func(_, _ [2]float64, thing T) bool { return yield(thing) })
	}
}

// Nearby gives all things with the squared distances of their boxes from p, m², the nearest first.
func (t *Tree[T]) Nearby(p XY) iter.Seq2[T, float64] {
	return func(yield func(T, float64) bool) {
		at := [2]float64{p.X, p.Y}
		t.tree.Nearby(rtree.BoxDist[float64, T](at, at, nil), func(_, _ [2]float64, thing T, far2 float64) bool { return yield(thing, far2) })
	}
}

// Edge is a side of a ring, with the numbers of the sides before and after it in that ring, and of the ring.
type Edge struct {
	Segment
	Last, Next int32
	Ring       int
}

// Edges are the sides of rings, found by place. They are numbered in the order in which their rings came. The zero value has none.
type Edges struct {
	list  []Edge
	rings int
	tree  Tree[[2]int32] // from which edge up to which
}

// edgesPerBox: so many edges that follow each other share a box of the tree. Looking at them one by one takes less time than
// finding a box of its own for each.
const edgesPerBox = 16

// AddPolygons adds the sides of polygons: each ring is turned so that its ground lies on the left.
func (e *Edges) AddPolygons(polys []Polygon) {
	corners := 0
	for _, p := range polys {
		corners += p.Corners()
	}
	e.list = slices.Grow(e.list, corners)
	for _, p := range polys {
		for k, ring := range p {
			e.Add(ring.Turned(k > 0))
		}
	}
}

// Turned is r with its ground on the left: running counter-clockwise, or as a hole clockwise.
func (r Ring) Turned(hole bool) Ring {
	if hole != (r.Area() > 0) {
		return r
	}
	r = slices.Clone(r)
	slices.Reverse(r)
	return r
}

// AppendEdges adds the sides of a ring as it is, without those that have no length, to the sides of rings before it.
func AppendEdges(list []Edge, ring Ring, number int) []Edge {
	first := len(list)
	list = slices.Grow(list, len(ring))
	for _, s := range ring.Sides() {
		if s.A != s.B {
			k := int32(len(list))
			list = append(list, Edge{s, k - 1, k + 1, number})
		}
	}
	if end := len(list); first < end {
		list[first].Last, list[end-1].Next = int32(end-1), int32(first)
	}
	return list
}

// Add adds the sides of a ring as AppendEdges does.
func (e *Edges) Add(ring Ring) {
	first := len(e.list)
	e.list = AppendEdges(e.list, ring, e.rings)
	e.rings++
	end := len(e.list)
	for from := first; from < end; from += edgesPerBox {
		to, box := min(end, from+edgesPerBox), EmptyBox()
		for _, s := range e.list[from:to] {
			box = box.Extend(s.A, s.B)
		}
		e.tree.Insert(box, [2]int32{int32(from), int32(to)})
	}
}

// Len is the number of edges.
func (e *Edges) Len() int { return len(e.list) }

// All are the edges in the order of their numbers; they may not be changed.
func (e *Edges) All() []Edge { return e.list }

// At is the edge of a number.
func (e *Edges) At(k int32) Edge { return e.list[k] }

// Dist2 is the square of the distance of p from the edge of a number, m².
func (e *Edges) Dist2(k int32, p XY) float64 { return e.list[k].Dist2(p) }

// In gives the edges whose boxes meet b, in no order that means anything.
func (e *Edges) In(b Box) iter.Seq[int32] {
	return func(yield func(int32) bool) {
		for run := range e.tree.In(b) {
			for k := run[0]; k < run[1]; k++ {
				if e.list[k].Box().Meets(b) && !yield(k) {
					return
				}
			}
		}
	}
}

// aside: pieces of a straight are rounded to far less, m.
const aside = 1e-9

// Along gives the edges whose boxes a straight meets, and some beside it, some of them twice, roughly from its beginning on. A long
// straight is asked for in pieces: the box around all of it may hold nearly all edges.
func (e *Edges) Along(s Segment) iter.Seq[int32] {
	return func(yield func(int32) bool) {
		pieces, d := 1.0, s.B.Sub(s.A)
		if n := e.tree.tree.Len(); n > 0 {
			from, to := e.tree.tree.Bounds()
			if apart := math.Sqrt((to[0] - from[0]) * (to[1] - from[1]) / float64(n)); apart > 0 { // of boxes spread evenly
				pieces = min(float64(n), math.Ceil(min(math.Abs(d.X), math.Abs(d.Y))/apart))
			}
		}
		at := s.A
		for k := 1.0; k < pieces; k++ {
			to := s.At(k / pieces)
			for edge := range e.In(Segment{at, to}.Box().Grown(aside)) {
				if !yield(edge) {
					return
				}
			}
			at = to
		}
		for edge := range e.In(Segment{at, s.B}.Box().Grown(aside)) {
			if !yield(edge) {
				return
			}
		}
	}
}

// Rims are the sides of polygons of which it is only asked whether they come near: they hold no copy of them. The polygons are not to be changed.
type Rims struct{ tree Tree[[]XY] }

// AddPolygons adds the sides of polygons.
func (r *Rims) AddPolygons(polys []Polygon) {
	for _, p := range polys {
		for _, ring := range p {
			for from := 0; from < len(ring)-1; from += edgesPerBox {
				r.add(ring[from:min(from+edgesPerBox+1, len(ring))])
			}
			if n := len(ring); n > 0 {
				r.add([]XY{ring[n-1], ring[0]})
			}
		}
	}
}

func (r *Rims) add(line []XY) { r.tree.Insert(EmptyBox().Extend(line...), line) }

// Meet says whether the box of a side meets b.
func (r *Rims) Meet(b Box) bool {
	for line := range r.tree.In(b) {
		for k := 1; k < len(line); k++ {
			if (Segment{line[k-1], line[k]}).Box().Meets(b) {
				return true
			}
		}
	}
	return false
}

// Meet says whether the box of an edge meets b.
func (e *Edges) Meet(b Box) bool {
	for range e.In(b) {
		return true
	}
	return false
}

// Cross says whether an edge crosses s, see Segment.Crosses.
func (e *Edges) Cross(s Segment) bool {
	for k := range e.Along(s) {
		if e.list[k].Crosses(s) {
			return true
		}
	}
	return false
}

// Holds says whether p lies inside the rings by the even-odd rule.
func (e *Edges) Holds(p XY) bool { return e.Winding(p)%2 != 0 }

// Winding is how often the rings wind round p, by a ray to the east.
func (e *Edges) Winding(p XY) int {
	n := 0
	for k := range e.In(Box{p, XY{math.Inf(1), p.Y}}) {
		if s := e.list[k]; s.passes(p) {
			if s.B.Y > s.A.Y {
				n++
			} else {
				n--
			}
		}
	}
	return n
}

// Nearest is the edge nearest to p, of several the one of the lowest number, and the square of its distance, m²; −1: there is none.
func (e *Edges) Nearest(p XY) (nearest int32, dist2 float64) {
	nearest, dist2 = -1, math.Inf(1)
	for run, far2 := range e.tree.Nearby(p) {
		if far2 > dist2 {
			break
		}
		for k := run[0]; k < run[1]; k++ {
			if d := e.list[k].Dist2(p); d < dist2 || d == dist2 && k < nearest {
				nearest, dist2 = k, d
			}
		}
	}
	return nearest, dist2
}

// Near says whether an edge lies no farther than so much from p, m.
func (e *Edges) Near(p XY, far float64) bool {
	for run := range e.tree.In((Box{p, p}).Grown(far)) {
		for k := run[0]; k < run[1]; k++ {
			if e.list[k].Dist2(p) <= far*far {
				return true
			}
		}
	}
	return false
}

// Within is how far p lies from the nearest edge, m, where that is no farther than so much; +Inf elsewhere.
func (e *Edges) Within(p XY, far float64) float64 {
	if math.IsInf(far, 1) {
		_, dist2 := e.Nearest(p)
		return math.Sqrt(dist2)
	}
	best, found := far*far, false
	for run := range e.tree.In((Box{p, p}).Grown(far)) {
		for k := run[0]; k < run[1]; k++ {
			if d := e.list[k].Dist2(p); d <= best {
				best, found = d, true
			}
		}
	}
	if !found {
		return math.Inf(1)
	}
	return math.Sqrt(best)
}

// tied: two edges are equally far when their squared distances differ by less than this share, which is rounding.
const tied = 1e-12

// Signed is how far p lies inside the rings, in metres, negative outside, and the edge nearest to it. Of edges that are tied those count that
// hold p, as of two parts that share an edge, and of these the last. Looking begins at the edge `from`, and takes least
// time where that is near p; what comes of it does not hang on it.
func (e *Edges) Signed(p XY, from int32) (inside float64, nearest int32) {
	if len(e.list) == 0 {
		return math.Inf(-1), -1
	}
	best, in, nearest := math.Inf(1), false, from
	look := func(k int32) {
		d := e.list[k].Dist2(p)
		if d > best*(1+tied) {
			return
		}
		if left := e.leftOf(p, k); d < best*(1-tied) || left && !in || left == in && k > nearest {
			best, in, nearest = d, left, k
		}
	}
	look(from) // nothing farther than that
	if e.tree.tree.Len() > boxesAround {
		for run, far2 := range e.tree.Nearby(p) {
			if far2 > best*(1+tied) {
				break
			}
			for k := run[0]; k < run[1]; k++ {
				look(k)
			}
		}
	} else {
		around := (Box{p, p}).Grown(math.Sqrt(best) * (1 + tied))
		e.tree.tree.Search([2]float64{around.Min.X, around.Min.Y}, [2]float64{around.Max.X, around.Max.Y}, func(lo, hi [2]float64, run [2]int32) bool {
			if x, y := max(lo[0]-p.X, p.X-hi[0], 0), max(lo[1]-p.Y, p.Y-hi[1], 0); x*x+y*y <= best*(1+tied) {
				for k := run[0]; k < run[1]; k++ {
					look(k)
				}
			}
			return true
		})
	}
	if in {
		return math.Sqrt(best), nearest
	}
	return -math.Sqrt(best), nearest
}

// boxesAround: where the tree has more boxes than that, very many may lie no farther from a place than the edge where looking begins,
// and it takes less time to go by their distances.
const boxesAround = 4096

// SignedFrom is what Signed gives where the nearest edge is known.
func (e *Edges) SignedFrom(p XY, nearest int32) float64 {
	if d := e.list[nearest].Dist(p); e.leftOf(p, nearest) {
		return d
	} else {
		return -d
	}
}

// leftOf says whether p lies left of edge k, which is nearest to it. At a corner the sum of the normals of its two edges decides
// (J. A. Bærentzen, H. Aanæs, "Signed distance computation using the angle weighted pseudonormal", 2005; in the plane the two
// weights are equal).
func (e *Edges) leftOf(p XY, k int32) bool {
	s := e.list[k]
	a, normal := s.A, s.B.Sub(s.A).Unit().Left()
	var beside Edge
	switch s.Share(p) {
	case 0:
		beside = e.list[s.Last]
	case 1:
		a, beside = s.B, e.list[s.Next]
	default:
		return p.Sub(a).Dot(normal) >= 0
	}
	return p.Sub(a).Dot(normal.Add(beside.B.Sub(beside.A).Unit().Left())) >= 0
}
