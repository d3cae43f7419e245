package ground

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"balk/coverage/drive"
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
