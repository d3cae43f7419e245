package spots

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/chance"
	"balk/testdata/check"
)

// Exact bounds, to the digits of the table; and so are checks without a fault.
func TestBoundsAreThoseOfTables(t *testing.T) {
	for _, r := range check.Rows(t, "season/binomial.csv") {
		k, n := r.Number("k"), r.Number("n")
		low, high := bounds(k, n, 0.95)
		if math.Abs(low-r.Number("lower")) > 1e-9 || math.Abs(high-r.Number("upper")) > 1e-9 {
			t.Errorf("%g of %g: %.9f to %.9f, want %g to %g", k, n, low, high, r.Number("lower"), r.Number("upper"))
		}
	}
	for _, r := range check.Rows(t, "season/wilks.csv") {
		n := 1 // the first that proves it
		for atLeast(float64(n), float64(n), r.Number("c")) < r.Number("p") {
			n++
		}
		if float64(n) != r.Number("n") {
			t.Errorf("share %g at %g: %d checks, want %g", r.Number("p"), r.Number("c"), n, r.Number("n"))
		}
		// and as many do prove it, one fewer do not
		if c := r.Number("c"); atLeast(float64(n), float64(n), c) < r.Number("p") || atLeast(float64(n-1), float64(n-1), c) >= r.Number("p") {
			t.Errorf("share %g at %g: %d checks prove %g, one fewer %g", r.Number("p"), c, n, atLeast(float64(n), float64(n), c), atLeast(float64(n-1), float64(n-1), c))
		}
	}
	// What is said before a walk: pⁿ = 0.05.
	for n, want := range map[int]float64{10: 0.74, 20: 0.86, 30: 0.90} {
		if got := Provable(n); math.Abs(got-want) > 0.005 || math.Abs(got-atLeast(float64(n), float64(n), 0.95)) > 1e-12 || math.Abs(math.Pow(got, float64(n))-0.05) > 1e-12 {
			t.Errorf("%d checks prove %g, want %g", n, got, want)
		}
	}
	if Provable(0) != 0 {
		t.Error("no check proves something")
	}
}

// The bounds solve the binomial sum itself.
func TestBoundsSolveTheBinomialSum(t *testing.T) {
	sum := func(from, to, n int, p float64) float64 { // P(from ≤ X ≤ to)
		s := 0.0
		for k := from; k <= to; k++ {
			a, _ := math.Lgamma(float64(n + 1))
			b, _ := math.Lgamma(float64(k + 1))
			c, _ := math.Lgamma(float64(n - k + 1))
			s += math.Exp(a - b - c + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p))
		}
		return s
	}
	for n := 1; n < 60; n += 7 {
		for k := range n + 1 {
			low, high := bounds(float64(k), float64(n), 0.95)
			if k > 0 && math.Abs(sum(k, n, n, low)-0.025) > 1e-10 || k == 0 && low != 0 {
				t.Errorf("%d of %d: lower %g has a chance of %g", k, n, low, sum(k, n, n, low))
			}
			if k < n && math.Abs(sum(0, k, n, high)-0.025) > 1e-10 || k == n && high != 1 {
				t.Errorf("%d of %d: upper %g has a chance of %g", k, n, high, sum(0, k, n, high))
			}
		}
	}
}

// Tolerance factors as handbooks print them, rounded to what Howe's approximation is good for (from memory: NIST/SEMATECH e-Handbook 7.2.6.3 has
// 2.217 for n = 43, 90 % at 99 %).
func TestToleranceFactors(t *testing.T) {
	for _, c := range []struct {
		n              int
		share, c, want float64
	}{{10, 0.95, 0.95, 3.38}, {20, 0.95, 0.95, 2.752}, {30, 0.95, 0.95, 2.549}, {50, 0.95, 0.95, 2.379}, {43, 0.90, 0.99, 2.217}} {
		if got := toleranceFactor(c.n, c.share, c.c); math.Abs(got-c.want) > 0.004 {
			t.Errorf("%d values, %g at %g: %.4f, want %g", c.n, c.share, c.c, got, c.want)
		}
	}
}

