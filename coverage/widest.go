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
	// manyVertices: beyond it cutting at every vertex costs more than
	// plane.Inscribed.
	manyVertices = 1000
)

// widest is the largest circle inside p, or sure = true and radius 0 when its
// diameter is certainly below limit.
//
// Thin straight strips come by the hundred thousand, so they get a short way.
// No circle in p is wider than the longest cut through p square to its long axis
// (its own diameter is such a cut), and the longest cut lies at a vertex, since
// the length of a cut changes linearly between vertices. If the circle around
// the middle of the longest cut is nearly as wide as the cut, it is the one.
func widest(p plane.Polygon, limit float64) (centre plane.XY, radius float64, below bool) {
	n := 0
	for _, r := range p {
		n += len(r)
	}
	if a := p.Area(); 2*math.Sqrt(max(a, 0)/math.Pi) < limit {
		return plane.XY{}, 0, true
	}
	if n <= manyVertices {
		long, middle := longestCut(p)
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

// longestCut is the longest stretch inside p square to its long axis, and the
// middle of that stretch.
func longestCut(p plane.Polygon) (long float64, middle plane.XY) {
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
	var cuts []float64
	var at plane.XY
	for _, r := range turned {
		for _, v := range r {
			for _, above := range [2]bool{true, false} { // just above the vertex, just below
				cuts = cutsBeside(cuts[:0], turned, v.Y, above)
				for i := 0; i+1 < len(cuts); i += 2 {
					if w := cuts[i+1] - cuts[i]; w > long {
						long, at = w, plane.XY{X: (cuts[i] + cuts[i+1]) / 2, Y: v.Y}
					}
				}
			}
		}
	}
	return long, o.Add(axis.Scale(at.Y)).Add(axis.Left().Scale(at.X))
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
		a := r[len(r)-1]
		for _, b := range r {
			e, v := b.Sub(a), q.Sub(a)
			t := 0.0
			if l := e.Dot(e); l > 0 {
				t = min(max(e.Dot(v)/l, 0), 1)
			}
			d := v.Sub(e.Scale(t))
			least = min(least, d.Dot(d))
			a = b
		}
	}
	return math.Sqrt(least)
}
