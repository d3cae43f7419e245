package plan

import (
	"context"
	"math"
	"testing"

	"balk/coverage/turn"
	"balk/geo/plane"
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
	if s, err = s.cornered(t.Context(), byCorner, false, false, midway); err != nil {
		t.Fatal(err)
	}
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

// A set with a drawbar of 4 m whose bar stands where a round begins to bend has its rear axle 6.2 m farther on. There it can bend no sooner than that, so at a square corner its
// way is 6.2 m nearer to the boundary than the round at 7.5 m: 1.3 m, less than half its tractor and what its nose swings out by, √((7 + 1.25)² + 3.8²) − (7 + 1.25) = 0.8 m. A
// round that the set has to get away from begins elsewhere.
func TestRoundIsLeft(t *testing.T) {
	s, err := surveyOf(t.Context(), box(80, 60), trailed(5), Options{Speed: 8, Rounds: 2})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.roundsAndCorridors(t.Context()); err != nil {
		t.Fatal(err)
	}
	var starts []start
	for _, x := range []float64{80 - 7.5 - 7 - 0.2, 40} {
		side, at, away := nearestOn(s.parts[0].loops[0].ring, plane.XY{X: x, Y: 7.5})
		if away > hair {
			t.Fatalf("round 2 is %g m from %g, 7.5", away, x)
		}
		starts = append(starts, start{side: side, at: at})
	}
	d := &drawing{survey: s, plan: new(Plan)}
	for _, l := range s.parts[0].loops {
		got, err := d.left(l, starts)
		if err != nil {
			t.Fatal(err)
		}
		if want := map[int]int{1: 2, 2: 1}[l.round]; len(got) != want {
			t.Errorf("round %d: %d of two places stay, want %d", l.round, len(got), want)
		}
	}
}

// Where a way on from a done round does not fit at once, the set goes on along it until one does; what that takes is the way along the round and the way from there.
func TestOnAlongARound(t *testing.T) {
	field := box(200, 120)
	s, err := surveyOf(context.Background(), field, mounted(6), Options{Speed: 8, Rounds: 2})
	if err != nil {
		t.Fatal(err)
	}
	ring := []plane.XY{{X: 20, Y: 9}, {X: 180, Y: 9}, {X: 180, Y: 111}, {X: 20, Y: 111}, {X: 20, Y: 9}}
	p := Plan{Passes: []Pass{{Round: 2, Line: ring, Length: plane.Length(ring)}}}
	at := ring[0]
	d := &drawing{survey: s, plan: &p, at: &at, inWork: true}
	asked := 0
	from := 25.0 // m along the round, from where on there is a way
	m, cut, which, err := d.sooner(func(d *drawing) (Move, error) {
		asked++
		if d.at.X-ring[0].X < from {
			return Move{Kind: Run, Seconds: 5, Fault: &Fault{Why: "no room"}}, nil
		}
		e := s.turner.slimmest()
		return e.moveAlong(Run, turn.Path{From: e.axle(*d.at, d.heading), Pieces: []turn.Arc{{Length: 10}}, Kind: turn.Forward})
	})
	if err != nil {
		t.Fatal(err)
	}
	step := onStep * s.turner.steer.Radius
	want := math.Ceil(from/step)*step + 10
	if m.Fault != nil || cut != 0 || which != asked-1 || math.Abs(m.Length-want) > 1e-6 {
		t.Errorf("%g m after %d searches, of which number %d was taken, fault %v, cut %g m: want %g m, the last one", m.Length, asked, which, m.Fault, cut, want)
	}
}
