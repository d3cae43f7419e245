package crs

import "math"

// terms of the power series of Near.
const terms = 8

// nearEnough bounds the last term of each series where it is used, in radii of the earth or radians: half a nanometre. The
// first term left out is smaller by the distance over the distance to the next pole, about.
const nearEnough = 1e-16

// Near is a transverse Mercator around a place of its central meridian, by power series: the same as the projection to a few
// nanometres, some twenty times as fast, and for places beyond their reach (some tens of kilometres, less near a pole) that itself.
//
// With the isometric latitude ψ and the longitude λ, ψ + iλ is an analytic function of y + ix, since both
// are conformal, and is real for x = 0. So its series is that of ψ along the meridian, where by the definitions of the radii of curvature
//
//	dφ/dt = W³/(1 − e²),  dψ/dt = W/cos φ,  W² = 1 − e²sin²φ,  t = y/a
//
// (Snyder, "Map Projections: A Working Manual", USGS PP 1395, 1987, eqs. 4-19 and 7-7). Each of t, ψ and φ in turn is taken for the
// free one; the factors come from these equations term by term, and no number is taken from a table.
type Near struct {
	tm       TransverseMercator
	lat, y0  float64 // degrees, and metres on the map
	scale    float64 // metres on the map to t on the ellipsoid, at scale 1
	psiOfT   series
	phiOfPsi series
	psiOfPhi series
	tOfPsi   series
	reach    float64 // of t
	reachPhi float64 // radians
}

// series are the factors of the powers of a distance, from its first.
type series [terms]float64

// Near is tm around a latitude of its central meridian, in degrees.
func (tm TransverseMercator) Near(lat float64) Near {
	_, y0 := tm.Forward(tm.lon0, lat)
	n := Near{tm: tm, lat: lat, y0: y0, scale: 1 / (tm.k0 * tm.e.A)}
	phi, w2 := lat*toRad, 1-tm.e2
	n.psiOfT = along(phi, tm.e2, func(w, c powers) (powers, powers) { return w.times(w).times(w).scaled(1 / w2), w.over(c) })
	n.phiOfPsi = along(phi, tm.e2, func(w, c powers) (powers, powers) { p := w.times(w).times(c).scaled(1 / w2); return p, p })
	n.tOfPsi = along(phi, tm.e2, func(w, c powers) (powers, powers) { return w.times(w).times(c).scaled(1 / w2), c.over(w) })
	n.psiOfPhi = along(phi, tm.e2, func(w, c powers) (powers, powers) { return powers{1}, powers{w2}.over(w.times(w).times(c)) })
	n.reach = n.psiOfT.reach()
	n.reachPhi = n.psiOfPhi.reach()
	// What lies within reach of one way does so on the other: ψ is t·psiOfT[0] to first order, and half of that is far beyond what is left of it.
	most := min(n.phiOfPsi.reach(), n.tOfPsi.reach()) / 2
	n.reach = min(n.reach, most/n.psiOfT[0])
	n.reachPhi = min(n.reachPhi, most/n.psiOfPhi[0])
	return n
}

// reach is how far the last term is below nearEnough.
func (s *series) reach() float64 {
	return math.Pow(nearEnough/math.Max(1e-3, math.Abs(s[terms-1])), 1./terms)
}

// powers are the factors of a power series, from the constant one.
type powers [terms]float64

func (p powers) times(q powers) (r powers) {
	for i, a := range p {
		for j, b := range q[:terms-i] {
			r[i+j] += a * b
		}
	}
	return r
}

func (p powers) scaled(by float64) powers {
	for i := range p {
		p[i] *= by
	}
	return p
}

func (p powers) over(q powers) (r powers) {
	for i := range r {
		rest := p[i]
		for j := range i {
			rest -= r[j] * q[i-j]
		}
		r[i] = rest / q[0]
	}
	return r
}

func (p powers) root() (r powers) {
	r[0] = math.Sqrt(p[0])
	for i := 1; i < terms; i++ {
		rest := p[i]
		for j := 1; j < i; j++ {
			rest -= r[j] * r[i-j]
		}
		r[i] = rest / (2 * r[0])
	}
	return r
}

// integral is that of p that begins with a constant.
func (p powers) integral(constant float64) (r powers) {
	r[0] = constant
	for i := 1; i < terms; i++ {
		r[i] = p[i-1] / float64(i)
	}
	return r
}

// along is the series of a value from latitude phi on. slope gives of W and cos φ the slopes of φ and of that value by the free variable. Each
// round makes one more factor of sin φ and cos φ right.
func along(phi, e2 float64, slope func(w, cos powers) (ofPhi, of powers)) (s series) {
	sin0, cos0 := math.Sincos(phi)
	sin, cos := powers{sin0}, powers{cos0}
	var of powers
	for range terms {
		w := sin.times(sin).scaled(-e2)
		w[0]++
		var ofPhi powers
		ofPhi, of = slope(w.root(), cos)
		sin, cos = cos.times(ofPhi).integral(sin0), sin.times(ofPhi).scaled(-1).integral(cos0)
	}
	for i := range s {
		s[i] = of[i] / float64(i+1)
	}
	return s
}

func (s *series) at(x float64) float64 {
	sum := s[terms-1]
	for i := terms - 2; i >= 0; i-- {
		sum = sum*x + s[i]
	}
	return sum * x
}

// atComplex is at for x + iy.
func (s *series) atComplex(x, y float64) (re, im float64) {
	re = s[terms-1]
	for i := terms - 2; i >= 0; i-- {
		re, im = re*x-im*y+s[i], re*y+im*x
	}
	return re*x - im*y, re*y + im*x
}

// Forward takes degrees to metres east and north of the place.
func (n *Near) Forward(lon, lat float64) (x, y float64) {
	phi, lambda := (lat-n.lat)*toRad, wrap(lon-n.tm.lon0)*toRad
	if !(math.Abs(phi) <= n.reachPhi && math.Abs(lambda) <= n.reachPhi*n.psiOfPhi[0]) {
		x, y = n.tm.forward(lon, lat)
		return x - n.tm.fe, y - n.y0
	}
	y, x = n.tOfPsi.atComplex(n.psiOfPhi.at(phi), lambda)
	return x / n.scale, y / n.scale
}

// Inverse takes metres east and north of the place to degrees.
func (n *Near) Inverse(x, y float64) (lon, lat float64) {
	e, t := x*n.scale, y*n.scale
	if !(math.Abs(e) <= n.reach && math.Abs(t) <= n.reach) {
		return n.tm.inverse(x+n.tm.fe, y+n.y0)
	}
	psi, lambda := n.psiOfT.atComplex(t, e)
	return wrap(n.tm.lon0 + lambda*toDeg), n.lat + n.phiOfPsi.at(psi)*toDeg
}

// Convergence is that of the projection.
func (n *Near) Convergence(lon, lat float64) float64 { return n.tm.Convergence(lon, lat) }
