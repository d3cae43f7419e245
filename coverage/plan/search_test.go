package plan

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestBestAgainstEveryTenthOfADegree: on convex fields no direction at steps of 0.1° has an estimate
// that is better than the best one looked at by more than 0.1 %.
func TestBestAgainstEveryTenthOfADegree(t *testing.T) {
	const seed = 5
	rng := rand.New(rand.NewPCG(seed, 1))
	for n := range 24 {
		var ring plane.Ring
		for range 12 {
			ring = append(ring, plane.XY{X: (100 + 200*rng.Float64()) * rng.NormFloat64(), Y: 150 * rng.NormFloat64()})
		}
		field := []plane.Polygon{{plane.Hull(ring)}}
		im := mounted(4 + float64(n%5))
		s, err := surveyOf(t.Context(), field, im, Options{Speed: 8, FullSpacing: n%3 == 0})
		if err != nil {
			t.Fatal(err)
		}
		curve, err := s.curve(t.Context(), Objective{})
		if err != nil {
			t.Fatal(err)
		}
		best, brute, at := math.Inf(1), math.Inf(1), 0.0
		for k, c := range curve {
			best = min(best, c.Value)
			if k > 0 && !(c.Direction > curve[k-1].Direction) {
				t.Fatalf("directions %g, %g: want ascending", curve[k-1].Direction, c.Direction)
			}
		}
		for k := range 1800 {
			h := float64(k) / 10
			if v := s.estimate(choice{heading: headingOf(h)}, Objective{}, false).Value; v < brute {
				brute, at = v, h
			}
		}
		if best > brute*1.001 {
			t.Errorf("seed %d, field %d of %.1f ha: best %g h of %d directions, by brute force %g h at %g°: %.2f %% worse", seed, n, s.area/hectare, best, len(curve), brute, at, 100*(best/brute-1))
		}
	}
}

