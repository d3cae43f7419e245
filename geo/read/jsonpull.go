package read

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"
)

// Limits of the JSON reader. They bound memory and recursion by more than any
// log needs; each is named in the error it gives.
const (
	pullBuffer = 1 << 16 // bytes read at a time
	maxNumber  = 512     // bytes of one number
	maxString  = 1 << 20 // bytes of one string that is looked at
	maxDepth   = 64      // arrays and objects in each other
)

// pull reads JSON from a stream one token at a time, with a fixed buffer. The
// first error sticks: every later call gives zero values, so a caller looks at
// err once per feature. Caller and pull share the rule that a value is either
// read by its kind or skipped.
type pull struct {
	r       io.Reader
	buf     []byte
	pos     int
	end     int
	before  int64 // bytes of the stream in front of buf
	eof     bool
	failed  error // why no more could be read; it becomes err where more is wanted
	err     error
	scratch []byte
	unread  bool // err is one of reading, not of what was read

	// of several texts in one file, see divided
	ends     byte // what ends each; 0: nothing is known to
	stop     byte // ends, while a text is read
	longLine bool // the first line is longer than buf
}

func newPull(r io.Reader) *pull {
	p := &pull{r: r, buf: make([]byte, pullBuffer)}
	p.need(len(bom))
	if bytes.HasPrefix(p.buf[:p.end], bom) {
		p.pos = len(bom)
	}
	p.divided()
	return p
}

// pullBytes reads JSON that is in memory already, without copying it.
func pullBytes(data []byte) *pull { return &pull{buf: data, end: len(data), eof: true} }

// offset is where in the stream the reader stands, in bytes.
func (p *pull) offset() int64 { return p.before + int64(p.pos) }

// need tries to have n bytes in the buffer from pos on; fewer remain at the end
// of the stream. n ≤ pullBuffer/2.
func (p *pull) need(n int) {
	if p.end-p.pos < n && !p.eof {
		p.fill(n)
	}
}

func (p *pull) fill(n int) {
	copy(p.buf, p.buf[p.pos:p.end])
	p.before += int64(p.pos)
	p.end -= p.pos
	p.pos = 0
	for idle := 0; p.end < n; {
		k, err := p.r.Read(p.buf[p.end:])
		p.end += k
		if err == nil && k == 0 {
			if idle++; idle == 100 {
				err = io.ErrNoProgress
			}
		}
		if err != nil {
			p.eof = true
			if !errors.Is(err, io.EOF) {
				p.failed = err
			}
			return
		}
	}
}

// fail keeps the first error, with its place.
func (p *pull) fail(format string, a ...any) {
	switch {
	case p.err != nil:
	case p.failed != nil: // what is there breaks off
		p.err, p.unread = fmt.Errorf("byte %d: %w", p.before+int64(p.end), p.failed), true
	default:
		p.err = fmt.Errorf("byte %d: "+format, append([]any{p.offset()}, a...)...)
	}
}

// peek skips space and gives the next byte without taking it; 0 at an error or
// at the end.
func (p *pull) peek() byte {
	for p.err == nil {
		for p.pos < p.end {
			if c := p.buf[p.pos]; c > ' ' || c != ' ' && c != '\n' && c != '\r' && c != '\t' {
				return c
			}
			if c := p.buf[p.pos]; c == p.stop {
				p.fail("its line ends within it")
				return 0
			}
			p.pos++
		}
		if p.eof {
			p.fail("%w", io.ErrUnexpectedEOF)
			break
		}
		p.fill(1)
	}
	return 0
}

// atEnd says whether nothing but space is left.
func (p *pull) atEnd() bool {
	if p.err != nil {
		return false
	}
	if p.peek() == 0 && errors.Is(p.err, io.ErrUnexpectedEOF) {
		p.err = nil
		return true
	}
	return false
}

