package plane

import (
	"context"
	"fmt"
	"math"
)

// chordError bounds how far the straight pieces that stand for an arc leave
// it, in metres: 0.5 mm, a fortieth of the wander of the best receiver. The
// vertices lie outside the circle and the pieces touch it, so what Inset keeps
// is never nearer to the boundary than the depth asked for, and what it takes too
// much is below chordError. Arrange may move narrow places by another 0.1 mm.
const chordError = 0.5e-3

// mitreLimit is how far a mitred corner may reach from its vertex, in depths.
// Beyond it (boundary turning by more than 120°) the corner is cut square at
// that distance.
const mitreLimit = 2.0

// lap is how far the patch of a corner laps the rectangles of its two edges,
// in radians, so that lattice rounding never leaves a crack between them.
const lap = 0.1

// nearlyStraight is the turn in radians below which an edge and its successor
// get a patch whichever way they turn: their rectangles meet almost end to end,
// and rounding may leave a crack.
const nearlyStraight = 0.01

// foldedBack is how near to π, in radians, a turn counts as a boundary running
// back on itself, which is open on either side: rounding decides the sign.
const foldedBack = 1e-9

// Lanes of an inset.
const (
	laneField = 0
	laneStrip = 1 // everything nearer to the boundary than the depth
)

// Inset is the ground of polys that lies at least depth metres from every ring
// of polys. Where the boundary turns towards the inside the new boundary
// follows an arc around the corner (see chordError), elsewhere corners stay
// sharp.
//
// (1) depth 0 gives a clean copy of the same area. (2) A depth beyond the
// largest inscribed circle gives nothing. (3) Insets nest: a deeper one lies in
// a shallower one, but for chordError.
func Inset(ctx context.Context, polys []Polygon, depth float64) ([]Polygon, error) {
	return inset(ctx, polys, depth, arcCorner)
}

// InsetMitred is like Inset, with straight lines drawn on to their meeting
// point where Inset has arcs, up to mitreLimit. It lies in Inset of the same
// depth.
func InsetMitred(ctx context.Context, polys []Polygon, depth float64) ([]Polygon, error) {
	return inset(ctx, polys, depth, mitredCorner)
}

// InsetRings is Inset as plain rings: unrounded, made by Trace, and good as
// outlines for another arrangement.
func InsetRings(ctx context.Context, polys []Polygon, depth float64) ([]Ring, error) {
	outlines, err := insetOutlines(polys, depth, arcCorner)
	if err != nil {
		return nil, err
	}
	kept, err := Trace(ctx, outlines, beyondStrip)
	if err != nil {
		return nil, fmt.Errorf("inset by %g m: %w", depth, err)
	}
	return kept, nil
}

func inset(ctx context.Context, polys []Polygon, depth float64, corner cornerFunc) ([]Polygon, error) {
	outlines, err := insetOutlines(polys, depth, corner)
	if err != nil {
		return nil, err
	}
	kept, err := selectWhere(ctx, outlines, beyondStrip)
	if err != nil {
		return nil, fmt.Errorf("inset by %g m: %w", depth, err)
	}
	return kept, nil
}

// beyondStrip says whether a place lies in the field and not in the strip along
// its boundary.
func beyondStrip(l Label) bool { return l.Count(laneField) != 0 && l.Count(laneStrip) == 0 }

// insetOutlines are the polygons and the strips along their rings.
func insetOutlines(polys []Polygon, depth float64, corner cornerFunc) ([]Outline, error) {
	if !(depth >= 0) || depth > Limit {
		return nil, fmt.Errorf("inset by %g m: must be from 0 to %d m", depth, int64(Limit))
	}
	var outlines []Outline
	for _, p := range polys {
		from := len(outlines)
		outlines = appendPolygon(outlines, p, laneField)
		if depth == 0 {
			continue
		}
		box := EmptyBox()
		for _, o := range outlines[from:] {
			box = box.Extend(o.Line...)
		}
		if size := box.Max.Sub(box.Min); min(size.X, size.Y) < 2*depth {
			outlines = outlines[:from] // nothing of it is that far from its own boundary
			continue
		}
		for _, o := range outlines[from:] {
			outlines = appendStrip(outlines, o.Line, depth, corner)
		}
	}
	return outlines, nil
}

