package plan

import (
	"crypto/sha256"
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

// bentLine is a pass that is no straight: its line in the frame, X ascending, and how it points there.
type bentLine struct {
	line    []plane.XY
	in, out float64 // rad against the frame's U, at its ends
}

// columns are the sides of a polygon by their X, so that one place needs to look at few.
type columns struct {
	x0    float64
	sides [][][2]plane.XY
}

const columnWidth = 4.0 // m, about a bar

func columnsOf(p plane.Polygon) columns {
	box := p[0].Bounds()
	c := columns{box.Min.X, make([][][2]plane.XY, 1+int((box.Max.X-box.Min.X)/columnWidth))}
	for _, ring := range p {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			for k := c.at(min(a.X, b.X)); k <= c.at(max(a.X, b.X)); k++ {
				c.sides[k] = append(c.sides[k], [2]plane.XY{a, b})
			}
		}
	}
	return c
}

func (c columns) at(x float64) int {
	return min(max(0, int(math.Floor((x-c.x0)/columnWidth))), len(c.sides)-1)
}

// meets says whether the straight from a to b has ground on it: it crosses a side, or its middle lies inside.
func (c columns) meets(a, b plane.XY) bool {
	d := b.Sub(a)
	if d != (plane.XY{}) {
		for k := c.at(min(a.X, b.X)); k <= c.at(max(a.X, b.X)); k++ {
			for _, s := range c.sides[k] {
				e := s[1].Sub(s[0])
				if (d.Cross(s[0].Sub(a)) > 0) != (d.Cross(s[1].Sub(a)) > 0) && (e.Cross(a.Sub(s[0])) > 0) != (e.Cross(b.Sub(s[0])) > 0) {
					return true
				}
			}
		}
	}
	return c.inside(a.Lerp(b, 0.5))
}

// inside says whether m lies inside the polygon.
func (c columns) inside(m plane.XY) (in bool) {
	for _, s := range c.sides[c.at(m.X)] {
		if p, q := s[0], s[1]; (p.X > m.X) != (q.X > m.X) && m.Y < p.Y+(q.Y-p.Y)*(m.X-p.X)/(q.X-p.X) {
			in = !in
		}
	}
	return in
}

// clear is how far the nearest side is from p, m, or less where that is more than clearest.
func (c columns) clear(p plane.XY) float64 {
	first, last := c.at(p.X-clearest), c.at(p.X+clearest)
	away := clearest
	for k := first; k <= last; k++ {
		for _, s := range c.sides[k] {
			away = min(away, (plane.Segment{A: s[0], B: s[1]}).Dist(p))
		}
	}
	return away
}

const (
	clearest = 16.0 // m
	// steepest is how far a bent pass goes at most for every metre along its middle direction: slopes are within ±1.
	steepest = math.Sqrt2
)

// strips cuts a polygon of the guide's frame into bent passes. As with straight ones a pass reaches as
// far as ground lies square beside it within half a pitch.
func (b *guide) strips(p plane.Polygon, depth, width float64, o Options) (out []strip, pitch float64) {
	lo, hi := b.levels(p)
	rows, pitch := distances(lo, hi, depth, width, o.FullSpacing)
	half := pitch/2 - hair // ground that a row only touches is its neighbour's
	if o.LeaveWedges {
		half = 0
	}
	box, sides := p[0].Bounds(), columnsOf(p)
	x0, x1 := box.Min.X-half-station, box.Max.X+half+station
	n := int(math.Ceil((x1 - x0) / station))
	var room besideRoom
	for row, t := range rows {
		g := b.beside(t, x0, x1, &room)
		worked := func(x float64) bool {
			at, ahead := g.at(x)
			side := ahead.Left().Scale(half)
			return sides.meets(at.Sub(side), at.Add(side))
		}
		// edge is where work begins or ends between a place without and one with ground.
		edge := func(without, with float64) float64 {
			for math.Abs(with-without) > sharp {
				if m := (without + with) / 2; worked(m) {
					with = m
				} else {
					without = m
				}
			}
			return with
		}
		from, on := 0.0, false
		for i := 0; i <= n; i++ {
			x := x0 + float64(i)*station
			now := worked(x)
			switch {
			case now && !on:
				from, on = edge(x-station, x), true
			case !now && on:
				on = false
				if to := edge(x, x-station); to-from >= stub {
					out = append(out, strip{row: row, v: t, u0: from, u1: to, bent: g.cut(from, to)})
				}
			}
			// As far from all sides nothing changes: the middle of the bar stays inside, or all of it outside.
			at, _ := g.at(x)
			away := sides.clear(at) - hair
			if !now {
				away -= half
			} else if !sides.inside(at) {
				continue
			}
			if same := int(away / (steepest * station)); same > 0 {
				i += same - 1
			}
		}
	}
	return out, pitch
}

