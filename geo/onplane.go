package geo

import (
	"context"
	"math"

	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Local is the plane of a field: centred on the middle of its bounding box.
func (f Field) Local() Local {
	b := f.Boundary.Bound()
	lon := (b.Min[0] + b.Max[0]) / 2
	if f.cut() {
		west, east := 180.0, -180.0
		for _, poly := range f.Boundary {
			for _, ring := range poly {
				for _, p := range ring {
					if p[0] > 0 {
						west = min(west, p[0])
					} else {
						east = max(east, p[0])
					}
				}
			}
		}
		if lon = (west + east + 360) / 2; lon > 180 {
			lon -= 360
		}
	}
	return LocalAt(orb.Point{lon, (b.Min[1] + b.Max[1]) / 2})
}

// cut says whether a field lies on both sides of the antimeridian, where GeoJSON wants it in two parts (RFC 7946, 3.1.9).
func (f Field) cut() bool {
	b := f.Boundary.Bound()
	return b.Max[0]-b.Min[0] > 180
}

// OnPlane is the field's boundary in metres on a plane: outer rings counter-clockwise,
// holes clockwise, whichever way the file has them.
func (f Field) OnPlane(local Local) []plane.Polygon {
	var polys []plane.Polygon
	for _, p := range f.Boundary {
		var poly plane.Polygon
		for i, r := range p {
			ring := ringOf(r, local)
			if len(ring) < 3 {
				continue
			}
			if a := ring.Area(); i == 0 && a < 0 || i > 0 && a > 0 {
				turned := make(plane.Ring, len(ring))
				for k, v := range ring {
					turned[len(ring)-1-k] = v
				}
				ring = turned
			}
			poly = append(poly, ring)
		}
		if len(poly) > 0 {
			polys = append(polys, poly)
		}
	}
	if f.cut() {
		if whole, err := plane.Union(context.Background(), polys[:1], polys[1:]); err == nil {
			return whole // without the seam, which is no edge of the field
		}
	}
	return polys
}

func ringOf(r orb.Ring, local Local) plane.Ring {
	ring := make(plane.Ring, 0, len(r))
	for _, p := range r {
		if q := local.XY(p); len(ring) == 0 || q != ring[len(ring)-1] {
			ring = append(ring, q)
		}
	}
	for len(ring) > 1 && ring[0] == ring[len(ring)-1] {
		ring = ring[:len(ring)-1]
	}
	return ring
}

// Along is the heading of a way on the plane.
func Along(way plane.XY) Heading { return Heading(math.Atan2(way.Y, way.X)) }

// Ahead is the unit vector of a heading.
func (h Heading) Ahead() plane.XY {
	sin, cos := math.Sincos(float64(h))
	return plane.XY{X: cos, Y: sin}
}

// HeadingOf is the heading on the plane of a bearing from true north at the plane's
// centre, where grid north is true north.
func (l Local) HeadingOf(b Bearing) Heading { return Heading((90 - float64(b)) * math.Pi / 180) }

// BearingOf is the bearing from true north, 0 to 360, of a heading at the plane's centre.
func (l Local) BearingOf(h Heading) Bearing {
	return Bearing(math.Mod(math.Mod(90-float64(h)*180/math.Pi, 360)+360, 360))
}
