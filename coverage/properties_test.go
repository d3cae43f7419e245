package coverage

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// shares are the areas of a balance as shares of the field.
func shares(r Result) map[string]float64 {
	b := r.Balance
	m := map[string]float64{"missed": b.Missed, "unknown": b.Unknown, "once": b.Once, "twice": b.Twice, "more": b.More,
		"outside": b.Outside, "swath": b.Swath, "full missed": r.FullMissed, "headland missed": r.Headland.Missed, "headland twice": r.Headland.Twice}
	for k := range m {
		m[k] /= b.Field
	}
	return m
}

// TestNothingChangesWhen: shifting, turning, mirroring, reading backwards and
// splitting at fixes change no share of the field by more than 1e-9. Moves stay
// near the middle of the drawing, where the plane's own scale error is below that.
func TestNothingChangesWhen(t *testing.T) {
	const limit = 1e-9
	for seed := range trial.Few(12) {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(seed, 1))
			s := trial.Operation(rng)
			w := drive.Work{Width: 5, Overlap: 0.1, Headland: 8}
			want := shares(checked(t, s, w))
			if want["twice"] == 0 || want["missed"] == 0 || want["outside"] == 0 {
				t.Fatalf("the sketch is too tame: %v", want)
			}
			sin, cos := math.Sincos(rng.Float64() * 2 * math.Pi)
			for name, o := range map[string]trial.Sketch{
				"shifted":        s.Moved(func(p plane.XY) plane.XY { return p.Add(plane.XY{X: 37.3, Y: -21.9}) }),
				"turned by 180°": s.Moved(func(p plane.XY) plane.XY { return plane.XY{X: -p.X, Y: -p.Y} }),
				"turned":         s.Moved(func(p plane.XY) plane.XY { return plane.XY{X: cos*p.X - sin*p.Y, Y: sin*p.X + cos*p.Y} }),
				"mirrored":       s.Moved(func(p plane.XY) plane.XY { return plane.XY{X: -p.X, Y: p.Y} }),
				"backwards":      s.Reversed(),
				"split":          s.Split(rng),
			} {
				got := shares(checked(t, o, w))
				for k, v := range want {
					if !(math.Abs(got[k]-v) <= limit) {
						t.Errorf("%s, %s: %.12g of the field, was %.12g (%.2g apart)", name, k, got[k], v, got[k]-v)
					}
				}
			}
		})
	}
}

// TestMoreOverlapNeverLessMissed holds for the missed ground and, the other way
// round, for the ground outside.
func TestMoreOverlapNeverLessMissed(t *testing.T) {
	for seed := range trial.Few(6) {
		s := trial.Operation(rand.New(rand.NewPCG(seed, 2)))
		missed, untouched := -1.0, 0.0
		for i, o := range []float64{0, 0.05, 0.1, 0.3, 1, 3} {
			r := checked(t, s, drive.Work{Width: 5, Overlap: o})
			if r.Balance.Missed < missed-1e-9*r.Balance.Field {
				t.Errorf("seed %d: overlap %g m leaves %g m² missed, less overlap left %g m²", seed, o, r.Balance.Missed, missed)
			}
			missed = r.Balance.Missed
			if i == 0 {
				untouched = r.FullMissed
				trial.Near(t, "missed at full width without overlap", untouched, missed, 1e-9*r.Balance.Field)
			}
			trial.Near(t, "missed at full width, whatever the overlap", r.FullMissed, untouched, 1e-9*r.Balance.Field)
		}
	}
}

// TestWorkersChangeNothing: the same bytes out.
func TestWorkersChangeNothing(t *testing.T) {
	s := trial.Operation(rand.New(rand.NewPCG(3, 3)))
	one := checked(t, s, drive.Work{Width: 5, Headland: 10, Workers: 1})
	for _, n := range []int{2, 7} {
		got := checked(t, s, drive.Work{Width: 5, Headland: 10, Workers: n})
		got.Work.Workers = 1
		if fmt.Sprintf("%+v", got) != fmt.Sprintf("%+v", one) {
			t.Errorf("%d workers give another result than one", n)
		}
	}
}
