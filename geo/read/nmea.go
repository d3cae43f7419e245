package read

import (
	"bytes"
	"fmt"
	"io"
	"math"

	"balk/geo"
)

// NMEATracks reads a track from a log of NMEA 0183. file is the name for
// messages, and findings give the line as record.
//
//   - Read are GGA (position, quality, HDOP, height), RMC (position, date, speed, course), GLL (position),
//     VTG (speed, course), HDT and THS (heading) and ZDA (date), of any talker. GST is
//     known and passed over: geo.Track has no column for the receiver's own error.
//   - Sentences of one time make one fix. GGA's position goes before those of RMC and GLL.
//     Where the log has headings, its courses are left; else see geo.Track.Course. Sentences without a time belong to the fix before
//     them, or to the one after them where the log begins with such a sentence.
//   - The date of RMC or ZDA is carried on and counts up at midnight; fixes before
//     the first date get theirs from it.
//   - What is no sentence is passed over and counted, and a sentence with a wrong
//     checksum is left out. One without checksum is taken if the log has none at all.
//
// The parser is our own: sentence by sentence into values that are allocated
// costs more than 50 MB/s per core allows, and only seven sentences are wanted.
func NMEATracks(r io.Reader, file string) ([]geo.Track, []geo.Finding, error) {
	l := newLines(r)
	n := nmea{notes: tally{file: file}, g: &growing{record: 1}, lines: l}
	for {
		line, ok := l.next()
		if !ok {
			break
		}
		n.line(line, l.number, l.whole)
	}
	n.flush()
	if err := l.broken(); err != nil {
		if n.g.fixes() == 0 {
			return nil, nil, fmt.Errorf("read %s: line %d: %w", file, l.number, err)
		}
		n.notes.add(l.number, nil, true, fmt.Sprintf("unreadable from here on, the %d fixes before are used: %s", n.g.fixes(), inOurWords(err)))
	}
	if !n.known && n.g.fixes() > 0 {
		n.notes.add(0, nil, false, "no date in it (RMC or ZDA): times go on from the first, and no date is shown")
	}
	return finishTracks([]*growing{n.g}, &n.notes, &stateJudge{}, nil, "a track is GGA, RMC or GLL sentences with positions", false)
}

// nmea is the state of reading a log.
type nmea struct {
	lines *lines
	notes tally
	g     *growing
	sums  bool // sentences have checksums

	open   bool // a fix is being gathered
	fix    nmeaFix
	early  bool // sentences without time come before the one they belong to
	began  bool // a sentence with a time was seen
	before values

	day    int64 // since 1970-01-01, or since the first fix while not known
	known  bool
	byRMC  bool // the date is that of RMC
	tod    float64
	hasTod bool
}

// nmeaFix is what the sentences of one time tell.
type nmeaFix struct {
	line          int
	tod           float64 // seconds from midnight, NaN for none
	day           int64
	gga, rmc, gll bool
	lon, lat      float64
	place         bool
	speed         bool // by VTG
	v             values
}

// line takes in a line, in which several sentences may stand.
func (n *nmea) line(line []byte, number int, whole bool) {
	i := bytes.IndexByte(line, '$')
	if i < 0 {
		if len(trim(line)) > 0 {
			n.notes.count(number, false, "a line without a sentence is passed over")
		}
		return
	}
	for i >= 0 {
		line = line[i+1:]
		i = bytes.IndexByte(line, '$')
		s := line
		if i >= 0 {
			s = line[:i]
		}
		if len(s) > 0 && s[len(s)-1] == '\r' {
			s = s[:len(s)-1]
		}
		n.sentence(s, number, whole || i >= 0)
	}
}

