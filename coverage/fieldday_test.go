package coverage_test

import (
	"context"
	"testing"

	"balk/testdata/fieldday"
	"balk/testdata/trial"
)

// TestFieldDay holds what Check says of a few simulated logs against what happened. Means and deviations
// over many seeds are in .ci/long.md, which .ci/fieldday counts; a mean of two is let go some deviations off. A log without its noise taken out, row ends half a step off or an estimate without
// extrapolation lie beyond.
func TestFieldDay(t *testing.T) {
	if trial.UnderRaceDetector() || testing.Short() {
		t.Skip("some seconds of driving; what runs at the same time is tested elsewhere")
	}
	const first, seeds = uint64(1), 2 // the same days each time: .ci/fieldday counts others
	type bounds [2]float64
	wanted := map[string]struct {
		logged, best, full bounds  // means of said ÷ true; zero: not looked at
		strips             float64 // at most so many times the true ones
		less               float64 // the best estimate is less than as logged by so much of the true at least
		found              float64 // share of the fault's ground that is listed, at least
	}{
		"exact log, 10 Hz, mounted":                {logged: bounds{0.97, 1.03}, full: bounds{0.75, 1.3}, strips: 1.7},
		"fixed, 1 Hz, mounted":                     {logged: bounds{0.8, 1.4}, best: bounds{0.6, 1.35}, strips: 3},
		"fixed, 5 Hz, mounted":                     {logged: bounds{0.9, 1.1}, best: bounds{0.88, 1.09}, full: bounds{0.5, 1.6}, strips: 2.4},
		"fixed, 2 cm white, 10 Hz, mounted":        {logged: bounds{0.88, 1.16}, best: bounds{0.86, 1.14}, full: bounds{0.4, 1.9}, strips: 3},
		"differential, 1 Hz, mounted":              {logged: bounds{0.8, 6}, less: 0.05},
		"antenna 20 cm right in the file, mounted": {logged: bounds{2, 12}, found: -1},
		"fixed, 1 Hz, trailed":                     {logged: bounds{0.8, 1.2}, best: bounds{0.7, 1.18}, strips: 1.9},
		"fixed, 2 cm white, 5 Hz, trailed":         {logged: bounds{0.9, 1.13}, best: bounds{0.87, 1.13}, full: bounds{0.3, 2}, strips: 1.8},
		"2.5 m late in the north, 1 Hz, mounted":   {logged: bounds{0.72, 1.4}, best: bounds{0.68, 1.4}, full: bounds{0.5, 1.6}, found: 0.57},
		"pass left out, mounted":                   {logged: bounds{0.94, 1.1}, full: bounds{0.94, 1.1}, found: 0.9},
		"curved passes and a pond, 5 Hz, mounted":  {logged: bounds{0.92, 1.1}, best: bounds{0.9, 1.1}, full: bounds{0.93, 1.08}, strips: 2},
	}
	got := map[string][]fieldday.Outcome{}
	held, of, certain, false_ := 0, 0, 0, 0
	for seed := first; seed < first+seeds; seed++ {
		var day *fieldday.Day
		var err error
		for _, s := range fieldday.Situations() {
			if _, ok := wanted[s.Name]; !ok {
				continue
			}
			if day == nil || day.How() != s.Driving {
				if day, err = fieldday.Drive(s.Driving, seed); err != nil {
					t.Fatal(err)
				}
			}
			o, err := day.Judge(context.Background(), s)
			if err != nil {
				t.Fatal(err)
			}
			got[s.Name] = append(got[s.Name], o)
			if s.Band() == fieldday.Fixed {
				of, certain, false_ = of+1, certain+o.Certain, false_+o.False
				if o.Least <= o.True && o.True <= o.Most {
					held++
				}
			}
		}
	}
	for name, w := range wanted {
		if len(got[name]) != seeds {
			t.Errorf("%s: %d outcomes", name, len(got[name]))
			continue
		}
		var logged, best, full, strips, less, ground, found, offset float64
		for _, o := range got[name] {
			logged, best, full = logged+o.Missed/o.True/seeds, best+o.Best/o.True/seeds, full+o.Full/o.TrueFull/seeds
			strips, less = strips+float64(o.Strips)/float64(o.TrueStrips)/seeds, less+(o.Missed-o.Best)/o.True/seeds
			ground, found, offset = ground+o.Ground, found+o.GroundFound, offset+o.Offset/seeds
		}
		t.Logf("%s: logged %.3f, best %.3f, full %.3f of what is true, strips %.2f, best less by %.3f", name, logged, best, full, strips, less)
		for what, b := range map[string]struct {
			got  float64
			want bounds
		}{"logged": {logged, w.logged}, "best": {best, w.best}, "full": {full, w.full}} {
			if b.want != (bounds{}) && !(b.got >= b.want[0] && b.got <= b.want[1]) {
				t.Errorf("%s: %s %.3f of what is true, want %.2f to %.2f", name, what, b.got, b.want[0], b.want[1])
			}
		}
		if w.strips > 0 && strips > w.strips {
			t.Errorf("%s: %.1f times as many strips as there are, want %.1f at most", name, strips, w.strips)
		}
		if w.less > 0 && less < w.less {
			t.Errorf("%s: best estimate less than as logged by %.3f of what is true, want %.2f at least", name, less, w.less)
		}
		if w.found > 0 && found < w.found*ground {
			t.Errorf("%s: %.0f m² of the %.0f that the fault left are listed", name, found, ground)
		}
		if w.found < 0 && (offset < 0.12 || offset > 0.28) {
			t.Errorf("%s: offset of %.3f m, want 0.2", name, offset)
		}
	}
	t.Logf("in the range %d of %d, false %d of %d certain", held, of, false_, certain)
	if 2*held < of {
		t.Errorf("%d of %d in the range", held, of)
	}
	if 10*false_ > certain {
		t.Errorf("%d of %d certain strips are none", false_, certain)
	}
}
