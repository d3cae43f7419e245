package drive

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"

	"github.com/paulmach/orb"
)

// onRows is the way of a machine at 2.5 m/s over rows of 60 m to the north and south with half circles of 6.5 m radius between them, into which it steers at once, as no machine does.
func onRows(way float64) plane.XY {
	const long, radius = 60.0, 6.5
	const half = long + math.Pi*radius
	n := math.Floor(way / half)
	s := way - n*half
	up := math.Mod(n, 2) == 0
	p := plane.XY{X: 2 * radius * n, Y: math.Min(s, long)}
	if s > long {
		sin, cos := math.Sincos((s - long) / radius)
		p = p.Add(plane.XY{X: radius * (1 - cos), Y: radius * sin})
	}
	if !up {
		p.Y = long - p.Y
	}
	return p
}

// rowsLog is a log of these, fixes step seconds apart.
func rowsLog(noise, step float64, rng *rand.Rand) *trail {
	t := &trail{timed: true, tracks: []trackStart{{0, 0, 1}}}
	for k := range int(math.Round(600 / step)) {
		s := step * float64(k)
		t.at = append(t.at, onRows(2.5*s).Add(plane.XY{X: noise * rng.NormFloat64(), Y: noise * rng.NormFloat64()}))
		t.seconds = append(t.seconds, 1777874400+s)
	}
	return t
}

// switchedLog is rowsLog at 1 Hz with a fix more before each row end and one behind it, 40 ms apart, as where the tool is switched, by a clock that tells so many seconds. It ends
// a second behind a switch.
func switchedLog(clock float64) *trail {
	t := &trail{timed: true, tracks: []trackStart{{0, 0, 1}}}
	half := (60 + math.Pi*6.5) / 2.5 // s, a row and its turn
	var times []float64
	for s := 0.0; s < 6*half+1; s++ {
		times = append(times, s)
	}
	for n := range 6 {
		for _, s := range []float64{half*float64(n) + 24, half * float64(n+1)} {
			times = append(times, s-0.02, s+0.02)
		}
	}
	slices.Sort(times)
	for _, s := range times {
		t.at = append(t.at, onRows(2.5*s))
		t.seconds = append(t.seconds, 1777874400+clock*math.Round(s/clock))
	}
	return t
}

func backwards(t *trail) *trail {
	r := &trail{timed: true, tracks: t.tracks, at: slices.Clone(t.at), seconds: slices.Clone(t.seconds)}
	slices.Reverse(r.at)
	slices.Reverse(r.seconds)
	for k := range r.seconds {
		r.seconds[k] = 2*1777874400 - r.seconds[k]
	}
	return r
}

var here = geo.LocalAt(orb.Point{11.5, 48.1})

// moved are the fixes of a log that unstray moves, read forwards; it fails where others are moved if the log is read backwards.
func moved(t *testing.T, log *trail) (fixes []int, found []geo.Finding) {
	t.Helper()
	was := slices.Clone(log.at)
	back := backwards(log)
	back.unstray(here)
	found = log.unstray(here)
	for k, p := range log.at {
		if p != was[k] {
			fixes = append(fixes, k)
		}
		if (p != was[k]) != (back.at[len(was)-1-k] != was[k]) {
			t.Errorf("fix %d is stray when the log is read one way only", k)
		}
	}
	return fixes, found
}

