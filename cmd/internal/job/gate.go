package job

import (
	"math"

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
	away := math.Inf(1)
	for _, poly := range field {
		in := false
		for _, ring := range poly {
			for i, a := range ring {
				b := ring[(i+1)%len(ring)]
				if (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(b.X-a.X)*(p.Y-a.Y)/(b.Y-a.Y) {
					in = !in
				}
				d := b.Sub(a)
				t := 0.0
				if l2 := d.Dot(d); l2 > 0 {
					t = min(1, max(0, p.Sub(a).Dot(d)/l2))
				}
				away = min(away, p.Dist(a.Lerp(b, t)))
			}
		}
		if in {
			return p, nil
		}
	}
	if !(away <= farGate) {
		return plane.XY{}, wrong("gate at %g, %g lies %.1f km from the field: must be within %g m of it (longitude first)", gate[0], gate[1], away/1000, farGate)
	}
	return p, nil
}
