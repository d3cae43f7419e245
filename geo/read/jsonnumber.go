package read

import (
	"math"
	"strconv"

	"balk/geo"
)

// tens are the powers of ten that a float64 holds exactly.
var tens = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// number reads a JSON number, correctly rounded.
//
// A mantissa below 2^53 and a power of ten up to 10^22 are both exact in
// float64, so one multiplication or division of them rounds once and is right
// (W. D. Clinger, "How to read floating point numbers accurately", 1990).
// Anything longer goes to strconv.
func (p *pull) number() float64 {
	p.peek()
	p.need(maxNumber)
	b := p.buf[p.pos:min(p.end, p.pos+maxNumber)]
	i, minus := 0, false
	if i < len(b) && b[i] == '-' {
		minus = true
		i++
	}
	var m uint64
	from := i
	for i < len(b) && b[i]-'0' < 10 {
		m = m*10 + uint64(b[i]-'0')
		i++
	}
	digits := i - from
	if digits == 0 || digits > 1 && b[from] == '0' {
		return p.noNumber(b)
	}
	exp := 0
	if i < len(b) && b[i] == '.' {
		i++
		from = i
		for i < len(b) && b[i]-'0' < 10 {
			m = m*10 + uint64(b[i]-'0')
			i++
		}
		exp = from - i
		if exp == 0 {
			return p.noNumber(b)
		}
		digits -= exp
	}
	plain := digits <= 19 // m has not overflowed
	if i < len(b) && b[i]|0x20 == 'e' {
		i++
		if i < len(b) && (b[i] == '+' || b[i] == '-') {
			i++
		}
		from = i
		for i < len(b) && b[i]-'0' < 10 {
			i++
		}
		if i == from {
			return p.noNumber(b)
		}
		plain = false
	}
	if i == maxNumber {
		p.fail("a number of more than %d bytes", maxNumber-1)
		return 0
	}
	p.pos += i
	if plain && m <= 1<<53 && exp >= -22 {
		v := float64(m) / tens[-exp]
		if minus {
			return -v
		}
		return v
	}
	v, err := strconv.ParseFloat(string(b[:i]), 64)
	if err != nil {
		p.pos -= i
		p.fail("number %s is outside ±1.8e308", b[:min(i, 40)])
		return 0
	}
	return v
}

func (p *pull) noNumber(b []byte) float64 {
	p.fail("found %q where a number is wanted", b[:min(len(b), 12)])
	return 0
}

// noPosition stands for the number of numbers of what is JSON, but no position.
const noPosition = -1

// position reads the numbers of one position that is next: [lon, lat] or more. It
// keeps two of them, and the height that may follow (RFC 7946, 3.1.1: metres), NaN where none does, and says how many there were; noPosition where it is no list, or
// one of the two no number. Either way the reader stands behind it.
func (p *pull) position(xy *[3]float64) int {
	if p.peek() != '[' {
		p.skip()
		return noPosition
	}
	p.pos++
	return p.rest(xy)
}

// height reads what stands in the place of a height, whatever it is: NaN where that is none on Earth.
func (p *pull) height() float64 {
	const most = 32 // bytes of a height
	p.need(most)
	b := p.buf[p.pos:min(p.end, p.pos+most)]
	i := 0
	for i < len(b) && (b[i] == '-' || b[i] == '.' || b[i]-'0' < 10) {
		i++
	}
	v, _, _, ok := decimal(b[:i])
	whole := i < len(b) && b[i]|0x20 != 'e'
	if p.skip(); ok && whole && v >= geo.LeastHeight && v <= geo.MaxHeight {
		return v
	}
	return math.NaN()
}

// rest is position after the bracket.
func (p *pull) rest(xy *[3]float64) int {
	n, odd := 0, false
	xy[2] = math.NaN()
	for p.item(n == 0) {
		switch c := p.peek(); {
		case n == 2:
			xy[2] = p.height()
		case n > 2:
			p.skip()
		case c == '[' || c == '{' || c == '"' || c == 't' || c == 'f' || c == 'n':
			p.skip()
			odd = true
		default:
			xy[n] = p.number()
		}
		n++
	}
	if odd {
		return noPosition
	}
	return n
}
