package coverage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo"
	"balk/geo/plane"
)

// One pass of 100 m across a field; closed forms: worked = Σ length × width, ends of a
// change of width averaged over the step of 2 m.
func TestGivenWidthIsThatOfTheWholeBar(t *testing.T) {
	line := straight(plane.XY{X: 0, Y: 30}, plane.XY{X: 100, Y: 30}, 2)
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 60)}, lines: [][]plane.XY{line}}
	track := s.track()
	for k := range line {
		width, offset := 6.0, 0.0
		if k > 25 { // the right half alone
			width, offset = 3, 1.5
		}
		track.Width, track.Offset = append(track.Width, width), append(track.Offset, offset)
	}
	for _, c := range []struct {
		name  string
		w     Work
		once  float64 // m²
		right float64 // m, how far right of the line the worked ground of the second half goes
		bar   Bar
	}{
		{"as logged", Work{Width: 6, WidthFrom: WidthLogged}, 50*6 + 2*4.5 + 48*3, 3, Bar{Width: 6, From: WidthLogged, Logged: 6, Least: 3, Most: 6, Whole: 0.52}},
		{"given as logged", Work{Width: 6}, 50*6 + 2*4.5 + 48*3, 3, Bar{Width: 6, From: WidthGiven, Logged: 6, Least: 3, Most: 6, Whole: 0.52}},
		{"given wider", Work{Width: 8}, 50*8 + 2*6 + 48*4, 4, Bar{Width: 8, From: WidthGiven, Logged: 6, Least: 4, Most: 8, Whole: 0.52}},
		{"given narrower, by file", Work{Width: 4, WidthFrom: WidthFile}, 50*4 + 2*3 + 48*2, 2, Bar{Width: 4, From: WidthFile, Logged: 6, Least: 2, Most: 4, Whole: 0.52}},
	} {
		r := checkTracks(t, s, c.w, track)
		near(t, c.name+": once", r.Balance.Once, c.once, 1e-4)
		beside := track
		beside.Offset = make([]float64, len(track.Offset))
		for k, o := range track.Offset {
			beside.Offset[k] = o + 0.5 // the whole bar, and its parts with it
		}
		if moved := checkTracks(t, s, c.w, beside); math.Abs(moved.Balance.Once-c.once) > 1e-4 {
			t.Errorf("%s, beside the antenna: %.4f m² worked, want %.4f", c.name, moved.Balance.Once, c.once)
		} else {
			near(t, c.name+", beside the antenna: right edge", rightEdge(moved), c.right+0.5, 1e-3)
		}
		r.Bar.Whole = math.Round(r.Bar.Whole*1e6) / 1e6
		if r.Bar != c.bar {
			t.Errorf("%s: bar %+v, want %+v", c.name, r.Bar, c.bar)
		}
		near(t, c.name+": right edge", rightEdge(r), c.right, 1e-3)
	}
	// What is a rounding below the whole bar is all of it.
	for k := range track.Width {
		track.Width[k], track.Offset[k] = 6.0046, 0
		if k%3 == 0 {
			track.Width[k] = 5.98
		}
	}
	if b := checkTracks(t, s, Work{Width: 8}, track).Bar; b.Least != 8 || b.Most != 8 || b.Mixed() {
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
			lines = append(lines, straight(plane.XY{X: 0, Y: y}, plane.XY{X: 100, Y: y}, 2.5))
		}
		s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 60)}, lines: lines}
		track := s.track()
		logged := 3 + 3*rng.Float64()
		for range track.Fixes() {
			w := logged
			if rng.IntN(10) == 0 {
				w *= rng.Float64()
			}
			track.Width = append(track.Width, w)
		}
		last, logs := math.Inf(1), checkTracks(t, s, Work{Width: logged, WidthFrom: WidthLogged}, track)
		for _, w := range []float64{2, 3, 4.5, 6, 7, 9} {
			r := checkTracks(t, s, Work{Width: w}, track)
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

func TestWholeLogged(t *testing.T) {
	widths := func(v ...float64) geo.Track { return geo.Track{Width: v} }
	long := widths()
	for range 1000 {
		long.Width = append(long.Width, 6)
	}
	for k := range 5 {
		long.Width[100*k] = 90 // wild
	}
	lifted := widths(6, 6, 12)
	lifted.State = []geo.WorkState{geo.Working, geo.Working, geo.Lifted}
	described := widths(3, 3, 3)
	described.Bar = 6
	for name, c := range map[string]struct {
		tracks []geo.Track
		want   float64
	}{
		"none":                          {[]geo.Track{widths()}, 0},
		"nothing that is one":           {[]geo.Track{widths(0, math.NaN(), -1, math.Inf(1))}, 0},
		"some wild values":              {[]geo.Track{long}, 6},
		"lifted ones do not count":      {[]geo.Track{lifted}, 6},
		"one machine narrower":          {[]geo.Track{widths(3, 3, 3), widths(6, 6, 6)}, 6},
		"half off all the way":          {[]geo.Track{described}, 6},
		"parts lifted most of the time": {[]geo.Track{widths(3, 3, 3, 3, 6)}, 6},
	} {
		if got := WholeLogged(c.tracks); got != c.want {
			t.Errorf("%s: %g m, want %g m", name, got, c.want)
		}
		w, err := Work{WidthFrom: WidthLogged, Sections: []float64{1, 1}}.WithLogged(c.tracks)
		if (err != nil) != (c.want == 0) || err == nil && (w.Width != c.want || w.Sections != nil) {
			t.Errorf("%s: %+v, %v", name, w, err)
		}
	}
	if w, err := (Work{Width: 5}).WithLogged(nil); err != nil || fmt.Sprint(w) != fmt.Sprint(Work{Width: 5}) {
		t.Errorf("given: %+v, %v", w, err)
	}
}

// What is worked out from decimals reads like them: 8.1 − 0.2 is 7.8999999999999995 as a float64.
func TestDecimalsStayDecimals(t *testing.T) {
	w := Work{Width: 8.1, Overlap: 0.2, Rounds: 3}
	if got := fmt.Sprint(w.Credited(), w.HeadlandDepth(), w.ZoneDepth()); got != "7.9 23.7 23.7" {
		t.Error(got)
	}
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 30, 10)}, lines: [][]plane.XY{straight(plane.XY{Y: 5}, plane.XY{X: 30, Y: 5}, 2)}}
	_, err := Check(t.Context(), s.field(), []geo.Track{s.track()}, Work{Width: 8.1, Overlap: 8.1 - 0.04})
	if err == nil || err.Error() != "working width less overlap 0.04 m: must be 0.05 m or more" {
		t.Error(err)
	}
}
