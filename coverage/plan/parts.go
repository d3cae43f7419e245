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
	// from begins with a part; where the way comes to most, it goes no further.
	from := func(first int, most float64) (tour []int, long float64) {
		done := make([]bool, len(field))
		for at := first; long < most; {
			tour, done[at] = append(tour, at), true
			next, near := -1, math.Inf(1)
			for i, b := range boxes {
				if done[i] {
					continue
				}
				if d := boxGap(boxes[at], b, near); d < near {
					next, near = i, d
				}
			}
			if next < 0 {
				break
			}
			at, long = next, long+near
		}
		return tour, long
	}
	if gate != nil {
		tour, _ := from(partAt(field, *gate), math.Inf(1))
		return tour
	}
	best, least := from(0, math.Inf(1))
	for i := 1; i < min(len(field), mostBegun); i++ {
		if tour, long := from(i, least-hair); long < least-hair {
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

// boxGap is how far apart two boxes are, m; 0 where they meet. From most on what comes out may be less than that, but never less than most.
func boxGap(a, b plane.Box, most float64) float64 {
	x := max(0, a.Min.X-b.Max.X, b.Min.X-a.Max.X)
	y := max(0, a.Min.Y-b.Max.Y, b.Min.Y-a.Max.Y)
	if side := max(x, y); side >= most {
		return side
	}
	return math.Hypot(x, y)
}
