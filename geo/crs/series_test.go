package crs

import (
	"fmt"
	"math"
	"testing"
)

// On the earth (n = 0.0017) the last terms of the series are below a nanometre,
// so that a wrong digit in them would not show. On flatter bodies it does: what
// a right series of sixth order leaves out grows as n⁷, what a wrong factor
// leaves as n⁶ or slower. The exact factors come from sampling latitudes that
// are found by quadrature and bisection, without any series.
func TestSeriesAreOfSeventhOrder(t *testing.T) {
	for name, c := range map[string]struct {
		series [6][]float64
		sign   float64
		tol    float64                     // the factors of delta reach 30, those of the others 2
		from   func(body, float64) float64 // φ → the latitude the series takes
		to     func(body, float64) float64 // φ → the latitude it gives
	}{
		"alpha": {alphaSeries, 1, 5e-4, body.conformal, body.rectifying},
		"beta":  {betaSeries, -1, 5e-4, body.rectifying, body.conformal},
		"delta": {deltaSeries, 1, 8e-3, body.conformal, func(_ body, phi float64) float64 { return phi }},
	} {
		rest := func(n float64) (out [6]float64) {
			b := newBody(n)
			have := krueger(c.series, n)
			const samples = 24
			for i := range samples {
				at := (float64(i) + 0.5) * math.Pi / (2 * samples)
				phi := solve(func(phi float64) float64 { return c.from(b, phi) }, at)
				for j := range out {
					out[j] += (c.to(b, phi) - at) * math.Sin(2*float64(j+1)*at) * 2 / samples
				}
			}
			for j := range out {
				out[j] -= c.sign * have[j]
			}
			return out
		}
		// rest/n⁷ = a + b·n + d/n, with d the error of the last factor; from three n.
		// The n² left out of this stays in d and sets the tolerance.
		one, two, four := rest(0.01), rest(0.02), rest(0.04)
		for j := range one {
			t.Run(fmt.Sprintf("%s %d", name, j+1), func(t *testing.T) {
				c1, c2, c4 := one[j]/math.Pow(0.01, 7), two[j]/math.Pow(0.02, 7), four[j]/math.Pow(0.04, 7)
				if d := ((c4 - c2) - 2*(c2-c1)) / 75; !(math.Abs(d) < c.tol) {
					t.Errorf("the factor of n^6 is off by about %.3g", d)
				}
			})
		}
	}
	// The radius, eq. 14: the next term is 25/16384·n⁸, below rounding here.
	b := newBody(0.02)
	tm := NewTransverseMercator(Ellipsoid{A: 1, InvF: 1 / b.f}, 0, 0, 1, 0, 0)
	near(t, "quarter of the meridian", tm.ka*math.Pi/2, b.quarter, 5e-15)
}

// body is an ellipsoid with half axis 1.
type body struct{ f, e2, quarter float64 }

func newBody(n float64) body {
	f := 2 * n / (1 + n)
	b := body{f: f, e2: f * (2 - f)}
	b.quarter = b.meridian(math.Pi / 2)
	return b
}

// meridian is the length of the meridian from the equator, by Gauss's five
// points on twelve panels.
func (b body) meridian(phi float64) (sum float64) {
	const panels = 12
	x1 := math.Sqrt(5-2*math.Sqrt(10./7)) / 3
	x2 := math.Sqrt(5+2*math.Sqrt(10./7)) / 3
	w0, w1, w2 := 128./225, (322+13*math.Sqrt(70))/900, (322-13*math.Sqrt(70))/900
	f := func(phi float64) float64 {
		s := math.Sin(phi)
		return (1 - b.e2) / math.Pow(1-b.e2*s*s, 1.5)
	}
	h := phi / panels / 2
	for i := range panels {
		m := h * float64(2*i+1)
		sum += h * (w0*f(m) + w1*(f(m-x1*h)+f(m+x1*h)) + w2*(f(m-x2*h)+f(m+x2*h)))
	}
	return sum
}

func (b body) rectifying(phi float64) float64 {
	return math.Pi / 2 * b.meridian(phi) / b.quarter
}

func (b body) conformal(phi float64) float64 {
	e := math.Sqrt(b.e2)
	return math.Atan(math.Sinh(math.Asinh(math.Tan(phi)) - e*math.Atanh(e*math.Sin(phi))))
}

// solve finds where a growing function reaches a value between 0 and π/2.
func solve(f func(float64) float64, want float64) float64 {
	lo, hi := 0., math.Pi/2
	for range 60 {
		if mid := (lo + hi) / 2; f(mid) < want {
			lo = mid
		} else {
			hi = mid
		}
	}
	return (lo + hi) / 2
}
