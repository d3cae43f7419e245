package drive

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/motion"
	"balk/geo/plane"

	"github.com/tidwall/rtree"
)

// A tool is lowered and lifted between two fixes. The log says between which, and the
// other rows on the same side of the field say where between: a driver lowers at a line.
//
//	lifted  ┄┄┄┄·   ·   ·        fixes of three rows, one metre or two apart
//	 line ────────×───×──×──     × where the tool was lowered, most likely
//	working     ·   ·   ·
//
// For the middle of the step, taken alone, missed ground at row ends would come out too
// large even though the middle is right in the mean: an end that seems too short misses ground, one
// that seems too long by as much adds none.
const (
	sideCos = 0.9397 // cos 20°: row ends whose ways differ by less lie on one side of the field
	// sideReach: rows as far aside as so many working widths have a say in where a row's end is, or two or four times as
	// far, up to sideFarthest, where the line is straight so far: where lines agree within sideAgree standard deviations.
	sideReach    = 8.0
	sideFarthest = 32.0
	sideAgree    = 2.0
	// sideRows: fewer other rows say nothing, and the middle of the step stands.
	sideRows = 4
	// sideMost: where more switches lie within reach, the tool's sensor flaps, and there are no row ends.
	sideMost = 250
	// sideRounds of weighing rows against each other; the changes halve from one to the next.
	sideRounds = 30
	// sideMore rounds suffice from what a narrower reach says.
	sideMore = 6
	// sideStill: rounds end when no switch goes farther than this.
	sideStill = 0.002 // m
	// strayRow: a row that ends farther from the others' line than so many standard deviations has no say.
	strayRow = 4.0
	// pairsOf: lines are tried through pairs of so many rows.
	pairsOf = 16
	// linesBy: about so many rows judge a line.
	linesBy = 24
	// rowBend: a lifted fix so far off the way of its row lies in the turn. The turn makes far more of it, what a receiver errs by over a few metres far less.
	rowBend = 10 * math.Pi / 180
	// beside: a switch lies no nearer to a fix, so that the step to it has a direction.
	beside = 0.01 // m
)

// switchover is a lowering or lifting between working fix k of a trail and its lifted neighbour.
type switchover struct {
	trail     *trail
	working   plane.XY // place of the bar at the working fix
	out       plane.XY // unit vector from the working fix to the lifted one
	lowering  bool
	round     bool // of work that goes round in the headland
	fix, next int

	from, to float64  // m along out from working: where the switch may lie
	at, sd   float64  // m along out, and its standard deviation
	told     sideLine // what other rows say of it in the end

	deep, nearer float64 // m inside the boundary, at working, and by how much that grows for each metre along out
}

// middle is where the switch is taken to be, and its standard deviation, as long as nothing tells where in its step.
func (s switchover) middle() (at, sd float64) {
	return (s.from + s.to) / 2, (s.to - s.from) / math.Sqrt(12)
}

// place is where the switch is taken to be.
func (s switchover) place() plane.XY { return s.working.Add(s.out.Scale(s.at)) }

