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
	// fewestDraws of each kind: the deviation of so many in pairs is good to one in four (but see spreadOf). Fields of few passes, where each
	// draw tells less of the mean and costs less, have up to mostDraws: so many that drawnPasses passes are drawn in all.
	fewestDraws, mostDraws = 16, 32
	drawnPasses            = 1024
	// changed is after what time the receiver's slow error is another one. Some ten minutes: the
	// turning of satellites and of the air above. From memory, no standard gives it.
	changed = 600.0 // s
	// drifts is how often the slow error is drawn, up to mostDrifts times a run. Neighbouring rows are driven from some seconds apart, at one end,
	// to some minutes, at the other; were it drawn there alone, what they differ by in the middle would have half of its variance.
	drifts     = 20.0 // s
	mostDrifts = 1000
	// passToPass is the time within which passes are compared for the pass-to-pass error (ISO 12188-1).
	passToPass = 900.0 // s
)

// perPassError is the deviation of the slow error for 1 m, at 95 %, of pass-to-pass error. That of a difference after
// a time t is σ²·2·(1 − exp(−t/changed)); its mean over all t up to passToPass is the square of the pass-to-pass
// error's deviation.
var perPassError = 1 / drive.In95 / math.Sqrt(2*(1-changed/passToPass*(1-math.Exp(-passToPass/changed))))

// perPassErrorUntimed is the same where no times are logged: any two passes differ by the pass-to-pass error.
const perPassErrorUntimed = 1 / drive.In95 / math.Sqrt2

// Drawn is what the missed ground may really be, in m², given the receiver's pass-to-pass error and that nobody knows
// where in a step a tool was lowered or lifted: the best estimate, and the range that holds it at 95 %.
//
// Errors of passes are independent, or nearly so: where one seems too near to its neighbour another
// seems too far. So the range of the sum is much narrower than if all were wrong to the same side. It comes from
// draws: they move the passes by a slow error of the receiver (an Ornstein-Uhlenbeck process over the
// time) and ends of work that nothing tells, or else the other ends by theirs and all of the log by what may be left of a shift, and work the missed ground out anew. The
// draws are the same in each run. What passes along the boundary show of a shift is taken out first, of the log as of the draws: else
// each error of a side, forth or back, would make missed ground there.
//
// An error makes missed ground rather than it takes some away: passes that seem to
// lap anyway have nothing to lose. So the log shows more of it than there is. How much, the draws tell, which add the
// error once more, and once more again: missed ground as a function of the error's variance, in units of the log's
// own, is known at 1, 2 and 3, and wanted at 0. This is simulation extrapolation (Cook and Stefanski 1994); see extrapolate.
//
// The classes of receivers are upper ends of what is known of them, and a better one made less of what the log shows: so the range reaches up to that in any case, and down by
// what draws spread alone.
//
// So it is with ends of work of which nothing but their own step tells. Fixes come at times that know nothing of the lever, so the middle of a step is off from where it
// was pulled by an error that has nothing to do with that place, and lies anywhere in half a step's length either way alike. A driver lifts where ground is worked: an end that seems too short misses
// some, one that seems too long by as much adds none. These ends are drawn with the slow error and taken out with it, and so are those of which a line of rows along a bend tells hardly
// more, by that part of their variance (drive.Switch.Anywhere). Ends whose side tells them are where the mean of all that is possible has them, which has no such error: what is open of them counts for the range alone.
//
// Where the line of a side is known worse than rows lie about it, as by fixes many seconds apart, the same holds of that line: by its doubt all rows of a side may seem too short at
// once, and where they end in ground that is worked anyway, as drivers see to, none of that is true. So lines are drawn and taken out too; see linesAstray.
//
// What is open of ends has missed ground rise more than fall: rows reach into ground that is worked, and one that lies farther out adds nothing there. What draws have more than the
// log in the mean is of that part. It is nothing in most draws and seldom much, like an exponential distribution, whose deviation is its mean: so that mean, squared, is taken from the
// variance, and what is left goes to both sides alike. The range reaches down by that, and up by all of the deviation.
//
// Ends that rules tell, where no work state is logged, may all lie off alike; see leant.
//
// The range holds what is said of missed ground in any case, and what it is without the shift.
func Drawn(ctx context.Context, field []plane.Polygon, runs []drive.Run, w drive.Work, shift Shift, missed float64) (Draws, error) {
	d, err := drawn(ctx, field, runs, w, shift, 1, missed)
	if err != nil {
		return Draws{}, err
	}
	// Ground is missed in pieces, so its variance grows with how much there is, and where the log shows little by chance it shows a small variance
	// too. The upper end is that of a mean of such pieces (Wilson 1927), as far off as its own variance has it. What a log shows by chance lies in all
	// three figures alike, and the less ground is there the more of it is drawn out: the lower end is what is drawn out of all three less that.
	skew := d.half / max(2*d.best, 2*d.half, math.SmallestNonzeroFloat64)
	above, below := d.half*(math.Hypot(1, skew)+skew), d.best-extrapolate(d.at[0]-d.half, d.at[1]-d.half, d.at[2]-d.half)
	below, above = math.Hypot(math.Hypot(below, d.under), d.fewer), math.Hypot(math.Hypot(above, d.open), d.more)
	return Draws{Best: d.best, Least: max(0, min(d.best-below, missed, d.at[0])), Most: max(d.best+above, missed, d.at[0]), Steered: d.at[1] + math.Hypot(math.Hypot(d.half, d.open), d.more), Unshifted: d.at[0]}, nil
}

