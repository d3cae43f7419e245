package coverage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestWhatALogCanTell: the same day's work, seen by receivers of different kinds. Where the error is known and
// small the log is firm, by however much its passes wander; where nothing is known of it the passes' unevenness is the
// bound; a telephone's log can tell no strips of this width.
func TestWhatALogCanTell(t *testing.T) {
	const seed = 7
	t.Logf("seed %d", seed)
	p := plans()[0]
	w := drive.Work{Width: 6, Overlap: 0.1, Rounds: p.rounds}
	for _, c := range []struct {
		name          string
		wander, white float64 // m
		quality       geo.Quality
		passError     float64
		want          Grasp
	}{
		{"fixed, exact lines", 0.01, 0.01, geo.QualityFixed, 0, GraspFirm},
		{"fixed, steered by eye", 0.5, 0.01, geo.QualityFixed, 0, GraspFirm},
		{"the same, quality not logged", 0.5, 0.01, geo.QualityNone, 0, GraspRange},
		{"2.8 cm, quality not logged", 0.014, 0.01, geo.QualityNone, 0, GraspRange},
		{"20 cm, quality not logged", 0.1, 0.03, geo.QualityNone, 0, GraspRange},
		{"20 cm, differential", 0.1, 0.03, geo.QualityDifferential, 0, GraspFirm},
		{"a telephone, 3 m of wander", 3, 0.35, geo.QualityNone, 0, GraspNone},
		{"a telephone, 8 m of white noise", 0.5, 8, geo.QualityNone, 0, GraspNone},
		{"smooth, but 3 m of wander", 3, 0.01, geo.QualityNone, 0, GraspRange},
		{"3 m of error given", 0.5, 0.01, geo.QualityNone, 3, GraspNone},
		{"a known 20 cm beside 3 m of unevenness", 3, 0.02, geo.QualityFloat, 0, GraspFirm},
	} {
		rng := rand.New(rand.NewPCG(seed, 1))
		log, _ := shiftOf(p, w, rng).logged(1, c.wander, c.white, 0, rng)
		track := log.Track()
		if c.quality != geo.QualityNone {
			for range track.Fixes() {
				track.Quality = append(track.Quality, c.quality)
			}
		}
		w := w
		w.PassError = c.passError
		r := checkTracks(t, log, w, track)
		got := r.Telling
		name := fmt.Sprintf("%s (error %.2f m, uneven %.2f, white %.2f; %.0f m² missed, %.0f to %.0f)", c.name, got.Error, got.Uneven, got.White, r.Balance.Missed, got.Missed[0], got.Missed[1])
		t.Log(name)
		if got.Strips != c.want {
			t.Errorf("%s: %q, want %q", name, got.Strips, c.want)
		}
		if got.Missed[0] > r.Balance.Missed || got.Missed[1] < r.Balance.Missed-1e-6 {
			t.Errorf("%s: the log shows %.1f m² missed, outside the range", name, r.Balance.Missed)
		}
		if c.want == GraspNone && (got.Missed[0] != 0 || r.Telling.Missed[0] != 0) {
			t.Errorf("%s: a log that cannot tell strips says that there are some", name)
		}
		for _, s := range r.Strips {
			if c.want == GraspNone && s.Surety != SuretyUnknown {
				t.Fatalf("%s: strip %d is called %s", name, s.Number, s.Surety)
			}
		}
	}
}

// TestSteeredByItsReceiver: rows of 6 m lie exactly side by side in the log of a receiver that errs by 1 m from pass to pass, and one row of 200 m is left out. So the
// receiver was better, and 1200 m² are missed, or it steered, and its error parts the passes on the ground alone. Then each pass lies off by N(0, s²) with s = 1/1.96/√2 m,
// and a join of two opens by E max(0, N(0, 2s²)) = s/√π in the mean (moments of the half-normal distribution), beside boundary and at ends by s/√2π. Where the rows of the log
// lie as unevenly as such a receiver has them, the error is in the log, and makes part of what it shows.
func TestSteeredByItsReceiver(t *testing.T) {
	const passError, rows, length = 1., 13, 200.
	laid := func(off func(int) float64) Result {
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, length, 6*(rows+1))}}
		var ys []float64
		for k := range rows {
			y := 6*float64(k) + 3 + off(k)
			if k > 3 {
				y += 6
			}
			ys = append(ys, y)
		}
		s.Lines = trial.Rows(0, length, ys...)
		return checked(t, s, drive.Work{Width: 6, PassError: passError})
	}
	even := laid(func(int) float64 { return 0 })
	logged, most := even.Balance.Missed, even.Telling.Missed[1]
	if math.Abs(logged-6*length) > 1 || math.Abs(even.Noise.MissedBest-logged) > 0.1 {
		t.Errorf("%.1f m² as logged, want %.0f; %.1f m² as the best estimate, want as logged", logged, 6*length, even.Noise.MissedBest)
	}
	s := passError / drive.In95 / math.Sqrt2
	steered := logged + (rows-2)*length*s/math.Sqrt(math.Pi) + 2*(length+rows*6)*s/math.Sqrt(2*math.Pi)
	if most < steered || most > 1.3*steered {
		t.Errorf("up to %.0f m² may be missed; steered by the receiver it is %.0f m² in the mean", most, steered)
	}
	offs := []float64{0.4, -0.3, 0.2, -0.5, 0.1, 0.5, -0.4, -0.1, 0.3, -0.2, 0.4, -0.4, 0.1} // m, deviation 0.33
	if r := laid(func(k int) float64 { return offs[k] }); r.Noise.MissedBest > 0.95*r.Balance.Missed {
		t.Errorf("rows as uneven as the receiver has them: %.0f m² as logged, %.0f m² as the best estimate", r.Balance.Missed, r.Noise.MissedBest)
	}
}
