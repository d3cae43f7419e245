package answer

import (
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/export/words"
)

// TestNextTime: the least overlap that leaves a quarter is said with its price; nothing where little is missed or no overlap cures it.
func TestNextTime(t *testing.T) {
	r := coverage.Result{Passes: make([]drive.Pass, 46)}
	r.Spacing = coverage.Spacing{Width: 6, Planned: 5.9, Laps: []coverage.Lap{
		{Overlap: 0.1, Missed: 0.012, Double: 0.02, Way: 1}, {Overlap: 0.14, Missed: 0.006, Double: 0.025, Way: 1.007}, {Overlap: 0.18, Missed: 0.003, Double: 0.031, Way: 1.0137}}}
	if got, want := NextTime(r, words.English), "Next time: with 0.18 m overlap instead of 0.10 m, and driven as unevenly, 0.3 % instead of 1.2 % would be missed between passes, 3.1 % instead of 2.0 % worked twice, and 1 pass more (1.4 % more way)."; !strings.HasPrefix(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if got := NextTime(r, words.German); !strings.Contains(got, "mit 0,18 m Überlappung statt 0,10 m") || !strings.Contains(got, "bei 1 Bahn mehr (1,4 % mehr Weg)") || strings.Contains(got, "%!") {
		t.Errorf("%q", got)
	}
	open := r // 0 to 500 m² missed, by its receiver or not
	open.Telling = coverage.Telling{Strips: coverage.GraspRange, Error: 0.3, Missed: [2]float64{0, 500}}
	if got := NextTime(open, words.English); !strings.HasPrefix(got, "If the receiver of this log was good: next time: with 0.18 m") {
		t.Errorf("%q", got)
	}
	few := r
	few.Spacing.Laps = append([]coverage.Lap{{Overlap: 0.1, Missed: 0.001, Way: 1}}, r.Spacing.Laps[1:]...)
	none := r
	none.Spacing.Laps = r.Spacing.Laps[:2]
	// A receiver that errs by 0.6 m from pass to pass shows 0.3060·(φ(0.3268) − 0.3268·Φ(−0.3268)) = 0.0786 m between rows without fault, 1.3 % of 5.90 m.
	luck := r
	luck.Noise = coverage.Noise{PassError: 0.6, PassErrorFrom: "given"}
	for _, o := range []coverage.Result{few, none, luck, {}} {
		if got := NextTime(o, words.English); got != "" {
			t.Errorf("%q, want nothing", got)
		}
	}
	less := r
	less.Noise = coverage.Noise{PassError: 0.5, PassErrorFrom: "given"} // 0.0595 m, 1.0 %
	if got := NextTime(less, words.English); got == "" {
		t.Error("nothing is told that a receiver's error of 0.5 m does not explain")
	}
}

// TestCheapestLap: 80 an hour at 3.6 ha/h are 22.22 a hectare, times the way; a hectare missed at 2000 makes 1.2 % of it 24. The prices are invented.
func TestCheapestLap(t *testing.T) {
	r := coverage.Result{Effort: coverage.Effort{EffectiveCapacity: 10}, Spacing: coverage.Spacing{Width: 6, Planned: 5.9, Laps: []coverage.Lap{
		{Overlap: 0.1, Missed: 0.012, Way: 1}, {Overlap: 0.09, Missed: 0.5, Way: 0.99999}, {Overlap: 0.14, Missed: 0.006, Way: 1.007}, {Overlap: 0.18, Missed: 0.003, Way: 1.0137}, {Overlap: 0.4, Missed: 0.0029, Way: 1.0536}}}}
	for _, c := range []struct {
		perHour, perMissed float64
		english            string
	}{
		// 22.22 + 24 = 46.22; at 0.18 m 22.22 × 1.0137 + 6 = 28.53; at 0.40 m 22.22 × 1.0536 + 5.8 = 29.21
		{80, 0.2, "At the rates given 0.18 m overlap costs least, 28.53 a hectare with what is missed between passes; 0.10 m cost 46.22."},
		// 22.22 + 0.12 = 22.34; at 0.14 m 22.38 + 0.06 = 22.44
		{80, 0.001, "At the rates given no other overlap costs less than 0.10 m: 22.34 a hectare, with what is missed between passes."},
		// 22.22 + 0.00 = 22.22 at 0.10 m and at none, to a hundredth: no reason for another
		{80, 1e-7, "At the rates given no other overlap costs less than 0.10 m: 22.22 a hectare, with what is missed between passes."},
		{0, 0.2, ""}, {80, 0, ""},
	} {
		if got := CheapestLap(r, c.perHour, c.perMissed, words.English); got != c.english {
			t.Errorf("%g an hour, %g a m²: %q, want %q", c.perHour, c.perMissed, got, c.english)
		}
	}
	if got := CheapestLap(r, 80, 0.2, words.German); !strings.Contains(got, "0,18 m Überlappung am wenigsten, 28,53 je Hektar") || strings.Contains(got, "%!") {
		t.Errorf("%q", got)
	}
	r.Effort.EffectiveCapacity = 0
	if got := CheapestLap(r, 80, 0.2, words.English); got != "" {
		t.Errorf("without times: %q", got)
	}
}
