package geo

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

const (
	// sameClock: the clocks of two devices on one machine are off by no more: the 18 leap seconds
	// between the time of receivers and UTC, and a second or two of latency.
	sameClock = 20.0 // s
	// sameShare of the fixes of one log lie near the way of the other, if it is the same drive: some are thrown off.
	sameShare = 0.9
	// samples: so many fixes of a log are looked at.
	samples = 500
	// sameLeast: fewer prove a same drive only within sameSpot.
	sameLeast, sameSpot = 5, 0.5 // m
	// A copy of a log differs by the rounding of places to 7 decimals and of times to milliseconds.
	copyPlace, copyTime = 1.5e-7, 2e-3 // degrees, s
	// copyShare of the places of a log without times are those of its original.
	copyShare = 0.99
	// A silent time of a log is a gap in it (coverage has the same limits where none are given).
	silence, silentSteps = 10.0, 5.0 // s
	// A device that logs only while the implement works leaves out turns, not more: in a longer silence
	// another log is used.
	turnsOff = 600.0 // s
	// What is left of a log between two fixes that another one has as well is no driving of its own.
	leftOver = 2 // fixes
)

// Twice is a log, or a part of one, that tells of the same driving as a better one.
type Twice struct {
	Of, Kept   string // files
	Fixes, All int    // so many of all fixes of Of were left out
	Copy       bool   // places and times are the same but for rounding; else the same minutes at the same places
	Whole      bool   // nothing is left of Of
	KeptHas    string // what the better one logs and the other does not, in words; "" = nothing
	SameFile   bool   // two tracks of one file
}

// Finding says it in words.
func (t Twice) Finding() Finding {
	what := fmt.Sprintf("%d of %d fixes are the same driving as in %s", t.Fixes, t.All, t.Kept)
	switch {
	case t.SameFile:
		what = fmt.Sprintf("%d of %d fixes stand in the file twice, same times and places", t.Fixes, t.All)
	case t.Copy:
		what += " (a copy, same places and times)"
	default:
		what += " (the same minutes at the same places, so one machine)"
	}
	what += ": used once"
	if t.KeptHas != "" {
		what += ", as logged there, with " + t.KeptHas
	}
	if !t.Whole && !t.SameFile {
		what += "; what it has beyond that is used"
	}
	return Finding{File: t.Of, What: what}
}

// Once takes away what tracks tell a second time: the same driving, whatever the format, from a copy of a log
// or from another device on the same machine. Tracks belong to the log that Came.Log says. near is how far, m,
// the places of two devices on one machine may lie from each other's way: less than half of what two sets
// working side by side are apart.
//
//  1. Of two logs that tell of the same minutes at the same places one is kept there: balk's own states before
//     others, then that with a work state, with more columns, with more fixes, the one given first. What the other
//     has at other times stays.
//  2. A drive over the same line at another time, by more than sameClock, is another drive.
//  3. A log without times whose places are those of another one, in its order, is a copy of it.
//  4. Within one log only fixes with the same time and place as one of another track count as told twice.
//  5. Tracks of which nothing is taken come back as they are, in their order; those of which all is taken are gone.
func Once(tracks []Track, near float64) ([]Track, []Twice) {
	m := memory{tracks: tracks, near: near, gone: make([][]bool, len(tracks))}
	m.collect()
	if len(m.logs) == 1 && len(m.logs[0].lanes) < 2 {
		return tracks, nil
	}
	slices.SortStableFunc(m.logs, func(a, b *driveLog) int {
		return cmp.Or(b.rank-a.rank, b.fixes-a.fixes, a.number-b.number)
	})
	var said []Twice
	for i, b := range m.logs {
		for l := 1; l < len(b.lanes); l++ {
			for k := range l {
				if n := m.repeat(&b.lanes[k], &b.lanes[l], true); n > 0 {
					said = append(said, Twice{Of: b.source, Kept: b.source, Fixes: n, All: b.fixes, SameFile: true})
				}
			}
		}
		for _, a := range m.logs[:i] {
			if n, copied := m.twice(a, b); n > 0 {
				said = append(said, Twice{Of: b.source, Kept: a.source, Fixes: n, All: b.fixes, Copy: copied, Whole: m.left(b) == 0, KeptHas: a.beyond(b)})
			}
		}
	}
	if len(said) == 0 {
		return tracks, nil
	}
	var kept []Track
	for i, t := range tracks {
		if m.gone[i] != nil {
			t = t.Cut(func(k int) bool { return !m.gone[i][k] }, true)
		}
		if t.Fixes() > 0 {
			kept = append(kept, t)
		}
	}
	return kept, said
}

// memory is what the logs of one call tell.
type memory struct {
	tracks []Track
	near   float64
	logs   []*driveLog
	gone   [][]bool // by track and fix: told by another log; nil: none
}

