package job

import (
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// farGate: a gate farther from its field is one of another field, or longitude and latitude are
// swapped, m.
const farGate = 500.0

// gateOn is the gate of a field on its plane. Error: it lies far from the field.
func gateOn(local geo.Local, field []plane.Polygon, gate orb.Point) (plane.XY, error) {
	p := local.XY(gate)
	away := p.Dist(plane.Nearest(field, p))
	if !(away <= farGate) {
		return plane.XY{}, wrong("gate at %g, %g lies %.1f km from the field: must be within %g m of it (longitude first)", gate[0], gate[1], away/1000, farGate)
	}
	return p, nil
}
