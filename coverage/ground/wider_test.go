package ground

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// TestSuretyByTwoEngines: the ground missed when every bar is wider or narrower by
// its own error, on tracks no set would drive and on invented operations. Here
// every quad between two bars is a piece of its own; the engine under test gets
// legs.
func TestSuretyByTwoEngines(t *testing.T) {
	seed := check.Seed(t)
	judged, failed, worst := 0, 0, 0.0
	n := uint64(12)
	if testing.Short() || trial.UnderRaceDetector() {
		n = 4
	}
	for k := range n {
		rng := rand.New(rand.NewPCG(seed, k))
		s, w := trial.Wild(rng), drive.Work{Width: []float64{1, 3, 6}[rng.IntN(3)]}
		if k%4 == 0 {
			s, w = trial.Operation(rng), drive.Work{Width: 5, Overlap: 0.1}
		}
		track, f := s.Track(), s.Field()
		for range track.Fixes() {
			track.Quality = append(track.Quality, []geo.Quality{geo.QualityFixed, geo.QualityFloat, geo.QualitySingle, geo.QualityNone}[rng.IntN(4)])
		}
		field, runs := f.OnPlane(f.Local()), runsOf(t, f, []geo.Track{track}, w)
		for _, share := range []float64{1, 0.5, -1} {
			got, _, err := MissedAt(t.Context(), field, runs, w, share, false)
			if err != nil {
				t.Errorf("seed %d, case %d, share %g: %v", seed, k, share, err)
				continue
			}
			var passes [][]plane.Outline
			for _, one := range runs {
				passes = append(passes, quadsApart(new(rooms).barsWithin(&one, w.Overlap, share)))
			}
			limit := opinionShare * AreaOf(field)
			var its float64
			for _, how := range tries {
				if its, err = missedOf(field, passes, how); err == nil && (how.checked || math.Abs(its-got) <= limit) {
					break
				}
			}
			if err != nil {
				failed++
				t.Logf("seed %d, case %d, share %g: the independent engine: %v", seed, k, share, err)
				continue
			}
			judged++
			worst = max(worst, math.Abs(its-got))
			trial.Near(t, fmt.Sprintf("seed %d, case %d, share %g: missed", seed, k, share), got, its, limit)
		}
	}
	t.Logf("%d judged, %d not, largest difference %.2g m²", judged, failed, worst)
	if failed > judged/4 {
		t.Errorf("the independent engine failed on %d of %d", failed, judged+failed)
	}
}

// quadsApart is the ground of every step of the bars as an outline of its own.
func quadsApart(bars []bar) []plane.Outline {
	var sw swath
	for i := range len(bars) - 1 {
		lane := laneWork
		switch {
		case bars[i].next == drive.StepUnknown:
			lane = laneUnknown
		case !bars[i].next.Ground():
			continue
		}
		for _, p := range pieces(quad(bars, i)) {
			sw.add(p, lane)
		}
	}
	return sw.outlines
}

// TestTheOpinionOnSuretyCanDiffer: a tenth of a millimetre more error is seen.
func TestTheOpinionOnSuretyCanDiffer(t *testing.T) {
	s := trial.Gapped(0.3)
	f, w := s.Field(), drive.Work{Width: 6, PassError: 0.1}
	field, runs := f.OnPlane(f.Local()), runsOf(t, f, []geo.Track{s.Track()}, w)
	least, _, err := MissedAt(t.Context(), field, runs, w, 1, false)
	if err != nil {
		t.Fatal(err)
	}
	for e, want := range map[float64]float64{0.1: 20, 0.1001: 19.99} {
		var passes [][]plane.Outline
		for _, one := range runs {
			for i := range one.Parts {
				one.Parts[i].Width, one.Parts[i].PassError = 6, e
			}
			passes = append(passes, quadsApart(new(rooms).barsWithin(&one, 0, 1)))
		}
		its, err := missedOf(field, passes, tries[1])
		if err != nil {
			t.Fatal(err)
		}
		trial.Near(t, fmt.Sprintf("error %g m: missed", e), its, want, 1e-4)
		if seen := math.Abs(its-least) > opinionShare*AreaOf(field); seen != (e != 0.1) {
			t.Errorf("error %g m: the independent engine says %g m², ours with 0.1 m %g m²", e, its, least)
		}
	}
}

// What is missed on a field moved aside, from the bars near its boundary alone, is what all bars say of the moved field.
func TestMissedMoved(t *testing.T) {
	for seed := range uint64(12) {
		rng := rand.New(rand.NewPCG(seed, 14))
		s, w := trial.Wild(rng), drive.Work{Width: 3}
		if seed%2 == 0 {
			s, w = trial.Operation(rng), drive.Work{Width: 5, Overlap: 0.1}
		}
		f := s.Field()
		field, runs := f.OnPlane(f.Local()), runsOf(t, f, []geo.Track{s.Track()}, w)
		by := plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()}
		moved := make([]plane.Polygon, len(field))
		for i, p := range field {
			for _, r := range p {
				ring := slices.Clone(r)
				for k, q := range ring {
					ring[k] = plane.Snap(q.Add(by))
				}
				moved[i] = append(moved[i], ring)
			}
		}
		before, _, err := MissedAt(t.Context(), field, runs, w, 0, false)
		if err != nil {
			t.Fatal(err)
		}
		want, _, err := MissedAt(t.Context(), moved, runs, w, 0, false)
		if err != nil {
			t.Fatal(err)
		}
		got, err := MissedMoved(t.Context(), field, rimOf(field), runs, w, by, before)
		if err != nil || math.Abs(got-want) > 1e-4 || want == before {
			t.Errorf("seed %d, by %v: %.6f m² missed, want %.6f (%.6f before), %v", seed, by, got, want, before, err)
		}
		if laid := appendNear(nil, barsOf(&runs[0], 0), new(plane.Edges).Meet, 1); laid != nil {
			t.Errorf("seed %d: %d outlines near nothing", seed, len(laid))
		}
	}
}
