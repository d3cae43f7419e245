package crs

import (
	"fmt"
	"math"
)

// polyconic is the American polyconic projection: Snyder, USGS PP 1395, eqs. 18-12 to 18-17; EPSG guidance note 7-2, method 9818.
type polyconic struct {
	tm           TransverseMercator // whose central meridian has the length along it
	lon0, fe, fn float64
	a, e2        float64
}

func newPolyconic(e Ellipsoid, lon0, lat0, fe, fn float64) *polyconic {
	f := e.flattening()
	return &polyconic{NewTransverseMercator(e, lon0, lat0, 1, 0, 0), lon0, fe, fn, e.A, f * (2 - f)}
}

func (p *polyconic) Forward(lon, lat float64) (x, y float64) {
	sin, cos := math.Sincos(lat * toRad)
	nu := p.a / math.Sqrt(1-p.e2*sin*sin)
	_, m := p.tm.forward(p.lon0, lat)
	l := wrap(lon-p.lon0) * toRad
	if math.Abs(sin) < 1e-9 { // within 6 mm of the equator, which is a straight line
		return p.fe + nu*l, p.fn + m
	}
	sinL, _ := math.Sincos(l * sin)
	half := math.Sin(l * sin / 2)
	r := nu * cos / sin
	return p.fe + r*sinL, p.fn + m + 2*r*half*half
}

// Inverse comes nearer by Newton's steps, with the slopes of Forward taken over a metre; from within 40° of the central meridian
// six of them leave less than a micrometre.
func (p *polyconic) Inverse(x, y float64) (lon, lat float64) {
	_, lat = p.tm.inverse(0, y-p.fn)
	lon = p.lon0 + (x-p.fe)/(p.a*math.Max(math.Cos(lat*toRad), 0.01))*toDeg
	const step = 1e-5 // °
	for range 8 {
		u, v := p.Forward(lon, lat)
		ue, ve := p.Forward(lon+step, lat)
		un, vn := p.Forward(lon, lat+step)
		ue, ve, un, vn = (ue-u)/step, (ve-v)/step, (un-u)/step, (vn-v)/step
		det := ue*vn - un*ve
		lon += (vn*(x-u) - un*(y-v)) / det
		lat = math.Max(-90, math.Min(90, lat+(ue*(y-v)-ve*(x-u))/det))
	}
	return wrap(lon), lat
}

func (p *polyconic) Name() string { return fmt.Sprintf("polyconic, central meridian %g°", p.lon0) }

// southward is a transverse Mercator that counts to the west and to the south: EPSG method 9808. South of the equator, from where
// it counts, such numbers are above 0; files that have them as east and north have northings below 0, and are read as well.
type southward struct{ TransverseMercator }

func (s *southward) Forward(lon, lat float64) (x, y float64) {
	x, y = s.forward(lon, lat)
	return -x, -y
}

func (s *southward) Inverse(x, y float64) (lon, lat float64) {
	if y > 0 {
		x, y = -x, -y
	}
	return s.inverse(x, y)
}

func (s *southward) Name() string {
	return fmt.Sprintf("transverse Mercator to the south, central meridian %g°", s.lon0)
}
