package turn

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// both are the two searches, by name.
var both = []struct {
	name      string
	f         func(from, to Pose, r float64) (Path, error)
	reversing bool
}{{"forward", Dubins, false}, {"reversing", ReedsShepp, true}}

// must is the path of a search that may not fail.
func must(t *testing.T, f func(from, to Pose, r float64) (Path, error), from, to Pose, r float64) Path {
	t.Helper()
	p, err := f(from, to, r)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestShortestEndsInItsGoal, and so does every word; it bends by 1/r at most, the gear is right,
// the first of the words is the shortest, and reversing never makes it longer.
func TestShortestEndsInItsGoal(t *testing.T) {
	const seed = 1
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	used := [2]map[string]bool{{}, {}}
	for n := range 20000 {
		span := []float64{3, 30, 300, 2e4}[rng.IntN(4)]
		from, to, r := anyPose(rng, span), anyPose(rng, span), 0.1*math.Pow(1e4, rng.Float64())
		if n%2 == 0 {
			r = 3 + 9*rng.Float64()
		}
		var lengths [2]float64
		for i, s := range both {
			p := must(t, s.f, from, to, r)
			words, err := Words(from, to, r, s.reversing)
			if err != nil {
				t.Fatal(err)
			}
			for _, w := range append(words, p) {
				if err := leadsTo(w, to); err != nil {
					t.Fatalf("%s, %+v to %+v, r %g: %v", s.name, from, to, r, err)
				}
				for _, a := range w.Pieces {
					if a.bent() > 1/r || a.From != a.To || (a.Length < 0 && !s.reversing) {
						t.Fatalf("%s: %+v bends or drives as it may not", s.name, w)
					}
				}
			}
			if d := words[0].Length() - p.Length(); math.Abs(d) > Exact || words[0].Kind != p.Kind {
				t.Fatalf("%s: the first of the words is %g m longer than the shortest", s.name, d)
			}
			used[i][p.Word()] = true
			lengths[i] = p.Length()
		}
		if lengths[1] > lengths[0]+Exact {
			t.Fatalf("%+v to %+v, r %g: %g m with reversing, %g m without", from, to, r, lengths[1], lengths[0])
		}
	}
	if len(used[0]) != 6 || len(used[1]) != 48 {
		t.Errorf("%d words forward and %d with reversing were shortest, want all: 6 and 48", len(used[0]), len(used[1]))
	}
}

// TestShortestIsNeverLongerThan a path that was just driven: any pieces of a radius of r or
// more, one after the other.
func TestShortestIsNeverLongerThan(t *testing.T) {
	const seed = 2
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	near := [2]int{}
	for range 40000 {
		r := 1 + 9*rng.Float64()
		driven := [2]Path{{From: anyPose(rng, 50)}, {}}
		driven[1].From = driven[0].From
		for range 1 + rng.IntN(5) {
			k := (2*rng.Float64() - 1) / r
			if rng.IntN(4) > 0 {
				k = float64(rng.IntN(3)-1) / r
			}
			to := k
			if rng.IntN(3) == 0 {
				to = (2*rng.Float64() - 1) / r
			}
			length := r * 2 * rng.ExpFloat64() / 2
			driven[0].Pieces = append(driven[0].Pieces, Arc{length, k, to})
			driven[1].Pieces = append(driven[1].Pieces, Arc{length * float64(2*rng.IntN(2)-1), k, to})
		}
		for i, s := range both {
			d := driven[i]
			end := d.End()
			end.Heading = geo.Heading(math.Remainder(float64(end.Heading), 2*math.Pi))
			p := must(t, s.f, d.From, end, r)
			if p.Length() > d.Length()+Exact {
				t.Fatalf("%s: %s of %g m, but %+v is %g m, r %g", s.name, p.Word(), p.Length(), d, d.Length(), r)
			}
			if p.Length() > d.Length()-1e-6 {
				near[i]++
			}
		}
	}
	for i, s := range both { // or the test would say little
		if near[i] < 1000 {
			t.Errorf("%s: only %d of the paths driven are shortest themselves", s.name, near[i])
		}
	}
}

// TestShortestKeepsItsLength when the plane is moved, turned and mirrored, when
// way and radius grow alike, and when the way is driven from the other end: with reversing backwards in the
// other gear, forward with both headings turned round.
func TestShortestKeepsItsLength(t *testing.T) {
	const seed, limit = 3, 1e-9
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	turned := func(p Pose) Pose { return Pose{p.At, p.Heading + math.Pi} }
	for range 5000 {
		from, to, r := anyPose(rng, 20), anyPose(rng, 20), 2+8*rng.Float64()
		m, k := anyRigid(rng), 0.2+5*rng.Float64()
		grown := func(p Pose) Pose { return Pose{p.At.Scale(k), p.Heading} }
		for _, s := range both {
			want := must(t, s.f, from, to, r).Length()
			others := map[string]float64{
				"moved, turned, mirrored": must(t, s.f, m.pose(from), m.pose(to), r).Length(),
				"grown":                   must(t, s.f, grown(from), grown(to), r*k).Length() / k,
				"from the other end":      must(t, s.f, turned(to), turned(from), r).Length(),
			}
			if s.reversing {
				others["goal and start swapped"] = must(t, s.f, to, from, r).Length()
				others["gears swapped"] = must(t, s.f, turned(from), turned(to), r).Length()
			}
			for name, got := range others {
				if math.Abs(got-want) > limit {
					t.Fatalf("%s, %+v to %+v, r %g, %s: %.12g m, was %.12g m", s.name, from, to, r, name, got, want)
				}
			}
		}
	}
}

// TestShortestIsNoLongerByAStop: L(a, c) ≤ L(a, b) + L(b, c).
func TestShortestIsNoLongerByAStop(t *testing.T) {
	const seed = 4
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for range 5000 {
		a, b, c, r := anyPose(rng, 10), anyPose(rng, 10), anyPose(rng, 10), 2+8*rng.Float64()
		for _, s := range both {
			ab, bc, ac := must(t, s.f, a, b, r).Length(), must(t, s.f, b, c, r).Length(), must(t, s.f, a, c, r).Length()
			if ac > ab+bc+Exact {
				t.Fatalf("%s: %g m, by way of another pose %g m", s.name, ac, ab+bc)
			}
		}
	}
}

// TestShortestOnTheGrid: poses a whole or half radius and quarter turns apart, where pieces vanish
// and circles touch. The path ends in its goal, and is not longer than to a goal a hair beside:
// where the length jumps, the goal itself belongs to the shorter side. With reversing it does not jump at all.
func TestShortestOnTheGrid(t *testing.T) {
	// A goal d radii to the side is reached by shunting in about 4·∛(3d/2)… radii: below 0.02 for 1e-8.
	const hair, limit = 1e-8, 0.02
	for _, r := range []float64{1, 6, 0.3} {
		for x := -10; x <= 10; x++ {
			for y := -10; y <= 10; y++ {
				for h := range 8 {
					from := Pose{plane.XY{X: 100, Y: -7}, geo.Heading(float64(h%3) * math.Pi / 2)}
					to := from.Moved(float64(x)*r/2, float64(y)*r/2, float64(h)*math.Pi/4)
					for _, s := range both {
						p := must(t, s.f, from, to, r)
						if err := leadsTo(p, to); err != nil {
							t.Fatal(err)
						}
						for _, d := range [][3]float64{{hair}, {-hair}, {0, hair}, {0, -hair}, {0, 0, hair}, {0, 0, -hair}} {
							beside := must(t, s.f, from, to.Moved(d[0], d[1], d[2]), r)
							more := (p.Length() - beside.Length()) / r
							if more > limit || (s.reversing && more < -limit) {
								t.Fatalf("%s, %d, %d half radii, %d eighths: %s of %g r; a hair beside, %v, %s of %g r", s.name, x, y, h,
									p.Word(), p.Length()/r, d, beside.Word(), beside.Length()/r)
							}
						}
					}
				}
			}
		}
	}
}

// TestAHairAwayIsReachedInAHairsWay: with reversing, a goal h radii or rad beside the start takes no more than
// about √(8h) radii, down to where rounding begins; no word is lost to the noise that the words are freed of.
func TestAHairAwayIsReachedInAHairsWay(t *testing.T) {
	const seed = 5
	t.Logf("seed %d", seed)
	rng := rand.New(rand.NewPCG(seed, 0))
	for n := range 30000 {
		h := math.Pow(10, -3-float64(n%15))
		d := func() float64 { return h * float64(rng.IntN(3)-1) * rng.Float64() }
		from := Pose{}
		if n%2 == 0 {
			from = anyPose(rng, 10)
		}
		to := from.Moved(d(), d(), d()+2*math.Pi*float64(rng.IntN(2)))
		p := must(t, ReedsShepp, from, to, 1)
		if err := leadsTo(p, to); err != nil {
			t.Fatal(err)
		}
		if p.Length() > 3*math.Sqrt(h) {
			t.Fatalf("%+v to %+v: %s of %g r, %g apart", from, to, p.Word(), p.Length(), h)
		}
	}
}

func TestShortestOfKnownWays(t *testing.T) {
	start := Pose{}
	for _, c := range []struct {
		name          string
		to            Pose
		r             float64
		forward, both string
		forwardLength float64 // m
		bothLength    float64
	}{
		{"nowhere", Pose{}, 6, "", "", 0, 0},
		{"straight ahead", Pose{plane.XY{X: 4}, 0}, 1, "S", "S", 4, 4},
		{"straight back", Pose{plane.XY{X: -4}, 0}, 1, "LSL", "S-", 2*math.Pi + 4, 4},
		{"a quarter to the left", Pose{plane.XY{X: 6, Y: 6}, math.Pi / 2}, 6, "L", "L", 3 * math.Pi, 3 * math.Pi},
		{"a quarter to the right in reverse", Pose{plane.XY{X: -6, Y: -6}, math.Pi / 2}, 6, "", "R-", -1, 3 * math.Pi},
		{"plain U", Pose{plane.XY{Y: 15}, math.Pi}, 6, "LSL", "", 6*math.Pi + 3, -1},
		{"bulb at row distance 0", Pose{plane.XY{}, math.Pi}, 3, "", "", 3 * 7.330382858, 3 * math.Pi},
		{"three-arc shunt at row distance r", Pose{plane.XY{Y: 3}, math.Pi}, 3, "", "", -1, 3 * math.Pi},
		{"a whole turn is none", Pose{plane.XY{X: 5}, 2 * math.Pi}, 1, "S", "S", 5, 5},
	} {
		for i, s := range both {
			p := must(t, s.f, start, c.to, c.r)
			word, length := c.forward, c.forwardLength
			if i == 1 {
				word, length = c.both, c.bothLength
			}
			if (word != "" || length == 0) && p.Word() != word {
				t.Errorf("%s, %s: %s, want %s", c.name, s.name, p.Word(), word)
			}
			if length >= 0 && math.Abs(p.Length()-length) > 1e-8 {
				t.Errorf("%s, %s: %.10g m, want %.10g m", c.name, s.name, p.Length(), length)
			}
		}
	}
}

func TestShortestRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for name, c := range map[string]struct {
		from, to Pose
		r        float64
		say      string
	}{
		"radius 0":             {Pose{}, Pose{}, 0, "least radius 0 m: must be from 0.1 to 1000 m"},
		"radius below 0":       {Pose{}, Pose{}, -6, "least radius -6 m: must be"},
		"radius no number":     {Pose{}, Pose{}, nan, "least radius NaN m: must be"},
		"radius endless":       {Pose{}, Pose{}, inf, "least radius +Inf m: must be"},
		"start no number":      {Pose{At: plane.XY{X: nan}}, Pose{}, 6, "start: pose at NaN, 0: must be within ±20000 m"},
		"goal endless":         {Pose{}, Pose{At: plane.XY{Y: -inf}}, 6, "goal: pose at 0, -Inf: must be"},
		"heading no number":    {Pose{Heading: geo.Heading(nan)}, Pose{}, 6, "start: pose, heading NaN rad: must be within ±20 rad"},
		"heading by degrees":   {Pose{}, Pose{Heading: 90}, 6, "goal: pose, heading 90 rad: must be"},
		"goal on another farm": {Pose{}, Pose{At: plane.XY{X: 1e5}}, 6, "goal: pose at 100000, 0: must be"},
	} {
		for _, s := range both {
			if p, err := s.f(c.from, c.to, c.r); err == nil || !strings.HasPrefix(err.Error(), c.say) || len(p.Pieces) > 0 {
				t.Errorf("%s, %s: error %v, want %s", name, s.name, err, c.say)
			}
			if w, err := Words(c.from, c.to, c.r, s.reversing); err == nil || w != nil {
				t.Errorf("%s: words in spite of the fault", name)
			}
		}
	}
}

