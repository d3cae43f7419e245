package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// TestRunRoundAnObstacle: the shortest way past a square is two tangents, two arcs round its corners and a
// straight between them:
//
//	      ╭────────╮         2·(√(D² − r²) + r·θ) + side, with D from the end to the corner and
//	   ╱  ┌────────┐  ╲      θ = atan(10/70) + asin(r/D), which is the direction of the tangent
//	a ╱   └────────┘   ╲ b
func TestRunRoundAnObstacle(t *testing.T) {
	const r, side = 5.0, 20.0
	field := plane.Polygon{box(200, 100)[0][0], hole(90, 40, 90+side, 60)}
	a, b := plane.XY{X: 20, Y: 50}, plane.XY{X: 180, Y: 50}
	c, err := corridorOf(t.Context(), field, r)
	if err != nil {
		t.Fatal(err)
	}
	line := c.run(a, b)
	if line == nil {
		t.Fatal("no way found")
	}
	far := math.Hypot(70, 10)
	want := 2*(math.Sqrt(far*far-r*r)+r*(math.Atan2(10, 70)+math.Asin(r/far))) + side
	if got := plane.Length(line); math.Abs(got-want) > corridorSlack {
		t.Errorf("%g m round the obstacle: want %g m", got, want)
	}
	for _, p := range line[1 : len(line)-1] {
		near := math.Inf(1)
		for _, c := range field[1] {
			near = min(near, p.Dist(c))
		}
		if math.Abs(near-r) > corridorSlack {
			t.Errorf("corner at %v, %g m from the obstacle's: a taut line bends there only, at %g m", p, near, r)
		}
	}
}

// TestRunsThroughTheGate: the set drives straight in through the gate and out again, with bends in between, and the times of all of it add up.
func TestRunsThroughTheGate(t *testing.T) {
	for _, c := range shapes {
		if len(c.field) > 1 {
			continue
		}
		side := c.field[0][0][1].Sub(c.field[0][0][0])
		gate := c.field[0][0][0].Add(side.Scale(0.5))
		noted := gate.Sub(side.Unit().Left().Scale(4)) // a little outside
		p, got := laid(t, c.field, mounted(6), Options{Speed: 8, Heading: 0.2, Gate: &noted})
		first, last := p.Moves[0], p.Moves[len(p.Moves)-1]
		for _, m := range []Move{first, last} {
			if m.Kind != Run || m.Fault != nil || len(m.paths) < 2 {
				t.Errorf("%s: %s over %d paths, %v: want a run that bends", c.name, m.Kind, len(m.paths), m.Fault)
			}
		}
		if from, to := first.Line[0], last.Line[len(last.Line)-1]; from.Dist(gate) > 1e-6 || to.Dist(gate) > 1e-6 {
			t.Errorf("%s: comes in at %v, leaves at %v: want the gate at %v", c.name, from, to, gate)
		}
		seconds := 0.0
		for _, m := range p.Moves {
			seconds += m.Seconds
		}
		if got := (got.Turning.Hours + got.Idle.Hours) * secondsH; math.Abs(got-seconds) > 1e-6*seconds {
			t.Errorf("%s: %g s of turns and runs, the moves take %g s", c.name, got, seconds)
		}
		checkSums(t, p, got)
	}
}

// TestHopsPassByWhatTakesALoop: a pose beside the way that the set could only loop into is left out.
func TestHopsPassByWhatTakesALoop(t *testing.T) {
	tr, err := turnerOf(mounted(6), box(200, 100))
	if err != nil {
		t.Fatal(err)
	}
	at := func(x, y float64, h geo.Heading) turn.Pose { return turn.Pose{At: plane.XY{X: x, Y: y}, Heading: h} }
	paths, err := tr.hops([]turn.Pose{at(50, 50, 0), at(80, 51, math.Pi/2), at(110, 50, 0)})
	if err != nil || len(paths) != 1 || math.Abs(paths[0].Length()-60) > 1e-9 {
		t.Errorf("%d paths, %v: want one of 60 m", len(paths), err)
	}
	if paths, err = tr.hops([]turn.Pose{at(50, 50, 0), at(300, 50, 0)}); err != nil || paths != nil {
		t.Errorf("%d paths out of the field, %v: want none", len(paths), err)
	}
}

// TestWalkedAlongARing: so far along a square's sides either way, and never at a corner.
func TestWalkedAlongARing(t *testing.T) {
	ring := plane.Ring{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 10}, {X: 0, Y: 10}}
	for _, c := range []struct {
		name string
		far  float64
		back bool
		side int
		want plane.XY
	}{
		{"on the same side", 3, false, 0, plane.XY{X: 7, Y: 0}},
		{"round a corner", 8, false, 1, plane.XY{X: 10, Y: 2}},
		{"round two", 18, false, 2, plane.XY{X: 8, Y: 10}},
		{"backwards", 3, true, 0, plane.XY{X: 1, Y: 0}},
		{"backwards round a corner", 6, true, 3, plane.XY{X: 0, Y: 2}},
		{"to a corner: the middle of the next side", 6, false, 1, plane.XY{X: 10, Y: 5}},
		{"once round", 40, false, 0, plane.XY{X: 4, Y: 0}},
	} {
		side, at := walked(ring, 0, plane.XY{X: 4, Y: 0}, c.far, c.back)
		if side != c.side || at.Dist(c.want) > 1e-9 {
			t.Errorf("%s: %v on side %d, want %v on %d", c.name, at, side, c.want, c.side)
		}
	}
}

