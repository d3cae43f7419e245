package drive

import (
	"cmp"
	"math"
	"slices"

	"balk/geo/plane"
)

const (
	// lagSide: switches whose ways out differ by less than 20° are of one direction; see sideCos.
	// lagBlock: so many switches beside each other at most have one line for their row ends; headland edges are straight over so many.
	lagBlock = 12
	// lagLeast: a block of fewer, or with fewer than lagKind lowerings or liftings, tells nothing beside its line.
	lagLeast = 6
	lagKind  = 2
	// lotLast: a row end that lies farther than a working width from the last of so many beside it is of another edge.
	// Lowerings may lie lotApart from liftings: more than a second's way either side.
	lotLast  = 4
	lotApart = 4.0 // m
	// lagEnds: a direction with fewer row ends tells nothing.
	lagEnds = 8
	// habit is how far into the headland drivers work rows, so that nothing is left between, and how far
	// theirs at lowering may lie from that at lifting, as a standard deviation. Common practice, no source.
	habit = 0.5 // m
	// In99 is the two-sided normal quantile at 99 %.
	In99 = 2.5758293
	// speedTime: the speed at a switch is that over so long before and behind.
	speedTime = 1.0 // s
	// speedsTell: passes at other speeds favour seconds or metres, and the headland's edge the set or the driver, where one makes what is seen e³
	// times as likely, and does not make it less likely than that itself.
	speedsTell = 3.0
)

// Lag is what row ends say of when the bar follows the logged work state, and of how far behind the antenna it is.
//
// On one side of a field lowerings and liftings belong to one line, the edge to which the driver works. If the bar
// follows the logged state by d seconds, a lowering is logged v·d before that line and a lifting v·d before it too,
// which is on the line's other side, since they are driven in opposite directions. A bar taken m metres too far behind does the same:
//
//	headland   ↓ lowering logged    }  v·d or m
//	────────────────────────────────── where the bar went in and out
//	rows                 ↑ lifting  }  v·d or m
//
// Passes at other speeds tell one from the other.
type Lag struct {
	Ends    int     `json:"ends"`    // row ends compared
	Metres  float64 `json:"metres"`  // m, how far too far behind the bar was taken, if it is a length; negative: too near
	Doubt   float64 `json:"doubt"`   // m, 95 %, drivers' habits included
	Late    float64 `json:"late"`    // m, so much later rows are lowered, or earlier lifted, in one direction than in another; 0 = alike
	Speed   float64 `json:"speed"`   // m/s, mean at row ends
	Seconds float64 `json:"seconds"` // s, by passes at other speeds alone: mean of both delays ...
	Within  float64 `json:"within"`  // s, 95 %; 0 = all at one speed
	Favours string  `json:"favours"` // LagSeconds, LagMetres; "" = they do not tell
	// s, delays that the set's description would have, if it is seconds: both are Metres by Speed, in the mean
	Lower float64 `json:"lowerDelay"`
	Lift  float64 `json:"liftDelay"`
	// Where the headland's depth is known, and rows are lowered alike in all directions: m beyond its edge, into the headland, where rows begin
	// and end in the middle, and whether that says that it is the set or the driver (LagSet, LagDriver; "" = it does not tell).
	Begin float64 `json:"begin,omitempty"`
	End   float64 `json:"end,omitempty"`
	Whose string  `json:"whose,omitempty"`
}

// What passes at other speeds favour.
const (
	LagSeconds = "seconds"
	LagMetres  = "metres"
)

// What the headland's edge says of row ends: a delay or a length moves begins and ends by as much to either side of where drivers begin and
// end rows, one who ends rows early, or begins them late, these alone.
const (
	LagSet    = "set"
	LagDriver = "driver"
)

// rowEnd is a switch as Lag takes it.
type rowEnd struct {
	out, aside float64 // m, along the mean way out of its direction, and square to it
	speed      float64 // m/s
	beyond     float64 // m, nearer to the boundary than the headland is deep
	lowering   bool
}

