package sheet

import (
	"fmt"
	"math"
	"slices"

	"balk/coverage"
	"balk/export/sheet/paper"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// scaleText is a scale as people write it.
func scaleText(denominator float64) string { return fmt.Sprintf("1 : %.0f", denominator) }

// scaleBar draws a bar of a round length, not longer than so many mm, and the
// scale beside it. Its lower left corner is at x, y; it gives its box.
func (l *leaf) scaleBar(x, y, longest float64, v view) paper.Box {
	m := roundLength(longest / v.mm())
	w := m * v.mm()
	end := paper.Lettering{Size: 6.5, Align: paper.Centre}
	length := l.Say("%g m", m)
	bar := paper.Rect(x, y-1.2, w, 1)
	l.Fill(paper.Rect(bar.X, bar.Y, w/2, 1).Path(), paper.Black)
	l.Stroke(bar.Path(), paper.Pen{Colour: paper.Black, Width: 0.15})
	l.Text(bar.X, y-2.2, paper.Lettering{Size: 6.5}, "0")
	l.Text(bar.X+w, y-2.2, end, length)
	beyond := l.Fonts.Width(end, length)/2 + 1.5
	return paper.Rect(x, y-4.6, w+beyond+l.Text(bar.X+w+beyond, y-0.2, paper.Lettering{Size: 7, Bold: true}, scaleText(v.denominator)), 4.6)
}

// scaleBox is a scale bar on white, for use within a map.
func (l *leaf) scaleBox(x, y, longest float64, v view) paper.Box {
	probe := newLeaf(l.Width, l.Height, l.Fonts, l.Language, "") // how large it gets
	box := probe.scaleBar(x+1.5, y-1, longest, v).Inset(-1)
	l.Fill(box.Path(), "#FFFFFF")
	l.Stroke(box.Path(), paper.Pen{Colour: "#999999", Width: 0.1})
	l.scaleBar(x+1.5, y-1, longest, v)
	return box
}

// northArrow draws an arrow to grid north, which is true north at the field's centre, and gives its box. It stands in a
// circle of white along the frame, in a corner if it can be: beside the field if there is room, else where neither the
// boundary nor what was missed runs under it, and where there is no such place without the white, so that nothing is
// hidden. taken is ground on the page to leave alone.
func (l *leaf) northArrow(v view, field, missed []plane.Polygon, size float64, taken []paper.Box) paper.Box {
	radius := northRadius * size
	at, white := northPlace(v, newShapes(v.rings(field)), newShapes(v.rings(missed)), radius, taken)
	point := func(along, across float64) orb.Point { // of the arrow, in shares of size
		a, c := along*size, across*size
		return orb.Point{at[0] - a*v.sin + c*v.cos, at[1] - a*v.cos - c*v.sin}
	}
	if white {
		l.Fill([]orb.LineString{paper.Ring(at, radius)}, "#FFFFFF")
	}
	l.Stroke([]orb.LineString{paper.Ring(at, radius)}, paper.Pen{Colour: "#999999", Width: 0.1})
	tip, left, right, notch := point(0.35, 0), point(-1.05, -0.42), point(-1.05, 0.42), point(-0.75, 0)
	l.Fill([]orb.LineString{{tip, left, notch, tip}}, paper.Black)
	l.Stroke([]orb.LineString{{tip, left, notch, right, tip}}, paper.Pen{Colour: paper.Black, Width: 0.15})
	n := point(0.75, 0)
	l.Text(n[0], n[1]+0.26*size, paper.Lettering{Size: size * 2.05, Bold: true, Align: paper.Centre}, l.Word("N"))
	return paper.Rect(at[0]-radius, at[1]-radius, 2*radius, 2*radius)
}

// northPlace is where the arrow stands, and whether white is under it.
func northPlace(v view, field, missed *shapes, radius float64, taken []paper.Box) (at orb.Point, white bool) {
	in := v.frame.Inset(radius + 0.8)
	corners := []orb.Point{{in.X + in.W, in.Y}, {in.X + in.W, in.Y + in.H}, {in.X, in.Y}, {in.X, in.Y + in.H}}
	places := append([]orb.Point(nil), corners...)
	for x := in.X + in.W - radius; x > in.X; x -= radius {
		places = append(places, orb.Point{x, in.Y}, orb.Point{x, in.Y + in.H})
	}
	for y := in.Y + radius; y < in.Y+in.H; y += radius {
		places = append(places, orb.Point{in.X + in.W, y}, orb.Point{in.X, y})
	}
	free := func(p orb.Point) bool {
		return !slices.ContainsFunc(taken, paper.Rect(p[0]-radius, p[1]-radius, 2*radius, 2*radius).Meets)
	}
	for _, hides := range []func(orb.Point, float64) bool{field.under, field.rimUnder} {
		for _, p := range places {
			if free(p) && !hides(p, radius) && !missed.under(p, radius) {
				return p, true
			}
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

// shapes are rings on the page, mm.
type shapes struct{ plane.Edges }

func newShapes(rings []orb.LineString) *shapes {
	s := &shapes{}
	for _, r := range rings {
		ring := make(plane.Ring, len(r)-1) // the last place is the first
		for i := range ring {
			ring[i] = onPage(r[i])
		}
		s.Add(ring)
	}
	return s
}

func onPage(p orb.Point) plane.XY { return plane.XY{X: p[0], Y: p[1]} }

// rimUnder says whether a ring runs through a disc.
func (s *shapes) rimUnder(p orb.Point, radius float64) bool {
	_, far2 := s.Nearest(onPage(p))
	return far2 < radius*radius
}

// under says whether a disc meets the ground within the rings (even-odd).
func (s *shapes) under(p orb.Point, radius float64) bool {
	return s.Holds(onPage(p)) || s.rimUnder(p, radius)
}

// tightTurns marks turns that the set cannot make, each at its place or, where the mark would hide missed ground or another
// mark, beside it with a line there. A mark that finds no room stands at its place, not filled. It gives their boxes, and
// those taken before. Places beyond the frame have none.
func (l *leaf) tightTurns(v view, places []plane.XY, missed []plane.Polygon, taken []paper.Box) []paper.Box {
	strips := newShapes(v.rings(missed))
	const around = tightRadius + 0.25 // mm, with its pen
	box := func(p orb.Point) paper.Box { return paper.Rect(p[0]-around, p[1]-around, 2*around, 2*around) }
	free := func(p orb.Point) bool {
		return box(p).Within(v.frame) && !slices.ContainsFunc(taken, box(p).Meets) && !strips.under(p, around)
	}
	for _, place := range places {
		p := v.at(place)
		if !v.frame.Bound().Contains(p) {
			continue
		}
		at, filled := p, free(p)
		if !filled {
			at, filled = nearby(p, []float64{2.2, 3, 3.8, 4.6, 5.4, 6.2, 7, 7.8, 8.6}, 24, free)
		}
		if at != p {
			l.Line(p[0], p[1], at[0], at[1], paper.Pen{Colour: paper.Black, Width: 0.15})
		}
		l.tightTurn(at, filled)
		taken = append(taken, box(at))
	}
	return taken
}

// numbers writes the numbers of strips beside them on a map, each where there is
// room, with a line to its strip. It gives how many found no room; free is ground
// on the page to leave alone.
func (l *leaf) numbers(v view, on geo.Local, strips []coverage.Strip, free []paper.Box) (left int) {
	at := func(s coverage.Strip) orb.Point { return v.at(on.XY(s.At)) }
	t := paper.Lettering{Size: 6.5, Bold: true, Colour: "#5A0F3A"}
	taken := append([]paper.Box(nil), free...)
	for _, s := range strips {
		p := at(s)
		taken = append(taken, paper.Rect(p[0]-0.6, p[1]-0.6, 1.2, 1.2))
	}
	const h = 2.9
	boxes := make([]paper.Box, len(strips))
	for i, s := range strips {
		p, w := at(s), l.Fonts.Width(t, numberOf(s))+1.4
		if box, ok := placeBeside(p, w, h, v.frame.Inset(0.5), taken); ok {
			boxes[i] = box
			taken = append(taken, box)
			x, y := box.X+w/2, box.Y+h/2
			l.Line(x, y, p[0], p[1], paper.Pen{Colour: "#FFFFFF", Width: 0.6})
			l.Line(x, y, p[0], p[1], paper.Pen{Colour: "#5A0F3A", Width: 0.2})
			l.Fill([]orb.LineString{paper.Ring(p, 0.5)}, "#FFFFFF")
			l.Stroke([]orb.LineString{paper.Ring(p, 0.5)}, paper.Pen{Colour: "#5A0F3A", Width: 0.2})
		} else {
			left++
		}
	}
	for i, s := range strips { // over all lines
		if box := boxes[i]; box.W > 0 {
			l.tag(box, t, pink, numberOf(s))
		}
	}
	return left
}

// tag is words in a box of their own.
func (l *leaf) tag(b paper.Box, t paper.Lettering, rim, words string) {
	l.Fill(b.Path(), "#FFFFFF")
	l.Stroke(b.Path(), paper.Pen{Colour: rim, Width: 0.2})
	t.Align = paper.Centre
	l.Text(b.X+b.W/2, b.Y+b.H-0.7, t, words)
}

// placeBeside finds a free box of a size near a place, within a frame.
func placeBeside(p orb.Point, w, h float64, frame paper.Box, taken []paper.Box) (paper.Box, bool) {
	box := func(at orb.Point) paper.Box { return paper.Rect(at[0]-w/2, at[1]-h/2, w, h) }
	at, ok := nearby(p, []float64{4, 6, 8.5, 12, 16, 21}, 16, func(at orb.Point) bool {
		return box(at).Within(frame) && !slices.ContainsFunc(taken, box(at).Inset(-0.3).Meets)
	})
	return box(at), ok
}

// nearby is the first place that is free, of some around another: so many mm away, in so many directions, from the upper
// right on. It is that other where none is.
func nearby(p orb.Point, away []float64, directions int, free func(orb.Point) bool) (orb.Point, bool) {
	for _, far := range away {
		for k := range directions {
			sin, cos := math.Sincos(2*math.Pi*float64(k)/float64(directions) + math.Pi/4)
			if q := (orb.Point{p[0] + far*cos, p[1] - far*sin}); free(q) {
				return q, true
			}
		}
	}
	return p, false
}
