package rework

import (
	"math"
	"slices"
	"testing"

	"balk/geo/plane"
)

// Rounds on foot with lengths a person can check: along a row of places and back, and past a pond.
func TestWalk(t *testing.T) {
	square := plane.Ring{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 200}, {X: 0, Y: 200}}
	pond := plane.Ring{{X: 80, Y: 80}, {X: 80, Y: 120}, {X: 120, Y: 120}, {X: 120, Y: 80}}
	gate := plane.XY{X: 0, Y: 10}
	length := func(ways [][]plane.XY) (sum float64) {
		for _, w := range ways {
			sum += plane.Length(w)
		}
		return sum
	}
	order, ways, err := Walk(t.Context(), []plane.Polygon{{square}}, &gate, []plane.XY{{X: 150, Y: 10}, {X: 50, Y: 10}, {X: 100, Y: 10}})
	if err != nil || len(order) != 3 || len(ways) != 4 || math.Abs(length(ways)-300) > 0.1 {
		t.Errorf("%v, order %v, %.2f m, want 300", err, order, length(ways))
	}
	// behind the pond: the straight would cross it
	order, ways, err = Walk(t.Context(), []plane.Polygon{{square, pond}}, &plane.XY{X: 0, Y: 100}, []plane.XY{{X: 150, Y: 100}})
	if want := 2 * (math.Hypot(79, 21) + 42 + math.Hypot(29, 21)); err != nil || !slices.Equal(order, []int{0}) || math.Abs(length(ways)-want) > 0.2 {
		t.Errorf("%v, %.2f m, want %.2f", err, length(ways), want)
	}
	var edges plane.Edges
	edges.AddPolygons([]plane.Polygon{{pond}})
	for _, w := range ways {
		for i := 1; i < len(w); i++ {
			if edges.Cross(plane.Segment{A: w[i-1], B: w[i]}) {
				t.Errorf("%v to %v crosses the pond", w[i-1], w[i])
			}
		}
	}
	// none named: it begins at the boundary, not at the pond, however near that is; so does the way of a set
	_, ways, err = Walk(t.Context(), []plane.Polygon{{square, pond}}, nil, []plane.XY{{X: 100, Y: 125}})
	if begin := ways[0][0]; err != nil || begin.Dist(plane.XY{X: 100, Y: 200}) > 0.1 {
		t.Errorf("begins at %v (%v), want 100, 200", begin, err)
	}
	// twenty places: no longer than going to the nearest next, and each once
	var places []plane.XY
	for k := range 20 {
		places = append(places, plane.XY{X: float64(10 + 37*k%180), Y: float64(10 + 53*k%61*3)})
	}
	order, ways, err = Walk(t.Context(), []plane.Polygon{{square}}, nil, places)
	if err != nil || len(order) != 20 {
		t.Fatal(err, order)
	}
	greedy, at, left := 0.0, ways[0][0], slices.Clone(places)
	for len(left) > 0 {
		best := 0
		for k := range left {
			if left[k].Dist(at) < left[best].Dist(at) {
				best = k
			}
		}
		greedy += left[best].Dist(at)
		at = left[best]
		left = slices.Delete(left, best, best+1)
	}
	greedy += at.Dist(ways[0][0])
	if l := length(ways); l > greedy+1e-6 {
		t.Errorf("%.1f m, from place to the nearest next it is %.1f m", l, greedy)
	}
	slices.Sort(order)
	for k := range order {
		if order[k] != k {
			t.Errorf("order %v", order)
		}
	}
	if _, _, err := Walk(t.Context(), []plane.Polygon{{square}}, nil, nil); err == nil {
		t.Error("nowhere to go, and no error")
	}
}
