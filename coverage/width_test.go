package coverage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// One pass of 100 m across a field; closed forms: worked = Σ length × width, ends of a
// change of width averaged over the step of 2 m.
func TestGivenWidthIsThatOfTheWholeBar(t *testing.T) {
	line := trial.Straight(plane.XY{X: 0, Y: 30}, plane.XY{X: 100, Y: 30}, 2)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 60)}, Lines: [][]plane.XY{line}}
	track := s.Track()
	for k := range line {
		width, offset := 6.0, 0.0
		if k > 25 { // the right half alone
			width, offset = 3, 1.5
		}
		track.Width, track.Offset = append(track.Width, width), append(track.Offset, offset)
	}
	for _, c := range []struct {
		name  string
		w     drive.Work
		once  float64 // m²
		right float64 // m, how far right of the line the worked ground of the second half goes
		bar   drive.Bar
	}{
		{"as logged", drive.Work{Width: 6, WidthFrom: drive.WidthLogged}, 50*6 + 2*4.5 + 48*3, 3, drive.Bar{Width: 6, From: drive.WidthLogged, Logged: 6, Least: 3, Most: 6, Whole: 0.52}},
		{"given as logged", drive.Work{Width: 6}, 50*6 + 2*4.5 + 48*3, 3, drive.Bar{Width: 6, From: drive.WidthGiven, Logged: 6, Least: 3, Most: 6, Whole: 0.52}},
		{"given wider", drive.Work{Width: 8}, 50*8 + 2*6 + 48*4, 4, drive.Bar{Width: 8, From: drive.WidthGiven, Logged: 6, Least: 4, Most: 8, Whole: 0.52}},
		{"given narrower, by file", drive.Work{Width: 4, WidthFrom: drive.WidthFile}, 50*4 + 2*3 + 48*2, 2, drive.Bar{Width: 4, From: drive.WidthFile, Logged: 6, Least: 2, Most: 4, Whole: 0.52}},
	} {
		r := checkTracks(t, s, c.w, track)
		trial.Near(t, c.name+": once", r.Balance.Once, c.once, 1e-4)
		beside := track
		beside.Offset = make([]float64, len(track.Offset))
		for k, o := range track.Offset {
			beside.Offset[k] = o + 0.5 // the whole bar, and its parts with it
		}
		if moved := checkTracks(t, s, c.w, beside); math.Abs(moved.Balance.Once-c.once) > 1e-4 {
			t.Errorf("%s, beside the antenna: %.4f m² worked, want %.4f", c.name, moved.Balance.Once, c.once)
		} else {
			trial.Near(t, c.name+", beside the antenna: right edge", rightEdge(moved), c.right+0.5, 1e-3)
		}
		r.Bar.Whole = math.Round(r.Bar.Whole*1e6) / 1e6
		if r.Bar != c.bar {
			t.Errorf("%s: bar %+v, want %+v", c.name, r.Bar, c.bar)
		}
		trial.Near(t, c.name+": right edge", rightEdge(r), c.right, 1e-3)
	}
	// What is a rounding below the whole bar is all of it.
	for k := range track.Width {
		track.Width[k], track.Offset[k] = 6.0046, 0
		if k%3 == 0 {
			track.Width[k] = 5.98
		}
	}
	if b := checkTracks(t, s, drive.Work{Width: 8}, track).Bar; b.Least != 8 || b.Most != 8 || b.Mixed() {
		t.Errorf("rounded widths: %+v", b)
	}
}

// rightEdge is how far right of the line the worked ground of the second half goes: right of a way to
// the east is south, where the missed ground below begins.
func rightEdge(r Result) float64 {
	least := math.Inf(1)
	for _, p := range r.Layers.Missed {
		for _, q := range p[0] {
			if q.X > 10 && q.X < 40 && q.Y < -1 && q.Y > -20 {
				least = min(least, -q.Y)
			}
		}
	}
	return least
}

