package geo

import (
	"cmp"
	"fmt"
	"math"
	"slices"
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
//  2. By time, where the time goes back, and the way from fix to fix gets shorter by it, or where it goes
//     back more often than on: such a file stands newest first, and its way is as long. Fixes sent
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
	if n == 0 || t.Columns.Fits(n) != nil {
		return t, nil
	}
	o := ordering{t: t, c: t.fixes(), record: record}
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
	c        *fixes // the track as it came
	record   int
	findings []Finding
}

func (o *ordering) say(at int, lost bool, format string, args ...any) {
	o.findings = append(o.findings, Finding{File: o.t.Source, Record: o.record, At: Place(o.c.lonLat(at)), What: fmt.Sprintf(format, args...), Lost: lost})
}

// timed says whether most fixes have a time.
func (o *ordering) timed() bool {
	with := 0
	for range o.c.timed(0, o.c.len()) {
		with++
	}
	return 2*with >= o.c.len()
}

func (o *ordering) byNumber(came Came) {
	n := o.c.len()
	part := came.Pass
	if part == nil {
		part = o.c.byPart()
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
	order := o.sorted(0, o.c.len())
	if order == nil {
		return
	}
	o.take(order, pass)
	o.sayTime(order)
}

// partsByTime sorts the fixes in each part, and the parts.
func (o *ordering) partsByTime() {
	type stay struct {
		order    []int // of its fixes
		from, to float64
	}
	var parts []stay
	changed, timeless, back := false, false, false
	for from, to := range o.c.parts() {
		p := stay{upTo(from, to), math.Inf(1), math.Inf(-1)}
		if sorted := o.sorted(from, to); sorted != nil {
			p.order, changed = sorted, true
		}
		for _, s := range o.c.timed(from, to) {
			p.from, p.to = min(p.from, s), max(p.to, s)
		}
		timeless = timeless || !(p.to >= p.from)
		back = back || len(parts) > 0 && p.from < parts[len(parts)-1].from
		parts = append(parts, p)
	}
	// They come one after the other if each begins when the one before has ended.
	inTime := slices.Clone(parts)
	slices.SortStableFunc(inTime, func(a, b stay) int { return cmp.Compare(a.from, b.from) })
	back = back && !timeless
	for i := 1; i < len(inTime); i++ {
		back = back && inTime[i].from >= inTime[i-1].to
	}
	if back {
		parts = inTime
	}
	if !changed && !back {
		return
	}
	var order []int
	for _, p := range parts {
		order = append(order, p.order...)
	}
	o.take(order, o.c.byPart())
	o.sayTime(order)
}

// sayTime tells what was put in the order of time.
func (o *ordering) sayTime(order []int) {
	n := o.c.len()
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
	last, back, on := math.NaN(), 0, 0
	for _, s := range o.c.timed(from, to) {
		if s < last {
			back++
		} else if s > last {
			on++
		}
		last = s
	}
	if back == 0 || !o.reallyBack(from, to) {
		return nil
	}
	order := make([]int, 0, to-from)
	for k := range o.c.timed(from, to) {
		order = append(order, k)
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(o.c.seconds(a), o.c.seconds(b)) })
	least := max(orderGain, orderSteps*o.c.usualStep(from, to))
	if back > on { // newest first: the same way, driven from its other end
		least = -least
	}
	if !(o.way(order) < o.way(upTo(from, to))-least) {
		return nil
	}
	return order
}

// reallyBack says whether the time goes back among the fixes that were not sent before.
func (o *ordering) reallyBack(from, to int) bool {
	seen := make(map[record]bool, to-from)
	last := math.Inf(-1)
	for k := from; k < to; k++ {
		r := o.c.record(k)
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
	o.t = o.t.pick(order, func(i int) bool { return part[order[i]] != part[order[i-1]] })
}

// middleTime is the time of the fix in the middle of a track, or of the next one that has a time, s since 1970 UTC; NaN:
// none has. It is told by no wrong clock at the start.
func (t Track) middleTime() float64 {
	f := t.fixes()
	n := f.len()
	for _, s := range f.timed(n/2, n) {
		return s
	}
	for _, s := range f.timed(0, n/2) {
		return s
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
