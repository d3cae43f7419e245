package turn

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo"
)

// driveable is an error where p asks more of the steering than s allows: too
// much curvature, a change of curvature that is too quick, a jump, wheels not straight at an end.
func driveable(p Path, s Steering) error {
	const rounding = 1e-9 // of the limits
	var before Arc
	for i, a := range p.Pieces {
		if a.bent() > 1/s.Radius*(1+rounding) {
			return fmt.Errorf("piece %d bends by %g per m, least radius %g m", i+1, a.bent(), s.Radius)
		}
		if s.Sharpness == 0 {
			continue
		}
		if rate := math.Abs((a.To - a.From) / a.Length); rate > s.Sharpness*(1+rounding) {
			return fmt.Errorf("piece %d changes by %g per m², sharpness %g per m²", i+1, rate, s.Sharpness)
		}
		changes := before.Length*a.Length < 0
		if jump := math.Abs(a.From - before.To); jump > rounding/s.Radius && !(changes && s.Standing) {
			return fmt.Errorf("before piece %d the curvature jumps by %g per m", i+1, jump)
		}
		before = a
	}
	if s.Sharpness > 0 && before.To != 0 {
		return fmt.Errorf("the wheels end at %g per m", before.To)
	}
	return nil
}

// TestTurnsKeepTheirContract, numbers 1, 2 and 3 of Kind.Path, for sets and rows as they occur
// and far beyond.
func TestTurnsKeepTheirContract(t *testing.T) {
	const seed = 31
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	served := map[Kind]int{}
	for n := range 20000 {
		s := Steering{Radius: 3 + 9*rng.Float64(), Sharpness: 0.002 * math.Pow(500, rng.Float64()), Standing: rng.IntN(2) == 0}
		if n%4 == 0 {
			s.Radius, s.Sharpness = 0.1*math.Pow(1e4, rng.Float64()), 1e-4*math.Pow(1e10, rng.Float64())
		} else if n%4 == 1 {
			s.Sharpness = 0
		}
		e := newEntry(s)
		corner, round := e.corner(), e.round()
		// Around and exactly at the distances where one kind takes over from the other.
		w := [...]float64{0, 2 * corner, round, round * (1 - 1e-15), round * (1 + 1e-15), round + (2*corner-round)*rng.Float64(), 3 * corner * rng.Float64(), 3 * corner * rng.Float64()}[rng.IntN(8)]
		rows := Rows{From: anyPose(rng, 500), Distance: math.Min(w, mostApart), Left: rng.IntN(2) == 0}
		if rng.IntN(2) == 0 {
			rows.Stagger = 10 * rng.NormFloat64()
		}
		mirrored, m := rows, rigid{turn: 2, mirror: true}
		mirrored.From, mirrored.Left = m.pose(rows.From), !rows.Left
		for _, k := range Kinds() {
			p, err := k.Path(rows, s)
			if err != nil {
				if _, unfit := errors.AsType[*Unfit](err); !unfit {
					t.Fatalf("%s, %+v, %+v: %v", k, rows, s, err)
				}
				continue
			}
			served[k]++
			if err := errors.Join(leadsTo(p, rows.To()), driveable(p, s)); err != nil {
				t.Fatalf("%s, %+v, %+v: %v", k, rows, s, err)
			}
			if k == Forward || k == Reversing {
				continue
			}
			o := turned(t, k, mirrored, s)
			if len(o.Pieces) != len(p.Pieces) {
				t.Fatalf("%s, %+v, %+v: the mirrored turn has %d pieces, not %d", k, rows, s, len(o.Pieces), len(p.Pieces))
			}
			for i, a := range p.Pieces {
				if b := o.Pieces[i]; b.Length != a.Length || b.From != -a.From || b.To != -a.To {
					t.Fatalf("%s, %+v, %+v: piece %d mirrored is %+v, was %+v", k, rows, s, i+1, b, a)
				}
			}
		}
	}
	for _, k := range Kinds() {
		if served[k] < 1000 {
			t.Errorf("%s served %d times only", k, served[k])
		}
	}
}