// lagOf compares lowerings and liftings beside each other, in blocks of some rows, by least squares: with s = 1 at lowerings, −1 at
// liftings and v the speed less its mean, the place of a switch along the way out is
//
//	out = line of the block + m·s + d·s·v + e·v
//
// m is the distance, in metres, of which a delay d has v·d; e is half the difference of the delays and what else goes
// with speed. Its own place in the step is unknown, so the middle stands, and the residuals have that in them.
// Line and e are taken out of both sides (Frisch and Waugh 1933), so that it is one sum over all blocks.
//
//  1. Nothing is said where m is not beyond its doubt at 99 %, with habit in it, in the direction that says most, and beyond
//     its own error, with the same sign, in all others; rows lowered late on one side of the field only are no lag.
//  2. Shifting, turning and mirroring the field change nothing, nor does the order of rows.
func lagOf(all []*switchover, s *scene, w Work) Lag {
	var directions []*lagDirection
	for _, one := range all {
		speed := one.trail.speedAt(one.fix, one.next)
		at := one.working.Add(one.out.Scale((one.from + one.to) / 2))
		beyond := w.HeadlandDepth() - s.inside(at)
		if one.trail.inferred || math.IsNaN(speed) || w.HeadlandDepth() > 0 && beyond > w.HeadlandDepth()/2 { // a round's end
			continue
		}
		k := slices.IndexFunc(directions, func(d *lagDirection) bool { return d.way.Dot(one.out) >= sideCos })
		if k < 0 {
			k = len(directions)
			directions = append(directions, &lagDirection{way: one.out})
		}
		directions[k].ends = append(directions[k].ends, rowEnd{
			out: directions[k].way.Dot(at), aside: directions[k].way.Cross(at), speed: speed, beyond: beyond, lowering: one.lowering})
	}
	var lag Lag
	blocks := make([][][]rowEnd, len(directions))
	n := 0.0
	for k, d := range directions {
		blocks[k] = d.blocks(w.Width)
		for _, b := range blocks[k] {
			for _, e := range b {
				lag.Speed, n = lag.Speed+e.speed, n+1
			}
		}
	}
	if lag.Speed /= n; n < 2*lagEnds {
		return Lag{}
	}
	var whole lagSums
	var told []lagSums
	for k := range directions {
		var sums lagSums
		for _, b := range blocks[k] {
			sums.add(b, lag.Speed)
		}
		if sums.n >= lagEnds {
			whole.plus(sums)
			told = append(told, sums)
		}
	}
	fit, ok := whole.fit(math.NaN())
	if !ok || len(told) < 2 {
		return Lag{}
	}
	spread := spreadWithin(told)
	var most, least lagFit
	for i, one := range told {
		f, ok := one.fit(spread)
		if !ok || f.m*fit.m <= 0 || math.Abs(f.m) <= In99*f.mError {
			return Lag{}
		}
		if i == 0 || math.Abs(f.m) < math.Abs(least.m) {
			least = f
		}
		if i == 0 || math.Abs(f.m) > math.Abs(most.m) {
			most = f
			lag.delays(f.m, one, w)
		}
	}
	doubt := math.Hypot(most.mError, habit/2)
	if math.Abs(most.m) <= In99*doubt {
		return Lag{}
	}
	lag.Metres, lag.Doubt, lag.Ends = most.m, In95*doubt, whole.n
	if late := math.Abs(most.m) - math.Abs(least.m); late > In99*math.Hypot(math.Hypot(most.mError, least.mError), habit/2) {
		lag.Late = 2 * late
	}
	if fit.dError > 0 {
		lag.Seconds, lag.Within = fit.d, In95*fit.dError
		off := func(seconds float64) float64 { return (fit.d - seconds) / fit.dError }
		lag.Favours = likelier(off(most.m/lag.Speed), LagSeconds, off(0), LagMetres)
	}
	if w.HeadlandDepth() > 0 && lag.Late == 0 {
		var begins, ends []float64
		for _, b := range slices.Concat(blocks...) {
			for _, e := range b {
				if e.lowering {
					begins = append(begins, e.beyond)
				} else {
					ends = append(ends, e.beyond)
				}
			}
		}
		lag.Begin, lag.End = Median(begins), Median(ends)
		middle := ((lag.Begin+lag.End)/2 - habit) / habit
		lag.Whose = likelier(middle, LagSet, middle+math.Abs(most.m)/habit, LagDriver)
	}
	return lag
}

// likelier is the one of two causes that what is seen favours (see speedsTell), by how many standard deviations it lies off what each would
// make; "" where it favours neither.
func likelier(off float64, one string, offOther float64, other string) string {
	switch a, b := off*off/2, offOther*offOther/2; {
	case b-a > speedsTell && a < speedsTell:
		return one
	case a-b > speedsTell && b < speedsTell:
		return other
	}
	return ""
}