// another says whether a further text begins after one that has ended, which may have a record separator before it
// (RFC 8142); anything else that comes is an error.
func (p *pull) another() bool {
	for !p.atEnd() && p.err == nil {
		switch p.peek() {
		case recordSeparator:
			p.pos++
		case '{':
			return true
		default:
			if p.ends != 0 { // its line, or text, is lost, and no other
				return p.err == nil
			}
			p.fail("more text after the end of the GeoJSON")
		}
	}
	return false
}

const recordSeparator = 0x1e

// take takes c, or fails.
func (p *pull) take(c byte) bool {
	if got := p.peek(); got != c {
		if p.err == nil {
			p.fail("found %q where %q is wanted", got, c)
		}
		return false
	}
	p.pos++
	return true
}

// key gives the next key of an object whose brace has been taken and stands
// before its value; ok is false at the closing brace. The bytes hold until the
// next call.
func (p *pull) key(first bool) (key []byte, ok bool) {
	c := p.peek()
	if c == '}' {
		p.pos++
		return nil, false
	}
	if !first {
		if !p.take(',') {
			return nil, false
		}
	}
	key = p.text()
	if !p.takeColon() {
		return nil, false
	}
	return key, true
}

// takeColon takes a colon. The key lies in buf or in scratch; if the buffer
// would have to move, the key is kept in scratch by text having needed the
// bytes that follow it.
func (p *pull) takeColon() bool {
	if p.err == nil && p.pos < p.end && p.buf[p.pos] == ':' {
		p.pos++
		return true
	}
	return p.take(':')
}

// item says whether an array whose bracket has been taken has a further value,
// and stands before it.
func (p *pull) item(first bool) bool {
	c := p.peek()
	if c == ']' {
		p.pos++
		return false
	}
	if !first {
		return p.take(',') && p.peek() != 0
	}
	return p.err == nil
}

// members takes an object whose brace is next, and gives the key of each member. Whoever takes it reads or
// skips the value. The bytes hold until then.
func (p *pull) members() iter.Seq[[]byte] {
	return func(yield func(key []byte) bool) {
		p.pos++
		for first := true; p.err == nil; first = false {
			if key, ok := p.key(first); !ok || !yield(key) {
				return
			}
		}
	}
}

// items takes an array whose bracket is next, and stands before each value.
func (p *pull) items() iter.Seq[int] {
	return func(yield func(i int) bool) {
		p.pos++
		for i := 0; p.item(i == 0); i++ {
			if !yield(i) {
				return
			}
		}
	}
}

// text reads a string. The bytes hold until the next call of text or key.
func (p *pull) text() []byte {
	if !p.take('"') {
		return nil
	}
	// The usual string is short, plain and within the buffer, with room behind it
	// so that the colon after a key does not move the buffer.
	p.need(maxNumber)
	if i := plain(p.buf[p.pos:p.end]); i >= 0 && i < maxNumber-64 {
		s := p.buf[p.pos : p.pos+i]
		if p.end-(p.pos+i+1) < 64 && !p.eof {
			p.scratch = append(p.scratch[:0], s...)
			s = p.scratch
		}
		p.pos += i + 1
		if p.pos >= p.end || p.buf[p.pos] != ':' { // space may follow and move the buffer
			p.scratch = append(p.scratch[:0], s...)
			s = p.scratch
		}
		return s
	}
	return p.longText()
}

// plain is the place of the closing quote if no escape and no control byte
// comes before it, else -1.
func plain(b []byte) int {
	for i, c := range b {
		if c == '"' {
			return i
		}
		if c == '\\' || c < 0x20 {
			return -1
		}
	}
	return -1
}

func (p *pull) longText() []byte {
	p.scratch = p.scratch[:0]
	for p.err == nil {
		p.need(16)
		if p.pos >= p.end {
			p.fail("%w", io.ErrUnexpectedEOF)
			break
		}
		c := p.buf[p.pos]
		switch {
		case c == '"':
			p.pos++
			return p.scratch
		case c < 0x20:
			p.fail("control byte %#02x in a string", c)
		case c == '\\':
			p.escape()
		default:
			p.scratch = append(p.scratch, c)
			p.pos++
		}
		if len(p.scratch) > maxString {
			p.fail("a string of more than %d bytes", maxString)
		}
	}
	return nil
}

