package crs

import (
	"fmt"
	"math"
)

// TransverseMercator is the transverse Mercator projection of an ellipsoid by
// Krüger's series to sixth order in the third flattening: Karney, "Transverse
// Mercator with an accuracy of a few nanometers", J. Geodesy 85 (2011),
// arXiv:1002.1417. Equation numbers below are those of that paper.
//
// Its error is below 10 nm up to 3900 km from the central meridian (the paper's
// finding; the tests hold it to 1 µm) and grows quickly beyond. The two points of
// the equator 90° of longitude away have no image: Forward gives NaN or Inf.
//
// The zero value is no projection; make one with NewTransverseMercator. It is
// only read after that and may be shared by goroutines.
type TransverseMercator struct {
	e           Ellipsoid
	lon0, lat0  float64 // degrees
	k0, fe, fn  float64 // scale on the central meridian, false easting and northing in metres
	e2          float64 // first eccentricity squared
	ka          float64 // k0 times the rectifying radius, metres
	invKA       float64
	xi0         float64 // rectifying latitude of lat0, radians
	alpha, beta [6]float64
	delta       [6]float64
}

const (
	toRad = math.Pi / 180
	toDeg = 180 / math.Pi
)

// NewTransverseMercator takes the central meridian lon0 and the latitude of
// origin lat0 in degrees, the scale k0 on the central meridian, and the false
// easting and northing in metres.
func NewTransverseMercator(e Ellipsoid, lon0, lat0, k0, fe, fn float64) TransverseMercator {
	f := e.flattening()
	n := f / (2 - f)
	n2 := n * n
	tm := TransverseMercator{
		e: e, lon0: lon0, lat0: lat0, k0: k0, fe: fe, fn: fn,
		e2:    f * (2 - f),
		alpha: krueger(alphaSeries, n),
		beta:  krueger(betaSeries, n),
		delta: krueger(deltaSeries, n),
	}
	tm.ka = k0 * e.A / (1 + n) * (1 + n2*(1./4+n2*(1./64+n2/256))) // eq. 14
	tm.invKA = 1 / tm.ka
	m := tm.place(lon0, lat0)
	tm.xi0, _ = m.plane(&tm)
	return tm
}

// Row j of a series holds the factors of n^(j+1), n^(j+2) ... n^6 in the factor
// of sin(2(j+1)·).
var (
	// alphaSeries: conformal sphere to plane, eq. 35.
	alphaSeries = [6][]float64{
		{1. / 2, -2. / 3, 5. / 16, 41. / 180, -127. / 288, 7891. / 37800},
		{13. / 48, -3. / 5, 557. / 1440, 281. / 630, -1983433. / 1935360},
		{61. / 240, -103. / 140, 15061. / 26880, 167603. / 181440},
		{49561. / 161280, -179. / 168, 6601661. / 7257600},
		{34729. / 80640, -3418889. / 1995840},
		{212378941. / 319334400},
	}
	// betaSeries: plane to conformal sphere, eq. 36.
	betaSeries = [6][]float64{
		{1. / 2, -2. / 3, 37. / 96, -1. / 360, -81. / 512, 96199. / 604800},
		{1. / 48, 1. / 15, -437. / 1440, 46. / 105, -1118711. / 3870720},
		{17. / 480, -37. / 840, -209. / 4480, 5569. / 90720},
		{4397. / 161280, -11. / 504, -830251. / 7257600},
		{4583. / 161280, -108847. / 3991680},
		{20648693. / 638668800},
	}
	// deltaSeries: conformal to geographic latitude, from memory; the test of the
	// series holds each factor against quadrature.
	deltaSeries = [6][]float64{
		{2, -2. / 3, -2, 116. / 45, 26. / 45, -2854. / 675},
		{7. / 3, -8. / 5, -227. / 45, 2704. / 315, 2323. / 945},
		{56. / 15, -136. / 35, -1262. / 105, 73814. / 2835},
		{4279. / 630, -332. / 35, -399572. / 14175},
		{4174. / 315, -144838. / 6237},
		{601676. / 22275},
	}
)

