package read

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"balk/geo"
)

// stateJudge says what the values of a file's work-state column mean, for every format alike. A column is used if all
// its values are understood, by stateWords or as named by hand; else it is not used at all: where one letter happens to
// read as true the rest are no log gaps. So fixes get the number of their value while the file is read (code), and what
// it means once all are known (settle).
type stateJudge struct {
	wanted  string          // name of the column where it is named by hand
	working []string        // values that mean working where they are named by hand; all others mean lifted
	title   string          // the column, as the file has it
	names   map[string]bool // names without meaning to columnOf, and whether they mean the work state
	index   map[string]geo.WorkState
	values  []stateValue
	beyond  int // values that came when there were maxStateValues already
	others  []*twoValued
}

type stateValue struct {
	text          string
	count, record int // how often, and where first
}

// stateName is how the column of the work state is named by hand.
const stateName = "state"

// maxStateValues is how many values a column of work states may have: more, and it is something else.
const maxStateValues = 200

func newStateJudge(o TrackOptions) stateJudge {
	return stateJudge{wanted: o.Columns[stateName], working: o.Working}
}

// column is what a property means that columnOf makes c of: the column that is named by hand is the work state, and then
// no other; else longer names than columnOf has, and with other letters between, may say so too.
func (j *stateJudge) column(title []byte, c column) column {
	switch {
	case j.wanted != "" && strings.EqualFold(string(title), j.wanted):
		j.title = j.wanted
		return stateColumn
	case j.wanted != "" && c == stateColumn:
		return noColumn
	case c == stateColumn && j.title == "":
		j.title = string(title)
	case c == noColumn && j.wanted == "":
		is, known := j.names[string(title)]
		if !known {
			named, _ := namedColumn(plainName(string(title)))
			is = named == stateColumn
			if j.names == nil {
				j.names = map[string]bool{}
			}
			if len(j.names) < maxStateValues {
				j.names[string(title)] = is
			}
		}
		if is {
			j.title = cmp.Or(j.title, string(title))
			return stateColumn
		}
	}
	return c
}

// code is the number of a value, 0 for none.
func (j *stateJudge) code(text []byte, record int) geo.WorkState {
	text = bytes.TrimSpace(text)
	if len(text) == 0 {
		return geo.StateUnknown
	}
	c, ok := j.index[string(text)]
	if !ok {
		if len(j.values) == maxStateValues {
			j.beyond++
			return geo.StateUnknown
		}
		if j.index == nil {
			j.index = map[string]geo.WorkState{}
		}
		j.values = append(j.values, stateValue{text: plainText(text), record: record})
		c = geo.WorkState(len(j.values))
		j.index[string(text)] = c
	}
	j.values[c-1].count++
	return c
}

// codes counts the values of a judge that began as this one does, and whose records follow so many others, and gives what
// number each has here; false: there are too many.
func (j *stateJudge) codes(o *stateJudge, records int) (codes []geo.WorkState, ok bool) {
	more := 0
	for _, v := range o.values {
		if _, known := j.index[v.text]; !known {
			more++
		}
	}
	if len(j.values)+more > maxStateValues {
		return nil, false
	}
	codes = make([]geo.WorkState, len(o.values)+1)
	for i, v := range o.values {
		if v.count > 0 {
			codes[i+1] = j.code([]byte(v.text), records+v.record)
			j.values[codes[i+1]-1].count += v.count - 1
		}
	}
	j.title = cmp.Or(j.title, o.title)
	return codes, true
}

// meaning is what a value says.
func (j *stateJudge) meaning(text string) (geo.WorkState, bool) {
	if len(j.working) == 0 {
		s, ok := stateOf([]byte(text))
		if j.lifts() && s != geo.StateUnknown && !toolWords[strings.ToLower(text)] { // yes: it is lifted
			s = geo.Lifted + geo.Working - s
		}
		return s, ok
	}
	if slices.ContainsFunc(j.working, func(w string) bool { return strings.EqualFold(strings.TrimSpace(w), text) }) {
		return geo.Working, true
	}
	if s, ok := stateWords[strings.ToLower(text)]; ok && s == geo.StateUnknown {
		return s, true
	}
	return geo.Lifted, true
}

// lifts says whether a yes in the column means that the tool is lifted.
func (j *stateJudge) lifts() bool { return liftedNames[accents.Replace(plainName(j.title))] }

// settle gives the fixes of all tracks their work state, or takes the column out.
func (j *stateJudge) settle(tracks []geo.Track, notes *tally) {
	j.offer(tracks, notes)
	if j.wanted != "" && len(j.values) == 0 {
		notes.add(0, nil, true, fmt.Sprintf("no work state in a column %q, which was named for it", j.wanted))
	}
	if len(j.values) == 0 {
		return
	}
	table := make([]geo.WorkState, len(j.values)+1)
	understood := j.beyond == 0
	for i, v := range j.values {
		s, ok := j.meaning(v.text)
		table[i+1], understood = s, understood && ok
	}
	title := ""
	if j.title != "" {
		title = fmt.Sprintf("column %q: ", clip(j.title))
	}
	if !understood {
		for i := range tracks {
			tracks[i].State = nil
		}
		notes.add(j.values[0].record, nil, true, title+fmt.Sprintf("work states %s are not all understood: none is used; name those that mean working, as in --working-values %s", j.listed(), j.example()))
		return
	}
	for _, w := range j.working {
		if !slices.ContainsFunc(j.values, func(v stateValue) bool { return strings.EqualFold(v.text, strings.TrimSpace(w)) }) {
			notes.add(0, nil, false, title+fmt.Sprintf("no work state is %q, which was named as one that means working: there are %s", clip(w), j.listed()))
		}
	}
	for _, t := range tracks {
		for i, c := range t.State {
			t.State[i] = table[c]
		}
	}
}

