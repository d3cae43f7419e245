package coverage_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/geo"
	"balk/testdata/check"
	"balk/testdata/fieldday"
	"balk/testdata/trial"

	geom "github.com/twpayne/go-geom"
)

// A recorder that runs only while the tool works leaves of a day what one that always runs does, within what a row's end is in doubt by, whether
// its passes stand in one track or in a file each, in whatever order. The ground is that under the true bar.
func TestLoggedOnlyAtWork(t *testing.T) {
	if trial.UnderRaceDetector() {
		t.Skip("some seconds of driving; what runs at the same time is tested elsewhere")
	}
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 5))
	situation := fieldday.Situations()[slices.IndexFunc(fieldday.Situations(), func(s fieldday.Situation) bool { return s.Name == "fixed, 1 Hz, mounted" })]
	const days = 3
	inside := 0
	for n := range uint64(days) {
		day, err := fieldday.Drive(situation.Driving, 1_000*seed%1_000_000+n)
		if err != nil {
			t.Fatal(err)
		}
		truth, err := day.Judge(t.Context(), situation)
		if err != nil {
			t.Fatal(err)
		}
		track, field := day.Log(situation.Receiver)
		works := func(k int) bool { return track.State[k] == geo.Working }
		only := track.Cut(works, false)
		var each []geo.Track
		for from := 0; from < len(track.State); from++ {
			to := from
			for to < len(track.State) && works(to) {
				to++
			}
			if to > from {
				each = append(each, track.Cut(func(k int) bool { return from <= k && k < to }, false))
			}
			from = to
		}
		shuffled := slices.Clone(each)
		rng.Shuffle(len(shuffled), func(i, k int) { shuffled[i], shuffled[k] = shuffled[k], shuffled[i] })
		w := drive.Work{Width: 6, Overlap: 0.1, Rounds: 2}
		for name, log := range map[string][]geo.Track{"all": {track}, "one track": {only}, "a file for each pass": each, "shuffled": shuffled} {
			for i := range log {
				log[i], _ = geo.Clean(log[i])
			}
			r, err := coverage.Check(t.Context(), field, log, w)
			if err != nil {
				t.Fatal(err)
			}
			// 80 ends of some 2.5 m a second, half of which may be missed where a row ends inside the rounds' edge.
			if got := r.Noise.MissedBest; math.Abs(got-truth.True) > 0.12*truth.True+8 || r.Balance.Unknown > 1 {
				t.Errorf("seed %d, day %d, %s: missed %.1f m², truly %.1f; unknown %.1f", seed, n, name, got, truth.True, r.Balance.Unknown)
			}
			if told := r.Telling.Missed; name != "all" && told[0] <= truth.True && truth.True <= told[1] {
				inside++
			}
		}
		// Without a state it is told by the turns that are not logged, in lines without times as well.
		silent := func(tracks []geo.Track, timed bool) (out []geo.Track) {
			for _, one := range tracks {
				if one.State = nil; !timed {
					flat, xy := one.Line.FlatCoords(), []float64(nil)
					for k := 0; k < len(flat); k += one.Line.Stride() {
						xy = append(xy, flat[k], flat[k+1])
					}
					one.Line, one.Quality = geom.NewMultiLineStringFlat(geom.XY, xy, []int{len(xy)}), nil
				}
				out = append(out, one)
			}
			return out
		}
		for name, log := range map[string][]geo.Track{"one track": silent([]geo.Track{only}, true), "a file for each pass": silent(each, true), "shuffled": silent(shuffled, true), "lines": silent(each, false)} {
			r, err := coverage.Check(t.Context(), field, log, w)
			if err != nil {
				t.Fatal(err)
			}
			told := r.Telling.Missed
			if got := r.Balance.Missed; math.Abs(got-truth.True) > 0.12*truth.True+8 || r.Balance.Unknown > 1 || told[0] > 1.1*truth.True || told[1] < 0.9*truth.True {
				t.Errorf("seed %d, day %d, %s, no state: missed %.1f m² (%.1f to %.1f), truly %.1f; unknown %.1f", seed, n, name, got, told[0], told[1], truth.True, r.Balance.Unknown)
			}
		}
		// Where the logged state is not looked at, nor is this.
		for _, working := range []drive.Evidence{drive.EvidenceAll, drive.EvidenceInferred} {
			w := w
			w.Working = working
			with, err := coverage.Check(t.Context(), field, []geo.Track{only}, w)
			if err != nil {
				t.Fatal(err)
			}
			without, err := coverage.Check(t.Context(), field, silent([]geo.Track{only}, true), w)
			if err != nil {
				t.Fatal(err)
			}
			if with.Balance != without.Balance {
				t.Errorf("seed %d, day %d, %s: missed %.3f m², without a state %.3f", seed, n, working, with.Balance.Missed, without.Balance.Missed)
			}
		}
		// A hole straight ahead is no end of work.
		middle, before := 0, 0 // of the longest pass
		for i, longest := 0, 0; i < len(each); i++ {
			if long := each[i].Fixes(); long > longest {
				longest, middle = long, before+long/2
			}
			before += each[i].Fixes()
		}
		hole := only.Cut(func(k int) bool { return k < middle-6 || k >= middle+6 }, false)
		r, err := coverage.Check(t.Context(), field, []geo.Track{hole}, w)
		if err != nil {
			t.Fatal(err)
		}
		if r.Balance.Unknown < 25 {
			t.Errorf("seed %d, day %d: %.1f m² are unknown where twelve fixes of a row are not logged", seed, n, r.Balance.Unknown)
		}
	}
	// Ranges are of 95 %, and the three logs of a day have what its receiver does in common: two days of three lie beyond in one seed of a hundred, all in one of some thousands.
	if inside < days {
		t.Errorf("seed %d: the range holds what was missed in %d of %d logs", seed, inside, 3*days)
	}
}