// krueger evaluates a series table at n.
func krueger(series [6][]float64, n float64) (c [6]float64) {
	power := n
	for j, row := range series {
		var s float64
		for i := len(row) - 1; i >= 0; i-- {
			s = s*n + row[i]
		}
		c[j] = s * power
		power *= n
	}
	return c
}

// sphere is a place on the conformal sphere, seen from the transverse pole:
// ζ' = ξ' + iη' with the sines and cosines of its parts, which come out of the
// arithmetic and spare calls of them (eqs. 7 to 10, all multiplied by cos φ so
// that the poles are places like any other).
type sphere struct {
	sinXi, cosXi     float64 // of ξ', northward
	sinhEta, coshEta float64 // of η', eastward
	sinPhi, cosPhi   float64 // of the geographic latitude
	sinLam, cosLam   float64 // of the longitude from the central meridian
	sinChi, h        float64 // sin χ · (something > 0), and the distance it was divided by
}

func (tm *TransverseMercator) place(lon, lat float64) (m sphere) {
	m.sinPhi, m.cosPhi = math.Sincos(lat * toRad)
	if lat == 90 || lat == -90 {
		m.cosPhi = 0
	}
	m.sinLam, m.cosLam = math.Sincos(wrap(lon-tm.lon0) * toRad)
	sigma := sinhSmall(tm.e2 * atanhOverE(tm.e2, m.sinPhi))
	m.sinChi = m.sinPhi*math.Sqrt(1+sigma*sigma) - sigma // τ'·cos φ, eq. 7
	c := m.cosPhi * m.cosLam
	m.h = math.Sqrt(m.sinChi*m.sinChi + c*c)
	r := 1 / m.h
	m.sinXi, m.cosXi = m.sinChi*r, c*r
	m.sinhEta = m.cosPhi * m.sinLam * r
	m.coshEta = math.Sqrt(1 + m.sinhEta*m.sinhEta)
	return m
}

// double gives sin 2ζ' and cos 2ζ'.
func double(sin, cos, sinh, cosh float64) (sin2, cos2 complex128) {
	s2, c2 := 2*sin*cos, (cos-sin)*(cos+sin)
	sh2, ch2 := 2*sinh*cosh, 1+2*sinh*sinh
	return complex(s2*ch2, c2*sh2), complex(c2*ch2, -s2*sh2)
}

// plane is eq. 11: ζ = ζ' + Σ αj sin 2jζ', northward and eastward in radians of
// the rectifying sphere.
func (m *sphere) plane(tm *TransverseMercator) (xi, eta float64) {
	sin2, cos2 := double(m.sinXi, m.cosXi, m.sinhEta, m.coshEta)
	s := sineSum(&tm.alpha, sin2, cos2)
	return math.Atan2(m.sinXi, m.cosXi) + real(s), asinh(m.sinhEta, m.coshEta) + imag(s)
}

// sineSum is Σ c[j-1]·sin(2jζ) by Clenshaw's recurrence.
func sineSum(c *[6]float64, sin2, cos2 complex128) complex128 {
	d := 2 * cos2
	y6 := complex(c[5], 0)
	y5 := complex(c[4]+c[5]*real(d), c[5]*imag(d))
	y4 := complex(c[3], 0) + d*y5 - y6
	y3 := complex(c[2], 0) + d*y4 - y5
	y2 := complex(c[1], 0) + d*y3 - y4
	y1 := complex(c[0], 0) + d*y2 - y3
	return sin2 * y1
}

// Forward takes degrees to metres on the map.
func (tm TransverseMercator) Forward(lon, lat float64) (x, y float64) { return tm.forward(lon, lat) }