// Drawn with a fixed seed: intervals hold the truth as often as they say. Bounds of shares do so whether checks of one pass agree wholly, not at
// all or by half, and with passes of unlike numbers of checks.
func TestIntervalsHold(t *testing.T) {
	const seed, rounds = 17, 2000
	rng := rand.New(rand.NewPCG(seed, 1))
	normal := func(deviation float64) float64 { return deviation * rng.NormFloat64() }
	for _, c := range []struct {
		name   string
		share  float64 // of good places
		agree  float64 // chance that a check has the fault of its pass
		passes []int   // checks of each
		agrees bool    // without the passes the bound would hold less often than 95 %
	}{
		{"each on a pass of its own", 0.9, 1, []int{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}, false},
		{"four on each of five passes that agree", 0.8, 1, []int{4, 4, 4, 4, 4}, true},
		{"unlike passes that agree by half", 0.85, 0.5, []int{1, 2, 3, 6, 1, 2, 1, 4}, true},
		{"unlike passes that agree", 0.7, 1, []int{2, 2, 3, 4, 3, 2, 1, 3, 2, 2}, true},
	} {
		held, simple := 0, 0
		for range rounds {
			var ties []Tie
			good := map[int]bool{}
			for p, m := range c.passes {
				its := rng.Float64() < c.share
				for range m {
					n := len(ties)
					ties = append(ties, Tie{Check: n, Pass: p + 1})
					if good[n] = its; rng.Float64() >= c.agree {
						good[n] = rng.Float64() < c.share
					}
				}
			}
			s := shareOf(ties, func(t Tie) bool { return good[t.Check] })
			if s.AtLeast <= c.share {
				held++
			}
			if s.Alone <= c.share {
				simple++
			}
			if s.Lower > float64(s.Have)/float64(s.Places)+1e-12 || s.Upper < float64(s.Have)/float64(s.Places)-1e-12 || s.AtLeast > s.Alone+1e-12 {
				t.Fatalf("%s: %+v", c.name, s)
			}
		}
		if got := float64(held) / rounds; got < 0.94 {
			t.Errorf("%s: the bound holds in %.1f %% of %d draws (seed %d)", c.name, 100*got, rounds, seed)
		}
		if got := float64(simple) / rounds; c.agrees != (got < 0.93) {
			t.Errorf("%s: without the passes the bound holds in %.1f %%: the case says little", c.name, 100*got)
		}
	}
	mean, tolerance, wilks, sigma := 0, 0, 0, 0
	for range rounds {
		var values []value
		var shared []float64
		for p := range 8 {
			of := normal(0.006)
			for range 1 + p%3 {
				values = append(values, value{whose{pass: p + 1}, 0.04 + of + normal(0.004)})
			}
		}
		m, _ := meanOf(values, ofRuler)
		if m.Low <= 0.04 && m.High >= 0.04 {
			mean++
		}
		shared = shared[:0]
		for range 12 {
			shared = append(shared, normal(1))
		}
		sum, squares := 0.0, 0.0
		for _, v := range shared {
			sum += v / 12
		}
		for _, v := range shared {
			squares += (v - sum) * (v - sum)
		}
		s := math.Sqrt(squares / 11)
		k := toleranceFactor(12, 0.9, 0.95)
		below := func(v float64) float64 { return math.Erfc(-v/math.Sqrt2) / 2 }
		if below(sum+k*s)-below(sum-k*s) >= 0.9 {
			tolerance++
		}
		if 11*s*s/chance.ChiSquareQuantile(0.975, 11) <= 1 && 11*s*s/chance.ChiSquareQuantile(0.025, 11) >= 1 {
			sigma++
		}
		least, most := 1.0, 0.0
		for range 20 {
			u := rng.Float64()
			least, most = min(least, u), max(most, u)
		}
		if most-least >= between(20, 0.95) {
			wilks++
		}
	}
	for name, n := range map[string]int{"mean over passes": mean, "tolerance interval": tolerance, "share between the extremes": wilks, "deviation": sigma} {
		if got := float64(n) / rounds; got < 0.935 || got > 0.97 {
			t.Errorf("%s: holds in %.1f %% of %d draws (seed %d), want 95", name, 100*got, rounds, seed)
		}
	}
	// One check per pass: s²/n.
	m, err := meanOf([]value{{whose{pass: 1}, 1}, {whose{pass: 2}, 2}, {whose{pass: 3}, 6}}, 0)
	if want := math.Sqrt(7. / 3); math.Abs(err-want) > 1e-12 || math.Abs(m.Deviation-math.Sqrt(7)) > 1e-12 || math.Abs(m.High-3-4.302653*want) > 1e-5 {
		t.Errorf("%+v, error %g, want %g", m, err, want)
	}
}