// listed is the values with how often each comes, the most frequent first.
func (j *stateJudge) listed() string {
	const most = 8
	all := slices.Clone(j.values)
	slices.SortStableFunc(all, func(a, b stateValue) int { return cmp.Compare(b.count, a.count) })
	var words []string
	for _, v := range all[:min(most, len(all))] {
		words = append(words, fmt.Sprintf("%q (%d)", clip(v.text), v.count))
	}
	s := strings.Join(words, ", ")
	if more := len(all) - most; more > 0 || j.beyond > 0 {
		s += fmt.Sprintf(" and %d more", max(more, 0)+j.beyond)
	}
	return s
}

// example is the most frequent value that is not known to mean lifted, as it is typed.
func (j *stateJudge) example() string {
	best := stateValue{text: "VALUE"}
	for _, v := range j.values {
		if s, ok := stateOf([]byte(v.text)); (!ok || s == geo.Working) && v.count > best.count {
			best = v
		}
	}
	if strings.ContainsAny(best.text, " ,;'\"") {
		return strconv.Quote(clip(best.text))
	}
	return clip(best.text)
}

// twoValued is a column without meaning that has had two values at most so far.
type twoValued struct {
	title  string
	values [2]string
	counts [2]int
	seen   int
	codes  []uint8 // by point in the order of the file: 1, 2, or 0 for none
	out    bool    // a third value came
}

// other notes the value that a point has in a column without meaning; n is how many points there were before.
func (j *stateJudge) other(title, text []byte, n int) {
	if len(j.values) > 0 {
		return
	}
	var c *twoValued
	for _, o := range j.others {
		if o.title == string(title) {
			c = o
			break
		}
	}
	if c == nil {
		if len(j.others) == maxOthers {
			return
		}
		c = &twoValued{title: string(title)}
		j.others = append(j.others, c)
	}
	j.see(c, text, n)
}

// maxOthers is how many columns without meaning are looked at.
const maxOthers = 64

func (j *stateJudge) see(c *twoValued, text []byte, n int) {
	if c.out || len(text) == 0 {
		return
	}
	k := 0
	for k < c.seen && c.values[k] != string(text) {
		k++
	}
	if k == len(c.values) {
		*c = twoValued{title: c.title, out: true}
		return
	}
	if k == c.seen {
		c.values[k] = string(text)
		c.seen++
	}
	c.counts[k]++
	for len(c.codes) < n {
		c.codes = append(c.codes, 0)
	}
	c.codes = append(c.codes, uint8(k+1))
}

// looking says whether a column without meaning may still be one of work states.
func (j *stateJudge) looking() bool {
	return len(j.values) == 0 && (len(j.others) == 0 || slices.ContainsFunc(j.others, func(c *twoValued) bool { return !c.out }))
}

// offer names the columns without meaning that change with the turns of the log.
func (j *stateJudge) offer(tracks []geo.Track, notes *tally) {
	if len(j.values) > 0 || len(tracks) != 1 {
		return
	}
	for _, c := range j.others {
		if !c.out && c.seen == 2 && len(c.codes) <= tracks[0].Fixes() && turnsWith(tracks[0], c.codes) {
			notes.add(0, nil, false, fmt.Sprintf("column %q has two values, %q (%d) and %q (%d), and changes with the turns: if it is the work state, say so with --column state=%s, and --working-values with the value that means working where that is not understood",
				clip(c.title), clip(c.values[0]), c.counts[0], clip(c.values[1]), c.counts[1], strconv.Quote(clip(c.title))))
		}
	}
}

// A column changes with the turns where turns are so many times more frequent, by way, with one value than with the
// other, it changes so often at least, and each value has so great a part of the way.
const (
	turnsMore    = 3.0
	turnsChanges = 4
	turnsPart    = 0.01
	turnsStep    = 3.0  // m between the places that are compared
	turnsBend    = 45.0 // degrees between the ways two steps before and behind a place
)

// turnsWith says whether the values, by fix, change with the turns of the track.
func turnsWith(t geo.Track, codes []uint8) bool {
	flat, stride := t.Line.FlatCoords(), t.Line.Stride()
	const perDegree = 111194.9 // m, of a sphere of 6371 km: turns need no more
	var x, y []float64
	var of []uint8
	for i, c := range codes {
		if c == 0 {
			continue
		}
		lon, lat := flat[i*stride], flat[i*stride+1]
		px, py := lon*perDegree*math.Cos(flat[1]*math.Pi/180), lat*perDegree
		if n := len(x); n > 0 && math.Hypot(px-x[n-1], py-y[n-1]) < turnsStep {
			continue
		}
		x, y, of = append(x, px), append(y, py), append(of, c)
	}
	var all, bent [3]float64
	changes := 0
	for i := 2; i+2 < len(x); i++ {
		in, out := math.Atan2(y[i]-y[i-2], x[i]-x[i-2]), math.Atan2(y[i+2]-y[i], x[i+2]-x[i])
		all[of[i]]++
		if math.Abs(math.Remainder(out-in, 2*math.Pi)) > turnsBend*math.Pi/180 {
			bent[of[i]]++
		}
		if of[i] != of[i-1] {
			changes++
		}
	}
	whole := all[1] + all[2]
	if changes < turnsChanges || min(all[1], all[2]) < turnsPart*whole {
		return false
	}
	a, b := bent[1]/all[1], bent[2]/all[2]
	return max(a, b) > turnsMore*min(a, b)
}
