package geo

import (
	"math"
	"math/rand/v2"
	"strconv"
	"strings"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"

	"github.com/paulmach/orb"
	"github.com/tidwall/geodesic"
)

// planeArea is the area of a ring in degrees, through the plane at its middle.
func planeArea(ring orb.Ring) float64 {
	l := LocalAt(ring.Bound().Center())
	r := make(plane.Ring, len(ring))
	for i, p := range ring {
		r[i] = l.XY(p)
	}
	return r.Area()
}

// geodesicArea is the area of a ring whose sides are geodesics (Karney 2013).
func geodesicArea(ring orb.Ring) (area float64) {
	p := geodesic.WGS84.PolygonInit(false)
	for _, q := range ring {
		p.AddPoint(q[1], q[0])
	}
	var perimeter float64
	p.Compute(false, true, &area, &perimeter)
	return area
}

// The 55 polygons of field_areas.csv against the areas GeographicLib 2.1.2 found.
func TestFieldAreas(t *testing.T) {
	rows := check.Rows(t, "geodesy/field_areas.csv")
	if len(rows) != 55 {
		t.Fatalf("%d rows, want 55", len(rows))
	}
	var worst float64
	for _, row := range rows {
		numbers := strings.Fields(row.Text("lonlat_ring_ccw"))
		var ring orb.Ring
		for i := 0; i+1 < len(numbers); i += 2 {
			lon, err1 := strconv.ParseFloat(numbers[i], 64)
			lat, err2 := strconv.ParseFloat(numbers[i+1], 64)
			if err1 != nil || err2 != nil {
				t.Fatal(numbers)
			}
			ring = append(ring, orb.Point{lon, lat})
		}
		want := row.Number("geodesic_area_m2")
		off := math.Abs(planeArea(ring)/want - 1)
		worst = max(worst, off)
		if !(off <= 1e-8) {
			t.Errorf("%s %s: %.4f m², want %.4f: off by %.2g of it", row.Text("site"), row.Text("shape"), planeArea(ring), want, off)
		}
	}
	t.Logf("worst: %.3g of the area", worst)
}

// Plane area against geodesic area by the size of the field. Away from the
// middle the scale is 1 + x²/2R², so area is too large by the mean of x²/R²:
// d²/16R² for a disc of diameter d, d²/12R² for a square (R = 6371 km), if the
// boundary has many points. With few, the straight sides in the plane run inside
// the geodesics and take off about as much; a square of four corners comes out
// right to 1e-11. No star round the middle is off by more than d²/8R²: in polar
// form the mean of x² is ∫r⁴cos²/4 by ∫r²/2, at most half of the greatest r².
func TestPlaneAreaIsGroundArea(t *testing.T) {
	seed := check.Seed(t)
	r := rand.New(rand.NewPCG(seed, 3))
	defer func() {
		if t.Failed() {
			t.Logf("seed %d", seed)
		}
	}()
	const r2 = 6371e3 * 6371e3
	for _, across := range []float64{1000, 3000, 6900, 10000} { // m
		allowed := across * across / 8 / r2
		var worst float64
		for range 60 {
			lon, lat := r.Float64()*360-180, r.Float64()*140-70
			points := 3 + r.IntN(40)
			if r.IntN(3) == 0 {
				points = 400
			}
			// A star round the middle, between a third and all of the radius.
			ring := make(orb.Ring, points)
			spread := r.Float64() * 2 / 3
			for i := range ring {
				var pLat, pLon float64
				turn := -360 * float64(i) / float64(points)
				far := across / 2 * (1 - spread*r.Float64())
				geodesic.WGS84.Direct(lat, lon, turn, far, &pLat, &pLon, nil)
				ring[i] = orb.Point{unwrap(pLon, lon), pLat}
			}
			off := math.Abs(planeArea(ring)/geodesicArea(ring) - 1)
			worst = max(worst, off)
		}
		// The worst case: a square with many points on its sides.
		l := LocalAt(orb.Point{10, 50})
		corners := plane.Ring{{X: -1, Y: -1}, {X: 1, Y: -1}, {X: 1, Y: 1}, {X: -1, Y: 1}}
		var square orb.Ring
		for i, p := range corners {
			for j := range 50 {
				square = append(square, l.Point(p.Lerp(corners[(i+1)%4], float64(j)/50).Scale(across/2)))
			}
		}
		off := planeArea(square)/geodesicArea(square) - 1
		if want := across * across / 12 / r2; math.Abs(off/want-1) > 0.02 {
			t.Errorf("square %g m across: off by %.3g, want %.3g", across, off, want)
		}
		worst = max(worst, off)
		if !(worst <= allowed) {
			t.Errorf("%g m across: plane area off by %.3g of the geodesic area, allowed %.3g", across, worst, allowed)
		}
		t.Logf("%g m across: worst %.3g", across, worst)
	}
}

// unwrap puts a longitude on the side of ±180 where near lies.
func unwrap(lon, near float64) float64 { return near + math.Remainder(lon-near, 360) }

