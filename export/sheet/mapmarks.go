package sheet

import (
	"fmt"
	"math"
	"slices"

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

// northArrow draws an arrow to grid north, which is true north at the field's centre, and gives its box. It stands in a
// circle of white along the frame, in a corner if it can be: beside the field if there is room, else where neither the
// boundary nor what was missed runs under it, and where there is no such place without the white, so that nothing is
// hidden. taken is ground on the page to leave alone.
func (l *Leaf) northArrow(v view, field, missed []plane.Polygon, size float64, taken []rect) rect {
	radius := northRadius * size
	at, white := northPlace(v, newShapes(v.rings(field)), newShapes(v.rings(missed)), radius, taken)
	point := func(along, across float64) orb.Point { // of the arrow, in shares of size
		a, c := along*size, across*size
		return orb.Point{at[0] - a*v.sin + c*v.cos, at[1] - a*v.cos - c*v.sin}
	}
	if white {
		l.fill([]orb.LineString{ring(at, radius)}, "#FFFFFF")
	}
	l.stroke([]orb.LineString{ring(at, radius)}, pen{colour: "#999999", width: 0.1})
	tip, left, right, notch := point(0.35, 0), point(-1.05, -0.42), point(-1.05, 0.42), point(-0.75, 0)
	l.fill([]orb.LineString{{tip, left, notch, tip}}, black)
	l.stroke([]orb.LineString{{tip, left, notch, right, tip}}, pen{colour: black, width: 0.15})
	n := point(0.75, 0)
	l.text(n[0], n[1]+0.26*size, lettering{size: size * 2.05, bold: true, align: canvas.Center}, l.fonts.language.word("N"))
	return rect{at[0] - radius, at[1] - radius, 2 * radius, 2 * radius}
}

// northPlace is where the arrow stands, and whether white is under it.
func northPlace(v view, field, missed shapes, radius float64, taken []rect) (at orb.Point, white bool) {
	in := v.frame.inset(radius + 0.8)
	corners := []orb.Point{{in.x + in.w, in.y}, {in.x + in.w, in.y + in.h}, {in.x, in.y}, {in.x, in.y + in.h}}
	places := append([]orb.Point(nil), corners...)
	for x := in.x + in.w - radius; x > in.x; x -= radius {
		places = append(places, orb.Point{x, in.y}, orb.Point{x, in.y + in.h})
	}
	for y := in.y + radius; y < in.y+in.h; y += radius {
		places = append(places, orb.Point{in.x + in.w, y}, orb.Point{in.x, y})
	}
	free := func(p orb.Point) bool {
		return !meetsAny(rect{p[0] - radius, p[1] - radius, 2 * radius, 2 * radius}, taken)
	}
	for _, p := range places {
		if free(p) && !field.under(p, radius) && !missed.under(p, radius) {
			return p, true
		}
	}
	for _, p := range places {
		if free(p) && !field.rimUnder(p, radius) && !missed.under(p, radius) {
			return p, true
		}
	}
	for _, p := range corners {
		if free(p) {
			return p, false
		}
	}
	return corners[0], false
}

const (
	northSize   = 5.0  // of the arrow on the map of the first page, mm
	northSmall  = 3.2  // of it on other maps, and there where a large one has no room
	northTiny   = 2.2  // of it in windows that the field nearly fills
	northRadius = 1.25 // of its circle, in sizes
)

// northWindow is the first window with room for the arrow, and its size; the first of all where none has.
func northWindow(views []view, field, missed []plane.Polygon) (k int, size float64) {
	for _, size := range []float64{northSize, northSmall, northTiny} {
		if k := slices.IndexFunc(views, func(v view) bool {
			_, white := northPlace(v, newShapes(v.rings(field)), newShapes(v.rings(missed)), northRadius*size, nil)
			return white
		}); k >= 0 {
			return k, size
		}
	}
	return 0, northSize
}

// shapes are rings on the page with their boxes.
type shapes []shape

type shape struct {
	line orb.LineString
	box  orb.Bound
}

func newShapes(rings []orb.LineString) shapes {
	out := make(shapes, len(rings))
	for i, r := range rings {
		out[i] = shape{r, r.Bound()}
	}
	return out
}

// rimUnder says whether a ring runs through a disc.
func (s shapes) rimUnder(p orb.Point, radius float64) bool {
	for _, one := range s {
		if !one.box.Pad(radius).Contains(p) {
			continue
		}
		for i := 1; i < len(one.line); i++ {
			if fromSide(p, one.line[i-1], one.line[i]) < radius {
				return true
			}
		}
	}
	return false
}

// under says whether a disc meets the ground within the rings (even-odd).
func (s shapes) under(p orb.Point, radius float64) bool { return s.holds(p) || s.rimUnder(p, radius) }

// holds says whether a place lies within the rings (even-odd).
func (s shapes) holds(p orb.Point) bool {
	in := false
	for _, one := range s {
		if !one.box.Contains(p) {
			continue
		}
		for i := 1; i < len(one.line); i++ {
			a, b := one.line[i-1], one.line[i]
			if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(b[0]-a[0])*(p[1]-a[1])/(b[1]-a[1]) {
				in = !in
			}
		}
	}
	return in
}

// fromSide is how far a place is from the side a b.
func fromSide(p, a, b orb.Point) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	t := 0.0
	if n := dx*dx + dy*dy; n > 0 {
		t = min(1, max(0, ((p[0]-a[0])*dx+(p[1]-a[1])*dy)/n))
	}
	return math.Hypot(p[0]-a[0]-t*dx, p[1]-a[1]-t*dy)
}

// tightTurns marks turns that the set cannot make, each at its place or, where the mark would hide missed ground or another
// mark, beside it with a line there. A mark that finds no room stands at its place, not filled. It gives their boxes, and
// those taken before.
func (l *Leaf) tightTurns(v view, places []orb.Point, missed []plane.Polygon, taken []rect) []rect {
	strips := newShapes(v.rings(missed))
	const around = tightRadius + 0.25 // mm, with its pen
	box := func(p orb.Point) rect { return rect{p[0] - around, p[1] - around, 2 * around, 2 * around} }
	free := func(p orb.Point) bool {
		return box(p).within(v.frame) && !meetsAny(box(p), taken) && !strips.under(p, around)
	}
	for _, p := range places {
		at, filled := p, free(p)
		if !filled {
			if at, filled = nearFree(p, free); !filled {
				at = p
			}
		}
		if at != p {
			l.line(p[0], p[1], at[0], at[1], pen{colour: black, width: 0.15})
		}
		l.tightTurn(at, filled)
		taken = append(taken, box(at))
	}
	return taken
}

// nearFree is the nearest of some places around one that is free.
func nearFree(p orb.Point, free func(orb.Point) bool) (orb.Point, bool) {
	const directions = 24
	for away := 2.2; away <= 9; away += 0.8 { // mm
		for k := range directions {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / directions)
			if q := (orb.Point{p[0] + away*cos, p[1] + away*sin}); free(q) {
				return q, true
			}
		}
	}
	return p, false
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
