package crs

import (
	"fmt"
	"math"
)

// Projections that go over a sphere on which the ellipsoid is laid conformally: a place has there the longitude n·λ and the
// isometric latitude n·ψ + q, where ψ is that on the ellipsoid (Gauss 1843; EPSG guidance note 7-2, methods 9809 and 9819).

// gauss is such a sphere.
type gauss struct {
	e2, n, q float64
	delta    [6]float64
}

// newGauss is the sphere that is truest at the latitude lat0, in degrees.
func newGauss(e Ellipsoid, lat0 float64) (g gauss, sin0, w0 float64) {
	f := e.flattening()
	g = gauss{e2: f * (2 - f), delta: krueger(deltaSeries, f/(2-f))}
	sin0, cos0 := math.Sincos(lat0 * toRad)
	g.n = math.Sqrt(1 + g.e2*cos0*cos0*cos0*cos0/(1-g.e2))
	return g, sin0, 1 - g.e2*sin0*sin0
}

// latitude is the sine and cosine of the latitude on the sphere.
func (g *gauss) latitude(lat float64) (sin, cos float64) {
	q := g.n*isometric(g.e2, lat) + g.q
	return math.Tanh(q), 1 / math.Cosh(q)
}

// back is the latitude on the ellipsoid in degrees of a sine on the sphere.
func (g *gauss) back(sin float64) float64 {
	return fromIsometric(&g.delta, (math.Atanh(sin)-g.q)/g.n)
}

// stereographic is the oblique stereographic projection, EPSG method 9809.
type stereographic struct {
	gauss
	lon0, fe, fn float64
	sin0, cos0   float64 // of the centre on the sphere
	k            float64 // 2·R·k0
}

func newStereographic(e Ellipsoid, lon0, lat0, k0, fe, fn float64) (Projection, error) {
	if !(math.Abs(lat0) < 90) {
		return nil, fmt.Errorf("projection text: latitude_of_origin %g of an oblique stereographic projection: must lie between -90 and 90", lat0)
	}
	g, sin0, w := newGauss(e, lat0)
	s := &stereographic{gauss: g, lon0: lon0, fe: fe, fn: fn}
	s.k = 2 * k0 * e.A * math.Sqrt(1-g.e2) / w // R² is the product of both radii of curvature
	s.sin0 = sin0 / g.n                        // which is what the centre's latitude on the sphere comes to
	s.cos0 = math.Sqrt(1 - s.sin0*s.sin0)
	s.q = math.Atanh(s.sin0) - g.n*isometric(g.e2, lat0)
	return s, nil
}

func (s *stereographic) Forward(lon, lat float64) (x, y float64) {
	sin, cos := s.latitude(lat)
	sinL, cosL := math.Sincos(s.n * wrap(lon-s.lon0) * toRad)
	b := s.k / (1 + sin*s.sin0 + cos*s.cos0*cosL)
	return s.fe + b*cos*sinL, s.fn + b*(sin*s.cos0-cos*s.sin0*cosL)
}

func (s *stereographic) Inverse(x, y float64) (lon, lat float64) {
	dx, dy := (x-s.fe)/s.k, (y-s.fn)/s.k
	r2 := dx*dx + dy*dy
	in, out := (1-r2)/(1+r2), 2/(1+r2) // cosine of the angle from the centre, and its sine over r
	l := math.Atan2(dx*out, s.cos0*in-dy*s.sin0*out) / s.n
	return wrap(s.lon0 + l*toDeg), s.back(in*s.sin0 + dy*out*s.cos0)
}

func (s *stereographic) Name() string {
	return fmt.Sprintf("oblique stereographic, central meridian %g°", s.lon0)
}

// krovak is the oblique conic of Krovak, counted to the east and to the north: EPSG methods 9819 and 1041.
type krovak struct {
	gauss
	lon0, fe, fn float64
	sinA, cosA   float64 // of the tilt of the cone
	cone, rho0   float64
	q0           float64 // isometric latitude of the pseudo standard parallel
}

func newKrovak(e Ellipsoid, lon0, lat0, tilt, parallel, k0, fe, fn float64) *krovak {
	g, sin0, w := newGauss(e, lat0)
	k := &krovak{gauss: g, lon0: lon0, fe: fe, fn: fn}
	k.sinA, k.cosA = math.Sincos(tilt * toRad)
	k.q = math.Atanh(sin0/g.n) - g.n*isometric(g.e2, lat0)
	sin, cos := math.Sincos(parallel * toRad)
	k.cone, k.q0 = sin, math.Atanh(sin)
	k.rho0 = k0 * e.A * math.Sqrt(1-g.e2) / w * cos / sin
	return k
}

func (k *krovak) Forward(lon, lat float64) (x, y float64) {
	sin, cos := k.latitude(lat)
	sinV, cosV := math.Sincos(k.n * wrap(k.lon0-lon) * toRad)
	sinT := k.cosA*sin + k.sinA*cos*cosV
	d := math.Asin(cos * sinV / math.Sqrt(1-sinT*sinT)) // the longitude seen from the tip of the cone
	rho := k.rho0 * math.Exp(k.cone*(k.q0-math.Atanh(sinT)))
	s, c := math.Sincos(k.cone * d)
	return -(rho*s + k.fe), -(rho*c + k.fn)
}

