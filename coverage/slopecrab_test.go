package coverage

import (
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// upAndDown are passes over a field of 120 × 120 m, 6 m apart, there and back, with heights and without headings.
func upAndDown(height func(plane.XY) float64) (trial.Sketch, geo.Track) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 120, 120)}}
	for k := range 20 {
		from, to := plane.XY{X: 3 + 6*float64(k)}, plane.XY{X: 3 + 6*float64(k), Y: 120}
		if k%2 == 1 {
			from, to = to, from
		}
		s.Lines = append(s.Lines, trial.Straight(from, to, 2))
	}
	track := s.Track()
	for _, line := range s.Lines {
		for _, p := range line {
			track.Height = append(track.Height, height(p))
		}
	}
	return s, track
}

// crabbing is a set that laps by 5 cm between sweeps on two beams 1.4 m apart, which part at 2.05° and more (closed form: atan(0.05/1.4)).
func crabbing() drive.Work {
	return drive.Work{Width: 6.05, PassError: 0.03, Sweeps: rig.Layout{Count: 24, Spacing: 0.25, Width: 0.30, Beams: []float64{-0.7, 0.7}}, Mount: rig.Mount{Hitch: 1, BarBehind: 1.5}}
}

// On ground that falls alike everywhere, a crab angle per percent by the log's heights is the same as that angle with the bearing downhill: bars, balance and
// ribbons, of mounted and trailed sets, whatever the direction. On level ground it is none.
func TestCrabPerPercentOnEvenGround(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 19))
	for n := range 6 {
		steep, down, per := 0.18*rng.Float64(), 360*rng.Float64(), 0.1+0.3*rng.Float64()
		sin, cos := math.Sincos(down * math.Pi / 180)
		if n == 0 {
			steep = 0
		}
		s, track := upAndDown(func(p plane.XY) float64 { return 300 - steep*p.Dot(plane.XY{X: sin, Y: cos}) })
		w := crabbing()
		if n%2 == 1 {
			w.Mount = rig.Mount{Trailed: true, Hitch: 1.5, Drawbar: 3, BarBehind: 1}
		}
		by, as := w, w
		by.Drift.PerPercent = per
		as.Drift = drive.Drift{Angle: 100 * steep * per, Downhill: geo.Bearing(down)}
		got, want := checkTracks(t, s, by, track), checkTracks(t, s, as, track)
		near := func(what string, got, want, within float64) {
			t.Helper()
			if math.Abs(got-want) > within {
				t.Errorf("falls by %.3f towards %.0f°, %.2f° per percent: %s %.6f, want %.6f", steep, down, per, what, got, want)
			}
		}
		if steep == 0 {
			if got.Ribbons.Length != 0 || got.Crab.Angle > 1e-9 || got.Balance != want.Balance {
				t.Errorf("level: %+v, %+v", *got.Ribbons, *got.Crab)
			}
			continue
		}
		// Sketch and field have planes of their own, 1e-5 rad apart.
		near("missed", got.Balance.Missed, want.Balance.Missed, 0.05)
		near("once", got.Balance.Once, want.Balance.Once, 0.05)
		near("uncut", got.Ribbons.Left, want.Ribbons.Left, 0.05+1e-3*want.Ribbons.Left)
		near("length", got.Ribbons.Length, want.Ribbons.Length, 1)
		near("greatest", got.Crab.Angle, math.Abs(cos*0+sin)*as.Drift.Angle, 1e-3)
		near("share", got.Crab.Share, 1, 1e-9)
		if !got.Ribbons.Supposed || !want.Ribbons.Supposed || got.Crab.Measured || got.Crab.PerPercent != per || strings.Contains(trial.Say(got.Findings), noSlopes) {
			t.Errorf("%+v, %+v", *got.Crab, *got.Ribbons)
		}
		for k, p := range got.Passes {
			for i, at := range p.Line {
				if d := at.Dist(want.Passes[k].Line[i]); d > 1e-4 {
					t.Fatalf("falls by %.3f towards %.0f°: the bar of pass %d is %.5f m off", steep, down, k+1, d)
				}
			}
		}
	}
}

// On ground that is level in the west and rises by 12 % to the east beyond, with a bend between, sets crab where it rises alone: 3° at 0.25° per percent.
func TestCrabPerPercentWhereGroundRises(t *testing.T) {
	s, track := upAndDown(func(p plane.XY) float64 { return 0.12 * max(0, p.X-60) })
	w := crabbing()
	w.Drift.PerPercent = 0.25
	r := checkTracks(t, s, w, track)
	shift := func(pass int) float64 { // m that the bar's middle lies below its line
		line := r.Passes[pass].Line
		return 3 + 6*float64(pass) - trial.Paper.XY(r.Local.Point(line[len(line)/2])).X
	}
	for pass := range 20 {
		x, want := 3+6*float64(pass), 0.0
		switch {
		case x > 60+25: // the slope is that of ground within 25 m
			want = 2.5 * math.Sin(3*math.Pi/180)
		case x > 60-25:
			continue
		}
		trial.Near(t, "shift", shift(pass), want, 1e-3)
	}
	trial.Near(t, "greatest", r.Crab.Angle, 3, 1e-6)
	trial.Near(t, "shift told", r.Crab.Shift, 2.5*math.Sin(3*math.Pi/180), 1e-6)
	if f := w.Sweeps; r.Ribbons.Widest < 1.4*math.Sin(3*math.Pi/180)-0.05-1e-3 || f.Count != 24 || r.Ribbons.Length < 5*110 || r.Ribbons.Length > 11*11*120 {
		t.Errorf("%+v", *r.Ribbons)
	}
}

// Without heights, and where headings tell how a mounted set stands, nothing is supposed, and it is said.
func TestCrabPerPercentNowhere(t *testing.T) {
	s, track := slopingLog(t, true)
	flat, without := slopingLog(t, false)
	without.Heading = nil
	for name, c := range map[string]struct {
		s     trial.Sketch
		track geo.Track
	}{"headings": {s, track}, "no heights": {flat, without}} {
		w := crabbing()
		want := checkTracks(t, c.s, w, c.track)
		w.Drift.PerPercent = 0.25
		got := checkTracks(t, c.s, w, c.track)
		if !reflect.DeepEqual(got.Balance, want.Balance) || got.Ribbons.Area != want.Ribbons.Area || got.Ribbons.Supposed || !strings.Contains(trial.Say(got.Findings), noSlopes) {
			t.Errorf("%s: %+v, want %+v; %s", name, got.Balance, want.Balance, trial.Say(got.Findings))
		}
	}
}