// settleSwitches works out for all switches of all trails where in their steps they lie.
//
// Of the other switches on a side, all lowerings or all liftings, of rows or of rounds in the headland, a line is laid through those within a reach, weighted by
// how far aside they are (local linear regression, Cleveland 1979). A switch then lies about that line as the others do,
// and within its step: a normal distribution cut off at both ends. Its mean and
// deviation stand for the switch in the next round, which is the EM algorithm for censored data
// (Dempster, Laird and Rubin 1977).
//
//  1. A switch stays within its step.
//  2. Where the others vary by much more than the step is long, it lies in the middle.
//  3. Order and direction in which the rows were driven play no part.
//  4. A round that ends at a corner, a step or two beyond where the rows beside it end, is not drawn to them.
func settleSwitches(trails []*trail, scene *scene, w Work) []*switchover {
	var all []*switchover
	for _, t := range trails {
		if t.State == nil {
			continue
		}
		l := limitsOf(t, w)
		for _, sp := range byState(t) {
			round := scene.round(t.at[sp.from:sp.to+1], w.HeadlandDepth())
			for _, s := range [2]struct{ k, n int }{{sp.from, sp.from - 1}, {sp.to, sp.to + 1}} {
				if !t.switched(s.k, s.n, l) {
					continue
				}
				out, long := t.alongRow(s.k, s.n)
				one := &switchover{trail: t, fix: s.k, next: s.n, working: t.at[s.k], out: out, lowering: s.n < s.k, round: round, to: long}
				if lag, ok := t.lag[[2]int{s.k, s.n}]; ok {
					if dt := math.Abs(t.seconds[s.n] - t.seconds[s.k]); dt > 0 {
						one.from, one.to = long/dt*lag[0], long/dt*lag[1]
					}
				}
				one.from, one.to = one.from+beside, max(one.to, one.from+3*beside)-beside
				one.at, one.sd = one.middle()
				if round {
					one.deep, one.nearer = one.toEnd(scene, w.Width)
				} else {
					one.deep, one.nearer = one.toEdge(scene)
				}
				all = append(all, one)
			}
		}
	}
	var tree rtree.RTreeG[*switchover]
	for _, s := range all {
		at := [2]float64{s.working.X, s.working.Y}
		tree.Insert(at, at, s)
	}
	told := make([]widening, len(all))
	slower := slowerBy(all)
	rounds := sideRounds * slower
	for widths := sideReach; widths <= sideFarthest; widths *= 2 {
		for i, by := range settledWithin(all, &tree, widths*w.Width, rounds) {
			told[i].widen(by)
		}
		for i, s := range all {
			s.take(told[i])
		}
		rounds = sideMore * slower
	}
	for i, by := range settledAlong(all, &tree, sideFarthest*w.Width, sideRounds*slower) {
		if by.told && all[i].trail.apart {
			told[i].sideLine = by // so long a step does not tell where a line of its own runs
			continue
		}
		told[i].widen(by)
	}
	for i, s := range all {
		s.take(told[i])
		if s.trail.switches == nil {
			s.trail.switches = map[[2]int]switchover{}
		}
		s.trail.switches[[2]int{s.fix, s.next}] = *s
	}
	return all
}

// slowerBy is how many times as many rounds switches need as those a second apart. What a round leaves of the way to where it ends is the share of what a
// step hides (Dempster, Laird and Rubin 1977): 1 − 1.806·σ/L for a line σ wide in steps L long (see doubtOf), so rounds go as L.
func slowerBy(all []*switchover) int {
	long := 0.0
	for _, s := range all {
		if s.trail.apart {
			long = max(long, s.to-s.from)
		}
	}
	return 1 + int(long/farApart)
}

// alongRow is which way a row goes on from its last working fix k to where the tool was lifted, or back to where it was lowered, and how far at most: along the chord to the
// lifted neighbour, of that length, or, where fixes are far apart and the neighbour lies in the turn, straight on as far as the set came in that time: a driver lifts before he turns.
func (t *trail) alongRow(k, neighbour int) (out plane.XY, length float64) {
	chord := t.at[neighbour].Sub(t.at[k])
	length = chord.Len()
	out = chord.Scale(1 / length)
	by := k - neighbour
	if inside := k + by; t.apart && inside >= 0 && inside < len(t.at) {
		row := t.at[k].Sub(t.at[inside])
		switch along := row.Dot(out); {
		case row.Len() < parked || along <= 0:
			return out, length
		case along > math.Cos(rowBend)*row.Len():
			return row.Unit(), length
		}
		way := row.Len() / math.Abs(t.seconds[k]-t.seconds[inside]) * math.Abs(t.seconds[neighbour]-t.seconds[k])
		if !(way > length && way < math.Inf(1)) {
			way = length
		}
		return row.Unit(), way
	}
	return out, length
}

// sideLine is what the rows within a reach say of a switch.
type sideLine struct {
	told        bool    // there are enough
	at, sd      float64 // m along out, of the switch
	line, doubt float64 // m along out, of the others' line, and its standard deviation
	spread      float64 // m, standard deviation of a switch about that line
}

// settledWithin is what the rows within a reach say of all switches, in so many rounds from where these are taken to be.
func settledWithin(all []*switchover, tree *rtree.RTreeG[*switchover], reach float64, rounds int) []sideLine {
	near := make([][]otherRow, len(all))
	for i, s := range all {
		near[i] = together(besides(tree, s, reach))
	}
	untilStill(all, rounds, func(place [][2]float64) {
		for i, s := range all {
			if place[i] = [2]float64{s.at, s.sd}; len(near[i]) >= sideRows {
				place[i][0], place[i][1] = s.settled(lineThrough(near[i]))
			}
		}
	})
	out := make([]sideLine, len(all))
	for i, s := range all {
		if len(near[i]) < sideRows {
			continue
		}
		line, spread := lineThrough(near[i])
		o := sideLine{told: true, line: line, doubt: doubtOf(near[i], spread), spread: spread}
		o.at, _ = s.settled(line, spread)
		_, o.sd = s.settled(line, math.Hypot(spread, o.doubt))
		out[i] = o
	}
	return out
}

