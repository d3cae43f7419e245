package crs

import (
	"fmt"
	"math"
)

// LambertConformal is Lambert's conformal conic on an ellipsoid: Snyder, USGS
// PP 1395, eqs. 15-1 to 15-11; EPSG guidance note 7-2, methods 9801 (one
// standard parallel) and 9802 (two). It is conformal and exact to rounding over
// the whole cone. The pole opposite to the cone has no image.
//
// The zero value is no projection; make one with NewLambertConformal.
type LambertConformal struct {
	lon0, lat0, sp1, sp2, k0 float64
	fe, fn                   float64
	e2                       float64
	n                        float64 // cone constant, negative for a southern cone
	psi1                     float64 // isometric latitude of the first parallel
	rho1, rho0               float64 // metres from the cone's tip to the first parallel and to lat0
	delta                    [6]float64
}

// NewLambertConformal takes the central meridian lon0, the latitude of origin
// lat0 and the standard parallels sp1 and sp2 in degrees, the scale k0 on the
// standard parallels, and the false easting and northing in metres. With one
// standard parallel sp1 = sp2.
func NewLambertConformal(e Ellipsoid, lon0, lat0, sp1, sp2, k0, fe, fn float64) (LambertConformal, error) {
	for _, lat := range []float64{sp1, sp2} {
		if !(math.Abs(lat) < 90) {
			return LambertConformal{}, fmt.Errorf("lambert conformal conic: standard parallel %g°: must lie between -90 and 90", lat)
		}
	}
	if !(math.Abs(lat0) <= 90) {
		return LambertConformal{}, fmt.Errorf("lambert conformal conic: latitude of origin %g°: must lie between -90 and 90", lat0)
	}
	f := e.flattening()
	l := LambertConformal{
		lon0: lon0, lat0: lat0, sp1: sp1, sp2: sp2, k0: k0, fe: fe, fn: fn,
		e2: f * (2 - f), delta: krueger(deltaSeries, f/(2-f)),
	}
	m1 := l.parallel(sp1)
	l.psi1 = isometric(l.e2, sp1)
	l.n = l.cone(m1)
	// Below it the cone is a cylinder in all but name, and 1/n eats the digits.
	const flattest = 1e-6
	if !(math.Abs(l.n) > flattest) {
		return LambertConformal{}, fmt.Errorf("lambert conformal conic: standard parallels %g° and %g°: they make no cone", sp1, sp2)
	}
	l.rho1 = e.A * k0 * m1 / l.n
	l.rho0 = l.radius(lat0)
	if math.IsInf(l.rho0, 0) || math.Abs(l.rho0) > 1e9 {
		return LambertConformal{}, fmt.Errorf("lambert conformal conic: latitude of origin %g°: has no image on a cone with standard parallels %g° and %g°", lat0, sp1, sp2)
	}
	return l, nil
}

// parallel is the radius of a parallel as a share of the half axis, eq. 14-15.
func (l *LambertConformal) parallel(lat float64) float64 {
	s, c := math.Sincos(lat * toRad)
	return c / math.Sqrt(1-l.e2*s*s)
}

// cone is the cone constant −Δ ln m / Δψ, eq. 15-8. As d ln m/dψ = −sin φ it is
// the mean of sin φ over ψ between the parallels; where they are close and the
// quotient would lose digits, Gauss's three points give that mean: their error,
// Δψ⁶/2 016 000, is below 1e-15 there.
func (l *LambertConformal) cone(m1 float64) float64 {
	const close = 0.03
	psi2 := isometric(l.e2, l.sp2)
	d := psi2 - l.psi1
	if math.Abs(d) > close {
		return -math.Log(l.parallel(l.sp2)/m1) / d
	}
	at := func(t float64) float64 {
		return math.Sin(fromIsometric(&l.delta, l.psi1+t*d) * toRad)
	}
	off := math.Sqrt(0.15)
	return (5*at(0.5-off) + 8*at(0.5) + 5*at(0.5+off)) / 18
}

// radius is the distance from the tip of the cone in metres, with the sign of n.
func (l *LambertConformal) radius(lat float64) float64 {
	if lat == math.Copysign(90, l.n) {
		return 0
	}
	return l.rho1 * math.Exp(-l.n*(isometric(l.e2, lat)-l.psi1))
}

// Forward takes degrees to metres on the map.
func (l LambertConformal) Forward(lon, lat float64) (x, y float64) {
	rho := l.radius(lat)
	sin, cos := math.Sincos(l.n * wrap(lon-l.lon0) * toRad)
	return l.fe + rho*sin, l.fn + l.rho0 - rho*cos
}

// Inverse takes metres on the map to degrees.
func (l LambertConformal) Inverse(x, y float64) (lon, lat float64) {
	sign := math.Copysign(1, l.n)
	dx, dy := sign*(x-l.fe), sign*(l.rho0-(y-l.fn))
	rho := math.Hypot(dx, dy)
	if rho == 0 {
		return l.lon0, sign * 90
	}
	psi := l.psi1 - math.Log(rho/math.Abs(l.rho1))/l.n
	return wrap(l.lon0 + math.Atan2(dx, dy)/l.n*toDeg), fromIsometric(&l.delta, psi)
}

// Name says which conic this is.
func (l LambertConformal) Name() string {
	return fmt.Sprintf("Lambert conformal conic, central meridian %g°, latitude of origin %g°, standard parallels %g°, %g°, scale %.10g, false origin %g, %g m",
		l.lon0, l.lat0, l.sp1, l.sp2, l.k0, l.fe, l.fn)
}
