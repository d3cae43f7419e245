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

// TestSlowPartOfTheClass: what is left of an error in which white noise is, by hand: √(28.03² − 2·1.96²·w²) mm for w up to 7.15 mm, where half of the square is left, then 1.96·√2·w,
// up to the class.
func TestSlowPartOfTheClass(t *testing.T) {
	class := ErrorOf(geo.QualityFixed)
	for _, c := range []struct{ white, want float64 }{ // mm
		{0, 28.03}, {5, 24.36}, {7, 20.23}, {7.15, 19.82}, {8, 22.17}, {10, 27.72}, {10.2, 28.03}, {20, 28.03},
	} {
		trial.Near(t, "slow part", 1000*slowPart(class, 2*In95*In95*c.white*c.white/1e6), c.want, 0.01)
	}
}

// TestSlowPartIsWhatRowsDifferBy: passes that err by a slow error each and by white noise at each fix. Single fixes of two differ by the whole of it, at 95 %, and
// the means over rows of 400 fixes by its slow part.
func TestSlowPartIsWhatRowsDifferBy(t *testing.T) {
	const slow, white, fixes, pairs = 0.010, 0.006, 400, 4000 // m
	rng := rand.New(rand.NewPCG(check.Seed(t), 2))
	single, rows := 0.0, 0.0
	for range pairs {
		between, mean := math.Sqrt2*slow*rng.NormFloat64(), 0.0
		for k := range fixes {
			d := between + white*(rng.NormFloat64()-rng.NormFloat64())
			if mean += d / fixes; k == 0 {
				single += d * d / pairs
			}
		}
		rows += mean * mean / pairs
	}
	got, want := slowPart(In95*math.Sqrt(single), 2*In95*In95*white*white), In95*math.Sqrt(rows)
	t.Logf("single fixes %.4f m, rows %.4f m, told %.4f", In95*math.Sqrt(single), want, got)
	trial.Near(t, "slow part", got, want, 0.05*want) // either of so many is good to 1.1 %, and the difference of their squares to 2 %
}

// TestErrorsOfAFix: white noise is taken out of the class of fixed ambiguities alone, which was found by comparing single fixes; not of what is given, of other
// qualities, or of what HDOP bounds.
func TestErrorsOfAFix(t *testing.T) {
	const white, step = 0.007, 0.0111 // m
	rounded := trail{rounding: roundingError(step), white: math.Hypot(white, step/math.Sqrt(12))}
	rounded.Quality = []geo.Quality{geo.QualityFixed}
	of := func(q geo.Quality) *trail {
		t := trail{white: white}
		t.Quality = []geo.Quality{q}
		return &t
	}
	bound := of(geo.QualityFixed)
	bound.HDOP = []float64{0.5}
	for _, c := range []struct {
		name      string
		t         *trail
		w         Work
		all, slow float64 // m
	}{
		{"fixed", of(geo.QualityFixed), Work{}, 0.02803, 0.02023},
		{"fixed, an error given", of(geo.QualityFixed), Work{PassError: 0.02803}, 0.02803, 0.02803},
		{"fixed, bounded by HDOP", bound, Work{}, 0.5, 0.5},
		{"float", of(geo.QualityFloat), Work{}, 0.2, 0.2},
		{"differential", of(geo.QualityDifferential), Work{}, 0.34, 0.34},
		{"unknown", of(geo.QualityUnknown), Work{}, math.NaN(), 0},
		{"none logged", &trail{white: white}, Work{}, math.NaN(), 0},
		// The white noise that is seen has that of rounding in it, step/√12, which is no part of the class.
		{"fixed, rounded coordinates", &rounded, Work{}, math.Hypot(0.02803, 0.8*step), math.Hypot(0.02023, 0.8*step)},
	} {
		all, slow := c.t.errorsAt(0, c.w)
		if math.IsNaN(c.all) != math.IsNaN(all) || math.Abs(all-c.all) > 1e-5 || math.Abs(slow-c.slow) > 1e-5 {
			t.Errorf("%s: %.5f m, slow %.5f; want %.5f and %.5f", c.name, all, slow, c.all, c.slow)
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
