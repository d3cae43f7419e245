package read

import (
	"bytes"
	"encoding/binary"
)

// hasSentence says whether NMEA 0183 stands in a text: "$", the two letters of a
// talker, three of a sentence and a comma. atStart: at the start of a line.
func hasSentence(b []byte, atStart bool) bool {
	for i := range b {
		if b[i] == '$' && (!atStart || i == 0 || b[i-1] == '\n' || b[i-1] == '\r') && isAddress(b[i+1:]) {
			return true
		}
	}
	return false
}

func isAddress(b []byte) bool {
	if len(b) < 6 || b[5] != ',' {
		return false
	}
	for _, c := range b[:5] {
		if c-'A' >= 26 {
			return false
		}
	}
	return true
}

// xorOf is the checksum of a sentence: all bytes between "$" and "*" by XOR,
// eight at a time.
func xorOf(b []byte) byte {
	var w uint64
	for len(b) >= 8 {
		w ^= binary.LittleEndian.Uint64(b)
		b = b[8:]
	}
	w ^= w >> 32
	w ^= w >> 16
	w ^= w >> 8
	x := byte(w)
	for _, c := range b {
		x ^= c
	}
	return x
}

// sumState is what the checksum of a sentence says of it.
type sumState uint8

const (
	sumRight sumState = iota
	sumWrong
	sumMissing
)

// checked takes the checksum off a sentence that begins after "$".
func checked(b []byte) (body []byte, s sumState) {
	i := bytes.IndexByte(b, '*')
	if i < 0 {
		return b, sumMissing
	}
	if len(b) < i+3 {
		return b[:i], sumMissing
	}
	hi, ok1 := hexDigit(b[i+1])
	lo, ok2 := hexDigit(b[i+2])
	if !ok1 || !ok2 || hi<<4|lo != xorOf(b[:i]) {
		return b[:i], sumWrong
	}
	return b[:i], sumRight
}

func hexDigit(c byte) (byte, bool) {
	switch {
	case c-'0' < 10:
		return c - '0', true
	case c-'A' < 6:
		return c - 'A' + 10, true
	case c-'a' < 6:
		return c - 'a' + 10, true
	}
	return 0, false
}

// sentenceFields walks over the fields of a sentence.
type sentenceFields struct {
	rest []byte
	done bool
}

// next is the next field, nil after the last.
func (c *sentenceFields) next() []byte {
	if c.done {
		return nil
	}
	i := bytes.IndexByte(c.rest, ',')
	if i < 0 {
		c.done = true
		return c.rest
	}
	f := c.rest[:i]
	c.rest = c.rest[i+1:]
	return f
}

func (c *sentenceFields) skip(n int) {
	for range n {
		c.next()
	}
}

// todOf reads hhmmss, with or without a fraction, in seconds from midnight.
func todOf(b []byte) (float64, bool) {
	if len(b) < 6 {
		return 0, false
	}
	h, ok1 := two(b)
	m, ok2 := two(b[2:])
	s, ok3 := two(b[4:])
	if !ok1 || !ok2 || !ok3 || h > 23 || m > 59 || s > 60 {
		return 0, false
	}
	t := float64(h*3600 + m*60 + s)
	if len(b) > 6 {
		if b[6] != '.' {
			return 0, false
		}
		if len(b) > 7 {
			f, _, _, ok := decimal(b[6:])
			if !ok {
				return 0, false
			}
			t += f
		}
	}
	return t, true
}

// angleOf reads a longitude or latitude, dddmm.mmmm and the letter of its
// hemisphere, in degrees. none: both fields are empty.
func angleOf(f, letter []byte, plus, minus byte, limit float64) (degrees float64, none, ok bool) {
	if len(f) == 0 && len(letter) == 0 {
		return 0, true, true
	}
	_, m, decimals, ok := decimal(f)
	if !ok || len(letter) != 1 || f[0]-'0' >= 10 || decimals > 12 {
		return 0, false, false
	}
	unit := uint64(tens[decimals])
	whole := m / (100 * unit)
	minutes := m - whole*100*unit
	if minutes >= 60*unit {
		return 0, false, false
	}
	degrees = float64(whole) + float64(minutes)/float64(60*unit)
	switch letter[0] {
	case plus:
	case minus:
		degrees = -degrees
	default:
		return 0, false, false
	}
	if degrees < -limit || degrees > limit {
		return 0, false, false
	}
	return degrees, false, true
}