// sentence takes in what stands after a "$".
func (n *nmea) sentence(s []byte, number int, whole bool) {
	if !isAddress(s) {
		if !whole && len(s) < 6 {
			n.notes.add(number, nil, true, "the file breaks off in this sentence: left out")
			return
		}
		if len(s) == 0 || s[0] != 'P' { // P: a maker's own
			n.notes.count(number, false, "what follows a $ is no sentence and passed over")
		}
		return
	}
	body, sum := checked(s)
	switch {
	case sum == sumWrong:
		n.notes.count(number, true, "a wrong checksum: sentence left out")
		return
	case sum == sumRight:
		n.sums = true
	case !whole && (n.sums || bytes.IndexByte(s, '*') >= 0):
		n.notes.add(number, nil, true, "the file breaks off in this sentence: left out")
		return
	case n.sums:
		n.notes.count(number, true, "a sentence without checksum in a log that has them: left out")
		return
	default:
		n.notes.count(number, false, "a sentence without checksum is taken as it is")
	}
	c := sentenceFields{rest: body[6:]}
	switch string(body[2:5]) {
	case "GGA":
		n.gga(&c, number)
	case "RMC":
		n.rmc(&c, number)
	case "GLL":
		n.gll(&c, number)
	case "VTG":
		n.vtg(&c, number)
	case "HDT":
		n.value(n.untimed(), headingColumn, c.next(), 1, number)
	case "THS":
		heading := c.next()
		if mode := c.next(); len(mode) == 1 && (mode[0] == 'A' || mode[0] == 'E') { // autonomous, estimated; the rest is simulated or not valid (from memory)
			n.value(n.untimed(), headingColumn, heading, 1, number)
		}
	case "ZDA":
		n.zda(&c, number)
	}
}

// untimed is where the values of a sentence without a time go.
func (n *nmea) untimed() *values {
	if !n.began {
		n.early = true
	}
	if n.early || !n.open {
		return &n.before
	}
	return &n.fix.v
}

// value takes a number as a column's value, times factor.
func (n *nmea) value(v *values, c column, f []byte, factor float64, number int) bool {
	if len(f) == 0 {
		return false
	}
	x, _, _, ok := decimal(f)
	y := x * factor
	if c == qualityColumn {
		y, ok = columnNumber(c, x)
	} else if ok {
		_, ok = columnNumber(c, y)
	}
	if !ok {
		n.notes.count(number, true, columnTitle[c]+" not understood or out of range")
		return false
	}
	v.set(c, y)
	return true
}

// begin opens the fix of a time, or goes on with the one at hand if its time is
// the same and the sentence is not in it yet.
func (n *nmea) begin(f []byte, number int, there bool) bool {
	tod, ok := math.NaN(), true
	if len(f) > 0 {
		if tod, ok = todOf(f); !ok {
			n.notes.count(number, true, "a time that is not understood: sentence left out")
			return false
		}
	}
	n.began = true
	if n.open && !there && n.fix.tod == tod {
		return true
	}
	n.flush()
	n.clock(tod)
	n.open = true
	n.fix = nmeaFix{line: number, tod: tod, day: n.day}
	if n.early {
		n.fix.v, n.before = n.before, values{}
		n.fix.speed = n.fix.v.has&(1<<speedColumn) != 0
	}
	return true
}

// clock counts the days on at midnight.
func (n *nmea) clock(tod float64) {
	if math.IsNaN(tod) {
		return
	}
	if n.hasTod {
		switch {
		case tod < n.tod-43200:
			n.day++
		case tod > n.tod+43200: // one from before midnight, late
			n.day--
		}
	}
	n.tod, n.hasTod = tod, true
}

// date takes in a date; fixes before the first one get theirs from it.
func (n *nmea) date(year, month, day int) {
	d := civilDays(year, month, day)
	if !n.known {
		shift := float64((d - n.day) * 86400)
		for i := 2; i < len(n.g.flat); i += 3 {
			n.g.flat[i] += shift
		}
		n.fix.day += d - n.day
	}
	n.known, n.day = true, d
}

func (n *nmea) gga(c *sentenceFields, number int) {
	if !n.begin(c.next(), number, n.fix.gga) {
		return
	}
	n.fix.gga = true
	n.place(c, number, true)
	n.value(&n.fix.v, qualityColumn, c.next(), 1, number)
	c.skip(1) // satellites
	n.value(&n.fix.v, hdopColumn, c.next(), 1, number)
	n.value(&n.fix.v, heightColumn, c.next(), 1, number) // above mean sea level, m
}

// place reads a position into the fix at hand.
func (n *nmea) place(c *sentenceFields, number int, over bool) {
	lat, none1, ok1 := angleOf(c.next(), c.next(), 'N', 'S', 90)
	lon, none2, ok2 := angleOf(c.next(), c.next(), 'E', 'W', 180)
	switch {
	case !ok1 || !ok2 || none1 != none2:
		n.notes.count(number, true, "a position that is not understood or outside ±180, ±90: left out")
	case none1:
	case over || !n.fix.place:
		n.fix.lon, n.fix.lat, n.fix.place = lon, lat, true
	}
}

// knot is a knot in m/s.
const knot = 1852 / 3600.

