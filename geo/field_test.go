package geo

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// The area between two parallels and two meridians of a sphere: radius²·Δλ·(sin φ₂ − sin φ₁) (Archimedes).
func TestRough(t *testing.T) {
	cell := func(west, south, east, north float64) orb.Ring {
		return orb.Ring{{west, south}, {east, south}, {east, north}, {west, north}, {west, south}}
	}
	band := func(width, south, north float64) float64 {
		const rad = math.Pi / 180
		return 6371e3 * 6371e3 * width * rad * (math.Sin(north*rad) - math.Sin(south*rad))
	}
	hole := cell(11.2, 48.2, 11.4, 48.4)
	hole.Reverse()
	for _, c := range []struct {
		name string
		of   orb.MultiPolygon
		want float64
	}{
		{"the quarter of a hemisphere", orb.MultiPolygon{{cell(0, 0, 90, 90)}}, 4 * math.Pi * 6371e3 * 6371e3 / 8},
		{"a degree at 48° north", orb.MultiPolygon{{cell(11, 48, 12, 49)}}, band(1, 48, 49)},
		{"south and west, in two parts", orb.MultiPolygon{{cell(-70, -34, -69, -33)}, {cell(-68, -34, -67, -33)}}, 2 * band(1, 33, 34)},
		{"an obstacle", orb.MultiPolygon{{cell(11, 48, 12, 49), hole}}, band(1, 48, 49) - band(0.2, 48.2, 48.4)},
	} {
		if got := (Field{Boundary: c.of}).Rough(); math.Abs(got-c.want) > 1e-9*c.want {
			t.Errorf("%s: %.8g m², want %.8g m²", c.name, got, c.want)
		}
	}
}