// TestSharperSteeringComesNearerToArcs (number 4): the path is never shorter than that of arcs, gets
// no longer as the steering gets quicker, and in the end is the same to a micrometre.
func TestSharperSteeringComesNearerToArcs(t *testing.T) {
	for _, k := range []Kind{PlainU, Bulb, Hook, HookBeyond, Fishtail, Shunt} {
		for _, standing := range []bool{false, true} {
			for _, w := range []float64{0, 4, 11.9, 12, 20} {
				rows := Rows{Distance: w, Left: true}
				arcs, err := k.Path(rows, Steering{Radius: 6})
				if err != nil {
					continue // the other kinds serve at this distance
				}
				before, depth, bound := math.Inf(1), math.Inf(1), 1e-9
				for sharp := 0.01; sharp < 2e6; sharp *= 10 {
					p, err := k.Path(rows, Steering{6, math.Min(sharp, 1e6), standing})
					if _, unfit := errors.AsType[*Unfit](err); unfit {
						continue // slow steering takes more width than these rows have
					}
					if err != nil {
						t.Fatal(err)
					}
					if l := p.Length(); l > before+bound || l < arcs.Length()-bound {
						t.Errorf("%s at %g m, sharpness %g: %.12g m, slower %.12g m, arcs %.12g m", k, w, sharp, l, before, arcs.Length())
					}
					before, depth = p.Length(), p.Depth()
				}
				if w != 12 && !(near(before, arcs.Length(), 1e-6) && near(depth, arcs.Depth(), 1e-6)) {
					t.Errorf("%s at %g m: sharpest %.12g m long, %.12g m deep; arcs %.12g m, %.12g m", k, w, before, depth, arcs.Length(), arcs.Depth())
				}
			}
		}
	}
}

// TestNoGapBetweenPlainUAndBulb: as the rows draw together, the length falls to that of one bend
// by π and then rises, without a jump where one kind takes over from the other.
func TestNoGapBetweenPlainUAndBulb(t *testing.T) {
	for _, sharp := range []float64{0, 0.5, 0.05, 0.005, 0.0005} {
		s := Steering{Radius: 6, Sharpness: sharp}
		e := newEntry(s)
		corner, round := e.corner(), e.round()
		bendLength, _, hold := e.parts(math.Pi / 2)
		bend := 2 * (bendLength + hold)
		const steps = 4000
		before := bend
		for n := range steps + 1 {
			w := round + (2.2*corner-round)*float64(n)/steps
			l := turned(t, PlainU, Rows{Distance: w}, s).Length()
			if l < before-1e-9 || l > before+0.02*corner {
				t.Fatalf("sharpness %g, %g m apart: %g m, a little nearer %g m", sharp, w, l, before)
			}
			before = l
		}
		if l := turned(t, Bulb, Rows{Distance: round * (1 - 1e-12)}, s).Length(); !near(l, bend, 1e-3) {
			t.Errorf("sharpness %g: a bulb as wide as can be is %g m long, one bend %g m", sharp, l, bend)
		}
	}
}

// TestPlainUKeepsItsRadius: at distances where two whole quarters do not fit, steering back halfway is
// shorter and less deep than one wider bend of the same distance.
func TestPlainUKeepsItsRadius(t *testing.T) {
	for _, sharp := range []float64{0.01, 0.03, 0.1, 0.3} {
		s := Steering{Radius: 6, Sharpness: sharp}
		e := newEntry(s)
		for _, share := range []float64{0.1, 0.5, 0.9} {
			rows := Rows{Distance: e.round() + share*(2*e.corner()-e.round())}
			p := turned(t, PlainU, rows, s)
			wide, err := root(func(r float64) (float64, float64) {
				return newEntry(Steering{Radius: r, Sharpness: sharp}).round() - rows.Distance, 0
			}, 6, 60)
			if err != nil {
				t.Fatal(err)
			}
			b := turned(t, PlainU, rows, Steering{Radius: wide * (1 - 1e-14), Sharpness: sharp})
			if !(p.Length() < b.Length() && p.Depth() < b.Depth()) {
				t.Errorf("%g m apart, sharpness %g: %g m long and %g m deep, one bend of radius %g m %g m and %g m", rows.Distance, sharp, p.Length(), p.Depth(), wide, b.Length(), b.Depth())
			}
		}
	}
}

