package read

import (
	"math"
	"strconv"
	"time"
)

// secondsOf reads a time from text: ISO 8601 with or without zone, or a number
// of seconds or milliseconds since 1970-01-01 UTC. zoned is false when the text
// named no zone; it is then taken as UTC.
func secondsOf(b []byte) (s float64, zoned, ok bool) {
	if s, zoned, ok = isoSeconds(b); ok {
		return s, zoned, true
	}
	if v, err := strconv.ParseFloat(string(b), 64); err == nil {
		s, ok = epochSeconds(v)
		return s, true, ok
	}
	return math.NaN(), false, false
}

// epochSeconds takes a number as seconds, or as milliseconds where seconds
// would be the year 5138 or later.
func epochSeconds(v float64) (float64, bool) {
	if math.Abs(v) >= 1e11 {
		v /= 1000
	}
	return v, math.Abs(v) < 1e11
}

// isoSeconds reads 2024-05-01T10:20:30.5Z, with "T", "t" or a space, with a
// comma or a point, with or without fraction, seconds and zone (Z, ±hh, ±hhmm,
// ±hh:mm), and 2024-05-01 or 20240501 alone.
func isoSeconds(b []byte) (s float64, zoned, ok bool) {
	year, month, day, rest, ok := isoDay(b)
	if !ok {
		return 0, false, false
	}
	days := civilDays(year, month, day)
	if len(rest) == 0 {
		return float64(days * 86400), false, true
	}
	if c := rest[0]; (c != 'T' && c != 't' && c != ' ') || len(rest) < 6 || rest[3] != ':' {
		return 0, false, false
	}
	hour, ok1 := two(rest[1:])
	minute, ok2 := two(rest[4:])
	rest = rest[6:]
	sec := 0
	ok3 := true
	frac := 0.0
	if len(rest) >= 3 && rest[0] == ':' {
		sec, ok3 = two(rest[1:])
		rest = rest[3:]
		if len(rest) > 1 && (rest[0] == '.' || rest[0] == ',') {
			i, m := 1, 0.0
			for i < len(rest) && rest[i]-'0' < 10 {
				if i <= 15 {
					m = m*10 + float64(rest[i]-'0')
				}
				i++
			}
			frac = m / tens[min(i-1, 15)]
			rest = rest[i:]
		}
	}
	if !ok1 || !ok2 || !ok3 || hour > 24 || minute > 59 || sec > 60 { // 60: a leap second
		return 0, false, false
	}
	zone := 0
	switch {
	case len(rest) == 0:
	case len(rest) == 1 && (rest[0] == 'Z' || rest[0] == 'z'):
		zoned = true
	case rest[0] == '+' || rest[0] == '-':
		zoned = true
		zone, ok = isoZone(rest)
		if !ok {
			return 0, false, false
		}
	default:
		return 0, false, false
	}
	return float64(days*86400+int64(hour*3600+minute*60+sec-zone)) + frac, zoned, true
}

func isoDay(b []byte) (year, month, day int, rest []byte, ok bool) {
	if len(b) < 8 {
		return 0, 0, 0, nil, false
	}
	c, ok1 := two(b)
	y, ok2 := two(b[2:])
	var ok3, ok4 bool
	if b[4] == '-' {
		if len(b) < 10 || b[7] != '-' {
			return 0, 0, 0, nil, false
		}
		month, ok3 = two(b[5:])
		day, ok4 = two(b[8:])
		rest = b[10:]
	} else {
		month, ok3 = two(b[4:])
		day, ok4 = two(b[6:])
		rest = b[8:]
	}
	year = 100*c + y
	ok = ok1 && ok2 && ok3 && ok4 && month >= 1 && month <= 12 && day >= 1 && day <= daysIn(year, month)
	return year, month, day, rest, ok
}

func isoZone(b []byte) (seconds int, ok bool) {
	h, ok := two(b[1:])
	m := 0
	switch rest := b[min(len(b), 3):]; len(rest) {
	case 0:
	case 2:
		var ok2 bool
		m, ok2 = two(rest)
		ok = ok && ok2
	case 3:
		var ok2 bool
		m, ok2 = two(rest[1:])
		ok = ok && ok2 && rest[0] == ':'
	default:
		return 0, false
	}
	s := h*3600 + m*60
	if b[0] == '-' {
		s = -s
	}
	return s, ok && h <= 14 && m <= 59
}

// two reads two digits.
func two(b []byte) (int, bool) {
	if len(b) < 2 || b[0]-'0' > 9 || b[1]-'0' > 9 {
		return 0, false
	}
	return int(b[0]-'0')*10 + int(b[1]-'0'), true
}

func daysIn(year, month int) int {
	return time.Date(year, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day()
}

// civilDays is days since 1970-01-01 in the Gregorian calendar: years from
// March on, so that the leap day is the last of its year, in eras of 400 years
// (146097 days).
func civilDays(year, month, day int) int64 {
	y := year
	if month <= 2 {
		y--
	}
	era := y / 400
	yoe := y - era*400
	doy := (153*((month+9)%12)+2)/5 + day - 1
	return int64(era*146097 + yoe*365 + yoe/4 - yoe/100 + doy - 719468)
}

// plainNumber reads a finite decimal number from text.
func plainNumber(t []byte) (float64, bool) {
	v, err := strconv.ParseFloat(string(t), 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}
