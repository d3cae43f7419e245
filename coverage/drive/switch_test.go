package drive

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/testdata/check"
)

// TestSwitchDrawn: draws stay in the step, and their mean and deviation are those of a sum over the density: a normal distribution about a line that is off by a
// normal number itself, cut off outside the step.
func TestSwitchDrawn(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 0))
	const draws = 40000
	for name, s := range map[string]Switch{
		"the line in the step":               {From: -1, To: 1.2, Line: 0.1, Spread: 0.3, Doubt: 0.2},
		"near its end":                       {From: -0.2, To: 2, Line: -0.1, Spread: 0.3, Doubt: 0.15},
		"beyond its end":                     {From: 0, To: 2, Line: -0.7, Spread: 0.3, Doubt: 0.1},
		"beyond the other":                   {From: -2, To: 0, Line: 0.7, Spread: 0.3, Doubt: 0.1},
		"seven deviations beyond":            {From: 0, To: 2, Line: -2.1, Spread: 0.3},
		"seven deviations beyond the other":  {From: -2, To: 0, Line: 2.1, Spread: 0.3},
		"fifty deviations beyond":            {From: 0, To: 2, Line: -15, Spread: 0.3},
		"nothing tells it":                   {From: -1, To: 1},
		"the line is known, the step longer": {From: -9, To: 9, Line: 0.1, Spread: 0.3, Doubt: 0.2},
	} {
		// The density over the step, for so many values of the line.
		var wantMean, wantSquare float64
		const lines, parts = 81, 4000
		weights := 0.0
		for i := range lines {
			z := 8 * (float64(i)/(lines-1) - 0.5)
			weight := math.Exp(-z * z / 2)
			var w, x, xx float64
			for k := range parts {
				v := s.From + (s.To-s.From)*(float64(k)+0.5)/parts
				f := 1.0
				if s.Spread > 0 {
					middle := s.Line + s.Doubt*z
					peak := math.Max(s.From, math.Min(middle, s.To))
					f = math.Exp(-((v-middle)*(v-middle) - (peak-middle)*(peak-middle)) / (2 * s.Spread * s.Spread))
				}
				w, x, xx = w+f, x+f*v, xx+f*v*v
			}
			wantMean, wantSquare, weights = wantMean+weight*x/w, wantSquare+weight*xx/w, weights+weight
		}
		wantMean /= weights
		want := math.Sqrt(wantSquare/weights - wantMean*wantMean)
		var sum, squares float64
		for range draws {
			x := s.Drawn(rng.NormFloat64(), rng.NormFloat64())
			if !(x >= s.From && x <= s.To) {
				t.Fatalf("%s: drawn at %g, outside the step", name, x)
			}
			sum, squares = sum+x, squares+x*x
		}
		mean := sum / draws
		sd := math.Sqrt(squares/draws - mean*mean)
		if math.Abs(mean-wantMean) > 0.03*want || math.Abs(sd-want) > 0.04*want {
			t.Errorf("%s: drawn at %.4f ± %.4f, want %.4f ± %.4f", name, mean, sd, wantMean, want)
		}
	}
}

// TestExceeded: a chance leads to a number that is exceeded with it, to the digits of the chance.
func TestExceeded(t *testing.T) {
	for _, x := range []float64{-5, -1, 0, 0.5, 3, 3.7, 3.8, 5, 8, 20, 31} {
		if got := exceeded(math.Erfc(x/math.Sqrt2) / 2); math.Abs(got-x) > 1e-8 {
			t.Errorf("%.12g, want %g", got, x)
		}
	}
}

// TestRowsOfASideErrAsDrawn: what the rows of a side err by in the mean is what draws have them err by that share their side's line, whether six rows or fifty
// tell it, seen five times a second or once, by drivers who keep to it or do not. A share that is the same for all, a fifth, has it from 0.5 to 1.2 times.
func TestRowsOfASideErrAsDrawn(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 0))
	const days = 40
	for _, rows := range []int{12, 50} { // half of them begin on either side
		for _, step := range []float64{0.44, 2.2} {
			for _, spread := range []float64{0.15, 0.6} {
				var square, drawn float64
				for range days {
					begin, end := make([]float64, rows), make([]float64, rows)
					for i := range begin {
						begin[i], end[i] = 0.6+spread*rng.NormFloat64(), 0.6+spread*rng.NormFloat64()
					}
					trails, scene := upAndDown(rng, step, 0, begin, end)
					settleSwitches(trails, scene, Work{Width: 6})
					sides := make([][]Switch, 4)
					off := make([]float64, 4)
					for i, trail := range trails {
						for _, s := range trail.switches {
							along, k := s.place().Y, i%2
							if k == 1 {
								along = 200 - along
							}
							if s.lowering {
								off[k] += -along - begin[i]
							} else {
								k += 2
								off[k] += along - 200 - end[i]
							}
							sides[k] = append(sides[k], s.open())
						}
					}
					for k, side := range sides {
						n := float64(len(side))
						square += off[k] * off[k] / n / n
						const draws = 40
						var sum, squares float64
						for range draws {
							line, all := rng.NormFloat64(), 0.0
							for _, s := range side {
								all += s.Drawn(line, rng.NormFloat64()) / n
							}
							sum, squares = sum+all, squares+all*all
						}
						drawn += (squares - sum*sum/draws) / (draws - 1)
					}
				}
				ratio := math.Sqrt(square / drawn)
				t.Logf("%d rows, %g m apart, within %g m: the mean of a side errs by %.3f m, %.2f of what is drawn", rows, step, spread, math.Sqrt(square/days/4), ratio)
				if ratio < 0.75 || ratio > 1.33 {
					t.Errorf("%d rows, %g m apart, within %g m: the mean of a side errs by %.2f of what is drawn", rows, step, spread, ratio)
				}
			}
		}
	}
}
