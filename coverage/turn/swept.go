package turn

import (
	"context"
	"fmt"
	"slices"

	"balk/geo/plane"
)

// Ground is what a turn takes, m².
type Ground struct {
	Both      []plane.Polygon // swept by tractor or implement
	Area      float64         // m², of it
	Tractor   float64         // m², swept by the tractor
	Implement float64         // m², swept by the implement
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
//	A1 ──────── B1
//	│            │    neighbours that run the same way round make one outline;
//	A0 ──────── B0    a side that crosses itself (bow-tie) counts as two triangles
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
	g := Ground{Both: answer.Layers[0], Tractor: answer.Area[tractor] + answer.Area[both], Implement: answer.Area[implement] + answer.Area[both]}
	g.Area = answer.Area[tractor] + g.Implement
	return g, nil
}

// appendSwept adds the outlines of what one rectangle sweeps, all counter-clockwise.
func appendSwept(lines []plane.Outline, body []quad, lane int) []plane.Outline {
	if len(body) == 0 {
		return lines
	}
	lines = appendRound(lines, body[0].ring(), lane)
	for side := range 4 {
		run, way := 0, 0.0 // the run of quadrilaterals that began at moment run, and its sense
		for k := range body {
			sense := 0.0
			if k+1 < len(body) {
				sense = sweeps(body[k], body[k+1], side)
			}
			if k > run && sense != way {
				lines = appendRound(lines, runOutline(body[run:k+1], side), lane)
				run, way = k, 0
			}
			if k+1 == len(body) {
				break
			}
			if way = sense; sense == 0 {
				lines = appendBow(lines, body[k], body[k+1], side, lane)
				run = k + 1
			}
		}
	}
	return lines
}

// sweeps is the sense in which a side sweeps from one moment to the next: +1, −1,
// or 0 where that is no convex quadrilateral.
func sweeps(from, to quad, side int) float64 {
	a0, b0, a1, b1 := from[side], from[(side+1)%4], to[side], to[(side+1)%4]
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
		return 1
	case right:
		return -1
	}
	return 0
}

func runOutline(run []quad, side int) plane.Ring {
	r := make(plane.Ring, 0, 2*len(run))
	for _, q := range run {
		r = append(r, q[(side+1)%4])
	}
	for _, q := range slices.Backward(run) {
		r = append(r, q[side])
	}
	return r
}

// appendBow adds a side's sweep that is no convex quadrilateral: two triangles on
// either side of where it crosses itself, or of a diagonal.
func appendBow(lines []plane.Outline, from, to quad, side, lane int) []plane.Outline {
	a0, b0, a1, b1 := from[side], from[(side+1)%4], to[side], to[(side+1)%4]
	d, e := b0.Sub(a0), b1.Sub(a1)
	if turn := d.Cross(e); turn != 0 && (segment{a0, b0}).crosses(segment{a1, b1}) {
		x := a0.Lerp(b0, max(0, min(1, a1.Sub(a0).Cross(e)/turn)))
		lines = appendRound(lines, plane.Ring{a0, x, a1}, lane)
		return appendRound(lines, plane.Ring{b0, x, b1}, lane)
	}
	// Not convex, or flat: the diagonal that lies inside parts it. Both triangles then have one sense.
	one, two := plane.Ring{a0, b0, b1}, plane.Ring{a0, b1, a1}
	if one.Area()*two.Area() < 0 {
		one, two = plane.Ring{b0, b1, a1}, plane.Ring{b0, a1, a0}
	}
	return appendRound(appendRound(lines, one, lane), two, lane)
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
