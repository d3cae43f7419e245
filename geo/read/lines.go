package read

import (
	"bytes"
	"io"
	"slices"
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
	size     int    // bytes of the stream, 0 if unknown
	taken    int    // bytes read of it
}

func newLines(r io.Reader) *lines {
	l := &lines{r: r, buf: make([]byte, maxLine)}
	if s, ok := r.(interface{ Len() int }); ok {
		l.size = s.Len()
	}
	return l
}

// sized is a stream whose length is known.
type sized struct {
	io.Reader
	size int64
}

func (s sized) Len() int { return int(s.size) }

// reserveAfter is how many fixes tell how many bytes one takes.
const reserveAfter = 1000

// maxReserve is how many fixes room is made for on trust; beyond it the columns
// grow as they fill.
const maxReserve = 1 << 22

// reserve makes room in a track for the fixes that the rest of the stream will
// hold if they are as those before, so that its columns are not copied again and
// again as they grow. It is called once, after reserveAfter fixes.
func (l *lines) reserve(g *growing) {
	used := l.taken - (l.end - l.pos)
	if left := l.size - used; used > 0 && left > 0 {
		more := int(min(float64(left)/float64(used)*float64(g.fixes())*1.02+16, maxReserve))
		g.flat = slices.Grow(g.flat, 3*more)
		g.Columns.Grow(more)
		if g.course != nil {
			g.course = slices.Grow(g.course, more)
		}
	}
}

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
		l.taken += n
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
