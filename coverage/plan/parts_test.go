package plan

import (
	"math"
	"slices"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// A gate in a corner: the set drives on until it is in the field with its width too, and all of its way in fits, as that from a gate in the middle of a side does.
// Out it comes from the outermost round, where a tail may swing over the boundary whatever the gate: that of 6 m does not.
func TestGateInACorner(t *testing.T) {
	slanting := plane.Ring{{X: 0, Y: 0}, {X: 260, Y: -40}, {X: 300, Y: 200}, {X: -30, Y: 180}}
	for _, im := range []rig.Implement{mounted(6), mounted(3), trailed(5)} {
		for _, ring := range []plane.Ring{rectangle(0, 0, 250, 200), slanting} {
			for i, corner := range ring {
				for _, gate := range []plane.XY{corner, corner.Add(ring[(i+1)%4].Sub(corner).Unit()), corner.Lerp(ring[(i+1)%4], 0.5)} {
					p, _ := laid(t, []plane.Polygon{{ring}}, im, Options{Speed: 8, Gate: &gate})
					for k, m := range []Move{p.Moves[0], p.Moves[len(p.Moves)-1]} {
						if m.Fault != nil && (k == 0 || im.Width == 6) {
							t.Errorf("%s %g m, gate %v, way %d of in and out: %v", im.Name, im.Width, gate, k+1, m.Fault.Why)
						}
					}
				}
			}
		}
	}
}

// Parts of a field in any order in the file: the set goes on to the nearest next, from the gate and back to it, once over each gap, and each way takes the
// minutes that are given.
func TestPartsInTurn(t *testing.T) {
	at := func(x float64) plane.Polygon { return plane.Polygon{rectangle(x, 0, x+150, 120)} }
	a, b, c := at(0), at(190), at(380)
	gate := plane.XY{X: 300, Y: 0} // of b
	for _, one := range []struct {
		name    string
		field   []plane.Polygon
		gate    *plane.XY
		want    []plane.Polygon
		between int
	}{
		{"from one end", []plane.Polygon{a, b, c}, nil, []plane.Polygon{a, b, c}, 2},
		{"the middle one first in the file", []plane.Polygon{b, a, c}, nil, []plane.Polygon{a, b, c}, 2},
		{"from the gate in the middle", []plane.Polygon{a, b, c}, &gate, []plane.Polygon{b, a, c}, 3},
		{"from it, in another order", []plane.Polygon{c, a, b}, &gate, []plane.Polygon{b, c, a}, 3},
	} {
		o := Options{Speed: 8, Gate: one.gate}
		p, flies := laid(t, one.field, mounted(6), o)
		var got []plane.Polygon
		for _, of := range p.Passes {
			if part := one.field[of.Part]; len(got) == 0 || got[len(got)-1][0][0] != part[0][0] {
				got = append(got, part)
			}
		}
		if !slices.EqualFunc(got, one.want, func(a, b plane.Polygon) bool { return a[0][0] == b[0][0] }) {
			t.Errorf("%s: parts %v, want %v", one.name, got, one.want)
		}
		if flies.Between != one.between || len(flies.Infeasible) > 0 {
			t.Errorf("%s: %d ways between parts, %d do not fit: want %d, none", one.name, flies.Between, len(flies.Infeasible), one.between)
		}
		way := 0.0
		for _, m := range p.Moves {
			if m.Kind == Road {
				way += m.Seconds
			}
		}
		o.BetweenParts = 12
		_, given := laid(t, one.field, mounted(6), o)
		if want := flies.Hours - way/secondsH + float64(one.between)*12/60; math.Abs(given.Hours-want) > 1e-9 || way <= 0 {
			t.Errorf("%s: %g h with 12 min each, want %g", one.name, given.Hours, want)
		}
	}
}
