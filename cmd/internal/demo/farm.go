package demo

import (
	"math"
	"slices"
	"time"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// start of work on the invented day.
var start = time.Date(2026, time.April, 14, 6, 30, 0, 0, time.UTC)

// ground is one invented field in metres around its own centre, and how it is worked.
type ground struct {
	name   string
	slug   string // of the track's files
	days   int    // from start's day to that of the work
	centre orb.Point
	outer  plane.Ring // counter-clockwise
	holes  []plane.Ring
	along  float64 // heading of the passes, radians counter-clockwise from east
	set    string  // text of the implement's file
	rounds int     // headland rounds
	pace   float64 // m/s, at work
	uphill plane.XY
	faults []fault
}

// fault is what goes wrong at the pass in the interior that comes nearest to a place.
type fault struct {
	kind Kind
	near plane.XY
	size float64 // see Kind
}

func grounds() []ground {
	return []ground{
		{
			name: "Pond Piece (invented)", slug: "pond", centre: orb.Point{11.5731, 48.1371},
			outer: plane.Ring{{X: -96, Y: -118}, {X: 104, Y: -124}, {X: 112, Y: 20}, {X: 98, Y: 121}, {X: -90, Y: 112}},
			holes: []plane.Ring{pond(plane.XY{X: 22, Y: 14}, 13, 11)},
			along: 92 * math.Pi / 180, set: mounted, rounds: 3, pace: 8 / geo.Kmh, uphill: plane.XY{X: 0.012, Y: 0.021},
			faults: []fault{
				{Drifted, plane.XY{X: 60, Y: 32.05}, 0.45}, {Drifted, plane.XY{X: -20, Y: 0}, -0.35}, {LiftedEarly, plane.XY{X: -38, Y: 0}, 7}, {LoweredLate, plane.XY{X: 77, Y: 0}, 9},
				{Twice, plane.XY{X: -56, Y: 0}, 0}, {LogGap, plane.XY{X: 47, Y: 0}, 22}, {WorseFix, plane.XY{X: -8, Y: 0}, 0.12},
			},
		},
		{
			name: "Elbow Field (invented)", slug: "elbow", centre: orb.Point{11.5774, 48.1402},
			outer: bowed(plane.Ring{{X: -110, Y: -90}, {X: 108, Y: -96}, {X: 112, Y: -8}, {X: -12, Y: -4}, {X: -8, Y: 92.8}, {X: -104, Y: 96.8}}, 3, 14),
			along: -1.6 * math.Pi / 180, set: trailed, rounds: 4, pace: 9 / geo.Kmh, uphill: plane.XY{X: -0.015, Y: 0.008},
			faults: []fault{
				{Drifted, plane.XY{X: 20, Y: -50}, 0.5}, {LiftedEarly, plane.XY{X: 20, Y: -60}, 8}, {LoweredLate, plane.XY{X: -60, Y: 60}, 6},
				{LeftOut, plane.XY{X: -60, Y: 30}, 0}, {LogGap, plane.XY{X: -60, Y: 10}, 15},
			},
		},
		{
			name: "Long Ribbon (invented)", slug: "ribbon", centre: orb.Point{11.5668, 48.1419},
			outer: plane.Ring{{X: -262, Y: -30}, {X: -80, Y: -32.55}, {X: 255, Y: -29}, {X: 261, Y: 30}, {X: 60, Y: 32.05}, {X: -258, Y: 31}},
			set:   mounted, rounds: 3, pace: 8 / geo.Kmh, uphill: plane.XY{X: 0.018},
			faults: []fault{{Drifted, plane.XY{Y: 3}, 0.4}, {LiftedEarly, plane.XY{Y: -3}, 9}},
		},
	}
}

// again is the second operation on the first field: across the first, when what it cut had dried.
func again() ground {
	g := grounds()[0]
	g.slug, g.days, g.along = "pond-across", 8, 2*math.Pi/180
	g.faults = []fault{{LeftOut, plane.XY{X: -40, Y: -42}, 0}, {LiftedEarly, plane.XY{X: 0, Y: 66}, 8}, {LoweredLate, plane.XY{X: 0, Y: -66}, 6}}
	return g
}

// operations are all that there are logs of, in the order they were worked.
func operations() []ground { return append(grounds(), again()) }

// begin is when work began.
func (g ground) begin() time.Time { return start.AddDate(0, 0, g.days) }

// pond is an oval of so many sides that a set can follow it.
func pond(c plane.XY, a, b float64) plane.Ring {
	const sides = 32
	var ring plane.Ring
	for i := range sides {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / sides)
		ring = append(ring, plane.XY{X: c.X + a*cos, Y: c.Y + b*sin})
	}
	return ring
}

// bowed is a ring with one corner rounded to a radius.
func bowed(ring plane.Ring, corner int, r float64) plane.Ring {
	const sides = 8
	n := len(ring)
	at := ring[corner]
	in, out := at.Sub(ring[(corner+n-1)%n]).Unit(), ring[(corner+1)%n].Sub(at).Unit()
	turned := in.AngleTo(out)
	from := at.Sub(in.Scale(r * math.Tan(math.Abs(turned)/2)))
	side := in.Left().Scale(math.Copysign(r, turned))
	var arc plane.Ring
	for k := range sides + 1 {
		sin, cos := math.Sincos(turned * float64(k) / sides)
		arc = append(arc, from.Add(side).Sub(side.Scale(cos)).Add(in.Scale(r*math.Abs(sin))))
	}
	return slices.Concat(ring[:corner], arc, ring[corner+1:])
}

// polygon is the field on its plane, holes clockwise.
func (g ground) polygon() plane.Polygon {
	poly := plane.Polygon{g.outer}
	for _, h := range g.holes {
		ring := make(plane.Ring, 0, len(h))
		for i := range h {
			ring = append(ring, h[len(h)-1-i])
		}
		poly = append(poly, ring)
	}
	return poly
}

// boundary is the field in degrees, outer ring counter-clockwise, holes
// clockwise, rings closed.
func (g ground) boundary() orb.Polygon {
	l := geo.LocalAt(g.centre)
	var poly orb.Polygon
	for _, r := range g.polygon() {
		var ring orb.Ring
		for _, p := range r {
			ring = append(ring, rounded(l.Point(p)))
		}
		poly = append(poly, append(ring, ring[0]))
	}
	return poly
}

// rounded keeps 8 decimals (1 mm), as a receiver logs them.
func rounded(p orb.Point) orb.Point {
	return orb.Point{math.Round(p[0]*1e8) / 1e8, math.Round(p[1]*1e8) / 1e8}
}
