package read

import "bytes"

// What ends a text where several follow each other: the end of the line in newline-delimited JSON, or the record separator
// before the next (RFC 8142). By it a text that is broken loses itself only.

// divided finds out, before the first text, whether each line is one: the first line opens an object that is no list of
// features written line by line, and is closed or the next one opens another. In texts of one object over many lines the first is not.
func (p *pull) divided() {
	if p.pos < p.end && p.buf[p.pos] == recordSeparator {
		p.pos++
		p.ends = recordSeparator
		return
	}
	p.fill(len(p.buf))
	first, rest, more := bytes.Cut(p.buf[p.pos:p.end], []byte{'\n'})
	first, rest = bytes.TrimSpace(first), bytes.TrimLeft(rest, " \t\r\n")
	switch {
	case !more:
		p.longLine = !p.eof
	case len(first) > 1 && first[0] == '{' && len(rest) > 0 && (rest[0] == '{' || first[len(first)-1] == '}') && !bytes.Contains(first, []byte(`"features"`)):
		p.ends = '\n'
	}
}

// enter is called before each text, and leave after it. leave goes on behind a text that is broken, and says why it was; nil:
// it was not, or nothing tells where the next begins, and the error stays. whole: it was good, and has more behind it.
func (p *pull) enter() { p.stop = p.ends }

func (p *pull) leave() (fault error, whole bool) {
	p.stop = 0
	if p.err == nil && (p.ends != 0 || p.longLine) {
		switch c := p.beyond(); {
		case c == '\n' && p.ends == 0:
			p.ends = '\n'
		case c == 0, c == '\n', c == '{', c == p.ends, p.ends == 0:
		default:
			p.fail("more text after its end")
			whole = true
		}
	}
	if fault = p.err; fault == nil || p.unread || p.ends == 0 && !p.longLine {
		return nil, false
	}
	end := p.ends
	if end == 0 {
		end = '\n'
	}
	p.err = nil
	for p.err == nil {
		i := bytes.IndexByte(p.buf[p.pos:p.end], end)
		if i >= 0 {
			p.pos += i
			break
		}
		if p.pos = p.end; p.eof {
			break
		}
		p.fill(1)
	}
	if p.ends == 0 && (p.atEnd() || p.peek() != '{') { // it was one text over all
		p.err = fault
		return nil, false
	}
	p.ends = end
	return fault, whole
}

// beyond is the next byte that is not blank, a line's end being none where texts end with their lines; 0: there is none.
func (p *pull) beyond() byte {
	for p.need(1); p.pos < p.end; p.need(1) {
		switch c := p.buf[p.pos]; {
		case c == ' ', c == '\t', c == '\r', c == '\n' && p.ends == recordSeparator:
			p.pos++
		default:
			return c
		}
	}
	return 0
}
