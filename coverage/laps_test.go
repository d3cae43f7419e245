package coverage

import (
	"math"
	"math/rand/v2"
	"testing"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/check"
	"balk/testdata/trial"
)

// TestLapsAsLaidAgain draws rows that lie unevenly, and lays the same rows again at every overlap: what the engine says is missed between them, and worked
// twice, is what was foretold.
func TestLapsAsLaidAgain(t *testing.T) {
	seed := check.Seed(t)
	rng := rand.New(rand.NewPCG(seed, 1))
	const width, planned = 6.0, 0.1
	// m, by which spacings are off: of each kind, where right sides meet and left ones, as many above as below.
	x := []float64{-0.3, -0.2, -0.1, 0, 0.1, 0.2, 0.3}
	var off [14]float64
	for kind := range 2 {
		for i, k := range rng.Perm(len(x)) {
			off[2*i+kind] = x[k]
		}
	}
	laid := func(overlap, credited float64) Result { // m, of the lines, and of the bar

		y := []float64{10}
		for _, o := range off {
			y = append(y, y[len(y)-1]+width-overlap+o)
		}
		s := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, y[0], 100, y[len(y)-1])}, Lines: trial.Rows(0, 100, y...)}
		return checked(t, s, drive.Work{Width: width, Overlap: credited, Relap: 1}) // rows that follow each other lap as all do, at their ends too
	}
	first := laid(planned, planned)
	if len(first.Spacing.Laps) < 15 {
		t.Fatalf("%d laps", len(first.Spacing.Laps))
	}
	for _, lap := range first.Spacing.Laps {
		b := laid(lap.Overlap, 0).Balance // of the full width
		missed, double := b.Missed/b.Field, (b.Twice+b.More)/b.Field
		if math.Abs(missed-lap.Missed) > 2e-4 {
			t.Errorf("overlap %.2f m: %.5f of the ground is missed, %.5f was foretold", lap.Overlap, missed, lap.Missed)
		}
		if math.Abs(double-lap.Double) > 2e-4 {
			t.Errorf("overlap %.2f m: %.5f of the ground is worked twice, %.5f was foretold", lap.Overlap, double, lap.Double)
		}
		if way := (width - planned) / (width - lap.Overlap); math.Abs(way-lap.Way) > 1e-9 {
			t.Errorf("overlap %.2f m: %.4f times the way, want %.4f", lap.Overlap, lap.Way, way)
		}
	}
	// By hand: off by more than 10 cm are 0.1 and 0.2 of seven, by 5.90 m; and 0.1 at 20 cm, by 5.80 m.
	now, then, ok := first.Spacing.Better()
	if want := 0.3 / 7 / 5.9; math.Abs(now.Missed-want) > 2e-4 {
		t.Errorf("missed as planned %.5f, want %.5f", now.Missed, want)
	}
	if !ok || math.Abs(then.Overlap-0.24) > 1e-9 { // 0.06 is the first below a quarter of 0.3
		t.Errorf("better: %+v, %v; want an overlap of 0.24 m", then, ok)
	}
}
