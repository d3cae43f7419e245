package coverage

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"balk/geo"
)

// TestErrorByQuality: better fixes err less; the RTK figure is 1.96 × 1.43 cm.
func TestErrorByQuality(t *testing.T) {
	near(t, "fixed", errorOf(geo.QualityFixed), 0.028, 5e-4)
	last := 0.0
	for _, q := range []geo.Quality{geo.QualityFixed, geo.QualityFloat, geo.QualityDifferential, geo.QualitySingle} {
		if e := errorOf(q); !(e > last && e <= maxPassError) {
			t.Errorf("quality %d: %g m, want above %g m", q, e, last)
		} else {
			last = e
		}
	}
	for _, q := range []geo.Quality{geo.QualityUnknown, geo.QualityNone, geo.QualityEstimated} {
		if e := errorOf(q); !math.IsNaN(e) {
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
		{"19 fixes are too few to tell", some[:38], 0, ""},
		{"20 fixes are enough", some[:40], 0.111, "6 decimals of a degree"},
		{"a fix that is no place", append(slices.Clone(some), math.NaN(), math.Inf(1)), 0.111, "6 decimals of a degree"},
		{"no fixes", nil, 0, ""},
	} {
		got, words := stepOf(c.flat, 2)
		near(t, c.name, got, c.want, 0.01*c.want)
		if words != c.words {
			t.Errorf("%s: %q, want %q", c.name, words, c.words)
		}
	}
}

// TestRoundingErrorByDrawing: 95 % of the differences of two rounded places lie
// within it, in any direction, and not much less would do.
func TestRoundingErrorByDrawing(t *testing.T) {
	seed := rand.Uint64()
	t.Logf("seed %d", seed)
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

// TestCoarseCoordinatesAreTold: six decimals of a degree add 0.8 × 11 cm to the error.
func TestCoarseCoordinatesAreTold(t *testing.T) {
	rounded := func(decimals int) geo.Track {
		track := gapped(0.3).track()
		flat := track.Line.FlatCoords()
		for i := range flat {
			if i%3 < 2 { // lon, lat; the third is the time
				flat[i] = math.Round(flat[i]*math.Pow10(decimals)) / math.Pow10(decimals)
			}
		}
		return track
	}
	coarse := func(r Result) (told []string) {
		for _, f := range r.Findings {
			if strings.Contains(f.What, "coordinates come in steps") {
				told = append(told, f.What)
			}
		}
		return told
	}
	const step = 0.11112 // m, a millionth of a degree of latitude
	r := checkTracks(t, gapped(0.3), Work{Width: 6, PassError: 0.02}, rounded(6))
	near(t, "rounding", r.Noise.Rounding, 0.8*step, 1e-4)
	near(t, "error", r.Noise.PassError, math.Hypot(0.02, 0.8*step), 1e-4)
	if told := coarse(r); len(told) != 1 || !strings.Contains(told[0], "0.11 m (6 decimals of a degree)") {
		t.Errorf("told %q", told)
	}
	r = checkTracks(t, gapped(0.3), Work{Width: 6, PassError: 0.02}, rounded(7))
	near(t, "error with 7 decimals", r.Noise.PassError, math.Hypot(0.02, 0.08*step), 1e-4)
	if told := coarse(r); len(told) != 0 {
		t.Errorf("7 decimals are fine enough: told %q", told)
	}
	r = checkTracks(t, gapped(0.3), Work{Width: 6}, rounded(6))
	if told := coarse(r); len(told) != 1 || r.Noise.Rounding != 0 || !strings.Contains(told[0], "up to 0.089 m apart") {
		t.Errorf("no error to add to: told %q, rounding %g m", told, r.Noise.Rounding)
	}
}

// HDOP bounds the error where nothing says how fixes were won: a strip it leaves certain is certain,
// of others nothing is known, and none is dropped as noise.
func TestHDOPBoundsTheError(t *testing.T) {
	logged := func(gap, hdop float64, q geo.Quality) geo.Track {
		track := gapped(gap).track()
		for range track.Fixes() {
			track.HDOP = append(track.HDOP, hdop)
			if q != geo.QualityNone {
				track.Quality = append(track.Quality, q)
			}
		}
		return track
	}
	for _, c := range []struct {
		name   string
		w      Work
		track  geo.Track
		gap    float64
		from   string
		most   float64 // m
		surety Surety
	}{
		{"a wide strip", Work{Width: 6}, logged(3, 0.8, geo.QualityNone), 3, fromHDOP, 0.8, SuretyCertain},
		{"a narrow one", Work{Width: 6}, logged(0.3, 0.8, geo.QualityNone), 0.3, fromHDOP, 0.8, SuretyUnknown},
		{"qualities that say nothing", Work{Width: 6}, logged(3, 1.5, geo.QualityUnknown), 3, fromHDOP, 1.5, SuretyCertain},
		{"a quality goes before", Work{Width: 6}, logged(0.3, 0.8, geo.QualityFixed), 0.3, fromQuality, 0.0143 * in95, SuretyCertain},
		{"so does what is given", Work{Width: 6, PassError: 0.05}, logged(0.3, 0.8, geo.QualityNone), 0.3, fromGiven, 0.05, SuretyCertain},
		{"not logged after all", Work{Width: 6}, logged(0.3, math.NaN(), geo.QualityNone), 0.3, "", 0, SuretyUnknown},
		{"no more than is taken", Work{Width: 6}, logged(0.3, 99, geo.QualityNone), 0.3, fromHDOP, maxPassError, SuretyUnknown},
	} {
		r := checkTracks(t, gapped(c.gap), c.w, c.track)
		if r.Noise.PassErrorFrom != c.from || math.Abs(r.Noise.PassError-c.most) > 1e-3 || r.Noise.Pieces != 0 {
			t.Errorf("%s: %+v, want %.3f m from %q", c.name, r.Noise, c.most, c.from)
		}
		if len(r.Strips) == 0 || r.Strips[0].Surety != c.surety {
			t.Errorf("%s: %d strips, the first %q, want %q", c.name, len(r.Strips), r.Strips[0].Surety, c.surety)
		}
		if n := r.Noise; n.PassErrorFrom != "" && !(n.MissedLeast <= r.Balance.Missed && r.Balance.Missed <= n.MissedMost) {
			t.Errorf("%s: %.2f m² missed, from %.2f to %.2f", c.name, r.Balance.Missed, n.MissedLeast, n.MissedMost)
		}
	}
	// Two tracks that join, one without: nothing is known there.
	a, b := logged(0.3, 0.8, geo.QualityNone), gapped(0.3).track()
	if r := checkTracks(t, gapped(0.3), Work{Width: 6}, a, b); r.Noise.PassErrorFrom != fromHDOP {
		t.Errorf("%+v", r.Noise)
	}
}
