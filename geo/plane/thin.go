package plane

import "slices"

// Thinned leaves out points that lie within tolerance of the line without them (Ramer 1972, Douglas & Peucker 1973, from
// memory). Both ends stay. What is still to be looked at stands in a list, not on the stack, so that no line is too long.
func Thinned(line []XY, tolerance float64) []XY {
	if len(line) < 3 {
		return line
	}
	return slices.Compact(Thin(line, tolerance)) // which is not the caller's
}

// mostDepth is how often in a row a line is cut at its farthest point. A comb loses one tooth each time, and would take the square of its
// corners: from there on it is cut in the middle, at which a point more may stay. Our own choice.
const mostDepth = 256

// Thin is Thinned in which both ends stay, also where they are one place.
func Thin(line []XY, tolerance float64) []XY {
	out, _ := thin(line, tolerance)
	return out
}

// thin also says how many points it looked at, again and again. A line of two points is given back as it is, any other as one of its own.
func thin(line []XY, tolerance float64) (out []XY, looked int) {
	if len(line) < 3 {
		return line, 0
	}
	keep := make([]bool, len(line))
	keep[0], keep[len(line)-1] = true, true
	type part struct{ from, to, depth int }
	for todo := []part{{0, len(line) - 1, 0}}; len(todo) > 0; {
		p := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		looked += p.to - p.from
		far, at := tolerance, 0
		for i, chord := p.from+1, (Segment{line[p.from], line[p.to]}); i < p.to; i++ {
			if d := chord.Dist(line[i]); d > far {
				far, at = d, i
			}
		}
		if at > 0 {
			if p.depth >= mostDepth {
				at = (p.from + p.to) / 2
			}
			keep[at] = true
			todo = append(todo, part{p.from, at, p.depth + 1}, part{at, p.to, p.depth + 1})
		}
	}
	for i, p := range line {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out, looked
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
