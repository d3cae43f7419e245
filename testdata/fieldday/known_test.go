package fieldday

import (
	"bytes"
	"math"
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/pattern"
	"balk/testdata/check"
)

// TestKnownTold: what is wanted and said is found; what is said beside it, by another figure, or twice, is told falsely.
func TestKnownTold(t *testing.T) {
	k := Known{Want: map[pattern.Kind]float64{pattern.Late: 2, pattern.Fan: 6e-4}, Within: 0.25}
	late, fan := pattern.Pattern{Kind: pattern.Late, By: 2.4}, pattern.Pattern{Kind: pattern.Fan, By: 5e-4}
	far, aside := pattern.Pattern{Kind: pattern.Late, By: 2.6}, pattern.Pattern{Kind: pattern.Aside, By: 0.1}
	for _, c := range []struct {
		name           string
		said           []pattern.Pattern
		found, falsely bool
	}{
		{"both", []pattern.Pattern{fan, late}, true, false},
		{"one", []pattern.Pattern{late}, false, false},
		{"none", nil, false, false},
		{"one more", []pattern.Pattern{fan, late, aside}, true, true},
		{"one twice", []pattern.Pattern{fan, late, late}, true, true},
		{"too far off", []pattern.Pattern{fan, far}, false, true},
	} {
		if found, falsely := k.Told(c.said); found != c.found || falsely != c.falsely {
			t.Errorf("%s: found %t, falsely %t", c.name, found, falsely)
		}
	}
	r := coverage.Result{Strips: []coverage.Strip{{Number: 1, Area: 10}, {Number: 2, Area: 4}}}
	r.Patterns = []pattern.Pattern{{Strips: []int{1, 2}, Ground: []float64{6, 4}}, {Strips: []int{1}, Ground: []float64{4}}}
	if n := twice(r); n != 0 {
		t.Errorf("%d strips told twice", n)
	}
	if r.Patterns[1].Ground[0] = 5; twice(r) != 1 {
		t.Error("ground told twice is not seen")
	}
	var b bytes.Buffer // a fault that is not told shows in the table
	if err := KnownTable(&b, func(s Situation) []Outcome {
		if s.Name != "late in the north" {
			return nil
		}
		return []Outcome{{Seed: 7}, {Seed: 8, Patterns: []pattern.Pattern{{Kind: pattern.Late, By: lateBy}}}}
	}); err != nil {
		t.Fatal(err)
	}
	if want := "| late in the north | 2 | lowered late 1.9 | 50.0 % | 0.0 % | 0 | nothing (7) | found |\n"; !strings.Contains(b.String(), want) {
		t.Errorf("%s\nwant %s", b.String(), want)
	}
}

// TestLifts: a bar lifted anywhere leaves its width by the length of the lift, each time, less what lies on the same ground.
func TestLifts(t *testing.T) {
	seed := check.Seed(t)
	const lifts = 14
	areas := map[string]float64{}
	for name, how := range map[string]Driving{"none": {}, "lifted": {Lifts: lifts, LiftOver: late}, "late": {Late: late}} {
		day, err := Drive(how, seed)
		if err != nil {
			t.Fatal(err)
		}
		areas[name] = day.area
	}
	left, want := areas["lifted"]-areas["none"], lifts*late*(6-overlap)
	if math.Abs(left/want-1) > 0.2 { // ends of lifts lie between two ticks, and lifts may lie on each other, or where rounds lap
		t.Errorf("lifted: %.0f m² more, want %.0f", left, want)
	}
	if of := left / (areas["late"] - areas["none"]); of < 0.7 || of > 1.6 {
		t.Errorf("lifts leave %.2f times what rows begun late do", of)
	}
}
