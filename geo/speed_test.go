package geo

import (
	"math"
	"testing"
)

// TestSpeeds: by definition of the hour and the kilometre 3600 s and 1000 m; a knot is 1852 m in an hour (definition of
// the nautical mile).
func TestSpeeds(t *testing.T) {
	for kmh, want := range map[KmPerHour]float64{0: 0, 36: 10, 1.852: 1852.0 / 3600, -3.6: -1} {
		got := kmh.MetresPerSecond()
		if math.Abs(got-want) > 1e-15 || math.Abs(float64(KmPerHourOf(want)-kmh)) > 1e-15*math.Max(1, math.Abs(float64(kmh))) {
			t.Errorf("%g km/h: %.17g m/s and back %.17g km/h, want %.17g m/s", kmh, got, KmPerHourOf(want), want)
		}
	}
}