// appendStrip adds the strip of the given depth along the inner (left) side of
// a tidy ring, in pieces that overlap: a rectangle for each edge and a patch for
// each corner where the rectangles leave a wedge open.
//
//	──────────┐ rectangle of the first edge
//	          │ ╲  wedge: the patch
//	─────────►v──┐
//	          │  │ rectangle of the second edge
//	          ▼  │
//
// Each rectangle also reaches a little to the outer side, so that it does not
// share the line of the boundary. A point there is nearer than the depth to the
// boundary anyway.
func appendStrip(outlines []Outline, ring Ring, depth float64, corner cornerFunc) []Outline {
	outer := min(depth, 1)
	n := len(ring)
	for i, a := range ring {
		b, c := ring[(i+1)%n], ring[(i+2)%n]
		e, f := unit(b.Sub(a)), unit(c.Sub(b))
		in, out := e.Left().Scale(depth), e.Left().Scale(-outer)
		outlines = appendRing(outlines, Ring{a.Add(out), b.Add(out), b.Add(in), a.Add(in)}, laneStrip)
		switch turn := math.Atan2(e.Cross(f), e.Dot(f)); {
		case turn < 0, turn > math.Pi-foldedBack:
			outlines = appendRing(outlines, patch(b, e, f, -math.Abs(turn), depth, corner), laneStrip)
		case turn < nearlyStraight:
			outlines = appendRing(outlines, patch(b, f, e, -turn, depth, corner), laneStrip)
		}
	}
	return outlines
}

// A cornerFunc appends the outside of a corner patch to r: from v+depth·n(0) to
// v+depth·n(turn), both included, where n(0) is the left normal of the direction
// e and n(turn) the same turned clockwise by |turn|. Clockwise order.
type cornerFunc func(r Ring, v, e XY, turn, depth float64) Ring

// patch closes the wedge at the vertex v between an edge in direction e and one
// in direction f. All of it lies within depth of v, but for what the corner
// function adds. It is star-shaped as seen from v, hence winds once.
func patch(v, e, f XY, turn, depth float64, corner cornerFunc) Ring {
	n := e.Left()
	r := Ring{v.Add(rotate(n, lap).Scale(depth))}
	r = corner(r, v, e, turn, depth)
	r[len(r)-1] = v.Add(f.Left().Scale(depth)) // the very corner of the next rectangle
	r = append(r,
		v.Add(rotate(n, turn-lap).Scale(depth)),
		v.Add(rotate(n, turn/2).Scale(-depth/2)))
	for i, j := 0, len(r)-1; i < j; i, j = i+1, j-1 {
		r[i], r[j] = r[j], r[i] // counter-clockwise
	}
	return r
}

// arcCorner goes round the vertex on tangents of the circle. With a step of s
// the tangents of neighbouring touching points meet depth/cos(s/2) from v.
func arcCorner(r Ring, v, e XY, turn, depth float64) Ring {
	n := e.Left()
	// depth/cos(s/2) - depth ≤ chordError
	widest := 2 * math.Acos(depth/(depth+chordError))
	steps := math.Ceil(-turn / widest)
	r = append(r, v.Add(n.Scale(depth)))
	if steps > 0 {
		step := turn / steps
		far := depth / math.Cos(step/2)
		for k := 0.5; k < steps; k++ {
			r = append(r, v.Add(rotate(n, k*step).Scale(far)))
		}
	}
	return append(r, v.Add(rotate(n, turn).Scale(depth)))
}

// mitredCorner draws both offset lines on to their meeting point, which lies
// depth/cos(turn/2) from v, or cuts them off at mitreLimit·depth.
func mitredCorner(r Ring, v, e XY, turn, depth float64) Ring {
	n := e.Left()
	half := -turn / 2
	r = append(r, v.Add(n.Scale(depth)))
	if far := depth / math.Cos(half); far <= mitreLimit*depth && math.Cos(half) > 0 {
		r = append(r, v.Add(rotate(n, -half).Scale(far)))
	} else {
		// Along the offset line until the cut, measured along the bisector:
		// depth·cos(half) + t·sin(half) = mitreLimit·depth.
		t := depth * (mitreLimit - math.Cos(half)) / math.Sin(half)
		r = append(r,
			v.Add(n.Scale(depth)).Add(e.Scale(t)),
			v.Add(rotate(n, turn).Scale(depth)).Sub(rotate(e, turn).Scale(t)))
	}
	return append(r, v.Add(rotate(n, turn).Scale(depth)))
}

func unit(a XY) XY { return a.Scale(1 / a.Len()) }

// rotate turns a by an angle in radians, counter-clockwise.
func rotate(a XY, angle float64) XY {
	s, c := math.Sincos(angle)
	return XY{a.X*c - a.Y*s, a.X*s + a.Y*c}
}
