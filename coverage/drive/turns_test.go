package drive

import (
	"math"
	"testing"

	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestTightestOfAWay: radii of circles, and changes of direction, at which none is taken.
func TestTightestOfAWay(t *testing.T) {
	for _, c := range []struct {
		name    string
		line    []plane.XY
		radius  float64
		at      plane.XY
		changes int
	}{
		{"straight", trial.Straight(plane.XY{}, plane.XY{X: 20}, 0.5), math.Inf(1), plane.XY{X: 10}, 0},
		{"to and fro", append(trial.Straight(plane.XY{}, plane.XY{X: 20}, 0.5), trial.Straight(plane.XY{X: 20}, plane.XY{X: 3}, 0.5)[1:]...), math.Inf(1), plane.XY{}, 1},
		{"two sides of a right triangle of 3, 4 and 5 m, nothing else", []plane.XY{{X: 3}, {}, {Y: 4}}, 2.5, plane.XY{}, 0},
		{"quarter of 12 m, then of 5 m", append(trial.Arc(plane.XY{Y: 12}, 12, -90, 0, 36), trial.Arc(plane.XY{X: 7, Y: 12}, 5, 0, 90, 15)[1:]...), 5, plane.XY{X: 7, Y: 12}.Add(trial.Towards(45)[0].Scale(5)), 0},
	} {
		radius, at, changes := tightest(c.line)
		if math.Abs(radius-c.radius) > 0.01*c.radius && !math.IsInf(c.radius, 1) || math.IsInf(c.radius, 1) && radius < 1e6 || changes != c.changes {
			t.Errorf("%s: %g m, %d changes; want %g m, %d", c.name, radius, changes, c.radius, c.changes)
		}
		if c.changes == 0 && at.Dist(c.at) > 5 {
			t.Errorf("%s: at %v, want near %v", c.name, at, c.at)
		}
	}
	if got := circumradius(plane.XY{}, plane.XY{X: 6}, plane.XY{Y: 8}); math.Abs(got-5) > 1e-9 { // half of a right triangle's longest side
		t.Errorf("circle through the corners of a right triangle of 6, 8 and 10 m: %g m, want 5", got)
	}
	line := []plane.XY{{}, {X: 1}, {X: 3}, {X: 3, Y: 4}, {X: 3, Y: 8}, {X: 2, Y: 9}}
	if got := wayAtEnd(line, 1); got != (plane.XY{X: 3, Y: 4}) { // the first place 4 m off
		t.Errorf("way at the beginning %v", got)
	}
	if got := wayAtEnd(line, -1); got != (plane.XY{X: -1, Y: 5}) {
		t.Errorf("way at the end %v", got)
	}
	if a, b := wayAtEnd(line[:2], 1), wayAtEnd(line[:2], -1); a != (plane.XY{X: 1}) || b != a {
		t.Errorf("way of a line of a metre %v, %v", a, b)
	}
}

func TestTurningSums(t *testing.T) {
	got := TurningOf([]Turn{{Seconds: 20, Radius: 8}, {Seconds: 30, Radius: 6, Tight: true, Angle: 50}, {Seconds: 70}, {Radius: 0}})
	if want := (Turning{Turns: 4, Tight: 1, Median: 30, Worst: 70, Radius: 6, Angle: 50}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}
