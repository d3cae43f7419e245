package coverage

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// spaced is a field of 100 m with passes 6 m wide, one beside the other with these gaps between them. Its boundary is
// the middle of the outer ones, and the others go on beyond it, so that no error leaves anything there.
func spaced(gaps []float64) trial.Sketch {
	y := 3.0
	ys := []float64{y}
	for _, g := range gaps {
		y += 6 + g
		ys = append(ys, y)
	}
	return trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 3, 100, y)}, Lines: trial.Rows(-5, 105, ys...)}
}

// TestRangeOfMissedInClosedForm: with a pass-to-pass error e a gap of 100 m has 100·e m² more or less, at 95 %, extrapolated times that, and
// two gaps beside one pass have what the other loses, so that a whole field errs no more than one gap does.
func TestRangeOfMissedInClosedForm(t *testing.T) {
	same := func(n int, g float64) []float64 {
		out := make([]float64, n)
		for k := range out {
			out[k] = g
		}
		return out
	}
	for _, c := range []struct {
		name        string
		gaps        []float64 // m
		best        float64   // m²
		least, most float64
		within      float64 // m², of a range from draws

	}{
		{"one gap of 40 cm", same(1, 0.4), 40, 35.4, 44.6, 3.5},
		{"nine gaps of 40 cm", same(9, 0.4), 360, 355.4, 364.6, 3.5},
	} {
		r := checked(t, spaced(c.gaps), drive.Work{Width: 6, PassError: 0.04})
		n := r.Noise
		trial.Near(t, c.name+": best", n.MissedBest, c.best, c.within)
		trial.Near(t, c.name+": least", r.Telling.Missed[0], c.least, c.within)
		trial.Near(t, c.name+": most", r.Telling.Missed[1], c.most, c.within)
	}
	// Passes that just meet: nothing is missed as logged, and what an error would make is no part of the estimate.
	r := checked(t, spaced(same(9, 0)), drive.Work{Width: 6, PassError: 0.04})
	if n := r.Noise; n.MissedBest > 1 || r.Telling.Missed[0] != 0 || r.Telling.Missed[1] < 3 {
		t.Errorf("passes that just meet: %+v", n)
	}
}

// TestMissedOfANoisyLog: what a log shows as missed is more than there is, since an error of the receiver makes gaps and closes
// none that was closed. The best estimate is right in the mean, whether passes are steered to lap or just to meet, and the range holds
// the truth, and does not reach down to nothing.
func TestMissedOfANoisyLog(t *testing.T) {
	if trial.UnderRaceDetector() {
		t.Skip("numbers of many fields, each laid as elsewhere")
	}
	const seed = 1 // a mean over so few fields is right within a tenth or so, and a drawn seed would now and then fall out
	const fields, passes = 100, 16
	for name, c := range map[string]struct{ error95, spread, lap, shown, within, least float64 }{
		"steered for a lap of 3 cm":   {0.0428, 0.04, 0.03, 1.2, 0.1, 0.25},
		"steered to meet":             {0.0428, 0.04, 0, 1.05, 0.1, 0.5},
		"differential, a lap of 2 cm": {0.34, 0.1, 0.02, 1.5, 0.25, 0.15},
	} {
		var truth, shown, best, least float64
		held := 0
		for k := range uint64(fields) {
			rng := rand.New(rand.NewPCG(seed, k))
			logged, off := make([]float64, passes-1), make([]float64, passes)
			for i := range off {
				off[i] = c.error95 / drive.In95 / math.Sqrt2 * rng.NormFloat64()
			}
			really := 0.0
			for i := range logged {
				gap := c.spread*rng.NormFloat64() - c.lap
				really += 100 * max(0, gap)
				logged[i] = gap + off[i+1] - off[i]
			}
			r := checked(t, spaced(logged), drive.Work{Width: 6, PassError: c.error95})
			truth, shown, best = truth+really, shown+r.Balance.Missed, best+r.Noise.MissedBest
			least += r.Telling.Missed[0]
			if r.Telling.Missed[0] <= really && really <= r.Telling.Missed[1] {
				held++
			}
		}
		t.Logf("%s: true %.0f m², as logged %.0f, best estimate %.0f, least %.0f; in the range %d of %d", name, truth, shown, best, least, held, fields)
		if math.Abs(best-truth) > c.within*truth || shown < c.shown*truth {
			t.Errorf("%s: true %.0f m², as logged %.0f, best estimate %.0f", name, truth, shown, best)
		}
		if least < c.least*truth {
			t.Errorf("%s: true %.0f m², least %.0f", name, truth, least)
		}
		if held < fields*87/100 {
			t.Errorf("%s: %d of %d in the range", name, held, fields)
		}
	}
}
