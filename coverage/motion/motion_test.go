package motion

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo/plane"
	"balk/testdata/check"
)

// wander is a motion of white jerk, sampled at uneven times.
func wander(rng *rand.Rand, n int, step, jerk float64) (at []plane.XY, seconds []float64) {
	const fine = 20
	var p, a plane.XY
	v := plane.XY{X: 2}
	t := 0.0
	for range n {
		at, seconds = append(at, p), append(seconds, t)
		h := step * (0.5 + rng.Float64()) / fine
		for range fine {
			p, v = p.Add(v.Scale(h)).Add(a.Scale(h*h/2)), v.Add(a.Scale(h))
			a = a.Add(plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()}.Scale(math.Sqrt(jerk * h)))
			t += h
		}
	}
	return at, seconds
}

func noisy(rng *rand.Rand, at []plane.XY, sd float64) []plane.XY {
	out := make([]plane.XY, len(at))
	for k, p := range at {
		out[k] = p.Add(plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()}.Scale(sd))
	}
	return out
}

// smoothed holds what Smooth hands out: each fix once, from the last to the first.
func smoothed(t testing.TB, at []plane.XY, seconds []float64, noise, q float64) []Estimate {
	out := make([]Estimate, len(at))
	next := len(at) - 1
	Smooth(at, seconds, noise, func(int) float64 { return q }, func(k int, e Estimate) {
		if k != next {
			t.Fatalf("fix %d was handed out, want %d", k, next)
		}
		out[k] = e
		next--
	})
	if next != -1 {
		t.Fatalf("fix %d was not handed out", next)
	}
	return out
}

// solved is Smooth by another rule: all states at once, the least squares of the jerks and of the fixes'
// errors, by Gaussian elimination. It gives places and their deviations.
func solved(at []plane.XY, seconds []float64, noise, q float64) (places []plane.XY, sd []float64) {
	n := 3 * len(at)
	m := make([][]float64, n) // precision, and three right sides: x, y, and unit matrix for the covariance
	for i := range m {
		m[i] = make([]float64, n+2+n)
		m[i][n+2+i] = 1
	}
	for k := range at {
		m[3*k][3*k] += 1 / (noise * noise)
		m[3*k][n] += at[k].X / (noise * noise)
		m[3*k][n+1] += at[k].Y / (noise * noise)
	}
	m[1][1] += 1 / (anySpeed * anySpeed)
	m[2][2] += 1 / (anyAcceleration * anyAcceleration)
	for k := 1; k < len(at); k++ {
		t := seconds[k] - seconds[k-1]
		// inverse of Q, from the shifted Hilbert matrix by hand: 1/q · [720/t⁵ −360/t⁴ 60/t³; · 192/t³ −36/t²; · · 9/t]
		w := [3][3]float64{{720 / math.Pow(t, 5), -360 / math.Pow(t, 4), 60 / (t * t * t)}, {-360 / math.Pow(t, 4), 192 / (t * t * t), -36 / (t * t)}, {60 / (t * t * t), -36 / (t * t), 9 / t}}
		// residual = x_k − F·x_(k−1)
		g := [3][6]float64{{-1, -t, -t * t / 2, 1, 0, 0}, {0, -1, -t, 0, 1, 0}, {0, 0, -1, 0, 0, 1}}
		for i := range 6 {
			for j := range 6 {
				for a := range 3 {
					for b := range 3 {
						m[3*k-3+i][3*k-3+j] += g[a][i] * w[a][b] / q * g[b][j]
					}
				}
			}
		}
	}
	for c := range n {
		best := c
		for r := c; r < n; r++ {
			if math.Abs(m[r][c]) > math.Abs(m[best][c]) {
				best = r
			}
		}
		m[c], m[best] = m[best], m[c]
		for r := range n {
			if r != c && m[r][c] != 0 {
				f := m[r][c] / m[c][c]
				for j := c; j < len(m[r]); j++ {
					m[r][j] -= f * m[c][j]
				}
			}
		}
	}
	for k := range at {
		i := 3 * k
		places = append(places, plane.XY{X: m[i][n] / m[i][i], Y: m[i][n+1] / m[i][i]})
		sd = append(sd, math.Sqrt(m[i][n+2+i]/m[i][i]))
	}
	return places, sd
}

