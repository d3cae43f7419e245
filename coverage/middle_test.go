package coverage

import (
	"math"
	"testing"

	"balk/geo/plane"
)

// band is ground of a width along a line, with the sides told by how far they lie off it.
func band(along func(t float64) (at, left plane.XY), steps int, off func(t float64) (left, right float64)) plane.Polygon {
	var there, back plane.Ring
	for k := range steps + 1 {
		t := float64(k) / float64(steps)
		at, side := along(t)
		left, right := off(t)
		there, back = append(there, at.Add(side.Scale(-right))), append(back, at.Add(side.Scale(left)))
	}
	for k := range back {
		there = append(there, back[len(back)-1-k])
	}
	return plane.Polygon{there}
}

func even(half float64) func(float64) (float64, float64) {
	return func(float64) (float64, float64) { return half, half }
}

// The middle of bands of which it is known: straight, on a circle, with one side in steps, a wedge, all the way round. Closed forms.
func TestMiddle(t *testing.T) {
	straight := func(long, turn float64) func(float64) (plane.XY, plane.XY) {
		way := plane.XY{X: math.Cos(turn), Y: math.Sin(turn)}
		return func(t float64) (at, left plane.XY) {
			return plane.XY{X: 500, Y: -300}.Add(way.Scale(t * long)), way.Left()
		}
	}
	circle := func(radius, angle float64) func(float64) (plane.XY, plane.XY) {
		return func(t float64) (at, left plane.XY) {
			out := plane.XY{X: math.Cos(t * angle), Y: math.Sin(t * angle)}
			return out.Scale(radius), out.Scale(-1)
		}
	}
	off := func(along func(float64) (plane.XY, plane.XY)) func(plane.XY) float64 { // from the line itself
		return func(p plane.XY) float64 {
			least := math.Inf(1)
			for k := range 4001 {
				at, _ := along(float64(k) / 4000)
				least = min(least, at.Dist(p))
			}
			return least
		}
	}
	ring := func(radius float64) plane.Ring {
		var r plane.Ring
		for k := range 360 {
			sin, cos := math.Sincos(float64(k) * math.Pi / 180)
			r = append(r, plane.XY{X: radius * cos, Y: radius * sin})
		}
		return r
	}
	for name, c := range map[string]struct {
		shape       plane.Polygon
		off         func(plane.XY) float64
		long        float64
		aside, near float64 // m off the line at most; of the length, as a share
	}{
		"a rectangle":              {band(straight(100, 0), 1, even(0.5)), off(straight(100, 0)), 100, 0.51, 0.01},
		"a rectangle, turned":      {band(straight(100, 1), 1, even(0.5)), off(straight(100, 1)), 100, 0.51, 0.01},
		"a rectangle, short":       {band(straight(9, 2), 1, even(2.9)), off(straight(9, 2)), 9, 0.2, 0.05},
		"many corners, a hair":     {band(straight(217, 0.3), 300, even(0.02)), off(straight(217, 0.3)), 217, 0.06, 0.01},
		"one side in steps":        {band(straight(60, 0.3), 600, func(t float64) (float64, float64) { return 0.4 + 0.2*float64(int(t*600)%2), 0.5 }), off(straight(60, 0.3)), 60, 0.7, 0.05},
		"a wedge":                  {band(straight(80, 0), 1, func(t float64) (float64, float64) { return 0.01 + t, 0.01 + t }), off(straight(80, 0)), 80, 0.7, 0.03},
		"three quarters round":     {band(circle(30, 1.5*math.Pi), 270, even(0.5)), off(circle(30, 1.5*math.Pi)), 45 * math.Pi, 0.55, 0.02},
		"a quarter, its width 3 m": {band(circle(20, math.Pi/2), 90, even(1.5)), off(circle(20, math.Pi/2)), 10 * math.Pi, 0.8, 0.06},
		"all the way round":        {plane.Polygon{ring(31), ring(29).Turned(true)}, off(circle(30, 2*math.Pi)), 60 * math.Pi, 0.1, 0.01},
		"a hole that is no middle": {plane.Polygon{band(straight(100, 0), 1, even(3))[0], plane.Ring{{X: 550, Y: -300}, {X: 550, Y: -299}, {X: 551, Y: -299}, {X: 551, Y: -300}}}, off(straight(100, 0)), 100, 1.1, 0.03},
	} {
		line := Strip{Shape: c.shape}.Middle()
		if len(line) < 2 {
			t.Errorf("%s: %v", name, line)
			continue
		}
		for _, p := range line {
			if d := c.off(p); d > c.aside {
				t.Errorf("%s: %v lies %.2f m off its middle", name, p, d)
			}
		}
		if long := plane.Length(line); math.Abs(long/c.long-1) > c.near {
			t.Errorf("%s: %.2f m long, want %.2f", name, long, c.long)
		}
		if round := line[0] == line[len(line)-1]; round != (name == "all the way round") {
			t.Errorf("%s: from %v to %v", name, line[0], line[len(line)-1])
		}
	}
	if line := (Strip{}).Middle(); line != nil {
		t.Errorf("no ground: %v", line)
	}
}
