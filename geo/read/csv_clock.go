package read

import (
	"bytes"
	"fmt"
	"math"
	"time"
)

// tableClock reads times as tables write them. What a file cannot say line by line
// (is 05/06/2024 in May or in June, is 43590.5 a day) it decides once: all such dates are
// read with the day first, and turned at the end of the file where that was wrong.
type tableClock struct {
	dayFirst   bool   // a date was seen that can only be day first
	monthFirst bool   // a date was seen that can only be month first
	serial     bool   // numbers are days of a spreadsheet
	slashes    bool   // dates have slashes
	halves     bool   // times have AM or PM
	doubtful   string // the first date read as day first that could be month first
}

// moment is what one field of a table tells of a time.
type moment struct {
	seconds float64 // since 1970-01-01, of the day, or from midnight
	kind    momentKind
	zoned   bool
}

type momentKind uint8

const (
	noMoment momentKind = iota
	instant
	wholeDay
	timeOfDay
)

// Serial dates of spreadsheets: days since 1899-12-30 (so that day 1 is
// 1900-01-01 in the count that has a 29 February 1900); common practice, no
// source. Between these two they lie in 1954 to 2119.
const (
	serialFrom, serialTo = 20000, 80000
	serialEpoch          = 25569 // 1970-01-01
	serialDecimals       = 4     // 8.6 s: a number with fewer is a count of seconds
)

// read understands a field. hasDate says that there is a column of its own for
// the date; column is the time or the date column.
func (k *tableClock) read(b []byte, c *tableColumn, hasDate bool, notes *tally) (m moment, ok bool) {
	if v, _, decimals, number := decimal(b); number && !isCompactDay(b) {
		return k.number(v, decimals, c, hasDate, notes)
	}
	if s, zoned, iso := isoSeconds(b); iso {
		if len(b) <= 10 && !zoned {
			return moment{s, wholeDay, false}, true
		}
		return moment{s, instant, zoned || c.unit == "utc"}, true
	}
	m.kind = timeOfDay
	k.halves = k.halves || isHalf(b)
	day, rest, hasDay := k.day(b, notes)
	switch {
	case !hasDay:
		rest = b
	case len(rest) == 0:
		return moment{day, wholeDay, false}, true
	case rest[0] != ' ' && rest[0] != 'T' && rest[0] != ',':
		return moment{}, false
	default:
		m.kind, m.seconds = instant, day
		rest = bytes.TrimLeft(rest[1:], " ")
	}
	s, zoned, ok := clockText(rest)
	if !ok {
		return moment{}, false
	}
	m.seconds, m.zoned = m.seconds+s, zoned || c.unit == "utc"
	return m, true
}

// number understands a field that is a number: seconds, milliseconds, or the days of a spreadsheet.
func (k *tableClock) number(v float64, decimals int, c *tableColumn, hasDate bool, notes *tally) (m moment, ok bool) {
	switch c.unit {
	case "s", "sec", "seconds":
		return moment{v, instant, true}, math.Abs(v) < 1e11
	case "ms", "millis":
		return moment{v / 1000, instant, true}, math.Abs(v) < 1e14
	}
	if v >= serialFrom && v < serialTo {
		if c.column == dateColumn && decimals == 0 {
			return moment{(v - serialEpoch) * 86400, wholeDay, false}, true
		}
		if decimals >= serialDecimals || k.serial {
			if !k.serial {
				k.serial = true
				notes.add(0, nil, false, "times are taken as serial dates of a spreadsheet (days since 1899-12-30)")
			}
			// A spreadsheet's day has 15 digits: a millisecond is the most it means.
			return moment{math.Round((v-serialEpoch)*86400e3) / 1e3, instant, false}, true
		}
	}
	if hasDate && c.column == timeColumn {
		if v >= 0 && v < 1 { // the time of day of a spreadsheet
			return moment{math.Round(v*86400e3) / 1e3, timeOfDay, false}, true
		}
		if v < 1e8 { // before 1973: a time of day in some way of its own
			return moment{}, false
		}
	}
	s, in := epochSeconds(v)
	return moment{s, instant, true}, in
}

// isCompactDay says whether b is a date like 20240531.
func isCompactDay(b []byte) bool {
	if len(b) != 8 || b[0] != '1' && b[0] != '2' {
		return false
	}
	_, _, _, _, ok := isoDay(b)
	return ok
}

