package coverage

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"

	"github.com/paulmach/orb"
)

// TestWildTracks: every track gets a balanced result, and the same one read
// backwards when it never stands.
func TestWildTracks(t *testing.T) {
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 8))
		s := trial.Wild(rng)
		w := drive.Work{Width: []float64{1, 3, 6}[rng.IntN(3)], Relap: []float64{0, 5, 100}[rng.IntN(3)], Headland: float64(rng.IntN(3))}
		r, err := Check(t.Context(), s.Field(), []geo.Track{s.Track()}, w)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		if b := r.Balance; math.Abs(b.Residual) > 1e-9*b.Field || math.Abs(b.SwathResidual) > 1e-8*b.Field {
			t.Errorf("seed %d: residuals %g and %g m²", seed, b.Residual, b.SwathResidual)
		}
	}
}

func TestWhatCannotBeChecked(t *testing.T) {
	s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 10)}, Lines: trial.Rows(0, 100, 5)}
	if _, err := Check(t.Context(), s.Field(), []geo.Track{s.Track()}, drive.Work{}); err == nil {
		t.Error("no width: no error")
	}
	if _, err := Check(t.Context(), geo.Field{}, []geo.Track{s.Track()}, drive.Work{Width: 6}); err == nil {
		t.Error("no field: no error")
	}
	flat := geo.Field{Boundary: orb.MultiPolygon{{{{11, 48}, {12, 48}, {11, 48}}}}}
	if _, err := Check(t.Context(), flat, []geo.Track{s.Track()}, drive.Work{Width: 6}); err == nil {
		t.Error("field without ground: no error")
	}
	track := s.Track()
	track.State = make([]geo.WorkState, 3)
	if _, err := Check(t.Context(), s.Field(), []geo.Track{track}, drive.Work{Width: 6}); err == nil {
		t.Error("work state shorter than the track: no error")
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, err := Check(ctx, s.Field(), []geo.Track{s.Track()}, drive.Work{Width: 6}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: got %v", err)
	}
	// No track at all is a field that was missed.
	r, err := Check(t.Context(), s.Field(), nil, drive.Work{Width: 6})
	if err != nil {
		t.Fatal(err)
	}
	trial.Near(t, "missed without a track", r.Balance.Missed, 1000, trial.Square100)
	if len(r.Strips) != 1 || r.Strips[0].Cause != CauseUndriven {
		t.Errorf("got %+v, want one strip that was not driven", r.Strips)
	}
}
