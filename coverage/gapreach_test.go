package coverage

import (
	"math"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// silentSketch is 25 rows of 6 m on 100 × 150 m at 2 m/s, tool lifted in the turns,
// the row at y = 141 not driven. From the middle of the row at y = 21 to that of the
// row at y = 33 nothing is logged for so many seconds (0: all is).
func silentSketch(silent float64) trial.Sketch {
	var line []plane.XY
	var state []geo.WorkState
	for i := range 25 {
		y := 3 + 6*float64(i)
		row := trial.Rows(0, 100, y, y)[i%2]
		if y == 141 { // driven round, lifted
			row = trial.Straight(plane.XY{X: 105, Y: y}, plane.XY{X: 105, Y: y + 1}, 2)
			line, state = append(line, row[0]), append(state, geo.Lifted)
			continue
		}
		for _, p := range row {
			line, state = append(line, p), append(state, geo.Working)
		}
		end := row[len(row)-1]
		line, state = append(line, end.Add(plane.XY{Y: 2}), end.Add(plane.XY{Y: 4})), append(state, geo.Lifted, geo.Lifted)
	}
	times := make([]float64, len(line))
	for k := range times {
		times[k] = 1.7e9 + float64(k)
	}
	if silent > 0 {
		lost := func(p plane.XY) bool {
			return p.Y > 20 && p.Y < 34 && !(p.Y == 21 && p.X >= 50) && !(p.Y == 33 && p.X <= 50)
		}
		from := slices.IndexFunc(line, lost)
		to := from
		for lost(line[to]) {
			to++
		}
		late := silent - (times[to] - times[from-1])
		for k := to; k < len(times); k++ {
			times[k] += late
		}
		line, state, times = slices.Delete(line, from, to), slices.Delete(state, from, to), slices.Delete(times, from, to)
	}
	return trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 150)}, Lines: [][]plane.XY{line}, State: [][]geo.WorkState{state}, Times: [][]float64{times}}
}

// TestStripsBesideALogGap: half of a row, the next one and half of a third are lost
// with their fixes: 1200 m², 200 m of way. Their middle is within 53 m of way from the
// ends of the gap. The corners that the rows leave in the turns are too narrow for a
// pass and stay as they are.
func TestStripsBesideALogGap(t *testing.T) {
	for _, c := range []struct {
		name   string
		silent float64 // s
		gap    bool
	}{
		{"106 s, time for 212 m", 106, true},
		{"98 s, time for 196 m", 98, false},
		{"12 s, no time to go there", 12, false},
		{"an hour less a second", 3599, true},
		{"two hours, a break", 7200, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := silentSketch(c.silent)
			for _, s := range []trial.Sketch{s, s.Moved(func(p plane.XY) plane.XY { return plane.XY{X: -p.Y, Y: p.X} })} {
				r := checked(t, s, drive.Work{Width: 6, PassError: 0.03})
				beside, far := 0, 0
				for _, g := range r.Strips {
					gap := false
					switch {
					case math.Abs(g.Area-1200) < 5:
						beside++
						gap = c.gap
					case math.Abs(g.Area-600) < 5: // the row not driven, 228 m of way from the ends of the gap
						far++
						gap = c.silent > 2*110 && c.gap
					}
					if (g.Cause == CauseGap) != gap || gap && (g.Surety != SuretyLikely || g.Certain != 0) || !gap && g.Area > 100 && (g.Cause != CauseUndriven || g.Surety != SuretyCertain || g.Certain == 0) {
						t.Errorf("strip of %.0f m², %.0f m long: %q, %q, certain %g m²", g.Area, g.Length, g.Cause, g.Surety, g.Certain)
					}
				}
				if beside != 1 || far != 1 {
					t.Fatalf("%d strips beside the gap, %d far off, want one each", beside, far)
				}
			}
		})
	}
	for _, g := range checked(t, silentSketch(0), drive.Work{Width: 6, PassError: 0.03}).Strips {
		if g.Cause == CauseGap {
			t.Errorf("nothing is lost, but %+v", g)
		}
	}
}

// TestChordAcrossALogGap: a ring of 20 m radius, open at its east end, with 13 s lost in
// the west. The straight line across leaves a lens there that is narrower than a pass.
func TestChordAcrossALogGap(t *testing.T) {
	bend := trial.Arc(plane.XY{X: 50, Y: 50}, 20, 0, 340, 60)
	times := make([]float64, len(bend))
	for k := range times {
		times[k] = 1.7e9 + float64(k)
	}
	bend, times = slices.Delete(bend, 30, 42), slices.Delete(times, 30, 42)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Arc(plane.XY{X: 50, Y: 50}, 20.5, 0, 359, 60)}, Lines: [][]plane.XY{bend}, Times: [][]float64{times}}
	s.Rings = append(s.Rings, trial.Arc(plane.XY{X: 50, Y: 50}, 16.5, 1, 360, 60))
	r := checked(t, s, drive.Work{Width: 6, PassError: 0.03, Working: drive.EvidenceAll})
	if len(r.Strips) != 2 || r.Balance.Unknown == 0 {
		t.Fatalf("want a lens and the open end of the ring: %+v", r.Strips)
	}
	for _, g := range r.Strips {
		if lens := r.Local.XY(g.At).X < 0; lens && (g.MaxWidth >= nearly*6 || g.Cause != CauseGap || g.Surety != SuretyLikely) || !lens && (g.Cause == CauseGap || g.Surety != SuretyCertain) {
			t.Errorf("lens %v: %.0f m², %.1f m wide: %q, %q", lens, g.Area, g.MaxWidth, g.Cause, g.Surety)
		}
	}
}

// TestGapWithoutSurety: where no error is known a strip has no surety, but a cause.
func TestGapWithoutSurety(t *testing.T) {
	n := 0
	for _, g := range checked(t, silentSketch(106), drive.Work{Width: 6}).Strips {
		if g.Cause == CauseGap {
			n++
			if g.Surety == SuretyCertain || g.Certain != 0 {
				t.Errorf("surety %q, %g m² certain: it may have been worked while nothing was logged", g.Surety, g.Certain)
			}
		}
	}
	if n != 1 {
		t.Errorf("%d strips by a log gap, want 1", n)
	}
}
