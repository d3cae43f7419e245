package read

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"math/bits"
	"slices"
	"strconv"
	"strings"

	"balk/geo"
	"balk/geo/crs"
)

// properties reads the value of a "properties" member.
func (s *trackScan) properties(f *feature) {
	if s.peek() != '{' {
		s.skip() // null, as RFC 7946 allows
		return
	}
	i := 0
	for key := range s.members() {
		m := s.sense(i, key)
		if i++; m.order {
			s.orderValue(f)
			continue
		}
		if m.section {
			s.sectionValue(f)
			continue
		}
		switch c := m.column; c {
		case noColumn:
			f.own.seen |= m.seen
			s.other(key)
		case markColumn:
			if s.peek() != '"' {
				s.skip()
				break
			}
			f.own.mark = string(s.pull.text())
		case passColumn:
			s.passOf(f)
		case machineColumn, driverColumn, farmColumn:
			s.tellingOf(f, c)
		case nameColumn:
			if s.peek() != '"' {
				s.skip()
				break
			}
			s.nameText = append(s.nameText[:0], s.pull.text()...)
			f.hasName = true
		default:
			s.property(f, c)
		}
	}
}

// sense is what a property says, and where in its feature it stood last: most features have the same in the same order.
type sense struct {
	name   []byte
	column column
	order  bool // it numbers the fixes
	// it says which section or machine a point is of
	section bool
	seen    uint32 // bits of oldNames
}

const maxSenses = 64 // properties of one feature whose sense is kept

func (s *trackScan) sense(i int, key []byte) *sense {
	i = min(i, maxSenses)
	if i == len(s.senses) {
		s.senses = append(s.senses, sense{})
	}
	m := &s.senses[i]
	if m.name == nil || !bytes.Equal(m.name, key) {
		c := s.states.column(key, columnOf(key))
		var o own
		o.see(key)
		*m = sense{append(m.name[:0], key...), c, s.numbers(key, c, s.record), s.parts(key, c), o.seen}
		if len(m.name) == 0 {
			m.name = nil
		}
	}
	return m
}

// other reads the value of a property without meaning, which may yet be a work state.
func (s *trackScan) other(key []byte) {
	if !s.states.looking() {
		s.skip()
		return
	}
	name := append(s.nameless[:0], key...) // the key goes with the next token
	s.nameless = name
	switch b := s.peek(); {
	case b == '"':
		s.otherText(name, s.pull.text())
	case b == '-' || b-'0' < 10:
		s.otherText(name, s.numberWords(s.number()))
	case b == 't':
		s.literal("true")
		s.otherText(name, wordTrue)
	case b == 'f':
		s.literal("false")
		s.otherText(name, wordFalse)
	default:
		s.skip()
	}
}

func (s *trackScan) otherText(name, text []byte) {
	n := 0
	if s.points != nil {
		n = s.points.fixes()
	}
	if s.err == nil {
		s.states.other(name, text, n)
	}
}

// tellingOf reads the value of a property that says who worked with what for whom.
func (s *trackScan) tellingOf(f *feature, c column) {
	text := &s.toldText[c-machineColumn]
	var is bool
	if *text, is = s.plain(*text); is {
		f.told |= 1 << (c - machineColumn)
	}
}

// plain reads a text or a number into the room of b, as text; false: it is neither.
func (s *trackScan) plain(b []byte) (text []byte, is bool) {
	switch c := s.peek(); {
	case c == '"':
		return append(b[:0], s.pull.text()...), true
	case c == '-' || c-'0' < 10:
		return strconv.AppendFloat(b[:0], s.number(), 'g', -1, 64), true
	}
	s.skip()
	return b, false
}

// tell tells a track what the feature at hand says of who worked with what for whom.
func (s *trackScan) tell(g *growing, f *feature) {
	for left := f.told; left != 0; left &= left - 1 {
		i := bits.TrailingZeros8(left)
		g.told.say(machineColumn+column(i), s.toldText[i])
	}
}

