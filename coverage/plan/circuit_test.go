package plan

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// TestRoundsCanBeDriven: rounds of fields with sharp corners, arms, reflex corners and obstacles bend nowhere tighter than the
// set can steer, whether it may reverse or not; the bar stays in the field, and what does not fit is counted where it is drawn.
func TestRoundsCanBeDriven(t *testing.T) {
	fields := append([]struct {
		name  string
		field []plane.Polygon
	}{
		{"sharp corner of 25°", []plane.Polygon{{{{X: 0, Y: 0}, {X: 300, Y: 0}, {X: 300, Y: 140}}}}},
		{"pole", []plane.Polygon{{rectangle(0, 0, 200, 150), hole(90, 70, 91, 71)}}},
		{"thin fence", []plane.Polygon{{rectangle(0, 0, 200, 150), hole(60, 70, 140, 70.5)}}},
		{"arm 9 m wide", []plane.Polygon{{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 120}, {X: 109, Y: 120}, {X: 109, Y: 220}, {X: 100, Y: 220}, {X: 100, Y: 120}, {X: 0, Y: 120}}}}},
		{"saw", []plane.Polygon{{{{X: 0, Y: 0}, {X: 200, Y: 0}, {X: 200, Y: 100}, {X: 160, Y: 130}, {X: 140, Y: 100}, {X: 100, Y: 130}, {X: 80, Y: 100}, {X: 40, Y: 130}, {X: 0, Y: 100}}}}},
	}, shapes...)
	for _, c := range fields {
		for _, im := range []rig.Implement{mounted(3), mounted(6), mounted(9), trailed(6)} {
			t.Run(fmt.Sprintf("%s, %s %g m", c.name, im.Name, im.Width), func(t *testing.T) {
				p, got := laid(t, c.field, im, Options{Speed: 8})
				faults := 0
				for _, m := range p.Moves {
					if m.Fault != nil {
						faults++
					}
				}
				if faults != len(got.Infeasible) {
					t.Errorf("%d moves do not fit, %d are counted", faults, len(got.Infeasible))
				}
				rings, stretches := 0, 0
				for _, one := range p.Passes {
					checkBends(t, one, im.TurnRadius())
					if one.Round > 0 && one.Stretch <= 1 {
						rings++
					}
					if one.Round > 0 && one.Stretch == 0 && one.Line[0] != one.Line[len(one.Line)-1] {
						t.Errorf("round %d: not closed", one.Round)
					}
					if one.Stretch > 0 {
						stretches++
					}
				}
				if rings != got.Loops || stretches != got.Stretches {
					t.Errorf("%d rounds in %d stretches, counted %d in %d", rings, stretches, got.Loops, got.Stretches)
				}
				if got.Outside > 1e-3*got.Field {
					t.Errorf("worked %g m² outside", got.Outside)
				}
				checkSums(t, p, got)
				checkWays(t, p)
			})
		}
	}
}

// TestRoundAPole: round a pole the set goes on its least radius, and what lies inside the bar's inner end is missed: a disc of
// radius 1.02·6 − 3 m (the plan keeps 2 % off the least radius), and the corners as without it. With two rounds all turns of the rows fit; with
// one some rows end early, and the rest is told from how often the round is broken.
func TestRoundAPole(t *testing.T) {
	field := []plane.Polygon{{rectangle(0, 0, 200, 150), hole(90, 70, 90.2, 70.2)}}
	_, with := laid(t, field, mounted(6), Options{Speed: 8, Rounds: 2})
	_, without := laid(t, box(200, 150), mounted(6), Options{Speed: 8, Rounds: 2})
	inner := runBend*6 - 3
	want := math.Pi*inner*inner - 0.04
	if more := with.Missed - without.Missed; math.Abs(more-want) > 0.1 || len(with.Infeasible) > 0 {
		t.Errorf("missed %.2f m² more than without the pole: want %.2f m²", more, want)
	}
	if _, one := laid(t, field, mounted(6), Options{Speed: 8, Rounds: 1}); one.Stretches > 0 {
		t.Errorf("the round about the pole is driven in %d stretches", one.Stretches)
	}
}

