package plane

import (
	"context"
	"fmt"
	"math"
	"slices"
)

// chordError bounds how far the straight pieces that stand for an arc leave
// it, in metres: 0.5 mm, a fortieth of the wander of the best receiver. The
// vertices lie outside the circle and the pieces touch it, so what Inset keeps
// is never nearer to the boundary than the depth asked for, and what it takes too
// much is below chordError. Arrange may move narrow places by another 0.1 mm.
const chordError = 0.5e-3

// foldedBack is how near to π, in radians, a turn counts as a boundary running
// back on itself, which is open on either side: rounding decides the sign.
const foldedBack = 1e-9

// Lanes of an inset.
const (
	laneField = 0
	laneLess  = 1 // the rings of laneField with the strips along them taken off
)

// Inset is the ground of polys that lies at least depth metres from every ring
// of polys. Where the boundary turns towards the inside the new boundary
// follows an arc around the corner (see chordError), elsewhere corners stay
// sharp. Where polys lap, each boundary counts on its own inner side.
//
// (1) depth 0 gives a clean copy of the same area. (2) A depth beyond the
// largest inscribed circle gives nothing. (3) Insets nest: a deeper one lies in
// a shallower one, but for chordError.
func Inset(ctx context.Context, polys []Polygon, depth float64) ([]Polygon, error) {
	outlines, err := insetOutlines(polys, depth)
	if err != nil {
		return nil, err
	}
	kept, err := selectWhere(ctx, outlines, beyondStrip)
	if err != nil {
		return nil, fmt.Errorf("inset by %.6g m: %w", depth, err)
	}
	return kept, nil
}

// InsetRings is Inset as plain rings: unrounded, made by Trace, and good as
// outlines for another arrangement.
func InsetRings(ctx context.Context, polys []Polygon, depth float64) ([]Ring, error) {
	outlines, err := insetOutlines(polys, depth)
	if err != nil {
		return nil, err
	}
	kept, err := Trace(ctx, outlines, beyondStrip)
	if err != nil {
		return nil, fmt.Errorf("inset by %.6g m: %w", depth, err)
	}
	return kept, nil
}

// Beyond is the ground of polys that lies more than r metres from every place of core, but for chordError:
// along arcs it keeps too little. Both are read by the nonzero rule, see Union.
//
// (1) r 0 gives Difference. (2) Beyond of a larger r lies in that of a smaller one, but for chordError.
func Beyond(ctx context.Context, polys, core []Polygon, r float64) ([]Polygon, error) {
	return byStrips(ctx, "beyond", polys, core, r, func(strips int) bool { return strips == 0 })
}

// Within is the ground of polys that Beyond leaves: no more than r metres from core.
func Within(ctx context.Context, polys, core []Polygon, r float64) ([]Polygon, error) {
	return byStrips(ctx, "within", polys, core, r, func(strips int) bool { return strips != 0 })
}

// byStrips keeps the ground of polys by how often the strips along core, and core itself, cover it.
func byStrips(ctx context.Context, what string, polys, core []Polygon, r float64, keep func(strips int) bool) ([]Polygon, error) {
	if !(r >= 0) || r > Limit {
		return nil, fmt.Errorf("%s %g m: must be from 0 to %d m", what, r, int64(Limit))
	}
	outlines := appendPolygons(nil, polys, laneField)
	// Backwards the rings of core wind round it −1 times, and have the strips outside on their left: what is
	// neither in core nor in a strip is wound round no time.
	for _, o := range appendPolygons(nil, core, laneLess) {
		line := slices.Clone(o.Line)
		slices.Reverse(line)
		if r > 0 {
			line = pulledIn(line, r)
		}
		outlines = append(outlines, Outline{Line: line, Lane: laneLess})
	}
	kept, err := selectWhere(ctx, outlines, func(l Label) bool { return l.Count(laneField) != 0 && keep(l.Count(laneLess)) })
	if err != nil {
		return nil, fmt.Errorf("%s %.6g m: %w", what, r, err)
	}
	return kept, nil
}

// beyondStrip says whether a place lies in the field and in no strip along its
// boundary, which would take from laneLess.
func beyondStrip(l Label) bool {
	return l.Count(laneField) != 0 && l.Count(laneField) == l.Count(laneLess)
}

// insetOutlines are the polygons, and their rings less the strips along them.
func insetOutlines(polys []Polygon, depth float64) ([]Outline, error) {
	if !(depth >= 0) || depth > Limit {
		return nil, fmt.Errorf("inset by %g m: must be from 0 to %d m", depth, int64(Limit))
	}
	var outlines []Outline
	for _, p := range polys {
		from := len(outlines)
		outlines = appendPolygon(outlines, p, laneField)
		box := EmptyBox()
		for _, o := range outlines[from:] {
			box = box.Extend(o.Line...)
		}
		if size := box.Max.Sub(box.Min); min(size.X, size.Y) < 2*depth {
			outlines = outlines[:from] // nothing of it is that far from its own boundary
			continue
		}
		rings := outlines[from:]
		if depth == 0 {
			for _, o := range rings {
				outlines = append(outlines, Outline{Line: o.Line, Lane: laneLess})
			}
			continue
		}
		bends := make([][]bend, len(rings))
		for k, o := range rings {
			bends[k] = bendsOf(o.Line, false, depth)
		}
		hide := newHiding(bends, depth)
		for _, b := range bends {
			outlines = append(outlines, Outline{Line: pulledAlong(b, depth, hide), Lane: laneLess})
		}
	}
	return outlines, nil
}