// TestNoFixIsStray: what a machine does, what noise does, and a frame that steps leave every fix where it is, byte for byte.
func TestNoFixIsStray(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 1))
	logs := map[string]*trail{}
	for name, noise := range map[string]float64{"exact": 0, "7 mm": 0.007, "2 cm": 0.02, "10 cm": 0.1, "1 m": 1} {
		for rate, step := range map[string]float64{"10 Hz": 0.1, "5 Hz": 0.2, "1 Hz": 1, "a fix in 3 s": 3, "a fix in 5 s": 5} {
			logs[name+", "+rate] = rowsLog(noise, step, rng)
		}
	}
	step := func(by plane.XY, from, to int) *trail {
		l := rowsLog(0.007, 0.2, rng)
		for k := from; k < to; k++ {
			l.at[k] = l.at[k].Add(by)
		}
		return l
	}
	logs["the frame steps by 0.3 m and stays"] = step(plane.XY{X: 0.3}, 50, 3000)
	logs["the frame steps by 3 m and stays"] = step(plane.XY{X: 2, Y: -2.2}, 50, 3000)
	logs["the frame steps for three fixes"] = step(plane.XY{X: 0.8}, 50, 53)
	zigzag := rowsLog(0.007, 0.2, rng)
	for k := range 3 {
		zigzag.at[50+k].X += 0.5 - float64(k%2)
	}
	logs["three in a row off by turns"] = zigzag
	dodge := rowsLog(0.007, 1, rng) // less than a machine can do between three fixes
	dodge.at[10].X += 0.14
	logs["round a stone, 1 Hz"] = dodge
	dodge = rowsLog(0.007, 3, rng)
	dodge.at[4].X += 4
	logs["round a stone, a fix in 3 s"] = dodge
	back := &trail{timed: true, tracks: []trackStart{{0, 0, 1}}} // to and fro, at 1 m/s² at the turning points
	for s := 0.0; s < 300; s++ {
		back.at, back.seconds = append(back.at, plane.XY{Y: 6 * math.Sin(s/2.45)}), append(back.seconds, s)
	}
	logs["to and fro, 1 Hz"] = back
	tip := &trail{timed: true, tracks: []trackStart{{0, 0, 1}}} // a way on and, a metre aside, at once back
	for s := -19.5; s < 20; s++ {
		tip.at, tip.seconds = append(tip.at, plane.XY{X: 1 - 2*math.Abs(s), Y: 30.5 + math.Copysign(0.5, s)}), append(tip.seconds, s-math.Copysign(0.25, s))
	}
	logs["the tip of a way forth and back, 1 Hz"] = tip
	gaps := rowsLog(0.007, 1, rng) // logged at work only: the turns lie in one step
	keep := 0
	for k, p := range gaps.at {
		if p.Y > 0.5 && p.Y < 59.5 {
			gaps.at[keep], gaps.seconds[keep] = p, gaps.seconds[k]
			keep++
		}
	}
	gaps.at, gaps.seconds = gaps.at[:keep], gaps.seconds[:keep]
	logs["only at work, 1 Hz"] = gaps
	for name, clock := range map[string]float64{"a clock of 10 ms": 0.01, "a clock of 30 ms": 0.03} {
		logs["two fixes at each switch, "+name] = switchedLog(clock)
	}
	for name, log := range logs {
		if fixes, found := moved(t, log); len(fixes) > 0 || len(found) > 0 {
			t.Errorf("%s: fixes %v are moved, of %d", name, fixes, len(log.at))
		}
	}
}

