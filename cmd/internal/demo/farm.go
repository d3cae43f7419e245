package demo

import (
	"math"
	"time"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// The implement and the tractor of the invented farm.
const (
	Width    = 5.0     // m
	Overlap  = 0.10    // m
	Rounds   = 2       // headland rounds
	speed    = 8 / 3.6 // m/s: 8 km/h
	turn     = 5 / 3.6 // m/s while turning
	credited = Width - Overlap
)

// start of work on the invented day.
var start = time.Date(2026, time.April, 14, 6, 30, 0, 0, time.UTC)

// ground is one invented field in metres around its own centre.
type ground struct {
	name   string
	slug   string // of the track's files
	centre orb.Point
	outer  plane.Ring // counter-clockwise
	holes  []plane.Ring
	along  float64 // heading of the passes, radians counter-clockwise from east
	faults faults
}

// faults are what went wrong on a field, by number of the pass (0, 1, 2 ... in
// the order driven).
type faults struct {
	drift   map[int]float64 // m the middle of the pass bends aside
	early   map[int]float64 // m lifted too early
	late    map[int]float64 // m lowered too late
	twice   map[int]bool    // driven once more
	skipped map[int]bool    // not driven
	logGap  map[int]float64 // s without a fix in the middle of the pass
}

func grounds() []ground {
	return []ground{
		{
			name: "Pond Piece (invented)", slug: "pond", centre: orb.Point{11.5731, 48.1371},
			outer: plane.Ring{{X: -96, Y: -118}, {X: 104, Y: -124}, {X: 112, Y: 20}, {X: 98, Y: 121}, {X: -90, Y: 112}},
			holes: []plane.Ring{octagon(plane.XY{X: 22, Y: 14}, 13)},
			along: 92 * math.Pi / 180,
			faults: faults{
				drift: map[int]float64{5: 0.35, 11: -0.28, 12: 0.42, 27: 0.30},
				early: map[int]float64{8: 7, 21: 4}, late: map[int]float64{9: 5, 30: 9},
				twice: map[int]bool{16: true}, logGap: map[int]float64{24: 22},
			},
		},
		{
			name: "Elbow Field (invented)", slug: "elbow", centre: orb.Point{11.5774, 48.1402},
			outer: plane.Ring{{X: -110, Y: -90}, {X: 108, Y: -96}, {X: 112, Y: -8}, {X: -12, Y: -4}, {X: -8, Y: 94}, {X: -104, Y: 98}},
			along: -1.6 * math.Pi / 180,
			faults: faults{
				drift: map[int]float64{3: 0.5, 9: 0.25, 22: -0.3},
				early: map[int]float64{6: 11}, late: map[int]float64{14: 6},
				skipped: map[int]bool{18: true}, logGap: map[int]float64{12: 15},
			},
		},
		{
			name: "Long Ribbon (invented)", slug: "ribbon", centre: orb.Point{11.5668, 48.1419},
			outer: plane.Ring{{X: -262, Y: -22}, {X: -80, Y: -27}, {X: 255, Y: -20}, {X: 261, Y: 21}, {X: 60, Y: 27}, {X: -258, Y: 24}},
			along: 0,
			faults: faults{
				drift: map[int]float64{1: 0.4, 4: -0.35},
				early: map[int]float64{2: 9}, twice: map[int]bool{5: true},
			},
		},
	}
}

func octagon(c plane.XY, r float64) plane.Ring {
	var ring plane.Ring
	for i := range 8 {
		a := float64(i) * math.Pi / 4
		ring = append(ring, plane.XY{X: c.X + r*math.Cos(a), Y: c.Y + 0.8*r*math.Sin(a)})
	}
	return ring
}

// boundary is the field in degrees, outer ring counter-clockwise, holes
// clockwise, rings closed.
func (g ground) boundary() orb.Polygon {
	l := geo.LocalAt(g.centre)
	degrees := func(r plane.Ring) orb.Ring {
		var out orb.Ring
		for _, p := range r {
			out = append(out, rounded(l.Point(p)))
		}
		return append(out, out[0])
	}
	poly := orb.Polygon{degrees(g.outer)}
	for _, h := range g.holes {
		ring := degrees(h)
		ring.Reverse()
		poly = append(poly, ring)
	}
	return poly
}

// rounded keeps 8 decimals (1 mm), as a receiver logs them.
func rounded(p orb.Point) orb.Point {
	return orb.Point{math.Round(p[0]*1e8) / 1e8, math.Round(p[1]*1e8) / 1e8}
}

// inset moves every side of a ring to its left by d and lets neighbours meet
// again: the path of a headland round. It suits rings whose sides are all much
// longer than d, as those above are; it is no general offset (geo/plane has it).
func inset(r plane.Ring, d float64) plane.Ring {
	n := len(r)
	out := make(plane.Ring, n)
	for i := range r {
		a, b, c := r[(i+n-1)%n], r[i], r[(i+1)%n]
		u, v := unit(b.Sub(a)), unit(c.Sub(b))
		p, q := b.Add(u.Left().Scale(d)), b.Add(v.Left().Scale(d))
		t := q.Sub(p).Cross(v) / u.Cross(v) // p + t·u lies on the line q, v
		out[i] = p.Add(u.Scale(t))
	}
	return out
}

func unit(a plane.XY) plane.XY { return a.Scale(1 / a.Len()) }

// cuts are the places where the line through o along u crosses the ring, as
// distances from o, ascending; an even number, since the ring is closed.
func cuts(r plane.Ring, o, u plane.XY) []float64 {
	var at []float64
	for i, a := range r {
		b := r[(i+1)%len(r)]
		sa, sb := u.Cross(a.Sub(o)), u.Cross(b.Sub(o))
		if (sa > 0) == (sb > 0) {
			continue
		}
		at = append(at, a.Lerp(b, sa/(sa-sb)).Sub(o).Dot(u))
	}
	return at
}