func (k *krovak) Inverse(x, y float64) (lon, lat float64) {
	west, south := -x-k.fe, -y-k.fn
	rho, d := math.Hypot(west, south), math.Atan2(west, south)/k.cone
	sinT := math.Tanh(k.q0 - math.Log(rho/k.rho0)/k.cone)
	cosT := math.Sqrt(1 - sinT*sinT)
	sinD, cosD := math.Sincos(d)
	sin := k.cosA*sinT - k.sinA*cosT*cosD
	v := math.Asin(cosT * sinD / math.Sqrt(1-sin*sin))
	return wrap(k.lon0 - v/k.n*toDeg), k.back(sin)
}

func (k *krovak) Name() string { return "Krovak" }

// hotine is the oblique Mercator projection of Hotine: EPSG guidance note 7-2, methods 9812 and 9815; Snyder, eqs. 9-1 to 9-37.
type hotine struct {
	lon0, fe, fn float64 // the natural origin's longitude, degrees
	e2           float64
	delta        [6]float64
	a, b, h      float64 // A, B, ln H
	sin0, cos0   float64 // of γ0
	sinC, cosC   float64 // of the rectified grid's angle
	uc           float64 // u at the point that has the false origin
}

// newHotine takes the centre, the azimuth of the initial line there and the angle of the grid, in degrees. centre: the false
// origin is there, not where the line meets the aposphere's equator.
func newHotine(e Ellipsoid, lonC, latC, azimuth, skew, k0, fe, fn float64, centre bool) (Projection, error) {
	if latC == 0 || !(math.Abs(latC) < 90) || !(math.Abs(azimuth) <= 360) || math.Mod(azimuth, 180) == 0 {
		return nil, fmt.Errorf("projection text: an oblique Mercator projection with its centre at latitude %g° and azimuth %g°", latC, azimuth)
	}
	f := e.flattening()
	h := &hotine{fe: fe, fn: fn, e2: f * (2 - f), delta: krueger(deltaSeries, f/(2-f))}
	sin, cos := math.Sincos(latC * toRad)
	w := 1 - h.e2*sin*sin
	h.b = math.Sqrt(1 + h.e2*cos*cos*cos*cos/(1-h.e2))
	h.a = e.A * h.b * k0 * math.Sqrt(1-h.e2) / w
	d := max(1, h.b*math.Sqrt(1-h.e2)/(cos*math.Sqrt(w)))
	root := math.Copysign(math.Sqrt(d*d-1), latC)
	g := d + root // F
	h.h = math.Log(g) - h.b*isometric(h.e2, latC)
	h.sin0 = math.Sin(azimuth*toRad) / d
	h.cos0 = math.Sqrt(1 - h.sin0*h.sin0)
	turn := math.Copysign(90, latC) // at azimuth 90° the arc sine of 1, of which rounding would eat half the digits
	if azimuth != 90 {
		turn = math.Asin((g-1/g)/2*h.sin0/h.cos0) * toDeg
	}
	h.lon0 = lonC - turn/h.b
	h.sinC, h.cosC = math.Sincos(skew * toRad)
	if centre {
		_, h.uc = h.skewed(lonC, latC)
	}
	return h, nil
}

// skewed is v and u, across the initial line and along it.
func (h *hotine) skewed(lon, lat float64) (v, u float64) {
	q := h.h + h.b*isometric(h.e2, lat) // ln Q
	s, t := math.Sinh(q), math.Cosh(q)
	sin, cos := math.Sincos(h.b * wrap(lon-h.lon0) * toRad)
	v = -h.a / h.b * math.Atanh((s*h.sin0-sin*h.cos0)/t)
	return v, h.a / h.b * math.Atan2(s*h.cos0+sin*h.sin0, cos)
}

func (h *hotine) Forward(lon, lat float64) (x, y float64) {
	v, u := h.skewed(lon, lat)
	u -= h.uc
	return h.fe + v*h.cosC + u*h.sinC, h.fn + u*h.cosC - v*h.sinC
}

func (h *hotine) Inverse(x, y float64) (lon, lat float64) {
	x, y = x-h.fe, y-h.fn
	v, u := x*h.cosC-y*h.sinC, y*h.cosC+x*h.sinC+h.uc
	q := -h.b * v / h.a
	s, t := math.Sinh(q), math.Cosh(q)
	sin, cos := math.Sincos(h.b * u / h.a)
	psi := (math.Atanh((sin*h.cos0+s*h.sin0)/t) - h.h) / h.b
	return wrap(h.lon0 - math.Atan2(s*h.cos0-sin*h.sin0, cos)/h.b*toDeg), fromIsometric(&h.delta, psi)
}

func (h *hotine) Name() string { return "oblique Mercator" }
