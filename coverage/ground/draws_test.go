package ground

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/testdata/check"
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
			slow := slowly(runs, 1, freshly(rng))
			d := slow[1].at(1 - part).Sub(slow[0].at(part))
			square += d.Dot(d) / 2 / draws
		}
		apart := turn + 2*row*(1-part)
		want := 2 * perPassError * perPassError * (1 - math.Exp(-apart/changed))
		trial.Near(t, "mean square", square, want, 0.1*want)
	}
}

// TestWalksHaveTheirMeanSquare: over the sixteen walks of a field what two neighbouring rows put between them across has the mean square of the process, 2σ²·(1 − exp(−t/changed)),
// at each place: whatever numbers are drawn, estimates do not hang on them. Free numbers are off by √(2/16), a third; these by a sixth, as
// what is new in some minutes is in more columns than have nothing in common.
func TestWalksHaveTheirMeanSquare(t *testing.T) {
	const row, turn, many, rows = 100.0, 20.0, 16, 40 // s
	begin := time.Unix(1777874400, 0)
	at := func(seconds float64) time.Time { return begin.Add(time.Duration(seconds * float64(time.Second))) }
	var runs []drive.Run
	for k := range rows {
		from := float64(k) * (row + turn)
		runs = append(runs, drive.Run{Pass: drive.Pass{From: at(from), To: at(from + row)}})
	}
	along := plane.XY{X: 0.8, Y: 0.6}
	mean, off, n := 0.0, 0.0, 0.0
	walks := walksOf(runs, many, along)
	slow := make([][]drift, many)
	for k := range slow {
		slow[k] = walks.slow(runs, k)
	}
	for k := 1; k < rows; k++ {
		for _, part := range []float64{0, 0.2, 0.4, 0.6, 0.8, 1} { // at times that are drawn
			square := 0.0
			for _, one := range slow {
				d := along.Cross(one[k].at(1 - part).Sub(one[k-1].at(part)))
				square += d * d / many
			}
			share := square/(2*perPassError*perPassError*(1-math.Exp(-(turn+2*row*(1-part))/changed))) - 1
			mean, off, n = mean+share, off+share*share, n+1
		}
	}
	mean, off = mean/n, math.Sqrt(off/n)
	t.Logf("off by %.3f in the mean, by %.3f each", mean, off)
	if math.Abs(mean) > 0.03 || off > 0.25 {
		t.Errorf("off by %.3f in the mean, by %.3f each", mean, off)
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
		ends := make([]workEnd, rows)
		for k := range ends {
			x := long * (float64(k)/float64(rows-1) - 0.5)
			ends[k] = workEnd{at: plane.XY{X: x}, out: plane.XY{Y: 1}, lowering: true, open: drive.Switch{From: -1, To: 1, Spread: 0.3, Doubt: 0.1}}
		}
		sides := sidesOfEnds(ends)
		for range draws {
			sum := 0.0
			for _, off := range sides.along(freely(rng, sides.knots)) {
				sum += off
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

// freshly are numbers for slowly.
func freshly(rng *rand.Rand) func() plane.XY {
	return func() plane.XY { return plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()} }
}

func freely(rng *rand.Rand, n int) []float64 {
	out := make([]float64, n)
	for k := range out {
		out[k] = rng.NormFloat64()
	}
	return out
}

// TestBalanced: columns have mean 0 and variance 1, those of a block have nothing in common, and a sum of them has for its variance, over the rows, the
// squares of what they add to it. Of many such columns the numbers are those of N(0, 1): its quartiles are at 0.674 (tables of the normal distribution, from memory).
func TestBalanced(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 0))
	beyond, all := 0.0, 0.0
	for _, rows := range []int{8, 16} {
		for range 200 {
			columns := 2*rows + 3
			got := balanced(rows, columns, rng)
			shares := freely(rng, rows-1)
			var sum []float64
			want := 0.0
			for _, x := range shares {
				want += x * x
			}
			for _, row := range got {
				if len(row) != columns {
					t.Fatalf("%d columns, want %d", len(row), columns)
				}
				one := 0.0
				for c, x := range shares {
					one += x * row[rows-1+c] // the second block
				}
				sum = append(sum, one)
				for _, x := range row {
					if all++; math.Abs(x) > 0.6745 {
						beyond++
					}
				}
			}
			if mean, variance := drive.MeanOf(sum); math.Abs(mean) > 1e-12 || math.Abs(variance-want) > 1e-9*want {
				t.Fatalf("%d rows: mean %g, variance %g, want %g", rows, mean, variance, want)
			}
		}
	}
	if share := beyond / all; math.Abs(share-0.5) > 0.05 {
		t.Errorf("%.3f of the numbers are beyond the quartiles, want 0.5", share)
	}
}

// TestOpened: ends of work whose ground goes with what they move by, each by its own of deviation 0.3 m and by 0.2 m that all of a side have in common.
// The variance that draws tell is on average that of the sum, and they tell it better than as many free draws do, whose variance is off by √(2/31) of it.
func TestOpened(t *testing.T) {
	const ends, pairs, own, line = 30, 16, 0.3, 0.2
	want := float64(ends)*own*own + float64(ends*ends)*line*line
	rng := rand.New(rand.NewPCG(check.Seed(t), 0))
	var mean, off float64
	const times = 300
	for range times {
		alike := balanced(pairs, 1, rng)
		draws := make([]banded, 2*pairs)
		for k := range pairs {
			for e := range ends {
				each := own * rng.NormFloat64()
				draws[2*k][e*bandsMost/ends] += line*alike[k][0] + each
				draws[2*k+1][e*bandsMost/ends] += line*alike[k][0] - each
			}
		}
		got := opened(draws)
		mean, off = mean+got/times, off+(got-want)*(got-want)/times
	}
	t.Logf("variance %.2f, want %.2f, off by %.3f of it", mean, want, math.Sqrt(off)/want)
	if math.Abs(mean-want) > 0.03*want || math.Sqrt(off) > 0.5*math.Sqrt(2.0/31)*want {
		t.Errorf("variance %.2f, want %.2f, off by %.3f of it", mean, want, math.Sqrt(off)/want)
	}
}

// TestOutwardInPairs: in a pair of draws all ends are off alike by what their side's line errs by, and each end's own is the other way round.
// An end that its side does not tell is off with the slow error, by half its step's length at most, and an end that is logged stays.
func TestOutwardInPairs(t *testing.T) {
	anywhere, lined := drive.Switch{From: -1, To: 1}, drive.Switch{From: -9, To: 9, Spread: 0.3, Doubt: 0.2}
	tr := transects{ends: []workEnd{{run: 0, open: anywhere}, {run: 1, open: anywhere}, {run: 0, open: lined}, {run: 0}}}
	off := tr.outward([]float64{0, 0, 1.5, 0}, rand.New(rand.NewPCG(check.Seed(t), 0)))
	for k, want := range []float64{0, 0, 0.3, 0} { // 1.5·0.2 m of the line
		trial.Near(t, "mean of the pair", (off[0][k]+off[1][k])/2, want, 1e-9)
		if apart := math.Abs(off[0][k] - off[1][k]); (apart > 1e-9) != (k == 2) {
			t.Errorf("end %d: %g m and %g m", k, off[0][k], off[1][k])
		}
	}
	for k, by := range tr.anywhere(rand.New(rand.NewPCG(check.Seed(t), 0))) {
		if math.Abs(by) > 1 || (by != 0) != (k < 2) {
			t.Errorf("end %d: %g m", k, by)
		}
	}
}

// TestOpenEndsKeepTheirVariance: an end that a line hardly tells is off in part with the slow error, in part for the range alone, and both together as much as all that its step and its line leave open.
func TestOpenEndsKeepTheirVariance(t *testing.T) {
	rng := rand.New(rand.NewPCG(check.Seed(t), 0))
	const draws = 40000
	for _, c := range []struct {
		name  string
		open  drive.Switch
		share float64 // of the variance that is taken out; NaN: neither none nor all
	}{
		{"no line", drive.Switch{From: -1.2, To: 1.2}, 1},
		{"a line twice as wide as the step", drive.Switch{From: -1.2, To: 1.2, Spread: 5}, math.NaN()},
		{"a line of its own width", drive.Switch{From: -1.2, To: 1.2, Spread: 1}, math.NaN()},
		{"a line aside", drive.Switch{From: -1.2, To: 1.2, Line: 0.5, Spread: 2, Doubt: 0.3}, math.NaN()},
		{"a line that tells it", drive.Switch{From: -1.2, To: 1.2, Spread: 0.3, Doubt: 0.1}, 0},
		{"logged", drive.Switch{}, 0},
	} {
		tr := transects{ends: []workEnd{{open: c.open}}}
		var taken, left, mean float64
		for range draws {
			a, b := tr.anywhere(rng)[0], tr.outward([]float64{rng.NormFloat64()}, rng)[0][0]
			taken, left, mean = taken+a*a/draws, left+b*b/draws, mean+b/draws
		}
		sd := c.open.SD()
		at := 0.0 // the mean of what is possible is where the end is taken to be; here 0 is
		if _, anywhere := c.open.Anywhere(); c.open.Spread > 0 {
			at = mean / math.Sqrt(1-anywhere)
			left -= mean * mean
		}
		trial.Near(t, c.name+": variance", taken+left, sd*sd, 0.04*sd*sd)
		switch share := taken / max(sd*sd, math.SmallestNonzeroFloat64); {
		case math.IsNaN(c.share) && (share < 0.1 || share > 0.98):
			t.Errorf("%s: %.2f of the variance is taken out", c.name, share)
		case !math.IsNaN(c.share):
			trial.Near(t, c.name+": share taken out", share, c.share, 0.03)
		}
		trial.Near(t, c.name+": mean", at, math.Max(0, c.open.Line)*c.open.Follows(), 0.1)
	}
}
