package ground

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestSpreadOfBands: draws of independent bands of deviation 1 have a sum of deviation √15, which sixteen in pairs tell by their sums to
// 1/√(2·8), and by bands to less. Where one thing moves all bands the sum has 15, of which the weights leave √(15 + 2·Σ (15 − d)·(1 − d/10)).
func TestSpreadOfBands(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 3))
	deviations := func(common bool) (bands, sum []float64) {
		for range 600 {
			var draws []banded
			for range 8 {
				var d, back banded
				one := rng.NormFloat64()
				for i := range d {
					x := rng.NormFloat64()
					if common {
						x = one
					}
					d[i], back[i] = 10+x, 10-x
				}
				draws = append(draws, d, back)
			}
			mean, variance := spreadOf(draws)
			trial.Near(t, "mean", mean, 10*bandsMost, 1e-9)
			_, all := drive.MeanOf(sums(draws))
			bands, sum = append(bands, math.Sqrt(variance)), append(sum, math.Sqrt(all))
		}
		return bands, sum
	}
	bands, sum := deviations(false)
	mean, variance := drive.MeanOf(bands)
	_, rough := drive.MeanOf(sum)
	trial.Near(t, "deviation of independent bands", mean, math.Sqrt(bandsMost), 0.03*math.Sqrt(bandsMost))
	trial.Near(t, "how good by sums", math.Sqrt(rough/bandsMost), 0.25, 0.05)
	if math.Sqrt(variance) > 0.8*math.Sqrt(rough) {
		t.Errorf("deviations good to %.3f by bands and to %.3f by sums", math.Sqrt(variance), math.Sqrt(rough))
	}
	bands, _ = deviations(true)
	mean, _ = drive.MeanOf(bands)
	want := float64(bandsMost)
	for d := 1; d < bandsReach; d++ {
		want += 2 * float64(bandsMost-d) * (1 - float64(d)/bandsReach)
	}
	trial.Near(t, "deviation of bands that go together", mean, math.Sqrt(want), 0.04*math.Sqrt(want))
}

// TestBands: a field of 300 m by 200 m, turned, worked along its longer side, has bands of 300 m by 200/15 m. Of ground missed beside its
// rows each band has its own.
func TestBands(t *testing.T) {
	sin, cos := math.Sincos(0.7)
	at := func(x, y float64) plane.XY { return plane.XY{X: x*cos - y*sin, Y: x*sin + y*cos} }
	field := []plane.Polygon{{{at(0, 0), at(300, 0), at(300, 200), at(0, 200)}}}
	var runs []drive.Run
	for y := 55.0; y < 210; y += 10 {
		runs = append(runs, drive.Along([]plane.XY{at(-10, y), at(310, y)}, 10, 0))
	}
	runs = append(runs, drive.Along([]plane.XY{at(5, 60), at(5, 190)}, 10, 0)) // one across, on ground that is worked anyway
	tr, err := transectsOf(t.Context(), field, slices.All(runs), 0)
	if err != nil {
		t.Fatal(err)
	}
	missed, err := tr.missed(t.Context(), tr.still(), 0)
	if err != nil {
		t.Fatal(err)
	}
	const breadth = 200.0 / bandsMost
	within := 0.01 * 300 * breadth // of transects half a metre apart
	trial.Near(t, "all", missed.sum(), 300*50, within)
	for k, area := range missed {
		trial.Near(t, "a band", area, 300*min(breadth, max(0, 50-breadth*float64(k))), within)
	}
}