// pulledIn is a tidy ring less the strip of the given depth along its left side,
// as one line: at every place the ring winds round, it winds round once less for each
// rectangle on an edge, and each wedge at a corner, that covers the place.
//
//	   a'───────── b'   rectangle a b b' a' of the edge a → b; where the ring turns right
//	   │           │ ╲  a wedge b b' … a" fills the gap to the next one
//	───a──────────►b──a"
//
// Sums of boundaries: ring − rectangles − wedges leaves a' → b', then along the wedge to the
// a" of the next edge, or where the ring turns left, and rectangles lap, b' → b → a". A point of the wedge's arc
// that stands on the line a' b' drawn on takes the place of b', likewise of a".
//
// Where the ring turns left by θ ≤ 90° the two offset lines meet in m. Leaving b' → b → a" out, and going over
// m, gives the kite b b' m a" back once. That is right as long as every place in k such kites lies in k + 1
// rectangles or more. A kite lies in both its rectangles if depth·sin θ is no longer than their edges, and k corners of a
// ring have k + 1 edges, unless they are all its corners: then one of them does without its kite. (None
// has to if each kite keeps to the halves of its rectangles that are nearer to its corner: a place in k of them
// lies in 2k rectangles.)
//
// This is the winding number offset of Chen & McMains (2005, from memory), and why it holds is derived here.
func pulledIn(ring []XY, depth float64) []XY {
	return pulledAlong(bendsOf(ring, false, depth), depth, nil)
}

// pulledAlong is pulledIn for the bends of a ring, without what is hidden of its arcs.
func pulledAlong(bends []bend, depth float64, hide *hiding) []XY {
	n := len(bends)
	corners := make([]corner, n)
	points := 3 * n
	kites, cramped := 0, -1
	for i, b := range bends {
		c := cornerOf(b, depth)
		if c.outer {
			points += c.steps
		} else if b.kite(c.sin, depth) {
			c.kite = true
			kites++
			if 2*depth*c.sin > b.edge {
				cramped = i
			}
		}
		corners[i] = c
	}
	if kites == n && cramped >= 0 {
		corners[cramped].kite = false
	}
	out := make([]XY, 0, points)
	for i, b := range bends {
		switch c := corners[i]; {
		case c.outer:
			from := len(out)
			out = appendArc(out, b.at, b.in, -math.Abs(c.turn), depth, c.steps)
			if hide != nil {
				out = out[:from+len(hide.cutShort(out[from:], b.at))]
			}
		case c.kite:
			out = append(out, b.at.Add(b.in.Add(b.on).Left().Scale(depth/(1+c.cos))))
		default:
			out = append(out, b.at.Add(b.in.Left().Scale(depth)), b.at, b.at.Add(b.on.Left().Scale(depth)))
		}
		if b.hangs {
			out = append(out, b.centre)
		}
	}
	return out
}

// corner is how a ring turns at a bend.
type corner struct {
	turn, sin, cos float64 // rad, of the turn to the left
	outer          bool    // a gap opens on the left side
	steps          int     // of the arc over it
	kite           bool    // the rectangles lap in the whole kite
}

// cornerOf is the corner of a bend, but for its kite.
func cornerOf(b bend, depth float64) corner {
	c := corner{sin: b.in.Cross(b.on), cos: b.in.Dot(b.on)}
	c.turn = math.Atan2(c.sin, c.cos)
	if c.outer = c.turn < 0 || c.turn > math.Pi-foldedBack; c.outer {
		widest := 2 * math.Acos(depth/(depth+chordError)) // depth/cos(s/2) - depth ≤ chordError
		c.steps = max(1, int(math.Ceil(math.Abs(c.turn)/widest)))
	}
	return c
}

// appendArc goes clockwise round the vertex v on tangents of the circle, from the line depth to the
// left of direction e to that of the same turned by turn. With a step of s the tangents of neighbouring
// touching points meet depth/cos(s/2) from v.
func appendArc(out []XY, v, e XY, turn, depth float64, steps int) []XY {
	step := turn / float64(steps)
	far := e.Left().Scale(depth / math.Cos(step/2))
	for k := range steps {
		out = append(out, v.Add(rotate(far, (float64(k)+0.5)*step)))
	}
	return out
}

// rotate turns a by an angle in radians, counter-clockwise.
func rotate(a XY, angle float64) XY {
	s, c := math.Sincos(angle)
	return XY{a.X*c - a.Y*s, a.X*s + a.Y*c}
}
