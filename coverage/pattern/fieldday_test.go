package pattern_test

import (
	"math"
	"testing"

	"balk/coverage/pattern"
	"balk/testdata/fieldday"
	"balk/testdata/trial"
)

// seeds is how many of each are driven: the first few, and in the long counts 500.
func seeds(t *testing.T, few uint64) (from, n uint64) {
	t.Helper()
	if trial.UnderRaceDetector() || testing.Short() {
		t.Skip("some seconds of driving; what runs at the same time is tested elsewhere")
	}
	if trial.Long() {
		return 1, 500
	}
	return 1, few // one day in a hundred may be told wrongly: a drawn one would now and then be it
}

// situation is a row of the table of situations, driven in another way.
func situation(t *testing.T, name string, d fieldday.Driving) fieldday.Situation {
	t.Helper()
	widths := name == "widths logged"
	if widths {
		name = "fixed, 5 Hz, mounted"
	}
	for _, s := range fieldday.Situations() {
		if s.Name == name {
			s.Receiver.Widths = widths
			s.Driving, s.Fault = d, fieldday.Fault{}
			return s
		}
	}
	t.Fatalf("no situation %q", name)
	return fieldday.Situation{}
}

// TestFaultsOfSimulatedDays drives days with one known fault each, with two at once, and with a fault of one row only: the patterns named are those
// that were driven, by their figures.
func TestFaultsOfSimulatedDays(t *testing.T) {
	from, n := seeds(t, 1)
	t.Logf("seeds from %d", from)
	late := fieldday.Driving{Late: 2.5}
	shift := fieldday.Driving{Shift: 17, ShiftBy: 0.45}
	// With the 0.3 m that rows begin too early in the mean, and 0.3 m that they reach into the headland.
	const lateBy = 2.5 - 0.3 - 0.3
	for _, c := range []struct {
		name   string
		log    string
		driven fieldday.Driving
		want   map[pattern.Kind]float64 // by
		within float64                  // of that, as a share
	}{
		{"late in the north", "fixed, 5 Hz, mounted", late, map[pattern.Kind]float64{pattern.Late: lateBy}, 0.25},
		{"late in the north, 1 Hz", "fixed, 1 Hz, mounted", late, map[pattern.Kind]float64{pattern.Late: lateBy}, 0.35},
		{"line shifted", "fixed, 1 Hz, mounted", shift, map[pattern.Kind]float64{pattern.Shifted: 0.45}, 0.45},
		{"lines too far apart", "fixed, 5 Hz, mounted", fieldday.Driving{Spread: 0.15}, map[pattern.Kind]float64{pattern.Apart: 0.15}, 0.35},
		{"each row turns", "fixed, 5 Hz, mounted", fieldday.Driving{Fan: 6e-4}, map[pattern.Kind]float64{pattern.Fan: 6e-4}, 0.2},
		{"rows slide aside", "fixed, 1 Hz, mounted", fieldday.Driving{Slide: 1.5e-3}, map[pattern.Kind]float64{pattern.Slide: 1.5e-3}, 0.35},
		{"rows turn, late in the north", "fixed, 5 Hz, mounted", fieldday.Driving{Fan: 6e-4, Late: 2.5}, map[pattern.Kind]float64{pattern.Fan: 6e-4, pattern.Late: lateBy}, 0.3},
		{"line shifted, rows slide", "fixed, 5 Hz, mounted", fieldday.Driving{Slide: 1.5e-3, Shift: 17, ShiftBy: 0.45}, map[pattern.Kind]float64{pattern.Slide: 1.5e-3, pattern.Shifted: 0.45}, 0.45},
		{"bar aside, by another antenna in the file", "antenna 20 cm right in the file, mounted", fieldday.Driving{}, map[pattern.Kind]float64{pattern.Aside: 0.20}, 0.35},
		{"a section never down", "widths logged", fieldday.Driving{Section: fieldday.AllRows, SectionWidth: 1.5}, map[pattern.Kind]float64{pattern.Section: 1.5}, 0.01},
		// Short row ends open into what the section leaves: each is one piece of ground with it, and told once.
		{"a section never down, late in the north", "widths logged", fieldday.Driving{Section: fieldday.AllRows, SectionWidth: 1.5, Late: 2.5}, map[pattern.Kind]float64{pattern.Section: 1.5}, 0.01},
		{"one row aside", "fixed, 5 Hz, mounted", fieldday.Driving{Aside: 10, AsideBy: 0.3}, nil, 0},
		{"a row left out", "fixed, 5 Hz, mounted", fieldday.Driving{Omitted: 13}, nil, 0},
		{"a section lifted for a while", "fixed, 5 Hz, mounted", fieldday.Driving{Section: 12, SectionFrom: 30, SectionOver: 60, SectionWidth: 1.5}, nil, 0},
	} {
		wrong := 0
		for seed := from; seed < from+n; seed++ {
			day, err := fieldday.Drive(c.driven, seed)
			if err != nil {
				t.Fatal(err)
			}
			o, err := day.Judge(t.Context(), situation(t, c.log, c.driven))
			if err != nil {
				t.Fatal(err)
			}
			good := len(o.Patterns) == len(c.want)
			for _, p := range o.Patterns {
				good = good && math.Abs(p.By-c.want[p.Kind]) <= c.within*c.want[p.Kind]
			}
			if !good {
				wrong++
				t.Logf("%s, seed %d: %+v, want %v", c.name, seed, o.Patterns, c.want)
			}
		}
		t.Logf("%s: %d of %d days told otherwise", c.name, wrong, n)
		if float64(wrong) > 0.02*float64(n) {
			t.Errorf("%s: %d of %d days", c.name, wrong, n)
		}
	}
}

// TestNoFault: days without a fault have no pattern, but for one in a hundred.
func TestNoFault(t *testing.T) {
	from, n := seeds(t, 1)
	t.Logf("seeds from %d", from)
	for _, name := range []string{"fixed, 1 Hz, mounted", "fixed, 5 Hz, trailed", "fixed, 2 cm white, 5 Hz, mounted", "differential, 1 Hz, mounted"} {
		false_ := 0
		for seed := from; seed < from+n; seed++ {
			d := fieldday.Driving{}
			s := situation(t, name, d)
			for _, one := range fieldday.Situations() {
				if one.Name == name {
					s.Driving.Trailed, d.Trailed = one.Driving.Trailed, one.Driving.Trailed
				}
			}
			day, err := fieldday.Drive(d, seed)
			if err != nil {
				t.Fatal(err)
			}
			o, err := day.Judge(t.Context(), s)
			if err != nil {
				t.Fatal(err)
			}
			if len(o.Patterns) > 0 {
				false_++
				t.Logf("%s, seed %d: %+v", name, seed, o.Patterns)
			}
			if so := seed - from + 1; so%50 == 0 { // of a count that takes an hour
				t.Logf("%s: %d of the first %d", name, false_, so)
			}
		}
		t.Logf("%s: %d of %d days have a pattern", name, false_, n)
		if float64(false_) > 0.01*float64(n) {
			t.Errorf("%s: %d of %d days have a pattern", name, false_, n)
		}
	}
}
