package geo

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	geom "github.com/twpayne/go-geom"
)

const (
	// Putting fixes in the order of time must make the way from fix to fix shorter by orderGain and by so
	// many of its steps, or the clock is what is wrong: one put back by an hour makes it longer, and by one
	// step shorter where the set ended where it began. Two fixes that changed places make two steps.
	orderGain, orderSteps = 1.0, 1.5 // m
)

// InOrder puts the fixes of a track in the order in which they were driven, and breaks it where that
// cannot be. record is its number in its file, for what is said; 0: it is alone there.
//
//  1. By the column that numbers them (Came.Order), if one was named.
//  2. By time, where the time goes back, and the way from fix to fix gets shorter by it. Fixes sent
//     again are no reason (Clean sees to them), and a clock set back is none: the way gets longer.
//  3. Points without times cannot be put in order. Where they jump they were not driven in the
//     order in which they stand: see jumps. Then the track has breaks there, so that
//     no ground is worked by jumps and no limit is made by them.
//
// Fixes are never added or changed; those that the column or the clock does not place are left out. Parts
// without a pass column keep their fixes, and come in the order of time if they do not overlap.
// A track that is in order comes back as it is, without Came.Order and Came.Pass.
func InOrder(t Track, record int) (Track, []Finding) {
	came := t.Came
	t.Came.Order, t.Came.Apart, t.Came.Pass = nil, nil, nil
	n := t.Fixes()
	if n == 0 || !t.even() {
		return t, nil
	}
	o := ordering{t: t, c: newCleaning(t), record: record}
	switch {
	case came.Order != nil:
		o.byNumber(came)
	case o.timed():
		o.byTime(came)
	case came.Points:
		o.jumps(came)
	}
	return o.t, o.findings
}

// ordering is the state of InOrder.
type ordering struct {
	t        Track
	c        *cleaning // the track as it came
	record   int
	findings []Finding
}

func (o *ordering) say(at int, lost bool, format string, args ...any) {
	o.findings = append(o.findings, Finding{File: o.t.Source, Record: o.record, At: Place(o.c.lonLat(at)), What: fmt.Sprintf(format, args...), Lost: lost})
}

// timed says whether most fixes have a time.
func (o *ordering) timed() bool {
	with := 0
	for k := range o.c.fixes() {
		if !math.IsNaN(o.c.seconds(k)) {
			with++
		}
	}
	return 2*with >= o.c.fixes()
}

// parts are the fixes of each part, and byPart says of each fix in which it lies.
func (o *ordering) byPart() []int32 {
	part := make([]int32, o.c.fixes())
	start := 0
	for p, end := range o.c.ends {
		for k := start; k < end; k++ {
			part[k] = int32(p)
		}
		start = end
	}
	return part
}

func (o *ordering) byNumber(came Came) {
	n := o.c.fixes()
	part := came.Pass
	if part == nil {
		part = o.byPart()
	}
	order := make([]int, 0, n)
	for k := range n {
		if !math.IsNaN(came.Order[k]) {
			order = append(order, k)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(came.Order[a], came.Order[b]) })
	if out := n - len(order); out > 0 {
		o.say(0, true, "%d of %d fixes have no number in the column that says their order: left out", out, n)
	}
	o.take(order, part)
	if moved := misplaced(order); moved > 0 {
		o.say(order[0], false, "%d of %d fixes stood elsewhere in the file than the column says that numbers them: put in its order", moved, n)
	}
}

func (o *ordering) byTime(came Came) {
	if came.Pass != nil {
		o.wholeByTime(came.Pass)
		return
	}
	o.partsByTime()
}

// wholeByTime sorts all fixes, which a pass column puts into parts.
func (o *ordering) wholeByTime(pass []int32) {
	order := o.sorted(0, o.c.fixes())
	if order == nil {
		return
	}
	o.take(order, pass)
	o.sayTime(order)
}

// partsByTime sorts the fixes in each part, and the parts.
func (o *ordering) partsByTime() {
	type span struct{ from, to int } // to: the fix behind the last
	var spans []span
	changed := make([][]int, len(o.c.ends))
	any := false
	start := 0
	for p, end := range o.c.ends {
		changed[p] = o.sorted(start, end)
		any = any || changed[p] != nil
		spans = append(spans, span{start, end})
		start = end
	}
	// The parts come one after the other if each begins when the one before has ended.
	type stay struct {
		part     int
		from, to float64
	}
	stays := make([]stay, 0, len(spans))
	for p, s := range spans {
		at := stay{p, math.Inf(1), math.Inf(-1)}
		for k := s.from; k < s.to; k++ {
			if v := o.c.seconds(k); !math.IsNaN(v) {
				at.from, at.to = min(at.from, v), max(at.to, v)
			}
		}
		if at.to >= at.from {
			stays = append(stays, at)
		}
	}
	back := false
	for i := 1; i < len(stays); i++ {
		back = back || stays[i].from < stays[i-1].from
	}
	if back && len(stays) == len(spans) {
		slices.SortStableFunc(stays, func(a, b stay) int { return cmp.Compare(a.from, b.from) })
		for i := 1; i < len(stays); i++ {
			back = back && stays[i].from >= stays[i-1].to
		}
	} else {
		back = false
	}
	if !any && !back {
		return
	}
	var order []int
	for i := range spans {
		p := i
		if back {
			p = stays[i].part
		}
		if changed[p] != nil {
			order = append(order, changed[p]...)
			continue
		}
		for k := spans[p].from; k < spans[p].to; k++ {
			order = append(order, k)
		}
	}
	o.take(order, o.byPart())
	o.sayTime(order)
}

