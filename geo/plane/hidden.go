package plane

import (
	"cmp"
	"math"
	"slices"
)

// Round each corner that a ring turns right at, as every obstacle does, its line pulled in runs along an arc. Where obstacles
// stand closer together than two depths, most of these arcs lie in the strips of their neighbours, and all cross each other. What is
// hidden so may as well be cut short:
//
//	    ,─╴p╶─.          the arc round s runs from p to q within a circle round v, another corner of the same polygon, so the
//	  ,'   ╲ ,─┼─.       chord p q does. The piece between arc and chord, R, lies in that circle and, as |p − v| < depth ≤ |p − s|,
//	 (  s   ╲  v  )      nearer to v than to s.
//	  `.    ╱╲`─┼─'
//	    `─╴q╶─'
//
// Let x be a place of the polygon that lies in some of these pieces, and n the place of the polygon's rings nearest to it, no
// farther than v and so than the depth. Is n on an edge, x lies in the rectangle there, of which nothing was cut. Is n a corner, x lies in the
// wedge there, and in none of its pieces, as all of those are nearer to another corner. Either way a strip still covers x: the inset
// is the same. From a place x of another polygon, which does not lap with this one, the straight way to the inner side of a ring of
// this one crosses a ring of its own: a strip along that one covers x. ∎ (Where polygons lap, each boundary counts on its own inner side.)

const (
	// hideFrom: fewer points of arcs than this take no time.
	hideFrom = 1 << 12
	// hiddenBy is how far inside a neighbour's circle an arc has to lie, m: twice as far as what comes under repair, so that a
	// chord is near to no place where the inset has its edge.
	hiddenBy = 2 * near
	// mostNeighbours of a corner are asked whether they hide its arc. The nearest hide most of it.
	mostNeighbours = 24
	// leastReach: they are looked for in boxes of depth/leastReach round the corner at least.
	leastReach = 1024
)

// hiding are the corners of a polygon's rings, found by place, by which arcs round each other are hidden.
type hiding struct {
	sites *places
	depth float64
	reach float64 // m, about how far the neighbours that are asked lie away
	found []neighbour
}

// neighbour is a site, and how far it lies from another one, m².
type neighbour struct {
	at   XY
	far2 float64
}

// near gives the sites nearest to s, the nearest first, no more than mostNeighbours and none from 2·depth on. It looks at ever larger boxes, which
// takes less than to sort all sites out by distance on the way, where many lie close together.
func (h *hiding) near(s XY) []neighbour {
	most := 2 * h.depth
	for reach := max(h.reach, h.depth/leastReach); ; reach = min(2*reach, most) {
		h.found = h.found[:0]
		h.sites.in((Box{s, s}).Grown(reach), func(n int32) {
			v := h.sites.at[n]
			if far2 := square(v.X-s.X) + square(v.Y-s.Y); far2 < reach*reach {
				h.found = append(h.found, neighbour{v, far2})
			}
		})
		if n := len(h.found); n < mostNeighbours && reach < most {
			continue
		} else if h.reach = reach; n > 2*mostNeighbours {
			h.reach /= 2
		}
		slices.SortFunc(h.found, func(a, b neighbour) int {
			if a.far2 != b.far2 {
				return cmp.Compare(a.far2, b.far2)
			}
			return compareXY(a.at, b.at)
		})
		return h.found[:min(len(h.found), mostNeighbours)]
	}
}

// newHiding is nil where arcs stay as they are: where they have few points.
func newHiding(rings [][]bend, depth float64) *hiding {
	points := 0
	for _, bends := range rings {
		for _, b := range bends {
			if c := cornerOf(b, depth); c.outer {
				points += c.steps
			}
		}
	}
	if points < hideFrom {
		return nil
	}
	var sites []XY
	for _, bends := range rings {
		for _, b := range bends {
			sites = append(sites, b.at)
		}
	}
	return &hiding{sites: newPlaces(sites), depth: depth, reach: depth}
}

// cutShort takes what is hidden out of the arc round s, in place. Its first and last point stay.
func (h *hiding) cutShort(arc []XY, s XY) []XY {
	if len(arc) < 3 {
		return arc
	}
	reach := make([]int, len(arc)) // up to which point the arc is hidden by one neighbour, from this point on
	open := len(arc)               // points that nothing hides
	within := square(h.depth - hiddenBy)
	first := arc[0].Sub(s)
	step := first.AngleTo(arc[1].Sub(s))
	for _, n := range h.near(s) {
		if open == 0 {
			break
		}
		v := n.at
		if v == s {
			continue
		}
		hides := func(k int) bool { return k >= 0 && k < len(arc) && square(arc[k].X-v.X)+square(arc[k].Y-v.Y) <= within }
		middle := nearestOn(len(arc), step, first.AngleTo(v.Sub(s)))
		if !hides(middle) {
			continue
		}
		from, to := farthest(middle, -1, hides), farthest(middle, 1, hides)
		for k := from; k <= to; k++ {
			if reach[k] == 0 {
				open--
			}
			reach[k] = max(reach[k], to)
		}
	}
	out := arc[:1]
	for k := 0; k < len(arc)-1; {
		k = max(k+1, reach[k])
		out = append(out, arc[k])
	}
	return out
}

func square(x float64) float64 { return x * x }

// nearestOn is the number of the point nearest to a place of an arc that is half a circle at most, of so many points with even steps; the place
// lies at this angle from the first.
func nearestOn(points int, step, angle float64) int {
	k := math.Round(angle / step)
	last := float64(points - 1)
	if round := 2 * math.Pi / math.Abs(step); k < (last-round)/2 { // behind: past the end is nearer than before the beginning
		k += round
	} else if k > (last+round)/2 {
		k -= round
	}
	return int(min(max(k, 0), last))
}

// farthest is the last number from one on, in steps, for which yes holds without a break, by doubling and halving: yes holds on one stretch of numbers.
func farthest(from, step int, yes func(int) bool) int {
	far := 1
	for yes(from + step*far) {
		far *= 2
	}
	near := far / 2
	for far-near > 1 {
		if mid := (near + far) / 2; yes(from + step*mid) {
			near = mid
		} else {
			far = mid
		}
	}
	return from + step*near
}
