package ground

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"balk/coverage/drive"
	"balk/geo/plane"
	"balk/geo/workers"
)

const (
	// draws of the receiver's error: the deviation of so many is good to one in seven.
	draws = 24
	// drift is after what time the receiver's slow error is another one. Some ten minutes: the
	// turning of satellites and of the air above. From memory, no standard gives it.
	drift = 600.0 // s
	// passToPass is the time within which passes are compared for the pass-to-pass error (ISO 12188-1).
	passToPass = 900.0 // s
	// drawnHair: in the draws bars stand as far apart as their ends keep within this of their way. Only what
	// an error adds or takes is read from them.
	drawnHair = 0.01 // m
	drawnStep = 50.0 // m
	// extrapolated: the extrapolation errs by more than the log itself. Measured over simulated logs (TestMissedOfANoisyLog).
	extrapolated = 1.3
)

// perPassError is the deviation of the slow error for 1 m, at 95 %, of pass-to-pass error. That of a difference after
// a time t is σ²·2·(1 − exp(−t/drift)); its mean over all t up to passToPass is the square of the pass-to-pass
// error's deviation.
var perPassError = 1 / drive.In95 / math.Sqrt(2*(1-drift/passToPass*(1-math.Exp(-passToPass/drift))))

// perPassErrorUntimed is the same where no times are logged: any two passes differ by the pass-to-pass error.
const perPassErrorUntimed = 1 / drive.In95 / math.Sqrt2

// Drawn is what the missed ground may really be, in m², given the receiver's pass-to-pass error and that nobody knows
// where in a step a tool was lowered or lifted: the best estimate, and the range that holds it at 95 %.
//
// Errors of passes are independent, or nearly so: where one seems too near to its neighbour another
// seems too far. So the range of the sum is much narrower than if all were wrong to the same side. It comes from
// draws: each moves the passes by a slow error of the receiver (an Ornstein-Uhlenbeck process over the
// time) and the ends of work by theirs, and works the missed ground out anew. The draws are the same in each run.
//
// An error makes missed ground rather than it takes some away: passes that seem to
// lap anyway have nothing to lose. So the log shows more of it than there is. How much, the draws tell, which add the
// error once more, and once more again: missed ground as a function of the error's variance, in units of the log's
// own, is known at 1, 2 and 3, and wanted at 0. This is simulation extrapolation (Cook and Stefanski 1994, with their
// quadratic):
//
//	true ≈ 3·missed(1) − 3·missed(2) + missed(3)
//
// The range holds what is said of missed ground in any case.
func Drawn(ctx context.Context, field []plane.Polygon, runs []drive.Run, w drive.Work, missed, passError, allWrong float64) (best, least, most float64, err error) {
	sets := make([][]drive.Stop, len(runs))
	for i, one := range runs {
		sets[i] = drive.Thinned(one.Stops, drawnHair, drawnStep)
	}
	got := make([]float64, 2*draws+1) // at 2, at 3, and last at 1
	err = workers.Each(ctx, w.Workers, len(got), func(k int) error {
		rng := rand.New(rand.NewPCG(uint64(k%draws/2), 0)) // the same errors at 2 and 3, but for their size
		size := [3]float64{1, math.Sqrt2, 0}[k/draws]
		if k%2 == 1 { // and each one the other way round as well: what they add in the mean is then known much better
			size = -size
		}
		g := ground{field: field, workers: 1}
		var slow walk
		var along sides
		lean := size * rng.NormFloat64()
		for i, one := range runs {
			g.work = append(g.work, coverOf(astrayBy(one, sets[i], w.Overlap, size, lean*one.EndsLean, &slow, &along, rng))...)
		}
		answer, err := g.missed(ctx)
		got[k] = answer.Area[1]
		return err
	})
	if err != nil {
		return 0, 0, 0, err
	}
	at2, variance := drive.MeanOf(got[:draws])
	at3, variance3 := drive.MeanOf(got[draws : 2*draws])
	half := extrapolated * drive.In95 * math.Sqrt(variance)
	// These errors come on top of the log's own. Where missed ground answers to an error the more, the more of it is there already, it
	// answered less to the log's: by as much as the second's share is less than that of both.
	if grown := variance3 / variance / 2; grown > 1 {
		half /= grown
	}
	at1, exact := missed, got[2*draws]
	at2, at3 = at1+at2-exact, at1+at3-exact // what thinning and drawing left out is in all
	best = max(0, 3*at1-3*at2+at3)
	lowest := best
	if passError > surelyKnown {
		lowest = min(best, allWrong)
	}
	return best, max(0, min(lowest-half, at1)), max(best+half, at1), nil
}