func (n *nmea) rmc(c *sentenceFields, number int) {
	if !n.begin(c.next(), number, n.fix.rmc) {
		return
	}
	n.fix.rmc = true
	valid := string(c.next()) == "A"
	n.place(c, number, false)
	speed, course, date := c.next(), c.next(), c.next()
	if valid {
		if !n.fix.speed {
			n.value(&n.fix.v, speedColumn, speed, knot, number)
		}
		n.value(&n.fix.v, courseColumn, course, 1, number)
		if len(date) > 0 {
			day, ok1 := two(date)
			month, ok2 := two(date[min(2, len(date)):])
			year, ok3 := two(date[min(4, len(date)):])
			if year += 2000; year >= 2080 { // satellite navigation began in 1980
				year -= 100
			}
			if !ok1 || !ok2 || !ok3 || len(date) != 6 || month < 1 || month > 12 || day < 1 || day > daysIn(year, month) {
				n.notes.count(number, true, "a date that is not understood")
			} else {
				n.date(year, month, day)
				n.byRMC, n.fix.day = true, n.day
			}
		}
	}
	c.skip(2) // magnetic variation
	n.mode(valid, c.next())
}

// gll reads a position with its time.
func (n *nmea) gll(c *sentenceFields, number int) {
	place := *c
	c.skip(4)
	if !n.begin(c.next(), number, n.fix.gll) {
		return
	}
	n.fix.gll = true
	n.place(&place, number, false)
	valid := string(c.next()) == "A"
	n.mode(valid, c.next())
}

// mode takes the status and the mode indicator of RMC or GLL as the quality of the fix.
func (n *nmea) mode(valid bool, mode []byte) {
	if n.fix.gga {
		return // its quality says more
	}
	q := geo.QualityUnknown
	switch {
	case !valid:
		q = geo.QualityNone
	case len(mode) == 1:
		q = modeQuality[mode[0]]
	}
	if q != geo.QualityUnknown {
		n.fix.v.set(qualityColumn, float64(q))
	}
}

// modeQuality is the mode indicator of RMC and GLL, from NMEA 0183 2.3 on; from memory.
var modeQuality = map[byte]geo.Quality{
	'A': geo.QualitySingle, 'P': geo.QualitySingle, 'D': geo.QualityDifferential, 'F': geo.QualityFloat, 'R': geo.QualityFixed,
	'E': geo.QualityEstimated, 'M': geo.QualityEstimated, 'S': geo.QualityEstimated, 'N': geo.QualityNone,
}

func (n *nmea) vtg(c *sentenceFields, number int) {
	v := n.untimed()
	here := n.open && v == &n.fix.v
	course := c.next()
	c.skip(3)
	knots := c.next()
	c.skip(1)
	kmh := c.next()
	ok := n.value(v, speedColumn, kmh, 1/geo.Kmh, number) || n.value(v, speedColumn, knots, knot, number)
	if here && ok {
		n.fix.speed = true
	}
	n.value(v, courseColumn, course, 1, number)
}

func (n *nmea) zda(c *sentenceFields, number int) {
	f := c.next()
	tod, ok := todOf(f)
	day, _, _, ok1 := decimal(c.next())
	month, _, _, ok2 := decimal(c.next())
	year, _, _, ok3 := decimal(c.next())
	if len(f) == 0 {
		return // the receiver does not know it yet
	}
	if !ok || !ok1 || !ok2 || !ok3 || !(year >= 1980 && year <= 9999) || !(month >= 1 && month <= 12) || !(day >= 1 && int(day) <= daysIn(int(year), int(month))) {
		n.notes.count(number, true, "a date that is not understood")
		return
	}
	if n.byRMC {
		return
	}
	n.clock(tod)
	n.date(int(year), int(month), int(day))
	if n.open && n.fix.tod == tod {
		n.fix.day = n.day
	}
}

// flush adds the fix at hand to the track.
func (n *nmea) flush() {
	if !n.open {
		return
	}
	n.open = false
	f := &n.fix
	if !f.place {
		n.notes.count(f.line, false, "a time without position is passed over")
		n.fix = nmeaFix{}
		return
	}
	if !math.IsNaN(f.tod) {
		f.v.set(timeColumn, float64(f.day*86400)+f.tod)
	}
	n.g.add(f.lon, f.lat, &f.v)
	if n.g.fixes() == reserveAfter {
		n.lines.reserve(n.g)
	}
	n.fix = nmeaFix{}
}
