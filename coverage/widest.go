package coverage

import (
	"math"
	"slices"

	"balk/geo/plane"
)

const (
	// widestPrecision is how much larger the largest inscribed circle may be than
	// the one found, in metres of radius; plane.Inscribed promises the same.
	widestPrecision = 1e-3
	// mostCuts: a piece whose cuts have more places than so many per corner is a comb, such as rows that all are a little too far
	// apart and hang together at one end. Cutting all its teeth at each corner takes longer than looking for the circle.
	mostCuts = 32
)

// widest is the largest circle inside p, to widestPrecision; below says that its
// diameter, as found, is below limit, and its radius then may be 0.
//
// Thin straight strips come by the hundred thousand, so they get a short way.
// No circle in p is wider than the longest cut through p square to its long axis
// (its own diameter is such a cut), and the longest cut lies at a vertex, since
// the length of a cut changes linearly between vertices. If the circle around
// the middle of the longest cut is nearly as wide as the cut, it is the one.
func widest(p plane.Polygon, limit float64) (centre plane.XY, radius float64, below bool) {
	if a := p.Area(); 2*math.Sqrt(max(a, 0)/math.Pi) < limit {
		return plane.XY{}, 0, true
	}
	if long, middle, comb := longestCut(p); !comb {
		if long < limit {
			return plane.XY{}, 0, true
		}
		if r := clearance(p, middle); r >= long/2-widestPrecision {
			return middle, r, 2*r < limit
		}
	}
	centre, radius = plane.Inscribed(p)
	return centre, radius, 2*radius < limit
}

// broad says whether a circle of this diameter goes into p, and where one lies, as widest would, but does not look for the widest place where there is room
// enough.
func broad(p plane.Polygon, diameter float64) (centre plane.XY, ok bool) {
	if centre, ok := plainlyBroad(p, diameter); ok {
		return centre, true
	}
	centre, _, below := widest(p, diameter)
	return centre, !below
}

// plainlyBroad is broad of ground whose area is more than its rim times the diameter: nearly any place in it will do. Other ground, such as the
// strips that come by the hundred thousand, is not looked at.
func plainlyBroad(p plane.Polygon, diameter float64) (centre plane.XY, ok bool) {
	if p.Area() <= p.Perimeter()*diameter {
		return plane.XY{}, false
	}
	centre, r := plane.InscribedUpTo(p, diameter/2)
	return centre, 2*r >= diameter
}

// longestCut is the longest stretch inside p square to its long axis, and the
// middle of that stretch; it is not looked for in a comb.
func longestCut(p plane.Polygon) (long float64, middle plane.XY, comb bool) {
	axis := longAxis(p)
	o := p[0][0]
	turned := make(plane.Polygon, len(p)) // y along the axis, x across
	for k, r := range p {
		turned[k] = make(plane.Ring, len(r))
		for i, v := range r {
			v = v.Sub(o)
			turned[k][i] = plane.XY{X: axis.Cross(v), Y: axis.Dot(v)}
		}
	}
	corners, places := p.Corners(), 0
	var at plane.XY
	sweep(turned, func(y float64, cuts []float64) bool {
		for i := 0; i+1 < len(cuts); i += 2 {
			if w := cuts[i+1] - cuts[i]; w > long {
				long, at = w, plane.XY{X: (cuts[i] + cuts[i+1]) / 2, Y: y}
			}
		}
		places += len(cuts)
		comb = places > mostCuts*corners
		return !comb
	})
	return long, o.Add(axis.Scale(at.Y)).Add(axis.Left().Scale(at.X)), comb
}

// sweep cuts p just below and just above the height of every vertex, upwards.
// visit gets the places of the cut, ascending; it may not keep them, and says whether to go on.
func sweep(p plane.Polygon, visit func(y float64, cuts []float64) bool) {
	type edge struct{ a, b plane.XY } // a is the lower end
	list := byHeight(p)
	var live []edge
	var cuts []float64
	for len(list) > 0 {
		y := list[0].y
		cut := func(e edge) float64 { return e.a.X + (e.b.X-e.a.X)*(y-e.a.Y)/(e.b.Y-e.a.Y) }
		cuts = cuts[:0]
		for _, e := range live { // they begin below y
			cuts = append(cuts, cut(e))
		}
		slices.Sort(cuts)
		if !visit(y, cuts) {
			return
		}
		live = slices.DeleteFunc(live, func(e edge) bool { return e.b.Y <= y })
		for ; len(list) > 0 && list[0].y == y; list = list[1:] {
			r, k := p[list[0].ring], int(list[0].at)
			for _, b := range [2]plane.XY{r[(k+len(r)-1)%len(r)], r[(k+1)%len(r)]} {
				if b.Y > y {
					live = append(live, edge{r[k], b})
				}
			}
		}
		cuts = cuts[:0]
		for _, e := range live {
			cuts = append(cuts, cut(e))
		}
		slices.Sort(cuts)
		if !visit(y, cuts) {
			return
		}
	}
}

// corner is one of a polygon, with its height.
type corner struct {
	y        float64
	ring, at int32
}

// byHeight are the corners of p upwards. The rings of a strip run up one side and down the other, so what rises and falls already is merged.
func byHeight(p plane.Polygon) []corner {
	n := p.Corners()
	list := make([]corner, 0, n)
	for ring, r := range p {
		for k, v := range r {
			list = append(list, corner{v.Y, int32(ring), int32(k)})
		}
	}
	ends := []int{0} // of stretches that rise
	for from := 0; from < n; {
		to := from + 1
		if to < n && list[to].y < list[from].y {
			for to < n && list[to].y < list[to-1].y {
				to++
			}
			slices.Reverse(list[from:to])
		} else {
			for to < n && list[to].y >= list[to-1].y {
				to++
			}
		}
		ends, from = append(ends, to), to
	}
	for other := make([]corner, n); len(ends) > 2; list, other = other, list {
		fewer := ends[:1]
		for k := 0; k+1 < len(ends); k += 2 {
			from, middle, to := ends[k], ends[k+1], ends[min(k+2, len(ends)-1)]
			merge(other[from:to], list[from:middle], list[middle:to])
			fewer = append(fewer, to)
		}
		ends = fewer
	}
	return list
}

// merge puts two lists that rise into one.
func merge(into, a, b []corner) {
	for k := range into {
		if len(b) == 0 || len(a) > 0 && a[0].y <= b[0].y {
			into[k], a = a[0], a[1:]
		} else {
			into[k], b = b[0], b[1:]
		}
	}
}

// cutsBeside is where the rings of p cross a line just above or just below the
// height y, ascending.
func cutsBeside(cuts []float64, p plane.Polygon, y float64, above bool) []float64 {
	for _, r := range p {
		a := r[len(r)-1]
		for _, b := range r {
			if above && (a.Y <= y) != (b.Y <= y) || !above && (a.Y < y) != (b.Y < y) {
				cuts = append(cuts, a.X+(b.X-a.X)*(y-a.Y)/(b.Y-a.Y))
			}
			a = b
		}
	}
	slices.Sort(cuts)
	return cuts
}

// clearance is the distance from a point inside p to its boundary.
func clearance(p plane.Polygon, q plane.XY) float64 {
	least := math.Inf(1)
	for _, r := range p {
		for _, side := range r.Sides() {
			least = min(least, side.Dist2(q))
		}
	}
	return math.Sqrt(least)
}