func (tm *TransverseMercator) forward(lon, lat float64) (x, y float64) {
	m := tm.place(lon, lat)
	xi, eta := m.plane(tm)
	return tm.ka*eta + tm.fe, tm.ka*(xi-tm.xi0) + tm.fn
}

// Inverse takes metres on the map to degrees.
func (tm TransverseMercator) Inverse(x, y float64) (lon, lat float64) { return tm.inverse(x, y) }

func (tm *TransverseMercator) inverse(x, y float64) (lon, lat float64) {
	xi, eta := (y-tm.fn)*tm.invKA+tm.xi0, (x-tm.fe)*tm.invKA
	sin, cos := math.Sincos(xi)
	sinh := sinhSmall(eta)
	sin2, cos2 := double(sin, cos, sinh, math.Sqrt(1+sinh*sinh))
	s := sineSum(&tm.beta, sin2, cos2)
	xi, eta = xi-real(s), eta-imag(s)

	// From the transverse pole back to the pole, eq. 18.
	sin, cos = math.Sincos(xi)
	sinh = sinhSmall(eta)
	c := math.Sqrt(sinh*sinh + cos*cos)
	chi := math.Atan2(sin, c)
	r := 1 / math.Sqrt(sin*sin+c*c)
	sin, c = sin*r, c*r
	sinChi2, cosChi2 := 2*sin*c, (c-sin)*(c+sin)
	phi := chi + sineSumReal(&tm.delta, sinChi2, cosChi2)
	return wrap(tm.lon0 + math.Atan2(sinh, cos)*toDeg), phi * toDeg
}

func sineSumReal(c *[6]float64, sin2, cos2 float64) float64 {
	d := 2 * cos2
	y5 := c[4] + d*c[5]
	y4 := c[3] + d*y5 - c[5]
	y3 := c[2] + d*y4 - y5
	y2 := c[1] + d*y3 - y4
	return sin2 * (c[0] + d*y2 - y3)
}

// Convergence is how many degrees grid north lies clockwise of true north.
func (tm TransverseMercator) Convergence(lon, lat float64) float64 {
	gamma, _ := tm.turn(lon, lat)
	return gamma
}

// Scale is how many metres on the map one metre on the ellipsoid is there. It
// is the same in all directions.
func (tm TransverseMercator) Scale(lon, lat float64) float64 {
	_, k := tm.turn(lon, lat)
	return k
}

// turn is convergence in degrees and scale, eqs. 23 to 25.
func (tm *TransverseMercator) turn(lon, lat float64) (gamma, k float64) {
	m := tm.place(lon, lat)
	_, cos2 := double(m.sinXi, m.cosXi, m.sinhEta, m.coshEta)
	// p' − iq' = 1 + Σ 2j αj cos 2jζ', by Clenshaw's recurrence.
	var y1, y2 complex128
	for j := 5; j >= 0; j-- {
		y1, y2 = complex(float64(2*j+2)*tm.alpha[j], 0)+2*cos2*y1-y2, y1
	}
	pq := 1 + y1*cos2 - y2
	// cosh of the isometric latitude, times cos φ: √(1 + τ'²)·cos φ.
	root := math.Sqrt(m.cosPhi*m.cosPhi + m.sinChi*m.sinChi)
	gamma = math.Atan2(m.sinChi*m.sinLam, root*m.cosLam) + math.Atan2(-imag(pq), real(pq))
	// ka·|p' − iq'| / (a·h) · √(1 − e² sin²φ)
	k = tm.ka / tm.e.A * math.Sqrt(1-tm.e2*m.sinPhi*m.sinPhi) / m.h *
		math.Hypot(real(pq), imag(pq))
	return gamma * toDeg, k
}

// Name says which transverse Mercator this is.
func (tm TransverseMercator) Name() string {
	return fmt.Sprintf("transverse Mercator, central meridian %g°, latitude of origin %g°, scale %.10g, false origin %g, %g m",
		tm.lon0, tm.lat0, tm.k0, tm.fe, tm.fn)
}