// More width never leaves more missed, wherever the widths come from and whatever parts were
// lifted on the inner side; and the given width is never that of the log.
func TestWiderNeverMissesMore(t *testing.T) {
	seed := uint64(20261126)
	rng := rand.New(rand.NewPCG(seed, 0))
	for n := range 20 {
		var lines [][]plane.XY
		for i := range 10 {
			y := 3 + 6*float64(i) + rng.Float64()
			lines = append(lines, trial.Straight(plane.XY{X: 0, Y: y}, plane.XY{X: 100, Y: y}, 2.5))
		}
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 60)}, Lines: lines}
		track := s.Track()
		logged := 3 + 3*rng.Float64()
		for range track.Fixes() {
			w := logged
			if rng.IntN(10) == 0 {
				w *= rng.Float64()
			}
			track.Width = append(track.Width, w)
		}
		last, logs := math.Inf(1), checkTracks(t, s, drive.Work{Width: logged, WidthFrom: drive.WidthLogged}, track)
		for _, w := range []float64{2, 3, 4.5, 6, 7, 9} {
			r := checkTracks(t, s, drive.Work{Width: w}, track)
			if r.Balance.Missed > last+1e-6 {
				t.Errorf("seed %d, log %d: %.3f m² missed at %g m, %.3f m² at less", seed, n, r.Balance.Missed, w, last)
			}
			if w < logged == (r.Balance.Missed < logs.Balance.Missed) {
				t.Errorf("seed %d, log %d: %.3f m² missed at %g m, %.3f m² at the logged %.2f m", seed, n, r.Balance.Missed, w, logs.Balance.Missed, logged)
			}
			last = r.Balance.Missed
		}
	}
}

// What is worked out from decimals reads like them: 8.1 − 0.2 is 7.8999999999999995 as a float64.
func TestDecimalsStayDecimals(t *testing.T) {
	w := drive.Work{Width: 8.1, Overlap: 0.2, Rounds: 3}
	if got := fmt.Sprint(w.Credited(), w.HeadlandDepth(), w.ZoneDepth()); got != "7.9 23.7 23.7" {
		t.Error(got)
	}
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 30, 10)}, Lines: [][]plane.XY{trial.Straight(plane.XY{Y: 5}, plane.XY{X: 30, Y: 5}, 2)}}
	_, err := Check(t.Context(), s.Field(), []geo.Track{s.Track()}, drive.Work{Width: 8.1, Overlap: 8.1 - 0.04})
	if err == nil || err.Error() != "working width less overlap 0.04 m: must be 0.05 m or more" {
		t.Error(err)
	}
}

// TestStripBesideABarLiftedInPart: three rows of 100 m side by side, of the middle one half of the bar is lifted over 50 m: 3 m × 50 m are missed, with half of the steps on which that changes, and that
// the log says so is their cause. Where the whole bar was down and the row lies aside the same ground is missed by drift.
func TestStripBesideABarLiftedInPart(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 18)}, Lines: trial.Rows(0, 100, 3, 9, 15)}
	track := s.Track()
	for _, line := range s.Lines {
		for _, p := range line {
			width, offset := 6.0, 0.0
			if p.Y == 9 && p.X > 24 && p.X < 76 {
				width, offset = 3, 1.5
			}
			track.Width, track.Offset = append(track.Width, width), append(track.Offset, offset)
		}
	}
	for _, w := range []drive.Work{{Width: 6}, {Width: 6, WidthFrom: drive.WidthLogged}} {
		r := checkTracks(t, s, w, track)
		if len(r.Strips) != 1 || r.Strips[0].Cause != CausePart || math.Abs(r.Strips[0].Area-3*50) > 0.01 {
			t.Errorf("width %q: %d strips, the first %.2f m², %s", w.WidthFrom, len(r.Strips), r.Strips[0].Area, r.Strips[0].Cause)
		}
	}
	unsided := s.Track() // of which the log does not say on which side it was: 1.5 m on both, none of it certain
	unsided.Width = track.Width
	r := checkTracks(t, s, drive.Work{Width: 6, PassError: 0.02}, unsided)
	if !slices.ContainsFunc(r.Findings, func(f geo.Finding) bool {
		return strings.HasPrefix(f.What, "at 25 of 153 fixes at work a part of the bar was lifted")
	}) {
		t.Errorf("no side logged: %v", r.Findings)
	}
	for k, strip := range r.Strips {
		if len(r.Strips) != 2 || strip.Cause != CausePart || strip.Certain != 0 || strip.Surety != SuretyLikely {
			t.Errorf("no side logged: %d strips, strip %d %q, %.1f m² certain, %s", len(r.Strips), k+1, strip.Surety, strip.Certain, strip.Cause)
		}
	}
	unsided.Offset = track.Offset
	if r := checkTracks(t, s, drive.Work{Width: 6, PassError: 0.02}, unsided); r.Strips[0].Surety != SuretyCertain || len(r.Findings) != 1 {
		t.Errorf("side logged: %q, %v", r.Strips[0].Surety, r.Findings)
	}
	s.Lines = trial.Rows(0, 100, 3, 10, 16)
	for k := range track.Width {
		track.Width[k], track.Offset[k] = 6, 0
	}
	whole := s.Track()
	whole.Width, whole.Offset = track.Width, track.Offset
	if r := checkTracks(t, s, drive.Work{Width: 6}, whole); len(r.Strips) != 1 || r.Strips[0].Cause != CauseDrift {
		t.Errorf("all of the bar down: strips %+v", r.Strips)
	}
}
