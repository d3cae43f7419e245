package plane

import (
	"cmp"
	"math"
	"slices"
)

// Hull is the convex hull of points, counter-clockwise, without points on its edges:
// the monotone chain (Andrew 1979, from memory).
func Hull(points []XY) Ring {
	pts := slices.Clone(points)
	slices.SortFunc(pts, func(a, b XY) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y)) })
	var hull Ring
	for range 2 {
		from := len(hull)
		for _, p := range pts {
			for len(hull) >= from+2 && hull[len(hull)-1].Sub(hull[len(hull)-2]).Cross(p.Sub(hull[len(hull)-1])) <= 0 {
				hull = hull[:len(hull)-1]
			}
			hull = append(hull, p)
		}
		if len(hull) > 0 {
			hull = hull[:len(hull)-1]
		}
		slices.Reverse(pts)
	}
	return hull
}

// Thinnest is the direction in which points are least broad: that of a side of their hull, as long as it (Freeman & Shapira 1975,
// from memory). Of sides across which they are equally broad the first one in Hull's order counts. Points without a hull are
// thinnest along x.
func Thinnest(points []XY) XY {
	hull := Hull(points)
	least, along := math.Inf(1), XY{1, 0}
	for _, side := range hull.Sides() {
		d := side.B.Sub(side.A)
		if d == (XY{}) {
			continue
		}
		u, broad := d.Unit(), 0.0
		for _, q := range hull {
			broad = max(broad, u.Cross(q.Sub(side.A)))
		}
		if broad < least-alike {
			least, along = broad, d
		}
	}
	return along
}
