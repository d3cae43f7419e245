package coverage

import (
	"math"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestShiftAgainstTheBoundary: a field of 200 by 100 m with a pass along each side and rows between them, exactly tiled, and a log of a receiver of
// 30 cm that lies 30 cm to the east and 20 cm to the south of it. By the log one end and one side are missed. It says that this may be a
// shift, and what is missed then; the map stays as logged, the range has both, and nothing along the boundary is certain.
func TestShiftAgainstTheBoundary(t *testing.T) {
	ring := [][]plane.XY{{{X: 0, Y: 3}, {X: 200, Y: 3}}, {{X: 197, Y: 0}, {X: 197, Y: 100}}, {{X: 200, Y: 97}, {X: 0, Y: 97}}, {{X: 3, Y: 100}, {X: 3, Y: 0}}}
	var lines [][]plane.XY
	for _, l := range ring {
		lines = append(lines, trial.Straight(l[0], l[1], 2))
	}
	for y := 8.5; y < 96; y += 5.5 { // sixteen rows of 6 m that lap
		lines = append(lines, trial.Straight(plane.XY{X: 5, Y: y}, plane.XY{X: 195, Y: y}, 2))
	}
	rings := [][]plane.XY{trial.Rectangle(0, 0, 200, 100)}
	off := plane.XY{X: 0.3, Y: -0.2}
	moved := trial.Sketch{Rings: rings}
	for _, l := range lines {
		moved.Lines = append(moved.Lines, trial.Apply(l, func(p plane.XY) plane.XY { return p.Add(off) }))
	}
	const missed = 0.3*100 + 0.2*200 - 0.3*0.2
	r := checked(t, moved, drive.Work{Width: 6, PassError: 0.3})
	trial.Near(t, "missed as logged", r.Balance.Missed, missed, 0.1)
	if s := r.Open.Shift; math.Hypot(s.East-off.X, s.North-off.Y) > 0.02 || s.Missed > 2 {
		t.Errorf("shift %+v, want %.2f and none missed", s, off)
	}
	if n := r.Noise; r.Telling.Missed[0] > 1 || r.Telling.Missed[1] < missed-0.1 || n.MissedBest > 0.2*missed {
		t.Errorf("best %.1f m², %.1f to %.1f", n.MissedBest, r.Telling.Missed[0], r.Telling.Missed[1])
	}
	for _, s := range r.Strips {
		if s.Surety == SuretyCertain {
			t.Errorf("certain: %.2f m wide, cause %s", s.MaxWidth, s.Cause)
		}
	}
	if r.Open.Shift.Beyond {
		t.Errorf("beyond what such a receiver errs by: %+v", r.Open.Shift)
	}
	// A good receiver does not lie so far off: that is said as such, and its strips are told; where the log fits the boundary nothing is said.
	r = checked(t, moved, drive.Work{Width: 6, PassError: 0.02})
	if s := r.Open.Shift; !s.Beyond || math.Hypot(s.East-off.X, s.North-off.Y) > 0.05 || s.Missed > 0.2*missed {
		t.Errorf("of a good receiver: shift %+v, want %.2f and none missed", s, off)
	}
	if len(r.Strips) == 0 || r.Strips[0].Surety != SuretyCertain || r.Noise.MissedBest < 0.9*missed {
		t.Errorf("of a good receiver: best %.1f m², %d strips", r.Noise.MissedBest, len(r.Strips))
	}
	for _, e := range []float64{0.02, 0.3} {
		if r := checked(t, trial.Sketch{Rings: rings, Lines: lines}, drive.Work{Width: 6, PassError: e}); r.Open.Shift != (Shift{}) {
			t.Errorf("of a log that fits: %+v", r.Open.Shift)
		}
	}
}

// TestSectionsThatTheLogDoesNotHave are named, and where the set has none, that all of it was taken as down; a log with widths tells them.
func TestSectionsThatTheLogDoesNotHave(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 18)}, Lines: trial.Rows(0, 100, 3, 9, 15)}
	w := drive.Work{Width: 6, Sections: []float64{2, 2, 2}}
	want := func(name string, got Open, sections int, whole bool) {
		if got.Sections != sections || got.Whole != whole {
			t.Errorf("%s: %d sections open, whole %v; want %d, %v", name, got.Sections, got.Whole, sections, whole)
		}
	}
	want("sections in the file alone", checked(t, s, w).Open, 3, false)
	track := s.Track()
	for range track.Fixes() {
		track.Width, track.Offset = append(track.Width, 6), append(track.Offset, 0)
	}
	want("widths logged", checkedTrack(t, s.Field(), track, w).Open, 0, false)
	w.Sections = nil
	want("no sections, widths logged", checkedTrack(t, s.Field(), track, w).Open, 0, false)
	want("no sections, no widths", checked(t, s, w).Open, 0, true)
}
