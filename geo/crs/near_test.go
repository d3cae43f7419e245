package crs

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/testdata/check"
)

// Near is the projection that it is near to, all over its reach and beyond; that one is held against values from elsewhere above.
func TestNearIsTheProjection(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	for _, lat := range []float64{-89.9, -66, -33.3, -1e-3, 0, 7, 48.14, 60, 80, 89, 90} {
		for _, k0 := range []float64{1, 0.9996} {
			tm := NewTransverseMercator(WGS84, 179.99, 0, k0, 500000, 0)
			n := tm.Near(lat)
			_, y0 := tm.Forward(179.99, lat)
			if most := math.Abs(90 - math.Abs(lat)); most > 1 && n.reach*6.4e6 < 6e3 {
				t.Errorf("latitude %g: reach %.0f m only", lat, n.reach*6.4e6)
			}
			for range 2000 {
				far := 1.1 * math.Pow(rng.Float64(), 2)
				if rng.IntN(4) == 0 {
					far = 1
				}
				far *= n.reach / n.scale
				if rng.IntN(10) == 0 || lat == 90 {
					far = 1e5 * rng.Float64()
				}
				x, y := far*(2*rng.Float64()-1), far*(2*rng.Float64()-1)
				lon, lt := tm.Inverse(500000+x, y0+y)
				gotLon, gotLat := n.Inverse(x, y)
				gx, gy := n.Forward(lon, lt)
				// A degree at the pole has no width: places are compared where they lie on the ground.
				off := math.Hypot(wrap(gotLon-lon)*math.Cos(lt*toRad), gotLat-lt) * 111e3
				const tol = 1e-8 // m: a degree of 180 is written to 3 nm
				if !(off <= tol) || !(math.Hypot(gx-x, gy-y) <= tol) {
					t.Fatalf("seed %d, latitude %g, %g, %g m (reach %g): inverse off by %.3g m, forward by %.3g m", seed, lat, x, y, n.reach/n.scale, off, math.Hypot(gx-x, gy-y))
				}
			}
		}
	}
}

func BenchmarkNear(b *testing.B) {
	tm := NewTransverseMercator(WGS84, 11, 0, 1, 0, 0)
	n := tm.Near(48)
	for name, f := range map[string]struct {
		inverse, forward func(x, y float64) (float64, float64)
		y0               float64
	}{"series": {n.Inverse, n.Forward, 0}, "projection": {tm.Inverse, tm.Forward, n.y0}} {
		b.Run(fmt.Sprintf("inverse/%s", name), func(b *testing.B) {
			var lon float64
			for b.Loop() {
				lon, _ = f.inverse(800, f.y0+700)
			}
			if !(math.Abs(lon-11.01) < 0.01) {
				b.Fatal(lon)
			}
		})
		b.Run(fmt.Sprintf("forward/%s", name), func(b *testing.B) {
			var x float64
			for b.Loop() {
				x, _ = f.forward(11.01, 48.01)
			}
			if !(math.Abs(x-745) < 5) {
				b.Fatal(x)
			}
		})
	}
}