// delays shares the delay between lowering and lifting: where a headland's depth is known, so that rows
// begin and end beyond its edge by habit in the mean; else evenly.
func (l *Lag) delays(metres float64, sums lagSums, w Work) {
	mean := metres / l.Speed
	l.Lower, l.Lift = mean, mean
	if w.HeadlandDepth() > 0 {
		by := (sums.beyond[0].mean() + sums.beyond[1].mean() - 2*habit) / 2 / l.Speed
		by = math.Copysign(min(math.Abs(by), math.Abs(mean)), by)
		l.Lower, l.Lift = mean+by, mean-by
	}
}

// lagDirection are switches with one way out.
type lagDirection struct {
	way  plane.XY
	ends []rowEnd
}

// blocks are ends beside each other, of about the same place along the way out, in lots of lagBlock at most. Passes
// that end elsewhere (rounds of the headland, rows that end at a pond) are in lots of their own.
func (d *lagDirection) blocks(width float64) [][]rowEnd {
	slices.SortFunc(d.ends, func(a, b rowEnd) int { return cmp.Or(cmp.Compare(a.aside, b.aside), cmp.Compare(a.out, b.out)) })
	var open, done []lot
	for _, e := range d.ends {
		ended := func(l lot) bool { return e.aside-l[len(l)-1].aside > sideReach*width }
		for _, l := range open {
			if ended(l) {
				done = append(done, l)
			}
		}
		open = slices.DeleteFunc(open, ended)
		best, near := -1, width
		for k, l := range open {
			if off := l.off(e); off < near {
				best, near = k, off
			}
		}
		if best < 0 {
			open = append(open, lot{e})
		} else {
			open[best] = append(open[best], e)
		}
	}
	var out [][]rowEnd
	for _, l := range append(done, open...) {
		parts := (len(l) + lagBlock - 1) / lagBlock
		for k := range parts {
			out = append(out, l[k*len(l)/parts:(k+1)*len(l)/parts])
		}
	}
	return out
}

// lot are row ends on their way to be a block, from left to right.
type lot []rowEnd

// off is how far a row end lies from the nearest of the last few along the way out, in metres, where lowerings may lie
// lotApart from liftings.
func (l lot) off(e rowEnd) float64 {
	near := math.Inf(1)
	for _, o := range l[max(0, len(l)-lotLast):] {
		off := math.Abs(e.out - o.out)
		if e.lowering != o.lowering {
			off = max(0, off-lotApart)
		}
		near = min(near, off)
	}
	return near
}

// slopeOf is that of the least-squares line of y over x, whose mean is middle; 0 where x does not vary.
func slopeOf(x []float64, middle float64, y []float64) float64 {
	var xy, xx float64
	for i := range x {
		xy += (x[i] - middle) * y[i]
		xx += (x[i] - middle) * (x[i] - middle)
	}
	if xx == 0 {
		return 0
	}
	return xy / xx
}

// lagSums are the normal equations of the fit.
type lagSums struct {
	n, blocks int
	xx        [3][3]float64 // of s, s·v and v, without the blocks' lines
	xy        [3]float64
	yy        float64
	beyond    [2]meanOf // beyond the headland's edge: of lowerings, of liftings
}

// meanOf is a mean on its way.
type meanOf struct {
	sum float64
	n   int
}

func (m meanOf) mean() float64 { return m.sum / float64(m.n) }

func (m *lagSums) plus(o lagSums) {
	m.n, m.blocks, m.yy = m.n+o.n, m.blocks+o.blocks, m.yy+o.yy
	for i := range 3 {
		m.xy[i] += o.xy[i]
		for j := range 3 {
			m.xx[i][j] += o.xx[i][j]
		}
	}
	for i := range 2 {
		m.beyond[i] = meanOf{m.beyond[i].sum + o.beyond[i].sum, m.beyond[i].n + o.beyond[i].n}
	}
}

// add takes a block in, if it is one that tells.
func (m *lagSums) add(block []rowEnd, speed float64) {
	lowerings := 0
	for _, e := range block {
		if e.lowering {
			lowerings++
		}
	}
	if len(block) < lagLeast || min(lowerings, len(block)-lowerings) < lagKind {
		return
	}
	n := len(block)
	var columns [4][]float64 // s, s·v, v, out
	aside := make([]float64, n)
	for i := range columns {
		columns[i] = make([]float64, n)
	}
	for i, e := range block {
		s, kind := 1.0, 0
		if !e.lowering {
			s, kind = -1, 1
		}
		v := e.speed - speed
		columns[0][i], columns[1][i], columns[2][i], columns[3][i], aside[i] = s, s*v, v, e.out, e.aside
		m.beyond[kind] = meanOf{m.beyond[kind].sum + e.beyond, m.beyond[kind].n + 1}
	}
	middle, _ := MeanOf(aside)
	for _, c := range columns { // without their line over the block
		mean, _ := MeanOf(c)
		slope := slopeOf(aside, middle, c)
		for i := range c {
			c[i] -= mean + slope*(aside[i]-middle)
		}
	}
	for i := range n {
		for a := range 3 {
			m.xy[a] += columns[a][i] * columns[3][i]
			for b := range 3 {
				m.xx[a][b] += columns[a][i] * columns[b][i]
			}
		}
		m.yy += columns[3][i] * columns[3][i]
	}
	m.n, m.blocks = m.n+n, m.blocks+1
}

