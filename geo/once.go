package geo

import (
	"cmp"
	"fmt"
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
	if len(tracks) == 1 && tracks[0].Fixes() > 0 && len(tracks[0].Line.Ends()) == 1 {
		return tracks, nil // a lane of its own
	}
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

func (m *memory) collect() {
	byNumber := map[int]*driveLog{}
	var home *patch
	for i, t := range m.tracks {
		n := t.Came.Log
		if byNumber[n] == nil {
			byNumber[n] = &driveLog{number: n, source: t.Source}
			m.logs = append(m.logs, byNumber[n])
		}
		byNumber[n].of = append(byNumber[n].of, i)
		if home == nil && t.Fixes() > 0 {
			p := patchAt(t.fixes().lonLat(0))
			home = &p
		}
	}
	if home == nil {
		return
	}
	for _, l := range m.logs {
		l.judge(m.tracks)
		l.lay(m.tracks, *home)
	}
}

// worths are what makes a log worth more than another of the same drive, if it is logged at most of its fixes.
var worths = []struct {
	what  string
	worth int
	fixes func(t *Track) int
}{
	{"what balk was told of it", 64, func(t *Track) int { return allIf(t.Came.States, t) }},
	{"work state", 32, func(t *Track) int { return tellingOf(t.State, func(s WorkState) bool { return s != StateUnknown }) }},
	{"fix quality", 8, func(t *Track) int { return tellingOf(t.Quality, func(q Quality) bool { return q != QualityUnknown }) }},
	{"width", 4, func(t *Track) int { return tellingOf(t.Width, func(w float64) bool { return w > 0 }) }},
	{"heading", 2, func(t *Track) int { return allIf(len(t.Heading) > 0 && !t.Course, t) }},
	{"speed", 1, func(t *Track) int { return allIf(len(t.Speed) > 0, t) }},
}

const timesWorth = 16

func allIf(yes bool, t *Track) int {
	if yes {
		return t.Fixes()
	}
	return 0
}

// tellingOf counts the values that tell something.
func tellingOf[T any](column []T, tells func(T) bool) (n int) {
	for _, v := range column {
		if tells(v) {
			n++
		}
	}
	return n
}

// judge says what a log is worth beside another of the same drive.
func (l *driveLog) judge(tracks []Track) {
	times := 0
	for _, i := range l.of {
		l.fixes += tracks[i].Fixes()
		f := tracks[i].fixes()
		for range f.timed(0, f.len()) {
			times++
		}
	}
	for _, w := range worths {
		n := 0
		for _, i := range l.of {
			n += w.fixes(&tracks[i])
		}
		if 2*n >= l.fixes && l.fixes > 0 {
			l.rank += w.worth
			l.has = append(l.has, w.what)
		}
	}
	l.works = slices.Contains(l.has, "work state")
	if l.timed = 2*times >= l.fixes && times > 0; l.timed {
		l.rank += timesWorth
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
