package coverage

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// wild is a track no set would drive: jumps, doubled fixes, standing, out and
// back on the same line, all on a coarse grid so that edges coincide.
func wild(rng *rand.Rand) sketch {
	s := sketch{rings: [][]plane.XY{rectangle(-20, -20, 20, 20), rectangle(-5, -5, 5, 5)}}
	grid := []float64{0.5, 1, 3, 1e-3}[rng.IntN(4)]
	for range 1 + rng.IntN(4) {
		p := plane.XY{X: float64(rng.IntN(20) - 10), Y: float64(rng.IntN(20) - 10)}
		line := []plane.XY{p}
		for range 2 + rng.IntN(40) {
			switch rng.IntN(8) {
			case 0: // stands
			case 1: // back to an earlier fix
				p = line[rng.IntN(len(line))]
			case 2: // jumps
				p = plane.XY{X: float64(rng.IntN(50) - 25), Y: float64(rng.IntN(50) - 25)}
			default:
				p = p.Add(plane.XY{X: 3 * rng.NormFloat64(), Y: 3 * rng.NormFloat64()})
				p = plane.XY{X: math.Round(p.X/grid) * grid, Y: math.Round(p.Y/grid) * grid}
			}
			line = append(line, p)
		}
		s.lines = append(s.lines, line)
	}
	return s
}

// TestWildTracks: every track gets a balanced result, and the same one read
// backwards when it never stands.
func TestWildTracks(t *testing.T) {
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 8))
		s := wild(rng)
		w := Work{Width: []float64{1, 3, 6}[rng.IntN(3)], Relap: []float64{0, 5, 100}[rng.IntN(3)], Headland: float64(rng.IntN(3))}
		r, err := Check(t.Context(), s.field(), []geo.Track{s.track()}, w)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		if b := r.Balance; math.Abs(b.Residual) > 1e-9*b.Field || math.Abs(b.SwathResidual) > 1e-8*b.Field {
			t.Errorf("seed %d: residuals %g and %g m²", seed, b.Residual, b.SwathResidual)
		}
	}
}

// TestWildDepth compares the depth of wild passes with counting.
func TestWildDepth(t *testing.T) {
	deep := 0
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 9))
		s := wild(rng)
		w := Work{Width: 3, Relap: []float64{5, 30}[rng.IntN(2)]}
		trails, _, err := trailsOf(t.Context(), s.field().Local(), []geo.Track{s.track()}, w)
		if err != nil {
			t.Fatal(err)
		}
		for _, tr := range trails {
			for _, sp := range byBreaks(tr) {
				r, _, ok := runOf(tr, sp, limitsOf(tr, w), w)
				if !ok {
					continue
				}
				bars := barsOf(r.stops, 0)
				sw, err := swathOf(t.Context(), bars, 0, w.Relap)
				if err != nil {
					t.Errorf("seed %d: %v", seed, err)
					continue
				}
				for range 50 {
					b := bars[rng.IntN(len(bars))]
					p := b.left.Lerp(b.right, rng.Float64()).Add(plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()})
					got := 0
					for _, o := range sw.outlines {
						if o.Lane == laneWork {
							got += winding(o.Line, p)
						}
					}
					want, _, close := counted(bars, w.Relap, p)
					if close {
						continue
					}
					if want > 1 {
						deep++
					}
					if got != want {
						t.Errorf("seed %d at %.4f, %.4f: depth %d by outlines, %d by counting", seed, p.X, p.Y, got, want)
						break
					}
				}
			}
		}
	}
	if deep < 100 {
		t.Errorf("too tame: %d points worked more than once", deep)
	}
}

func TestWhatCannotBeChecked(t *testing.T) {
	s := sketch{rings: [][]plane.XY{rectangle(0, 0, 100, 10)}, lines: rows(0, 100, 5)}
	if _, err := Check(t.Context(), s.field(), []geo.Track{s.track()}, Work{}); err == nil {
		t.Error("no width: no error")
	}
	if _, err := Check(t.Context(), geo.Field{}, []geo.Track{s.track()}, Work{Width: 6}); err == nil {
		t.Error("no field: no error")
	}
	flat := geo.Field{Boundary: orb.MultiPolygon{{{{11, 48}, {12, 48}, {11, 48}}}}}
	if _, err := Check(t.Context(), flat, []geo.Track{s.track()}, Work{Width: 6}); err == nil {
		t.Error("field without ground: no error")
	}
	track := s.track()
	track.State = make([]geo.WorkState, 3)
	if _, err := Check(t.Context(), s.field(), []geo.Track{track}, Work{Width: 6}); err == nil {
		t.Error("work state shorter than the track: no error")
	}
	ctx, stop := context.WithCancel(t.Context())
	stop()
	if _, err := Check(ctx, s.field(), []geo.Track{s.track()}, Work{Width: 6}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: got %v", err)
	}
	// No track at all is a field that was missed.
	r, err := Check(t.Context(), s.field(), nil, Work{Width: 6})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "missed without a track", r.Balance.Missed, 1000, square100)
	if len(r.Strips) != 1 || r.Strips[0].Cause != CauseUndriven {
		t.Errorf("got %+v, want one strip that was not driven", r.Strips)
	}
}
