package plan

import (
	"math"
	"slices"
	"strings"
	"testing"

	"balk/geo/plane"
)

// The passes of a plan in their own order are the plan again; driven from the last to the first, each the other way, they
// are the same work, and every move can be driven. Corners are rounded here: a stretch that begins backed into a corner cannot end there.
func TestReordered(t *testing.T) {
	for name, field := range map[string][]plane.Polygon{
		"rectangle":          box(200, 150),
		"around an obstacle": {{rectangle(0, 0, 220, 180), hole(90, 70, 120, 100)}},
	} {
		t.Run(name, func(t *testing.T) {
			p, c := laid(t, field, mounted(6), Options{Heading: 0.3, Rounds: 3, Speed: 8, MissedHours: 0.01})
			again, err := p.Reordered(t.Context(), p.Passes)
			if err != nil {
				t.Fatal(err)
			}
			for i, m := range again.Moves {
				if m.Kind != p.Moves[i].Kind || math.Abs(m.Length-p.Moves[i].Length) > 1e-6 || math.Abs(m.Seconds-p.Moves[i].Seconds) > 1e-6 {
					t.Errorf("move %d: %s of %g m, was %s of %g m", i, m.Kind, m.Length, p.Moves[i].Kind, p.Moves[i].Length)
				}
				if n := len(m.Paths()); (n == 0) != (m.Kind == None) {
					t.Errorf("move %d, %s: %d paths", i, m.Kind, n)
				}
			}
			back := slices.Clone(p.Passes)
			slices.Reverse(back)
			for i := range back {
				back[i].Line = slices.Clone(back[i].Line)
				slices.Reverse(back[i].Line)
			}
			other, err := p.Reordered(t.Context(), back)
			if err != nil {
				t.Fatal(err)
			}
			for i, m := range other.Moves {
				if m.Fault != nil {
					t.Errorf("move %d: %s", i, m.Fault.Why)
				}
			}
			checkWays(t, other)
			d, err := Simulate(t.Context(), other)
			if err != nil {
				t.Fatal(err)
			}
			if apart := d.Missed - c.Missed; apart*apart > 1 || d.Passes != c.Passes || d.Loops != c.Loops {
				t.Errorf("%d passes and %d rounds miss %.2f m², %d and %d missed %.2f m²", d.Passes, d.Loops, d.Missed, c.Passes, c.Loops, c.Missed)
			}
			if other.Passes[0].Number != 1 || p.Passes[0].Line[0] == other.Passes[0].Line[0] {
				t.Error("the order did not change")
			}
		})
	}
	p, _ := laid(t, box(100, 80), mounted(6), Options{Rounds: 2, Speed: 8})
	for want, one := range map[string]Pass{
		"must be a line of two places":    {Line: []plane.XY{{X: 1}}},
		"each apart from the next":        {Line: []plane.XY{{X: 1}, {X: 1}, {X: 2}}},
		"part 1: must be from 0 to 0":     {Part: 1, Line: []plane.XY{{X: 1}, {X: 2}}},
		"pass 1 of 1, part -1: must be f": {Part: -1, Line: []plane.XY{{X: 1}, {X: 2}}},
	} {
		if _, err := p.Reordered(t.Context(), []Pass{one}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v, want %q", one, err, want)
		}
	}
}