// untilStill settles switches by each other, round by round, until none moves any more, or for so many rounds. place takes where each is to be,
// m along out, and its standard deviation; none goes there before all are told.
func untilStill(all []*switchover, rounds int, settle func(place [][2]float64)) {
	place := make([][2]float64, len(all))
	for range rounds {
		settle(place)
		moved := 0.0
		for i, s := range all {
			moved = max(moved, math.Abs(s.at-place[i][0]), math.Abs(s.sd-place[i][1]))
			s.at, s.sd = place[i][0], place[i][1]
		}
		if moved < sideStill {
			return
		}
	}
}

// take sets the switch to what other rows say of it.
func (s *switchover) take(by widening) {
	s.told = by.sideLine
	if s.at, s.sd = s.middle(); by.told {
		s.at, s.sd = by.at, by.sd
	}
}

// widening is what the rows within the reaches tried so far say of a switch.
type widening struct {
	sideLine
	from, to float64 // m along out: where their lines agree that the line runs
	refused  bool    // a wider reach has another line
}

// widen takes what the rows within the next wider reach say. More rows tell a line the better, where it is straight so far; where
// it is not, the line through them lies off those of narrower reaches by more than their doubt. The widest reach counts
// whose line lies within the intervals of all narrower ones (Lepski 1991; Goldenshluger and Nemirovski 1997).
func (t *widening) widen(by sideLine) {
	switch {
	case t.refused || !by.told:
	case !t.told:
		t.sideLine, t.from, t.to = by, by.line-sideAgree*by.doubt, by.line+sideAgree*by.doubt
	case by.line < t.from || by.line > t.to:
		t.refused = true
	default:
		t.sideLine, t.from, t.to = by, max(t.from, by.line-sideAgree*by.doubt), min(t.to, by.line+sideAgree*by.doubt)
	}
}

// settled is where in its step a switch lies that lies about a place with a deviation, and its own. A row that ends elsewhere than the
// others stays: they say nothing of where in its step.
func (s *switchover) settled(line, spread float64) (at, sd float64) {
	if s.strays(line, spread) {
		return s.at, s.sd
	}
	return cutNormal(line, spread, s.from, s.to)
}

// strays says whether a switch lies elsewhere than about a line.
func (s *switchover) strays(line, spread float64) bool {
	return line < s.from-strayRow*spread || line > s.to+strayRow*spread
}

// otherRow is another switch on the same side: how far aside it is, and its weight.
type otherRow struct {
	of     *switchover
	base   float64 // m along the way of the one in question, of the working fix
	slope  float64 // of its own way along that
	aside  float64 // m
	weight float64
}

// place is where the row begins or ends, m along the way of the one in question.
func (b otherRow) place() float64 { return b.base + b.slope*b.of.at }

// besides are the other switches on the side of s within reach; none where there are more than sideMost.
func besides(tree *rtree.RTreeG[*switchover], s *switchover, reach float64) (out []otherRow) {
	seen := 0
	tree.Search([2]float64{s.working.X - reach, s.working.Y - reach}, [2]float64{s.working.X + reach, s.working.Y + reach}, func(_, _ [2]float64, o *switchover) bool {
		seen++
		d := o.working.Sub(s.working)
		aside := s.out.Cross(d)
		if o != s && o.lowering == s.lowering && o.round == s.round && o.out.Dot(s.out) >= sideCos && math.Abs(aside) < reach {
			u := 1 - aside*aside/(reach*reach)
			out = append(out, otherRow{of: o, base: s.out.Dot(d), slope: o.out.Dot(s.out), aside: aside, weight: u * u})
		}
		return seen <= sideMost
	})
	if seen > sideMost {
		return nil
	}
	// A tree gives them in the order in which they went in, and sums must not hang on that.
	slices.SortFunc(out, func(a, b otherRow) int { return cmp.Or(cmp.Compare(a.aside, b.aside), cmp.Compare(a.base, b.base)) })
	return out
}

