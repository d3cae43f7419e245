package crs

import "math"

// wrap brings a longitude in degrees into ±180. Both ends are left as they are.
func wrap(lon float64) float64 {
	if lon >= -180 && lon <= 180 {
		return lon
	}
	return math.Remainder(lon, 360)
}

// atanhOverE is atanh(e·s)/e for s = sin φ. The series is cut where its terms
// fall below 1e-17 for e² ≤ 0.0068 (all ellipsoids of the earth in use); a
// flatter body takes the long way.
func atanhOverE(e2, s float64) float64 {
	t := e2 * s * s
	if e2 > 0.0068 {
		e := math.Sqrt(e2)
		return math.Atanh(e*s) / e
	}
	return s * (1 + t*(1./3+t*(1./5+t*(1./7+t*(1./9+t*(1./11+t/13))))))
}

// sinhSmall is sinh, quick and exact to the last digits for small x.
func sinhSmall(x float64) float64 {
	if x < 0.125 && x > -0.125 {
		t := x * x // the next term is t^6/13! < 1e-20 of x
		return x * (1 + t*(1./6+t*(1./120+t*(1./5040+t*(1./362880+t/39916800)))))
	}
	return math.Sinh(x)
}

// asinh of a value of which c = √(1 + s²) is known, odd in s and without the
// loss of digits that log(s + c) has for small s.
func asinh(s, c float64) float64 {
	a := math.Abs(s)
	return math.Copysign(math.Log1p(a+a*a/(1+c)), s)
}

// isometric is the isometric latitude of a latitude in degrees, Snyder eq. 7-8.
func isometric(e2, lat float64) float64 {
	s := math.Sin(lat * toRad)
	return math.Asinh(math.Tan(lat*toRad)) - e2*atanhOverE(e2, s)
}

// fromIsometric is the latitude in degrees; delta is deltaSeries at n.
func fromIsometric(delta *[6]float64, psi float64) float64 {
	sinh := math.Sinh(psi)
	chi := math.Atan(sinh)
	sin2, cos2 := math.Sincos(2 * chi)
	return (chi + sineSumReal(delta, sin2, cos2)) * toDeg
}