// MostOfAny is the most missed ground there may be, m², where nothing is known of the receiver but that its pass-to-pass error is at most passError, m, which the runs have. The rim is the field's. It may
// be as good as the best then, and what little it errs by may hide as much ground as it shows: so the most of all receivers that may be is looked for. What is drawn out of the
// log goes with the error's square, and how far the range reaches with the error x, here in units of good, one that is known to occur, at which both are drawn:
//
//	Most(x) = logged − c·x² + √((h·x)² + open²),   c = logged − Best and h the reach at x = 1
//
// It is greatest where the root is h²/2c, if that lies above open; else without any error.
func MostOfAny(ctx context.Context, field []plane.Polygon, rim *plane.Edges, runs []drive.Run, w drive.Work, passError, good, missed float64) (float64, error) {
	good = min(good, passError)
	d, err := drawn(ctx, field, runs, w, ShiftOf(rim, runs, w, good), good/passError, missed)
	if err != nil {
		return 0, err
	}
	c, x := d.at[0]-d.best, passError/good
	if root := d.half * d.half / (2 * c); c > 0 && d.half > 0 {
		x = min(x, math.Sqrt(max(0, root*root-d.open*d.open))/d.half)
	}
	most := missed
	for _, x := range [3]float64{0, 1, x} { // 1 is drawn, with ends that nothing tells
		most = max(most, d.at[0]-c*x*x+math.Hypot(math.Hypot(d.half*x, d.open), d.more))
	}
	return most, nil
}

// drawing is what draws find, m².
type drawing struct {
	at          [3]float64 // missed ground with the error's variance once, twice and three times
	best        float64    // without
	half, open  float64    // at 95 %: by the slow error and ends that nothing tells, and by all else that is open
	under       float64    // by so much less than as logged may be missed by what else is open
	fewer, more float64    // see leant
}

