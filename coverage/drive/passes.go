package drive

import (
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

const (
	// parked: fixes nearer than this to the last kept one are merged with it. It
	// is the noise of a good receiver standing still; the bar must not spin while
	// the set is parked.
	parked = 0.05 // m
	// The limits of a log gap where Work does not set them (common practice, no
	// source): ten silent seconds, or 25 m, which is ten steps of a 1 Hz log at
	// field speed; coarser logs get five of their own usual steps.
	gapTime  = 10.0 // s
	gapDist  = 25.0 // m
	gapSteps = 5.0
	// A silent time is a gap only if the set moved on by more than twice its usual
	// step meanwhile: who stands still works no ground.
	gapMoved = 2.0
	// Pause: who says nothing for longer has ended his day or gone to eat. It is a break and no time on the field (common practice, no source).
	Pause = 3600.0 // s
)

// span is a run of fixes of one trail, both ends included.
type span struct{ from, to int }

// A splitter finds the runs of work in a trail. Fixes with unknown work state
// may lie inside a run: the swath between them is unknown ground.
type splitter func(t *trail) []span

// splitterFor picks the splitter: work state where it is logged, else the
// track's own breaks.
func splitterFor(t *trail) splitter {
	if t.State != nil {
		return byState
	}
	return byBreaks
}

// byBreaks takes every unbroken part for a pass.
func byBreaks(t *trail) []span {
	var out []span
	from := 0
	for _, b := range append(slices.Clip(t.breaks), len(t.at)) {
		if b > from {
			out = append(out, span{from, b - 1})
		}
		from = b
	}
	return out
}

// byState cuts the parts at fixes where the tool is lifted. Where between a lifted
// and a working fix the work begins is settled in runOf (see switched).
func byState(t *trail) []span {
	var out []span
	for _, part := range byBreaks(t) {
		for k := part.from; k <= part.to; k++ {
			if t.State[k] == geo.Lifted {
				continue
			}
			s := span{k, k}
			worked := false
			for ; k <= part.to && t.State[k] != geo.Lifted; k++ {
				worked = worked || t.State[k] == geo.Working
				s.to = k
			}
			if worked {
				out = append(out, s)
			}
		}
	}
	return out
}

// liftedSpans are the stretches between the passes of the same part.
func liftedSpans(t *trail, passes []span) []span {
	var out []span
	n := 0
	for _, part := range byBreaks(t) {
		from := part.from
		for ; n < len(passes) && passes[n].from <= part.to; n++ {
			if passes[n].from > from {
				out = append(out, span{from, passes[n].from})
			}
			from = passes[n].to
		}
		if part.to > from {
			out = append(out, span{from, part.to})
		}
	}
	return out
}

// limits are the lengths beyond which a step is a log gap.
type limits struct {
	dist, time float64 // m, s
	usual      float64 // m, the trail's usual step
}

// limitsOf measures a trail's usual step. For timed logs it is the median step.
// A line without times may be thinned (two points for a straight 400 m, many
// for a bend); there it is the step in which half of the way is driven.
func limitsOf(t *trail, w Work) limits {
	l := limits{dist: w.GapDist, time: w.GapTime}
	if !t.timed && (l.dist > 0 || t.mostlyBelow(gapDist/gapSteps)) {
		if l.dist == 0 {
			l.dist = gapDist
		}
		if l.time == 0 {
			l.time = gapTime
		}
		return l // without times the usual step decides nothing else
	}
	steps, times := make([]float64, 0, len(t.at)), make([]float64, 0, len(t.at))
	t.steps(func(k int, d float64) {
		if d >= parked {
			steps = append(steps, d)
		}
		if dt := t.seconds[k] - t.seconds[k-1]; dt > 0 {
			times = append(times, dt)
		}
	})
	if len(steps) > 0 {
		if t.timed {
			l.usual = Median(steps)
		} else {
			l.usual = halfway(steps)
		}
	}
	if l.dist == 0 {
		l.dist = max(gapDist, gapSteps*l.usual)
	}
	if l.time == 0 {
		l.time = gapTime
		if len(times) > 0 {
			l.time = max(gapTime, gapSteps*Median(times))
		}
	}
	return l
}

// steps calls f for every step of the trail: the fix it ends at and its length.
func (t *trail) steps(f func(k int, d float64)) {
	n := 0
	for k := 1; k < len(t.at); k++ {
		for n < len(t.breaks) && t.breaks[n] < k {
			n++
		}
		if n == len(t.breaks) || t.breaks[n] != k {
			f(k, t.at[k].Dist(t.at[k-1]))
		}
	}
}

// times are how long its steps took, s, without those of no time.
func (t *trail) times() (out []float64) {
	t.steps(func(k int, _ float64) {
		if dt := t.seconds[k] - t.seconds[k-1]; dt > 0 {
			out = append(out, dt)
		}
	})
	return out
}

// mostlyBelow says whether half of the way is driven in steps below d.
func (t *trail) mostlyBelow(d float64) bool {
	var short, all float64
	t.steps(func(_ int, step float64) {
		if all += step; step < d {
			short += step
		}
	})
	return 2*short >= all
}

// halfway is the step at which half of the sum of all steps, shortest first, is
// reached. It sorts them.
func halfway(steps []float64) float64 {
	slices.Sort(steps)
	var sum, run float64
	for _, s := range steps {
		sum += s
	}
	for _, s := range steps {
		if run += s; run >= sum/2 {
			return s
		}
	}
	return 0
}

// gap says whether the step from fix k-1 to k is a log gap.
func (l limits) gap(t *trail, k int) bool {
	return l.parts(t.at[k].Dist(t.at[k-1]), t.seconds[k]-t.seconds[k-1])
}

// gaps says whether one of the steps from one fix to another is a log gap.
func (l limits) gaps(t *trail, from, to int) bool {
	for k := from + 1; k <= to; k++ {
		if l.gap(t, k) {
			return true
		}
	}
	return false
}

// parts says whether a step of d metres in dt seconds (NaN: not logged) is a log gap.
func (l limits) parts(d, dt float64) bool {
	return d > l.dist || dt > l.time && d > gapMoved*l.usual
}

// rest breaks the trail where the log is silent for longer than a pause and goes on elsewhere: nobody works for so long without a fix, and the straight across is no
// ground of a hole in the log.
func (t *trail) rest(l limits) {
	var breaks []int
	t.steps(func(k int, d float64) {
		if d > l.dist && t.seconds[k]-t.seconds[k-1] > Pause {
			breaks = append(breaks, k)
		}
	})
	if len(breaks) > 0 {
		t.breaks = append(slices.Clip(t.breaks), breaks...)
		slices.Sort(t.breaks)
	}
}

// Run is one pass on its way to swaths.
type Run struct {
	Pass         Pass
	Stops        []Stop
	Parts        []Part  // that the bar is at them
	untold       int     // of the log gaps of the pass those without a work state, logged otherwise
	astray       int     // logged headings more than 45° off the travel
	Trail        int     // which trail it is of
	Start        float64 // m, travel of the trail at which it begins; lifted, reversing and silent metres count, see Append
	Begins, Ends Switch  // where about its first and its last stop the work may have begun and ended
	// m, the greatest pass-to-pass error of its fixes, and the part of rounding in it
	PassError, Rounding float64
	Slow                float64 // m, the greatest of its parts
	Blind               int     // fixes whose pass-to-pass error is not known
	Bound               bool    // it is no more than a bound, see boundByHDOP
	EndsLean            float64 // m, standard deviation of what all ends of work may be off alike: where rules tell them
}

// inferredEnds: a rule that takes tools to be lowered at the headland's edge may lie so far off in all rows, by
// the driver's habit and the machine's lengths. Common practice, no source.
const inferredEnds = 0.5 // m

// runOf thins the fixes of a span and sets the bar square to the travel. ok is
// false when the set did not move. Merged is the number of fixes merged because
// the set stood.
func runOf(t *trail, sp span, l limits, w Work) (r Run, merged int, ok bool) {
	kept, kinds, merged := thin(t, sp, l)
	if len(kept) < 2 { // one working fix alone is a flicker
		return Run{}, merged, false
	}
	line := make([]plane.XY, 0, len(kept)+2)
	before, ahead := t.switched(sp.from, sp.from-1, l), t.switched(sp.to, sp.to+1, l)
	if before {
		line = append(line, t.switches[[2]int{sp.from, sp.from - 1}].place())
		kept, kinds = slices.Insert(kept, 0, sp.from), slices.Insert(kinds, 0, StepWorked)
	}
	for _, k := range kept[len(line):] {
		line = append(line, t.at[k])
	}
	if ahead {
		line = append(line, t.switches[[2]int{sp.to, sp.to + 1}].place())
		kept, kinds = append(kept, sp.to), append(kinds, StepWorked)
	}
	r.Pass = Pass{Track: t.trackAt(sp.from).track, From: geo.Instant(t.seconds[sp.from]), To: geo.Instant(t.seconds[sp.to]), Line: line}
	r.Stops = make([]Stop, 0, len(kept)+8)
	if t.inferred || t.assumed && (!t.timed || t.Quality == nil) { // such lines may have been drawn or edited, and then end where they do
		r.EndsLean = inferredEnds
	}
	if before {
		r.Begins = t.switches[[2]int{sp.from, sp.from - 1}].open()
	}
	if ahead {
		r.Ends = t.switches[[2]int{sp.to, sp.to + 1}].open()
	}
	r.Rounding, r.Bound = t.rounding, t.HDOP != nil
	credited := w.Credited()
	var parts partial
	s := 0.0
	for i, k := range kept {
		part := t.partAt(k, w)
		here := Stop{At: line[i], S: s, Next: StepCut, Part: parts.part(&r, part)}
		if math.IsNaN(part.PassError) {
			r.Blind++
		} else {
			r.PassError, r.Slow = max(r.PassError, part.PassError), max(r.Slow, part.Slow)
		}
		var in, out plane.XY
		if i > 0 {
			in = line[i].Sub(line[i-1])
		}
		if i+1 < len(kept) {
			out = line[i+1].Sub(line[i])
			here.Next = kinds[i]
			s += out.Len()
			if kinds[i] == StepUnknown {
				r.Pass.Gaps++
				if !l.gaps(t, k, kept[i+1]) {
					r.untold++
				}
			}
		}
		var face plane.XY
		if t.facing != nil {
			face = t.facing[k]
			if d := in.Add(out); w.Mount == (rig.Mount{}) && face != (plane.XY{}) && math.Abs(d.Dot(face)) <= ownBearing*d.Len() {
				r.astray++
			}
		}
		r.Stops = barsAt(r.Stops, here, part.shift, in, out, face, i > 0 && kinds[i-1] == StepUnknown, credited)
		if i+1 < len(kept) && kinds[i] == StepWorked {
			r.Stops = t.barsBetween(r.Stops, part.shift, k, kept[i+1], out)
		}
	}
	if t.velocity != nil {
		r.Stops = r.thinned(steadyHair, steadyStep)
	}
	r.Pass.Length = s
	return r, merged, true
}

// barsBetween appends the bars between two fixes where the bar goes on a bend. The way is shared out among them evenly.
func (t *trail) barsBetween(stops []Stop, shift float64, k, next int, way plane.XY) []Stop {
	last := stops[len(stops)-1]
	bent := t.bent[next]
	if len(bent) == 0 || next != k+1 || !last.Told || last.Next != StepWorked {
		return stops
	}
	if _, ok := agreeing(way.Unit(), t.facing[next]); !ok {
		return stops
	}
	for i, b := range bent {
		here := last
		here.At, here.S = b.at, last.S+way.Len()*float64(i+1)/float64(len(bent)+1)
		stops = append(stops, here.facing(shift, way, b.facing))
	}
	return stops
}

// Append adds a run with the next number. In one trail it begins where the last one ended and the way from there over some
// places with the tool lifted; over a break of the log that is the straight. Where the set did not move, it stands in the
// second run as in the first.
func Append(runs []Run, next Run, between []plane.XY) []Run {
	n := len(runs)
	next.Pass.Number = n + 1
	if n > 0 && runs[n-1].Trail == next.Trail {
		last := &runs[n-1]
		way := slices.Concat(last.Pass.Line[len(last.Pass.Line)-1:], between, next.Pass.Line[:1])
		if next.Start = last.End() + wayOver(way); next.Start == last.End() {
			seam(last, &next)
		}
	}
	return append(runs, next)
}

// End is the travel of the trail at which the pass ends.
func (r Run) End() float64 { return r.Start + r.Pass.Length }

// seam sets the bars at the place where pass a ends and b begins when the set did not
// move with the tool lifted: it did not turn either, so they stand as if it had not been lifted.
func seam(a, b *Run) {
	end := len(a.Stops) - 1
	over, on := &a.Stops[end], &b.Stops[0]
	if place := a.Pass.Line[len(a.Pass.Line)-1]; place != b.Pass.Line[0] || over.Told || on.Told {
		return
	}
	here := *over
	here.At = b.Pass.Line[0]
	before := a.Pass.Line[len(a.Pass.Line)-2]
	switch got := barsAt(nil, here, a.Parts[over.Part].shift, here.At.Sub(before), b.Pass.Line[1].Sub(here.At), plane.XY{}, false, 0); {
	case len(got) == 1:
		over.Left, on.Left = got[0].Left, got[0].Left
		over.At, on.At = here.At.Sub(over.Left.Scale(a.Parts[over.Part].shift)), here.At.Sub(on.Left.Scale(b.Parts[on.Part].shift))
	case got[0].Next == StepPivot: // the first pass has its ground
		over.Next = StepPivot
		a.Stops = append(a.Stops, got[1])
	}
}

// switched says whether the tool was lowered or lifted between working fix k and
// its neighbour, which the same part of the log has lifted. Where between, the log
// does not tell, so work begins and ends halfway: whichever way the track is read,
// and right in the mean.
func (t *trail) switched(k, neighbour int, l limits) bool {
	if t.State == nil || neighbour < 0 || neighbour >= len(t.at) || t.State[k] != geo.Working || t.State[neighbour] != geo.Lifted {
		return false
	}
	later := max(k, neighbour)
	if _, broken := slices.BinarySearch(t.breaks, later); broken || l.gap(t, later) {
		return false
	}
	return t.at[k].Dist(t.at[neighbour]) >= 2*parked
}

// partAt is what fix k says of the bar, without its place.
func (t *trail) partAt(k int, w Work) Part {
	width, shift := t.barAt(k, w)
	all, slow := t.errorsAt(k, w)
	return Part{Width: width, shift: shift, PassError: all, Slow: slow, Unsided: t.unsided(k, width, w)}
}

// thin keeps the fixes of a span that moved the set, and says what lies between
// one kept fix and the next. The first and the last fix are kept.
func thin(t *trail, sp span, l limits) (kept []int, kinds []Step, merged int) {
	kept = strides(t.at, sp)
	kinds = make([]Step, len(kept)-1, len(kept)+1)
	open := func(k int) bool { return t.State != nil && t.State[k] != geo.Working }
	for i, from := range kept[:len(kept)-1] {
		if l.gaps(t, from, kept[i+1]) {
			kinds[i] = StepUnknown
		}
		for k := from; k <= kept[i+1]; k++ {
			if open(k) {
				kinds[i] = StepUnknown
			}
		}
	}
	return kept, kinds, sp.to - sp.from + 1 - len(kept)
}

// strides keeps of a run of places those that lie no nearer to the last one kept than
// parked, from both ends to the middle, so that it does not matter which way they
// are read. Both ends are kept where they lie that far apart themselves, else the first alone.
func strides(at []plane.XY, sp span) []int {
	near := func(a, b int) bool { return at[a].Dist(at[b]) < parked }
	half := (sp.to - sp.from + 1) / 2
	kept := make([]int, 1, sp.to-sp.from+3)
	kept[0] = sp.from
	for k := sp.from + 1; k < sp.from+half; k++ {
		if !near(k, kept[len(kept)-1]) {
			kept = append(kept, k)
		}
	}
	back := make([]int, 1, half+1) // from the last one on
	back[0] = sp.to
	for k := sp.to - 1; k > sp.to-half; k-- {
		if !near(k, back[len(back)-1]) {
			back = append(back, k)
		}
	}
	if m := sp.from + half; (sp.to-sp.from)%2 == 0 && m < sp.to && !near(m, kept[len(kept)-1]) && !near(m, back[len(back)-1]) {
		kept = append(kept, m)
	}
	// Where the two meet too near to each other, the one that lies nearer to its own
	// neighbour goes, the ends of the run last.
	spare := func(list []int) float64 {
		if n := len(list); n > 1 {
			return at[list[n-1]].Dist(at[list[n-2]])
		}
		return math.Inf(1)
	}
	for near(kept[len(kept)-1], back[len(back)-1]) {
		a, b := spare(kept), spare(back)
		switch {
		case math.IsInf(a, 1) && math.IsInf(b, 1):
			return kept
		case a <= b:
			kept = kept[:len(kept)-1]
		default:
			back = back[:len(back)-1]
		}
	}
	slices.Reverse(back)
	return append(kept, back...)
}

// wayOver is how long the way is over some places, m, standing left out.
func wayOver(at []plane.XY) float64 {
	way, kept := 0.0, strides(at, span{0, len(at) - 1})
	for i, k := range kept[1:] {
		way += at[k].Dist(at[kept[i]])
	}
	return way
}
