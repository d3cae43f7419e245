package sheet

import (
	"fmt"
	"math"

	"balk/coverage"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	"github.com/tdewolff/canvas"
)

// scaleText is a scale as people write it.
func scaleText(denominator float64) string { return fmt.Sprintf("1 : %.0f", denominator) }

// scaleBar draws a bar of a round length, not longer than so many mm, and the
// scale beside it. Its lower left corner is at x, y; it gives its box.
func (l *Leaf) scaleBar(x, y, longest float64, v view) rect {
	m := roundLength(longest / v.mm())
	w := m * v.mm()
	end := lettering{size: 6.5, align: canvas.Center}
	length := l.fonts.language.say("%g m", m)
	bar := rect{x, y - 1.2, w, 1}
	l.fill(rect{bar.x, bar.y, w / 2, 1}.path(), black)
	l.stroke(bar.path(), pen{colour: black, width: 0.15})
	l.text(bar.x, y-2.2, lettering{size: 6.5}, "0")
	l.text(bar.x+w, y-2.2, end, length)
	beyond := l.fonts.width(end, length)/2 + 1.5
	return rect{x, y - 4.6, w + beyond + l.text(bar.x+w+beyond, y-0.2, lettering{size: 7, bold: true}, scaleText(v.denominator)), 4.6}
}

// scaleBox is a scale bar on white, for use within a map.
func (l *Leaf) scaleBox(x, y, longest float64, v view) rect {
	probe := newLeaf(l.Width, l.Height, l.fonts) // how large it gets
	box := probe.scaleBar(x+1.5, y-1, longest, v).inset(-1)
	l.fill(box.path(), "#FFFFFF")
	l.stroke(box.path(), pen{colour: "#999999", width: 0.1})
	l.scaleBar(x+1.5, y-1, longest, v)
	return box
}

// northArrow draws an arrow to grid north, which is true north at the field's
// centre, in a circle of white in that corner of the map that shows least of the
// field and is not taken, and gives its box.
func (l *Leaf) northArrow(v view, field []plane.Polygon, size float64, taken []rect) rect {
	radius := 1.25 * size
	at, best := orb.Point{}, math.MaxInt
	rings := v.rings(field)
	in := v.frame.inset(radius + 0.8)
	for _, corner := range []orb.Point{{in.x + in.w, in.y}, {in.x + in.w, in.y + in.h}, {in.x, in.y}, {in.x, in.y + in.h}} {
		if meetsAny(rect{corner[0] - radius, corner[1] - radius, 2 * radius, 2 * radius}, taken) {
			continue
		}
		covered := 0
		for _, p := range append(ring(corner, radius), corner) {
			if inside(rings, p) {
				covered++
			}
		}
		if covered < best {
			at, best = corner, covered
		}
	}
	point := func(along, across float64) orb.Point { // of the arrow, in shares of size
		a, c := along*size, across*size
		return orb.Point{at[0] - a*v.sin + c*v.cos, at[1] - a*v.cos - c*v.sin}
	}
	l.fill([]orb.LineString{ring(at, radius)}, "#FFFFFF")
	l.stroke([]orb.LineString{ring(at, radius)}, pen{colour: "#999999", width: 0.1})
	tip, left, right, notch := point(0.35, 0), point(-1.05, -0.42), point(-1.05, 0.42), point(-0.75, 0)
	l.fill([]orb.LineString{{tip, left, notch, tip}}, black)
	l.stroke([]orb.LineString{{tip, left, notch, right, tip}}, pen{colour: black, width: 0.15})
	n := point(0.75, 0)
	l.text(n[0], n[1]+0.26*size, lettering{size: size * 2.05, bold: true, align: canvas.Center}, l.fonts.language.word("N"))
	return rect{at[0] - radius, at[1] - radius, 2 * radius, 2 * radius}
}

// inside says whether a place lies within rings (even-odd).
func inside(rings []orb.LineString, p orb.Point) bool {
	in := false
	for _, ring := range rings {
		for i := 1; i < len(ring); i++ {
			a, b := ring[i-1], ring[i]
			if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(b[0]-a[0])*(p[1]-a[1])/(b[1]-a[1]) {
				in = !in
			}
		}
	}
	return in
}

// numbers writes the numbers of strips beside them on a map, each where there is
// room, with a line to its strip. It gives how many found no room; free is ground
// on the page to leave alone.
func (l *Leaf) numbers(v view, at func(coverage.Strip) orb.Point, strips []coverage.Strip, free []rect) (left int) {
	t := lettering{size: 6.5, bold: true, colour: "#5A0F3A", align: canvas.Center}
	taken := append([]rect(nil), free...)
	for _, s := range strips {
		p := at(s)
		taken = append(taken, rect{p[0] - 0.6, p[1] - 0.6, 1.2, 1.2})
	}
	const h = 2.9
	boxes := make([]rect, len(strips))
	for i, s := range strips {
		p, w := at(s), l.fonts.width(t, numberOf(s))+1.4
		if box, ok := placeBeside(p, w, h, v.frame.inset(0.5), taken); ok {
			boxes[i] = box
			taken = append(taken, box)
			x, y := box.x+w/2, box.y+h/2
			l.line(x, y, p[0], p[1], pen{colour: "#FFFFFF", width: 0.6})
			l.line(x, y, p[0], p[1], pen{colour: "#5A0F3A", width: 0.2})
			l.fill([]orb.LineString{ring(p, 0.5)}, "#FFFFFF")
			l.stroke([]orb.LineString{ring(p, 0.5)}, pen{colour: "#5A0F3A", width: 0.2})
		} else {
			left++
		}
	}
	for i, s := range strips { // over all lines
		if box := boxes[i]; box.w > 0 {
			l.fill(box.path(), "#FFFFFF")
			l.stroke(box.path(), pen{colour: pink, width: 0.2})
			l.text(box.x+box.w/2, box.y+h-0.65, t, numberOf(s))
		}
	}
	return left
}

// placeBeside finds a free box of a size near a place, within a frame.
func placeBeside(p orb.Point, w, h float64, frame rect, taken []rect) (rect, bool) {
	const directions = 16
	for _, away := range []float64{4, 6, 8.5, 12, 16, 21} {
		for k := range directions {
			sin, cos := math.Sincos(2*math.Pi*float64(k)/directions + math.Pi/4)
			box := rect{p[0] + away*cos - w/2, p[1] - away*sin - h/2, w, h}
			if box.within(frame) && !meetsAny(box.inset(-0.3), taken) {
				return box, true
			}
		}
	}
	return rect{}, false
}

func meetsAny(r rect, list []rect) bool {
	for _, q := range list {
		if r.meets(q) {
			return true
		}
	}
	return false
}
