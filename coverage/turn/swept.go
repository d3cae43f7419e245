package turn

import (
	"context"
	"fmt"
	"slices"

	"balk/geo/plane"
)

// Ground is what a turn takes, m².
type Ground struct {
	Both []plane.Polygon // swept by tractor or implement
	Area float64         // m², of it
}

const (
	laneTractor   = 0
	laneImplement = 1
)

// Swept is the ground that the outlines of tractor and implement pass over.
//
//  1. Every point swept lies within Drive's fine of the ground given, and every point
//     of the ground within fine of a point swept, for the set as driven.
//  2. Areas are exact for that: a line of length l may be off by fine, so an area by fine × its perimeter at most.
//
// Between two moments every point of an outline is taken straight. Then a side AB sweeps the quadrilateral
// A0 B0 B1 A1, and a rectangle sweeps itself at the start and what its four sides sweep: to get
// under a place it must bring a side over it. (The hull of both rectangles would be too much by a
// quarter of the side's length times the angle turned, at every step.)
//
//	A1 ──────── B1      A1    B0     a flank mostly crosses itself: two triangles on either
//	│            │      │  ╲╱  │     side of X. Neighbours that run the same way round make one
//	A0 ──────── B0      A0 ╱╲ B1     outline, for X and the next X lie on the side between them.
func (d *Driven) Swept(ctx context.Context) (Ground, error) {
	var lines []plane.Outline
	for lane, body := range d.quads {
		if d.tip[lane].half == 0 {
			continue
		}
		lines = appendSwept(lines, body, lane)
	}
	const both, tractor, implement = 3, 1, 2
	answer, err := plane.Arrange(ctx, lines, plane.Question{
		Classify: func(l plane.Label) plane.Class {
			var c plane.Class
			if l.Count(laneTractor) != 0 {
				c |= tractor
			}
			if l.Count(laneImplement) != 0 {
				c |= implement
			}
			return c
		},
		Layers:  []plane.ClassSet{1<<tractor | 1<<implement | 1<<both},
		Workers: 1,
	})
	if err != nil {
		return Ground{}, fmt.Errorf("swept ground: %w", err)
	}
	return Ground{answer.Layers[0], answer.Area[tractor] + (answer.Area[implement] + answer.Area[both])}, nil
}

// stroke is how a side goes from one moment to the next.
type stroke struct {
	sense int      // +1 counter-clockwise, −1 clockwise (of the triangle at A in a bow-tie), 0 neither
	bow   bool     // it crosses itself at x
	x     plane.XY // where
}

// strokeOf looks at the quadrilateral A0 B0 B1 A1 of a side.
func strokeOf(a0, b0, a1, b1 plane.XY) stroke {
	left, right := 0, 0
	ring := [4]plane.XY{a0, b0, b1, a1}
	for i, p := range ring {
		q, r := ring[(i+1)%4], ring[(i+2)%4]
		if c := q.Sub(p).Cross(r.Sub(q)); c > 0 {
			left++
		} else if c < 0 {
			right++
		}
	}
	switch 4 {
	case left:
		return stroke{sense: 1}
	case right:
		return stroke{sense: -1}
	}
	d, e := b0.Sub(a0), b1.Sub(a1)
	turn := d.Cross(e)
	if turn == 0 || !(plane.Segment{A: a0, B: b0}).Crosses(plane.Segment{A: a1, B: b1}) {
		return stroke{}
	}
	x := a0.Lerp(b0, max(0, min(1, a1.Sub(a0).Cross(e)/turn)))
	if x.Sub(a0).Cross(a1.Sub(a0)) > 0 {
		return stroke{1, true, x}
	}
	return stroke{-1, true, x}
}

// appendSwept adds the outlines of what one rectangle sweeps, all counter-clockwise.
func appendSwept(lines []plane.Outline, body []quad, lane int) []plane.Outline {
	lines = appendRound(lines, body[0].ring(), lane)
	for side := range 4 {
		ends := func(k int) (a, b plane.XY) { return body[k][side], body[k][(side+1)%4] }
		var run []stroke
		for k := range len(body) - 1 {
			a0, b0 := ends(k)
			a1, b1 := ends(k + 1)
			s := strokeOf(a0, b0, a1, b1)
			if n := len(run); n > 0 && (s.sense != run[0].sense || s.bow != run[0].bow) {
				lines = appendRun(lines, body[k-n:k+1], side, run, lane)
				run = run[:0]
			}
			if s.sense != 0 {
				run = append(run, s)
				continue
			}
			// Not convex, or flat: the diagonal that lies inside parts it. Both triangles then have one sense.
			one, two := plane.Ring{a0, b0, b1}, plane.Ring{a0, b1, a1}
			if one.Area()*two.Area() < 0 {
				one, two = plane.Ring{b0, b1, a1}, plane.Ring{b0, a1, a0}
			}
			lines = appendRound(appendRound(lines, one, lane), two, lane)
		}
		if n := len(run); n > 0 {
			lines = appendRun(lines, body[len(body)-1-n:], side, run, lane)
		}
	}
	return lines
}

// appendRun adds strokes of one kind that follow each other: one outline of the ways of
// both ends, or for bow-ties one at each end.
func appendRun(lines []plane.Outline, body []quad, side int, run []stroke, lane int) []plane.Outline {
	var a, b, x plane.Ring
	for _, q := range body {
		a, b = append(a, q[side]), append(b, q[(side+1)%4])
	}
	for _, s := range slices.Backward(run) {
		x = append(x, s.x)
	}
	if !run[0].bow {
		slices.Reverse(b)
		return appendRound(lines, append(a, b...), lane)
	}
	return appendRound(appendRound(lines, append(a, x...), lane), append(b, x...), lane)
}

// appendRound adds a ring, counter-clockwise.
func appendRound(lines []plane.Outline, r plane.Ring, lane int) []plane.Outline {
	a := r.Area()
	if a == 0 {
		return lines
	}
	if a < 0 {
		slices.Reverse(r)
	}
	return append(lines, plane.Outline{Line: r, Lane: lane})
}