// TestSlowSteeringFoundByTrial is the second opinion on the turns whose steering takes time: the
// steering is turned on a clock of millimetres, its timing found by trial and bisection.
//
//	bulb: right for a while, left until 90° are passed, and the mirror image of it
func TestSlowSteeringFoundByTrial(t *testing.T) {
	const h = 1e-3 // m; straight steps of the middle heading err by about h²/24 of the turn
	for _, c := range []struct{ r, sharp, w float64 }{{6, 0.1, 4}, {6, 0.02, 0}, {4, 0.5, 6}, {9, 0.01, 10}} {
		// driven is the lateral place at the summit (heading π/2, half the turn) when the wheels go
		// right, are straight again after having turned by alpha, and then go left.
		driven := func(alpha float64) (left, length float64) {
			var theta, k, x float64
			step := func(rate float64) {
				next := math.Max(-1/c.r, math.Min(1/c.r, k+rate*h))
				turn := (k + next) / 2 * h
				x += h * math.Sin(theta+turn/2)
				theta, k, length = theta+turn, next, length+h
			}
			for ; theta-k*k/(2*c.sharp) > -alpha; step(-c.sharp) { // until steering back would end at −α
			}
			for ; theta < math.Pi/2; step(c.sharp) {
			}
			return x, length
		}
		lo, hi := 0.0, math.Pi/2
		for range 40 {
			if mid := (lo + hi) / 2; first(driven(mid)) > c.w/2 {
				lo = mid
			} else {
				hi = mid
			}
		}
		_, half := driven(lo)
		p := turned(t, Bulb, Rows{Distance: c.w, Left: true}, Steering{Radius: c.r, Sharpness: c.sharp})
		if !near(p.Length(), 2*half, 0.02) {
			t.Errorf("%+v: %.6g m long, by trial %.6g m", c, p.Length(), 2*half)
		}
		if slower := turned(t, Bulb, Rows{Distance: c.w, Left: true}, Steering{Radius: c.r, Sharpness: c.sharp * 0.9}); near(slower.Length(), 2*half, 0.02) {
			t.Errorf("%+v: the trial does not tell a sharpness 10 %% less", c)
		}
	}
}

func first[A, B any](a A, _ B) A { return a }

// TestStandingSavesRoom: wheels turned on the spot make reversing turns shorter and less deep.
func TestStandingSavesRoom(t *testing.T) {
	for _, k := range []Kind{Fishtail, Shunt} {
		for _, sharp := range []float64{0.02, 0.1, 1} {
			rows := Rows{Distance: 5}
			rolling, standing := turned(t, k, rows, Steering{6, sharp, false}), turned(t, k, rows, Steering{6, sharp, true})
			if standing.Length() >= rolling.Length() || standing.Depth() >= rolling.Depth() {
				t.Errorf("%s, sharpness %g: standing %g m long and %g m deep, rolling %g m and %g m", k, sharp, standing.Length(), standing.Depth(), rolling.Length(), rolling.Depth())
			}
		}
	}
}

// TestRootSolves: also equations that Newton alone leaves at once, and none without a root.
func TestRootSolves(t *testing.T) {
	for _, c := range []struct {
		name   string
		f      func(x float64) (y, slope float64)
		lo, hi float64
		want   float64 // NaN: an error
	}{
		{"straight line", func(x float64) (float64, float64) { return 2*x - 1, 2 }, 0, 4, 0.5},
		{"slope endless at the end", func(x float64) (float64, float64) { return math.Sqrt(x) - 1e-5, 0.5 / math.Sqrt(x) }, 0, 3, 1e-10},
		{"flat at the root", func(x float64) (float64, float64) { return math.Pow(x-1, 3), 3 * (x - 1) * (x - 1) }, 0, 3, 1},
		{"slope of no use", func(x float64) (float64, float64) { return x*x - 2, 0 }, 0, 2, math.Sqrt2},
		{"slope no number", func(x float64) (float64, float64) { return 2 - x*x, math.NaN() }, 0, 2, math.Sqrt2},
		{"root at the low end", func(x float64) (float64, float64) { return x, 1 }, 0, 1, 0},
		{"root at the high end", func(x float64) (float64, float64) { return x - 1, 1 }, 0, 1, 1},
		{"beyond the end by rounding", func(x float64) (float64, float64) { return x - 1 - 1e-13, 1 }, 0, 1, 1},
		{"no root", func(x float64) (float64, float64) { return x + 1, 1 }, 0, 1, math.NaN()},
		{"a jump", func(x float64) (float64, float64) { return math.Copysign(1, x-0.3), 0 }, 0, 1, math.NaN()},
		{"no number", func(float64) (float64, float64) { return math.NaN(), 1 }, 0, 1, math.NaN()},
	} {
		x, err := root(c.f, c.lo, c.hi)
		if math.IsNaN(c.want) {
			if err == nil {
				t.Errorf("%s: %g, want an error", c.name, x)
			}
		} else if y, _ := c.f(x); err != nil || !(math.Abs(x-c.want) < 1e-12 || c.name == "flat at the root" && math.Abs(y) < unsolved) {
			t.Errorf("%s: %.17g, error %v, want %.17g", c.name, x, err, c.want)
		}
	}
}

