package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// weighedLoops are the rounds of a field whose corners may be driven to their end, thought by circles or weighed by the engine.
func weighedLoops(t *testing.T, field plane.Polygon, im rig.Implement, rounds int, weighed bool) (*survey, []loop) {
	t.Helper()
	s, err := surveyOf(t.Context(), []plane.Polygon{field}, im, Options{Speed: 8, Rounds: rounds})
	if err != nil {
		t.Fatal(err)
	}
	s.weighed = weighed
	if s, err = s.cornered(t.Context(), byRound, false, false); err != nil {
		t.Fatal(err)
	}
	var out []loop
	for _, l := range s.parts[0].loops {
		if l.corners != nil {
			out = append(out, l)
		}
	}
	return s, out
}

// TestWeighedCorners: what a round on radius r leaves of corners by θ that stand alone is (tan(θ/2) − θ/2)·(r + w/2)² each, two right triangles less a sector, with an implement of width w: of a rectangle four times
// 90°, of a triangle three times 120°. Of a round whose tip is cut off by a side shorter than its bends it is what a grid counts, with the tips of stretches in closed form.
func TestWeighedCorners(t *testing.T) {
	for _, im := range []rig.Implement{mounted(3), mounted(6), trailed(5)} {
		for name, c := range map[string]struct {
			ring plane.Ring
			want float64 // in (r + w/2)²
		}{
			"rectangle": {rectangle(0, 0, 160, 120), 4 * (1 - math.Pi/4)},
			"triangle":  {plane.Ring{{X: 0, Y: 0}, {X: 240, Y: 0}, {X: 120, Y: 120 * math.Sqrt(3)}}, 3 * (math.Sqrt(3) - math.Pi/3)},
		} {
			s, loops := weighedLoops(t, plane.Polygon{c.ring}, im, 3, true)
			if len(loops) != 3 {
				t.Fatalf("%s, %s %g m: %d rounds with corners, want 3", name, im.Name, im.Width, len(loops))
			}
			for _, l := range loops {
				if math.Abs(l.rounded/c.want-1) > 0.01 {
					t.Errorf("%s, %s %g m, round %d: %.4f (r + w/2)², want %.4f; r %g", name, im.Name, im.Width, l.round, l.rounded, c.want, s.turner.steer.Radius)
				}
			}
		}
		tip := plane.Polygon{{{X: 0, Y: 0}, {X: 150, Y: 40}, {X: 150, Y: 46}, {X: 0, Y: 86}}}
		s, loops := weighedLoops(t, tip, im, 2, true)
		_, thought := weighedLoops(t, tip, im, 2, false)
		if len(loops) == 0 || len(loops) != len(thought) {
			t.Fatalf("%s %g m: %d and %d rounds with corners", im.Name, im.Width, len(loops), len(thought))
		}
		outer := s.turner.steer.Radius + s.width/2
		for _, l := range loops {
			got := l.rounded * outer * outer
			want := s.tips(l.corners) - s.tips(&l) + counted(t, s, l)
			if slack := 0.02*want + 0.5; math.Abs(got-want) > slack {
				t.Errorf("%s %g m, round %d with its tip cut off: %.1f m², a grid counts %.1f", im.Name, im.Width, l.round, got, want)
			}
		}
	}
}

// counted is what of the ground of a round lies within half a width of its loop with sharp corners, and outside of that with rounded ones by more, counted on a grid, m².
func counted(t *testing.T, s *survey, l loop) (area float64) {
	t.Helper()
	const cell = 0.2
	holds := func(ring plane.Ring, p plane.XY) bool {
		in := false
		for i, a := range ring {
			if b := ring[(i+1)%len(ring)]; (a.Y > p.Y) != (b.Y > p.Y) && p.X < a.X+(p.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
				in = !in
			}
		}
		return in
	}
	far := func(ring plane.Ring, p plane.XY) float64 {
		if holds(ring, p) {
			return 0
		}
		_, _, d := nearestOn(ring, p)
		return d
	}
	ground, rim := s.field[0][0], float64(l.round-1)*s.width
	for _, b := range l.corners.cuts { // elsewhere both are the same
		at := b.middle(l.corners.ring)
		for x := at.X - 25 + cell/2; x < at.X+25; x += cell {
			for y := at.Y - 25 + cell/2; y < at.Y+25; y += cell {
				p := plane.XY{X: x, Y: y}
				first := true // nearer to another bend it is counted there
				for _, other := range l.corners.cuts {
					if o := other.middle(l.corners.ring); o != at && o.Dist(p) < at.Dist(p) {
						first = false
					}
				}
				if !first || !holds(ground, p) || far(l.corners.ring, p) > s.width/2 || far(l.ring, p) <= s.width/2 {
					continue
				}
				if _, _, d := nearestOn(ground, p); d >= rim {
					area += cell * cell
				}
			}
		}
	}
	return area
}