// TestStrayFixes: each is found, wherever it lies, and put back to within the noise of what it is guessed by; no other is touched. The guess of one between its
// neighbours errs by their noise times √(2·4² + 2)/6 (the weights −1, 4, 4, −1 over 6), at the end of a part by √(4² + 6² + 4² + 1) of it.
func TestStrayFixes(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 2))
	for _, c := range []struct {
		name  string
		every float64      // s
		off   []plane.XY   // m, by turns
		fixes func() []int // in order
		ends  bool
	}{
		{"on a row, 1 Hz, to the side", 1, []plane.XY{{X: 0.3}}, func() []int { return []int{10, 80, 300} }, false},
		{"on a row, 5 Hz, to the side", 0.2, []plane.XY{{X: -0.3}}, func() []int { return []int{50, 400, 1500} }, false},
		{"on a row, 10 Hz, ahead and to the side", 0.1, []plane.XY{{X: 0.25, Y: 0.25}}, func() []int { return []int{100, 800, 3000} }, false},
		{"on a row, 5 Hz, behind", 0.2, []plane.XY{{Y: -0.4}}, func() []int { return []int{50, 400, 1500} }, false},
		{"where the row ends, 5 Hz", 0.2, []plane.XY{{X: 1}}, func() []int { return []int{120, 281} }, false},
		{"on a turn, 5 Hz", 0.2, []plane.XY{{X: 0.5, Y: 0.5}}, func() []int { return []int{140, 301} }, false},
		{"on a turn, 1 Hz", 1, []plane.XY{{X: 1, Y: 1}}, func() []int { return []int{28} }, false},
		{"two in a row, 5 Hz", 0.2, []plane.XY{{X: 0.5}}, func() []int { return []int{50, 51, 400, 401} }, false},
		{"two in a row, 1 Hz", 1, []plane.XY{{X: 1}}, func() []int { return []int{10, 11} }, false},
		{"the first, 5 Hz", 0.2, []plane.XY{{X: 2}}, func() []int { return []int{0} }, true},
		{"the second, 5 Hz", 0.2, []plane.XY{{X: 0.5}}, func() []int { return []int{1} }, false},
		{"the last, 5 Hz", 0.2, []plane.XY{{X: 2}}, func() []int { return []int{2999} }, true},
		{"two with one between, 1 Hz", 1, []plane.XY{{X: 0.5}}, func() []int { return []int{10, 12} }, false},
		{"two with two between, 1 Hz", 1, []plane.XY{{X: 0.4, Y: 0.6}, {X: -0.4, Y: 0.5}}, func() []int { return []int{10, 13} }, false},
		{"two with one between, 5 Hz", 0.2, []plane.XY{{X: 0.5}, {X: -0.3}}, func() []int { return []int{50, 52, 400, 402} }, false},
		{"one that hides the next, 1 Hz", 1, []plane.XY{{X: 2.12, Y: -0.37}, {X: -0.45, Y: 1.64}}, func() []int { return []int{10, 11} }, false},
		{"one that hides the last but one before, 1 Hz", 1, []plane.XY{{X: 0.36, Y: 0.2}, {X: 1.6, Y: -0.2}}, func() []int { return []int{10, 12} }, false},
		{"one that hides the one before, 1 Hz", 1, []plane.XY{{X: -0.45, Y: 1.64}, {X: 2.12, Y: -0.37}}, func() []int { return []int{10, 11} }, false},
		{"three with one between each, the last far off, 1 Hz", 1, []plane.XY{{X: 0.4}, {X: 0.4}, {X: 3}}, func() []int { return []int{9, 11, 13} }, false},
		{"three with one between each, the first far off, 1 Hz", 1, []plane.XY{{X: 3}, {X: 0.4}, {X: 0.4}}, func() []int { return []int{9, 11, 13} }, false},
	} {
		const noise = 0.007
		log := rowsLog(noise, c.every, rng)
		true_ := slices.Clone(log.at)
		for n, k := range c.fixes() {
			log.at[k] = log.at[k].Add(c.off[n%len(c.off)])
		}
		fixes, found := moved(t, log)
		if !slices.Equal(fixes, c.fixes()) {
			t.Errorf("%s: fixes %v are stray, want %v", c.name, fixes, c.fixes())
			continue
		}
		errs := 1.5 // of two in a row, and of the second: the weights of Lagrange's cubic are below that
		if c.ends {
			errs = math.Sqrt(16 + 36 + 16 + 1)
		}
		for _, k := range fixes {
			if d := log.at[k].Dist(true_[k]); d > 5*math.Hypot(errs, 1)*noise+0.03*c.every*c.every*c.every {
				t.Errorf("%s: fix %d is put %.3f m off", c.name, k, d)
			}
		}
		if len(found) != 1 || found[0].At == nil || found[0].Lost {
			t.Errorf("%s: findings %v", c.name, found)
		}
	}
}

// TestStrayWhileSpeedChanges: a fix off to the side is found where others lie off along the way, as the driver brakes and goes on: what they agree in is asked across.
func TestStrayWhileSpeedChanges(t *testing.T) {
	log := rowsLog(0, 1, rand.New(rand.NewPCG(1, 1)))
	for k := range 24 { // ± 0.7 m/s² with a change of 0.5 m/s³
		log.at[k].Y += 0.2 * math.Sin(1.5*float64(k))
	}
	log.at[10] = log.at[10].Add(plane.XY{X: 0.25, Y: 0.3})
	if fixes, _ := moved(t, log); !slices.Equal(fixes, []int{10}) {
		t.Errorf("fixes %v are stray, want 10", fixes)
	}
}

// TestStrayFixesAnywhere: however many fixes of a short part lie off, as many are left as others are guessed by, and nothing is moved twice.
func TestStrayFixesAnywhere(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 4))
	for range 40000 {
		log := &trail{timed: true, tracks: []trackStart{{0, 0, 1}}}
		n := 8 + rng.IntN(8)
		for k := range n {
			p := plane.XY{Y: 2 * float64(k)}
			if rng.IntN(2) == 0 {
				p.X = math.Pow(10, 4*rng.Float64()-2)
			}
			log.at, log.seconds = append(log.at, p), append(log.seconds, float64(k))
		}
		was := slices.Clone(log.at)
		left := n
		log.unstray(here)
		for k, p := range log.at {
			if p != was[k] {
				left--
			}
		}
		if left < strayAround-2 {
			t.Fatalf("%d of %d fixes are left where they were: %v", left, n, was)
		}
	}
}

