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