// TestSlopesOfTheEquations against differences: a wrong slope would only make the
// roots slow, so nothing else would show it.
func TestSlopesOfTheEquations(t *testing.T) {
	for _, sharp := range []float64{1e-3, 0.02, 0.3} {
		rolling := drawing{entry: newEntry(Steering{Radius: 6, Sharpness: sharp}), w: 5}
		standing := rolling
		standing.standing = true
		for name, f := range map[string]func(x float64) (y, slope float64){
			"along": rolling.along, "sway": rolling.sway, "dip": rolling.dipMisses, "bulb": rolling.bulbMisses, "hook": rolling.hookMisses,
			"shunt": rolling.shuntMisses, "shunt, standing": standing.shuntMisses,
			"entry": func(x float64) (y, slope float64) { _, g, rho := rolling.at(x); return g, rho * math.Sin(x) },
		} {
			for _, x := range []float64{0.03, 0.11, 0.4, 0.9, 1.4} {
				if name == "dip" {
					x *= math.Min(1.0/6, math.Sqrt(sharp*math.Pi)) / 1.5
				}
				h := 1e-5 * x
				up, _ := f(x + h)
				down, _ := f(x - h)
				if _, slope := f(x); !near(slope, (up-down)/(2*h), 1e-5*(1+math.Abs(slope))) {
					t.Errorf("%s, sharpness %g, at %g: slope %g, by differences %g", name, sharp, x, slope, (up-down)/(2*h))
				}
			}
		}
	}
}

// TestRootIsQuick: the turns of every day take a dozen evaluations, the worst of a wide range 120.
func TestRootIsQuick(t *testing.T) {
	count := func(s Steering, w float64) int {
		n := 0
		d := drawing{entry: newEntry(s), w: w}
		if _, err := root(func(x float64) (float64, float64) { n++; return d.bulbMisses(x) }, 0, math.Pi/2); err != nil {
			t.Fatal(err)
		}
		return n
	}
	for _, w := range []float64{0, 3, 6, 9} {
		for _, sharp := range []float64{0.02, 0.1, 0.5} {
			if n := count(Steering{Radius: 6, Sharpness: sharp}, w); n > 12 {
				t.Errorf("%g m apart, sharpness %g: %d evaluations", w, sharp, n)
			}
		}
	}
	for sharp := 1e-4; sharp < 1e6; sharp *= 3 {
		s := Steering{Radius: 6, Sharpness: sharp}
		for _, share := range []float64{0, 1e-9, 0.5, 1 - 1e-9, 1 - 1e-15} {
			if n := count(s, share*newEntry(s).round()); n > 120 {
				t.Errorf("%g of the width, sharpness %g: %d evaluations", share, sharp, n)
			}
		}
	}
}

// FuzzTurn: whatever the numbers, an error or a turn that keeps its contract.
func FuzzTurn(f *testing.F) {
	f.Add(uint8(1), 4.0, 0.0, 6.0, 0.1, 0.3, true, false)
	f.Add(uint8(0), 13.0, -5.0, 6.0, 0.05, 0.3, false, true)
	f.Add(uint8(5), 0.0, 1e4, 1000.0, 1e-4, -20.0, false, false)
	f.Add(uint8(6), 11.999999999999, 3.0, 6.0, 1e6, 0.0, true, true)
	f.Add(uint8(2), math.NaN(), math.Inf(1), -6.0, 5e-324, 1e300, true, true)
	f.Fuzz(func(t *testing.T, kind uint8, distance, stagger, r, sharp, heading float64, left, standing bool) {
		k := Kinds()[int(kind)%len(Kinds())]
		rows := Rows{From: Pose{Heading: geo.Heading(heading)}, Distance: distance, Left: left, Stagger: stagger}
		s := Steering{Radius: r, Sharpness: sharp, Standing: standing}
		p, err := k.Path(rows, s)
		if err != nil {
			if _, unfit := errors.AsType[*Unfit](err); !unfit && rows.Validate() == nil && s.Validate() == nil && rows.To().Validate() == nil {
				t.Fatal(err)
			}
			return
		}
		if err := errors.Join(leadsTo(p, rows.To()), driveable(p, s)); err != nil {
			t.Fatal(err)
		}
	})
}
