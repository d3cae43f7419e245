package pattern

import "math"

// byLuck is how likely a value is that lies as many standard deviations from its mean as that, or more, on either side, where they are worked out with so many
// degrees of freedom: Student's distribution, by the finite sums for whole numbers of these (Abramowitz and Stegun 26.7.3 and 26.7.4). What is
// less than 1e-15 is rounding.
//
// With θ the angle whose tangent is times/√free, P(|T| < times) is for even and for odd freedom
//
//	sin θ (1 + 1/2·cos² θ + 1·3/(2·4)·cos⁴ θ + … + … cos^(free−2) θ)
//	2/π (θ + sin θ (cos θ + 2/3·cos³ θ + 2·4/(3·5)·cos⁵ θ + … + … cos^(free−2) θ))
func byLuck(times float64, free int) float64 {
	free = max(free, 1)
	angle := math.Atan(times / math.Sqrt(float64(free)))
	sin, cos := math.Sincos(angle)
	term, first := 1.0, 2
	if free%2 == 1 {
		term, first = cos, 3
	}
	total := 0.0
	for power := first; power <= free; power += 2 { // the term of cos^(power−2)
		total += term
		term *= float64(power-1) / float64(power) * cos * cos
	}
	if free%2 == 1 {
		return max(0, 1-2/math.Pi*(angle+sin*total))
	}
	return max(0, 1-sin*total)
}
