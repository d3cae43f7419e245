package chance

import "math"

// beta is the regularised incomplete beta function I_x(a, b), by its continued fraction (NIST Digital Library of
// Mathematical Functions, 8.17.22) in the form of Lentz (1976), from memory. It converges fast below the mean; above it
// I_x(a, b) = 1 − I_{1−x}(b, a).
func beta(a, b, x float64) float64 {
	switch {
	case x <= 0:
		return 0
	case x >= 1:
		return 1
	case x > (a+1)/(a+b+2):
		return 1 - beta(b, a, 1-x)
	}
	la, _ := math.Lgamma(a)
	lb, _ := math.Lgamma(b)
	lab, _ := math.Lgamma(a + b)
	front := math.Exp(lab-la-lb+a*math.Log(x)+b*math.Log1p(-x)) / a
	f := lentz(func(m int) (float64, float64) {
		if m == 1 {
			return 1, 1
		}
		k := float64((m - 1) / 2)
		if m%2 == 1 {
			return k * (b - k) * x / ((a + 2*k - 1) * (a + 2*k)), 1
		}
		return -(a + k) * (a + b + k) * x / ((a + 2*k) * (a + 2*k + 1)), 1
	})
	return front * f
}

// lentz is the continued fraction a1/(b1 + a2/(b2 + …)), whose members step gives from 1 on.
func lentz(step func(m int) (a, b float64)) float64 {
	const (
		tiny  = 1e-300 // stands for a denominator of nothing
		close = 1e-15  // of the value: all that a float64 holds
		most  = 10000  // steps: √n and some are needed
	)
	f, c, d := tiny, tiny, 0.0
	for m := 1; m <= most; m++ {
		a, b := step(m)
		if d = b + a*d; d == 0 {
			d = tiny
		}
		if c = b + a/c; c == 0 {
			c = tiny
		}
		d = 1 / d
		f *= c * d
		if math.Abs(c*d-1) < close {
			break
		}
	}
	return f
}

// gamma is the regularised lower incomplete gamma function P(a, x), by its series below the mean and its continued fraction
// above it (NIST Digital Library of Mathematical Functions, 8.11.4 and 8.9.2, from memory).
func gamma(a, x float64) float64 {
	if x <= 0 {
		return 0
	}
	la, _ := math.Lgamma(a)
	front := math.Exp(a*math.Log(x) - x - la)
	if x < a+1 {
		sum, term := 1/a, 1/a
		for n := 1.0; term > sum*1e-16; n++ {
			term *= x / (a + n)
			sum += term
		}
		return front * sum
	}
	return 1 - front*lentz(func(m int) (float64, float64) {
		k := float64(m - 1)
		if m == 1 {
			return 1, x + 1 - a
		}
		return -k * (k - a), x + 2*k + 1 - a
	})
}

// quantile is where a function that grows from 0 to 1 between low and high reaches p, by bisection.
func quantile(p, low, high float64, f func(float64) float64) float64 {
	for range 200 {
		mid := (low + high) / 2
		if mid == low || mid == high {
			break
		}
		if f(mid) < p {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// BetaQuantile is the p-quantile of a beta distribution.
func BetaQuantile(p, a, b float64) float64 {
	return quantile(p, 0, 1, func(x float64) float64 { return beta(a, b, x) })
}

// OrMore is how likely many of n and more succeed, each with a chance of p: the tail of the binomial distribution, which is I_p(many, n − many + 1)
// (Abramowitz and Stegun 26.5.24).
func OrMore(many, n int, p float64) float64 {
	switch {
	case many <= 0:
		return 1
	case many > n:
		return 0
	}
	return beta(float64(many), float64(n-many+1), p)
}

// BeyondT is how likely a value is that lies t standard deviations from its mean or more, on either side, where these are worked out with so many
// degrees of freedom: P(|T| ≥ t) of Student's distribution, I_x(freedom/2, 1/2) with x = freedom/(freedom + t²) (Abramowitz and Stegun 26.7.1 with
// 26.5.2). Freedom need not be whole; of none or less nothing is known, and any value is as likely as any other: 1.
func BeyondT(t, freedom float64) float64 {
	if !(freedom > 0) {
		return 1
	}
	return beta(freedom/2, 0.5, freedom/(freedom+t*t))
}

// WithinT is the t that |T| of Student's distribution stays below with a confidence; freedom need not be whole, and of none or less it is +Inf.
func WithinT(confidence, freedom float64) float64 {
	if !(freedom > 0) {
		return math.Inf(1)
	}
	// By 1 − x = t²/(freedom + t²), whose distribution is that of the beta with its parameters the other way about: with much freedom x is nearly 1,
	// and would be rounded.
	y := BetaQuantile(confidence, 0.5, freedom/2)
	return math.Sqrt(freedom * y / (1 - y))
}

// ChiSquareQuantile is the p-quantile of χ² with so many degrees of freedom.
func ChiSquareQuantile(p, freedom float64) float64 {
	return quantile(p, 0, freedom+100*math.Sqrt(freedom)+1000, func(x float64) float64 { return gamma(freedom/2, x/2) })
}

// NormalQuantile is the p-quantile of the normal distribution.
func NormalQuantile(p float64) float64 { return math.Sqrt2 * math.Erfinv(2*p-1) }
