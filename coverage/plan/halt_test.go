package plan

import (
	"math"
	"reflect"
	"testing"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// TestStopped stops the search of some fields at its first question, at its last one, and between.
//
//  1. Asked and never stopped, the plans are those of a search that nobody asks, and unmarked.
//  2. Stopped at any question there is a plan, marked, judged by the engine: its ground adds up, and its passes are driven.
//  3. It is never better than that of the whole search, and at the last question it is that.
//  4. It is not asked twice once it was stopped.
func TestStopped(t *testing.T) {
	for _, c := range []struct {
		what  string
		field []plane.Polygon
		im    rig.Implement
		opt   Options
	}{
		{"an obstacle and a reflex corner, trailed", twentyHectares, trailed(9), Options{Speed: 8}},
		{"rounds and direction given", twentyHectares, mounted(8), Options{Speed: 8, Rounds: 2, Fixed: true, Heading: 0.3}},
		{"along the longest edge", twentyHectares, mounted(8), Options{Speed: 8, AlongLongest: true}},
	} {
		compared := func(stop int) (Candidate, int) {
			asked := 0
			o := c.opt
			o.Stop = func() func() bool {
				return func() bool { asked++; return asked > stop }
			}
			all, err := Compare(t.Context(), c.field, []rig.Implement{c.im}, o, Objective{})
			if err != nil {
				t.Fatalf("%s: %v", c.what, err)
			}
			return all[0].Candidate, asked
		}
		whole, err := Compare(t.Context(), c.field, []rig.Implement{c.im}, c.opt, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		want := whole[0].Candidate
		got, questions := compared(math.MaxInt)
		if !reflect.DeepEqual(got, want) || got.Stopped {
			t.Errorf("%s: asked and never stopped, the plan takes %g h, marked %v; %g h without", c.what, got.Value, got.Stopped, want.Value)
		}
		for _, n := range []int{0, 1, 2, 8, questions / 50, questions / 4, questions / 2, questions - 1} {
			got, asked := compared(n)
			if asked != n+1 || !got.Stopped || got.Passes == 0 || len(got.Sensitivity) != 1 {
				t.Errorf("%s: stopped after %d questions: %d asked, marked %v, %d passes, %d asked beside", c.what, n, asked, got.Stopped, got.Passes, len(got.Sensitivity))
			}
			if v := (Objective{}).of(got); v != got.Value || got.Value < want.Value || n == questions-1 && v != want.Value || got.Missed > 0.2*got.Field || got.Gap <= 0 {
				t.Errorf("%s: stopped after %d of %d questions: %g h (its parts: %g), %g h at the end; %g m² missed", c.what, n, questions, got.Value, v, want.Value, got.Missed)
			}
		}
	}
}

// TestSpent: a search that has tried as many ways as it may is stopped, marked so, and gives the same plan each time; one that may try more than it needs is that
// of a search without a limit.
func TestSpent(t *testing.T) {
	compared := func(tried int) Candidate {
		all, err := Compare(t.Context(), twentyHectares, []rig.Implement{mounted(8)}, Options{Speed: 8, tried: tried}, Objective{})
		if err != nil {
			t.Fatal(err)
		}
		return all[0].Candidate
	}
	whole := compared(0)
	if whole.Stopped || whole.Spent || !reflect.DeepEqual(compared(1<<40), whole) {
		t.Errorf("nothing to stop: marked %v, %v", whole.Stopped, whole.Spent)
	}
	for _, most := range []int{1, 1000} {
		got := compared(most)
		if !got.Stopped || !got.Spent || got.Passes == 0 || len(got.Sensitivity) != 1 || got.Value < whole.Value || got.Gap <= 0 {
			t.Errorf("%d ways: marked %v, %v, %d passes, %d asked beside, %g h for %g, gap %g", most, got.Stopped, got.Spent, got.Passes, len(got.Sensitivity), got.Value, whole.Value, got.Gap)
		}
		if again := compared(most); !reflect.DeepEqual(got, again) {
			t.Errorf("%d ways: another plan the second time", most)
		}
	}
	var h halt
	dense := make(plane.Ring, 4*usualCorners)
	h.count([]plane.Polygon{{dense}}, Options{}, nil)
	if h.most != mostTried/4 {
		t.Errorf("four times the corners: %d ways, want %d", h.most, mostTried/4)
	}
}
