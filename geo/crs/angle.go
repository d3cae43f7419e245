package crs

import "math"

// wrap brings a longitude in degrees into ±180. Both ends are left as they are.
func wrap(lon float64) float64 {
	if lon >= -180 && lon <= 180 {
		return lon
	}
	return math.Remainder(lon, 360)
}

// eAtanhE is e·atanh(e·s) for s = sin φ. The series is cut where its terms fall
// below 1e-17 for e² ≤ 0.0068 (all ellipsoids of the earth in use); a rounder or
// flatter body takes the long way.
func eAtanhE(e2, s float64) float64 {
	if e2 > 0.0068 || e2 < 0 {
		if e2 < 0 {
			e := math.Sqrt(-e2)
			return -e * math.Atan(e*s)
		}
		e := math.Sqrt(e2)
		return e * math.Atanh(e*s)
	}
	t := e2 * s * s
	return e2 * s * (1 + t*(1./3+t*(1./5+t*(1./7+t*(1./9+t*(1./11+t/13))))))
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
	v := math.Log1p(a + a*a/(1+c))
	return math.Copysign(v, s)
}