// driveLog is one file, as it was given.
type driveLog struct {
	number int
	source string
	of     []int // its tracks
	fixes  int
	timed  bool // most of its fixes have times
	works  bool // it has a work state
	rank   int
	has    []string // what it logs, in words
	lanes  []lane
	way    []record           // see sequence
	at     map[square][]int32 // indices of way, rising, by place
}

// lane is what one machine logged, as far as times tell: fixes whose times rise.
type lane struct {
	at    []moment
	gap   float64 // s, a longer time is a gap
	fills bool    // a silence up to turnsOff is no gap: what other logs say in it is not used
	lo    moment  // least x, y and seconds, and greatest
	hi    moment
}

// moment is a fix on a plane of its own, m, and s.
type moment struct {
	x, y, s    float64
	track, fix int32
}

func (m *memory) collect() {
	var origin *Track
	byNumber := map[int]*driveLog{}
	for i, t := range m.tracks {
		n := t.Came.Log
		if byNumber[n] == nil {
			byNumber[n] = &driveLog{number: n, source: t.Source}
			m.logs = append(m.logs, byNumber[n])
		}
		byNumber[n].of = append(byNumber[n].of, i)
		if origin == nil && t.Fixes() > 0 {
			origin = &m.tracks[i]
		}
	}
	if origin == nil {
		return
	}
	lon0, lat0 := origin.Line.FlatCoords()[0], origin.Line.FlatCoords()[1]
	cos := math.Cos(lat0 * math.Pi / 180)
	place := func(lon, lat float64) (x, y float64) {
		return math.Remainder(lon-lon0, 360) * cos * degree, (lat - lat0) * degree
	}
	for _, l := range m.logs {
		l.judge(m.tracks)
		l.lay(m.tracks, place)
	}
}

// judge says what a log is worth beside another of the same drive.
func (l *driveLog) judge(tracks []Track) {
	count := map[string]int{}
	times := 0
	for _, i := range l.of {
		t := &tracks[i]
		n := t.Fixes()
		l.fixes += n
		c := newCleaning(*t)
		for k := range n {
			if !math.IsNaN(c.seconds(k)) {
				times++
			}
		}
		if t.Came.States {
			count["what balk was told of it"] += n
		}
		for _, s := range t.State {
			if s != StateUnknown {
				count["work state"]++
			}
		}
		for _, q := range t.Quality {
			if q != QualityUnknown {
				count["fix quality"]++
			}
		}
		for _, w := range t.Width {
			if w > 0 {
				count["width"]++
			}
		}
		if len(t.Heading) > 0 && !t.Course {
			count["heading"] += n
		}
		if len(t.Speed) > 0 {
			count["speed"] += n
		}
	}
	l.timed = 2*times >= l.fixes && times > 0
	for _, w := range []struct {
		what  string
		worth int
	}{{"what balk was told of it", 64}, {"work state", 32}, {"fix quality", 8}, {"width", 4}, {"heading", 2}, {"speed", 1}} {
		if 2*count[w.what] >= l.fixes && l.fixes > 0 {
			l.rank += w.worth
			l.has = append(l.has, w.what)
		}
	}
	l.works = slices.Contains(l.has, "work state")
	if l.timed {
		l.rank += 16
	}
}

// beyond is what a logs and b does not.
func (l *driveLog) beyond(o *driveLog) string {
	var more []string
	for _, h := range l.has {
		if !slices.Contains(o.has, h) {
			more = append(more, h)
		}
	}
	if l.timed && !o.timed {
		more = append(more, "times")
	}
	return strings.Join(more, " and ")
}

