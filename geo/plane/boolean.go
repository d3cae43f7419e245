package plane

import (
	"context"
	"fmt"
	"slices"
)

// Lanes of the two operands of a boolean operation.
const (
	laneA = 0
	laneB = 1
)

// Union is the ground that lies in a, in b or in both.
//
// The four operations read each list by the nonzero rule: polygons of one list
// may overlap each other, the hole of one may be filled by another. Each
// polygon must be valid in itself (Mend makes it so); the sense of its rings
// does not matter. The result has no overlaps; ground thinner than 0.2 mm is
// left out of it (Question.Sliver).
func Union(ctx context.Context, a, b []Polygon) ([]Polygon, error) {
	return combine(ctx, "union", a, b, func(inA, inB bool) bool { return inA || inB })
}

// Intersection is the ground that lies both in a and in b. See Union.
func Intersection(ctx context.Context, a, b []Polygon) ([]Polygon, error) {
	return combine(ctx, "intersection", a, b, func(inA, inB bool) bool { return inA && inB })
}

// Difference is the ground that lies in a and not in b. See Union.
func Difference(ctx context.Context, a, b []Polygon) ([]Polygon, error) {
	return combine(ctx, "difference", a, b, func(inA, inB bool) bool { return inA && !inB })
}

// Split is the ground of a in two: what Intersection with b and what Difference from it are, but for rounding, of one arrangement.
func Split(ctx context.Context, a, b []Polygon) (in, out []Polygon, err error) {
	const within, without Class = 1, 2
	answer, err := Arrange(ctx, appendPolygons(appendPolygons(nil, a, laneA), b, laneB), Question{
		Classify: func(l Label) Class {
			switch {
			case l.Count(laneA) == 0:
				return 0
			case l.Count(laneB) == 0:
				return without
			}
			return within
		},
		Layers: []ClassSet{1 << within, 1 << without},
	})
	if err != nil {
		return nil, nil, fmt.Errorf("split of %d polygons along %d: %w", len(a), len(b), err)
	}
	return answer.Layers[0], answer.Layers[1], nil
}

// Mend reads rings by the even-odd rule: ground belongs to the result when a
// way out of it crosses the rings an odd number of times. Rings may cross
// themselves and each other and run either way; a ring inside another is a
// hole. What comes back is valid, and a valid polygon comes back with the same
// area.
func Mend(rings []Ring) ([]Polygon, error) {
	outlines := make([]Outline, 0, len(rings))
	for _, r := range rings {
		outlines = appendRing(outlines, r, laneA)
	}
	polys, err := selectWhere(context.Background(), outlines, func(l Label) bool { return l.Count(laneA)&1 != 0 })
	if err != nil {
		return nil, fmt.Errorf("mend %d rings: %w", len(rings), err)
	}
	return polys, nil
}

// Wound is the ground that a ring winds round, once or more, whichever way (the nonzero rule):
// where Mend takes ground away that is gone round twice, this keeps it.
func Wound(r Ring) ([]Polygon, error) {
	polys, err := selectWhere(context.Background(), appendRing(nil, r, laneA), func(l Label) bool { return l.Count(laneA) != 0 })
	if err != nil {
		return nil, fmt.Errorf("ground within a ring: %w", err)
	}
	return polys, nil
}

// Shared is how much ground lies in a alone, in b alone and in both, m². See Union.
func Shared(ctx context.Context, a, b []Polygon) (onlyA, onlyB, both float64, err error) {
	outlines := appendPolygons(appendPolygons(nil, a, laneA), b, laneB)
	got, err := Arrange(ctx, outlines, Question{Classify: func(l Label) Class {
		var c Class
		if l.Count(laneA) != 0 {
			c |= 1
		}
		if l.Count(laneB) != 0 {
			c |= 2
		}
		return c
	}})
	return got.Area[1], got.Area[2], got.Area[3], err
}

func combine(ctx context.Context, what string, a, b []Polygon, keep func(inA, inB bool) bool) ([]Polygon, error) {
	outlines := appendPolygons(appendPolygons(nil, a, laneA), b, laneB)
	polys, err := selectWhere(ctx, outlines, func(l Label) bool { return keep(l.Count(laneA) != 0, l.Count(laneB) != 0) })
	if err != nil {
		return nil, fmt.Errorf("%s of %d and %d polygons: %w", what, len(a), len(b), err)
	}
	return polys, nil
}

// wanted is the one class a yes-or-no question has beside the outside.
const wanted Class = 1

// selectWhere lays out the polygons of all places whose label is kept.
func selectWhere(ctx context.Context, outlines []Outline, keep func(Label) bool) ([]Polygon, error) {
	if len(outlines) == 0 {
		return nil, ctx.Err()
	}
	answer, err := Arrange(ctx, outlines, Question{
		Classify: func(l Label) Class {
			if keep(l) {
				return wanted
			}
			return 0
		},
		Layers: []ClassSet{1 << wanted},
	})
	if err != nil {
		return nil, err
	}
	return answer.Layers[0], nil
}

// appendPolygons adds the rings of all, see appendPolygon.
func appendPolygons(outlines []Outline, all []Polygon, lane int) []Outline {
	for _, p := range all {
		outlines = appendPolygon(outlines, p, lane)
	}
	return outlines
}

// appendPolygon adds the rings of p: the outer one counter-clockwise, its holes
// clockwise, whichever way they came.
func appendPolygon(outlines []Outline, p Polygon, lane int) []Outline {
	for i, r := range p {
		if outer := i == 0; outer != (r.Area() > 0) {
			r = slices.Clone(r)
			slices.Reverse(r)
		}
		outlines = appendRing(outlines, r, lane)
	}
	return outlines
}

// appendRing adds one ring, snapped, without repeated points. A ring of fewer
// than three points holds no ground and adds nothing.
func appendRing(outlines []Outline, r Ring, lane int) []Outline {
	if r = tidy(r); len(r) >= 3 {
		outlines = append(outlines, Outline{Line: r, Lane: lane})
	}
	return outlines
}

// tidy returns r snapped to the lattice and without points that repeat their
// predecessor. It never changes r.
func tidy(r Ring) Ring {
	out := make(Ring, 0, len(r))
	for _, p := range r {
		if p = Snap(p); len(out) == 0 || p != out[len(out)-1] {
			out = append(out, p)
		}
	}
	for len(out) > 1 && out[0] == out[len(out)-1] {
		out = out[:len(out)-1]
	}
	return out
}