// TestSmoothAgainstLeastSquares: property 3, by another rule.
func TestSmoothAgainstLeastSquares(t *testing.T) {
	seed := check.Seed(t)
	for k := range uint64(30) {
		rng := rand.New(rand.NewPCG(seed, k))
		noise, q, step := 0.005+0.1*rng.Float64(), math.Pow(10, -3+3*rng.Float64()), 0.1+rng.Float64()
		at, seconds := wander(rng, 12, step, q)
		at = noisy(rng, at, noise)
		got := smoothed(t, at, seconds, noise, q)
		places, sd := solved(at, seconds, noise, q)
		for i := range at {
			if d := got[i].At.Dist(places[i]); d > 1e-5 || math.Abs(got[i].Place-sd[i]) > 1e-3*sd[i] {
				t.Fatalf("seed %d, case %d, fix %d of steps of some %.2f s: %.2g m off; deviation %.6g m, want %.6g", seed, k, i, step, d, got[i].Place, sd[i])
			}
		}
	}
}

// TestSmoothLeavesParabolas: property 1. A motion of constant acceleration has nothing to be smoothed.
func TestSmoothLeavesParabolas(t *testing.T) {
	var at []plane.XY
	var seconds []float64
	for k := range 200 {
		s := 0.1*float64(k) + 0.03*float64(k%3)
		at, seconds = append(at, plane.XY{X: 1e3 + 2*s + 0.05*s*s, Y: -0.3*s - 0.02*s*s}), append(seconds, s)
	}
	e := smoothed(t, at, seconds, 0.02, 0.01)
	for k := range at {
		if d := e[k].At.Dist(at[k]); d > 1e-6 {
			t.Fatalf("fix %d moved by %.2g m", k, d)
		}
		want := plane.XY{X: 2 + 0.1*seconds[k], Y: -0.3 - 0.04*seconds[k]}
		if d := e[k].Velocity.Dist(want); d > 1e-5 {
			t.Fatalf("velocity at fix %d is off by %.2g m/s", k, d)
		}
	}
}

// TestSmoothByBlocks: property 4. Beginning anew with every block changes nothing, to the last bit: beside it the filter with all that it knew
// on its way forwards.
func TestSmoothByBlocks(t *testing.T) {
	seed := check.Seed(t)
	for _, n := range []int{0, 1, 2, block - 1, block, block + 1, 2*block - 1, 2 * block, 2*block + 1, 3*block + 100} {
		rng := rand.New(rand.NewPCG(seed, uint64(n)))
		at, seconds := wander(rng, n, 0.2, 0.01)
		at = noisy(rng, at, 0.02)
		jerk := make([]float64, n)
		for k := range jerk {
			jerk[k] = math.Pow(10, -4*rng.Float64())
		}
		var after []belief
		for k := range n {
			if k == 0 {
				after = append(after, startAt(at[0], 0.02))
				continue
			}
			b := after[k-1].ahead(seconds[k]-seconds[k-1], jerk[k])
			b.take(at[k], 0.02*0.02)
			after = append(after, b)
		}
		for k := n - 2; k >= 0; k-- {
			step := seconds[k+1] - seconds[k]
			next := after[k].ahead(step, jerk[k+1])
			after[k] = after[k].given(after[k+1], &next, step, jerk[k+1])
		}
		seen := 0
		Smooth(at, seconds, 0.02, func(k int) float64 { return jerk[k] }, func(k int, e Estimate) {
			seen++
			if w := after[k]; e != (Estimate{w.state[0], w.state[1], math.Sqrt(w.p00), math.Sqrt(w.p11)}) {
				t.Fatalf("seed %d, fix %d of %d: %+v, want %+v", seed, k, n, e, w)
			}
		})
		if seen != n {
			t.Fatalf("%d of %d fixes were handed out", seen, n)
		}
	}
}

