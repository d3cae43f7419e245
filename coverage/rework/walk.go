package rework

import (
	"context"
	"errors"
	"math"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// Walk is a short round on foot over places in a field, from the gate and back: their order, and the way to each and at last back. gate
// is where it begins; nil = the boundary nearest to any of them. Ways are the shortest past corners, straight on over the
// border between parts of a field that hang together nowhere.
func Walk(ctx context.Context, field []plane.Polygon, gate *plane.XY, places []plane.XY) (order []int, ways [][]plane.XY, err error) {
	if len(places) == 0 {
		return nil, nil, errors.New("no place to walk to")
	}
	g, err := terrainOf(field, rig.Implement{})
	if err != nil {
		return nil, nil, err
	}
	var from plane.XY
	if gate != nil {
		if from = g.gateAt(*gate); plane.Nearest(field, from).Dist(from) < intoField {
			from = g.onRim(from) // a way that begins on the rim crosses it
		}
	} else {
		best := math.Inf(1)
		for _, p := range places {
			if at := g.onRim(p); at.Dist(p) < best {
				best, from = at.Dist(p), at
			}
		}
	}
	stops := append(append(make([]plane.XY, 0, len(places)+1), places...), from)
	way := func(a, b int) []plane.XY {
		if line := g.around(stops[a], stops[b]); line != nil {
			return line
		}
		return []plane.XY{stops[a], stops[b]}
	}
	d := newDistances(len(places))
	gateOf := func(k int) []int { // numbers of a stop among directed passes
		if k == len(places) {
			return []int{d.n}
		}
		return []int{2 * k, 2*k + 1}
	}
	all := make([]int, len(places))
	for a := range stops {
		if err := ctx.Err(); err != nil {
			return nil, nil, err
		}
		if a < len(places) {
			all[a] = a
		}
		for b := range a {
			l := plane.Length(way(a, b))
			for _, i := range gateOf(a) {
				for _, k := range gateOf(b) {
					d.put(i, k, errand{cost: l, length: l})
					d.put(k, i, errand{cost: l, length: l})
				}
			}
		}
	}
	t, err := d.order(ctx, all)
	if err != nil {
		return nil, nil, err
	}
	at := len(places)
	for _, p := range t {
		order, ways = append(order, p/2), append(ways, way(at, p/2))
		at = p / 2
	}
	return order, append(ways, way(at, len(places))), nil
}
