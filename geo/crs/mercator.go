package crs

import (
	"fmt"
	"math"
)

// mercator is the Mercator projection of an ellipsoid, or of a sphere: Snyder, USGS PP 1395, eqs. 7-6 to 7-8; EPSG guidance
// note 7-2, methods 9804, 9805 and 1024 (by which the ellipsoid's latitude is taken as that of a sphere).
type mercator struct {
	lon0, ak, fe, fn float64
	e2               float64
	delta            [6]float64
}

func newMercator(e Ellipsoid, lon0, k0, fe, fn float64) mercator {
	f := e.flattening()
	return mercator{lon0, e.A * k0, fe, fn, f * (2 - f), krueger(deltaSeries, f/(2-f))}
}

func (m mercator) Forward(lon, lat float64) (x, y float64) {
	return m.fe + m.ak*wrap(lon-m.lon0)*toRad, m.fn + m.ak*isometric(m.e2, lat)
}

func (m mercator) Inverse(x, y float64) (lon, lat float64) {
	return wrap(m.lon0 + (x-m.fe)/m.ak*toDeg), fromIsometric(&m.delta, (y-m.fn)/m.ak)
}

func (m mercator) Name() string { return fmt.Sprintf("Mercator, central meridian %g°", m.lon0) }

// cassini is the Cassini-Soldner projection: EPSG guidance note 7-2, method 9806. Its series leave out less than a tenth of a
// millimetre up to 150 km from the central meridian; farther out the maps in use do not go.
type cassini struct {
	tm     TransverseMercator // of scale 1, for the length of the meridian from the origin
	lon0   float64
	fe, fn float64
	a, e2  float64
}

func newCassini(e Ellipsoid, lon0, lat0, fe, fn float64) *cassini {
	f := e.flattening()
	return &cassini{NewTransverseMercator(e, lon0, lat0, 1, 0, 0), lon0, fe, fn, e.A, f * (2 - f)}
}

func (c *cassini) Forward(lon, lat float64) (x, y float64) {
	sin, cos := math.Sincos(lat * toRad)
	nu := c.a / math.Sqrt(1-c.e2*sin*sin)
	a, t, k := wrap(lon-c.lon0)*toRad*cos, sin*sin/(cos*cos), c.e2/(1-c.e2)*cos*cos
	_, m := c.tm.forward(c.lon0, lat)
	a2 := a * a
	return c.fe + nu*a*(1-t*a2*(1./6+(8-t+8*k)*a2/120)), c.fn + m + nu*sin/cos*a2*(0.5+(5-t+6*k)*a2/24)
}

func (c *cassini) Inverse(x, y float64) (lon, lat float64) {
	_, foot := c.tm.inverse(0, y-c.fn)
	sin, cos := math.Sincos(foot * toRad)
	w := 1 - c.e2*sin*sin
	nu, t := c.a/math.Sqrt(w), sin*sin/(cos*cos)
	d := (x - c.fe) / nu
	d2 := d * d
	lat = foot - w/(1-c.e2)*sin/cos*d2*(0.5-(1+3*t)*d2/24)*toDeg // ν/ρ = w/(1 − e²)
	lon = wrap(c.lon0 + d*(1-t*d2*(1./3-(1+3*t)*d2/15))/cos*toDeg)
	// These series end earlier than those of Forward: one step takes the place to where Forward has it.
	fx, fy := c.Forward(lon, lat)
	return wrap(lon + (x-fx)/(nu*cos)*toDeg), lat + (y-fy)*w*math.Sqrt(w)/(c.a*(1-c.e2))*toDeg
}

func (c *cassini) Name() string {
	return fmt.Sprintf("Cassini-Soldner, central meridian %g°, latitude of origin %g°", c.lon0, c.tm.lat0)
}

// albers is the conic equal-area projection: Snyder, eqs. 14-1 to 14-19; EPSG method 9822.
type albers struct {
	lon0, fe, fn float64
	a, e2, n, c  float64
	rho0, qp     float64
	toPhi        [6]float64
}

func newAlbers(e Ellipsoid, lon0, lat0, sp1, sp2, fe, fn float64) (Projection, error) {
	f := e.flattening()
	a := &albers{lon0: lon0, fe: fe, fn: fn, a: e.A, e2: f * (2 - f)}
	m2q := func(lat float64) (m2, q float64) {
		sin, cos := math.Sincos(lat * toRad)
		return cos * cos / (1 - a.e2*sin*sin), authalicQ(a.e2, sin)
	}
	m1, q1 := m2q(sp1)
	m2, q2 := m2q(sp2)
	if a.n = math.Sin(sp1 * toRad); math.Abs(sp1-sp2) > 1e-9 {
		a.n = (m1 - m2) / (q2 - q1)
	}
	if !(math.Abs(a.n) > 1e-6) || !(math.Abs(sp1) < 90 && math.Abs(sp2) < 90) {
		return nil, fmt.Errorf("projection text: standard parallels %g° and %g°: they make no cone", sp1, sp2)
	}
	a.c, a.qp = m1+a.n*q1, authalicQ(a.e2, 1)
	_, a.toPhi = authalicSeries(a.e2)
	_, q0 := m2q(lat0)
	a.rho0 = a.radius(q0)
	return a, nil
}

func (a *albers) radius(q float64) float64 { return a.a * math.Sqrt(max(0, a.c-a.n*q)) / a.n }

func (a *albers) Forward(lon, lat float64) (x, y float64) {
	rho := a.radius(authalicQ(a.e2, math.Sin(lat*toRad)))
	sin, cos := math.Sincos(a.n * wrap(lon-a.lon0) * toRad)
	return a.fe + rho*sin, a.fn + a.rho0 - rho*cos
}

func (a *albers) Inverse(x, y float64) (lon, lat float64) {
	sign := math.Copysign(1, a.n)
	dx, dy := sign*(x-a.fe), sign*(a.rho0-(y-a.fn))
	rho := math.Hypot(dx, dy)
	beta := math.Asin((a.c - rho*rho*a.n*a.n/(a.a*a.a)) / a.n / a.qp)
	sin2, cos2 := math.Sincos(2 * beta)
	return wrap(a.lon0 + math.Atan2(dx, dy)/a.n*toDeg), (beta + sineSumReal(&a.toPhi, sin2, cos2)) * toDeg
}

func (a *albers) Name() string {
	return fmt.Sprintf("Albers equal area, central meridian %g°", a.lon0)
}