// FuzzShortest: whatever the numbers, an error or a path that ends in its goal.
func FuzzShortest(f *testing.F) {
	f.Add(0.0, 0.0, 0.0, 6.0, 0.0, math.Pi, 6.0)
	f.Add(1.0, 2.0, -1.0, 1.0, 2.0, -1.0, 0.1)
	f.Add(-2e4, 2e4, 20.0, 2e4, -2e4, -20.0, 1000.0)
	f.Add(math.NaN(), math.Inf(1), 0.0, 0.0, 0.0, 1e300, 0.0)
	f.Add(2632.0, 0.0, 1e-17, 107.0, 8e-9, 2*math.Pi, 0.2) // an arc of 6e-13 m before 2.5 km straight back
	f.Add(5e-324, 0.0, 1e-17, -1e-12, 1e-9, 2*math.Pi, 12.0)
	f.Fuzz(func(t *testing.T, x, y, h, x2, y2, h2, r float64) {
		from, to := Pose{plane.XY{X: x, Y: y}, geo.Heading(h)}, Pose{plane.XY{X: x2, Y: y2}, geo.Heading(h2)}
		valid := from.Validate() == nil && to.Validate() == nil && r >= leastRadius && r <= mostRadius
		var lengths []float64
		for _, s := range both {
			p, err := s.f(from, to, r)
			if (err == nil) != valid {
				t.Fatalf("%s: error %v", s.name, err)
			}
			if !valid {
				continue
			}
			if err := leadsTo(p, to); err != nil {
				t.Fatal(err)
			}
			lengths = append(lengths, p.Length())
			if least := from.At.Dist(to.At); !(p.Length() >= least-Exact) {
				t.Fatalf("%s: %g m long, the beeline is %g m", s.name, p.Length(), least)
			}
		}
		if valid && lengths[1] > lengths[0]+Exact {
			t.Fatalf("%g m with reversing, %g m without", lengths[1], lengths[0])
		}
	})
}