// TestPlacesOnARing: the middle of its longest side, of two as long the first, and the place on it nearest to another.
func TestPlacesOnARing(t *testing.T) {
	ring := plane.Ring{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 16}, {X: 0, Y: 16}}
	if at := middleOfLongest(ring); at.Dist(plane.XY{X: 10, Y: 8}) > 1e-9 {
		t.Errorf("middle of the longest side at %v, want 10, 8", at)
	}
	if at := middleOfLongest(plane.Ring{{X: 0, Y: 16}, {X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 16.00005}}); at.Dist(plane.XY{Y: 8}) > 1e-9 {
		t.Errorf("of two sides as long but for rounding the middle of %v, want the first", at)
	}
	for _, c := range []struct {
		name string
		p    plane.XY
		side int
		want plane.XY
		away float64
	}{
		{"inside", plane.XY{X: 4, Y: 3}, 0, plane.XY{X: 4}, 3},
		{"outside the second side", plane.XY{X: 12, Y: 9}, 1, plane.XY{X: 10, Y: 9}, 2},
		{"beside the last side", plane.XY{X: 1, Y: 12}, 3, plane.XY{Y: 12}, 1},
		{"off a corner: the first of its sides", plane.XY{X: 13, Y: 20}, 1, plane.XY{X: 10, Y: 16}, 5},
	} {
		if side, at, away := nearestOn(ring, c.p); side != c.side || at.Dist(c.want) > 1e-9 || math.Abs(away-c.away) > 1e-9 {
			t.Errorf("%s: side %d at %v, %g m off; want side %d at %v, %g m", c.name, side, at, away, c.side, c.want, c.away)
		}
	}
}

// TestRunsAreTheShortest: on real fields a run is as short as the shortest over all corners, whatever narrow places there are; with the sides of rims to spare
// looking, one of 12 m past a neck became 200 m.
func TestRunsAreTheShortest(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 0))
	bends := 0
	for n, field := range trial.OnPlanes(t) {
		if n%3 != 0 {
			continue
		}
		for _, part := range field {
			c, err := corridorOf(t.Context(), part, 2.9)
			if err != nil {
				t.Fatal(err)
			}
			for _, piece := range c {
				if len(piece.corners) >= rimsFrom {
					continue
				}
				bare := make([]plane.Corner, len(piece.corners))
				for k, one := range piece.corners {
					bare[k] = plane.Bare(one.At)
				}
				all := plane.NewDetours(bare, piece.sees)
				place := func() plane.XY { // near a rim, where ways are hardest to find
					rim := piece.rims.At(int32(rng.IntN(piece.rims.Len())))
					return rim.At(rng.Float64()).Add(rim.B.Sub(rim.A).Unit().Left().Scale(0.6 * rng.Float64()))
				}
				for range 20 {
					a, b := place(), place()
					want, got := all.Way(a, b), piece.detours.Way(a, b)
					if (want == nil) != (got == nil) || math.Abs(plane.Length(want)-plane.Length(got)) > 0.01 {
						t.Errorf("seed %d, field %d: from %.2f to %.2f %.2f m, want %.2f", seed, n, a, b, plane.Length(got), plane.Length(want))
					}
					bends += max(0, len(want)-2)
				}
			}
		}
	}
	if bends < 1000 {
		t.Errorf("%d bends: the fields say little", bends)
	}
}

// TestNoWayIsInTheField: between two arms of a field that hang together by a strip 1 m wide a set of 6 m finds no room. Its way is then the shortest in the field, by the two
// corners of the strip (plane geometry), and not as the crow flies, 100 m over other ground; it does not fit.
//
//	┌───┐     ┌───┐
//	│ a │     │ b │
//	└───┴─────┴───┘
func TestNoWayIsInTheField(t *testing.T) {
	field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 140, Y: 0}, {X: 140, Y: 100}, {X: 100, Y: 100}, {X: 100, Y: 1}, {X: 40, Y: 1}, {X: 40, Y: 100}, {X: 0, Y: 100}}}}
	s, err := surveyOf(t.Context(), field, mounted(6), Options{Speed: 8, Rounds: 1})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.roundsAndCorridors(t.Context()); err != nil {
		t.Fatal(err)
	}
	at := func(x float64) end {
		p := plane.XY{X: x, Y: 80}
		return end{Pose: s.turner.axle(p, -math.Pi/2), bar: p}
	}
	m, err := s.turner.findRun(s.parts[0].corridors, at(20), at(120))
	if err != nil {
		t.Fatal(err)
	}
	want := 2*math.Hypot(20, 79) + 60
	if m.Fault == nil || math.Abs(m.Length-want) > 2*corridorSlack || math.Abs(m.Seconds-want/s.turner.speed.Turning) > 0.1 {
		t.Errorf("%g m in %g s, fault %v: want %g m, and that it does not fit", m.Length, m.Seconds, m.Fault, want)
	}
}