// cut is the line of a grid from x0 to x1.
func (g grid) cut(x0, x1 float64) *bentLine {
	a, in := g.at(x0)
	b, out := g.at(x1)
	line := append(make([]plane.XY, 0, 4+int((x1-x0)/station)), a)
	for i, y := range g.y {
		if x := g.x0 + float64(i)*station; x > x0+hair && x < x1-hair {
			line = append(line, plane.XY{X: x, Y: y})
		}
	}
	return &bentLine{plane.Thinned(append(line, b), bow), math.Atan2(in.Y, in.X), math.Atan2(out.Y, out.X)}
}

// interiorBlocks adds the blocks of a piece of a part's interior: along a guide, or straight.
func (s *survey) interiorBlocks(out []block, b *guide, ground plane.Polygon, h geo.Heading, improve bool) []block {
	if b == nil {
		return s.blocksIn(out, ground, h, improve)
	}
	return s.bentBlocks(out, b, ground, s.depth, improve)
}

// bentBlocks adds the blocks along a guide that lies so deep, m, outside the ground.
func (s *survey) bentBlocks(out []block, b *guide, ground plane.Polygon, depth float64, improve bool) []block {
	of := bentRowsOf(b, ground, depth)
	cut, known := s.bent[of]
	if !known {
		cut.strips, cut.pitch = b.strips(inFrame(b.frame, nil, ground), depth, s.width, s.opt)
		if len(s.bent) >= mostBentKnown {
			clear(s.bent)
		}
		s.bent[of] = cut
	}
	return s.blocksOf(out, cut.strips, block{frame: b.frame, heading: b.heading, pitch: cut.pitch, span: b.span, ground: ground.Area()}, improve)
}

// bentRows are the rows of some ground along a guide, so deep outside it: no two of them have the same. The plans that are laid out ask for the same ones again and again, on
// ground and along guides that were drawn anew.
type bentRows [sha256.Size]byte

func bentRowsOf(g *guide, ground plane.Polygon, depth float64) bentRows {
	var k key
	k.put(g.frame.Origin.X, g.frame.Origin.Y, float64(g.heading), g.radius, depth)
	k.line(g.line)
	for _, ring := range ground {
		k.line(ring)
	}
	return k.sum()
}

// bentStrips are such rows cut into strips. Nobody may change them.
type bentStrips struct {
	strips []strip
	pitch  float64 // m
}

// mostBentKnown: of so many grounds the rows are kept.
const mostBentKnown = 32

// long is the length of a pass, m.
func (st strip) long() float64 {
	long := st.u1 - st.u0
	if st.bent != nil {
		long = plane.Length(st.bent.line)
	}
	if st.past != nil {
		for _, l := range st.past.lifts {
			long -= l[1] - l[0]
		}
	}
	return long
}

// place is where a strip is at u, one of its ends.
func (b *block) place(st strip, u float64) plane.XY {
	p := plane.XY{X: u, Y: st.v}
	if st.bent != nil {
		line := st.bent.line
		if p = line[0]; u == st.u1 {
			p = line[len(line)-1]
		}
	}
	return b.frame.From(p)
}

// line is a strip driven from one end to the other, and how the set points at its start and end.
func (b *block) line(st strip, from, to float64) (line []plane.XY, in, out geo.Heading) {
	back := to < from
	in, out = b.heading, b.heading
	if st.bent == nil {
		line = []plane.XY{b.place(st, from), b.place(st, to)}
	} else {
		for _, p := range st.bent.line {
			line = append(line, b.frame.From(p))
		}
		in, out = in+geo.Heading(st.bent.in), out+geo.Heading(st.bent.out)
		if back {
			slices.Reverse(line)
			in, out = out, in
		}
	}
	if back {
		in, out = in+math.Pi, out+math.Pi
	}
	return line, in, out
}
