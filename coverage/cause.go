package coverage

import (
	"math"
	"slices"

	"balk/geo/plane"

	"github.com/tidwall/rtree"
)

// touching: a point of a strip's rim touches a swath or the boundary when it
// lies no farther from it; the swath's edge is a chord in bends.
const touching = 0.05 // m

// chunkStops is how many steps of a pass go into one box of the tree.
const chunkStops = 16

// side is a step of a pass, or an edge of the boundary, that ground can lie beside.
type side struct {
	a, b       plane.XY
	half       float64 // m, half the credited width; 0 for the boundary
	pass       int     // number of the pass; 0 for the boundary
	hole       bool    // edge of an obstacle
	first, end bool    // the pass begins at a, ends at b
}

// surroundings answers what lies around a place.
type surroundings struct {
	tree rtree.RTreeG[[]side]
	step float64 // m between the points of a rim that are looked at
}

// surroundingsOf puts passes and boundary into a tree, some steps to a box.
func surroundingsOf(runs []run, field []plane.Polygon, w Work) *surroundings {
	s := &surroundings{step: w.Credited() / 4}
	var held []side
	flush := func() {
		if len(held) == 0 {
			return
		}
		box, half := plane.EmptyBox(), 0.0
		for _, h := range held {
			box, half = box.Extend(h.a, h.b), max(half, h.half)
		}
		half += touching
		s.tree.Insert([2]float64{box.Min.X - half, box.Min.Y - half}, [2]float64{box.Max.X + half, box.Max.Y + half}, held)
		held = nil
	}
	for _, r := range runs {
		n := len(r.stops) - 1
		for i := range n {
			if r.stops[i].next != worked {
				continue
			}
			a, b := r.stops[i], r.stops[i+1]
			held = append(held, side{
				a: a.at, b: b.at, half: (max(a.width, b.width) - w.Overlap) / 2, pass: r.pass.Number,
				first: i == 0 || !r.stops[i-1].next.ground(), end: i+1 == n || !r.stops[i+1].next.ground(),
			})
			if len(held) == chunkStops {
				flush()
			}
		}
		flush()
	}
	for _, p := range field {
		for k, ring := range p {
			for i, a := range ring {
				held = append(held, side{a: a, b: ring[(i+1)%len(ring)], hole: k > 0})
				if len(held) == chunkStops {
					flush()
				}
			}
			flush()
		}
	}
	return s
}

// contact is what the rim of a strip touches, in points of the rim.
type contact struct {
	points               int
	outer, hole          int         // on the boundary, on an obstacle
	ends                 int         // on the flat end of a pass and no side
	sides                map[int]int // along passes, by number
	alongside, rim, caps []plane.XY  // directions: of the sides touched, of the boundary, of the passes that end
	touched              map[int]bool
}

// fewSides: so many sides are looked at one by one for every point of a rim.
const fewSides = 48

// contact looks at the rim of p, at points a quarter of the credited width apart
// or closer (at least 12 of them).
func (s *surroundings) contact(p plane.Polygon) contact {
	c := contact{sides: map[int]int{}, touched: map[int]bool{}}
	near := s.within(nil, p[0].Bounds())
	all := len(near) <= fewSides
	step := min(s.step, perimeter(p)/12)
	for _, r := range p {
		ahead := step / 2 // way to the next point
		for i, a := range r {
			b := r[(i+1)%len(r)]
			l := a.Dist(b)
			for ; ahead <= l && l > 0; ahead += step {
				q := a.Lerp(b, ahead/l)
				if !all {
					near = s.within(near[:0], plane.Box{Min: q, Max: q})
				}
				c.touch(q, near)
			}
			ahead -= l
		}
	}
	return c
}

// within appends the sides that may be touched somewhere in a box, in the order
// of passes and boundary.
func (s *surroundings) within(near []side, box plane.Box) []side {
	s.tree.Search([2]float64{box.Min.X, box.Min.Y}, [2]float64{box.Max.X, box.Max.Y}, func(_, _ [2]float64, held []side) bool {
		for _, h := range held {
			reach := h.half + touching
			if min(h.a.X, h.b.X)-reach <= box.Max.X && max(h.a.X, h.b.X)+reach >= box.Min.X &&
				min(h.a.Y, h.b.Y)-reach <= box.Max.Y && max(h.a.Y, h.b.Y)+reach >= box.Min.Y {
				near = append(near, h)
			}
		}
		return true
	})
	return near
}

