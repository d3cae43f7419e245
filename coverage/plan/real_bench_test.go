package plan

import (
	"testing"
)

func TestRealBest(t *testing.T) {
	fields := realFields(t)
	inf, turns, extra := 0, 0, 0
	for i, f := range fields {
		r, err := Best(t.Context(), f, mounted(6), Options{Speed: 8}, Objective{})
		if err != nil {
			t.Errorf("field %d: %v", i, err)
			continue
		}
		inf += len(r.Candidate.Infeasible)
		turns += r.Candidate.Turns
		if r.Candidate.Rounds > 2 {
			extra++
		}
	}
	t.Log(inf, turns, extra)
}
