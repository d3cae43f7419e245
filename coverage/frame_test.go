package coverage

import (
	"math"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestFrame: ten passes that tile a field of 200 by 58 m exactly. A log in another frame, 0.7 m to the east and 0.6 m to the
// north, leaves 0.7 m along one end and 0.6 m along one side, and no join opens. The range has that only where the boundary's file
// says that it is in the map's frame; else it is given beside it.
func TestFrame(t *testing.T) {
	w := drive.Work{Width: 6, Overlap: 0.2, PassError: 0.02}
	var ys []float64
	for k := range 10 {
		ys = append(ys, 2.9+5.8*float64(k))
	}
	tiled := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 200, 58)}, Lines: trial.Rows(0, 200, ys...)}
	const missed = 200*0.6 + 58*0.7 - 0.6*0.7
	// The range reaches to about what the receiver's error makes of nine joins that meet, in the mean: each σ/√2π by 200 m.
	meet := 9 * 200 * 0.02 / drive.In95 / math.Sqrt(2*math.Pi)
	for _, c := range []struct {
		name   string
		frames drive.Frames
		want   float64
		most   float64 // of the range
	}{
		{"one frame", drive.Frames{}, 0, meet},
		{"either may be in either", drive.Frames{Map: "ETRS89", East: 0.7, North: 0.6}, missed, meet},
		{"the boundary tells its frame", drive.Frames{Map: "ETRS89", East: 0.7, North: 0.6, Told: true}, missed, missed + meet},
	} {
		w.Frames = c.frames
		r := checked(t, tiled, w)
		trial.Near(t, c.name+": missed as logged", r.Balance.Missed, 0, 1e-6)
		trial.Near(t, c.name+": missed then", r.Open.Frame.Missed, c.want, 0.01)
		if f := r.Open.Frame; f.Most != (c.want > 0) {
			t.Errorf("%s: %+v", c.name, f)
		}
		trial.Near(t, c.name+": at most", r.Telling.Missed[1], c.most, 2)
	}
	// A field whose south was left by half a metre, and a join by another: what lies along the boundary is not certain, the join is.
	var apart []float64
	for k, y := range ys {
		if k >= 5 {
			y += 0.5
		}
		apart = append(apart, y+0.5)
	}
	left := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 200, 59)}, Lines: trial.Rows(0, 200, apart...)}
	for told, want := range map[bool]Surety{false: SuretyCertain, true: SuretyLikely} {
		w.Frames = drive.Frames{Map: "ETRS89", East: 0.7, North: 0.6, Told: told}
		r := checked(t, left, w)
		edges, joins := 0, 0
		for _, s := range r.Strips {
			switch {
			case s.Cause == CauseEdge && s.Surety == want:
				edges++
			case s.Cause == CauseDrift && s.Surety == SuretyCertain:
				joins++
			}
		}
		if edges != 1 || joins != 1 || len(r.Strips) != 2 {
			t.Errorf("told %t: %d edges, %d joins of %+v", told, edges, joins, r.Strips)
		}
	}
}
