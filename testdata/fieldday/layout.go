package fieldday

import (
	"context"
	"fmt"
	"math"
	"sync"

	"balk/coverage/plan"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Paper is the plane on which all is driven: metres around an invented place.
var Paper = geo.LocalAt(orb.Point{11.5, 48.1})

// Layout is a field and the passes planned on it, in the order driven.
type Layout struct {
	Rings [][]plane.XY // boundary, then obstacles
	Legs  []Leg
	Depth float64 // m, of the headland
}

// Leg is one planned pass.
type Leg struct {
	Line  []plane.XY // of the middle of the bar
	Row   int        // 1, 2, 3 ... from the west; 0: in the headland
	South bool       // a row that begins at the north side
}

// Field is the layout's field as a file would have it.
func (l Layout) Field() geo.Field {
	var poly orb.Polygon
	for _, r := range l.Rings {
		ring := make(orb.Ring, 0, len(r)+1)
		for _, p := range r {
			ring = append(ring, Paper.Point(p))
		}
		poly = append(poly, append(ring, ring[0]))
	}
	return geo.Field{Name: "field day", Number: 1, Source: "field.geojson", Boundary: orb.MultiPolygon{poly}}
}

// inside is the layout whose boundary, a rectangle about the middle of Paper, lies so many metres farther in.
func (l Layout) inside(by float64) Layout {
	rings := make([][]plane.XY, len(l.Rings))
	for i, r := range l.Rings {
		for _, p := range r {
			rings[i] = append(rings[i], plane.XY{X: p.X - math.Copysign(by, p.X), Y: p.Y - math.Copysign(by, p.Y)})
		}
	}
	l.Rings = rings
	return l
}

// The sets: one on the three-point hitch, one on a drawbar. Both are invented.
const (
	overlap     = 0.10 // m
	axleToHitch = 0.9  // m
	antenna     = 0.5  // m ahead of the rear axle
	reach       = 4.2  // m, drawbar
	leastRadius = 6.5  // m
)

// set is what the tractor pulls.
func set(trailed bool) rig.Implement {
	im := rig.Implement{Name: "field day", Width: 6, Sections: []float64{1.5, 1.5, 1.5, 1.5}, Overlap: overlap, Mount: rig.Mount{AntennaAhead: antenna, Hitch: antenna + axleToHitch, BarBehind: 2.2}}
	if trailed {
		im.Width, im.Sections = 4.8, []float64{1.5, 1.8, 1.5}
		im.Mount.Trailed, im.Mount.Drawbar, im.Mount.BarBehind = true, reach, 1.2
	}
	return im
}

// behind is how far the bar runs behind the rear axle, m.
func behind(m rig.Mount) float64 { return m.HitchBehindAxle() + m.Drawbar + m.BarBehind }

// Sides of the field of straight rows, m.
const fieldX, fieldY = 200.0, 140.0

// early is how far rows reach into the headland at either end, m.
const early = 0.3

// rows is a field of 2.8 ha: two rounds in its headland, side by side, then rows north and south.
func rows(trailed bool) Layout {
	im := set(trailed)
	wide := im.Width - im.Overlap
	x, y := fieldX/2, fieldY/2
	l := Layout{Rings: [][]plane.XY{{{X: -x, Y: -y}, {X: x, Y: -y}, {X: x, Y: y}, {X: -x, Y: y}}}, Depth: 2 * wide}
	for round := range 2 {
		d := wide/2 + wide*float64(round)
		for _, leg := range [][]plane.XY{{{X: -x, Y: -y + d}, {X: x, Y: -y + d}}, {{X: x - d, Y: -y}, {X: x - d, Y: y}},
			{{X: x, Y: y - d}, {X: -x, Y: y - d}}, {{X: -x + d, Y: y}, {X: -x + d, Y: -y}}} {
			l.Legs = append(l.Legs, Leg{Line: leg})
		}
	}
	n := int(math.Ceil((fieldX-2*l.Depth)/wide - 0.02))
	for i := range n {
		at := min(-x+l.Depth+wide*(float64(i)+0.5), x-l.Depth-wide/2)
		from, to := plane.XY{X: at, Y: -y + l.Depth - early}, plane.XY{X: at, Y: y - l.Depth + early}
		if i%2 == 1 {
			from, to = to, from
		}
		l.Legs = append(l.Legs, Leg{Line: []plane.XY{from, to}, Row: i + 1, South: i%2 == 1})
	}
	return l
}

// neverEarly is so high a price, h/ha, of what is missed that no row ends before the headland to have room for its turn.
const neverEarly = 1e4

// bent is a field with a curved side, along which its passes run, and a pond, as coverage/plan lays it out.
func bent(trailed bool) (Layout, error) {
	var rim plane.Ring
	const radius, half = 260.0, 0.4 // m, rad: the south side is an arc of some 200 m
	for k := range 41 {
		sin, cos := math.Sincos(-math.Pi/2 - half + 2*half*float64(k)/40)
		rim = append(rim, plane.XY{X: radius * cos, Y: radius + radius*sin - 60})
	}
	rim = append(rim, plane.XY{X: 95, Y: 75}, plane.XY{X: -100, Y: 70})
	pond := plane.Ring{{X: 20, Y: 10}, {X: 16, Y: 24}, {X: 30, Y: 30}, {X: 40, Y: 16}}
	im := set(trailed)
	im.Tractor, im.Body = rig.Tractor{Ahead: 4.2, Behind: 0.9, Width: 2.5}, rig.Body{Ahead: 0.9, Behind: 0.5}
	if trailed {
		im.Mount.DrawbarRadius = leastRadius // the plan is to turn; the file says nothing of it
	}
	im.Turning = rig.Turning{Radius: leastRadius, Speed: 6, Margin: 0.5}
	p, err := plan.Lay(context.Background(), []plane.Polygon{{rim, pond}}, im, plan.Options{AlongLongest: true, Rounds: 2, Speed: 8, MissedHours: neverEarly})
	if err != nil {
		return Layout{}, fmt.Errorf("field day: %w", err)
	}
	l := Layout{Rings: [][]plane.XY{rim, pond}, Depth: p.Depth}
	for i, one := range p.Passes {
		row := 0
		if one.Round == 0 {
			row = i + 1
		}
		l.Legs = append(l.Legs, Leg{Line: one.Line, Row: row})
	}
	return l, nil
}

// layouts are worked out once.
var layouts sync.Map // of laid to func() (Layout, error)

type laid struct{ bent, trailed bool }

func layoutOf(which laid) (Layout, error) {
	make, _ := layouts.LoadOrStore(which, sync.OnceValues(func() (Layout, error) {
		if which.bent {
			return bent(which.trailed)
		}
		return rows(which.trailed), nil
	}))
	return make.(func() (Layout, error))()
}
