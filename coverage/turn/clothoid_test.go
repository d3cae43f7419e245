package turn

import (
	"math"
	"math/rand/v2"
	"testing"
)

// stepped is the second opinion on where a piece leads: the classical Runge-Kutta
// method on dx = cos θ, dy = sin θ, dθ = κ in n equal steps, which for this system is Simpson's rule.
func stepped(a Arc, n int) (ahead, left, turn float64) {
	h := a.Length / float64(n)
	theta := func(s float64) float64 { return a.From*s + (a.To-a.From)*s*s/(2*a.Length) }
	for i := range n {
		s := float64(i) * h
		for _, p := range [3]struct{ at, weight float64 }{{0, 1}, {0.5, 4}, {1, 1}} {
			sin, cos := math.Sincos(theta(s + p.at*h))
			ahead += p.weight * cos * h / 6
			left += p.weight * sin * h / 6
		}
	}
	return ahead, left, theta(a.Length)
}

// anyArc turns by a few rad at most.
func anyArc(rng *rand.Rand) Arc {
	a := Arc{Length: 20 * rng.NormFloat64(), From: 0.2 * rng.NormFloat64(), To: 0.2 * rng.NormFloat64()}
	switch rng.IntN(6) {
	case 0:
		a.To = a.From
	case 1:
		a.From, a.To = 0, 0
	case 2:
		a.From = 0
	}
	return a
}

func furthest(d ...float64) float64 {
	var m float64
	for _, v := range d {
		if !(math.Abs(v) <= m) {
			m = math.Abs(v)
		}
	}
	return m
}

func TestPieceLeadsWhereSmallStepsLead(t *testing.T) {
	const seed = 3
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	const limit = 1e-10 // m: what 4000 steps of the second opinion reach
	for range 400 {
		a := anyArc(rng)
		x, y, turn := a.travel()
		sx, sy, sturn := stepped(a, 4000)
		if d := furthest(x-sx, y-sy, turn-sturn); !(d <= limit) {
			t.Errorf("%+v leads %g m beside the small steps", a, d)
		}
	}
	// The comparison can fail: a curvature off by a millionth is seen.
	a := Arc{10, 0, 0.2}
	x, y, _ := a.travel()
	sx, sy, _ := stepped(Arc{10, 0, 0.2 * (1 + 1e-6)}, 4000)
	if furthest(x-sx, y-sy) < 100*limit {
		t.Error("the second opinion does not see a curvature off by a millionth")
	}
}

// TestFresnelIntegrals: C(x) and S(x), Abramowitz & Stegun 1964, table 7.7, from memory; a
// clothoid with the curvature π·s.
func TestFresnelIntegrals(t *testing.T) {
	for _, c := range []struct{ x, cos, sin float64 }{
		{0.5, 0.4923442, 0.0647324},
		{1, 0.7798934, 0.4382591},
		{2, 0.4882534, 0.3434157},
	} {
		x, y, _ := Arc{Length: c.x, To: math.Pi * c.x}.travel()
		if furthest(x-c.cos, y-c.sin) > 6e-8 {
			t.Errorf("C(%g), S(%g) = %.8f, %.8f, want %.7f, %.7f", c.x, c.x, x, y, c.cos, c.sin)
		}
	}
}

// TestQuadratureTable computes the ten points and weights anew: roots of the
// Legendre polynomial by Newton, weights 2/((1 − x²)·P′²).
func TestQuadratureTable(t *testing.T) {
	const n = 10
	for i, x := range node {
		var slope float64
		for range 5 {
			p, before := x, 1.0
			for k := 2; k <= n; k++ {
				p, before = (float64(2*k-1)*x*p-float64(k-1)*before)/float64(k), p
			}
			slope = n * (x*p - before) / (x*x - 1)
			x -= p / slope
		}
		if w := 2 / ((1 - x*x) * slope * slope); math.Abs(x-node[i]) > 1e-15 || math.Abs(w-weight[i]) > 1e-15 {
			t.Errorf("point %d: %.17g, weight %.17g, the table has %.17g, %.17g", i+1, x, w, node[i], weight[i])
		}
	}
}

// TestRampWithinItsBound halves the panels: what changes is the error that the
// comment on ramp bounds, with the worst ramp (a whole panel from straight) and others.
func TestRampWithinItsBound(t *testing.T) {
	for _, a := range []Arc{{2, 0, 1}, {2, 1, 1e-9}, {2, -1, 1}, {40, 1, 0.9}, {100, 0, 1}} {
		x, y := ramp(a.From, a.To, a.Length)
		at, n := Pose{}, 16*int(math.Ceil(a.Length))
		for k := range n {
			from := a.From + (a.To-a.From)*float64(k)/float64(n)
			to := a.From + (a.To-a.From)*float64(k+1)/float64(n)
			dx, dy := ramp(from, to, a.Length/float64(n))
			at = at.Moved(dx, dy, (from+to)/2*a.Length/float64(n))
		}
		// Besides the bound, rounding of the 1600 pieces.
		if d := furthest(at.At.X-x, at.At.Y-y); d > 1e-14*a.Length+2e-13 {
			t.Errorf("%+v: %g m", a, d)
		}
	}
}

func TestPiece(t *testing.T) {
	const seed = 4
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for range 2000 {
		a := anyArc(rng)
		from := anyPose(rng, 100)
		end := from.Moved(a.travel())
		cut := math.Abs(a.Length) * rng.Float64()
		first := a.first(cut)
		rest := Arc{a.Length - first.Length, first.To, a.To}
		if place, heading := apart(from.Moved(first.travel()).Moved(rest.travel()), end); place > 1e-12 || heading > 1e-13 {
			t.Fatalf("%+v driven in two parts ends %g m, %g rad away", a, place, heading)
		}
		back := Arc{-a.Length, a.To, a.From}
		if place, heading := apart(end.Moved(back.travel()), from); place > 1e-12 || heading > 1e-13 {
			t.Fatalf("%+v driven back ends %g m, %g rad away", a, place, heading)
		}
	}
	for name, a := range map[string]Arc{
		"no number": {math.NaN(), 0, 0}, "endless": {math.Inf(1), 0, 0}, "too long": {2e6, 0, 0}, "endless curvature": {1, 0, math.Inf(-1)},
		"curvature no number": {1, math.NaN(), 0}, "too tight": {1, 11, 0}, "too many turns": {1e5, 1, 1},
	} {
		if a.Validate() == nil {
			t.Errorf("%s: %+v is taken as valid", name, a)
		}
		if x, y, turn := a.travel(); !math.IsNaN(x) || !math.IsNaN(y) || !math.IsNaN(turn) {
			t.Errorf("%s: leads to %g, %g, %g, want NaN", name, x, y, turn)
		}
	}
}
