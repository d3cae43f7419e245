package chance

import (
	"math"
	"testing"

	"balk/testdata/check"
)

// Beta by Simpson's rule, gamma by the sum of Poisson for whole a and by erf for a half.
func TestFunctionsOfChance(t *testing.T) {
	for _, c := range [][3]float64{{2, 3, 0.4}, {0.5, 4.5, 0.02}, {7.3, 1.2, 0.9}, {20, 41, 0.3}, {1, 1, 0.37}, {3, 0.5, 0.999}} {
		a, b, x := c[0], c[1], c[2]
		// with u = vᵐ, m large enough for the integrand to be smooth at 0; the upper end is left out by 1 − x > 0
		const m, steps = 8, 200_000
		f := func(v float64) float64 {
			u := math.Pow(v, m)
			return math.Pow(u, a-1) * math.Pow(1-u, b-1) * m * math.Pow(v, m-1)
		}
		top := math.Pow(x, 1.0/m)
		h, sum := top/steps, 0.0
		for i := range steps / 2 {
			v := float64(2*i) * h
			first := 0.0
			if v > 0 {
				first = f(v)
			}
			sum += h / 3 * (first + 4*f(v+h) + f(v+2*h))
		}
		la, _ := math.Lgamma(a)
		lb, _ := math.Lgamma(b)
		lab, _ := math.Lgamma(a + b)
		want := sum * math.Exp(lab-la-lb)
		if got := beta(a, b, x); math.Abs(got-want) > 1e-9 {
			t.Errorf("I_%g(%g, %g) = %.12f, by Simpson %.12f", x, a, b, got, want)
		}
	}
	for _, x := range []float64{0.1, 1, 4, 9.5, 30} {
		for a := 1; a < 12; a++ {
			sum, term := 0.0, math.Exp(-x)
			for k := range a {
				sum += term
				term *= x / float64(k+1)
			}
			if got := gamma(float64(a), x); math.Abs(got-(1-sum)) > 1e-12 {
				t.Errorf("P(%d, %g) = %.14f, want %.14f", a, x, got, 1-sum)
			}
		}
		if got := gamma(0.5, x); math.Abs(got-math.Erf(math.Sqrt(x))) > 1e-12 {
			t.Errorf("P(1/2, %g) = %.14f, want %.14f", x, got, math.Erf(math.Sqrt(x)))
		}
	}
	for f := 1.0; f < 50; f += 3 {
		if p := gamma(f/2, ChiSquareQuantile(0.05, f)/2); math.Abs(p-0.05) > 1e-12 {
			t.Errorf("χ² of %g degrees of freedom: %g below its 5 %% quantile", f, p)
		}
	}
	// 23.685 and 6.571 are printed for 14 degrees of freedom at 95 and 5 % (from memory).
	if a, b := ChiSquareQuantile(0.95, 14), ChiSquareQuantile(0.05, 14); math.Abs(a-23.685) > 5e-4 || math.Abs(b-6.571) > 5e-4 {
		t.Errorf("χ² of 14 degrees of freedom: %.4f and %.4f", b, a)
	}
}

// TestStudent holds both ways of asking against a handbook's table, to its last digit, and against the closed forms for one and two degrees of freedom
// (Abramowitz and Stegun 26.7.3 and 26.7.4, whose sums have one term there), which hold far out too.
func TestStudent(t *testing.T) {
	for _, r := range check.Rows(t, "chance/student.csv") {
		freedom := r.Number("freedom")
		for name, within := range map[string]float64{"90": 0.90, "95": 0.95, "99": 0.99, "99.9": 0.999} {
			const half = 0.00051 // of the last digit
			want := r.Number(name)
			if got := WithinT(within, freedom); math.Abs(got-want) > half {
				t.Errorf("%g degrees of freedom, %s %%: %.5f, want %g", freedom, name, got, want)
			}
			if below, above := BeyondT(want-half, freedom), BeyondT(want+half, freedom); below < 1-within || above > 1-within {
				t.Errorf("%g degrees of freedom: %g by a chance of %g to %g, want %g", freedom, want, above, below, 1-within)
			}
		}
	}
	for _, v := range []float64{0, 0.3, 1, 4, 12.706, 50, 1e4, 1e7} {
		if got, want := BeyondT(v, 1), 2/math.Pi*math.Atan2(1, v); math.Abs(got/want-1) > 1e-12 {
			t.Errorf("t = %g of one degree of freedom: %g, want %g", v, got, want)
		}
		w := math.Sqrt(2 + v*v)
		if got, want := BeyondT(v, 2), 2/(w*(w+v)); math.Abs(got/want-1) > 1e-12 {
			t.Errorf("t = %g of two degrees of freedom: %g, want %g", v, got, want)
		}
	}
	for _, v := range []float64{0.5, 3, 6} { // of the normal distribution it differs by (t⁴ − 1)/(4·freedom) or so times as much
		if got, want := BeyondT(v, 1e7), math.Erfc(v/math.Sqrt2); math.Abs(got/want-1) > 1e-4 {
			t.Errorf("t = %g of much freedom: %g, of the normal distribution %g", v, got, want)
		}
	}
	for _, freedom := range []float64{0.7, 1, 2.5, 6, 19.3, 400, 1e6} { // one is the other way about
		for _, within := range []float64{0.01, 0.5, 0.95, 0.999} {
			if got := BeyondT(WithinT(within, freedom), freedom); math.Abs(got-(1-within)) > 1e-8 { // of a million degrees ln Γ is some 6e6, and a float64 holds that to 1e-9
				t.Errorf("%g degrees of freedom: beyond what %g stays within by a chance of %g", freedom, within, got)
			}
		}
	}
	for _, freedom := range []float64{0, -1, math.NaN()} {
		if b, w := BeyondT(3, freedom), WithinT(0.95, freedom); b != 1 || !math.IsInf(w, 1) {
			t.Errorf("%g degrees of freedom: %g and %g", freedom, b, w)
		}
	}
}

// TestOrMore: the sum of the binomial distribution itself, by Pascal's triangle.
func TestOrMore(t *testing.T) {
	const p = 0.25
	row := []float64{1}
	for n := range 60 {
		for many := -1; many <= n+1; many++ {
			want := 0.0
			for k := max(0, many); k <= n; k++ {
				want += row[k]
			}
			if got := OrMore(many, n, p); math.Abs(got-want) > 1e-13 || want > 0 && math.Abs(got/want-1) > 1e-9 {
				t.Errorf("%d of %d: %g, want %g", many, n, got, want)
			}
		}
		next := make([]float64, n+2)
		for k, v := range row {
			next[k] += v * (1 - p)
			next[k+1] += v * p
		}
		row = next
	}
}
