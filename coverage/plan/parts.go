package plan

import (
	"math"

	"balk/geo/plane"
)

// mostBegun: of a field of so many parts each is looked at as the first.
const mostBegun = 50

// partsFrom is the order in which the parts of a field are worked: from that at the gate, or without one from that from which it is the shortest, always the nearest
// one next. Parts are as far apart as the boxes about them.
func partsFrom(field []plane.Polygon, gate *plane.XY) []int {
	boxes := make([]plane.Box, len(field))
	for i, p := range field {
		boxes[i] = p[0].Bounds()
	}
	from := func(first int) (tour []int, long float64) {
		done := make([]bool, len(field))
		for at := first; ; {
			tour, done[at] = append(tour, at), true
			next, near := -1, math.Inf(1)
			for i, b := range boxes {
				if d := boxGap(boxes[at], b); !done[i] && d < near {
					next, near = i, d
				}
			}
			if next < 0 {
				return tour, long
			}
			at, long = next, long+near
		}
	}
	if gate != nil {
		tour, _ := from(partAt(field, *gate))
		return tour
	}
	best, least := from(0)
	for i := 1; i < min(len(field), mostBegun); i++ {
		if tour, long := from(i); long < least-hair {
			best, least = tour, long
		}
	}
	return best
}

// partAt is the part of a field in which a place lies, or which is nearest to it.
func partAt(field []plane.Polygon, p plane.XY) (part int) {
	near := math.Inf(1)
	for i := range field {
		if d := plane.Nearest(field[i:i+1], p).Dist(p); d < near {
			part, near = i, d
		}
	}
	return part
}

// boxGap is how far apart two boxes are, m; 0 where they meet.
func boxGap(a, b plane.Box) float64 {
	x := max(0, a.Min.X-b.Max.X, b.Min.X-a.Max.X)
	y := max(0, a.Min.Y-b.Max.Y, b.Min.Y-a.Max.Y)
	return math.Hypot(x, y)
}
