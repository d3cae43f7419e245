package geo

import (
	"cmp"
	"math"
	"slices"

	"balk/geo/plane"
)

// lane is what one machine logged, as far as times tell: fixes whose times rise.
type lane struct {
	at    []moment
	gap   float64 // s, a longer time is a gap
	fills bool    // a silence up to turnsOff is no gap: what other logs say in it is not used
	lo    moment  // least x, y and seconds, and greatest
	hi    moment
}

// lay puts the timed parts of a log into lanes, so that no two in one lane overlap in time.
func (l *driveLog) lay(tracks []Track, home patch) {
	var parts [][]moment
	for _, i := range l.of {
		f := tracks[i].fixes()
		for start, end := range f.parts() {
			if part := risingPart(f, start, end, int32(i), home); len(part) > 0 {
				parts = append(parts, part)
			}
		}
	}
	slices.SortStableFunc(parts, func(a, b []moment) int { return cmp.Compare(a[0].s, b[0].s) })
	until := func(i int) float64 { return l.lanes[i].at[len(l.lanes[i].at)-1].s }
	for _, p := range parts {
		best := -1
		for i := range l.lanes {
			if until(i) <= p[0].s && (best < 0 || until(i) > until(best)) {
				best = i
			}
		}
		if best < 0 {
			l.lanes, best = append(l.lanes, lane{}), len(l.lanes)
		}
		l.lanes[best].at = append(l.lanes[best].at, p...)
	}
	for i := range l.lanes {
		l.lanes[i].measure()
	}
}

// risingPart are the timed fixes of a part; nil: their times do not rise.
func risingPart(f *fixes, start, end int, track int32, home patch) (part []moment) {
	part = make([]moment, 0, end-start)
	for k, s := range f.timed(start, end) {
		lon, lat := f.lonLat(k)
		if !OnEarth(lon, lat) {
			continue
		}
		if n := len(part); n > 0 && s < part[n-1].s {
			return nil
		}
		x, y := home.xy(lon, lat)
		part = append(part, moment{x, y, s, track, int32(k)})
	}
	return part
}

func (l *lane) measure() {
	inf := math.Inf(1)
	l.lo, l.hi = moment{x: inf, y: inf, s: inf}, moment{x: -inf, y: -inf, s: -inf}
	var times []float64
	for i, p := range l.at {
		l.lo.x, l.lo.y, l.lo.s = min(l.lo.x, p.x), min(l.lo.y, p.y), min(l.lo.s, p.s)
		l.hi.x, l.hi.y, l.hi.s = max(l.hi.x, p.x), max(l.hi.y, p.y), max(l.hi.s, p.s)
		if i > 0 && p.s > l.at[i-1].s {
			times = append(times, p.s-l.at[i-1].s)
		}
	}
	l.gap = max(silence, silentSteps*upperMedian(times))
}

// repeat takes away the fixes of lane b at times at which lane a tells of the same drive. exact: only
// those with the time and place of a fix of a.
func (m *memory) repeat(a, b *lane, exact bool) (fixes int) {
	if b.hi.s < a.lo.s || b.lo.s > a.hi.s || b.hi.x+m.near < a.lo.x || b.lo.x-m.near > a.hi.x || b.hi.y+m.near < a.lo.y || b.lo.y-m.near > a.hi.y {
		return 0
	}
	from, _ := slices.BinarySearchFunc(b.at, a.lo.s, func(p moment, s float64) int { return cmp.Compare(p.s, s) })
	to, _ := slices.BinarySearchFunc(b.at, math.Nextafter(a.hi.s, math.Inf(1)), func(p moment, s float64) int { return cmp.Compare(p.s, s) })
	if from >= to {
		return 0
	}
	window, near := sameClock, m.near
	if exact {
		window, near = copyTime, copyPlace*degree
	}
	told, same, spot := 0, 0, 0
	for i := range min(samples, to-from) {
		p := b.at[from+i*(to-from)/min(samples, to-from)]
		if m.isGone(p) {
			continue
		}
		d, known := a.distance(p, window, exact)
		if !known {
			continue
		}
		told++
		if d <= near {
			same++
		}
		if d <= min(near, sameSpot) {
			spot++
		}
	}
	if told == 0 || told < sameLeast && spot < told || float64(same) < sameShare*float64(told) {
		return 0
	}
	for _, p := range b.at[m.reachBack(b, from, a):] {
		if p.s > a.hi.s+sameClock {
			break
		}
		if !a.tells(p, near, exact) {
			continue
		}
		if m.take(int(p.track), int(p.fix)) {
			fixes++
		}
	}
	return fixes
}

