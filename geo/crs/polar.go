package crs

import (
	"fmt"
	"math"
)

// polar is the stereographic projection on the plane at a pole, EPSG guidance note 7-2, methods 9810 (with a scale at the pole) and 9829 (true
// on a parallel). A place lies rho = k·e^(∓ψ) from the pole, where ψ is its isometric latitude.
type polar struct {
	lon0, fe, fn float64
	pole         float64 // 1 at the north pole, −1 at the other
	k            float64 // m
	e2           float64
	delta        [6]float64
}

// newPolar takes the longitude that leads up the map in the south and down it in the north, and the latitude where the scale is k0, in
// degrees: that of a pole, or of a parallel on its side of the equator.
func newPolar(e Ellipsoid, lon0, lat float64, k0, fe, fn float64) (Projection, error) {
	if !(math.Abs(lat) <= 90) || lat == 0 {
		return nil, fmt.Errorf("projection text: latitude %g of a polar stereographic projection: must lie between -90 and 90 and off the equator", lat)
	}
	f := e.flattening()
	p := &polar{lon0: lon0, fe: fe, fn: fn, pole: math.Copysign(1, lat), e2: f * (2 - f), delta: krueger(deltaSeries, f/(2-f))}
	if lat = math.Abs(lat); lat == 90 {
		ecc := math.Sqrt(p.e2)
		p.k = 2 * e.A * k0 / math.Sqrt(math.Pow(1+ecc, 1+ecc)*math.Pow(1-ecc, 1-ecc))
		return p, nil
	}
	sin, cos := math.Sincos(lat * toRad)
	p.k = e.A * k0 * cos / math.Sqrt(1-p.e2*sin*sin) * math.Exp(isometric(p.e2, lat))
	return p, nil
}

func (p *polar) Forward(lon, lat float64) (x, y float64) {
	rho := p.k * math.Exp(-isometric(p.e2, p.pole*lat))
	sin, cos := math.Sincos(wrap(lon-p.lon0) * toRad)
	return p.fe + rho*sin, p.fn - p.pole*rho*cos
}

func (p *polar) Inverse(x, y float64) (lon, lat float64) {
	dx, dy := x-p.fe, p.pole*(p.fn-y)
	psi := -math.Log(math.Hypot(dx, dy) / p.k)
	return wrap(p.lon0 + math.Atan2(dx, dy)*toDeg), p.pole * fromIsometric(&p.delta, psi)
}

func (p *polar) Name() string {
	return fmt.Sprintf("polar stereographic, %s, central meridian %g°", map[float64]string{1: "north", -1: "south"}[p.pole], p.lon0)
}
