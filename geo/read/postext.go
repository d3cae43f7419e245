package read

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strconv"
	"time"

	"balk/geo"
)

// Positions that were computed after the work from what the receiver recorded come as a text (.pos): lines that begin with %
// tell how, the last of them names the columns, and each line after it is a position. Layout and the meaning of Q are from
// memory, as are the leap seconds.

// posTitles are what a line of titles has, by the columns that are read.
var (
	posClock     = [][]byte{[]byte("GPST"), []byte("UTC"), []byte("JST")}
	posDegrees   = []byte("latitude(deg)")
	posMinutes   = []byte("latitude(d'\")")
	posElsewhere = [][]byte{[]byte("x-ecef"), []byte("e-baseline")}
)

// isPos says whether a text begins as one of computed positions.
func isPos(head []byte) bool {
	return len(head) > 0 && head[0] == '%' && (bytes.Contains(head, posDegrees) || bytes.Contains(head, posMinutes) || bytes.Contains(head, posElsewhere[0]) || bytes.Contains(head, posElsewhere[1]))
}

// posQuality is the quality of a position by its column Q.
var posQuality = map[string]string{"1": "fixed", "2": "float", "3": "sbas", "4": "dgps", "5": "single", "6": "differential"}

// leapSeconds is how far the time of GPS was ahead of UTC, from the latest on.
var leapSeconds = []struct{ from, ahead float64 }{
	{1483228800, 18}, {1435708800, 17}, {1341100800, 16}, {1230768000, 15}, {1136073600, 14}, {0, 13}, // 2017, July 2015, July 2012, 2009, 2006
}

// gpsEpoch is 1980-01-06, from which the weeks of GPS count.
const gpsEpoch = 315964800

// PosTracks reads a track from a text of computed positions. file is the name for messages, and findings give the line as record.
func PosTracks(r io.Reader, file string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	return CSVTracks(&posText{lines: newLines(r), file: file}, file, o)
}

// posText gives computed positions as a table with commas. Line n is line n.
type posText struct {
	*lines
	file    string
	clock   string
	minutes bool // latitude and longitude are degrees, minutes and seconds
	out     []byte
	buf     []byte
	err     error
}

func (p *posText) Read(b []byte) (int, error) {
	for len(p.out) == 0 {
		if p.err != nil {
			return 0, p.err
		}
		line, ok := p.next()
		if !ok {
			if p.err = p.broken(); p.err == nil {
				p.err = io.EOF
			}
			continue
		}
		p.buf = p.buf[:0]
		p.line(bytes.TrimSuffix(line, []byte{'\r'}))
		if p.whole {
			p.buf = append(p.buf, '\n')
		}
		p.out = p.buf
	}
	n := copy(b, p.out)
	p.out = p.out[n:]
	return n, nil
}

// line puts a line of the table into buf.
func (p *posText) line(line []byte) {
	if len(line) > 0 && line[0] == '%' {
		p.titles(line)
		return
	}
	f := bytes.FieldsFunc(line, func(r rune) bool { return r <= ' ' || r == ',' || r == ';' })
	if len(f) < 2 {
		return
	}
	if seconds, ok := p.seconds(f[0], f[1]); ok {
		p.buf = strconv.AppendFloat(p.buf, seconds, 'f', 3, 64)
	} else {
		p.buf = append(append(append(p.buf, f[0]...), ' '), f[1]...) // for the reader of the table to find fault with
	}
	f = f[2:]
	for range 2 {
		p.buf = append(p.buf, ',')
		n := 1
		if p.minutes {
			n = 3
		}
		if len(f) < n {
			return
		}
		p.angle(f[:n])
		f = f[n:]
	}
	if len(f) > 1 { // after the height
		p.buf = append(append(p.buf, ','), posQuality[string(f[1])]...)
	}
}

// titles reads a line that begins with %.
func (p *posText) titles(line []byte) {
	for _, elsewhere := range posElsewhere {
		if bytes.Contains(line, elsewhere) && bytes.Contains(line, []byte("(m)")) {
			p.err = &FileError{File: p.file, Record: p.number, What: fmt.Sprintf("its positions are metres (%s), longitude and latitude are wanted", elsewhere), Hint: "have them computed as latitude and longitude in degrees"}
		}
	}
	if p.minutes = bytes.Contains(line, posMinutes); !p.minutes && !bytes.Contains(line, posDegrees) {
		return
	}
	for _, c := range posClock {
		if bytes.Contains(line, c) {
			p.clock = string(c)
		}
	}
	p.buf = append(p.buf, "time_s,lat,lon,quality"...)
}

// angle puts degrees, or degrees, minutes and seconds, into buf.
func (p *posText) angle(f [][]byte) {
	if len(f) == 1 {
		p.buf = append(p.buf, f[0]...)
		return
	}
	sum, unit := 0.0, 1.0
	for _, one := range f {
		v, _, _, ok := decimal(one)
		if !ok {
			p.buf = append(p.buf, one...)
			return
		}
		sum, unit = sum+math.Abs(v)*unit, unit/60
	}
	if f[0][0] == '-' {
		sum = -sum
	}
	p.buf = strconv.AppendFloat(p.buf, sum, 'f', 10, 64)
}

// seconds is a time, given as a day and a time of day or as a week of GPS and the seconds in it, in UTC.
func (p *posText) seconds(first, second []byte) (float64, bool) {
	var s float64
	if week, err := strconv.Atoi(string(first)); err == nil {
		in, _, _, ok := decimal(second)
		if !ok || week < 0 || week > 9999 || in < 0 || in > 7*86400 {
			return 0, false
		}
		s = gpsEpoch + float64(week)*7*86400 + in
	} else {
		n, digits, rest, ok := threeNumbers(first)
		tod, _, ok2 := clockText(second)
		if !ok || !ok2 || len(rest) > 0 || digits[0] != 4 || n[1] < 1 || n[1] > 12 || n[2] < 1 || n[2] > daysIn(n[0], n[1]) {
			return 0, false
		}
		s = float64(civilDays(n[0], n[1], n[2])*86400) + tod
	}
	switch p.clock {
	case "JST":
		s -= float64(9 * time.Hour / time.Second)
	case "GPST":
		for _, l := range leapSeconds {
			if s >= l.from+l.ahead {
				return s - l.ahead, true
			}
		}
	}
	return s, true
}
