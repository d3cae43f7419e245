package vector

import (
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// shape is the geometry of a feature before rounding: degrees, or else metres
// on the plane of local. Metres become degrees while they are rounded, so that a
// layer being streamed is never held twice.
type shape struct {
	degrees orb.Geometry
	local   *geo.Local
	area    plane.Polygon
	line    []plane.XY
}

// parts is how many polygons or lines the shape has; many: it is of a kind that
// may have several.
func (g shape) parts() (n int, many bool) {
	switch d := g.degrees.(type) {
	case orb.MultiPolygon:
		return len(d), true
	case orb.MultiLineString:
		return len(d), true
	}
	return 1, false
}

func (g shape) rings(part int) int {
	if d, ok := manyOf(g.degrees).(orb.MultiPolygon); ok {
		return len(d[part])
	}
	return len(g.area)
}

// trace adds the positions of a ring of a part, or of a line if the shape has no
// rings, to the places of s.
func (g shape) trace(s *rounding, part, ring, dec int) {
	switch d := manyOf(g.degrees).(type) {
	case orb.MultiPolygon:
		s.addAll(d[part][ring], dec)
	case orb.MultiLineString:
		s.addAll(d[part], dec)
	case orb.Point:
		s.add(d, dec)
	case nil:
		metres := g.line
		if g.area != nil {
			metres = g.area[ring]
		}
		for _, q := range metres {
			s.add(g.local.Point(q), dec)
		}
	}
}

func (s *rounding) addAll(pts []orb.Point, dec int) {
	for _, p := range pts {
		s.add(p, dec)
	}
}

// halved is a shape in the parts in which it is written.
func (s *rounding) halved(g shape) shape {
	parts, err := g.halved()
	if err != nil {
		s.fail(g.local.Centre, acrossAntimeridian+": "+err.Error())
		return g
	}
	return parts
}

// eachPart rounds a shape and calls do with what each part of it became: the
// open rings of a polygon, or the one line, or the one position. Parts that
// vanish are left out and counted.
func (s *rounding) eachPart(kind Kind, g shape, do func(rings [][]place, dec int)) {
	n, _ := g.parts()
	for part := range n {
		var rings [][]place
		dec := decimals
		if s.whole {
			dec = stateDecimals
		}
		switch kind {
		case Areas:
			rings, dec = s.polygon(g.rings(part), func(ring, dec int) { g.trace(s, part, ring, dec) })
		case Lines:
			if line := s.line(func() { g.trace(s, part, 0, dec) }); line != nil {
				rings = append(s.kept[:0], line)
			}
		case Points:
			s.places = s.places[:0]
			g.trace(s, part, 0, dec)
			rings = append(s.kept[:0], s.places)
		}
		if s.fault != nil {
			return
		}
		if len(rings) > 0 {
			do(rings, dec)
		}
	}
}

// geometry is a shape rounded, in degrees; nil if nothing of it is left.
func (s *rounding) geometry(kind Kind, g shape) orb.Geometry {
	g = s.halved(g)
	var polygons orb.MultiPolygon
	var lines orb.MultiLineString
	var at orb.Geometry
	s.eachPart(kind, g, func(rings [][]place, dec int) {
		switch kind {
		case Areas:
			poly := make(orb.Polygon, len(rings))
			for i, r := range rings {
				poly[i] = append(orb.Ring(degrees(r, dec)), r[0].point(dec))
			}
			polygons = append(polygons, poly)
		case Lines:
			lines = append(lines, degrees(rings[0], dec))
		case Points:
			at = rings[0][0].point(dec)
		}
	})
	_, many := g.parts()
	switch {
	case at != nil:
		return at
	case len(polygons) > 0 && many:
		return polygons
	case len(polygons) > 0:
		return polygons[0]
	case len(lines) > 0 && many:
		return lines
	case len(lines) > 0:
		return lines[0]
	}
	return nil
}

func degrees(places []place, dec int) []orb.Point {
	pts := make([]orb.Point, len(places), len(places)+1)
	for i, p := range places {
		pts[i] = p.point(dec)
	}
	return pts
}
