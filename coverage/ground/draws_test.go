package ground

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// TestSlowErrorBetweenNeighbours: wherever along two rows, what an Ornstein-Uhlenbeck process of deviation σ puts between them has for its
// mean square 2σ²·(1 − exp(−t/changed)), t the time from the one to the other there.
func TestSlowErrorBetweenNeighbours(t *testing.T) {
	const row, turn, draws = 100.0, 20.0, 4000 // s; the mean square of so many is good to 2.2 %
	begin := time.Unix(1777874400, 0)
	at := func(seconds float64) time.Time { return begin.Add(time.Duration(seconds * float64(time.Second))) }
	runs := []drive.Run{{Pass: drive.Pass{From: at(0), To: at(row)}}, {Pass: drive.Pass{From: at(row + turn), To: at(2*row + turn)}}}
	rng := rand.New(rand.NewPCG(1, 2))
	for _, part := range []float64{0, 0.2, 0.4, 0.6, 0.8, 1} { // of the first, at times that are drawn; the second is driven back
		square := 0.0
		for range draws {
			slow := slowly(runs, 1, rng)
			d := slow[1].at(1 - part).Sub(slow[0].at(part))
			square += d.Dot(d) / 2 / draws
		}
		apart := turn + 2*row*(1-part)
		want := 2 * perPassError * perPassError * (1 - math.Exp(-apart/changed))
		trial.Near(t, "mean square", square, want, 0.1*want)
	}
}

// TestRowsOfASideErrTogether: a side of a field is told by one line, so what it has wrong adds up over its rows instead of going out between them.
// Of a dozen rows over 150 m the mean errs nearly as much as each, of a side of 4 km by the root of its many lines. With lines of 50 m the
// ranges of simulated days whose tool came in late on one side held the truth in 83 and 85 of 100 (testdata/fieldday, 1 Hz).
func TestRowsOfASideErrTogether(t *testing.T) {
	const draws = 4000
	mean := func(rows int, long float64) float64 {
		rng := rand.New(rand.NewPCG(7, 11))
		square := 0.0
		for range draws {
			var along sides
			sum := 0.0
			for k := range rows {
				x := long * (float64(k)/float64(rows-1) - 0.5)
				sum += along.draw(workEnd{at: plane.XY{X: x}, out: plane.XY{Y: 1}, lowering: true}, rng)
			}
			square += sum * sum / float64(rows*rows)
		}
		return math.Sqrt(square / draws)
	}
	if one := mean(12, 150); one < 0.75 || one > 1 {
		t.Errorf("the mean of a dozen rows over 150 m errs by %.2f of what each does", one)
	}
	if far := mean(320, 4000); far > 0.35 {
		t.Errorf("the mean of the rows of 4 km errs by %.2f of what each does", far)
	}
}
