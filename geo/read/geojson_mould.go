package read

import (
	"bytes"
	"math"
	"slices"
)

// mould is the text of a feature with one point, without its values. Programs write feature after feature with the same text between
// the values, and comparing it takes a fraction of the time that its keys take. A feature that fits the mould gives what object makes of it; one that
// does not fit, or has a value that wants a word, is read by object.
type mould struct {
	slots []slot
	after []byte // the last value
	room  int    // bytes that a feature of it takes at most, and as many behind it as reading a number looks at
	skips bool   // it has properties without meaning, which may be a work state as long as none is known
}

// slot is a value, and the text before it.
type slot struct {
	before []byte
	kind   slotKind
	column column // of a number
}

type slotKind uint8

const (
	slotNothing slotKind = iota // a value without meaning
	slotLon
	slotLat
	slotHeight // the third number of the position
	slotTime   // text
	slotState
	slotPass // a number
	slotNumber
)

const (
	slotMost    = 64      // bytes of a value
	mouldMost   = 1 << 12 // bytes of a feature
	mouldsWorth = 8       // features that fit a mould make another one worth while
	mouldsPause = 1 << 10 // features, the most that are read by object before another is tried
)

// casting is the mould in use.
type casting struct {
	mould *mould // nil: none
	fits  int    // features that did
	wait  int    // features until another one may be tried
	pause int    // the last wait
}

// feature reads the feature whose brace is next.
func (s *trackScan) feature(depth int) {
	if s.fitted() {
		s.casting.fits++
		return
	}
	text := s.toCast()
	s.object(false, depth)
	if text != nil && s.err == nil {
		s.casting.mould = s.cast(text)
	}
}

// toCast is the text from which another mould may be made; nil: it is not worth while.
func (s *trackScan) toCast() []byte {
	c := &s.casting
	if s.ahead.byKeys {
		return nil
	}
	if c.fits >= mouldsWorth {
		c.wait, c.pause = 0, 0
	}
	c.fits = 0
	if c.wait > 0 {
		c.wait--
		return nil
	}
	c.pause = min(2*c.pause+1, mouldsPause)
	c.wait = c.pause
	s.need(mouldMost)
	return slices.Clone(s.buf[s.pos:min(s.end, s.pos+mouldMost)])
}

// cast makes a mould of a text that begins with the feature read last; nil: it is no plain point.
func (s *trackScan) cast(text []byte) *mould {
	var m mould
	p := pullBytes(text)
	from := 0
	add := func(kind slotKind, c column) bool {
		p.peek()
		m.slots = append(m.slots, slot{text[from:p.pos], kind, c})
		p.skip()
		from = p.pos
		return true
	}
	nothing := func() bool {
		if c := p.peek(); c == '{' || c == '[' {
			return false
		}
		return add(slotNothing, noColumn)
	}
	position := func() bool {
		if p.peek() != '[' {
			return false
		}
		n := 0
		for range p.items() {
			if b := p.peek(); n > 2 || b != '-' && b-'0' >= 10 {
				return false
			}
			add(slotLon+slotKind(n), noColumn)
			n++
		}
		return n >= 2
	}
	geometries, properties := 0, 0
	geometry := func() bool {
		if p.peek() != '{' {
			return false
		}
		for key := range p.members() {
			switch string(key) {
			case "type":
				if p.peek() != '"' || string(p.text()) != "Point" {
					return false
				}
			case "coordinates":
				if geometries++; !position() {
					return false
				}
			default:
				return false
			}
		}
		return geometries == 1
	}
	states := 0
	property := func(i int, key []byte) bool {
		if i >= min(len(s.senses), maxSenses) || !bytes.Equal(s.senses[i].name, key) {
			return false
		}
		is := &s.senses[i]
		if is.order || is.section || is.seen != 0 {
			return false
		}
		b := p.peek()
		number := b == '-' || b-'0' < 10
		switch c := is.column; c {
		case noColumn:
			m.skips = true
			return nothing()
		case timeColumn:
			if b == '"' {
				return add(slotTime, c)
			}
			return number && add(slotNumber, c)
		case stateColumn:
			states++
			return states == 1 && (number || b == '"' || b == 't' || b == 'f') && add(slotState, c)
		case passColumn:
			return number && add(slotPass, c)
		case widthColumn, headingColumn, courseColumn, speedColumn, speedKmhColumn, hdopColumn, offsetColumn, qualityColumn, heightColumn:
			if b == 'n' {
				p.literal("null") // part of the text
				return true
			}
			return number && add(slotNumber, c)
		}
		return false
	}
	member := func(key []byte) bool {
		switch string(key) {
		case "type":
			return p.peek() == '"' && string(p.text()) == "Feature"
		case "geometry":
			return geometry()
		case "properties":
			if properties++; properties > 1 || p.peek() != '{' {
				return false
			}
			i := 0
			for key := range p.members() {
				if !property(i, key) {
					return false
				}
				i++
			}
			return true
		case "features", "coordinates", "geometries", "crs":
			return false
		}
		return nothing()
	}
	if p.peek() != '{' {
		return nil
	}
	for key := range p.members() {
		if !member(key) {
			return nil
		}
	}
	if p.err != nil || geometries != 1 {
		return nil
	}
	m.after = text[from:p.pos]
	m.room = p.pos + slotMost*(len(m.slots)+1) + maxNumber
	return &m
}

