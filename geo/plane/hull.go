package plane

import (
	"cmp"
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
