package coverage

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"

	geom "github.com/twpayne/go-geom"
)

// TestCuttingATrackIntoFilesChangesNothing: between two fixes and at a fix, with a
// logged state, with one told from driving, and with none.
func TestCuttingATrackIntoFilesChangesNothing(t *testing.T) {
	const limit = 1e-9
	for seed := range trial.Few(6) {
		rng := rand.New(rand.NewPCG(seed, 71))
		s := trial.Operation(rng).Timed(1)
		for _, evidence := range []drive.Evidence{drive.EvidenceLogged, drive.EvidenceInferred, drive.EvidenceAll} {
			if evidence == drive.EvidenceLogged {
				for _, l := range s.Lines {
					state := make([]geo.WorkState, len(l))
					for i := range state {
						state[i] = geo.Working
						if i%40 > 33 {
							state[i] = geo.Lifted
						}
					}
					s.State = append(s.State, state)
				}
			}
			w := drive.Work{Width: 5, Overlap: 0.1, Headland: 8, Working: evidence}
			whole := checked(t, s, w)
			want, cuts := shares(whole), s.Cuts(rng)
			if len(cuts) < 5 || want["missed"] == 0 {
				t.Fatalf("seed %d: too tame: %d cuts, %v", seed, len(cuts), want)
			}
			for _, shared := range []bool{false, true} {
				r := checkTracks(t, s, w, trial.FilesOf(s.Track(), cuts, shared)...)
				if len(r.Passes) != len(whole.Passes) {
					t.Errorf("seed %d, %s, fix in both %v: %d passes, the whole track has %d", seed, evidence, shared, len(r.Passes), len(whole.Passes))
				}
				for k, v := range shares(r) {
					if !(math.Abs(v-want[k]) <= limit) {
						t.Errorf("seed %d, %s, fix in both %v, %s: %.12g of the field, was %.12g", seed, evidence, shared, k, v, want[k])
					}
				}
			}
		}
	}
}

// TestWhichTracksAreJoined: two tracks along y = 5, 2 m and 1 s from fix to fix; the
// first ends at x = 100 and 50 s, the second starts as drawn.
func TestWhichTracksAreJoined(t *testing.T) {
	field := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-10, 0, 250, 60)}}
	line := func(from plane.XY, start float64) geo.Track {
		s := trial.Sketch{Lines: [][]plane.XY{trial.Straight(from, from.Add(plane.XY{X: 100}), 2)}}.Timed(1)
		for i := range s.Times[0] {
			s.Times[0][i] += start - 1.7e9
		}
		return s.Track()
	}
	first := line(plane.XY{Y: 5}, 0)
	untimed := func(x float64) geo.Track {
		return trial.Sketch{Lines: [][]plane.XY{trial.Straight(plane.XY{X: x, Y: 5}, plane.XY{X: x + 100, Y: 5}, 2)}}.Track()
	}
	wide := line(plane.XY{X: 102, Y: 5}, 51)
	for range wide.Fixes() {
		wide.Width = append(wide.Width, 10)
	}
	nothing := geo.Track{Source: "empty", Line: geom.NewMultiLineString(geom.XYM)}
	for name, c := range map[string]struct {
		tracks []geo.Track
		passes int
	}{
		"a step and a second on":                        {[]geo.Track{first, line(plane.XY{X: 102, Y: 5}, 51)}, 1},
		"a file without fixes between":                  {[]geo.Track{first, nothing, line(plane.XY{X: 102, Y: 5}, 51)}, 1},
		"the set stood for eight seconds":               {[]geo.Track{first, line(plane.XY{X: 102, Y: 5}, 58)}, 1},
		"20 m in ten seconds":                           {[]geo.Track{first, line(plane.XY{X: 120, Y: 5}, 60)}, 1},
		"aside after a turn that no file holds":         {[]geo.Track{first, line(plane.XY{X: 100, Y: 15}, 58)}, 2},
		"back after a turn that no file holds":          {[]geo.Track{first, line(plane.XY{X: 92, Y: 15}, 58)}, 2},
		"20 m in eleven seconds are a log gap":          {[]geo.Track{first, line(plane.XY{X: 120, Y: 5}, 61)}, 2},
		"26 m in five seconds are a log gap":            {[]geo.Track{first, line(plane.XY{X: 126, Y: 5}, 55)}, 2},
		"20 m in a second are another machine":          {[]geo.Track{first, line(plane.XY{X: 100, Y: 25}, 51)}, 2},
		"5 m in a second are another machine ahead":     {[]geo.Track{first, line(plane.XY{X: 105, Y: 5}, 51)}, 2},
		"two machines side by side":                     {[]geo.Track{first, line(plane.XY{Y: 15}, 0)}, 2},
		"another machine starts there in the last step": {[]geo.Track{first, line(plane.XY{X: 102, Y: 5}, 49)}, 2},
		"another machine starts there at the same time": {[]geo.Track{first, line(plane.XY{X: 102, Y: 5}, 50)}, 2},
		"the later file first":                          {[]geo.Track{line(plane.XY{X: 102, Y: 5}, 51), first}, 2},
		"widths logged in one of them":                  {[]geo.Track{first, wide}, 2},
		"without times, a step on":                      {[]geo.Track{untimed(0), untimed(102)}, 2},
		"without times, at the same fix":                {[]geo.Track{untimed(0), untimed(100)}, 1},
		"times in one of them":                          {[]geo.Track{first, untimed(102)}, 2},
	} {
		r := checkTracks(t, field, drive.Work{Width: 10, Working: drive.EvidenceAll}, c.tracks...)
		if len(r.Passes) != c.passes {
			t.Errorf("%s: got %d passes, want %d", name, len(r.Passes), c.passes)
		}
	}
}