// drawn draws with a share of the pass-to-pass error of the runs, of which the shift is to be too.
func drawn(ctx context.Context, field []plane.Polygon, runs []drive.Run, w drive.Work, shift Shift, share, missed float64) (d drawing, err error) {
	t, err := transectsOf(ctx, field, shift.each(runs), w.Overlap)
	if err != nil {
		return d, err
	}
	draws := max(fewestDraws, min(mostDraws, 2*(drawnPasses/2/max(1, len(runs)))))
	sides := sidesOfEnds(t.ends)
	alike := balanced(draws/2, 4+sides.knots, rand.New(rand.NewPCG(0, 1)))
	walks := walksOf(runs, draws/2, t.bands.way)
	walks.size *= share
	kinds := 3
	if t.linesAstray() {
		kinds = 4
	}
	got := make([]banded, kinds*draws) // at 2, at 3, with what else is open, and at 1 without lines
	err = workers.Each(ctx, w.Workers, draws/2, func(k int) error {
		rng := rand.New(rand.NewPCG(uint64(k), 0))
		slow := walks.slow(runs, k)
		seen := shift.seen(func(run int, part float64) plane.XY { return slow[run].at(part).Scale(runs[run].Slow) })
		anywhere := t.anywhere(rng)
		astray := t.moves(runs, slow, seen.Scale(-1), anywhere)
		one := astray
		left := shift.drawn([4]float64(alike[k]))
		along := sides.along(alike[k][4:])
		ends := t.outward(along, rng)
		if kinds == 4 {
			astray = t.moves(runs, slow, seen.Scale(-1), t.withLines(anywhere, along))
		}
		for i, sign := range [2]float64{1, -1} { // each one the other way round as well: what they add in the mean is then known much better
			open := t.moves(runs, nil, left, ends[i])
			for kind, of := range []struct {
				by   moves
				size float64
			}{{astray, sign}, {astray, sign * math.Sqrt2}, {open, 1}, {one, sign}}[:kinds] {
				var err error
				if got[kind*draws+2*k+i], err = t.missed(ctx, of.by, of.size); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return d, err
	}
	logged, err := t.missed(ctx, t.still(), 0)
	if err != nil {
		return d, err
	}
	shifted, err := t.missed(ctx, t.moves(runs, nil, shift.By, nil), 1)
	if err != nil {
		return d, err
	}
	exact := logged.sum()
	at1 := max(0, missed-(shifted.sum()-exact))
	at2, _ := drive.MeanOf(sums(got[:draws]))
	at3, _ := drive.MeanOf(sums(got[draws : 2*draws]))
	_, variance := spreadOf(got[(kinds-3)*3*draws:][:draws])
	d.at = [3]float64{at1, at2 + at1 - exact, at3 + at1 - exact} // what lies between transects is in all
	d.best = extrapolate(d.at[0], d.at[1], d.at[2])
	open := got[2*draws : 3*draws]
	d.half, d.open = drive.In95*math.Sqrt(variance), drive.In95*math.Sqrt(opened(open))
	middle, _ := drive.MeanOf(sums(open))
	d.under = math.Sqrt(max(0, d.open*d.open-math.Pow(drive.In95*max(0, middle-exact), 2)))
	d.fewer, d.more, err = t.leant(ctx, runs, exact)
	return d, err
}

// Draws are what Drawn finds, m². Steered is the most where the receiver's error is not in the log, because the set was steered by that receiver: then the error parts
// passes on the ground that lie side by side in the log, so that it is missed ground with the error's variance once more.
type Draws struct{ Best, Least, Most, Steered, Unshifted float64 }

// extrapolate is missed ground without the receiver's error, by what it is with the error's variance once, twice and three times. A gap
// that is zero in the mean has the root of a line in the variance, E max(0, N(0, σ²)) = σ/√2π, and one wider than all errors
// does not answer to it. So that power is taken, from 1 to mostPower, which makes a line of the three. Where missed ground rises the more the
// more error there is, since passes lap that the greater errors part, it is the parabola through them.
func extrapolate(at1, at2, at3 float64) float64 {
	bend := func(p float64) float64 { return math.Pow(at1/at3, p) - 2*math.Pow(at2/at3, p) + 1 }
	switch {
	case at1 <= 0:
		return 0
	case !(at1 < at2 && at2 < at3) || bend(1) >= 0:
		return max(0, 3*at1-3*at2+at3)
	}
	low, high := 1.0, mostPower
	for range 40 {
		if p := (low + high) / 2; bend(p) < 0 {
			low = p
		} else {
			high = p
		}
	}
	return math.Pow(max(0, 2*math.Pow(at1, high)-math.Pow(at2, high)), 1/high)
}

// mostPower: what three figures bend by is mostly what the log errs by, and the less error is left, the more passes lap for what their gaps spread. With m of lap
// and gaps that spread by σ missed ground is F = σ·φ(m/σ) − m·Φ(−m/σ), which has as its power 1 − F·F″/F′², by the variance: 1 + (1 − x²)(1 − x·Φ(−x)/φ(x)) with
// x = m/σ, and this one at a lap of a fifth of the spread. On simulated days with a differential receiver (testdata/fieldday) estimates err by 42 to 52 m² with it, by 51 to 71 with 2.
const mostPower = 1.75

// walk is an Ornstein-Uhlenbeck process of deviation 1 in either coordinate.
type walk struct {
	at      plane.XY
	seconds float64
	begun   bool
}

// on is the process at a time, with what is new there, of deviation 1; where no time is logged each call is independent of the one before.
func (w *walk) on(seconds float64, fresh plane.XY) plane.XY {
	keep := 0.0
	if w.begun {
		keep = math.Exp(-math.Abs(seconds-w.seconds) / changed)
	}
	if math.IsNaN(keep) {
		keep = 0
	}
	w.at = w.at.Scale(keep).Add(fresh.Scale(math.Sqrt(1 - keep*keep)))
	w.seconds, w.begun = seconds, true
	return w.at
}

// drift is a drawn slow error of the receiver over a run, of so many metres for 1 m of pass-to-pass error, at times spread evenly over it from its
// begin to its end, and between them evenly from one to the next.
type drift []plane.XY

func (d drift) at(part float64) plane.XY {
	x := part * float64(len(d)-1)
	k := max(0, min(int(x), len(d)-2))
	return d[k].Lerp(d[k+1], x-float64(k))
}

// slowly draws the slow error over all runs, of so many times its usual size, from what is new at each knot, of deviation 1 in either coordinate.
func slowly(runs []drive.Run, size float64, fresh func() plane.XY) []drift {
	var slow walk
	out := make([]drift, len(runs))
	for i, one := range runs {
		from, to := secondsOf(one.Pass.From), secondsOf(one.Pass.To)
		if !(to >= from) { // nobody knows how long it took: less than the error needs to change, as most passes do
			at := slow.on(math.NaN(), fresh()).Scale(size * perPassErrorUntimed)
			out[i] = drift{at, at}
			continue
		}
		parts := max(1, math.Ceil(min((to-from)/drifts, mostDrifts)))
		for k := range int(parts) + 1 {
			out[i] = append(out[i], slow.on(from+float64(k)/parts*(to-from), fresh()).Scale(size*perPassError))
		}
	}
	return out
}

// walks are drawn slow errors over all runs whose mean squares are right, not only in the mean. What missed ground grows by goes with what neighbouring
// rows differ by, squared: of sixteen free draws that is off by a third, alike on all days of one layout, and best estimates of differential receivers by 6 %.
type walks struct {
	fresh [][]float64 // what is new at each knot, by draws; first along the rows, then across them
	knots int
	along plane.XY // unit, the rows
	size  float64
}

func walksOf(runs []drive.Run, many int, along plane.XY) walks {
	w := walks{along: along, size: math.Sqrt(float64(many) / float64(many-1))} // balanced has variances of 1
	slowly(runs, 1, func() plane.XY { w.knots++; return plane.XY{} })
	w.fresh = balanced(many, 2*w.knots, rand.New(rand.NewPCG(0, 2)))
	return w
}

// slow is the drawn slow error of that number.
func (w *walks) slow(runs []drive.Run, number int) []drift {
	fresh, knot := w.fresh[number], -1
	return slowly(runs, w.size, func() plane.XY {
		knot++
		return w.along.Scale(fresh[knot]).Add(w.along.Left().Scale(fresh[w.knots+knot]))
	})
}

// outward draws how much farther out the ends of work lie that their sides tell, m: by what these leave open, given what
// a side errs by; and how far with each end's own the other way round.
func (t *transects) outward(along []float64, rng *rand.Rand) (out [2][]float64) {
	out[0], out[1] = make([]float64, len(t.ends)), make([]float64, len(t.ends))
	for k, end := range t.ends {
		own := rng.NormFloat64()
		if end.open.Spread == 0 {
			continue
		}
		_, anywhere := end.open.Anywhere()
		for i, sign := range [2]float64{1, -1} {
			out[i][k] = math.Sqrt(1-anywhere) * end.open.Drawn(along[k], sign*own)
		}
	}
	return out
}

// leant is by how much less and by how much more is missed, m², were all ends of work that rules tell so much farther out, or farther in, as they may lie
// alike at 95 % (drive.Run.EndsLean). Nothing in such a log tells when a tool was lowered, so no draws are needed: one number is open, and missed ground falls
// with it, so that its quantiles are those of the number. It falls ever less, as ends come to lie in ground that is worked anyway: by the deviation
// of what is missed the range would end too low.
func (t *transects) leant(ctx context.Context, runs []drive.Run, logged float64) (fewer, more float64, err error) {
	outward, any := make([]float64, len(t.ends)), false
	for k, end := range t.ends {
		if end.open != (drive.Switch{}) { // else the log begins or ends there, or has a gap
			outward[k] = drive.In95 * runs[end.run].EndsLean
			any = any || outward[k] > 0
		}
	}
	if !any {
		return 0, 0, nil
	}
	by := t.moves(runs, nil, plane.XY{}, outward)
	far, err := t.missed(ctx, by, 1)
	if err != nil {
		return 0, 0, err
	}
	near, err := t.missed(ctx, by, -1)
	return logged - far.sum(), near.sum() - logged, err
}

// linesAstray says whether the lines of sides are known so badly beside how ends lie about them that it counts: half as badly, by their mean squares. With a fix a second it is a sixth.
func (t *transects) linesAstray() bool {
	doubt, spread := 0.0, 0.0
	for _, e := range t.ends {
		doubt, spread = doubt+e.open.Doubt*e.open.Doubt, spread+e.open.Spread*e.open.Spread
	}
	return 2*doubt > spread
}

// withLines adds to how much farther out ends are taken to lie what their lines err by: an end goes with its line as far as its step lets it (drive.Switch).
func (t *transects) withLines(anywhere, along []float64) []float64 {
	for k, end := range t.ends {
		if end.open.Spread > 0 {
			anywhere[k] += end.open.Follows() * end.open.Doubt * along[k]
		}
	}
	return anywhere
}

// anywhere draws how much farther out those ends of work are taken to lie, m, of which nothing, or hardly anything, tells where in their steps: half a step's length or less either way.
func (t *transects) anywhere(rng *rand.Rand) []float64 {
	out := make([]float64, len(t.ends))
	for k, end := range t.ends {
		if half, _ := end.open.Anywhere(); half > 0 {
			out[k] = half * (2*rng.Float64() - 1)
		}
	}
	return out
}

// opened is the variance of what is missed, m⁴, by all that is open but the receiver's slow error. In a pair of draws what is alike in many ends is the same, and
// each end's own is the other way round: the mean of the two goes with the first and their half difference with the second. Ends' own make ground that lies apart.
func opened(draws []banded) float64 {
	mean, half := make([]float64, len(draws)/2), make([]banded, len(draws)/2)
	for k := range mean {
		a, b := draws[2*k], draws[2*k+1]
		mean[k] = (a.sum() + b.sum()) / 2
		for i := range a {
			half[k][i] = (a[i] - b[i]) / 2
		}
	}
	_, alike := drive.MeanOf(mean)
	_, own := spreadOf(half)
	return alike + own
}

// balanced are so many rows of so many numbers drawn from N(0, 1). Over the rows each column's mean is 0 and its variance 1, and in blocks of one less than there
// are rows any two columns have nothing in common. So what adds to a sum in proportion to them, adds its own to the sum's variance, which sixteen free draws tell to one in
// three only.
func balanced(rows, columns int, rng *rand.Rand) [][]float64 {
	out := make([][]float64, rows)
	for k := range out {
		out[k] = make([]float64, columns)
	}
	var block [][]float64 // of unit length, square to each other and to a column of ones
	for c := range columns {
		if len(block) >= rows-1 {
			block = block[:0]
		}
		one := make([]float64, rows)
		for k := range one {
			one[k] = rng.NormFloat64()
		}
		for range 2 { // Gram-Schmidt, twice for its rounding
			mean, _ := drive.MeanOf(one)
			for k := range one {
				one[k] -= mean
			}
			for _, before := range block {
				dot := 0.0
				for k := range one {
					dot += one[k] * before[k]
				}
				for k := range one {
					one[k] -= dot * before[k]
				}
			}
			long := 0.0
			for _, x := range one {
				long += x * x
			}
			for k := range one {
				one[k] /= math.Sqrt(long)
			}
		}
		block = append(block, one)
		for k := range one {
			out[k][c] = one[k] * math.Sqrt(float64(rows-1))
		}
	}
	return out
}

// sides are the sides of a field at which ends of work lie, all lowerings or all liftings. Rows tell each other where in their steps they lie, so the lines of
// those on one side err together. What a line errs by is a number of deviation 1 at knots along its side, and between them a mean of two of that deviation.
type sides struct {
	of    []side
	knots int // in all
	ends  []knotted
}

type side struct {
	out      plane.XY // unit
	lowering bool
	knots    map[int]int // their numbers, by places sideKnot apart across out
}

// knotted is between which knots an end lies, and how far from the first to the second.
type knotted struct {
	first, second int
	part          float64
}

const (
	sideKnot = 200.0  // m, some thirty working widths, the widest reach within which rows tell each other where they end (drive)
	sideCos  = 0.9397 // cos 20°
	sideBase = 5.0    // m of travel that tell which way an end of work lies
)

func sidesOfEnds(ends []workEnd) *sides {
	s := &sides{ends: make([]knotted, len(ends))}
	for k, end := range ends {
		if end.open.Spread == 0 {
			continue // no line tells it
		}
		at := slices.IndexFunc(s.of, func(one side) bool { return one.lowering == end.lowering && one.out.Dot(end.out) >= sideCos })
		if at < 0 {
			at = len(s.of)
			s.of = append(s.of, side{end.out, end.lowering, map[int]int{}})
		}
		one := s.of[at]
		knot := func(n int) int {
			number, ok := one.knots[n]
			if !ok {
				number = s.knots
				one.knots[n], s.knots = number, number+1
			}
			return number
		}
		aside := one.out.Cross(end.at) / sideKnot
		before := math.Floor(aside)
		s.ends[k] = knotted{knot(int(before)), knot(int(before) + 1), aside - before}
	}
	return s
}

// along is what the line of each end errs by, of deviation 1, by what the knots do.
func (s *sides) along(knots []float64) []float64 {
	out := make([]float64, len(s.ends))
	for k, e := range s.ends {
		if s.knots > 0 {
			out[k] = (knots[e.first]*(1-e.part) + knots[e.second]*e.part) / math.Hypot(1-e.part, e.part)
		}
	}
	return out
}

// secondsOf is a time in seconds; NaN where none was logged.
func secondsOf(t time.Time) float64 {
	if t.IsZero() {
		return math.NaN()
	}
	return float64(t.UnixNano()) / 1e9
}