// day reads a date of three numbers with one kind of mark between them: year,
// month, day, or day, month, year; in seconds since 1970-01-01.
func (k *tableClock) day(b []byte, notes *tally) (seconds float64, rest []byte, ok bool) {
	n, digits, rest, ok := threeNumbers(b)
	if !ok {
		return 0, nil, false
	}
	year, month, day := n[0], n[1], n[2]
	if digits[0] < 3 {
		day, year = n[0], n[2]
		switch digits[2] {
		case 2: // common practice, no source: 70 to 99 are of the last century
			if year += 2000; year >= 2070 {
				year -= 100
			}
		case 4:
		default:
			return 0, nil, false
		}
		k.slashes = k.slashes || bytes.IndexByte(b, '/') > 0
		if day, month, ok = k.dayAndMonth(day, month, b, notes); !ok {
			return 0, nil, false
		}
	}
	if month < 1 || month > 12 || day < 1 || day > daysIn(year, month) {
		return 0, nil, false
	}
	return float64(civilDays(year, month, day) * 86400), rest, true
}

// threeNumbers reads three numbers of up to four digits with one kind of mark between them, and how many digits they
// have.
func threeNumbers(b []byte) (n, digits [3]int, rest []byte, ok bool) {
	i := 0
	var mark byte
	for part := range n {
		for i < len(b) && b[i]-'0' < 10 && digits[part] < 4 {
			n[part] = n[part]*10 + int(b[i]-'0')
			digits[part]++
			i++
		}
		if digits[part] == 0 {
			return n, digits, nil, false
		}
		if part == 2 {
			break
		}
		if i == len(b) || b[i] != '/' && b[i] != '.' && b[i] != '-' || part == 1 && b[i] != mark {
			return n, digits, nil, false
		}
		mark = b[i]
		i++
	}
	return n, digits, b[i:], true
}

// dayAndMonth says which of two numbers, the first and the second of a date, is the day; false: it can be neither, or
// not as in the dates before.
func (k *tableClock) dayAndMonth(first, second int, text []byte, notes *tally) (day, month int, ok bool) {
	switch {
	case first <= 12 && second <= 12:
		if k.doubtful == "" && first != second {
			k.doubtful = string(text)
		}
	case second > 12 && !k.dayFirst: // the second number is the day
		if !k.monthFirst {
			k.monthFirst = true
			notes.add(0, nil, false, "dates like 05/31/2024 are in it: all are read with the month first")
		}
		return second, first, true
	default:
		if k.dayFirst = true; k.monthFirst {
			return 0, 0, false
		}
	}
	return first, second, true
}

// swap says whether the dates that could be either were month first after all. Where no date tells, those with slashes and
// times with AM and PM are (common practice, no source), and all others have the day first; either is noted.
func (k *tableClock) swap(notes *tally) bool {
	switch {
	case k.doubtful == "" || k.dayFirst:
		return false
	case !k.monthFirst:
		first := "day"
		if k.slashes && k.halves {
			k.monthFirst, first = true, "month"
		}
		notes.add(0, nil, false, fmt.Sprintf("no date in it tells whether day or month comes first in %s: all are read with the %s first", inQuotes([]byte(k.doubtful)), first))
	}
	return k.monthFirst
}

// turn reads the dates of tracks once more, with the month first.
func (k *tableClock) turn(tracks []*growing, notes *tally) {
	for _, g := range tracks {
		for i := 2; i < len(g.flat); i += 3 {
			g.flat[i] = notes.clock.again(turned(notes.clock.wall(g.flat[i])))
		}
	}
}

// turned is a time whose date was read as day first, read as month first.
func turned(seconds float64) float64 {
	if math.IsNaN(seconds) {
		return seconds
	}
	days := math.Floor(seconds / 86400)
	y, m, d := time.Unix(int64(days)*86400, 0).UTC().Date()
	if d > 12 {
		return seconds
	}
	return seconds - days*86400 + float64(civilDays(y, d, int(m))*86400)
}

// isHalf says whether a time ends in AM or PM.
func isHalf(b []byte) bool {
	n := len(b)
	return n > 2 && b[n-1]|0x20 == 'm' && (b[n-2]|0x20 == 'a' || b[n-2]|0x20 == 'p')
}

// clockText reads a time of day: 9:05, 09:05:07.5, 9:05:07 PM, with or without
// a zone, in seconds from midnight.
func clockText(b []byte) (seconds float64, zoned, ok bool) {
	half := -1
	if isHalf(b) {
		half = 0
		if n := len(b); b[n-2]|0x20 == 'p' {
			half = 12
		}
		b = bytes.TrimRight(b[:len(b)-2], " ")
	}
	var text [64]byte
	t := append(text[:0], "1970-01-01T"...)
	if len(b) > 1 && b[1] == ':' {
		t = append(t, '0')
	}
	if len(b) > 32 {
		return 0, false, false
	}
	t = append(t, b...)
	seconds, zoned, ok = isoSeconds(t)
	if half >= 0 {
		hour := int(math.Floor(seconds / 3600))
		if zoned || hour < 1 || hour > 12 {
			return 0, false, false
		}
		seconds += float64((hour%12 + half - hour) * 3600)
	}
	return seconds, zoned, ok
}