// touch notes what one point of the rim touches.
func (c *contact) touch(q plane.XY, near []side) {
	c.points++
	var onOuter, onHole, onSide, onEnd bool
	var few [8]int
	var ending plane.XY
	found := few[:0] // the passes alongside; grows beyond eight if it must
	for _, h := range near {
		e, v := h.b.Sub(h.a), q.Sub(h.a)
		l := e.Len()
		along, off := e.Dot(v)/l, math.Abs(e.Cross(v))/l
		if !(along >= -touching && along <= l+touching && off <= h.half+touching) {
			continue
		}
		d := e.Scale(1 / l)
		if h.pass == 0 {
			onOuter, onHole = onOuter || !h.hole, onHole || h.hole
			c.rim = append(c.rim, d)
			continue
		}
		c.touched[h.pass] = true
		if off < h.half-touching && (h.first && along <= touching || h.end && along >= l-touching) {
			onEnd, ending = true, d
			continue
		}
		if onSide = true; !slices.Contains(found, h.pass) {
			found = append(found, h.pass)
			c.alongside = append(c.alongside, d)
		}
	}
	for _, n := range found {
		c.sides[n]++
	}
	switch {
	case onHole:
		c.hole++
	case onOuter:
		c.outer++
	}
	if onEnd && !onSide {
		c.ends++
		c.caps = append(c.caps, ending)
	}
}

// passes are the numbers of the passes touched, ascending.
func (c contact) passes() []int {
	out := make([]int, 0, len(c.touched))
	for n := range c.touched {
		out = append(out, n)
	}
	slices.Sort(out)
	return out
}

// Shares and angles of the rules below (own choice, tried on drawn cases).
const (
	nearly    = 0.95    // of the credited width: a pass was left out
	muchOfRim = 0.2     // of the rim's points, on boundary or obstacle
	someOfRim = 0.1     // of the rim's points, on ends of passes
	compact   = 4.0     // credited widths: a corner's strip is not longer
	sin45     = 0.70711 // directions farther apart than 45° make a corner
	sin15     = 0.25882 // a pass that meets a line at 15° to 75° meets it obliquely
	sin75     = 0.96593
)

// cause is the likely reason of a missed strip. The first rule that fits:
//
//  1. a whole pass nearly fits in (greatest width ≥ 0.95 × credited width) and no
//     pass ends at it (a tenth of its rim): not driven;
//  2. a fifth of its rim lies on an obstacle: obstacle;
//  3. it is short, and boundary or passes along it turn by more than 45°, and no
//     pass ends at it: corner;
//  4. passes end at it: point row where they meet the
//     boundary or the pass across at 15° to 75°, else lifted early or lowered late;
//  5. a fifth of its rim lies on the boundary: boundary edge;
//  6. passes run along it: drift between passes;
//  7. it touches the boundary: boundary edge; else not driven.
func (c contact) cause(s Strip, credited float64) Cause {
	n := float64(max(c.points, 1))
	ended := float64(c.ends) >= someOfRim*n
	short := s.Length <= compact*credited
	switch {
	case !ended && s.MaxWidth >= nearly*credited:
		return CauseUndriven
	case float64(c.hole) >= muchOfRim*n:
		return CauseObstacle
	case !ended && short && (spread(c.rim) || spread(c.alongside)):
		return CauseCorner
	case ended && c.oblique():
		return CausePoint
	case ended:
		return CauseLift
	case float64(c.outer) >= muchOfRim*n:
		return CauseEdge
	case len(c.sides) > 0:
		return CauseDrift
	case c.outer > 0:
		return CauseEdge
	}
	return CauseUndriven
}

// spread says whether two of the directions (either way) differ by more than 45°.
func spread(dirs []plane.XY) bool {
	for _, d := range dirs {
		if math.Abs(dirs[0].Cross(d)) > sin45 {
			return true
		}
	}
	return false
}

// oblique says whether most of the lines across the ended passes' way meet it at
// 15° to 75°. The boundary counts where the strip touches it, else the sides of
// other passes.
func (c contact) oblique() bool {
	lines := c.rim
	if len(lines) == 0 {
		lines = c.alongside
	}
	across, slant := 0, 0
	for _, l := range lines {
		sin := math.Abs(l.Cross(c.caps[0]))
		if sin < sin15 {
			continue // runs with the pass
		}
		if across++; sin <= sin75 {
			slant++
		}
	}
	return 2*slant > across
}