// TestPartsAreNotJoined: a part is the track's own break, whatever lies on its two
// sides; a track that goes on leaves it one.
func TestPartsAreNotJoined(t *testing.T) {
	line := trial.Straight(plane.XY{Y: 5}, plane.XY{X: 100, Y: 5}, 2)
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}, Lines: [][]plane.XY{line[:21], line[21:]}}.Timed(1)
	for i := range s.Times[1] {
		s.Times[1][i] -= 60 // as if no part ended
	}
	for name, tracks := range map[string][]geo.Track{"whole": {s.Track()}, "cut": trial.FilesOf(s.Track(), []int{10, 30, 45}, false)} {
		r := checkTracks(t, s, drive.Work{Width: 10, Working: drive.EvidenceAll}, tracks...)
		if len(r.Passes) != 2 {
			t.Errorf("%s: got %d passes, want 2", name, len(r.Passes))
		}
		trial.Near(t, name+": missed between the parts", r.Balance.Missed, 20, trial.Square100)
	}
}

// TestFilesOfTwoSetsTakenInTurns: two sets log at once, each starts a new file every ten seconds, and the
// files come in the order in which they begin. No pass is broken: two passes, the same ground.
func TestFilesOfTwoSetsTakenInTurns(t *testing.T) {
	field := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(-10, 0, 250, 60)}}
	set := func(y, start float64) geo.Track {
		s := trial.Sketch{Lines: [][]plane.XY{trial.Straight(plane.XY{Y: y}, plane.XY{X: 200, Y: y}, 2)}}.Timed(1)
		for i := range s.Times[0] {
			s.Times[0][i] += start
		}
		return s.Track()
	}
	a, b := set(5, 0), set(30, 0.25)
	cuts := []int{10, 20, 30, 40, 50, 60, 70, 80, 90}
	whole := checkTracks(t, field, drive.Work{Width: 5}, a, b)
	var files []geo.Track
	parts := [2][]geo.Track{trial.FilesOf(a, cuts, false), trial.FilesOf(b, cuts, false)}
	for i := range parts[0] {
		files = append(files, parts[0][i], parts[1][i])
	}
	r := checkTracks(t, field, drive.Work{Width: 5}, files...)
	if len(r.Passes) != 2 || len(whole.Passes) != 2 {
		t.Errorf("%d passes of files in turns, %d of whole tracks: 2 are wanted", len(r.Passes), len(whole.Passes))
	}
	for k, v := range shares(r) {
		if w := shares(whole)[k]; !(math.Abs(v-w) <= 1e-9) {
			t.Errorf("%s: %.12g of the field, of whole tracks %.12g", k, v, w)
		}
	}
}