// TestWeighedIsNoWorse: rows whose rounds are weighed by the engine take no more, and on some drawn fields with sharp tips less.
func TestWeighedIsNoWorse(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 14))
	less := 0
	tried := 0
	for ; tried < 24 || less == 0 && tried < 200; tried++ {
		long, at := 70+60*rng.Float64(), 60*rng.Float64()
		field := []plane.Polygon{{{{X: 0, Y: 0}, {X: long, Y: at}, {X: long - 2 - 10*rng.Float64(), Y: at + 4 + 8*rng.Float64()}, {X: 10 * rng.Float64(), Y: 50 + 40*rng.Float64()}}}}
		im := []rig.Implement{mounted(3), mounted(6), trailed(5)}[rng.IntN(3)]
		s, err := surveyOf(t.Context(), field, im, Options{Speed: 8, Rounds: 2 + rng.IntN(2), Fixed: true, Heading: geo.Heading(math.Pi * rng.Float64())})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.roundsAndCorridors(t.Context()); err != nil {
			t.Fatal(err)
		}
		var goal Objective
		all, err := s.drawn(t.Context(), []choice{{heading: s.opt.Heading}}, goal, math.Inf(1))
		if err != nil {
			t.Fatal(err)
		}
		got, at2, err := s.asWeighed(t.Context(), all[0], goal)
		if err != nil {
			t.Fatal(err)
		}
		switch c := got.Candidate.compare(all[0].Candidate); {
		case c > 0:
			t.Errorf("field %v: weighed %g h, before %g", field, got.Candidate.Value, all[0].Candidate.Value)
		case c < 0:
			less++
			if !at2.weighed {
				t.Errorf("field %v: less with the rounds as they were", field)
			}
		}
	}
	if less == 0 {
		t.Error("no field takes less: nothing was tried")
	}
	t.Logf("%d of %d take less", less, tried)
}

// TestEitherWay: a round in stretches that is driven the way round that takes less takes no more than the one way and than the other, with turns, with what is lost and with its length at the speed of work; on some drawn fields
// it takes less than the one way where that fits.
func TestEitherWay(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 15))
	less, tried := 0, 0
	for ; tried < 60 || less == 0 && tried < 600; tried++ {
		field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 25 + 40*rng.Float64(), Y: 10 * rng.Float64()}, {X: 25 + 40*rng.Float64(), Y: 20 + 25*rng.Float64()}, {X: 10 * rng.Float64(), Y: 25 + 30*rng.Float64()}}}}
		s, err := surveyOf(t.Context(), field, []rig.Implement{mounted(6), trailed(5)}[rng.IntN(2)], Options{Speed: 8, Rounds: 1})
		if err != nil {
			t.Fatal(err)
		}
		if s, err = s.cornered(t.Context(), allCorners, false, true); err != nil {
			t.Fatal(err)
		}
		takes := func(c *circuit) float64 { return c.cost + c.length()/s.opt.Speed.MetresPerSecond() }
		for _, l := range s.parts[0].loops {
			if l.corners != nil {
				l = *l.corners
			}
			if len(l.cuts) == 0 {
				continue
			}
			d := drawing{survey: s}
			one, err := d.circuit(l)
			if err != nil {
				t.Fatal(err)
			}
			either := *s
			either.either = true
			got, err := (&drawing{survey: &either}).circuit(l)
			if err != nil {
				t.Fatal(err)
			}
			back, err := d.circuitOf(l, true)
			if err != nil {
				t.Fatal(err)
			}
			if takes(got) > takes(one)+leastGain || one.lost > leastGain && takes(got) > takes(back)+leastGain {
				t.Errorf("field %v: the way that takes less takes %g s, the first %g, the other %g", field, takes(got), takes(one), takes(back))
			}
			if takes(got) < takes(one)-leastGain {
				less++
			}
		}
	}
	if less == 0 {
		t.Error("no round takes less: nothing was tried")
	}
	t.Logf("%d rounds of %d fields take less", less, tried)
}