func (s *trackScan) passOf(f *feature) {
	switch c := s.peek(); {
	case c == '"':
		if t := s.pull.text(); string(t) != s.pass.text {
			f.pass = passKey{text: string(t)}
		} else {
			f.pass = passKey{text: s.pass.text}
		}
		f.hasPass = true
	case c == '-' || c-'0' < 10:
		f.pass = passKey{number: s.number()}
		f.hasPass = true
	default:
		s.skip()
	}
}

// property reads the value of a column: one, or a list, or a list of lists.
func (s *trackScan) property(f *feature, c column) {
	switch b := s.peek(); {
	case b == '"' && (c == timeColumn || c == dateColumn):
		s.timeText(f, c, s.pull.text())
		return
	case b != '[':
		if v, ok := s.value(c); ok {
			s.give(f, c, v)
		}
		return
	case c == dateColumn:
		s.skip()
		return
	}
	s.list[keep(c)] = many
	l := s.lists[keep(c)][:0]
	for range s.items() {
		if s.peek() != '[' {
			l = append(l, s.listed(c))
			continue
		}
		for range s.items() {
			l = append(l, s.listed(c))
		}
	}
	s.lists[keep(c)] = l
}

// listText takes text as the list beside a line that it is in JSON.
func (s *trackScan) listText(f *feature, c column, text string) {
	file := s.pull
	s.pull = pullBytes([]byte(text))
	s.property(f, c)
	if s.pull.err != nil {
		s.notes.count(s.record, true, fmt.Sprintf("%s: the list is not understood: %v", columnTitle[c], s.pull.err))
		s.list[keep(c)] = absent
	}
	s.pull = file
}

// give takes a value as that of the feature at hand.
func (s *trackScan) give(f *feature, c column, v float64) {
	if c == dateColumn {
		c = timeColumn // a number is seconds, whatever it is called
	}
	f.values.set(c, v)
	s.list[keep(c)] = single
}

// timeText takes text as the time of the feature at hand: a time, a day alone
// or a time of day alone, which may come from two columns. It is read as in a table.
func (s *trackScan) timeText(f *feature, c column, t []byte) {
	if s.err != nil || len(t) == 0 {
		return
	}
	v, zoned, ok := isoSeconds(t)
	if !ok || !zoned {
		m, known := s.notes.dates.read(t, &tableColumn{column: c}, false, &s.notes)
		if !known {
			s.notes.countAs(s.record, true, "misread "+columnTitle[c], fmt.Sprintf("%s %s is not understood", columnTitle[c], inQuotes(t)))
			return
		}
		switch v, zoned = m.seconds, m.zoned; m.kind {
		case wholeDay:
			f.values.date, f.values.hasDate = v, true
			return
		case timeOfDay:
			f.values.clock, f.values.zoned = true, zoned
			zoned = true // see joinDate
		}
	}
	if !zoned {
		v = s.notes.unzoned(s.record, v)
	}
	s.give(f, timeColumn, v)
}

// keep is the column whose place a column's values go to.
func keep(c column) column {
	if c == speedKmhColumn {
		return speedColumn
	}
	return c
}

func (s *trackScan) listed(c column) float64 {
	v, ok := s.value(c)
	if !ok {
		return math.NaN()
	}
	if c == speedKmhColumn {
		v /= geo.Kmh
	}
	return v
}

// value reads one value of a column as a number: a time in seconds, a state as
// its code. ok is false when there is none; what is there and
// cannot be understood is a finding.
func (s *trackScan) value(c column) (v float64, ok bool) {
	switch b := s.peek(); {
	case b == '"':
		return s.textValue(c, s.pull.text())
	case b == '-' || b-'0' < 10:
		v = s.number()
		if c == stateColumn {
			return s.state(s.numberWords(v))
		}
		v, ok = columnNumber(c, v)
		if !ok && s.err == nil {
			s.notes.countAs(s.record, true, "beyond "+columnTitle[c], fmt.Sprintf("%s %g is out of range", columnTitle[c], v))
		}
		return v, ok && s.err == nil
	case b == 't':
		s.literal("true")
		return s.truth(c, wordTrue)
	case b == 'f':
		s.literal("false")
		return s.truth(c, wordFalse)
	default:
		s.skip()
		return 0, false
	}
}