// fitted reads the feature whose brace is next if it fits the mould; else nothing has happened.
func (s *trackScan) fitted() bool {
	m := s.casting.mould
	if m == nil || m.skips && s.states.looking() {
		return false
	}
	// What is read may not move the buffer, so that it can be read again.
	if s.need(m.room); s.end-s.pos < m.room && !s.eof {
		return false
	}
	begin := s.pos
	var f feature
	if s.fill(m, &f) {
		f.place, f.hasPoint = true, true
		s.addPoint(&f)
		return true
	}
	s.pos, s.err, s.unread = begin, nil, false
	return false
}

// fill reads the values of a feature, of which nothing else takes note before all of them are there.
func (s *trackScan) fill(m *mould, f *feature) bool {
	f.point[2] = math.NaN()
	var state []byte
	for i := range m.slots {
		slot := &m.slots[i]
		if !s.stands(slot.before) {
			return false
		}
		begin := s.pos
		text, isText := s.slotText()
		isNumber := !isText && s.pos < s.end && (s.buf[s.pos] == '-' || s.buf[s.pos]-'0' < 10)
		switch slot.kind {
		case slotNothing:
			if isNumber {
				s.number()
			} else if !isText && s.slotWord() == nil && !s.stands(wordNull) {
				return false
			}
		case slotTime:
			v, zoned, ok := isoSeconds(text)
			if !isText || !ok || !zoned {
				return false
			}
			f.values.set(timeColumn, v)
		case slotState:
			if state = text; isNumber {
				state = s.numberWords(s.number())
			} else if !isText {
				state = s.slotWord()
			}
			if state == nil {
				return false
			}
		default:
			if !isNumber || !s.slotNumber(slot, f) {
				return false
			}
		}
		if s.err != nil || s.pos-begin > slotMost {
			return false
		}
	}
	if !s.stands(m.after) {
		return false
	}
	if len(state) > 0 {
		if v, ok := s.state(state); ok {
			f.values.set(stateColumn, v)
		}
	}
	return true
}

// stands takes a text if it is next.
func (s *trackScan) stands(text []byte) bool {
	if !bytes.HasPrefix(s.buf[s.pos:s.end], text) {
		return false
	}
	s.pos += len(text)
	return true
}

// slotText takes a short string without escapes; not ok, and nothing taken: something else is next.
func (s *trackScan) slotText() (text []byte, ok bool) {
	b := s.buf[s.pos:min(s.end, s.pos+slotMost)]
	if len(b) == 0 || b[0] != '"' {
		return nil, false
	}
	n := plain(b[1:])
	if n < 0 {
		return nil, false
	}
	s.pos += n + 2
	return b[1 : 1+n], true
}

// slotWord takes true or false; nil, and nothing taken: something else is next.
func (s *trackScan) slotWord() []byte {
	switch {
	case s.stands(wordTrue):
		return wordTrue
	case s.stands(wordFalse):
		return wordFalse
	}
	return nil
}

// slotNumber takes the number that is next.
func (s *trackScan) slotNumber(slot *slot, f *feature) (ok bool) {
	switch slot.kind {
	case slotLon:
		f.point[0] = s.number()
	case slotLat:
		f.point[1] = s.number()
	case slotHeight:
		f.point[2] = s.height()
	case slotPass:
		f.pass, f.hasPass = passKey{number: s.number()}, true
	default:
		v, in := columnNumber(slot.column, s.number())
		if !in {
			return false
		}
		f.values.set(slot.column, v)
	}
	return true
}

var wordNull = []byte("null")
