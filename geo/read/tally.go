package read

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"

	"balk/geo"

	"github.com/paulmach/orb"
)

// tally collects findings. What is seen many times becomes one finding that
// says how often and where first, so a bad column in a million fixes is one line.
type tally struct {
	file  string
	list  []geo.Finding
	times []int
	index map[string]int
	clock localClock
	dates tableClock
	own   string // the first layer of balk's own results that was left out
}

// dated reads a time that is no number: ISO 8601, or day and time of day as tables have them.
func (t *tally) dated(b []byte) (seconds float64, zoned, ok bool) {
	if seconds, zoned, ok = isoSeconds(b); ok || bytes.IndexByte(b, ':') < 0 {
		return seconds, zoned, ok
	}
	m, ok := t.dates.read(b, &tableColumn{column: timeColumn}, false, t)
	return m.seconds, m.zoned, ok && m.kind == instant
}

// add notes an oddity of one record.
func (t *tally) add(record int, at *orb.Point, lost bool, what string) {
	t.list = append(t.list, geo.Finding{File: t.file, Record: record, At: at, What: what, Lost: lost})
	t.times = append(t.times, 1)
}

// take adds findings as they are.
func (t *tally) take(found []geo.Finding) {
	for _, f := range found {
		t.list, t.times = append(t.list, f), append(t.times, 1)
	}
}

// count notes an oddity that may come again; what is its text without a number.
func (t *tally) count(record int, lost bool, what string) { t.countAs(record, lost, what, what) }

// countAs is count for an oddity whose text names a value: all of one kind are one finding, with the text of the first.
func (t *tally) countAs(record int, lost bool, kind, what string) {
	if i, seen := t.index[kind]; seen {
		t.times[i]++
		return
	}
	if t.index == nil {
		t.index = map[string]int{}
	}
	t.index[kind] = len(t.list)
	t.add(record, nil, lost, what)
}

// settled takes one of those back that were counted, as what follows tells better.
func (t *tally) settled(kind string) {
	i, seen := t.index[kind]
	if !seen {
		return
	}
	if t.times[i]--; t.times[i] > 0 {
		return
	}
	t.list, t.times = slices.Delete(t.list, i, i+1), slices.Delete(t.times, i, i+1)
	delete(t.index, kind)
	for other, at := range t.index {
		if at > i {
			t.index[other] = at - 1
		}
	}
}

// join takes what another tally counted, whose records follow so many others.
func (t *tally) join(o *tally, records int) {
	kinds := make([]string, len(o.list))
	for kind, i := range o.index {
		kinds[i] = kind
	}
	for i, f := range o.list {
		t.countAs(records+f.Record, f.Lost, kinds[i], f.What)
		t.times[t.index[kinds[i]]] += o.times[i] - 1
	}
	t.own = cmp.Or(t.own, o.own)
}

// Parts of findings on what is no loss where something else was found.
const noBoundary, noTrack = "is no boundary", "is no track"

// nothing is the error of a file in which nothing usable was: that it is a result of balk, or the first thing lost of
// it; any: the first thing that was noted.
func (t *tally) nothing(what, hint string, any bool) error {
	if t.own != "" {
		return &OwnError{t.file, t.own}
	}
	found := t.findings()
	e := &FileError{File: t.file, What: what, Hint: hint, other: len(found) > 0 && !slices.ContainsFunc(found, func(f geo.Finding) bool {
		return f.Lost && !strings.Contains(f.What, noBoundary) && !strings.Contains(f.What, noTrack)
	})}
	i := slices.IndexFunc(found, func(f geo.Finding) bool { return f.Lost })
	if any && len(found) > 0 {
		i = 0
	}
	if i >= 0 {
		e.Record, e.What = found[i].Record, what+": "+found[i].What
	}
	return e
}

// findings is what was noted, in order.
func (t *tally) findings() []geo.Finding {
	out := slices.Clone(t.list)
	for i, n := range t.times {
		if n > 1 {
			out[i].What += fmt.Sprintf(" (%d times, here first)", n)
		}
	}
	return out
}