// TestSmoothAgain: with another jerk for some steps, what Again hands out in place of what was, is what Smooth hands out from the start, within the tolerance, wherever in a block
// these steps lie and however often it is asked, and it goes over a few blocks only. After Exactly it is the same to the last bit.
func TestSmoothAgain(t *testing.T) {
	seed := check.Seed(t)
	const blocks = 40
	for _, c := range []struct {
		n    int
		jerk float64 // the less, the longer the filter remembers
		most int     // blocks beside those that are changed
	}{{blocks * block, 1e-4, 4}, {blocks*block + 1, 1e-4, 4}, {blocks*block - 1, 1e-4, 4}, {blocks * block, 1e-9, 12}} {
		rng := rand.New(rand.NewPCG(seed, uint64(c.n)))
		at, seconds := make([]plane.XY, c.n), make([]float64, c.n) // round a field
		for k := range at {
			seconds[k] = 0.2 * float64(k)
			sin, cos := math.Sincos(seconds[k] / 150)
			at[k] = plane.XY{X: 300 * cos, Y: 300 * sin}
		}
		at = noisy(rng, at, 0.02)
		jerk := slices.Repeat([]float64{c.jerk}, c.n)
		run := func(into []Estimate, handed *int) *Smoothing {
			return Smooth(at, seconds, 0.02, func(k int) float64 { return jerk[k] }, func(k int, e Estimate) { into[k], *handed = e, *handed+1 })
		}
		got, want, handed := make([]Estimate, c.n), make([]Estimate, c.n), 0
		s := run(got, &handed)
		raised := [][2]int{{0, 0}, {1, 1}, {block - 1, block - 1}, {block, block}, {block + 1, block + 1}, {3*block - 5, 3*block + 5}, {c.n - 1, c.n - 1}, {c.n - block, c.n - 1}, {block, block}, {20*block + 7, 20*block + 9}, {0, c.n - 1}}
		rng.Shuffle(len(raised), func(i, j int) { raised[i], raised[j] = raised[j], raised[i] })
		for i, steps := range raised {
			from, to := steps[0], steps[1]
			for k := from; k <= to; k++ {
				jerk[k] *= 10
			}
			s.Changed(from, to)
			handed = 0
			if s.Again(); handed > (to/block-from/block+1+c.most)*block || to == 0 && handed > 0 {
				t.Errorf("seed %d, %d fixes, jerk %g, steps to %d … %d: %d fixes were estimated anew", seed, c.n, c.jerk, from, to, handed)
			}
			exactly := i%4 == 3
			if exactly {
				s.Exactly()
			}
			run(want, new(int))
			for k, w := range want {
				g := got[k]
				near := g.At.Dist(w.At) <= 1e-10 && g.Velocity.Dist(w.Velocity) <= 1e-10 && math.Abs(g.Place-w.Place) <= 1e-9*w.Place && math.Abs(g.Speed-w.Speed) <= 1e-9*w.Speed
				if !near || exactly && g != w {
					t.Fatalf("seed %d, %d fixes, jerk %g, steps to %d … %d, exactly %t: fix %d is %+v, want %+v", seed, c.n, c.jerk, from, to, exactly, k, g, w)
				}
			}
			if handed = 0; exactly {
				if s.Exactly(); handed > 0 {
					t.Errorf("seed %d: of what is exact %d fixes were estimated anew", seed, handed)
				}
			}
		}
	}
}