// together leaves out rows that end elsewhere than the others, such as rounds of the headland beside rows, before a line is laid through
// them: they would draw it to themselves. Of the lines through two ends that one counts from which the median of the others is off least
// (least median of squares, Rousseeuw 1984), which stands as long as less than half end elsewhere.
func together(near []otherRow) []otherRow {
	if len(near) < sideRows {
		return near
	}
	ends, off := make([]float64, len(near)), make([]float64, len(near))
	for i, b := range near {
		ends[i] = b.place()
	}
	every := 1 + len(near)/linesBy // of many, some tell the median
	from := func(i, j int) []float64 {
		slope := (ends[j] - ends[i]) / (near[j].aside - near[i].aside)
		off = off[:0]
		for k := 0; k < len(near); k += every {
			off = append(off, math.Abs(ends[k]-ends[i]-slope*(near[k].aside-near[i].aside)))
		}
		return off
	}
	step := 1 + len(near)/pairsOf
	best, first, second := math.Inf(1), -1, -1
	for i := 0; i < len(near); i += step {
		for j := i + step; j < len(near); j += step {
			if near[j].aside-near[i].aside < beside {
				continue
			}
			if m := Median(from(i, j)); m < best {
				best, first, second = m, i, j
			}
		}
	}
	if first < 0 {
		return near
	}
	every = 1
	kept := near[:0]
	for k, o := range from(first, second) {
		if b := near[k]; o <= strayRow*math.Max(motion.FromMAD*best, b.of.sd) {
			kept = append(kept, b)
		}
	}
	return kept
}

// lineThrough is where a line through the switches beside it passes the one in question, and the
// standard deviation of a switch about it.
//
// The line takes two rows from the count of those that tell the deviation, where they are seen exactly. Where in its step a row ends is not
// seen, that part of the deviation is what the round before had: to divide it by two rows less too, each round, makes it too large. One
// row less is right in the mean for fixes a second apart (measured over drawn rows, TestDoubtOfRowEnds).
func lineThrough(near []otherRow) (at, spread float64) {
	weights, off := make([]float64, len(near)), make([]float64, len(near))
	for i, b := range near {
		weights[i] = b.weight
	}
	for range 2 { // the second time without strays
		var sw, sww, sx, sy, sxx, sxy float64
		for i, b := range near {
			y, w := b.place(), weights[i]
			sw, sww, sx, sy, sxx, sxy = sw+w, sww+w*w, sx+w*b.aside, sy+w*y, sxx+w*b.aside*b.aside, sxy+w*b.aside*y
		}
		slope := 0.0
		if det := sw*sxx - sx*sx; det > 1e-6*sw*sxx {
			slope = (sw*sxy - sx*sy) / det
		}
		at = (sy - slope*sx) / sw
		var seen, unseen float64
		for i, b := range near {
			r := b.place() - at - slope*b.aside
			off[i] = math.Abs(r)
			seen, unseen = seen+weights[i]*r*r, unseen+weights[i]*b.of.sd*b.of.sd
		}
		rows := sw * sw / sww // of one weight would tell as much (Kish 1965)
		spread = math.Sqrt((seen + unseen) / sw * rows / max(rows-1-seen/max(seen+unseen, 1e-12), 1))
		limit := strayRow * math.Max(motion.FromMAD*Median(slices.Clone(off)), 0.1)
		for i := range near {
			if off[i] > limit {
				weights[i] = 0
			}
		}
	}
	return at, spread
}

// doubtOf is what the line of lineThrough may be off, as a standard deviation, where switches lie about it by a spread σ. A switch whose step is long beside σ tells
// something by the nearer end of the step only: with ends that lie anywhere its Fisher information is 1.806/(σ·step), the
// integral of φ²/(Φ(1 − Φ)) by the chance that an end lies near; it is never more than the 1/σ² of one seen exactly.
func doubtOf(near []otherRow, spread float64) float64 {
	var sw, sx, sxx float64
	for _, b := range near {
		sw, sx, sxx = sw+b.weight, sx+b.weight*b.aside, sxx+b.weight*b.aside*b.aside
	}
	line := 0.0
	for _, b := range near {
		share := b.weight / sw
		if det := sw*sxx - sx*sx; det > 1e-6*sw*sxx {
			share = b.weight * (sxx - b.aside*sx) / det
		}
		line += share * share * math.Max(spread*spread, spread*(b.of.to-b.of.from)/1.806)
	}
	return math.Sqrt(line)
}

// cutNormal is the mean and standard deviation of a normal distribution cut off outside [from, to].
func cutNormal(mean, sd, from, to float64) (m, s float64) {
	a, b := (from-mean)/sd, (to-mean)/sd
	if a > cutFar { // so far off that only the nearer end counts
		return from, sd / a
	}
	if b < -cutFar {
		return to, -sd / b
	}
	phi := func(x float64) float64 { return math.Exp(-x*x/2) / math.Sqrt(2*math.Pi) }
	z := lower(b) - lower(a)
	if a > 0 { // differences of small tails, not of numbers near one
		z = lower(-a) - lower(-b)
	}
	r := (phi(a) - phi(b)) / z
	v := 1 + (a*phi(a)-b*phi(b))/z - r*r
	return mean + sd*r, sd * math.Sqrt(math.Max(v, 0))
}
