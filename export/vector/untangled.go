package vector

import (
	"math"
	"slices"
)

// mostUntangled is how often rings are cut where they meet. A cut bends both sides by half a unit at the most, which may make
// them meet another: nearly all end after two or three rounds (tried), sides that run within a unit of each other
// for some units after so many.
const mostUntangled = 100

// untangled is the polygons that rings fall into which rounding has made touch or cross themselves or each other. It satisfies
//
//  1. no ring of a polygon crosses or touches itself, outer rings run counter-clockwise and holes clockwise;
//  2. a hole touches its outer ring in single places at the most;
//  3. the ground is that of the rings, but for what lies within a unit of them: each place is in as many polygons as the
//     rings wind round it.
//
// The rings get a corner wherever one side meets another (rounded to a place); sides that are driven both ways fall out; what
// is left is walked, always first to the left, and falls apart wherever it comes to a place for the second time. ok is false
// where that does not end, or nothing is left.
func (s *rounding) untangled(rings [][]place) (polygons [][][]place, ok bool) {
	for range mostUntangled {
		cuts, crossed := map[[2]int32][]place{}, false
		s.eachPair(rings, func(e, o *edge) bool {
			crossed = e.cutBy(o, cuts) || crossed
			return true
		})
		if !crossed {
			return nested(cycles(rings))
		}
		rings = withCorners(rings, cuts)
	}
	return nil, false
}

// cutBy notes where two sides are to be cut: at an end of one that lies inside the other, and where they cross.
func (e *edge) cutBy(o *edge, cuts map[[2]int32][]place) bool {
	any := false
	cut := func(e *edge, p place) {
		if p != e.a && p != e.b {
			cuts[[2]int32{e.ring, e.i}] = append(cuts[[2]int32{e.ring, e.i}], p)
			any = true
		}
	}
	for _, p := range [2]place{o.a, o.b} {
		if e.holds(p) {
			cut(e, p)
		}
	}
	for _, p := range [2]place{e.a, e.b} {
		if o.holds(p) {
			cut(o, p)
		}
	}
	if any || side(e.a, e.b, o.a)*side(e.a, e.b, o.b) >= 0 || side(o.a, o.b, e.a)*side(o.a, o.b, e.b) >= 0 {
		return any
	}
	dx, dy := float64(e.b.lon-e.a.lon), float64(e.b.lat-e.a.lat)
	fx, fy := float64(o.b.lon-o.a.lon), float64(o.b.lat-o.a.lat)
	t := (float64(o.a.lon-e.a.lon)*fy - float64(o.a.lat-e.a.lat)*fx) / (dx*fy - dy*fx)
	p := place{e.a.lon + int64(math.Round(t*dx)), e.a.lat + int64(math.Round(t*dy))}
	cut(e, p)
	cut(o, p)
	return any
}

// holds says whether a place lies on a side, its ends included.
func (e *edge) holds(p place) bool {
	return p.lon >= min(e.a.lon, e.b.lon) && p.lon <= max(e.a.lon, e.b.lon) && p.lat >= min(e.a.lat, e.b.lat) && p.lat <= max(e.a.lat, e.b.lat) && side(e.a, e.b, p) == 0
}

// withCorners are rings with the places at which their sides are cut.
func withCorners(rings [][]place, cuts map[[2]int32][]place) [][]place {
	out := make([][]place, len(rings))
	for k, r := range rings {
		for i, a := range r {
			out[k] = append(out[k], a)
			more := cuts[[2]int32{int32(k), int32(i)}]
			far := func(p place) float64 { return math.Hypot(float64(p.lon-a.lon), float64(p.lat-a.lat)) }
			slices.SortFunc(more, func(p, q place) int {
				switch d := far(p) - far(q); {
				case d < 0:
					return -1
				case d > 0:
					return 1
				}
				return 0
			})
			out[k] = append(out[k], more...)
		}
		out[k] = slices.Compact(out[k])
	}
	return out
}

// cycles are the rings that the sides of rings make which meet at corners only, none with a place twice.
func cycles(rings [][]place) [][]place {
	type step struct{ from, to place }
	left := map[step]int{}
	var order []step // so that the same rings give the same cycles
	for _, r := range rings {
		for i, a := range r {
			b := r[(i+1)%len(r)]
			if a == b {
				continue
			}
			if back := (step{b, a}); left[back] > 0 {
				left[back]--
				continue
			}
			left[step{a, b}]++
			order = append(order, step{a, b})
		}
	}
	out := map[place][]place{}
	for _, e := range order {
		if left[e] > 0 {
			left[e]--
			out[e.from] = append(out[e.from], e.to)
		}
	}
	var found [][]place
	for _, e := range order {
		for len(out[e.from]) > 0 {
			path, at := []place{e.from}, map[place]int{e.from: 0}
			before := e.from // of the place under way; itself: none
			for len(path) > 1 || len(out[path[0]]) > 0 {
				here := path[len(path)-1]
				ways := out[here]
				k := leftmost(before, here, ways)
				next := ways[k]
				out[here] = slices.Delete(ways, k, k+1)
				before = here
				i, been := at[next]
				if !been {
					at[next] = len(path)
					path = append(path, next)
					continue
				}
				found = append(found, slices.Clone(path[i:]))
				for _, p := range path[i+1:] {
					delete(at, p)
				}
				path = path[:i+1]
			}
		}
	}
	return found
}

// leftmost is the one of the ways from here, come to from before, that turns most to the left: the first clockwise from
// the way back.
func leftmost(before, here place, ways []place) int {
	best := 0
	for k := 1; k < len(ways) && before != here; k++ {
		if a, b := sector(here, before, ways[k]), sector(here, before, ways[best]); a < b || a == b && side(here, ways[k], ways[best]) < 0 {
			best = k
		}
	}
	return best
}

// sector says where a way lies clockwise from another: 0 within half a turn, 1 just that, 2 beyond it, 3 on it.
func sector(here, from, to place) int {
	switch side(here, from, to) {
	case -1:
		return 0
	case 1:
		return 2
	}
	if ahead := (float64(from.lon-here.lon)*float64(to.lon-here.lon) + float64(from.lat-here.lat)*float64(to.lat-here.lat)); ahead < 0 {
		return 1
	}
	return 3
}

// nested puts rings that do not cross into polygons: each hole with the outer ring round it.
func nested(rings [][]place) (polygons [][][]place, ok bool) {
	var holes [][]place
	for _, r := range rings {
		switch a := twiceArea(r); {
		case a > 0:
			polygons = append(polygons, [][]place{r})
		case a < 0:
			holes = append(holes, r)
		}
	}
	for _, h := range holes {
		k := slices.IndexFunc(polygons, func(p [][]place) bool { return within(h, p[0]) })
		if k >= 0 { // else rounding has turned over a sliver outside: no ground
			polygons[k] = append(polygons[k], h)
		}
	}
	return polygons, len(polygons) > 0
}

// within says whether a ring lies in another, by its first corner that is not on it.
func within(hole, ring []place) bool {
	for _, p := range hole {
		in, on := false, false
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			if e := (edge{a: a, b: b}); e.holds(p) {
				on = true
				break
			}
			if (a.lat > p.lat) != (b.lat > p.lat) && (side(a, b, p) > 0) == (b.lat > a.lat) {
				in = !in
			}
		}
		if !on {
			return in
		}
	}
	return false
}

// netArea is the doubled area of a polygon, in squares of the last decimal.
func netArea(rings [][]place) float64 {
	var a float64
	for _, r := range rings {
		a += twiceArea(r)
	}
	return a
}