// TestStrayBesideHole: the last fix before a hole of a log is guessed by those before it, whatever comes behind.
func TestStrayBesideHole(t *testing.T) {
	log := rowsLog(0, 0.2, rand.New(rand.NewPCG(1, 1)))
	log.at, log.seconds = slices.Delete(log.at, 100, 200), slices.Delete(log.seconds, 100, 200)
	log.at[99].X += 0.4
	if fixes, _ := moved(t, log); !slices.Equal(fixes, []int{99}) {
		t.Errorf("fixes %v are stray, want 99", fixes)
	}
}

// TestGuessed: a cubic in time is guessed exactly; of a quartic t⁴ what it lies off is Π(t − tᵢ), its fourth divided difference being 1; and no motion of bounded jerk lies
// farther off than the bound says, with steps of any length.
func TestGuessed(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 3))
	for range 200 {
		log := &trail{timed: true}
		s := 0.0
		for range 6 {
			s += 0.1 + 2*rng.Float64()
			log.seconds = append(log.seconds, s)
		}
		by, k := [4]int{0, 1, 3, 4}, 2
		motion := func(f func(float64) float64) guess {
			log.at = log.at[:0]
			for _, s := range log.seconds {
				log.at = append(log.at, plane.XY{X: f(s)})
			}
			return log.guessed(k, by)
		}
		a, b, c := rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()
		if g := motion(func(s float64) float64 { return a + b*s + c*s*s - s*s*s }); math.Abs(g.off.X) > 1e-9 {
			t.Fatalf("a cubic lies off by %g", g.off.X)
		}
		room := 1.0
		for _, i := range by {
			room *= log.seconds[k] - log.seconds[i]
		}
		if g := motion(func(s float64) float64 { return s * s * s * s }); math.Abs(g.off.X-room) > 1e-8 {
			t.Fatalf("t⁴ lies off by %g, want %g", g.off.X, room)
		}
		// a jerk of 1 and −1 by turns: each change at s₀ adds ±(s − s₀)³/3
		var at [4]float64
		for i := range at {
			at[i] = rng.Float64() * log.seconds[4]
		}
		slices.Sort(at[:])
		g := motion(func(s float64) float64 {
			x, sign := s*s*s/6, -1.0
			for _, from := range at {
				x += sign * math.Pow(math.Max(0, s-from), 3) / 3
				sign = -sign
			}
			return x
		})
		if math.Abs(g.off.X) > g.jerk*(1+1e-9)+1e-12 {
			t.Fatalf("a motion of jerk 1 lies off by %g, bound %g", g.off.X, g.jerk)
		}
	}
}

// TestStrayFewFixes: parts too short to tell, and times that stand still, are left.
func TestStrayFewFixes(t *testing.T) {
	for n := range 12 {
		log := &trail{timed: true, tracks: []trackStart{{0, 0, 1}}}
		for k := range n {
			log.at, log.seconds = append(log.at, plane.XY{X: float64(k), Y: 40 * float64(k%2)}), append(log.seconds, float64(k))
		}
		still := &trail{timed: true, tracks: log.tracks, at: slices.Clone(log.at), seconds: make([]float64, n)}
		for _, l := range []*trail{log, still} {
			if fixes, _ := moved(t, l); len(fixes) > 0 {
				t.Errorf("%d fixes that zigzag: %v are moved", n, fixes)
			}
		}
	}
}

// TestStraySaid: how many, how far, and when the first was.
func TestStraySaid(t *testing.T) {
	log := rowsLog(0, 1, rand.New(rand.NewPCG(1, 1)))
	log.at[10] = log.at[10].Add(plane.XY{X: 0.5})
	log.at[15] = log.at[15].Add(plane.XY{X: 2})
	found := log.unstray(here)
	want := "2 of 600 fixes lie up to 2 m off the way that those before and behind them tell, one or two in a row (first: " +
		time.Unix(1777874410, 0).UTC().Format("2006-01-02 15:04:05") + " UTC): put where these say"
	if len(found) != 1 || found[0].What != want {
		t.Errorf("got %v\nwant %q", found, want)
	}
	if at := here.XY(*found[0].At); math.Abs(at.X-0.5) > 1e-6 || math.Abs(at.Y-25) > 1e-6 {
		t.Errorf("the first is said to lie at %v", at)
	}
}
