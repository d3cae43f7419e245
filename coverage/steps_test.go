package coverage

import (
	"fmt"
	"math"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/pattern"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// rowsLogged drives rows of 6 m up and down across 200 m at 2.5 m/s, all but one, begun and ended 12 m outside of the field with half circles between
// them, and logs a fix every so many seconds, the first after phase seconds. The tool works where the set is on the field, to the centimetre: of
// the row left out 1200 m² are missed, and nothing else.
func rowsLogged(rows, leftOut int, every, phase float64) trial.Sketch {
	const long, wide, beyond, speed = 200., 6., 12., 2.5
	var way []plane.XY
	up := true
	for k := range rows {
		if k == leftOut {
			continue
		}
		x, from, to := (float64(k)+0.5)*wide, -beyond, long+beyond
		turned := -180. // from there on by a half circle round to 0°
		if !up {
			from, to, turned = to, from, 180
		}
		if n := len(way); n > 0 {
			radius := (x - way[n-1].X) / 2
			way = append(way, trial.Arc(plane.XY{X: x - radius, Y: from}, radius, turned, 0, 40)...)
		}
		way = append(way, plane.XY{X: x, Y: from}, plane.XY{X: x, Y: to})
		up = !up
	}
	for _, end := range [2]int{0, len(way) - 1} { // it is on its way there before it works, and goes on behind
		way[end].Y += 2 * (way[end].Y - long/2)
	}
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, wide*float64(rows), long)}}
	var line []plane.XY
	var times []float64
	var state []geo.WorkState
	next, gone := phase*speed, 0.
	for k := 1; k < len(way); k++ {
		step := way[k].Dist(way[k-1])
		for ; next <= gone+step; next += every * speed {
			at := way[k-1].Lerp(way[k], (next-gone)/step)
			working := geo.Lifted
			if at.Y >= 0 && at.Y <= long {
				working = geo.Working
			}
			line, times, state = append(line, at), append(times, next/speed), append(state, working)
		}
		gone += step
	}
	s.Lines, s.Times, s.State = [][]plane.XY{line}, [][]float64{times}, [][]geo.WorkState{state}
	return s
}

// TestRowEndsBetweenFarFixes: logs that tell nothing of their receiver and have too few rows to tell it by. What is open of row ends between fixes is known all the same: 1200 m²
// are missed, and lie in what is said of it; a fix a second leaves too little for a word.
func TestRowEndsBetweenFarFixes(t *testing.T) {
	for _, every := range []float64{1, 5, 10} {
		held, least, most := 0, math.Inf(1), 0.
		for phase := range 5 {
			s := rowsLogged(6, 2, every, every*float64(phase)/5)
			r := checked(t, s, drive.Work{Width: 6})
			steps := r.Open.Steps
			if every == 1 {
				if steps != [2]float64{} {
					t.Errorf("a fix a second: %.0f m² said to be open", steps)
				}
				continue
			}
			if steps[0] > r.Balance.Missed || steps[1] <= r.Balance.Missed {
				t.Errorf("a fix in %g s: %.0f m² as logged, not in %.0f", every, r.Balance.Missed, steps)
			}
			if steps[0] <= 1200.5 && 1200 <= steps[1] {
				held++
			}
			least, most = min(least, steps[0]), max(most, steps[1])
		}
		// From the ends of the log, in the turns, to those of the rows each end lies up to a step off: 10 ends, half of 2.5 m/s × every of each, 6 m wide.
		if every > 1 && (held < 5 || most-least > 10*6*2.5*every/2*2) {
			t.Errorf("a fix in %g s: 1200 m² held by %d of 5 ranges, from %.0f to %.0f m² in all", every, held, least, most)
		}
	}
	s := rowsLogged(6, 2, 10, 2)
	if r := checked(t, s, drive.Work{Width: 6, PassError: 0.03}); r.Open.Steps != [2]float64{} {
		t.Errorf("of a known receiver the range has all that is open: %.0f m² beside it", r.Open.Steps)
	}
}

// TestNoLateLoweringBetweenFarFixes: forty rows begun and ended just at the boundary. Fixes many metres apart leave open by a metre or more where the line of a side's
// ends runs, and that all rows on it are short by as much is not told as the driver's fault; where they are lowered later by more than that, it is.
func TestNoLateLoweringBetweenFarFixes(t *testing.T) {
	for _, every := range []float64{1, 5, 10} {
		for phase := range 5 {
			s := rowsLogged(40, 13, every, every*float64(phase)/5)
			if got := endPatterns(checked(t, s, drive.Work{Width: 6})); len(got) > 0 {
				t.Errorf("a fix in %g s, the first after %d fifths of that: %s", every, phase, got)
			}
			for i, at := range s.Lines[0] { // on the way north the tool comes in 8 m late
				if north := i > 0 && at.Y > s.Lines[0][i-1].Y; north && at.Y < 8 {
					s.State[0][i] = geo.Lifted
				}
			}
			if got := endPatterns(checked(t, s, drive.Work{Width: 6})); len(got) != 1 || got[0][:12] != "lowered late" {
				t.Errorf("8 m late, a fix in %g s, the first after %d fifths of that: %s", every, phase, got)
			}
		}
	}
}

func endPatterns(r Result) (out []string) {
	for _, p := range r.Patterns {
		if p.Kind == pattern.Late || p.Kind == pattern.Early || p.Kind == pattern.Short {
			out = append(out, fmt.Sprintf("%s: %d of %d by %.1f m (%.1f to %.1f)", p.Kind, p.Seen, p.Of, p.By, p.Least, p.Most))
		}
	}
	return out
}