// The literals as text.
var wordTrue, wordFalse = []byte("true"), []byte("false")

// numberWords is a number as text, good until the next.
func (s *trackScan) numberWords(v float64) []byte {
	s.numberText = strconv.AppendFloat(s.numberText[:0], v, 'g', -1, 64)
	return s.numberText
}

// truth is the value of a literal, which only a work state has.
func (s *trackScan) truth(c column, word []byte) (float64, bool) {
	if c != stateColumn {
		return 0, false
	}
	return s.state(word)
}

// state is the code of a work state, see stateJudge.
func (s *trackScan) state(text []byte) (v float64, ok bool) {
	if s.err != nil {
		return 0, false
	}
	code := s.states.code(text, s.record)
	return float64(code), code != geo.StateUnknown
}

// textValue is value for text.
func (s *trackScan) textValue(c column, t []byte) (v float64, ok bool) {
	if s.err != nil || len(t) == 0 {
		return 0, false
	}
	if c == stateColumn {
		return s.state(t)
	}
	v, zoned, ok := s.notes.columnText(c, t)
	if !ok {
		s.notes.countAs(s.record, true, "misread "+columnTitle[c], fmt.Sprintf("%s %s is not understood", columnTitle[c], inQuotes(t)))
	} else if !zoned {
		v = s.notes.unzoned(s.record, v)
	}
	return v, ok && !math.IsNaN(v)
}

// columnTitle names a column in messages.
var columnTitle = [columns]string{timeColumn: "time", stateColumn: "work state", widthColumn: "width", headingColumn: "heading", courseColumn: "course", speedColumn: "speed", hdopColumn: "HDOP", offsetColumn: "offset",
	qualityColumn: "fix quality", heightColumn: "height", speedKmhColumn: "speed", passColumn: "pass", nameColumn: "name", dateColumn: "date", markColumn: "mark", machineColumn: "machine", driverColumn: "driver", farmColumn: "farm"}

// columnText reads the value of a column from text. NaN: the text says unknown.
func (notes *tally) columnText(c column, t []byte) (v float64, zoned, ok bool) {
	switch c {
	case timeColumn:
		if v, zoned, ok = secondsOf(t); !ok {
			v, zoned, ok = notes.dated(t)
		}
		return v, zoned, ok
	case qualityColumn:
		if q, ok := qualityText(t); ok {
			return float64(q), true, true
		}
	}
	v, ok = plainNumber(t)
	if !ok {
		return 0, true, false
	}
	v, ok = columnNumber(c, v)
	return v, true, ok
}

// columnNumber reads the value of a column from a number.
func columnNumber(c column, v float64) (float64, bool) {
	switch c {
	case timeColumn, dateColumn:
		return epochSeconds(v)
	case widthColumn:
		return v, v >= 0 && v <= geo.MaxWidth
	case headingColumn, courseColumn:
		return v, v >= -360 && v <= 360
	case speedColumn:
		return v, v >= -geo.MaxSpeed && v <= geo.MaxSpeed
	case hdopColumn:
		return v, v >= 0 && v < 100
	case heightColumn:
		return v, v >= geo.LeastHeight && v <= geo.MaxHeight
	case offsetColumn:
		return v, v >= -geo.MaxWidth && v <= geo.MaxWidth
	case qualityColumn:
		q, ok := geo.GGAQuality(v)
		return float64(q), ok
	case speedKmhColumn:
		return v, v >= -geo.Kmh*geo.MaxSpeed && v <= geo.Kmh*geo.MaxSpeed
	}
	return v, true
}

