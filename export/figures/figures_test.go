package figures

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"balk/coverage/ground"
	"balk/testdata/check"
)

// Whole m², half a metre up, and no minus before a nought.
func TestHectares(t *testing.T) {
	for m2, want := range map[float64]string{0: "0.0000", 1214.4999: "0.1214", 1214.5: "0.1215", 1214.7: "0.1215", -0.2: "0.0000", 1e6: "100.0000", 12345678.5: "1234.5679", 0.5: "0.0001"} {
		if got := Hectares(m2); got != want {
			t.Errorf("%g m²: %s ha, want %s", m2, got, want)
		}
	}
	if got := Percent(1250, 1e5); got != "1.25" {
		t.Errorf("%s %%, want 1.25", got)
	}
}

// The parts shown add up to the field shown, and each is its true value rounded up or down.
func TestBalanceAddsUp(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 3))
	for range 2000 {
		b := ground.Balance{Once: 1e5 * rng.Float64(), Twice: 1e3 * rng.Float64(), More: rng.Float64(), Missed: 100 * rng.Float64(), Unknown: float64(rng.IntN(3)) / 2}
		b.Field = b.Once + b.Twice + b.More + b.Missed + b.Unknown
		r := Of(b)
		if got := r.Missed.Percent(); got != strconv.FormatFloat(float64(r.Missed.Share)/100, 'f', 2, 64) {
			t.Fatalf("%d hundredths are %s %%", r.Missed.Share, got)
		}
		sum := r.Once.Plus(r.Twice).Plus(r.More).Plus(r.Missed).Plus(r.Unknown)
		if sum.Ha() != Hectares(b.Field) || sum.Share != 1e4 {
			t.Fatalf("%+v: parts add up to %s ha and %s %%, the field is %s", b, sum.Ha(), sum.Percent(), Hectares(b.Field))
		}
		for i, p := range []Part{r.Once, r.Twice, r.More, r.Missed, r.Unknown} {
			m2 := []float64{b.Once, b.Twice, b.More, b.Missed, b.Unknown}[i]
			if ha, err := strconv.ParseFloat(p.Ha(), 64); err != nil || math.Abs(ha*1e4-m2) >= 1+1e-6 || math.Abs(float64(p.Share)-1e4*m2/b.Field) >= 1+1e-6 {
				t.Fatalf("part %d: %s ha, %s %%, is %g m² of %g", i, p.Ha(), p.Percent(), m2, b.Field)
			}
		}
	}
}

// What does not add up in truth must not be made to.
func TestApportionHidesNoHole(t *testing.T) {
	if got := apportion([]float64{10, 20}, 50, 1); !slices.Equal(got, []int64{10, 20}) {
		t.Errorf("%v, want the parts as they are", got)
	}
}

// The largest remainders go up; of equal ones those that come first. Worked out by hand.
func TestApportionGivesToTheLargestRemainders(t *testing.T) {
	for name, c := range map[string]struct {
		parts       []float64
		whole, unit float64
		want        []int64
	}{
		"one short, .7 is the largest":     {[]float64{1.1, 1.7, 1.2}, 4, 1, []int64{1, 2, 1}},
		"two short, .7 and .6":             {[]float64{1.6, 1.7, 1.2, 0.5}, 5, 1, []int64{2, 2, 1, 0}},
		"three halves, two short":          {[]float64{1.5, 2.5, 3.5}, 7.5, 1, []int64{2, 3, 3}},
		"nothing to give, but a remainder": {[]float64{1.2, 1.2}, 2.4, 1, []int64{1, 1}},
		"more parts than the whole has":    {[]float64{2.5, 2.5}, 3, 1, []int64{2, 2}},
		"units of 5":                       {[]float64{12, 9, 4}, 25, 5, []int64{2, 2, 1}},
	} {
		if got := apportion(c.parts, c.whole, c.unit); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v of %g in %g, want %v", name, c.parts, c.whole, c.unit, c.want)
		}
	}
}
