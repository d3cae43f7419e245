package coverage

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
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
