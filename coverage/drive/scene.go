package drive

import (
	"math"

	"balk/geo/plane"

	"github.com/tidwall/rtree"
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

// rimPart is some edges of a rim: rimSteps of them go into one box of the tree.
type rimPart struct {
	*rim
	from, to int
}

const rimSteps = 16

// scene answers where a place lies. It keeps the signed distance of the last
// place looked up: nothing nearer to that place than the next limit can lie in
// another zone, so that most fixes cost one comparison.
type scene struct {
	edges  rtree.RTreeG[rimPart]
	limits [4]float64 // m inside the boundary, falling: below limits[i] begins zone i+1
	last   plane.XY
	free   float64 // m around last that lie in its zone
	zone   zone
	near   *rim // the ring and its edge nearest to the place last looked up
	edge   int
}

func sceneOf(field []plane.Polygon, w Work) *scene {
	s := &scene{limits: [4]float64{w.HeadlandDepth(), 0, -w.Width / 2, -max(awayFrom, w.Width)}}
	for _, p := range field {
		for k, ring := range p {
			line := &rim{ring, k > 0}
			s.near = line
			for from := 0; from < len(ring); from += rimSteps {
				to, box := min(len(ring), from+rimSteps), plane.EmptyBox()
				for i := from; i < to; i++ {
					box = box.Extend(ring[i], ring[(i+1)%len(ring)])
				}
				s.edges.Insert([2]float64{box.Min.X, box.Min.Y}, [2]float64{box.Max.X, box.Max.Y}, rimPart{line, from, to})
			}
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

// tied: two pieces of the boundary are equally far when their squared distances
// differ by less than this share, which is rounding.
const tied = 1e-12

// inside is how far p lies inside the boundary, in metres; negative outside. The
// side of the nearest edge decides, at a corner that of the sum of the normals of
// its two edges (J. A. Bærentzen, H. Aanæs, "Signed distance computation using
// the angle weighted pseudonormal", 2005; in the plane the two weights are
// equal). Of two parts of the field that share an edge the one that holds p
// counts.
func (s *scene) inside(p plane.XY) float64 {
	if s.near == nil {
		return math.Inf(-1) // no field at all
	}
	best, in := math.Inf(1), false
	look := func(r *rim, from, to int) {
		for i := from; i < to; i++ {
			d, t := nearest(p, r.ring[i], r.ring[(i+1)%len(r.ring)])
			if d > best*(1+tied) {
				continue
			}
			if left := leftOf(p, r.ring, i, t); d < best*(1-tied) || left {
				best, in, s.near, s.edge = d, left, r, i
			}
		}
	}
	look(s.near, s.edge, s.edge+1) // nothing farther than the edge of the last time
	reach := math.Sqrt(best) * (1 + tied)
	s.edges.Search([2]float64{p.X - reach, p.Y - reach}, [2]float64{p.X + reach, p.Y + reach}, func(_, _ [2]float64, c rimPart) bool {
		look(c.rim, c.from, c.to)
		return true
	})
	if in {
		return math.Sqrt(best)
	}
	return -math.Sqrt(best)
}

// nearest is the squared distance of p from the edge a b, and where along it the
// nearest point lies, 0 to 1.
func nearest(p, a, b plane.XY) (squared, t float64) {
	e, d := b.Sub(a), p.Sub(a)
	t = min(max(d.Dot(e)/e.Dot(e), 0), 1)
	d = d.Sub(e.Scale(t))
	return d.Dot(d), t
}

// leftOf says whether p lies left of edge i of a ring, of which the point at t is
// nearest to it. The field lies left of all its edges.
func leftOf(p plane.XY, r plane.Ring, i int, t float64) bool {
	n := len(r)
	a, b := r[i], r[(i+1)%n]
	normal := unitOf(b.Sub(a)).Left()
	switch t {
	case 0:
		normal = normal.Add(unitOf(a.Sub(r[(i+n-1)%n])).Left())
	case 1:
		normal = normal.Add(unitOf(r[(i+2)%n].Sub(b)).Left())
		a = b
	}
	return p.Sub(a).Dot(normal) >= 0
}

// unitOf is v at length 1; v must not be zero.
func unitOf(v plane.XY) plane.XY { return v.Scale(1 / math.Sqrt(v.Dot(v))) }
