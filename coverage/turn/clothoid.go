package turn

import (
	"fmt"
	"math"
)

// Arc is one piece of a path. Its curvature changes linearly with the distance
// driven: a straight (0, 0), a circle (κ, κ) and a clothoid (κ1, κ2) in one type.
type Arc struct {
	Length   float64 // m, negative: driven in reverse
	From, To float64 // 1/m, curvature at its start and end as driven; positive: steering to the left
}

const (
	longest      = 1e6             // m, longest piece taken
	mostBent     = 1 / leastRadius // 1/m
	mostWound    = 1e4             // rad, most that a piece may turn; bounds the work per piece
	panelTurning = 2               // rad, see ramp
)

// Validate says what is wrong with a.
func (a Arc) Validate() error {
	if !(math.Abs(a.Length) <= longest) {
		return fmt.Errorf("piece of %g m: must be within ±%g m", a.Length, longest)
	}
	if k := a.bent(); !(k <= mostBent) {
		return fmt.Errorf("piece with curvature %g to %g per m: must be within ±%g per m", a.From, a.To, mostBent)
	} else if w := k * math.Abs(a.Length); w > mostWound {
		return fmt.Errorf("piece turns by up to %g rad: must be below %g rad", w, mostWound)
	}
	return nil
}

// bent is the greatest curvature without sign, 1/m.
func (a Arc) bent() float64 { return math.Max(math.Abs(a.From), math.Abs(a.To)) }

// gear is +1 forward, −1 in reverse.
func (a Arc) gear() float64 {
	if a.Length < 0 {
		return -1
	}
	return 1
}

// first is the part of a driven in its first t metres, 0 ≤ t ≤ |length|.
func (a Arc) first(t float64) Arc {
	whole := math.Abs(a.Length)
	if t >= whole {
		return a
	}
	return Arc{Length: a.gear() * t, From: a.From, To: a.From + (a.To-a.From)*(t/whole)}
}

// travel is where the piece leads, seen from its start: so far ahead and to the
// left (m), turned by so much (rad, positive to the left). In reverse the heading
// turns against the steering, since dθ = κ·ds with ds < 0.
//
//  1. Straights and circles are exact up to rounding; clothoids within 3e-14 of
//     their length.
//  2. Driving the rest of a piece from where its first part leads ends in the same place.
//  3. A piece that does not pass Validate gives NaN.
func (a Arc) travel() (ahead, left, turn float64) {
	length := math.Abs(a.Length)
	if !(length <= longest && a.bent() <= mostBent && a.bent()*length <= mostWound) {
		return math.NaN(), math.NaN(), math.NaN()
	}
	switch {
	case a.From == 0 && a.To == 0:
		return a.Length, 0, 0
	case a.From == a.To:
		// The chord of a circle turns by half the turn: chord = 2/κ·sin(κs/2).
		half := a.From * a.Length / 2
		sin, cos := math.Sincos(half)
		chord := a.Length
		if half != 0 {
			chord *= sin / half
		}
		return chord * cos, chord * sin, 2 * half
	}
	x, y := ramp(a.gear()*a.From, a.gear()*a.To, length)
	return a.gear() * x, a.gear() * y, (a.From + a.To) / 2 * a.Length
}

// Points and weights of Gauss-Legendre quadrature with ten points, the positive
// half (Abramowitz & Stegun 1964, table 25.4; the test computes them anew).
var (
	node   = [5]float64{0.14887433898163121, 0.43339539412924719, 0.67940956829902441, 0.86506336668898451, 0.97390652851717172}
	weight = [5]float64{0.29552422471475287, 0.26926671930999636, 0.21908636251598204, 0.14945134915058059, 0.06667134430868814}
)

// ramp integrates e^{iθ(s)} over 0 ≤ s ≤ length, θ(s) = from·s + (to − from)·s²/(2·length):
// the Fresnel integrals in the shape needed here.
//
// It is cut into equal panels of half width h with max|κ|·h ≤ 1, so at most
// panelTurning rad each. On one panel with x = s/h from −1 to 1 the phase is a·x + b·x², |a| + 2|b| ≤ 1.
// The integrand is entire; on the Bernstein ellipse ρ it is at most
// M = exp(|a|(ρ − 1/ρ)/2 + |b|(ρ² − ρ⁻²)/4), and n points err by at most 64/15·M·ρ^(−2n)/(1 − ρ⁻²)
// (Trefethen 2008, SIAM Rev. 50(1), theorem 4.5, from memory). With ρ = 8, n = 10 and the worst case
// a = 0, b = 1/2: 1.1e-14·h. The panels' errors add up to less than 1e-14 of the length.
func ramp(from, to, length float64) (x, y float64) {
	panels := math.Max(1, math.Ceil(math.Max(math.Abs(from), math.Abs(to))*length/panelTurning))
	h := length / panels / 2
	change := (to - from) / length
	for p := range int(panels) {
		mid := (2*float64(p) + 1) * h
		theta, b, slope := mid*(from+change*mid/2), change*h*h/2, (from+change*mid)*h
		// The points ±x lie at the phases A ± B: e^{i(A+B)} + e^{i(A−B)} = 2·cos B·e^{iA}.
		for i, n := range node {
			sin, cos := math.Sincos(theta + b*n*n)
			k := 2 * h * weight[i] * math.Cos(slope*n)
			x += k * cos
			y += k * sin
		}
	}
	return x, y
}