// TestNearly: beliefs are nearly the same up to the tolerances, state by state and covariance by covariance, each beside what it can be.
func TestNearly(t *testing.T) {
	one := belief{state: [3]plane.XY{{X: 300, Y: -200}, {X: 2}, {Y: 0.1}}, p00: 4e-4, p01: 1e-9, p02: -1e-9, p11: 1e-2, p12: 2e-9, p22: 9}
	for k, of := range []func(b *belief) (*float64, float64){
		func(b *belief) (*float64, float64) { return &b.state[0].X, nearState },
		func(b *belief) (*float64, float64) { return &b.state[1].Y, nearState },
		func(b *belief) (*float64, float64) { return &b.state[2].X, nearState },
		func(b *belief) (*float64, float64) { return &b.p00, nearShare * 4e-4 },
		func(b *belief) (*float64, float64) { return &b.p01, nearShare * 2e-3 },
		func(b *belief) (*float64, float64) { return &b.p02, nearShare * 6e-2 },
		func(b *belief) (*float64, float64) { return &b.p11, nearShare * 1e-2 },
		func(b *belief) (*float64, float64) { return &b.p12, nearShare * 0.3 },
		func(b *belief) (*float64, float64) { return &b.p22, nearShare * 9 },
	} {
		for _, by := range []float64{0.8, -0.8, 1.2, -1.2} {
			other := one
			x, limit := of(&other)
			*x += by * limit
			if got, want := one.nearly(other), math.Abs(by) < 1; got != want {
				t.Errorf("value %d off by %.1f tolerances: %t, want %t", k, by, got, want)
			}
		}
		none := one
		x, _ := of(&none)
		if *x = math.NaN(); none.nearly(one) || one.nearly(none) {
			t.Errorf("value %d is no number: nearly the same", k)
		}
	}
}

// TestSmoothBackwards: property 2.
func TestSmoothBackwards(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	at, seconds := wander(rng, 500, 0.1, 0.01)
	at = noisy(rng, at, 0.02)
	n := len(at)
	back, times := make([]plane.XY, n), make([]float64, n)
	for k := range at {
		back[k], times[k] = at[n-1-k], -seconds[n-1-k]
	}
	a, b := smoothed(t, at, seconds, 0.02, 0.01), smoothed(t, back, times, 0.02, 0.01)
	for k := range at {
		if d := a[k].At.Dist(b[n-1-k].At); d > 1e-6 {
			t.Fatalf("fix %d: %.2g m apart", k, d)
		}
	}
}

// TestSmoothKnowsItsError: the deviations told are those there are. In the middle of a log the noise is a third.
func TestSmoothKnowsItsError(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	truth, seconds := wander(rng, 20000, 0.1, 0.003)
	for _, noise := range []float64{0.02, 0.1, 0.3} {
		e := smoothed(t, noisy(rng, truth, noise), seconds, noise, 0.003)
		var sum, told, speed float64
		for k := 100; k < len(truth)-100; k++ {
			d := e[k].At.Sub(truth[k])
			sum, told = sum+d.Dot(d)/2, told+e[k].Place*e[k].Place
			speed += e[k].Speed
		}
		if r := math.Sqrt(sum / told); r < 0.93 || r > 1.07 {
			t.Errorf("noise of %g m: error is %.3f of what is told", noise, r)
		}
		if rms := math.Sqrt(sum / float64(len(truth)-200)); rms > 0.4*noise {
			t.Errorf("noise of %g m: %.3g m are left", noise, rms)
		}
	}
}

// TestNoise: found again within a tenth, though the machine wanders, and clocks are rounded.
func TestNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 9))
	for _, c := range []struct {
		name        string
		noise, step float64
		clock       float64 // s, times are rounded to it
	}{
		{"2 cm, 10 Hz", 0.02, 0.1, 0},
		{"5 cm, 10 Hz", 0.05, 0.1, 0},
		{"30 cm, 5 Hz", 0.3, 0.2, 0},
		{"1 cm, 1 Hz", 0.01, 1, 0},
		{"2 cm, 2 Hz, clock in tenths", 0.02, 0.5, 0.1},
	} {
		truth, seconds := wander(rng, 6000, c.step, 1e-5)
		if c.clock > 0 {
			for k, s := range seconds {
				seconds[k] = math.Round(s/c.clock) * c.clock
			}
		}
		got := Noise([]Stretch{{noisy(rng, truth, c.noise), seconds}})
		if got < 0.9*c.noise || got > 1.1*c.noise {
			t.Errorf("%s: %.4f m", c.name, got)
		}
	}
	if got := Noise([]Stretch{{make([]plane.XY, 20), make([]float64, 20)}}); !math.IsNaN(got) {
		t.Errorf("twenty fixes on one place tell %g m, want NaN", got)
	}
}

