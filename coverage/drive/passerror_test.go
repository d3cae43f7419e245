package drive

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/geo"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// TestErrorByQuality: better fixes err less; the RTK figure is 1.96 × 1.43 cm.
func TestErrorByQuality(t *testing.T) {
	trial.Near(t, "fixed", ErrorOf(geo.QualityFixed), 0.028, 5e-4)
	last := 0.0
	for _, q := range []geo.Quality{geo.QualityFixed, geo.QualityFloat, geo.QualityDifferential, geo.QualitySingle} {
		if e := ErrorOf(q); !(e > last && e <= maxPassError) {
			t.Errorf("quality %d: %g m, want above %g m", q, e, last)
		} else {
			last = e
		}
	}
	for _, q := range []geo.Quality{geo.QualityUnknown, geo.QualityNone, geo.QualityEstimated} {
		if e := ErrorOf(q); !math.IsNaN(e) {
			t.Errorf("quality %d: %g m, want none known", q, e)
		}
	}
}

// onSteps are 30 places rounded to whole steps, lon and lat in turn.
func onSteps(rng *rand.Rand, perDegree float64) []float64 {
	var flat []float64
	for range 30 {
		flat = append(flat, math.Round((11+rng.Float64())*perDegree)/perDegree, math.Round((-48-rng.Float64())*perDegree)/perDegree)
	}
	return flat
}

// besideWhole are places with 8 decimals within 70 m of 11° E, 50° N.
func besideWhole(rng *rand.Rand) (flat []float64) {
	for range 50 {
		flat = append(flat, 11+math.Round(6e4*(2*rng.Float64()-1))/1e8, 50+math.Round(6e4*(2*rng.Float64()-1))/1e8)
	}
	return flat
}

// ninth are places rounded to 9 decimals.
func ninth(flat []float64) []float64 {
	for i, v := range flat {
		flat[i] = math.Round(v*1e9) / 1e9
	}
	return flat
}

func TestStepOfCoordinates(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	some := onSteps(rng, 1e6)
	for _, c := range []struct {
		name  string
		flat  []float64
		want  float64 // m
		words string
	}{
		{"5 decimals of a degree", onSteps(rng, 1e5), 1.11, "5 decimals of a degree"},
		{"6 decimals of a degree", onSteps(rng, 1e6), 0.111, "6 decimals of a degree"},
		{"7 decimals of a degree", onSteps(rng, 1e7), 0.0111, "7 decimals of a degree"},
		{"4 decimals of a minute", onSteps(rng, 60e4), 0.185, "4 decimals of a minute"},
		{"5 decimals of a minute", onSteps(rng, 60e5), 0.0185, "5 decimals of a minute"},
		{"not rounded", onSteps(rng, 1e15), 0, ""},
		{"one fix with more digits", append(slices.Clone(some), 11.00000012, 48), 0.00111, "8 decimals of a degree"},
		{"beside a whole degree", besideWhole(rng), 0.00111, "8 decimals of a degree"},
		{"minutes, written as degrees with 9 decimals", ninth(onSteps(rng, 60e4)), 0.185, "4 decimals of a minute"},
		{"19 fixes are too few to tell", some[:38], 0, ""},
		{"20 fixes are enough", some[:40], 0.111, "6 decimals of a degree"},
		{"a fix that is no place", append(slices.Clone(some), math.NaN(), math.Inf(1)), 0.111, "6 decimals of a degree"},
		{"no fixes", nil, 0, ""},
	} {
		got, words := stepOf(c.flat, 2)
		trial.Near(t, c.name, got, c.want, 0.01*c.want)
		if words != c.words {
			t.Errorf("%s: %q, want %q", c.name, words, c.words)
		}
	}
}

// TestRoundingErrorByDrawing: 95 % of the differences of two rounded places lie
// within it, in any direction, and not much less would do.
func TestRoundingErrorByDrawing(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	const q, draws = 0.11, 200_000
	off := func() float64 { // of one rounded coordinate
		v := 1000 * rng.Float64()
		return math.Round(v/q)*q - v
	}
	for _, degrees := range []float64{0, 20, 45, 90} {
		sin, cos := math.Sincos(degrees * math.Pi / 180)
		inside := 0
		for range draws {
			if d := cos*(off()-off()) + sin*(off()-off()); math.Abs(d) <= roundingError(q) {
				inside++
			}
		}
		// 200,000 draws tell a share to 0.0005 (standard deviation); 0.776 q would
		// hold 95.0 % along the axes, 0.8 q holds 96.0 %.
		if share := float64(inside) / draws; share < 0.948 || share > 0.962 {
			t.Errorf("at %g°: %.4f of the differences lie within %.4f m, want 0.95 to 0.96", degrees, share, roundingError(q))
		}
	}
}
