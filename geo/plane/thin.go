package plane

import "slices"

// Thinned leaves out points that lie within tolerance of the line without them (Ramer 1972, Douglas & Peucker 1973, from
// memory). Both ends stay. What is still to be looked at stands in a list, not on the stack, so that no line is too long.
func Thinned(line []XY, tolerance float64) []XY {
	if len(line) < 3 {
		return line
	}
	keep := make([]bool, len(line))
	keep[0], keep[len(line)-1] = true, true
	for todo := [][2]int{{0, len(line) - 1}}; len(todo) > 0; {
		from, to := todo[len(todo)-1][0], todo[len(todo)-1][1]
		todo = todo[:len(todo)-1]
		far, at := tolerance, 0
		for i, chord := from+1, (Segment{line[from], line[to]}); i < to; i++ {
			if d := chord.Dist(line[i]); d > far {
				far, at = d, i
			}
		}
		if at > 0 {
			keep[at] = true
			todo = append(todo, [2]int{from, at}, [2]int{at, to})
		}
	}
	var out []XY
	for i, p := range line {
		if keep[i] {
			out = append(out, p)
		}
	}
	return slices.Compact(out)
}

// alike: points of a shape whose distances differ by less, m, are equally far, whatever rounding makes of them.
const alike = 1e-3

// Farthest is the number of the point of r farthest from p, the first of those equally far.
func (r Ring) Farthest(p XY) int {
	far := 0
	for i, q := range r {
		if q.Dist(p) > r[far].Dist(p)+alike {
			far = i
		}
	}
	return far
}

// Thinned is r without points that lie within tolerance of the line without them. The first point and the one farthest from it stay.
func (r Ring) Thinned(tolerance float64) Ring {
	if len(r) == 0 {
		return r
	}
	far := r.Farthest(r[0])
	if far == 0 {
		return r
	}
	one := Thinned(r[:far+1], tolerance)
	two := Thinned(append(slices.Clone(r[far:]), r[0]), tolerance)
	return append(slices.Clone(one), two[1:len(two)-1]...)
}