// surelyKnown: pass-to-pass errors up to this were measured. Those of lesser receivers are known within a factor only, so
// the range then reaches down to what is missed if all passes lie nearer to each other than logged.
const surelyKnown = 0.05 // m, 95 %

// walk is an Ornstein-Uhlenbeck process of deviation 1 in either coordinate.
type walk struct {
	at      plane.XY
	seconds float64
	begun   bool
}

// on is the process at a time; where none is logged each call is independent of the one before.
func (w *walk) on(seconds float64, rng *rand.Rand) plane.XY {
	fresh := plane.XY{X: rng.NormFloat64(), Y: rng.NormFloat64()}
	keep := 0.0
	if w.begun {
		keep = math.Exp(-math.Abs(seconds-w.seconds) / drift)
	}
	if math.IsNaN(keep) {
		keep = 0
	}
	w.at = w.at.Scale(keep).Add(fresh.Scale(math.Sqrt(1 - keep*keep)))
	w.seconds, w.begun = seconds, true
	return w.at
}

// astrayBy are the bars of a run with a drawn error: of the receiver at its begin and its end, between them evenly
// from one to the other, and of the ends of work, both of so many times their usual size, and all of them longer by lean.
func astrayBy(one drive.Run, stops []drive.Stop, less, size, lean float64, slow *walk, along *sides, rng *rand.Rand) []bar {
	begin := slow.on(secondsOf(one.Pass.From), rng)
	end := slow.on(secondsOf(one.Pass.To), rng)
	per := perPassError
	if one.Pass.From.IsZero() {
		per = perPassErrorUntimed
	}
	set := slices.Clone(stops)
	for i := range set {
		part := set[i].S / max(one.Pass.Length, 1e-9)
		set[i].At = set[i].At.Add(begin.Lerp(end, part).Scale(size * known(set[i]) * per))
	}
	return endsMoved(nil, barsOf(set, less), func(k int) float64 {
		own := rng.NormFloat64()
		if set[k].Slack == 0 {
			return lean
		}
		return lean + size*float64(set[k].Slack)/drive.In95*(own+along.draw(set, k, rng))*math.Sqrt(0.5)
	})
}

// sides are drawn errors, of deviation 1, that ends of work on one side of the field have in common: they tell each
// other where in their steps they lie. They are taken for half the variance of an end, as it is where the rows' spread and the steps are alike.
type sides []side

type side struct {
	out      plane.XY // unit
	lowering bool
	knots    map[int]float64 // drawn, apart by sideKnot across out
}

const (
	sideKnot = 50.0   // m, some eight working widths: farther rows have no say (drive.settleSwitches)
	sideCos  = 0.9397 // cos 20°
)

// draw is the error of the end of work at a stop.
func (s *sides) draw(set []drive.Stop, k int, rng *rand.Rand) float64 {
	lowering := k+1 < len(set) && set[k].Next != drive.StepCut
	inner := k - 1
	if lowering {
		inner = k + 1
	}
	if inner < 0 {
		return 0
	}
	out := set[k].At.Sub(set[inner].At)
	out = out.Scale(1 / max(out.Len(), 1e-9))
	at := slices.IndexFunc(*s, func(one side) bool { return one.lowering == lowering && one.out.Dot(out) >= sideCos })
	if at < 0 {
		at = len(*s)
		*s = append(*s, side{out, lowering, map[int]float64{}})
	}
	one := (*s)[at]
	knot := func(n int) float64 {
		v, ok := one.knots[n]
		if !ok {
			v = rng.NormFloat64()
			one.knots[n] = v
		}
		return v
	}
	aside := one.out.Cross(set[k].At) / sideKnot
	before := math.Floor(aside)
	part := aside - before
	return (knot(int(before))*(1-part) + knot(int(before)+1)*part) / math.Hypot(1-part, part)
}

// secondsOf is a time in seconds; NaN where none was logged.
func secondsOf(t time.Time) float64 {
	if t.IsZero() {
		return math.NaN()
	}
	return float64(t.UnixNano()) / 1e9
}
