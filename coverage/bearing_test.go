package coverage

import (
	"math"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// A strip's bearing is from true north, which is not the plane's where the field's centre is far: 2 km east or west of it at
// 60° north, 0.031° apart (Δλ·sin φ, the first term of the convergence of meridians). What is held against is the azimuth from
// end to end of the strip by the radii of curvature of the ellipsoid in its middle (figures of WGS84 from NGA.STND.0036).
func TestBearingIsFromTrueNorth(t *testing.T) {
	local := geo.LocalAt(orb.Point{25, 60})
	for _, east := range []float64{-2000, 2000} {
		for _, grid := range []float64{0, 30, 120} {
			sin, cos := math.Sincos(grid * math.Pi / 180)
			place := func(along, left float64) plane.XY {
				return plane.XY{X: east + along*sin - left*cos, Y: along*cos + left*sin}
			}
			s := Strip{Shape: plane.Polygon{{place(-50, -1), place(50, -1), place(50, 1), place(-50, 1)}}}
			if s.Shape[0].Area() < 0 {
				for i, k := 0, len(s.Shape[0])-1; i < k; i, k = i+1, k-1 {
					s.Shape[0][i], s.Shape[0][k] = s.Shape[0][k], s.Shape[0][i]
				}
			}
			r := Result{Local: local, Work: drive.Work{Width: 5}}
			s.measure(r.Local)
			a, b := local.Point(place(-50, 0)), local.Point(place(50, 0))
			want := math.Mod(azimuth(a, b)+360, 180)
			if d := math.Abs(math.Remainder(float64(s.Bearing)-want, 180)); d > 0.001 {
				t.Errorf("%g m east, %g° on the plane: bearing %.4f°, want %.4f°", east, grid, s.Bearing, want)
			}
			if d := math.Abs(math.Remainder(want-grid, 180)); d < 0.03 || d > 0.033 {
				t.Fatalf("%g m east: the case has a convergence of %.4f°", east, d)
			}
		}
	}
}

// azimuth from a to b, which are near each other, degrees clockwise from north.
func azimuth(a, b orb.Point) float64 {
	const rad, axis, flat = math.Pi / 180, 6378137.0, 1 / 298.257223563
	sin, cos := math.Sincos((a[1] + b[1]) / 2 * rad)
	e2 := flat * (2 - flat)
	w := 1 - e2*sin*sin
	east, north := axis/math.Sqrt(w)*cos, axis*(1-e2)/(w*math.Sqrt(w)) // m a radian
	return math.Atan2(east*(b[0]-a[0]), north*(b[1]-a[1])) / rad
}