// TestJerk: the density is found again within a factor of two.
func TestJerk(t *testing.T) {
	rng := rand.New(rand.NewPCG(10, 10))
	for _, q := range []float64{1e-3, 1e-2, 1} {
		truth, seconds := wander(rng, 4000, 0.2, q)
		got := Jerk([]Stretch{{noisy(rng, truth, 0.02), seconds}}, 0.02, Whole)
		if got < q/2 || got > 2*q {
			t.Errorf("density %g: %g m²/s⁵", q, got)
		}
	}
	if got := Jerk(nil, 0.02, Across); got != leastJerk {
		t.Errorf("no stretch: %g", got)
	}
}

// TestJerkOfParts: a machine that goes at an angle over the plane, and changes its speed readily while it keeps to its line, is told as such,
// within a factor of four: a hundredth of a metre tells little of so still a line.
func TestJerkOfParts(t *testing.T) {
	const ahead, aside = 1e-2, 1e-5
	speed, seconds := wander(rand.New(rand.NewPCG(12, 12)), 4000, 0.2, ahead)
	rng := rand.New(rand.NewPCG(12, 12)) // the same times
	line, _ := wander(rng, 4000, 0.2, aside)
	way := plane.XY{X: 0.6, Y: 0.8}
	at := make([]plane.XY, len(speed))
	for k := range at {
		at[k] = way.Scale(20*seconds[k] + speed[k].Y).Add(way.Left().Scale(line[k].Y))
	}
	s := []Stretch{{noisy(rng, at, 0.01), seconds}}
	for part, want := range map[Part]float64{Along: ahead, Across: aside} {
		if got := Jerk(s, 0.01, part); got < want/4 || got > 4*want {
			t.Errorf("part %d: density %g, want %g m²/s⁵", part, got, want)
		}
	}
}

// BenchmarkSmooth by size: the time for a fix is the same.
func BenchmarkSmooth(b *testing.B) {
	for _, n := range []int{1000, 100000, 1000000} {
		rng := rand.New(rand.NewPCG(11, 11))
		truth, seconds := wander(rng, n, 0.1, 0.003)
		at := noisy(rng, truth, 0.02)
		b.Run(map[int]string{1000: "fixes=1000", 100000: "fixes=100000", 1000000: "fixes=1000000"}[n], func(b *testing.B) {
			for b.Loop() {
				e := smoothed(b, at, seconds, 0.02, 0.003)
				if d := e[n/2].At.Dist(truth[n/2]); d > 0.05 {
					b.Fatalf("%g m off", d)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/fix")
		})
	}
}

// TestNoiseOfFixesFarApart: rows of 130 m, 6 m apart, with bends of 6 m radius between them, and 1 cm of white noise. Where fixes lie 22 m apart more than half of all
// quadruples have a bend in them, which no parabola fits: they do not count. Those at
// which a bend just begins still do.
func TestNoiseOfFixesFarApart(t *testing.T) {
	const seed = 31
	t.Logf("seed %d", seed)
	for _, step := range []float64{2, 5, 11, 22} {
		rng := rand.New(rand.NewPCG(seed, uint64(step)))
		var s Stretch
		way := step * rng.Float64()
		const bend = math.Pi * 6
		for k := 0; k < 400; k++ {
			row := math.Floor(way / (130 + bend))
			along := way - row*(130+bend)
			p := plane.XY{X: 12 * row, Y: along}
			if along > 130 {
				sin, cos := math.Sincos((along - 130) / 6)
				p = plane.XY{X: 12*row + 6 - 6*cos, Y: 130 + 6*sin}
			}
			if int(row)%2 == 1 {
				p.Y = 130 - p.Y
			}
			s.At = append(s.At, p.Add(plane.XY{X: 0.01 * rng.NormFloat64(), Y: 0.01 * rng.NormFloat64()}))
			s.Seconds = append(s.Seconds, way/2.2)
			way += step
		}
		got := Noise([]Stretch{s})
		t.Logf("steps of %g m: %.4f m", step, got)
		if !(got > 0.008 && got < 0.02) { // 0.6 m with those in bends
			t.Errorf("steps of %g m: noise %.4f m, want 0.01 to 0.02", step, got)
		}
	}
}