// There and back: half a step of the plane's lattice, 7.5 nm, is 7e-14°.
func TestLocalRoundTrip(t *testing.T) {
	seed := check.Seed(t)
	r := rand.New(rand.NewPCG(seed, 4))
	for range 5000 {
		c := orb.Point{r.Float64()*360 - 180, r.Float64()*160 - 80}
		l := LocalAt(c)
		if q := l.XY(c); q.Len() > 3e-8 {
			t.Fatalf("seed %d: the centre %v lies at %v", seed, c, q)
		}
		p := orb.Point{c[0] + r.Float64()*0.1 - 0.05, c[1] + r.Float64()*0.1 - 0.05}
		b := l.Point(l.XY(p))
		dLon, dLat := math.Remainder(b[0]-p[0], 360)*math.Cos(p[1]*math.Pi/180), b[1]-p[1]
		if !(math.Hypot(dLon, dLat) < 3e-13) { // 33 nm, of which 1 to 2 nm are rounding of the degrees
			t.Fatalf("seed %d: %v comes back as %v", seed, p, b)
		}
	}
}

// Lengths and directions at the centre: a geodesic of 100 m from the centre is
// 100 m on the plane, and its bearing there is the true one; 3 km east of the
// centre grid north has turned by the convergence.
func TestLocalLengthsAndBearings(t *testing.T) {
	centre := orb.Point{11.57, 48.13}
	l := LocalAt(centre)
	for _, bearing := range []float64{0, 30, 90, 200, 300} {
		for _, from := range []plane.XY{{}, {X: 3000}, {X: -3000, Y: 2000}} {
			a := l.Point(from)
			var lat, lon float64
			geodesic.WGS84.Direct(a[1], a[0], bearing, 100, &lat, &lon, nil)
			d := l.XY(orb.Point{lon, lat}).Sub(l.XY(a))
			if got := d.Len(); math.Abs(got-100) > 100*1.2e-7 { // scale is 1 + 1.1e-7 at 3 km
				t.Errorf("from %v towards %v°: %.9f m, want 100", from, bearing, got)
			}
			grid := math.Atan2(d.X, d.Y) * 180 / math.Pi
			if off := math.Remainder(grid-(bearing-l.Convergence(a)), 360); math.Abs(off) > 1e-6 {
				t.Errorf("from %v towards %v°: grid bearing %.9f°, off by %.2g", from, bearing, grid, off)
			}
		}
	}
	// Convergence at 3 km: Δλ·sin φ = 3000/(R cos φ)·sin φ, about 0.030°.
	if g := l.Convergence(l.Point(plane.XY{X: 3000})); math.Abs(g-0.0300) > 2e-4 {
		t.Errorf("convergence 3 km east of the centre: %.5f°, want 0.0300", g)
	}
}

func BenchmarkLocalXY(b *testing.B) {
	l := LocalAt(orb.Point{11.57, 48.13})
	p := l.Point(plane.XY{X: 300, Y: -200})
	var q plane.XY
	for b.Loop() {
		q = l.XY(p)
	}
	if q.Dist(plane.XY{X: 300, Y: -200}) > 1e-7 {
		b.Fatal(q)
	}
}

// North is up, east is right; there and back is the same.
func TestHeadingAndBearing(t *testing.T) {
	l := LocalAt(orb.Point{11.5, 48})
	for bearing, heading := range map[Bearing]Heading{0: math.Pi / 2, 90: 0, 180: -math.Pi / 2, 270: -math.Pi, 37: Heading(53 * math.Pi / 180)} {
		if got := l.HeadingOf(bearing); math.Abs(float64(got-heading)) > 1e-12 {
			t.Errorf("bearing %g°: heading %g, want %g", bearing, got, heading)
		}
		if got := l.BearingOf(l.HeadingOf(bearing)); math.Abs(float64(got-bearing)) > 1e-9 {
			t.Errorf("bearing %g° comes back as %g°", bearing, got)
		}
	}
}

// A field that GeoJSON has in two parts because the antimeridian goes through it (RFC 7946, 3.1.9) is on its plane the field that
// it is: as the same field elsewhere, whole, and without the seam.
func TestFieldAcrossTheAntimeridian(t *testing.T) {
	square := func(west, east, lat float64) orb.Polygon {
		return orb.Polygon{{{west, lat}, {east, lat}, {east, lat + 0.002}, {west, lat + 0.002}, {west, lat}}}
	}
	for _, lat := range []float64{-17, 48, 66} {
		cut := Field{Boundary: orb.MultiPolygon{square(179.999, 180, lat), square(-180, -179.998, lat)}}
		whole := Field{Boundary: orb.MultiPolygon{square(10.999, 11.002, lat)}}
		local := cut.Local()
		if math.Abs(local.Centre[0] - -179.9995) > 1e-9 {
			t.Errorf("the centre is at %v", local.Centre)
		}
		got, want := cut.OnPlane(local), whole.OnPlane(whole.Local())
		if len(got) != 1 || len(got[0]) != 1 || math.Abs(got[0].Area()-want[0].Area()) > 0.1 {
			t.Errorf("at %g°: %d polygons, %v; want %v", lat, len(got), got, want)
		}
		for i := range 4 {
			a, b := got[0][0].Bounds(), want[0][0].Bounds()
			if math.Abs([]float64{a.Min.X, a.Min.Y, a.Max.X, a.Max.Y}[i]-[]float64{b.Min.X, b.Min.Y, b.Max.X, b.Max.Y}[i]) > 1e-3 {
				t.Errorf("at %g°: it lies in %v, want %v", lat, a, b)
			}
		}
	}
}
