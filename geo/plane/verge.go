package plane

import (
	"fmt"
	"slices"
)

// edgesAtOnce: so many edges that follow each other are asked for together before each of them is.
const edgesAtOnce = 64

// Verges are outlines round the ground of polys that is nearer than depth metres to its boundary, each boundary on its own inner side: what an
// inset takes off. They are of the stretches of the boundary that come near to what is looked for: meets tells whether any of it
// lies in a box. A place that is looked for has a count above 0 in the lane exactly where Inset leaves it out, but for rounding; other
// places may have none.
func Verges(polys []Polygon, depth float64, lane int, meets func(Box) bool) ([]Outline, error) {
	if !(depth >= 0) || depth > Limit {
		return nil, fmt.Errorf("verge of %g m: must be from 0 to %d m", depth, int64(Limit))
	}
	if depth == 0 {
		return nil, nil
	}
	var out []Outline
	for _, p := range polys {
		var lines []reach
		var bends [][]bend
		for _, o := range appendPolygon(nil, p, lane) {
			for _, one := range reaches(o.Line, func(b Box) bool { return meets(b.Grown(depth + chordError)) }) {
				lines, bends = append(lines, one), append(bends, bendsOf(one.line, one.open, depth))
			}
		}
		hide := newHiding(bends, depth)
		for k, one := range lines {
			out = append(out, one.verge(bends[k], depth, lane, hide)...)
		}
	}
	return out, nil
}

// reach is a piece of a ring, or all of it.
type reach struct {
	line []XY
	open bool
}

// reaches are the longest pieces of a ring whose edges have boxes that near takes.
func reaches(ring []XY, near func(Box) bool) []reach {
	n := len(ring)
	taken := make([]bool, n) // of the edge that begins at a corner
	lacks := -1
	for from := 0; from < n; from += edgesAtOnce {
		end := min(from+edgesAtOnce, n)
		some := near(EmptyBox().Extend(ring[from:end]...).Extend(ring[end%n]))
		for i := from; i < end; i++ {
			if taken[i] = some && near(EmptyBox().Extend(ring[i], ring[(i+1)%n])); !taken[i] {
				lacks = i
			}
		}
	}
	if lacks < 0 {
		return []reach{{line: ring}}
	}
	var out []reach
	for i := lacks + 1; i < lacks+n; i++ { // round, so that no piece is parted where the ring begins
		if !taken[i%n] {
			continue
		}
		line := []XY{ring[i%n]}
		for ; taken[i%n]; i++ {
			line = append(line, ring[(i+1)%n])
		}
		out = append(out, reach{line, true})
	}
	return out
}

// verge is the ground between the line and the same pulled in: by the sums of pulledIn its winding number is how many rectangles and wedges of these
// edges cover a place, less kites that lie in more rectangles than kites.
func (r reach) verge(bends []bend, depth float64, lane int, hide *hiding) []Outline {
	if !r.open {
		back := pulledAlong(bends, depth, hide)
		return []Outline{{Line: r.line, Lane: lane}, {Line: reversed(back), Lane: lane}}
	}
	n := len(bends)
	first, last := bends[0], bends[n-1]
	back := []XY{first.at.Add(first.on.Left().Scale(depth))}
	back = append(back, pulledAlong(bends[1:n-1], depth, hide)...)
	back = append(back, last.at.Add(last.in.Left().Scale(depth)))
	return []Outline{{Line: append(r.line, reversed(back)...), Lane: lane}}
}

// reversed turns a line round, in place.
func reversed(line []XY) []XY {
	slices.Reverse(line)
	return line
}
