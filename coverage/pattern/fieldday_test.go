package pattern_test

import (
	"testing"

	"balk/testdata/fieldday"
	"balk/testdata/trial"
)

// TestKnownDays drives days with one known fault each, with two at once, with a fault of one row only, with lifts anywhere, and without any: the patterns
// told are those that were driven, by their figures, and no ground is told in two. The seeds are the same each time: one day in a hundred may
// be told wrongly, and a drawn one would now and then be it. How often each is told stands in .ci/long.md, by `go run ./.ci/fieldday -known`.
func TestKnownDays(t *testing.T) {
	if trial.UnderRaceDetector() || testing.Short() {
		t.Skip("some seconds of driving; what runs at the same time is tested elsewhere")
	}
	for _, k := range fieldday.Knowns() {
		t.Run(k.Name, func(t *testing.T) {
			day, err := fieldday.Drive(k.Driving, 1)
			if err != nil {
				t.Fatal(err)
			}
			o, err := day.Judge(t.Context(), k.Situation)
			if err != nil {
				t.Fatal(err)
			}
			if found, falsely := k.Told(o.Patterns); !found || falsely || o.Twice > 0 {
				t.Errorf("%+v, want %v; %d strips have ground in several", o.Patterns, k.Want, o.Twice)
			}
		})
	}
}