// sayTime tells what was put in the order of time.
func (o *ordering) sayTime(order []int) {
	n := o.c.fixes()
	first := 0
	for first < len(order) && order[first] == first {
		first++
	}
	at := order[min(first, len(order)-1)]
	o.say(at, false, "%d of %d fixes stood in the file in another order than that of their times: put in the order of time (%.2f km of way, %.2f km as they stood)",
		misplaced(order), n, o.way(order)/1000, o.way(upTo(0, n))/1000)
	if out := n - len(order); out > 0 {
		o.say(at, true, "%d of them have no time to be put in order by: left out", out)
	}
}

func upTo(from, to int) []int {
	all := make([]int, 0, to-from)
	for k := from; k < to; k++ {
		all = append(all, k)
	}
	return all
}

// misplaced counts the fixes that do not go on from the one that stood before them.
func misplaced(order []int) int {
	n, last := 0, -1
	for _, k := range order {
		if k != last+1 {
			n++
		}
		last = k
	}
	return n
}

// sorted is the order of time of the fixes from..to-1; nil: they stand in it, or the clock is wrong.
func (o *ordering) sorted(from, to int) []int {
	last, back := math.Inf(-1), false
	for k := from; k < to && !back; k++ {
		if s := o.c.seconds(k); !math.IsNaN(s) {
			back = s < last
			last = s
		}
	}
	if !back || !o.reallyBack(from, to) {
		return nil
	}
	order := make([]int, 0, to-from)
	for k := from; k < to; k++ {
		if !math.IsNaN(o.c.seconds(k)) {
			order = append(order, k)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(o.c.seconds(a), o.c.seconds(b)) })
	if !(o.way(order) < o.way(upTo(from, to))-max(orderGain, orderSteps*o.c.usualStep(from, to))) {
		return nil
	}
	return order
}

// usualStep is the upper median of the steps among fixes from..to-1, m.
func (c *cleaning) usualStep(from, to int) float64 {
	var steps []float64
	for k := from + 1; k < to; k++ {
		if d := c.apart(k-1, k); d >= moved {
			steps = append(steps, d)
		}
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// reallyBack says whether the time goes back among the fixes that were not sent before.
func (o *ordering) reallyBack(from, to int) bool {
	seen := make(map[record]bool, to-from)
	last := math.Inf(-1)
	for k := from; k < to; k++ {
		lon, lat := o.c.lonLat(k)
		r := record{o.c.seconds(k), lon, lat}
		if math.IsNaN(r.seconds) || seen[r] {
			continue
		}
		seen[r] = true
		if r.seconds < last {
			return true
		}
		last = r.seconds
	}
	return false
}

// way is how far it is along some fixes, m; those without a place are passed over.
func (o *ordering) way(order []int) float64 {
	way, last := 0.0, -1
	for _, k := range order {
		lon, lat := o.c.lonLat(k)
		if !OnEarth(lon, lat) {
			continue
		}
		if last >= 0 {
			way += o.c.apart(last, k)
		}
		last = k
	}
	return way
}

// take makes a track of the fixes in their order; a part ends where part changes.
func (o *ordering) take(order []int, part []int32) {
	t := &o.t
	stride := o.c.stride
	flat := make([]float64, 0, len(order)*stride)
	var ends []int
	for i, k := range order {
		if i > 0 && part[k] != part[order[i-1]] {
			ends = append(ends, len(flat))
		}
		flat = append(flat, o.c.flat[k*stride:(k+1)*stride]...)
	}
	if len(flat) > 0 {
		ends = append(ends, len(flat))
	}
	t.Line = geom.NewMultiLineStringFlat(t.Line.Layout(), flat, ends).SetSRID(t.Line.SRID())
	t.State, t.Width, t.Heading, t.Speed = picked(t.State, order), picked(t.Width, order), picked(t.Heading, order), picked(t.Speed, order)
	t.Offset, t.Quality, t.HDOP = picked(t.Offset, order), picked(t.Quality, order), picked(t.HDOP, order)
}

// middleTime is the time of the fix in the middle of a track, or of the next one that has a time, s since 1970 UTC; NaN:
// none has. It is told by no wrong clock at the start.
func (t Track) middleTime() float64 {
	c := newCleaning(t)
	n := c.fixes()
	for k := range n {
		if s := c.seconds((n/2 + k) % n); !math.IsNaN(s) {
			return s
		}
	}
	return math.NaN()
}

// ByTime puts tracks in the order of their middle times. Those without times keep their places among
// the others. moved says whether any changed its place.
func ByTime(tracks []Track) (out []Track, moved bool) {
	var slots []int
	for i, t := range tracks {
		if t.Fixes() > 0 && !math.IsNaN(t.middleTime()) {
			slots = append(slots, i)
		}
	}
	sorted := slices.Clone(slots)
	slices.SortStableFunc(sorted, func(a, b int) int { return cmp.Compare(tracks[a].middleTime(), tracks[b].middleTime()) })
	out = slices.Clone(tracks)
	for i, slot := range slots {
		out[slot] = tracks[sorted[i]]
		moved = moved || sorted[i] != slot
	}
	return out, moved
}
