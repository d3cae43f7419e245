package paper

import (
	"math"

	"github.com/go-text/typesetting/font/opentype"
	"github.com/paulmach/orb"
)

// inkOf is the ground of lines half on each side, as rings that all run the same way round: a box for each
// step, and a bevel or, if round, a disc at each corner, round at the ends too. Boxes need no cutting where lines bend
// sharply: what they cover together is what a picture fills.
func inkOf(lines []orb.LineString, half float64, round bool) (ink []orb.LineString) {
	piece := func(pts ...orb.Point) { ink = append(ink, pts) }
	off := func(p, by orb.Point, times float64) orb.Point {
		return orb.Point{p[0] + times*by[0], p[1] + times*by[1]}
	}
	corner := func(at, before, behind orb.Point) { // of steps whose left sides are so far off
		switch turn := before[0]*behind[1] - before[1]*behind[0]; {
		case turn > 0:
			piece(at, off(at, before, -1), off(at, behind, -1))
		case turn < 0:
			piece(at, off(at, behind, 1), off(at, before, 1))
		}
	}
	for _, line := range lines {
		var first, last orb.Point // left sides of the first and last step
		drawn := false
		for i, b := range line {
			if round {
				piece(Ring(b, half)...)
			}
			if i == 0 || b == line[i-1] {
				continue
			}
			a := line[i-1]
			long := math.Hypot(b[0]-a[0], b[1]-a[1])
			left := orb.Point{-(b[1] - a[1]) * half / long, (b[0] - a[0]) * half / long}
			piece(off(a, left, -1), off(b, left, -1), off(b, left, 1), off(a, left, 1))
			switch {
			case !drawn:
				first, drawn = left, true
			case !round:
				corner(a, last, left)
			}
			last = left
		}
		if n := len(line); n > 2 && line[0] == line[n-1] && drawn && !round {
			corner(line[0], last, first)
		}
	}
	return ink
}

// dashed is the parts of lines that a pen draws: the first length of the pattern on, the next off, and so on; each
// line begins with the first.
func dashed(lines []orb.LineString, pattern []float64) []orb.LineString {
	total := 0.0
	for _, d := range pattern {
		total += d
	}
	if total <= 0 {
		return lines
	}
	var out []orb.LineString
	for _, line := range lines {
		k, left := 0, pattern[0]
		part := orb.LineString{line[0]}
		for i := 1; i < len(line); i++ {
			a, b := line[i-1], line[i]
			long := math.Hypot(b[0]-a[0], b[1]-a[1])
			for done := 0.0; done < long; {
				step := min(left, long-done)
				done, left = done+step, left-step
				at := orb.Point{a[0] + (b[0]-a[0])*done/long, a[1] + (b[1]-a[1])*done/long}
				if k%2 == 0 {
					part = append(part, at)
				}
				if left > 0 {
					continue
				}
				if k%2 == 0 {
					out = append(out, part)
				}
				k++
				left, part = pattern[k%len(pattern)], orb.LineString{at}
			}
		}
		if k%2 == 0 && len(part) > 1 {
			out = append(out, part)
		}
	}
	return out
}

// flat is an outline as rings of straight steps, those of curves in so many parts that letters show none.
func flat(outline []opentype.Segment) (rings []orb.LineString) {
	const parts = 6
	at := func(p opentype.SegmentPoint) orb.Point { return orb.Point{float64(p.X), float64(p.Y)} }
	for _, s := range outline {
		if s.Op == opentype.SegmentOpMoveTo {
			rings = append(rings, orb.LineString{at(s.Args[0])})
			continue
		}
		ring := &rings[len(rings)-1]
		from := (*ring)[len(*ring)-1]
		pts := []orb.Point{from}
		for _, p := range s.ArgsSlice() {
			pts = append(pts, at(p))
		}
		for k := 1; k <= parts; k++ {
			if len(pts) == 2 { // a straight step
				k = parts
			}
			*ring = append(*ring, along(pts, float64(k)/parts))
		}
	}
	for i, r := range rings {
		rings[i] = append(r, r[0])
	}
	return rings
}

// along is the point of a Bézier curve at a share of its way (de Casteljau).
func along(pts []orb.Point, share float64) orb.Point {
	for len(pts) > 1 {
		next := make([]orb.Point, len(pts)-1)
		for i := range next {
			next[i] = orb.Point{pts[i][0] + (pts[i+1][0]-pts[i][0])*share, pts[i][1] + (pts[i+1][1]-pts[i][1])*share}
		}
		pts = next
	}
	return pts[0]
}
