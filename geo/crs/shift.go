package crs

import (
	"math"
	"sync"
)

// shift is a transformation from a datum to WGS84 by seven parameters: EPSG guidance note 7-2, 4.3.3, position vector.
type shift struct {
	code     int     // EPSG; 0: none is published, see internal/gen
	accuracy float64 // m
	p        [7]float64
	region   [4]float64 // south, north, west, east; zero: everywhere
}

func (s shift) null() bool { return s.p == [7]float64{} }

// off is how far from the middle of its region a place is: up to 1 inside.
func (s shift) off(lon, lat float64) float64 {
	r := s.region
	return max(math.Abs(2*lat-r[0]-r[1])/(r[1]-r[0]), math.Abs(2*lon-r[2]-r[3])/(r[3]-r[2]))
}

// shifted is a projection with the shift of its datum. Heights are left out: places lie on the ellipsoid before it and after.
type shifted struct {
	Projection
	e      Ellipsoid
	choice []shift
	once   sync.Once
	r      [3][3]float64 // rotation and scale
	t      [3]float64
}

func newShifted(p Projection, e Ellipsoid, choice []shift) *shifted {
	return &shifted{Projection: p, e: e, choice: choice}
}

// choose takes the shift of the region for the first place that is asked for, and for all others: a field must not be torn.
func (s *shifted) choose(lon, lat float64) {
	s.once.Do(func() {
		best := s.choice[0]
		for _, c := range s.choice[1:] {
			if c.off(lon, lat) < best.off(lon, lat) {
				best = c
			}
		}
		const second = toRad / 3600
		k := 1 + best.p[6]*1e-6
		x, y, z := k*best.p[3]*second, k*best.p[4]*second, k*best.p[5]*second
		s.t = [3]float64(best.p[:3])
		s.r = [3][3]float64{{k, -z, y}, {z, k, -x}, {-y, x, k}}
	})
}

// Inverse takes the map to longitude and latitude on WGS84.
func (s *shifted) Inverse(x, y float64) (lon, lat float64) {
	lon, lat = s.Projection.Inverse(x, y)
	if s.choose(lon, lat); math.IsNaN(lon) || math.IsNaN(lat) {
		return lon, lat
	}
	g := s.e.geocentric(lon, lat)
	var q [3]float64
	for i, row := range s.r {
		q[i] = s.t[i] + row[0]*g[0] + row[1]*g[1] + row[2]*g[2]
	}
	return WGS84.geographic(q)
}

// Forward takes longitude and latitude on WGS84 to the map: what Inverse takes back there, which it comes nearer to with
// every step by some thousandths of what was left.
func (s *shifted) Forward(lon, lat float64) (x, y float64) {
	s.choose(lon, lat)
	u, v := lon, lat
	for range 6 {
		g := s.e.geocentric(u, v)
		var q [3]float64
		for i, row := range s.r {
			q[i] = s.t[i] + row[0]*g[0] + row[1]*g[1] + row[2]*g[2]
		}
		a, b := WGS84.geographic(q)
		u, v = u+wrap(lon-a), v+lat-b
	}
	return s.Projection.Forward(u, v)
}

// geocentric takes a place on the ellipsoid to metres from its centre.
func (e Ellipsoid) geocentric(lon, lat float64) [3]float64 {
	f := e.flattening()
	sinL, cosL := math.Sincos(lon * toRad)
	sinP, cosP := math.Sincos(lat * toRad)
	n := e.A / math.Sqrt(1-f*(2-f)*sinP*sinP)
	return [3]float64{n * cosP * cosL, n * cosP * sinL, n * (1 - f) * (1 - f) * sinP}
}

// geographic is the place on the ellipsoid that lies under a point, by Bowring's formula: exact to 1e-11° for what is within
// some kilometres of the ellipsoid.
func (e Ellipsoid) geographic(g [3]float64) (lon, lat float64) {
	f := e.flattening()
	b, e2 := e.A*(1-f), f*(2-f)
	p := math.Hypot(g[0], g[1])
	sin, cos := math.Sincos(math.Atan2(g[2]*e.A, p*b))
	lat = math.Atan2(g[2]+e2/(1-e2)*b*sin*sin*sin, p-e2*e.A*cos*cos*cos)
	return math.Atan2(g[1], g[0]) * toDeg, lat * toDeg
}
