package plan

import (
	"fmt"
	"testing"
)

func TestFaults(t *testing.T) {
	fields := realFields(t)
	for _, i := range []int{6, 7, 8, 27, 42} {
		s, err := surveyOf(t.Context(), fields[i], mounted(6), Options{Speed: 8})
		if err != nil {
			t.Fatal(err)
		}
		cur, err := s.curve(t.Context(), Objective{})
		hs := finalists(cur)
		p, err := Lay(t.Context(), fields[i], mounted(6), Options{Speed: 8, Heading: hs[0]})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("field %d dirs %d pitch %g rounds %d", i, len(cur), s.sweep.pitch, s.rounds)
		for k, m := range p.Moves {
			if m.Fault != nil {
				a, b := p.Passes[k-1], p.Passes[k]
				e, q := a.Line[len(a.Line)-1], b.Line[0]
				fr := frameAt(e, a.Heading)
				g := fr.to(q)
				t.Log(fmt.Sprintf("%d block %d %s at %.0f,%.0f d %.1f stagger %.1f len %.1f->%.1f", k, b.Block, m.Fault.Why, m.Fault.At.X, m.Fault.At.Y, g.Y, g.X, a.Length, b.Length))
			}
		}
	}
}
