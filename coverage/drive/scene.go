package drive

import (
	"math"

	"balk/geo/plane"
)

// zone is where a place lies, seen from the boundary.
type zone uint8

const (
	zoneCore     zone = iota // in the field, farther from the boundary than the headland is deep
	zoneHeadland             // in the headland; without one no place is
	zoneRim                  // outside by less than half the working width: part of the bar may still be in
	zoneOutside              // farther out, or in an obstacle
	zoneAway                 // so far out that no turn leads there
)

// awayFrom: a set farther outside than this is on its way to or from the field.
// The widest bulbs need two turning radii of 12 m (common practice, no source).
const awayFrom = 30.0 // m

// rim is a ring of the boundary.
type rim struct {
	ring plane.Ring
	hole bool
}

// scene answers where a place lies. It keeps the signed distance of the last
// place looked up: nothing nearer to that place than the next limit can lie in
// another zone, so that most fixes cost one comparison.
type scene struct {
	edges  plane.Edges
	rims   []rim      // by number
	limits [4]float64 // m inside the boundary, falling: below limits[i] begins zone i+1
	last   plane.XY
	free   float64 // m around last that lie in its zone
	zone   zone
	near   int32 // the edge nearest to the place last looked up
}

func sceneOf(field []plane.Polygon, w Work) *scene {
	s := &scene{limits: [4]float64{w.HeadlandDepth(), 0, -w.Width / 2, -max(awayFrom, w.Width)}}
	s.edges.AddPolygons(field)
	for _, p := range field {
		for k, ring := range p {
			s.rims = append(s.rims, rim{ring, k > 0})
		}
	}
	return s
}

// at is the zone of p.
func (s *scene) at(p plane.XY) zone {
	d := p.Sub(s.last)
	if d.Dot(d) < s.free*s.free {
		return s.zone
	}
	in := s.inside(p)
	s.last, s.free, s.zone = p, math.Inf(1), zoneAway
	for i := len(s.limits) - 1; i >= 0; i-- {
		if in >= s.limits[i] {
			s.zone = zone(i)
		}
		s.free = min(s.free, math.Abs(in-s.limits[i]))
	}
	return s.zone
}

// inside is how far p lies inside the boundary, in metres; negative outside. It notes the edge nearest to p.
func (s *scene) inside(p plane.XY) float64 {
	var in float64
	in, s.near = s.edges.Signed(p, max(0, s.near))
	return in
}

// roundAt: work is that of a round where it lies in the headland at so many places spread evenly over it.
const roundAt = 7

// round says whether work goes round in a headland so deep, 0: not known. A row ends in the headland, and has its middle elsewhere.
func (s *scene) round(way []plane.XY, depth float64) bool {
	for k := range roundAt {
		if depth == 0 || s.inside(way[(2*k+1)*len(way)/(2*roundAt)]) >= depth {
			return false
		}
	}
	return true
}

// rim is the ring nearest to the place last looked up.
func (s *scene) rim() rim {
	if s.near < 0 {
		return rim{} // no field at all
	}
	return s.rims[s.edges.At(s.near).Ring]
}
