package plan

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
)

// withArm is a field of 60 × 60 m with an arm of 14 m by 60: a set that must not reverse can turn nowhere in the arm, and its rounds end there.
//
//	┌──────┐
//	│      └───────┐
//	│      ┌───────┘
//	└──────┘
var withArm = []plane.Polygon{{{{}, {X: 60}, {X: 60, Y: 20}, {X: 120, Y: 20}, {X: 120, Y: 34}, {X: 60, Y: 34}, {X: 60, Y: 60}, {Y: 60}}}}

// drawnMidway is the survey of a field and a set, and what is drawn on it with rounds begun at the ends of stretches only, or midway too.
func drawnMidway(t *testing.T, field []plane.Polygon, midway bool) (Plan, Candidate) {
	t.Helper()
	s, err := surveyOf(t.Context(), field, trailed(5), Options{Speed: 8, Rounds: 2})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.roundsAndCorridors(t.Context()); err != nil {
		t.Fatal(err)
	}
	s.midway = midway
	p, err := s.lay(t.Context(), choice{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	c, err := Objective{}.judged(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	return p, c
}

// A round that ends at the end of an arm has its beginning there too. Begun on the way to the arm it takes one way that does not fit, at the arm's end, and no run out there before.
func TestRoundBegunMidway(t *testing.T) {
	before, atEnds := drawnMidway(t, withArm, false)
	p, c := drawnMidway(t, withArm, true)
	if c.Value >= atEnds.Value || c.Idle.Metres >= atEnds.Idle.Metres {
		t.Errorf("midway %.4f h and %.0f m of runs, at ends of stretches %.4f h and %.0f m: want less", c.Value, c.Idle.Metres, atEnds.Value, atEnds.Idle.Metres)
	}
	worked := func(p Plan) (all float64) {
		for _, one := range p.Passes {
			if one.Round > 0 {
				all += one.Length
			}
		}
		return all
	}
	if a, b := worked(before), worked(p); math.Abs(a-b) > 0.1*a {
		t.Errorf("rounds of %.0f m, at ends of stretches %.0f m", b, a)
	}
	joined := 0 // stretches whose end is the beginning of the round, the same way on
	for i, one := range p.Passes {
		if one.Round == 0 || one.Stretch != 1 {
			continue
		}
		last := i
		for last+1 < len(p.Passes) && p.Passes[last+1].Round == one.Round && p.Passes[last+1].Stretch > 1 {
			last++
		}
		end := p.Passes[last].Line
		in, _ := headings(one.Line)
		_, out := headings(end)
		if last > i && end[len(end)-1].Dist(one.Line[0]) < 1e-6 && math.Abs(math.Remainder(float64(in-out), 2*math.Pi)) < 1e-6 {
			joined++
		}
	}
	if joined == 0 {
		t.Error("no round ends where it began")
	}
	checkSums(t, p, c)
	checkWays(t, p)
}

// Whatever the place at which a round in stretches is begun, all of it is driven, and the rest of a stretch with the same hops.
func TestBegunAnywhere(t *testing.T) {
	line := func(pts ...plane.XY) stretch {
		return stretch{line: pts, of: piece{line: pts}, to: plane.Length(pts)}
	}
	one, two := line(plane.XY{}, plane.XY{X: 30}, plane.XY{X: 30, Y: 20}), line(plane.XY{X: 30, Y: 25}, plane.XY{Y: 25})
	two.hop = Move{Kind: Run, Seconds: 7}
	end, begin := one, one
	end.to, begin.from, begin.hop = 45, 4, Move{Kind: Run, Seconds: 9}
	for _, c := range []struct {
		what string
		circuit
		start
		long  float64
		lines int
	}{
		{"at a stretch", circuit{stretches: []stretch{one, two}}, start{side: 1}, 80, 2},
		{"late", circuit{stretches: []stretch{one, two}}, start{side: 0, far: 10}, 70, 2},
		{"midway", circuit{stretches: []stretch{one, two}}, start{side: 0, far: 10, between: true}, 80, 3},
		{"midway, of one stretch", circuit{stretches: []stretch{one}, closing: &closing{end: end, begin: begin}}, start{far: 10, between: true}, 41, 2},
	} {
		all := c.circuit.begun(c.start)
		long := 0.0
		for _, st := range all {
			long += plane.Length(st.line)
		}
		if math.Abs(long-c.long) > 1e-9 || len(all) != c.lines {
			t.Errorf("%s: %g m in %d lines, want %g m in %d", c.what, long, len(all), c.long, c.lines)
		}
		if first, last := all[0].line[0], all[len(all)-1].line; c.between && first != last[len(last)-1] {
			t.Errorf("%s: begins at %v and ends at %v", c.what, first, last[len(last)-1])
		}
	}
}

// A plan with rounds begun midway takes no more than the same rows with rounds begun at ends of stretches, and both stand on the survey they are given with: laid out again
// they come to the same. On the field with an arm it takes less.
func TestMidwayWhereItPays(t *testing.T) {
	for _, c := range []struct {
		name  string
		field []plane.Polygon
		less  bool
	}{{"arm", withArm, true}, {"rectangle", box(200, 120), false}} {
		s, err := surveyOf(t.Context(), c.field, trailed(5), Options{Speed: 8, Rounds: 2})
		if err != nil {
			t.Fatal(err)
		}
		before, at, err := s.asked(t.Context(), 2, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		after, there, err := at.begunMidway(t.Context(), before, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		if less := after.Candidate.Value < before.Candidate.Value; after.Candidate.Value > before.Candidate.Value || less != c.less || there.midway != c.less {
			t.Errorf("%s: %.4f h, before %.4f h: want less %v", c.name, after.Candidate.Value, before.Candidate.Value, c.less)
		}
		p, err := there.lay(t.Context(), after.choice, nil)
		if err != nil {
			t.Fatal(err)
		}
		if again, err := (Objective{}).judged(t.Context(), p); err != nil || again.Value != after.Candidate.Value {
			t.Errorf("%s: laid out again %.6f h, %v, found %.6f h", c.name, again.Value, err, after.Candidate.Value)
		}
	}
}

// Of the first places at which a round may begin the one is taken from which the way there and the rest of the round take least, as all of them one after the other say: where the shortest way turns on the least
// radius too, which is less than that of runs, and where the set may reverse.
func TestBegunWhereItTakesLeast(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 31))
	for _, im := range []rig.Implement{trailed(5), mounted(6)} {
		s, err := surveyOf(t.Context(), box(200, 120), im, Options{Speed: 8, Rounds: 2})
		if err != nil {
			t.Fatal(err)
		}
		if err := s.roundsAndCorridors(t.Context()); err != nil {
			t.Fatal(err)
		}
		d := drawing{survey: s, plan: new(Plan), at: &plane.XY{X: 100, Y: 60}, inWork: true}
		others := 0
		for range 40 {
			var starts []start
			for range mostEntered {
				one := start{at: plane.XY{X: 75 + 50*rng.Float64(), Y: 40 + 40*rng.Float64()}, heading: geo.Heading(math.Pi * float64(rng.IntN(2))), more: 20 * rng.Float64()}
				w, err := turn.Dubins(s.turner.axle(*d.at, d.heading), s.turner.axle(one.at, one.heading), s.turner.runRadius())
				if err != nil {
					t.Fatal(err)
				}
				one.long = w.Length() + one.more*s.turner.speed.Turning
				starts = append(starts, one)
			}
			slices.SortFunc(starts, func(a, b start) int { return cmp.Compare(a.long, b.long) })
			least, last := math.Inf(1), Move{}
			for _, one := range starts {
				if last, err = d.way(one.at, one.heading, false); err != nil {
					t.Fatal(err)
				}
				least = min(least, s.turner.price(last)+one.more)
			}
			given := starts[len(starts)-1]
			got, m, err := d.cheaper(starts, given, last)
			if err != nil {
				t.Fatal(err)
			}
			if cost := s.turner.price(m) + got.more; math.Abs(cost-least) > leastGain {
				t.Errorf("seed %d: %s %.3f s, want %.3f s", seed, im.Name, cost, least)
			}
			if got != given {
				others++
			}
		}
		if others == 0 {
			t.Errorf("%s: always the place that was given", im.Name)
		}
	}
}

// A round along which the set fits nowhere is not driven.
func TestRoundWithoutStretches(t *testing.T) {
	if got := new(circuit).begun(start{}); len(got) > 0 {
		t.Errorf("%d stretches", len(got))
	}
}
