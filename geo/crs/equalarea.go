package crs

import (
	"fmt"
	"math"
)

// LambertEqualArea is Lambert's azimuthal equal-area projection of an
// ellipsoid, oblique or polar: Snyder, USGS PP 1395, eqs. 24-17 to 24-27; EPSG
// guidance note 7-2, method 9820. The point opposite to the centre has no image.
//
// The zero value is no projection; make one with NewLambertEqualArea.
type LambertEqualArea struct {
	lon0, lat0, fe, fn float64
	rq                 float64    // radius of the sphere of equal area, metres
	d                  float64    // stretch that makes the scale at the centre 1 both ways, eq. 24-20
	sinB0, cosB0       float64    // of the authalic latitude of the centre
	toBeta, toPhi      [6]float64 // β − φ by sin 2jφ, φ − β by sin 2jβ
}

// NewLambertEqualArea takes the centre lon0, lat0 in degrees and the false
// easting and northing in metres.
func NewLambertEqualArea(e Ellipsoid, lon0, lat0, fe, fn float64) (LambertEqualArea, error) {
	if !(math.Abs(lat0) <= 90) {
		return LambertEqualArea{}, fmt.Errorf("lambert azimuthal equal area: latitude of centre %g°: must lie between -90 and 90", lat0)
	}
	f := e.flattening()
	e2 := f * (2 - f)
	qp := authalicQ(e2, 1)
	l := LambertEqualArea{lon0: lon0, lat0: lat0, fe: fe, fn: fn, rq: e.A * math.Sqrt(qp/2), d: 1}
	l.toBeta, l.toPhi = authalicSeries(e2)
	l.sinB0, l.cosB0 = l.authalic(lat0)
	if math.Abs(lat0) < 90 { // at the poles the quotient is 0/0 and its limit is 1
		s, c := math.Sincos(lat0 * toRad)
		l.d = e.A * c / (math.Sqrt(1-e2*s*s) * l.rq * l.cosB0)
	}
	return l, nil
}

// authalicQ is eq. 3-12; sin β = q(sin φ)/q(1).
func authalicQ(e2, s float64) float64 {
	return (1 - e2) * (s/(1-e2*s*s) + atanhOverE(e2, s))
}

// authalicSeries finds the first six sine factors of β − φ and of φ − β by
// sampling both at 16 latitudes. They fall off like n^j, so that what is left
// out is below rounding for ellipsoids of the earth; and unlike asin(q/qp) the
// sums keep all their digits near the poles.
func authalicSeries(e2 float64) (toBeta, toPhi [6]float64) {
	const samples = 16
	qp := authalicQ(e2, 1)
	beta := func(phi float64) float64 { return math.Asin(authalicQ(e2, math.Sin(phi)) / qp) }
	for i := range samples {
		at := (float64(i) + 0.5) * math.Pi / (2 * samples)
		there := beta(at) - at
		// φ with β(φ) = at, by the fixed point φ ← φ + (at − β(φ)), whose step
		// shrinks by e² each time: eight leave e^16 < 1e-17.
		phi := at
		for range 8 {
			phi += at - beta(phi)
		}
		back := phi - at
		for j := range toBeta {
			s := math.Sin(2*float64(j+1)*at) * 2 / samples
			toBeta[j] += there * s
			toPhi[j] += back * s
		}
	}
	return toBeta, toPhi
}

// authalic gives sine and cosine of the authalic latitude.
func (l *LambertEqualArea) authalic(lat float64) (sin, cos float64) {
	if math.Abs(lat) == 90 {
		return math.Copysign(1, lat), 0
	}
	phi := lat * toRad
	sin2, cos2 := math.Sincos(2 * phi)
	return math.Sincos(phi + sineSumReal(&l.toBeta, sin2, cos2))
}

// Forward takes degrees to metres on the map.
func (l LambertEqualArea) Forward(lon, lat float64) (x, y float64) {
	sinB, cosB := l.authalic(lat)
	sinL, cosL := math.Sincos(wrap(lon-l.lon0) * toRad)
	// The place as a unit vector: towards the centre, east and north of it.
	in := l.sinB0*sinB + l.cosB0*cosB*cosL
	east := cosB * sinL
	north := l.cosB0*sinB - l.sinB0*cosB*cosL
	b := l.rq * math.Sqrt(2/(1+in))
	return l.fe + b*l.d*east, l.fn + b/l.d*north
}

// Inverse takes metres on the map to degrees; NaN outside the disc of the globe.
func (l LambertEqualArea) Inverse(x, y float64) (lon, lat float64) {
	dx, dy := (x-l.fe)/l.d, (y-l.fn)*l.d
	half := math.Hypot(dx, dy) / (2 * l.rq) // sine of half the angle from the centre
	cosHalf := math.Sqrt((1 - half) * (1 + half))
	in := 1 - 2*half*half
	east, north := dx*cosHalf/l.rq, dy*cosHalf/l.rq
	up := in*l.sinB0 + north*l.cosB0
	out := in*l.cosB0 - north*l.sinB0
	beta := math.Atan2(up, math.Hypot(out, east))
	sin2, cos2 := math.Sincos(2 * beta)
	return wrap(l.lon0 + math.Atan2(east, out)*toDeg), (beta + sineSumReal(&l.toPhi, sin2, cos2)) * toDeg
}

// Name says which equal-area projection this is.
func (l LambertEqualArea) Name() string {
	return fmt.Sprintf("Lambert azimuthal equal area, centre %g°, %g°, false origin %g, %g m", l.lon0, l.lat0, l.fe, l.fn)
}