// tidy takes away single fixes between those that are gone, and those without time among them.
func (m *memory) tidy(b *driveLog) (fixes int) {
	for _, i := range b.of {
		gone := m.gone[i]
		if gone == nil {
			continue
		}
		f := m.tracks[i].fixes()
		for k := 0; k < len(gone); k++ {
			if gone[k] {
				continue
			}
			from := k
			for k < len(gone) && !gone[k] {
				k++
			}
			timeless := true
			for j := from; j < k; j++ {
				timeless = timeless && math.IsNaN(f.seconds(j))
			}
			if k-from < leftOver || timeless {
				for j := from; j < k; j++ {
					gone[j] = true
					fixes++
				}
			}
		}
	}
	return fixes
}

func (m *memory) isGone(p moment) bool { return m.gone[p.track] != nil && m.gone[p.track][p.fix] }

// reachBack is the first fix of b not before a by more than sameClock.
func (m *memory) reachBack(b *lane, from int, a *lane) int {
	for from > 0 && b.at[from-1].s >= a.lo.s-sameClock {
		from--
	}
	return from
}

// window are the fixes of the lane within so many seconds of s, and one more on each side.
func (l *lane) window(s, within float64) (from, to int) {
	from, _ = slices.BinarySearchFunc(l.at, s-within, func(p moment, s float64) int { return cmp.Compare(p.s, s) })
	to, _ = slices.BinarySearchFunc(l.at, math.Nextafter(s+within, math.Inf(1)), func(p moment, s float64) int { return cmp.Compare(p.s, s) })
	return max(0, from-1), min(len(l.at), to+1)
}

// distance is how far p lies from the lane's way within some seconds of its time, m; exact: from its fixes.
// known is false where the lane has a gap.
func (l *lane) distance(p moment, within float64, exact bool) (d float64, known bool) {
	d = math.Inf(1)
	from, to := l.window(p.s, within)
	for k := from; k < to; k++ {
		q := l.at[k]
		if math.Abs(q.s-p.s) <= within && !(exact && q.track == p.track) {
			d, known = min(d, math.Hypot(q.x-p.x, q.y-p.y)), true
		}
		if k > from && !exact && l.at[k].s-l.at[k-1].s <= l.gap {
			d, known = min(d, plane.Segment{A: l.at[k-1].xy(), B: q.xy()}.Dist(p.xy())), true
		}
	}
	return d, known || exact
}

// tells says whether the lane has what a fix of the same drive says: it has fixes on both sides of
// its time, no gap between them, or stood there; or the clocks are a little off, and it was there just before or after.
func (l *lane) tells(p moment, near float64, exact bool) bool {
	if exact {
		d, _ := l.distance(p, copyTime, true)
		return d <= near
	}
	from, to := l.window(p.s, 0)
	for k := from + 1; k < to; k++ {
		a, b := l.at[k-1], l.at[k]
		if a.s <= p.s && p.s <= b.s && (b.s-a.s <= l.gap || l.fills && b.s-a.s <= turnsOff || math.Hypot(b.x-a.x, b.y-a.y) <= near) {
			return true
		}
	}
	d, known := l.distance(p, sameClock, false)
	return known && d <= near
}