func (p *pull) escape() {
	if p.end-p.pos < 2 {
		p.fail("%w", io.ErrUnexpectedEOF)
		return
	}
	c := p.buf[p.pos+1]
	p.pos += 2
	switch c {
	case '"', '\\', '/':
		p.scratch = append(p.scratch, c)
	case 'b':
		p.scratch = append(p.scratch, '\b')
	case 'f':
		p.scratch = append(p.scratch, '\f')
	case 'n':
		p.scratch = append(p.scratch, '\n')
	case 'r':
		p.scratch = append(p.scratch, '\r')
	case 't':
		p.scratch = append(p.scratch, '\t')
	case 'u':
		r := p.hex4()
		if utf16.IsSurrogate(r) && p.end-p.pos >= 6 && p.buf[p.pos] == '\\' && p.buf[p.pos+1] == 'u' {
			back := p.pos
			p.pos += 2
			if both := utf16.DecodeRune(r, p.hex4()); both != utf8.RuneError {
				r = both
			} else {
				p.pos = back
			}
		}
		p.scratch = utf8.AppendRune(p.scratch, r)
	default:
		p.fail("escape \\%c is none of JSON", c)
	}
}

func (p *pull) hex4() rune {
	if p.end-p.pos < 4 {
		p.fail("%w", io.ErrUnexpectedEOF)
		return 0
	}
	v, err := strconv.ParseUint(string(p.buf[p.pos:p.pos+4]), 16, 32)
	if err != nil {
		p.fail("%q is no \\u escape", p.buf[p.pos:p.pos+4])
		return 0
	}
	p.pos += 4
	return rune(v)
}

// literal takes true, false or null.
func (p *pull) literal(word string) {
	p.need(len(word))
	if p.end-p.pos < len(word) || string(p.buf[p.pos:p.pos+len(word)]) != word {
		p.fail("found %q where %q is wanted", p.buf[p.pos:min(p.end, p.pos+len(word))], word)
		return
	}
	p.pos += len(word)
}

// skip takes a whole value of any kind.
func (p *pull) skip() {
	depth := 0
	var kinds [maxDepth]byte // the closing byte of what is open
	for p.err == nil {
		switch c := p.peek(); c {
		case 0:
			return
		case '{', '[':
			if depth == maxDepth {
				p.fail("arrays and objects nested deeper than %d", maxDepth)
				return
			}
			kinds[depth] = c + 2 // '[' + 2 = ']', '{' + 2 = '}'
			depth++
			p.pos++
			if p.peek() == c+2 {
				p.pos++
				depth--
				break
			}
			if c == '{' {
				p.text()
				p.take(':')
			}
			continue
		case '"':
			p.skipText()
		case 't':
			p.literal("true")
		case 'f':
			p.literal("false")
		case 'n':
			p.literal("null")
		default:
			p.number()
		}
		for p.err == nil { // a value has ended: close what it ends
			if depth == 0 {
				return
			}
			c := p.peek()
			if c == ',' {
				p.pos++
				if kinds[depth-1] == '}' {
					p.text()
					p.take(':')
				}
				break
			}
			if !p.take(kinds[depth-1]) {
				return
			}
			depth--
		}
	}
}

// skipText takes a string of any length without keeping it.
func (p *pull) skipText() {
	p.pos++
	for p.err == nil {
		for p.pos < p.end {
			c := p.buf[p.pos]
			if c == '"' {
				p.pos++
				return
			}
			if c < 0x20 {
				p.fail("control byte %#02x in a string", c)
				return
			}
			if c == '\\' {
				p.need(2)
				if p.end-p.pos < 2 {
					break
				}
				p.pos++
			}
			p.pos++
		}
		if p.eof {
			p.fail("%w", io.ErrUnexpectedEOF)
			return
		}
		p.fill(1)
	}
}