// spreadWithin is the standard deviation of residuals in directions that have an m each: one m for all would have what these differ by
// in it, as where rows are lowered late on one side beside a lag. NaN where too few ends tell it, which a fit takes for its own.
func spreadWithin(of []lagSums) float64 {
	left, free := 0.0, 0
	for _, one := range of {
		if f, ok := one.fit(math.NaN()); ok {
			left, free = left+f.spread*f.spread*float64(f.free), free+f.free
		}
	}
	return math.Sqrt(left / float64(free))
}

// lagFit is the fit of some sums: m and d with their standard errors, and the standard deviation of residuals.
type lagFit struct {
	m, mError, d, dError, spread float64
	free                         int // degrees of freedom that tell spread
}

// fit solves the normal equations. Spread is that of the residuals, NaN: their own. Where all speeds are alike d is not known, and dError 0.
func (m lagSums) fit(spread float64) (lagFit, bool) {
	terms := 3
	if m.xx[1][1] < 1e-3*float64(m.n) || m.xx[2][2] < 1e-3*float64(m.n) { // speeds within 3 cm/s
		terms = 1
	}
	free := m.n - 2*m.blocks - terms
	if free < 1 {
		return lagFit{}, false
	}
	inverse, ok := inverted(m.xx, terms)
	if !ok {
		return lagFit{}, false
	}
	var b [3]float64
	left := m.yy
	for i := range terms {
		for j := range terms {
			b[i] += inverse[i][j] * m.xy[j]
		}
	}
	for i := range terms {
		left -= b[i] * m.xy[i]
	}
	if math.IsNaN(spread) {
		spread = math.Sqrt(max(left, 0) / float64(free))
	}
	f := lagFit{m: b[0], mError: spread * math.Sqrt(inverse[0][0]), spread: spread, free: free}
	if terms > 1 {
		f.d, f.dError = b[1], spread*math.Sqrt(inverse[1][1])
	}
	return f, true
}

// inverted is the inverse of the first n rows and columns of a symmetric matrix, by Gauss and Jordan; ok is false where it has none.
func inverted(a [3][3]float64, n int) (inverse [3][3]float64, ok bool) {
	scale := [3]float64{a[0][0], a[1][1], a[2][2]}
	for i := range n {
		inverse[i][i] = 1
	}
	for i := range n { // positive definite: no pivot is to be sought
		if !(a[i][i] > 1e-6*scale[i]) {
			return inverse, false
		}
		p := a[i][i]
		for j := range n {
			a[i][j] /= p
			inverse[i][j] /= p
		}
		for k := range n {
			if f := a[k][i]; k != i {
				for j := range n {
					a[k][j] -= f * a[i][j]
					inverse[k][j] -= f * inverse[i][j]
				}
			}
		}
	}
	return inverse, true
}

// speedAt is the speed at the step between two neighbouring fixes, m/s; NaN where times do not tell it.
func (t *trail) speedAt(k, n int) float64 {
	from, to := min(k, n), max(k, n)
	first, last := from, to
	part := t.unbroken(from)
	for first > part.from && t.seconds[from]-t.seconds[first] < speedTime {
		first--
	}
	for last < part.to && t.seconds[last]-t.seconds[to] < speedTime {
		last++
	}
	dt := t.seconds[last] - t.seconds[first]
	if !(dt > 0) {
		return math.NaN()
	}
	return t.at[last].Dist(t.at[first]) / dt
}

// unbroken is the part without a break that holds fix k.
func (t *trail) unbroken(k int) span {
	n, found := slices.BinarySearch(t.breaks, k)
	if found {
		n++
	}
	s := span{0, len(t.at) - 1}
	if n > 0 {
		s.from = t.breaks[n-1]
	}
	if n < len(t.breaks) {
		s.to = t.breaks[n] - 1
	}
	return s
}
