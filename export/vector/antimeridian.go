package vector

import (
	"context"
	"math"

	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Both sides of the antimeridian: a polygon or line across it is written as parts that lie on one side each and meet on it
// (RFC 7946, 3.1.9). Only what the set did (writeStates) stays uncut, as it is read back fix by fix.

const (
	// meridianStep is how far apart places on the antimeridian are taken. On the plane of a field it is bent: 5 km from the centre
	// a chord of this length is off by 5 µm.
	meridianStep = 0.005 // degrees of latitude, 560 m
	// fieldReach: no place of a field or log lies so far from its plane's centre, m.
	fieldReach = 100e3
	// onMeridian: what lies nearer to the antimeridian than that lies on it, 0.1 mm.
	onMeridian = 1e-9 // degrees
)

// Halved is a line as it is, or in parts where it goes across the antimeridian.
func Halved(line orb.LineString) orb.Geometry {
	var parts orb.MultiLineString
	from := 0
	ahead := orb.LineString(nil) // where the part under way begins on the antimeridian
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		if math.Abs(b[0]-a[0]) <= halfTurn {
			continue
		}
		side := math.Copysign(halfTurn, a[0])
		way, share := b[0]+2*side-a[0], 0.0
		if way != 0 {
			share = (side - a[0]) / way
		}
		lat := a[1] + share*(b[1]-a[1])
		parts = append(parts, append(append(ahead, line[from:i]...), orb.Point{side, lat}))
		ahead, from = orb.LineString{{-side, lat}}, i
	}
	if parts == nil {
		return line
	}
	return append(parts, append(ahead, line[from:]...))
}

// halved is a shape as it is, or in degrees and in parts where it goes across the antimeridian.
func (g shape) halved() (shape, error) {
	if g.local == nil {
		return g, nil
	}
	centre := g.local.Centre
	if (halfTurn-math.Abs(centre[0]))*math.Cos(centre[1]*math.Pi/180)*metresPerDegree > fieldReach {
		return g, nil
	}
	if g.area == nil {
		line := make(orb.LineString, len(g.line))
		for i, q := range g.line {
			line[i] = g.local.Point(q)
		}
		return shape{degrees: Halved(line)}, nil
	}
	south, north, across := math.Inf(1), math.Inf(-1), 0
	for _, q := range g.area[0] {
		p := g.local.Point(q)
		south, north = min(south, p[1]), max(north, p[1])
		if p[0]*centre[0] < 0 {
			across++
		}
	}
	if across == 0 || across == len(g.area[0]) || !(south <= north) { // no number: told when it is rounded
		return g, nil
	}
	box := g.area[0].Bounds().Grown(1)
	var meridian plane.Ring // from south to north
	for lat := south - meridianStep; lat < north+2*meridianStep; lat += meridianStep {
		meridian = append(meridian, g.local.XY(orb.Point{halfTurn, lat}))
	}
	first, last := meridian[0].Y, meridian[len(meridian)-1].Y
	var parts orb.MultiPolygon
	for _, side := range []struct{ far, lon float64 }{{box.Min.X, halfTurn}, {box.Max.X, -halfTurn}} {
		half := append(meridian[:len(meridian):len(meridian)], plane.XY{X: side.far, Y: last}, plane.XY{X: side.far, Y: first})
		pieces, err := plane.Intersection(context.Background(), []plane.Polygon{g.area}, []plane.Polygon{{half}})
		if err != nil {
			return shape{}, err
		}
		for _, piece := range pieces {
			part := make(orb.Polygon, len(piece))
			for k, ring := range piece {
				for _, q := range ring {
					p := g.local.Point(q)
					if p[0]*side.lon < 0 || math.Abs(p[0]) > halfTurn-onMeridian {
						p[0] = side.lon
					}
					part[k] = append(part[k], p)
				}
				part[k] = append(part[k], part[k][0])
			}
			parts = append(parts, part)
		}
	}
	return shape{degrees: parts}, nil
}

const metresPerDegree = 111e3 // of latitude, near enough
