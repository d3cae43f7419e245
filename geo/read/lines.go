package read

import (
	"bytes"
	"io"
)

// maxLine is the longest line of a text that is read as one, in bytes; it is
// the fixed buffer of the readers of lines.
const maxLine = 1 << 18

// lines cuts a stream into lines without copying them. A line is valid until
// the next call.
type lines struct {
	r        io.Reader
	buf      []byte
	pos, end int
	err      error  // why no more bytes come; io.EOF at the end
	number   int    // of the line at hand, from 1
	whole    bool   // the line at hand ended with a line feed
	again    []byte // text to be given once more, before the stream
}

func newLines(r io.Reader) *lines { return &lines{r: r, buf: make([]byte, maxLine)} }

// next gives the next line without its line feed. One longer than maxLine comes
// in pieces, each but the last of that length; ok is false at the end.
func (l *lines) next() (line []byte, ok bool) {
	if len(l.again) > 0 {
		l.number++
		line, l.again, l.whole = bytes.Cut(l.again, []byte{'\n'})
		return line, true
	}
	seen := 0 // bytes after pos without a line feed
	for idle := 0; ; {
		if i := bytes.IndexByte(l.buf[l.pos+seen:l.end], '\n'); i >= 0 {
			line = l.buf[l.pos : l.pos+seen+i]
			l.pos += seen + i + 1
			l.step(true)
			return line, true
		}
		if l.err != nil || l.end-l.pos == len(l.buf) {
			if l.pos == l.end {
				return nil, false
			}
			line = l.buf[l.pos:l.end]
			l.pos = l.end
			l.step(false)
			return line, true
		}
		seen = l.end - l.pos
		if l.pos > 0 {
			copy(l.buf, l.buf[l.pos:l.end])
			l.pos, l.end = 0, seen
		}
		var n int
		n, l.err = l.r.Read(l.buf[l.end:])
		l.end += n
		if idle++; n > 0 {
			idle = 0
		} else if idle == 100 && l.err == nil {
			l.err = io.ErrNoProgress
		}
	}
}

// step counts a line; the pieces of a long one count once.
func (l *lines) step(whole bool) {
	if l.whole || l.number == 0 {
		l.number++
	}
	l.whole = whole
}

// broken is the error that ended the stream before its end, nil if none did.
func (l *lines) broken() error {
	if l.err == io.EOF {
		return nil
	}
	return l.err
}
