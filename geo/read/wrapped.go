package read

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"io"
	"unicode/utf16"
	"unicode/utf8"
)

// inner takes the content out of one wrapping, if it is in one: gzip, UTF-16, or lines that end in a carriage return.
func (s *source) inner(head []byte) (wrapped bool, err error) {
	switch order := utf16Order(head); {
	case bytes.HasPrefix(head, []byte{0x1f, 0x8b}):
		in := &counted{r: s.from}
		z, err := gzip.NewReader(bufio.NewReader(in))
		if err != nil {
			return false, err
		}
		s.from, s.size = &unpacked{r: z, in: in}, 0
	case order != nil:
		s.from, s.size = &fromUTF16{r: s.from, order: order}, s.size/2
		s.path, s.at = "", nil // what lies beside it is still there: task data opens itself again
		return true, nil
	case oldLines(head):
		s.from = returns{s.from}
	default:
		return false, nil
	}
	s.fsys, s.path, s.at = nil, "", nil
	return true, nil
}

// counted counts the bytes that come out of r.
type counted struct {
	r io.Reader
	n int64
}

func (c *counted) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += int64(n)
	return n, err
}

// unpacked holds what comes out of a gzip to the limits of a zip.
type unpacked struct {
	r   io.Reader
	in  *counted
	out int64
}

func (u *unpacked) Read(p []byte) (int, error) {
	n, err := u.r.Read(p)
	u.out += int64(n)
	if u.out > ratioFrom && u.out/maxRatio > u.in.n {
		return 0, fmt.Errorf("%d bytes unpack to over %d: the limit is %d to 1", u.in.n, u.out, maxRatio)
	}
	return n, err
}

// utf16Order is the order of bytes in a text of UTF-16; nil: it is none. Without a byte order mark every other byte of
// the first ones is 0, as letters of Latin script have it.
func utf16Order(head []byte) binary.ByteOrder {
	switch {
	case bytes.HasPrefix(head, []byte{0xff, 0xfe}):
		return binary.LittleEndian
	case bytes.HasPrefix(head, []byte{0xfe, 0xff}):
		return binary.BigEndian
	case len(head) < 8:
		return nil
	}
	for first, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
		text := true
		for i := 0; i < 8; i += 2 {
			c, zero := head[i+first], head[i+1-first]
			text = text && zero == 0 && (c >= ' ' && c < 0x7f || c == '\n' || c == '\r' || c == '\t')
		}
		if text {
			return order
		}
	}
	return nil
}

// fromUTF16 gives a text of UTF-16 as UTF-8, without its byte order mark. What is no character becomes U+FFFD.
type fromUTF16 struct {
	r       io.Reader
	order   binary.ByteOrder
	out     []byte // still to be given
	in      [4096]byte
	had     int    // bytes of in that are there
	high    uint16 // a surrogate that waits for its other half
	started bool
	err     error
}

func (u *fromUTF16) Read(p []byte) (int, error) {
	for len(u.out) == 0 {
		if u.err != nil {
			return 0, u.err
		}
		var n int
		n, u.err = u.r.Read(u.in[u.had:])
		u.had += n
		u.decode()
	}
	n := copy(p, u.out)
	u.out = u.out[n:]
	return n, nil
}

// decode takes the characters out of in that are whole.
func (u *fromUTF16) decode() {
	u.out = u.out[:0]
	i := 0
	for ; i+2 <= u.had; i += 2 {
		c := u.order.Uint16(u.in[i:])
		first := !u.started
		u.started = true
		switch {
		case first && c == 0xfeff:
		case u.high != 0:
			r := utf16.DecodeRune(rune(u.high), rune(c))
			u.high = 0
			u.out = utf8.AppendRune(u.out, r)
			if r == utf8.RuneError { // it was no pair: the second half stands for itself
				u.unit(c)
			}
		default:
			u.unit(c)
		}
	}
	u.had = copy(u.in[:], u.in[i:u.had])
	if u.err != nil && (u.had > 0 || u.high != 0) {
		u.out = utf8.AppendRune(u.out, utf8.RuneError)
		u.had, u.high = 0, 0
	}
}

func (u *fromUTF16) unit(c uint16) {
	if c >= 0xd800 && c < 0xdc00 {
		u.high = c
		return
	}
	u.out = utf8.AppendRune(u.out, rune(c)) // half a pair becomes U+FFFD
}

// oldLines says whether the lines of a text end in a carriage return alone.
func oldLines(head []byte) bool {
	if t := bytes.TrimLeft(head, " \t\r"); len(t) == 0 || t[0] == '<' || t[0] == '{' { // to whose readers it is all space
		return false
	}
	return bytes.IndexByte(head, '\r') >= 0 && bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, 0) < 0 && !bytes.HasPrefix(head, []byte("PK"))
}

// returns gives lines that end in a carriage return as lines that end in a line feed.
type returns struct{ r io.Reader }

func (l returns) Read(p []byte) (int, error) {
	n, err := l.r.Read(p)
	for i, c := range p[:n] {
		if c == '\r' {
			p[i] = '\n'
		}
	}
	return n, err
}