// lay puts the timed parts of a log into lanes, so that no two in one lane overlap in time.
func (l *driveLog) lay(tracks []Track, place func(lon, lat float64) (x, y float64)) {
	var parts [][]moment
	for _, i := range l.of {
		c := newCleaning(tracks[i])
		start := 0
		for _, end := range c.ends {
			part := make([]moment, 0, end-start)
			rises := true
			for k := start; k < end; k++ {
				lon, lat := c.lonLat(k)
				s := c.seconds(k)
				if math.IsNaN(s) || !OnEarth(lon, lat) {
					continue
				}
				x, y := place(lon, lat)
				if n := len(part); n > 0 && s < part[n-1].s {
					rises = false
					break
				}
				part = append(part, moment{x, y, s, int32(i), int32(k)})
			}
			if rises && len(part) > 0 {
				parts = append(parts, part)
			}
			start = end
		}
	}
	slices.SortStableFunc(parts, func(a, b []moment) int { return cmp.Compare(a[0].s, b[0].s) })
	for _, p := range parts {
		best := -1
		for i := range l.lanes {
			at := l.lanes[i].at
			if at[len(at)-1].s <= p[0].s && (best < 0 || at[len(at)-1].s > l.lanes[best].at[len(l.lanes[best].at)-1].s) {
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
	l.gap = silence
	if len(times) > 0 {
		slices.Sort(times)
		l.gap = max(silence, silentSteps*times[len(times)/2])
	}
}

// left is how many fixes of a log are not told by others.
func (m *memory) left(l *driveLog) int {
	n := 0
	for _, i := range l.of {
		for k := range m.tracks[i].Fixes() {
			if m.gone[i] == nil || !m.gone[i][k] {
				n++
			}
		}
	}
	return n
}

// take marks a fix as told by another log, and says whether it was not yet.
func (m *memory) take(track, fix int) bool {
	if m.gone[track] == nil {
		m.gone[track] = make([]bool, m.tracks[track].Fixes())
	}
	was := m.gone[track][fix]
	m.gone[track][fix] = true
	return !was
}

// twice takes away what log b tells of the same driving as a: how many fixes, and whether b is a copy.
func (m *memory) twice(a, b *driveLog) (fixes int, copied bool) {
	if m.copyOf(a, b) {
		for _, i := range b.of {
			for k := range m.tracks[i].Fixes() {
				if m.take(i, k) {
					fixes++
				}
			}
		}
		return fixes, true
	}
	for k := range a.lanes {
		for l := range b.lanes {
			a.lanes[k].fills = a.works && !b.works
			fixes += m.repeat(&a.lanes[k], &b.lanes[l], false)
		}
	}
	if fixes > 0 {
		fixes += m.tidy(b)
	}
	return fixes, false
}

// tidy takes away single fixes between those that are gone, and those without time among them.
func (m *memory) tidy(b *driveLog) (fixes int) {
	for _, i := range b.of {
		gone := m.gone[i]
		if gone == nil {
			continue
		}
		c := newCleaning(m.tracks[i])
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
				timeless = timeless && math.IsNaN(c.seconds(j))
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
			d, known = min(d, toSegment(p, l.at[k-1], q)), true
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

// toSegment is the distance of p from the way a to b, m.
func toSegment(p, a, b moment) float64 {
	x, y := b.x-a.x, b.y-a.y
	t := 0.0
	if l := x*x + y*y; l > 0 {
		t = min(max(((p.x-a.x)*x+(p.y-a.y)*y)/l, 0), 1)
	}
	return math.Hypot(p.x-a.x-t*x, p.y-a.y-t*y)
}

// copyOf says whether log b has the places of log a and nothing else: all, with the same times or none; or,
// if it has no times, some of them in their order.
func (m *memory) copyOf(a, b *driveLog) bool {
	if b.timed && !a.timed {
		return false
	}
	x, y := m.sequence(a), m.sequence(b)
	if b.timed {
		if len(x) != len(y) {
			return false
		}
		for k := range x {
			if !x[k].near(y[k]) || !(math.Abs(x[k].seconds-y[k].seconds) <= copyTime || math.IsNaN(x[k].seconds) && math.IsNaN(y[k].seconds)) {
				return false
			}
		}
		return true
	}
	if a.at == nil {
		a.at = make(map[square][]int32, len(x))
		for k, r := range x {
			a.at[r.square()] = append(a.at[r.square()], int32(k))
		}
	}
	return len(y) > 1 && a.inOrderWithin(y)
}

func (r record) near(o record) bool {
	return math.Abs(r.lon-o.lon) <= copyPlace && math.Abs(r.lat-o.lat) <= copyPlace
}

// square is a place rounded down, in cells of two copyPlace.
type square struct{ x, y int64 }

func (r record) square() square {
	const cell = 2 * copyPlace
	return square{int64(math.Floor(r.lon / cell)), int64(math.Floor(r.lat / cell))}
}

// sequence are the fixes of a log in its order, without those that repeat a place.
func (m *memory) sequence(l *driveLog) []record {
	if l.way != nil {
		return l.way
	}
	var out []record
	for _, i := range l.of {
		c := newCleaning(m.tracks[i])
		for k := range c.fixes() {
			lon, lat := c.lonLat(k)
			r := record{c.seconds(k), lon, lat}
			if n := len(out); n > 0 && out[n-1].near(r) {
				continue
			}
			out = append(out, r)
		}
	}
	l.way = out
	return out
}

// inOrderWithin says whether the places of y are those of the log, in its order.
func (l *driveLog) inOrderWithin(y []record) bool {
	missed, last := 0, int32(-1)
	for _, r := range y {
		next := int32(math.MaxInt32)
		c := r.square()
		for dx := int64(-1); dx <= 1; dx++ {
			for dy := int64(-1); dy <= 1; dy++ {
				list := l.at[square{c.x + dx, c.y + dy}]
				k, _ := slices.BinarySearch(list, last+1)
				for ; k < len(list) && list[k] < next; k++ {
					if l.way[list[k]].near(r) {
						next = list[k]
						break
					}
				}
			}
		}
		if next < math.MaxInt32 {
			last = next
		} else if missed++; float64(missed) > (1-copyShare)*float64(len(y)) {
			return false
		}
	}
	return true
}
