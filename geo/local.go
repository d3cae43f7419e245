package geo

import (
	"balk/geo/crs"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// Local is the metric plane of one field: transverse Mercator on WGS84 with the
// field's centre as origin and scale 1 there, so plane area is ground area: too large by
// d²/12R² for a square of side d, 1e-7 at 6.9 km and 2.1e-7 at 10 km. x is east, y is grid north,
// which is true north at the centre.
type Local struct {
	Centre orb.Point
	near   crs.Near
}

// LocalAt is the plane centred on a place given in degrees.
func LocalAt(centre orb.Point) Local {
	return Local{Centre: centre, near: crs.NewTransverseMercator(crs.WGS84, centre[0], 0, 1, 0, 0).Near(centre[1])}
}

// XY takes degrees to metres on the plane, on its lattice.
func (l *Local) XY(p orb.Point) plane.XY {
	x, y := l.near.Forward(p[0], p[1])
	return plane.Snap(plane.XY{X: x, Y: y})
}

// Point takes metres on the plane to degrees.
func (l *Local) Point(q plane.XY) orb.Point {
	lon, lat := l.near.Inverse(q.X, q.Y)
	return orb.Point{lon, lat}
}

// Convergence is how many degrees grid north lies clockwise of true north at p;
// grid bearing = true bearing − convergence.
func (l *Local) Convergence(p orb.Point) float64 { return l.near.Convergence(p[0], p[1]) }