// TestSharpCornerIsDrivenOut: in a corner of 25° a set that may reverse drives each side out and turns; what it misses there is less
// than what a bend on the least radius leaves, (tan(θ/2) − θ/2)·(r + w/2)² with θ the turn of 155° (own arithmetic).
func TestSharpCornerIsDrivenOut(t *testing.T) {
	field := []plane.Polygon{{{{X: 0, Y: 0}, {X: 300, Y: 0}, {X: 300, Y: 140}}}}
	p, c := laid(t, field, mounted(6), Options{Speed: 8})
	if c.Stretches == 0 || len(c.Infeasible) > 1 { // out of the corner from one round into the next it may not get
		t.Errorf("%d stretches, moves that do not fit %+v: want stretches, and one at most", c.Stretches, c.Infeasible)
	}
	theta := math.Pi - math.Atan2(140, 300)
	bent := (math.Tan(theta/2) - theta/2) * 81
	near := 0.0
	for _, one := range p.Passes {
		for i := 1; i < len(one.Line); i++ {
			near = max(near, 60-one.Line[i].Len())
		}
	}
	if c.Missed > bent || c.Missed < 10 {
		t.Errorf("missed %.1f m² in all, a bend alone leaves %.1f m²", c.Missed, bent)
	}
	if near < 30 {
		t.Errorf("no stretch comes nearer to the corner than %.1f m", 60-near)
	}
}

// TestBendsInAnArmAreEased: a strip 14 m wide with two kinks of 35° is too narrow for an opening by 6 m. Its kinks are eased all the
// same, so that the round is cut at its two ends only: two stretches, each the strip's length less what the ends take, and across
// the ends two shorter ones at most.
func TestBendsInAnArmAreEased(t *testing.T) {
	const wide, leg, kink = 14.0, 120.0, 35 * math.Pi / 180
	sin, cos := math.Sincos(kink)
	lean := wide * math.Tan(kink/2) // where the sides of two legs meet, beside the middle
	field := []plane.Polygon{{{
		{X: 0, Y: 0}, {X: leg, Y: 0}, {X: leg + leg*cos, Y: leg * sin}, {X: 2*leg + leg*cos, Y: leg * sin},
		{X: 2*leg + leg*cos, Y: leg*sin + wide}, {X: leg + leg*cos - lean, Y: leg*sin + wide}, {X: leg - lean, Y: wide}, {X: 0, Y: wide},
	}}}
	p, c := laid(t, field, mounted(6), Options{Speed: 8, Rounds: 1})
	long := 0
	for _, one := range p.Passes {
		checkBends(t, one, 6)
		if one.Round == 0 {
			continue
		}
		if one.Length > 2*leg {
			long++
		} else if one.Length > wide {
			t.Errorf("stretch %d of %.0f m: want most of %.0f m, or less than %.0f m across an end", one.Stretch, one.Length, 3*leg, wide)
		}
	}
	if c.Loops != 1 || c.Stretches < 2 || c.Stretches > 4 || long != 2 {
		t.Errorf("%d rounds in %d stretches, %d of them along the strip: want one in two to four, two of them along it", c.Loops, c.Stretches, long)
	}
}