// TestBestAgainstEveryTenthOfADegreeLaidOut: nor does any direction come to less than the one found by more than
// 0.1 % when all of it is laid out, every turn and run with it.
func TestBestAgainstEveryTenthOfADegreeLaidOut(t *testing.T) {
	const seed = 8
	rng := rand.New(rand.NewPCG(seed, 1))
	fields := 2
	if trial.Long() {
		fields = 8
	}
	for n := range fields {
		var ring plane.Ring
		for range 7 {
			sin, cos := math.Sincos(2 * math.Pi * rng.Float64())
			ring = append(ring, plane.XY{X: (100 + 100*rng.Float64()) * cos, Y: (80 + 80*rng.Float64()) * sin})
		}
		field, im := []plane.Polygon{{plane.Hull(ring)}}, mounted(7+2*float64(n%4))
		found, err := Best(t.Context(), field, im, Options{Speed: 8}, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		s, err := surveyOf(t.Context(), field, im, Options{Speed: 8, Rounds: found.Plan.Rounds})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.roundsAndCorridors(t.Context()); err != nil {
			t.Fatal(err)
		}
		best := math.Inf(1)
		for k := range 3600 { // either way: rows are counted from one side or the other
			p, err := s.lay(t.Context(), choice{heading: geo.Heading(float64(k) * math.Pi / 1800)}, nil)
			if err != nil {
				t.Fatal(err)
			}
			c := p.candidate()
			if goal := (Objective{}); goal.atLeast(c) < found.Candidate.Value { // else the engine cannot find it any better
				if c, err = p.simulated(t.Context(), false); err != nil {
					t.Fatal(err)
				}
				best = min(best, goal.of(c))
			}
		}
		if value := found.Candidate.Value; value > 1.001*best {
			t.Errorf("seed %d, field %d of %.1f ha: found %g h at %g°, by brute force %g h: %.2f %% worse", seed, n, s.area/hectare, value, found.Candidate.Direction, best, 100*(value/best-1))
		}
	}
}

// TestBestRectangle: a rectangle is worked along its long sides, whatever way it lies.
func TestBestRectangle(t *testing.T) {
	for _, angle := range []float64{0, 0.7, 2} {
		f, err := Best(t.Context(), turnedBy(box(400, 180), angle, plane.XY{X: 10}), mounted(6), Options{Speed: 8}, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		want := bearing(geo.Heading(angle))
		if off := math.Abs(math.Remainder(f.Candidate.Direction-want, 180)); off > 0.01 {
			t.Errorf("turned by %g: best direction %g°, want %g°", angle, f.Candidate.Direction, want)
		}
	}
}

// TestBestObjectives: weights choose; what weighs nothing else gives the fewest turns, the least cost.
func TestBestObjectives(t *testing.T) {
	field := shapes[6].field
	o := Options{Speed: 8, Fuel: Fuel{Hour: 20}, Rates: Rates{Hour: 50, Litre: 1.5}}
	get := func(goal Objective) Candidate {
		f, err := Best(t.Context(), field, mounted(6), o, goal)
		if err != nil {
			t.Fatal(err)
		}
		return f.Candidate
	}
	goals := []Objective{{}, {Cost: 1}, {Turns: 1}, {Double: 1}}
	var found []Candidate
	for _, goal := range goals {
		found = append(found, get(goal))
	}
	for i, goal := range goals {
		for k, c := range found {
			if value := goal.of(c); found[i].Value > 1.01*value {
				t.Errorf("by %+v %g is found, and by %+v a plan that comes to %g", goal, found[i].Value, goals[k], value)
			}
		}
	}
	if _, err := Best(t.Context(), field, mounted(6), o, Objective{Hours: -1}); err == nil {
		t.Error("a weight of -1 is no error")
	}
}

// TestCompare ranks widths: the wider set is faster on a large field, and each says how
// it differs and what happens off plan.
func TestCompare(t *testing.T) {
	o := Options{Speed: 8, FullSpacing: true, PassError: 0.3, Seed: 1}
	got, err := Compare(t.Context(), box(400, 250), []rig.Implement{mounted(4), mounted(6), trailed(8)}, o, Objective{})
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 3 || got[0].Candidate.Width != 8 || got[1].Candidate.Width != 6 || got[2].Candidate.Width != 4 {
		t.Fatalf("ranked %v, %v, %v m: want 8, 6, 4 m", got[0].Candidate.Width, got[1].Candidate.Width, got[2].Candidate.Width)
	}
	for i, f := range got {
		c := f.Candidate
		if len(c.Sensitivity) != 3 || c.Difference == "" {
			t.Fatalf("%d deviations, difference %q", len(c.Sensitivity), c.Difference)
		}
		off, narrow, deeper := c.Sensitivity[0], c.Sensitivity[1], c.Sensitivity[2]
		// A shift by normal e/(1.96·√2) opens half of all joints, by e/(1.96·√2·√π)·√2 on average.
		mean := 0.3 / 1.96 / math.Sqrt(math.Pi) / math.Sqrt2 / c.Credited
		if share := (off.Missed - c.Missed) / c.Field; share < 0.3*mean || share > 1.5*mean {
			t.Errorf("%g m: a driving error misses %.4f of the field more: want about %.4f", c.Width, share, mean)
		}
		if narrow.Hours < c.Hours || deeper.Turns > c.Turns+2 {
			t.Errorf("%g m: narrower %g h against %g h; a round more %d turns against %d", c.Width, narrow.Hours, c.Hours, deeper.Turns, c.Turns)
		}
		if i > 0 && !strings.Contains(c.Difference, "longer") {
			t.Errorf("%g m: %q: want it to say how much longer", c.Width, c.Difference)
		}
	}
	if _, err := json.Marshal(got); err != nil {
		t.Error(err)
	}
	o.Workers = 1 // changes nothing
	again, err := Compare(t.Context(), box(400, 250), []rig.Implement{mounted(4), mounted(6), trailed(8)}, o, Objective{})
	if err != nil || len(again) != len(got) {
		t.Fatalf("%d plans, before %d (%v)", len(again), len(got), err)
	}
	for i := range got {
		if !reflect.DeepEqual(again[i].Candidate, got[i].Candidate) {
			t.Errorf("the same seed with one worker gives %+v, before %+v", again[i].Candidate, got[i].Candidate)
		}
	}
}

// TestBearingsAndHeadings: a heading turns left from east, a bearing right from north, and both go either way.
func TestBearingsAndHeadings(t *testing.T) {
	for _, c := range []struct{ heading, bearing float64 }{ // degrees
		{0, 90}, {90, 0}, {45, 45}, {30, 60}, {135, 135}, {180, 90}, {-30, 120}, {300, 150}, {90 + 1e-12, 0}, {90 - 1e-12, 0}, {-630, 0},
	} {
		if got := bearing(geo.Heading(c.heading * math.Pi / 180)); math.Abs(got-c.bearing) > 1e-9 || got >= 180 {
			t.Errorf("heading %g°: bearing %g°, want %g°", c.heading, got, c.bearing)
		}
		h := float64(headingOf(c.bearing)) * 180 / math.Pi
		if d := math.Abs(math.Remainder(h-c.heading, 180)); d > 1e-9 || h < 0 || h >= 180 {
			t.Errorf("bearing %g°: heading %g°, want %g° from 0 to below 180°", c.bearing, h, c.heading)
		}
	}
}

// TestFinalists: the best directions first, and none within so much of a better one, over north too.
func TestFinalists(t *testing.T) {
	curve := func(samples ...float64) (out []Sample) { // direction, value; ...
		for i := 0; i < len(samples); i += 2 {
			out = append(out, Sample{Direction: samples[i], Value: samples[i+1]})
		}
		return out
	}
	for _, c := range []struct {
		name  string
		curve []Sample
		most  int
		apart float64   // degrees
		want  []float64 // degrees
	}{
		{"three of five", curve(10, 5, 50, 2, 90, 3, 130, 1, 170, 4), 3, 1, []float64{130, 50, 90}},
		{"two as good: as they come", curve(50, 2, 10, 2), 3, 1, []float64{50, 10}},
		{"half a degree beside the best", curve(50, 1, 50.5, 2, 51.5, 3), 3, 1, []float64{50, 51.5}},
		{"half a degree over north", curve(0.2, 1, 179.7, 2, 90, 3), 3, 1, []float64{0.2, 90}},
		{"a quarter of a degree is enough", curve(50, 1, 50.5, 2, 50.6, 3), 3, 0.25, []float64{50, 50.5}},
	} {
		got := finalists(c.curve, c.most, c.apart*math.Pi/180)
		ok := len(got) == len(c.want)
		for i := range got {
			ok = ok && math.Abs(bearing(got[i])-c.want[i]) < 1e-9
		}
		if !ok {
			t.Errorf("%s: %d of them, %v rad, want %v°", c.name, len(got), got, c.want)
		}
	}
}

// TestGolden: the least place of a function with one is come to within what is asked for, looking only between the ends.
func TestGolden(t *testing.T) {
	for _, at := range []float64{-2, 0, 0.07, 0.31, 0.5, 0.99, 3} { // some beyond the ends
		nearest, looks := math.Inf(1), 0
		golden(func(x float64) float64 {
			if looks++; x < 0 || x > 1 {
				t.Errorf("looks at %g", x)
			}
			nearest = min(nearest, math.Abs(x-at))
			return (x - at) * (x - at)
		}, 0, 1)
		want := math.Abs(at - min(1, max(0, at)))
		if most := int(math.Ceil(math.Log(1/sharpest)/math.Log(math.Phi))) + 3; nearest > want+2*sharpest || looks > most {
			t.Errorf("least at %g: %g off after %d looks, want %g in %d", at, nearest, looks, want, most)
		}
	}
	golden(func(float64) float64 { t.Error("looks where the ends are near enough"); return 0 }, 0, sharpest)
}

// Of a small field more directions are laid out than of a large one of the same shape, and each of them once.
func TestMoreDirectionsOfSmallFields(t *testing.T) {
	for _, c := range []struct{ scale, want float64 }{{1, drawnFew}, {3, drawnPlans}} {
		var field plane.Polygon
		for _, ring := range withArm[0] {
			var larger plane.Ring
			for _, p := range ring {
				larger = append(larger, p.Scale(c.scale))
			}
			field = append(field, larger)
		}
		s, err := surveyOf(t.Context(), []plane.Polygon{field}, trailed(5), Options{Speed: 8, Rounds: 2})
		if err != nil {
			t.Fatal(err)
		}
		curve, err := s.curve(t.Context(), Objective{})
		if err != nil {
			t.Fatal(err)
		}
		ways := s.shortlist(curve, s.convex(), Objective{})
		seen := map[choice]bool{}
		for _, w := range ways {
			seen[w] = true
		}
		if float64(len(ways)) != c.want || len(seen) != len(ways) {
			t.Errorf("%g times as long: %d directions, %d of them apart, want %g", c.scale, len(ways), len(seen), c.want)
		}
	}
}

// TestRoundsOfArms: of a narrow field with two arms (invented) directions of their own in the arms are not known at a glance: four rounds were chosen, where
// one takes a tenth less.
func TestRoundsOfArms(t *testing.T) {
	field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 20, Y: -34}, {X: 210, Y: 88}, {X: 330, Y: 362}, {X: 296, Y: 378}, {X: 224, Y: 170}, {X: 226, Y: 160}, {X: 202, Y: 103}, {X: 190, Y: 103}}}}
	im := mounted(6)
	im.Turning.Radius = 6
	found, err := Best(t.Context(), field, im, Options{Speed: 8}, Objective{})
	if err != nil {
		t.Fatal(err)
	}
	for k := 1; k <= needed(t, field, im)+moreRounds; k++ {
		asked, err := Best(t.Context(), field, im, Options{Speed: 8, Rounds: k}, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%d rounds: %.4f h, %d passes", k, asked.Candidate.Value, len(asked.Plan.Passes))
		if asked.Candidate.Value < found.Candidate.Value-1e-9 {
			t.Errorf("%d rounds asked for: %g h, %d found: %g h", k, asked.Candidate.Value, found.Plan.Rounds, found.Candidate.Value)
		}
	}
}
