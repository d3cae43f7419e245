package plan

import (
	"context"
	"math"

	"balk/geo/plane"
)

const (
	// corridorSlack: the rims of a corridor are thinned to so much, m. They lie twice as much nearer to the
	// boundary than half a width, so that the outermost round is inside them.
	corridorSlack = 0.05
	// seesFrom: a straight that goes no deeper beyond a rim only touches it, m.
	seesFrom = 1e-6
	// rimsFrom: of so many corners and more the sides of their rims spare looking at most. A straight that sees counts as open may lie
	// behind a rim by corridorSlack, which in necks of that width is the only way: of fewer corners all are looked at.
	rimsFrom = 500
)

// corridor is where a set may run with the tool lifted: a part of the field less some depth along boundary and obstacles. Its
// pieces do not hang together.
type corridor []*corridorPiece

type corridorPiece struct {
	rims    plane.Edges
	corners []plane.Corner // that stand into the ground: the shortest ways bend there
	detours *plane.Detours
}

func corridorOf(ctx context.Context, part plane.Polygon, depth float64) (corridor, error) {
	open, err := plane.Inset(ctx, []plane.Polygon{part}, depth)
	if err != nil {
		return nil, err
	}
	return corridorIn(open), nil
}

// corridorIn is all of some ground as a corridor.
func corridorIn(open []plane.Polygon) (c corridor) {
	for _, p := range open {
		piece := new(corridorPiece)
		for _, ring := range p {
			if ring = ring.Thinned(corridorSlack); len(ring) >= 3 {
				piece.add(ring)
			}
		}
		if piece.rims.Len() > 0 {
			if len(piece.corners) < rimsFrom {
				for k, one := range piece.corners {
					piece.corners[k] = plane.Bare(one.At)
				}
			}
			piece.detours = plane.NewDetours(piece.corners, piece.sees)
			c = append(c, piece)
		}
	}
	return c
}

// add adds a rim, the ground on its left.
func (c *corridorPiece) add(ring plane.Ring) {
	c.rims.Add(ring)
	for i, a := range ring {
		if before, after := ring[(i+len(ring)-1)%len(ring)], ring[(i+1)%len(ring)]; a.Sub(before).Cross(after.Sub(a)) < 0 {
			c.corners = append(c.corners, plane.Corner{At: a, Before: before, After: after})
		}
	}
}

// sees says whether the straight from a to b stays in the ground: it crosses no rim, and its middle is inside or on a rim.
func (c *corridorPiece) sees(a, b plane.XY) bool {
	d := b.Sub(a)
	long := d.Len()
	if long < seesFrom {
		return true
	}
	for k := range c.rims.Along(plane.Segment{A: a, B: b}) {
		rim := c.rims.At(k)
		from, to := d.Cross(rim.A.Sub(a))/long, d.Cross(rim.B.Sub(a))/long // m to the left of the straight
		if min(from, to) < -seesFrom && max(from, to) > seesFrom {
			along := rim.At(from/(from-to)).Sub(a).Dot(d) / long
			if along > seesFrom && along < long-seesFrom {
				return false
			}
		}
	}
	middle := a.Lerp(b, 0.5)
	return c.rims.Holds(middle) || c.rims.Near(middle, corridorSlack)
}

// at is the piece that p is in, or nearest to; nil: there is none.
func (c corridor) at(p plane.XY) *corridorPiece {
	for _, piece := range c {
		if piece.rims.Holds(p) {
			return piece
		}
	}
	var best *corridorPiece
	near := math.Inf(1)
	for _, piece := range c {
		if d := piece.rims.Within(p, near); d < near {
			best, near = piece, d
		}
	}
	return best
}

// entered is p, or where p lies beside the corridor the place on its rim next to it.
func (c corridor) entered(p plane.XY) plane.XY {
	piece := c.at(p)
	if piece == nil || piece.rims.Holds(p) {
		return p
	}
	k, _ := piece.rims.Nearest(p)
	return piece.rims.At(k).Nearest(p)
}

// run is the shortest way from a to b inside the corridor; nil where there is none.
func (c corridor) run(a, b plane.XY) []plane.XY {
	piece := c.at(a)
	if piece == nil || piece != c.at(b) {
		return nil
	}
	return piece.detours.Way(a, b)
}