// TestAlongAndBetween: places and headings on a line with a right angle, and parts of it.
//
//	      ╷ 16
//	      │
//	──────┘
//	0    10
func TestAlongAndBetween(t *testing.T) {
	line := []plane.XY{{X: 0, Y: 0}, {X: 10, Y: 0}, {X: 10, Y: 6}}
	for _, c := range []struct {
		name   string
		far    float64
		before bool
		want   plane.XY
		h      float64
	}{
		{"the beginning", 0, false, plane.XY{}, 0},
		{"the beginning, seen from before", 0, true, plane.XY{}, 0},
		{"on the first side", 4, false, plane.XY{X: 4}, 0},
		{"the corner, on from it", 10, false, plane.XY{X: 10}, math.Pi / 2},
		{"the corner, up to it", 10, true, plane.XY{X: 10}, 0},
		{"on the second side", 13, true, plane.XY{X: 10, Y: 3}, math.Pi / 2},
		{"the end", 16, false, plane.XY{X: 10, Y: 6}, math.Pi / 2},
		{"beyond the end", 20, false, plane.XY{X: 10, Y: 6}, math.Pi / 2},
	} {
		if at, h := along(line, c.far, c.before); at.Dist(c.want) > 1e-9 || math.Abs(float64(h)-c.h) > 1e-9 {
			t.Errorf("%s: %v, heading %g; want %v, %g", c.name, at, float64(h), c.want, c.h)
		}
	}
	for _, c := range []struct {
		name     string
		from, to float64
		want     []plane.XY
	}{
		{"all of it", 0, 16, line},
		{"over the corner", 4, 12, []plane.XY{{X: 4}, {X: 10}, {X: 10, Y: 2}}},
		{"up to the corner", 4, 10, []plane.XY{{X: 4}, {X: 10}}},
		{"from the corner on", 10, 13, []plane.XY{{X: 10}, {X: 10, Y: 3}}},
		{"on the second side", 11, 13, []plane.XY{{X: 10, Y: 1}, {X: 10, Y: 3}}},
	} {
		if got := between(line, c.from, c.to); !slices.EqualFunc(got, c.want, func(a, b plane.XY) bool { return a.Dist(b) < 1e-9 }) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// TestStretchesOfARing: a ring of eight corners cut at two bends, over its beginning too, and at a single one; the other way round they
// are the same, each backwards.
func TestStretchesOfARing(t *testing.T) {
	// These bends have no angle, so that nothing goes on beyond them.
	var ring plane.Ring
	for k := range 8 {
		ring = append(ring, plane.XY{X: float64(k)})
	}
	for _, c := range []struct {
		name string
		cuts []bend
		want [][]int
	}{
		{"two bends", []bend{{from: 1, to: 2}, {from: 5, to: 6}}, [][]int{{2, 3, 4, 5}, {6, 7, 0, 1}}},
		{"a bend over the beginning", []bend{{from: 7, to: 9}, {from: 12, to: 12}}, [][]int{{1, 2, 3, 4}, {4, 5, 6, 7}}},
		{"one sharp corner", []bend{{from: 3, to: 3}}, [][]int{{3, 4, 5, 6, 7, 0, 1, 2, 3}}},
		{"one rounded corner", []bend{{from: 3, to: 5}}, [][]int{{5, 6, 7, 0, 1, 2, 3}}},
	} {
		for _, back := range []bool{false, true} {
			var got [][]int
			for _, one := range (&survey{turner: new(turner)}).stretchesOf(loop{ring: ring, cuts: c.cuts}, back) {
				var places []int
				for _, p := range one.line {
					places = append(places, int(p.X))
				}
				got = append(got, places)
			}
			want := slices.Clone(c.want)
			if back {
				slices.Reverse(want)
				for i := range want {
					want[i] = slices.Clone(want[i])
					slices.Reverse(want[i])
				}
			}
			if !slices.EqualFunc(got, want, func(a, b []int) bool { return slices.Equal(a, b) }) {
				t.Errorf("%s, the other way round %v: %v, want %v", c.name, back, got, want)
			}
		}
	}
}

// TestGroundBesideRounds: what rounds of 6 m leave is worked if it is 36 m² at least and holds a circle of a tenth of the width; an arm
// too narrow for a round is, corners of the field that no ring comes to are not.
func TestGroundBesideRounds(t *testing.T) {
	arm := plane.Polygon{{{X: 0, Y: 0}, {X: 40, Y: 0}, {X: 40, Y: 7}, {X: 70, Y: 7}, {X: 70, Y: 12.5}, {X: 40, Y: 12.5}, {X: 40, Y: 20}, {X: 0, Y: 20}}}
	for _, c := range []struct {
		name string
		part plane.Polygon
		ring []plane.Polygon
		k    int
		want float64 // m²
	}{
		{"all of it, as nothing is a round", box(10, 6)[0], nil, 1, 60},
		{"less than a square of the width", box(5.9, 6)[0], nil, 1, 0},
		{"a little more", box(6.1, 6)[0], nil, 1, 36.6},
		{"long, and narrower than a 25th of the width", box(400, 0.2)[0], nil, 1, 0},
		{"long, and a little broader", box(400, 0.3)[0], nil, 1, 120},
		{"inside the first round", box(20, 24)[0], nil, 2, 96},
		{"nothing inside the second", box(20, 24)[0], nil, 3, 0},
		{"an arm", arm, []plane.Polygon{{rectangle(3, 3, 37, 17)}}, 1, 30 * 5.5},
		{"nothing but the field's corners", box(40, 20)[0], []plane.Polygon{{rectangle(3, 3, 37, 17)}}, 1, 0},
	} {
		got, err := besides(t.Context(), c.part, c.ring, c.k, 6)
		if err != nil {
			t.Fatal(err)
		}
		if a := areaOf(got); math.Abs(a-c.want) > 0.1 {
			t.Errorf("%s: %.2f m², want %g", c.name, a, c.want)
		}
	}
}

// TestTightBends: of a field of 60 by 40 m with one corner rounded, wherever its ring begins: for a set that turns on 6 m. A right angle
// rounded on q metres is left by (6 − q)·(√2 − 1); a decimetre is told of.
func TestTightBends(t *testing.T) {
	turning := func(n int, step float64) plane.Ring { // n corners so far apart
		bend := []plane.XY{{}}
		for k := 1; k < n; k++ {
			sin, cos := math.Sincos((90 + 90*float64(k)/float64(n)) * math.Pi / 180)
			bend = append(bend, bend[k-1].Add(plane.XY{X: cos, Y: sin}.Scale(step)))
		}
		ring := plane.Ring{{X: 0, Y: 0}, {X: 60, Y: 0}}
		for _, p := range bend {
			ring = append(ring, p.Add(plane.XY{X: 60, Y: 40 - bend[n-1].Y}))
		}
		return append(ring, plane.XY{X: 0, Y: 40})
	}
	rounded := func(q float64, n int) plane.Ring { // its sides touch the circle
		return turning(n, 2*q*math.Tan(math.Pi/4/float64(n)))
	}
	arc := plane.Ring{{X: 0, Y: 0}, {X: 60, Y: 0}} // from a right angle on, and to another one
	for k := 1; k <= 12; k++ {
		sin, cos := math.Sincos(float64(90+5*k) * math.Pi / 180)
		arc = append(arc, arc[k].Add(plane.XY{X: cos, Y: sin}.Scale(2.5)))
	}
	for _, c := range []struct {
		name    string
		ring    plane.Ring
		sharp   int     // corners
		rounded float64 // degrees of a bend of more than one corner; 0: none
	}{
		{"sharp corners", plane.Ring(rectangle(0, 0, 60, 40)), 4, 0},
		{"one rounded on 4 m", rounded(4, 90), 3, 90},
		{"one rounded on 5.7 m: left by 12 cm", rounded(5.7, 90), 3, 90},
		{"one rounded on 5.8 m: left by 8 cm", rounded(5.8, 90), 3, 0},
		{"one rounded on 7 m", rounded(7, 90), 3, 0},
		{"one rounded on 6.1 m, in corners of 9°", rounded(6.1, 10), 3, 0},
		{"four corners of 22.5°, 2.99 m apart: on 5.71 m", turning(4, 2.99), 3, 90},
		{"one cut by 2 m: two corners of 45° near each other", plane.Ring{{X: 0, Y: 0}, {X: 60, Y: 0}, {X: 60, Y: 38}, {X: 58, Y: 40}, {X: 0, Y: 40}}, 3, 90},
		{"one cut by 4 m: two corners of 45° apart", plane.Ring{{X: 0, Y: 0}, {X: 60, Y: 0}, {X: 60, Y: 36}, {X: 56, Y: 40}, {X: 0, Y: 40}}, 5, 0},
		{"an arc of 29 m radius between two corners", arc, 3, 0},
		{"a step of 1 m: left, then right", plane.Ring{{X: 0, Y: 0}, {X: 60, Y: 0}, {X: 60, Y: 40}, {X: 30, Y: 40}, {X: 30, Y: 39}, {X: 0, Y: 39}}, 6, 0},
	} {
		for shift := range len(c.ring) {
			sharp, bend := 0, 0.0
			for _, b := range tightBends(slices.Concat(c.ring[shift:], c.ring[:shift]), 6) {
				if b.to == b.from {
					sharp++
				} else {
					bend += b.theta * 180 / math.Pi
				}
			}
			if sharp != c.sharp || math.Abs(bend-c.rounded) > 1e-9 {
				t.Errorf("%s, ring from corner %d: %d corners and a bend of %g°, want %d and %g°", c.name, shift, sharp, bend, c.sharp, c.rounded)
			}
		}
	}
}
