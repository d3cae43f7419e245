package plan

import (
	"slices"
	"testing"

	"balk/geo/plane"
)

// dumbbell is two squares of 120 m with a lane of 16 m between them.
var dumbbell = []plane.Polygon{{{
	{X: 0, Y: 0}, {X: 120, Y: 0}, {X: 120, Y: 52}, {X: 200, Y: 52}, {X: 200, Y: 0}, {X: 320, Y: 0},
	{X: 320, Y: 120}, {X: 200, Y: 120}, {X: 200, Y: 68}, {X: 120, Y: 68}, {X: 120, Y: 120}, {X: 0, Y: 120},
}}}

// TestRoundsLobeByLobe: of a field in two lobes the rounds of one are all driven before those of the other, and the round about both
// last: a round comes when those inside it are done, wherever the rows end.
func TestRoundsLobeByLobe(t *testing.T) {
	for _, heading := range []float64{0, 0.4, 1.5, 2.5} {
		p, _ := laid(t, dumbbell, mounted(6), Options{Speed: 8, Rounds: 3, Heading: headingOf(heading * 57)})
		var lobes []int // of each round inside the round about both: 1, 2
		for i, one := range p.Passes {
			if one.Round == 1 && slices.ContainsFunc(p.Passes[i+1:], func(o Pass) bool { return o.Round > 1 }) {
				t.Errorf("heading %g: the outermost round is pass %d of %d: want it after all others", heading, one.Number, len(p.Passes))
			}
			if one.Round > 1 && one.Stretch <= 1 {
				lobe := 1
				if one.Line[0].X > 160 {
					lobe = 2
				}
				lobes = append(lobes, lobe)
			}
		}
		changes := 0
		for i := 1; i < len(lobes); i++ {
			if lobes[i] != lobes[i-1] {
				changes++
			}
		}
		if len(lobes) != 4 || changes != 1 {
			t.Errorf("heading %g: rounds lie in lobes %v: want two in one, then two in the other", heading, lobes)
		}
	}
}

// TestHeadlandFirst: with the headland first its rounds come before all rows, the outer ones before those inside them, and as much is worked; with it last what
// turns press is cut afterwards, so that tyres run over less cut ground. The pole's rounds come first as well.
func TestHeadlandFirst(t *testing.T) {
	im := mounted(6)
	im.Tractor.Track, im.Tractor.Tyre = 1.8, 0.5
	for name, field := range map[string][]plane.Polygon{"two lobes": dumbbell, "a pole": {{rectangle(0, 0, 300, 200), hole(140, 90, 160, 110)}}} {
		last, l := laid(t, field, im, Options{Speed: 8, Rounds: 2, Heading: headingOf(30)})
		first, f := laid(t, field, im, Options{Speed: 8, Rounds: 2, Heading: headingOf(30), HeadlandFirst: true})
		row, round := false, 0
		for _, one := range first.Passes {
			switch row = row || one.Round == 0; {
			case row && one.Round > 0:
				t.Errorf("%s: round %d is pass %d, after a row", name, one.Round, one.Number)
			case one.Round > 0:
				round = one.Round
			}
		}
		if round != 2 || first.Passes[0].Round != 1 {
			t.Errorf("%s: rounds go from %d to %d, want from 1 to 2", name, first.Passes[0].Round, round)
		}
		if len(first.Passes) != len(last.Passes) || f.Missed > l.Missed+0.01*f.Field || f.Missed < l.Missed-0.01*f.Field {
			t.Errorf("%s: %d passes, %.0f m² missed; last: %d passes, %.0f m²", name, len(first.Passes), f.Missed, len(last.Passes), l.Missed)
		}
		under := func(p Plan) float64 {
			m2, err := p.trodden()
			if err != nil {
				t.Fatal(err)
			}
			return m2
		}
		if a, b := under(first), under(last); !(a > 2*b) {
			t.Errorf("%s: %.0f m² under tyres with the headland first, %.0f m² with it last", name, a, b)
		}
	}
}

// TestObstacleOnTheWay: rounds about a pole in the middle of a field are driven between its rows, and no set runs back to them over
// finished ground.
func TestObstacleOnTheWay(t *testing.T) {
	field := []plane.Polygon{{rectangle(0, 0, 500, 400), hole(240, 190, 260, 210)}}
	p, c := laid(t, field, mounted(6), Options{Speed: 8, Rounds: 2})
	first, last := -1, -1 // pass about the pole, and in rows
	for i, one := range p.Passes {
		if one.Round == 0 {
			last = i
		} else if first < 0 && (plane.Ring(one.Line)).Bounds().Max.X < 400 {
			first = i
		}
	}
	if first < 0 || first > last {
		t.Errorf("rounds about the pole begin with pass %d, rows end with pass %d: want them between", first+1, last+1)
	}
	if c.Idle.Metres > 600 {
		t.Errorf("%g m run with the tool lifted", c.Idle.Metres)
	}
}

// TestEnteredGently: a long nose has no room to swing out into a round along a straight boundary on the least radius. On a gentle bend
// it has.
func TestEnteredGently(t *testing.T) {
	im := mounted(3)
	im.Tractor.Ahead = 4.3
	im.Turning.ReverseSpeed = 0
	p, c := laid(t, box(300, 200), im, Options{Speed: 8, Rounds: 4})
	for i, one := range p.Passes {
		if m := p.Moves[i]; one.Round > 0 && m.Fault != nil {
			t.Errorf("into round %d: %s", one.Round, m.Fault.Why)
		}
	}
	if len(c.Infeasible) > 1 {
		t.Errorf("%d turns and runs do not fit", len(c.Infeasible))
	}
}
