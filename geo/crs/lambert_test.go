package crs

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/testdata/check"
)

// clarke1866 in metres: Snyder, PP 1395, table 1 (e² = 0.00676866).
var clarke1866 = Ellipsoid{6378206.4, 294.9786982}

// airy1830: EPSG:7001.
var airy1830 = Ellipsoid{6377563.396, 299.3249646}

// clarke1880IGN has the half axes 6378249.2 m and 6356515 m: EPSG:7011.
var clarke1880IGN = Ellipsoid{6378249.2, 6378249.2 / (6378249.2 - 6356515)}

const usFoot = 1200. / 3937

func conic(t *testing.T, e Ellipsoid, lon0, lat0, sp1, sp2, k0, fe, fn float64) Projection {
	t.Helper()
	p, err := NewLambertConformal(e, lon0, lat0, sp1, sp2, k0, fe, fn)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func equal(t *testing.T, e Ellipsoid, lon0, lat0, fe, fn float64) Projection {
	t.Helper()
	p, err := NewLambertEqualArea(e, lon0, lat0, fe, fn)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func dms(d, m, s float64) float64 { return d + m/60 + s/3600 }

// Worked examples in print and the built-in values of PROJ.
func TestPublishedPoints(t *testing.T) {
	sphere := func(r float64) Ellipsoid { return Ellipsoid{A: r} }
	tm := func(e Ellipsoid, lon0, lat0, k0, fe, fn float64) Projection {
		return NewTransverseMercator(e, lon0, lat0, k0, fe, fn)
	}
	for _, c := range []struct {
		source   string
		p        Projection
		lon, lat float64
		x, y     float64
		tol      float64 // in units of the map
	}{
		// PROJ builtins.gie is OSGeo/PROJ test/gie/builtins.gie at 52da98b.
		{"EPSG GN 7-2 §3.2.5 transverse Mercator, OSGB36", tm(airy1830, -2, 49, 0.9996012717, 400000, -100000), 0.5, 50.5, 577274.99, 69740.50, 0.01},
		{"the same to the digits of PROJ", tm(airy1830, -2, 49, 0.9996012717, 400000, -100000), 0.5, 50.5, 577274.9838, 69740.4923, 1e-4},
		{"Snyder p. 269, Clarke 1866", tm(clarke1866, -75, 0, 0.9996, 0, 0), -73.5, 40.5, 127106.467, 4484124.427, 0.06},
		{"Snyder p. 268, sphere (from memory)", tm(sphere(1), -75, 0, 1, 0, 0), -73.5, 40.5, 0.0199077, 0.7070276, 1e-7},
		{"PROJ builtins.gie tmerc", tm(GRS80, 0, 0, 1, 0, 0), 2, 1, 222650.796797586, 110642.229411933, 5e-8},
		{"PROJ builtins.gie tmerc, 44.69E", tm(GRS80, 0, 0, 1, 0, 0), 44.69, 35.37, 4168136.489446198, 4985511.302287407, 1e-7},
		{"PROJ builtins.gie tmerc, near the pole", tm(GRS80, 0, 0, 1, 0, 0), 30, 89.9999, 5.584698978, 10001956.056248082, 5e-8},
		{"PROJ builtins.gie utm 30", tm(GRS80, -3, 0, 0.9996, 500000, 0), 2, 1, 1057002.405491298, 110955.141175949, 1e-4},
		{"PROJ builtins.gie utm 30, west", tm(GRS80, -3, 0, 0.9996, 500000, 0), -2, 1, 611263.812278905, 110547.105696804, 1e-4},
		{"PROJ builtins.gie utm 30, south", tm(GRS80, -3, 0, 0.9996, 500000, 1e7), -2, -1, 611263.812278905, 1e7 - 110547.105696804, 1e-4},
		{"PROJ builtins.gie utm 32", tm(GRS80, 9, 0, 0.9996, 500000, 0), 12, 56, 687071.43910944, 6210141.32674801, 1e-6},
		{"GeoConvert manual, MGRS 38SMB4488", tm(WGS84, 45, 0, 0.9996, 500000, 0), 44.40363, 33.33424, 444500, 3688500, 0.6},

		{"EPSG GN 7-2 method 9820, EPSG:3035", equal(t, GRS80, 10, 52, 4321000, 3210000), 5, 50, 3962799.450955, 2999718.853160, 1e-5},
		{"Snyder p. 333, Clarke 1866", equal(t, clarke1866, -100, 40, 0, 0), -110, 30, -965932.1, -1056814.9, 0.06},
		{"Snyder p. 332, sphere of radius 3 (from memory)", equal(t, sphere(3), -100, 40, 0, 0), 100, -20, -4.2339303, 4.0257775, 1e-6},
		{"PROJ builtins.gie laea at 0, 0", equal(t, GRS80, 0, 0, 0, 0), 2, 1, 222602.471450095, 110589.827224410, 1e-4},
		{"PROJ builtins.gie laea at 45N, equator", equal(t, GRS80, 0, 45, 0, 0), 0, 0, 0, -4860248.8602, 1e-4},
		{"PROJ builtins.gie laea at 45N, 45E", equal(t, GRS80, 0, 45, 0, 0), 45, 45, 3318800.8682, 968788.2336, 1e-4},

		{"EPSG GN 7-2 method 9801, Jamaica (from memory)", conic(t, clarke1866, -77, 18, 18, 18, 1, 250000, 150000),
			-dms(76, 56, 37.26), dms(17, 55, 55.80), 255966.58, 142493.51, 0.01},
		{"EPSG GN 7-2 method 9802, Texas South Central, US feet (from memory)", scaled{conic(t, clarke1866, -99, dms(27, 50, 0), dms(28, 23, 0), dms(30, 17, 0), 1, 2000000*usFoot, 0), usFoot},
			-96, 28.5, 2963503.91, 254759.80, 0.01},
		{"IGN NT/G 71, algorithm 3, Lambert I, scale below 1 (from memory)", conic(t, clarke1880IGN, 0.04079234433*toDeg, 49.5, 49.5, 49.5, 0.99987734, 600000, 200000),
			0.145512099 * toDeg, 50, 1029705.08, 272723.85, 0.01},
		{"Snyder p. 296, Clarke 1866 (from memory)", conic(t, clarke1866, -96, 23, 33, 45, 1, 0, 0), -75, 35, 1894410.9, 1564649.5, 0.06},
	} {
		t.Run(c.source, func(t *testing.T) {
			x, y := c.p.Forward(c.lon, c.lat)
			near(t, "x", x, c.x, c.tol)
			near(t, "y", y, c.y, c.tol)
			lon, lat := c.p.Inverse(x, y)
			near(t, "lon back", (lon-c.lon)*math.Cos(c.lat*toRad), 0, 1e-11)
			near(t, "lat back", lat, c.lat, 1e-11)
		})
	}
	near(t, "Snyder p. 269, scale (from memory)", NewTransverseMercator(clarke1866, -75, 0, 0.9996, 0, 0).Scale(-73.5, 40.5), 0.9997989, 1e-6)
}

// A conic is conformal: the scale is the same north and east. An equal-area
// projection keeps area: the determinant of its steps is that of the ellipsoid.
func TestLambertKeepsWhatItPromises(t *testing.T) {
	seed := check.Seed(t)
	r := rand.New(rand.NewPCG(seed, 2))
	defer func() {
		if t.Failed() {
			t.Logf("seed %d", seed)
		}
	}()
	const f = 1 / 298.257222101
	const e2 = f * (2 - f)
	const h = 1e-3 // degrees: central differences are then good to about 1e-9
	steps := func(p Projection, lon, lat float64) (ex, ey, nx, ny float64) {
		s, c := math.Sincos(lat * toRad)
		w := 1 - e2*s*s
		east := GRS80.A * c / math.Sqrt(w) * 2 * h * toRad
		north := GRS80.A * (1 - e2) / (w * math.Sqrt(w)) * 2 * h * toRad
		x1, y1 := p.Forward(lon-h, lat)
		x2, y2 := p.Forward(lon+h, lat)
		x3, y3 := p.Forward(lon, lat-h)
		x4, y4 := p.Forward(lon, lat+h)
		return (x2 - x1) / east, (y2 - y1) / east, (x4 - x3) / north, (y4 - y3) / north
	}
	for range 2000 {
		lon0, lat0 := r.Float64()*360-180, r.Float64()*120-60
		sp1 := 20 + r.Float64()*40
		sp2 := sp1 + math.Pow(10, -12+13*r.Float64()) // from as good as equal to 10° apart
		if r.IntN(2) == 0 {
			sp1, sp2 = -sp1, -sp2
		}
		lon, lat := wrap(lon0+r.Float64()*60-30), math.Copysign(r.Float64()*70, sp1)
		k0 := 0.9 + r.Float64()/5

		lcc := conic(t, GRS80, lon0, math.Copysign(math.Abs(lat0), sp1), sp1, sp2, k0, 1e6, 2e6)
		ex, ey, nx, ny := steps(lcc, lon, lat)
		near(t, "conic, north turned to east", math.Hypot(ex-ny, ey+nx), 0, 3e-8)
		ex, ey, _, _ = steps(lcc, lon, sp1)
		near(t, "conic, scale on the first parallel", math.Hypot(ex, ey), k0, 3e-8)
		ex, ey, _, _ = steps(lcc, lon, sp2)
		near(t, "conic, scale on the second parallel", math.Hypot(ex, ey), k0, 3e-8)

		// Two parallels hardly apart are one: moving one by d moves a place by
		// about half of it, 111 km to the degree, and less than d.
		if d := math.Abs(sp2 - sp1); d < 1e-4 {
			one := conic(t, GRS80, lon0, math.Copysign(math.Abs(lat0), sp1), sp1, sp1, k0, 1e6, 2e6)
			x1, y1 := one.Forward(lon, lat)
			x2, y2 := lcc.Forward(lon, lat)
			near(t, "conic, parallels hardly apart", math.Hypot(x2-x1, y2-y1), 0, 1.2e5*d+1e-6)
		}

		laea := equal(t, GRS80, lon0, lat0, 1e6, 2e6)
		ex, ey, nx, ny = steps(laea, lon, lat)
		near(t, "equal area, determinant", ex*ny-ey*nx, 1, 3e-8)

		for _, p := range []Projection{lcc, laea} {
			x, y := p.Forward(lon, lat)
			bLon, bLat := p.Inverse(x, y)
			near(t, p.Name()+": lat back", bLat, lat, 1e-11)
			near(t, p.Name()+": lon back", wrap(bLon-lon)*math.Cos(lat*toRad), 0, 1e-11)
		}
	}
}

func TestLambertAtThePoles(t *testing.T) {
	for _, pole := range []float64{90, -90} {
		p := equal(t, WGS84, 10, pole, 0, 0)
		x, y := p.Forward(10, pole)
		near(t, "pole x", x, 0, 1e-9)
		near(t, "pole y", y, 0, 1e-9)
		// 0.001° of meridian at the pole is 111.694 m: a/√(1−e²)·π/180·1e-3.
		x, y = p.Forward(10, pole*(1-1e-3/90))
		near(t, "x along the central meridian", x, 0, 1e-9)
		near(t, "y along the central meridian", y, -math.Copysign(111.6940, pole), 1e-4)
		lon, lat := p.Inverse(x, y)
		near(t, "lon", lon, 10, 1e-9)
		near(t, "lat", lat, pole*(1-1e-3/90), 1e-11)
	}
	p := conic(t, WGS84, 10, 50, 48, 52, 1, 0, 0)
	x, y := p.Forward(123, 90)
	if _, lat := p.Inverse(x, y); math.Abs(lat-90) > 1e-9 {
		t.Errorf("north pole on the cone comes back as latitude %v", lat)
	}
}

func TestLambertRefuses(t *testing.T) {
	for name, v := range map[string][3]float64{ // lat0, sp1, sp2
		"parallels that cancel":        {0, 40, -40},
		"parallels on the equator":     {0, 0, 0},
		"a parallel at the pole":       {50, 90, 90},
		"a parallel that is no number": {50, math.NaN(), 40},
		"an origin opposite the cone":  {-90, 40, 50},
		"an origin beyond the pole":    {91, 40, 50},
	} {
		if p, err := NewLambertConformal(WGS84, 0, v[0], v[1], v[2], 1, 0, 0); err == nil || p != (LambertConformal{}) {
			t.Errorf("%s: got %v, %v", name, p, err)
		}
	}
	if _, err := NewLambertEqualArea(WGS84, 0, 90.5, 0, 0); err == nil {
		t.Error("equal area centred beyond the pole: no error")
	}
}
