package coverage

import (
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestReachOfAGap: 60 m apart and way for 100 m make an ellipse with half axes of 50 and 40 m around the middle.
func TestReachOfAGap(t *testing.T) {
	s := silence{plane.XY{}, plane.XY{X: 60}, 100}
	for _, c := range []struct {
		q       plane.XY
		reached bool
		room    float64
		beside  bool
	}{
		{plane.XY{X: 30, Y: 39.9}, true, 39.8, false},
		{plane.XY{X: 30, Y: 40.1}, false, 40.2, true},
		{plane.XY{X: 79.9}, true, 19.8, false},
		{plane.XY{X: 80.1}, false, 20.2, true},
		{plane.XY{X: -19.9}, true, 19.8, false},
		{plane.XY{X: -20.1}, false, 20.2, true},
		{plane.XY{X: 60, Y: 31.9}, true, 32, true}, // above a focus: b²/a = 32 m
		{plane.XY{X: 60, Y: 32.1}, false, 32, false},
	} {
		if got := s.reaches(c.q); got != c.reached {
			t.Errorf("%v: reached %v, want %v", c.q, got, c.reached)
		}
		if got := s.beside(c.q, c.room); got != c.beside {
			t.Errorf("%v: within %g m of the line %v, want %v", c.q, c.room, got, c.beside)
		}
	}
}

// TestWhichStripsAGapDoubts: 6 m wide, at 2 m/s. The gaps are 60 m across, the strips 30 m beside their middle, 50 m
// long and 300 m² large unless a case says otherwise: 2 × √(30² + 30²) = 84.9 m of way lead there and on, 42.4 s.
func TestWhichStripsAGapDoubts(t *testing.T) {
	gap := func(seconds float64) drive.Stretch {
		return drive.Stretch{Activity: drive.ActivityUnknown, Why: "log gap", Line: []plane.XY{{X: -30}, {X: 30}}, Seconds: []float64{1e9, 1e9 + seconds}}
	}
	strip := func(y, length, area, width float64) Strip {
		return Strip{At: trial.Paper.Point(plane.XY{Y: y}), Length: length, Area: area, MaxWidth: width, Surety: SuretyCertain, Certain: area - 1, Likely: area, Cause: CauseUndriven}
	}
	other := gap(45)
	other.Why = "work state not logged"
	turning := gap(45)
	turning.Activity = drive.ActivityTurn
	untimed := gap(45)
	untimed.Seconds = []float64{1e9, 1e9}
	for _, c := range []struct {
		name string
		gaps []drive.Stretch
		s    Strip
		want bool
	}{
		{"within reach", []drive.Stretch{gap(43)}, strip(30, 50, 300, 6), true},
		{"half a second too short", []drive.Stretch{gap(42)}, strip(30, 50, 300, 6), false},
		{"on the other side", []drive.Stretch{gap(43)}, strip(-30, 50, 300, 6), true},
		{"as long as the way", []drive.Stretch{gap(43)}, strip(30, 85.9, 300, 6), true},
		{"longer than the way", []drive.Stretch{gap(43)}, strip(30, 86.1, 300, 6), false},
		{"as large as the way works", []drive.Stretch{gap(43)}, strip(30, 50, 515, 6), true},
		{"larger than the way works", []drive.Stretch{gap(43)}, strip(30, 50, 517, 6), false},
		{"two gaps together have the way", []drive.Stretch{gap(43), gap(43)}, strip(30, 171, 1000, 6), true},
		{"two gaps together do not", []drive.Stretch{gap(43), gap(43)}, strip(30, 173, 1000, 6), false},
		{"no room for a pass", []drive.Stretch{gap(43)}, strip(30, 50, 300, nearly*6-0.1), false},
		{"just room for a pass", []drive.Stretch{gap(43)}, strip(30, 50, 300, nearly*6+0.1), true},
		{"narrow, but within a width of the line across", []drive.Stretch{gap(43)}, strip(5.9, 50, 20, 0.4), true},
		{"narrow, beyond a width of the line across", []drive.Stretch{gap(43)}, strip(6.1, 50, 20, 0.4), false},
		{"an hour", []drive.Stretch{gap(3600)}, strip(30, 50, 300, 6), true},
		{"more than an hour: a break", []drive.Stretch{gap(3601)}, strip(30, 50, 300, 6), false},
		{"without times", []drive.Stretch{untimed}, strip(30, 50, 300, 6), false},
		{"the state is not logged, but the fixes are", []drive.Stretch{other}, strip(30, 50, 300, 6), false},
		{"a turn", []drive.Stretch{turning}, strip(30, 50, 300, 6), false},
	} {
		r := Result{Local: trial.Paper, Work: drive.Work{Width: 6.2, Overlap: 0.2}, Log: c.gaps, Strips: []Strip{c.s}}
		r.Effort.Speed.Median = 2
		r.doubtGaps()
		g := r.Strips[0]
		if got := g.Cause == CauseGap; got != c.want {
			t.Errorf("%s: by the gap %v, want %v", c.name, got, c.want)
		}
		if doubted := g.Surety == SuretyLikely && g.Certain == 0; doubted != c.want || !c.want && g.Surety != SuretyCertain {
			t.Errorf("%s: %q, %g m² certain", c.name, g.Surety, g.Certain)
		}
	}
}