// close ends a feature: its point becomes a fix, its properties go to its lines.
func (s *trackScan) close(f *feature) {
	s.notes.joinDate(s.record, &f.values)
	if s.err == nil && !f.place {
		s.notes.count(s.record, true, "a feature without geometry")
	}
	layer := f.own.layer()
	if s.planned {
		layer = ""
	}
	if layer != "" && (layer != statesName || f.own.mark == "" && s.list[stateColumn] == absent) { // older ones have no state but in GeoJSON
		s.takeBack(f.from)
		s.notes.leaveOwn(s.record, layer)
		return
	}
	if f.hasPoint && s.err == nil {
		s.addPoint(f)
		return
	}
	var lines []*growing
	for _, g := range s.tracks[f.from:] {
		if g == s.points {
			continue
		}
		lines = append(lines, g)
		s.tell(g, f)
		g.came.States = layer == statesName
		if f.hasName {
			g.name = strings.ToValidUTF8(string(s.nameText), "\uFFFD")
		}
	}
	if fixes := fixesOf(lines); fixes > 0 {
		for c := timeColumn; c <= heightColumn; c++ {
			s.beside(lines, fixes, f, c)
		}
	}
}

// beside gives the fixes of the lines of a feature what its property says of a column.
func (s *trackScan) beside(lines []*growing, fixes int, f *feature, c column) {
	l := s.lists[c]
	switch {
	case s.list[c] == absent, s.list[c] == single && c == heightColumn: // one height for a whole line tells no slope
		return
	case s.list[c] == single && c == timeColumn:
		s.notes.count(s.record, false, "one time for a whole line is not used")
		return
	case s.list[c] == many && len(l) != fixes && (s.err == nil || len(l) < fixes):
		s.notes.count(s.record, true, fmt.Sprintf("%d values of %s for %d fixes: not used", len(l), columnTitle[c], fixes))
		return
	}
	at := 0
	for _, g := range lines {
		g.fill(c, func(i int) float64 {
			if s.list[c] == single {
				return f.values.v[c]
			}
			return l[at+i]
		})
		at += g.fixes()
	}
}

// addPoint adds the point of a feature to the track of points.
func (s *trackScan) addPoint(f *feature) {
	if s.sections != nil || f.hasSection {
		s.toSection(f)
		if s.err != nil {
			return
		}
	}
	if s.points == nil {
		s.points = s.begin()
		s.points.came.Points = true
		s.pass = f.pass
		if f.hasName {
			s.points.name = strings.ToValidUTF8(string(s.nameText), "\uFFFD")
		}
	}
	if f.hasPass && f.pass != s.pass {
		s.points.endPart()
		s.pass = f.pass
	}
	if f.hasPass {
		f.values.set(passColumn, float64(s.passes.of(f.pass)))
	}
	if h := f.point[2]; !math.IsNaN(h) && math.IsNaN(f.values.get(heightColumn)) {
		f.values.set(heightColumn, h)
	}
	s.points.came.States = s.points.came.States || f.own.layer() == statesName
	s.tell(s.points, f)
	s.points.add(f.point[0], f.point[1], &f.values)
	s.points.came.Numbered = s.found
}

// finish gives what was read, taken out of p (nil: degrees already).
func (s *trackScan) finish(p crs.Projection) ([]geo.Track, []geo.Finding, error) {
	fixes := fixesOf(s.tracks)
	if s.err != nil {
		if err := s.notes.brokeOff(s.record, fixes, s.err); err != nil {
			return nil, nil, err
		}
	}
	if fixes > 0 && s.wanted != "" && !slices.ContainsFunc(s.tracks, func(g *growing) bool { return g.came.Order != nil }) {
		s.notes.add(0, nil, true, fmt.Sprintf("none of its fixes has a number in a column %q, which is to say their order", s.wanted))
	}
	s.tracks = slices.DeleteFunc(s.tracks, func(g *growing) bool { return g.fixes() == 0 })
	if len(s.tracks) == 1 {
		s.tracks[0].name = cmp.Or(s.tracks[0].name, s.title)
	}
	s.notes.tellSpeed(s.tracks, "", p != nil)
	return finishTracks(s.tracks, &s.notes, &s.states, p, "a track is LineString, MultiLineString or Point features", true)
}
