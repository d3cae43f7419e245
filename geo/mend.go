package geo

import (
	"context"
	"fmt"
	"math"

	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// mended is the boundary mended, with a finding that says so, and what it did to the area: a large
// change counts as ground that could not be used. holes says which rings are holes by the file.
func (c *ringCheck) mended(rings []orb.Ring, holes []bool, f *fault) (orb.MultiPolygon, error) {
	why := c.breaks(f)
	var out orb.MultiPolygon
	var before, after float64
	if len(rings) > 0 {
		if c.Parts == nil {
			holes = against(rings)
		}
		var err error
		if out, before, after, err = mend(rings, holes); err != nil {
			return nil, fmt.Errorf("%w\nmending failed: %w", why, err)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("%w\nmending left no ground", why)
	}
	what := fmt.Sprintf("boundary ring %d breaks the rule %q: mended, %.4f ha before → %.4f ha after; what a ring goes round counts, however often, and less what rings within it go round",
		f.ring+1, string(f.rule), before/1e4, after/1e4)
	large := math.Abs(after-before) > largeChange*before
	if large {
		what += fmt.Sprintf("; a change of more than %g %%: look at the boundary", 100*largeChange)
	}
	c.say(Place(f.at[0], f.at[1]), large, what)
	return out, nil
}

// largeChange is the share of a boundary's area by which mending may change it before that is
// a loss: a kink or a loop at a corner takes less.
const largeChange = 0.02

// against says which rings run against the largest one, as holes do in a file that does not
// say which are.
func against(rings []orb.Ring) []bool {
	areas, most := make([]float64, len(rings)), 0.0
	for i, r := range rings {
		if areas[i] = ringArea(r); math.Abs(areas[i]) > math.Abs(most) {
			most = areas[i]
		}
	}
	out := make([]bool, len(rings))
	for i, a := range areas {
		out[i] = a*most < 0
	}
	return out
}

// mend makes a boundary of rings that cross. Each ring by itself holds what it winds round: a
// boundary driven round twice is the field, and both lobes of an eight are. Rings of one
// direction that cross are rounds of one thing, and held together; beyond that ground counts
// where an odd number of rings lies around it. The work is done in the metric plane.
// before is the area in m² that the rings shut in: outer ones less holes; after that of the result.
func mend(rings []orb.Ring, holes []bool) (out orb.MultiPolygon, before, after float64, err error) {
	local, flat, err := flatten(rings)
	if err != nil {
		return nil, 0, 0, err
	}
	ground := make([][]plane.Polygon, len(flat))
	for i, r := range flat {
		if ground[i], err = plane.Wound(r); err != nil {
			return nil, 0, 0, err
		}
		shut, err := shutIn(ground[i], r)
		if err != nil {
			return nil, 0, 0, err
		}
		if holes[i] {
			shut = -shut
		}
		before += shut
	}
	if err = withinOuter(ground, holes); err != nil {
		return nil, 0, 0, err
	}
	if ground, err = rounds(flat, ground); err != nil {
		return nil, 0, 0, err
	}
	var all []plane.Ring
	for _, g := range ground {
		for _, p := range g {
			all = append(all, p...)
		}
	}
	polys, err := plane.Mend(all)
	if err != nil {
		return nil, 0, 0, err
	}
	for _, poly := range polys {
		var op orb.Polygon
		for k, r := range poly {
			ring := make(orb.Ring, 0, len(r)+1)
			for _, q := range r {
				ring = append(ring, local.Point(q))
			}
			ring = append(ring, ring[0])
			op = append(op, directed(ring, k == 0))
		}
		out = append(out, op)
		after += poly.Area()
	}
	return out, max(0, before), after, nil
}

// withinOuter cuts off what of a hole sticks out of all outer rings: it takes ground away, and adds none. A hole that lies
// outside altogether is no hole, whatever the file says, and stays.
func withinOuter(ground [][]plane.Polygon, holes []bool) error {
	ctx := context.Background()
	var outer []plane.Polygon
	var err error
	for i, g := range ground {
		if !holes[i] {
			if outer, err = plane.Union(ctx, outer, g); err != nil {
				return err
			}
		}
	}
	for i, g := range ground {
		if !holes[i] || len(g) == 0 || len(outer) == 0 {
			continue
		}
		out, err := plane.Difference(ctx, g, outer)
		if err != nil {
			return err
		}
		if len(out) == 0 {
			continue
		}
		in, err := plane.Difference(ctx, g, out)
		if err != nil {
			return err
		}
		if len(in) > 0 {
			ground[i] = in
		}
	}
	return nil
}

// shutIn is the area in m² that a ring keeps from the outside. Between two rounds in opposite
// directions it winds round no ground but slivers that touch; then the outside is drawn back a
// little, so that it does not come in where they touch.
func shutIn(ground []plane.Polygon, r plane.Ring) (float64, error) {
	area := 0.0
	for _, p := range ground {
		area += p.Area()
	}
	if area >= plane.Hull(r).Area()/2 {
		return area, nil
	}
	ctx := context.Background()
	const back, rim = 0.01, 1.0 // m, drawn back; beyond the ring, so that the outside is one piece
	b := r.Bounds()
	frame := plane.Polygon{{{X: b.Min.X - rim, Y: b.Min.Y - rim}, {X: b.Max.X + rim, Y: b.Min.Y - rim}, {X: b.Max.X + rim, Y: b.Max.Y + rim}, {X: b.Min.X - rim, Y: b.Max.Y + rim}}}
	outside, err := plane.Difference(ctx, []plane.Polygon{frame}, ground)
	if err != nil {
		return 0, err
	}
	rings, err := plane.InsetRings(ctx, outside, back)
	if err != nil {
		return 0, err
	}
	shut := 0.0
	for _, hole := range rings {
		if a := -hole.Area(); a > shut {
			shut = a - back*hole.Perimeter()
		}
	}
	return max(shut, area), nil
}

// nearlySame is the share of common ground from which two rings of one direction are two rounds of
// one thing, though one lies within the other: no obstacle is as large as the field.
const nearlySame = 0.9

// rounds puts together the ground of rings that run in one direction and cross, or are nearly the same:
// what is left of the others stays where it was, and is nil where it went to an earlier ring.
func rounds(flat []plane.Ring, ground [][]plane.Polygon) ([][]plane.Polygon, error) {
	ctx := context.Background()
	of := make([]int, len(flat)) // the first ring of the same thing
	type size struct {
		area, perimeter float64
		box             plane.Box
	}
	sizes := make([]size, len(flat))
	for i, r := range flat {
		of[i], sizes[i] = i, size{r.Area(), r.Perimeter(), r.Bounds()}
	}
	for i, a := range sizes {
		for j, b := range sizes[:i] {
			if a.area*b.area <= 0 || of[i] == of[j] || a.box.Min.X > b.box.Max.X || b.box.Min.X > a.box.Max.X || a.box.Min.Y > b.box.Max.Y || b.box.Min.Y > a.box.Max.Y {
				continue
			}
			onlyA, onlyB, both, err := plane.Shared(ctx, ground[i], ground[j])
			if err != nil {
				return nil, err
			}
			slight := thin * (a.perimeter + b.perimeter)
			if both > slight && onlyA > slight && onlyB > slight || both >= nearlySame*(onlyA+onlyB+both) {
				from, to := max(of[i], of[j]), min(of[i], of[j])
				for k := range of {
					if of[k] == from {
						of[k] = to
					}
				}
			}
		}
	}
	out := make([][]plane.Polygon, len(flat))
	for i, g := range ground {
		if of[i] == i {
			out[i] = g
			continue
		}
		var err error
		if out[of[i]], err = plane.Union(ctx, out[of[i]], g); err != nil {
			return nil, err
		}
	}
	return out, nil
}
