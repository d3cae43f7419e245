package read

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"balk/geo"
	"balk/geo/crs"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// column is what a property of a fix means.
type column uint8

const (
	noColumn column = iota
	timeColumn
	stateColumn
	widthColumn
	headingColumn  // degrees, where the machine points
	courseColumn   // degrees, where the antenna moves to
	speedColumn    // m/s
	hdopColumn     // without unit
	offsetColumn   // m, middle of the worked width right of the antenna's line
	qualityColumn  // a geo.Quality
	speedKmhColumn // km/h
	passColumn
	nameColumn
	dateColumn // a day; the time of day stands in a column of its own
	markColumn // see ownMark
	columns
)

// columnNames are the property and column names that mean something at a fix,
// in lower case; upper and lower case are not told apart. The plurals are for
// lists beside a line, one value per fix. Common practice, no source.
var columnNames = map[string]column{
	"time": timeColumn, "times": timeColumn, "timestamp": timeColumn, "timestamps": timeColumn, "datetime": timeColumn, "date_time": timeColumn,
	"coordtimes": timeColumn, "utc": timeColumn, "gpstime": timeColumn, "gps_time": timeColumn, "iso_time": timeColumn,
	"date": dateColumn, "day": dateColumn,
	"state": stateColumn, "states": stateColumn, "work": stateColumn, "working": stateColumn, "workstate": stateColumn, "work_state": stateColumn,
	"width": widthColumn, "widths": widthColumn, "working_width": widthColumn, "workingwidth": widthColumn, "width_m": widthColumn,
	"heading": headingColumn, "headings": headingColumn, "heading_deg": headingColumn, "yaw": headingColumn, "yaw_deg": headingColumn,
	"course": courseColumn, "courses": courseColumn, "cog": courseColumn, "course_deg": courseColumn, "bearing": courseColumn, "travel_direction": courseColumn,
	"speed": speedColumn, "speeds": speedColumn, "speed_ms": speedColumn, "speed_mps": speedColumn,
	"speed_kmh": speedKmhColumn, "speed_kph": speedKmhColumn,
	"hdop":     hdopColumn,
	"offset_m": offsetColumn, "offsets": offsetColumn,
	"quality": qualityColumn, "fix_quality": qualityColumn, "fixquality": qualityColumn, "gps_quality": qualityColumn, "fix_type": qualityColumn, "fixtype": qualityColumn,
	"pass": passColumn, "pass_id": passColumn, "pass_no": passColumn, "part": passColumn,
	"name": nameColumn, "track": nameColumn, "title": nameColumn,
	ownMark: markColumn,
}

// columnOf is the meaning of a name, whatever its case. It does not allocate.
func columnOf(name []byte) column {
	var low [16]byte
	if len(name) > len(low) {
		return noColumn
	}
	for i, c := range name {
		if c-'A' < 26 {
			c += 'a' - 'A'
		}
		low[i] = c
	}
	return columnNames[string(low[:len(name)])]
}

// stateWords are the words for working and lifted that logs use. Common
// practice, no source.
var stateWords = map[string]geo.WorkState{
	"working": geo.Working, "work": geo.Working, "on": geo.Working, "true": geo.Working, "t": geo.Working, "yes": geo.Working, "y": geo.Working, "down": geo.Working, "lowered": geo.Working, "in work": geo.Working, "active": geo.Working,
	"ein": geo.Working, "an": geo.Working, "ja": geo.Working, "j": geo.Working, "wahr": geo.Working, "arbeit": geo.Working, "arbeitet": geo.Working, "in arbeit": geo.Working, "unten": geo.Working, "abgesenkt": geo.Working, "gesenkt": geo.Working,
	"lifted": geo.Lifted, "off": geo.Lifted, "false": geo.Lifted, "f": geo.Lifted, "no": geo.Lifted, "n": geo.Lifted, "up": geo.Lifted, "raised": geo.Lifted, "inactive": geo.Lifted, "not working": geo.Lifted,
	"aus": geo.Lifted, "nein": geo.Lifted, "falsch": geo.Lifted, "oben": geo.Lifted, "ausgehoben": geo.Lifted, "gehoben": geo.Lifted, "wenden": geo.Lifted, "transport": geo.Lifted,
	"unknown": geo.StateUnknown, "": geo.StateUnknown, "null": geo.StateUnknown, "?": geo.StateUnknown, "nan": geo.StateUnknown, "unbekannt": geo.StateUnknown,
}

// stateOf reads a work state from text; a number other than 0 is working.
func stateOf(b []byte) (s geo.WorkState, ok bool) {
	if v, err := strconv.ParseFloat(string(b), 64); err == nil && !math.IsNaN(v) {
		return stateOfNumber(v), true
	}
	s, ok = stateWords[string(b)]
	if !ok {
		s, ok = stateWords[strings.ToLower(strings.TrimSpace(string(b)))]
	}
	return s, ok
}

func stateOfNumber(v float64) geo.WorkState {
	if v != 0 {
		return geo.Working
	}
	return geo.Lifted
}

// values are what is known about one fix beside its place; NaN = not logged.
type values struct {
	v     [qualityColumn + 1]float64 // by column: time s, width m, heading degrees, speed m/s, course degrees, HDOP, offset m, a geo.Quality as a number
	state geo.WorkState              // the code of its value while a file is read; see stateJudge
	has   uint16                     // bits by column

	clock, hasDate bool // the time is one of day; date is logged
	zoned          bool // the time of day names its zone
	date           float64

	order, apart                float64 // see geo.Came
	pass                        int32
	hasOrder, hasPass, hasApart bool
}

func (v *values) set(c column, x float64) {
	if c == speedKmhColumn {
		c, x = speedColumn, x/3.6
	}
	v.v[c] = x
	v.has |= 1 << c
}

// work sets the code of a work state, where there is one.
func (v *values) work(code geo.WorkState) {
	if code != geo.StateUnknown {
		v.state = code
		v.has |= 1 << stateColumn
	}
}

func (v *values) get(c column) float64 {
	if v.has&(1<<c) == 0 {
		return math.NaN()
	}
	return v.v[c]
}

// growing is a track as it is read, fix by fix. Columns come into being with
// the first fix that has them.
type growing struct {
	name    string
	flat    []float64 // lon, lat, seconds
	ends    []int
	state   []geo.WorkState
	width   []float64
	heading []geo.Bearing
	course  []geo.Bearing // used where there is no heading, see track
	speed   []float64
	hdop    []float64
	offset  []float64
	quality []geo.Quality
	record  int // where it began

	points   bool // see geo.Came
	states   bool
	order    []float64
	apart    []float64
	pass     []int32
	section  string
	numbered string
}

func (g *growing) fixes() int { return len(g.flat) / 3 }

func (g *growing) endPart() {
	if n := len(g.flat); n > 0 && (len(g.ends) == 0 || g.ends[len(g.ends)-1] < n) {
		g.ends = append(g.ends, n)
	}
}

// add appends a fix.
func (g *growing) add(x, y float64, v *values) {
	i := g.fixes()
	g.flat = append(g.flat, x, y, v.get(timeColumn))
	if v.has&(1<<stateColumn) != 0 || g.state != nil {
		g.state = padTo(g.state, i, geo.StateUnknown)
		g.state = append(g.state, v.state)
	}
	if v.has&(1<<widthColumn) != 0 || g.width != nil {
		g.width = padTo(g.width, i, math.NaN())
		g.width = append(g.width, v.get(widthColumn))
	}
	if v.has&(1<<headingColumn) != 0 || g.heading != nil {
		g.heading = padTo(g.heading, i, geo.Bearing(math.NaN()))
		g.heading = append(g.heading, geo.Bearing(v.get(headingColumn)))
	}
	if v.has&(1<<courseColumn) != 0 || g.course != nil {
		g.course = padTo(g.course, i, geo.Bearing(math.NaN()))
		g.course = append(g.course, geo.Bearing(v.get(courseColumn)))
	}
	if v.has&(1<<speedColumn) != 0 || g.speed != nil {
		g.speed = padTo(g.speed, i, math.NaN())
		g.speed = append(g.speed, v.get(speedColumn))
	}
	if v.has&(1<<hdopColumn) != 0 || g.hdop != nil {
		g.hdop = padTo(g.hdop, i, math.NaN())
		g.hdop = append(g.hdop, v.get(hdopColumn))
	}
	if v.has&(1<<offsetColumn) != 0 || g.offset != nil {
		g.offset = padTo(g.offset, i, math.NaN())
		g.offset = append(g.offset, v.get(offsetColumn))
	}
	if v.has&(1<<qualityColumn) != 0 || g.quality != nil {
		g.quality = padTo(g.quality, i, geo.QualityUnknown)
		g.quality = append(g.quality, loggedQuality(v.get(qualityColumn)))
	}
	if v.hasOrder || g.order != nil {
		g.order = padTo(g.order, i, math.NaN())
		at := math.NaN()
		if v.hasOrder {
			at = v.order
		}
		g.order = append(g.order, at)
	}
	if v.hasApart || g.apart != nil {
		g.apart = padTo(g.apart, i, math.NaN())
		way := math.NaN()
		if v.hasApart {
			way = v.apart
		}
		g.apart = append(g.apart, way)
	}
	if v.hasPass || g.pass != nil {
		g.pass = padTo(g.pass, i, noPass)
		at := int32(noPass)
		if v.hasPass {
			at = v.pass
		} else if i > 0 {
			at = g.pass[i-1]
		}
		g.pass = append(g.pass, at)
	}
}

func padTo[T any](s []T, n int, v T) []T {
	for len(s) < n {
		s = append(s, v)
	}
	return s
}

// track is the finished track in degrees. Positions are taken out of p if the
// file is in a projection (nil: degrees already). A fix that is no place on
// Earth is left out with a finding; if most of them are none, the file is not
// what it seems and that is the error.
func (g *growing) track(t *tally, p crs.Projection) (geo.Track, error) {
	g.endPart()
	if p != nil {
		for i := 0; i < len(g.flat); i += 3 {
			if g.flat[i] != nowhere {
				g.flat[i], g.flat[i+1] = p.Inverse(g.flat[i], g.flat[i+1])
			}
		}
	}
	bad, first := 0, 0
	for i := 0; i < len(g.flat); i += 3 {
		if !geo.OnEarth(g.flat[i], g.flat[i+1]) {
			if bad == 0 {
				first = i
			}
			bad++
		}
	}
	if bad > 0 {
		x, y := g.flat[first], g.flat[first+1]
		where, hint, near := fmt.Sprintf("at %g, %g", x, y), geo.PlaceHint(x, y), (*orb.Point)(nil)
		if x == nowhere {
			where, hint = "without a position", "longitude and latitude in degrees on WGS84 are wanted"
			if first > 0 { // the place of the fix before it
				near = geo.Place(g.flat[first-3], g.flat[first-2])
			}
		}
		if 2*bad > g.fixes() {
			return geo.Track{}, &FileError{File: t.file, Record: g.record, What: fmt.Sprintf("%d of %d fixes are outside ±180, ±90, the first %s", bad, g.fixes(), where), Hint: hint}
		}
		t.add(g.record, near, true, fmt.Sprintf("%d of %d fixes left out: outside ±180, ±90, the first (fix %d) %s", bad, g.fixes(), first/3+1, where))
		g.drop()
	}
	out := geo.Track{Name: g.name, Source: t.file, Columns: geo.Columns{State: g.state, Width: g.width, Heading: g.heading, Speed: g.speed, HDOP: g.hdop, Offset: g.offset, Quality: g.quality}}
	if g.heading == nil && g.course != nil { // a course beside headings says what the positions say
		out.Heading, out.Course = g.course, true
	}
	out.Came = geo.Came{Points: g.points, States: g.states, Order: g.order, Apart: g.apart, Pass: g.pass, Section: g.section, Numbered: g.numbered}
	out.Line = geom.NewMultiLineStringFlat(geom.XYM, g.flat, g.ends)
	return out, nil
}

// drop takes out the fixes that are no place on Earth. The parts stay parts:
// a lost fix is a longer step, which coverage judges by its gap limits.
func (g *growing) drop() {
	k, part, start := 0, 0, 0
	var ends []int
	for i := 0; i < g.fixes(); i++ {
		if geo.OnEarth(g.flat[3*i], g.flat[3*i+1]) {
			copy(g.flat[3*k:], g.flat[3*i:3*i+3])
			moveTo(g.state, k, i)
			moveTo(g.width, k, i)
			moveTo(g.heading, k, i)
			moveTo(g.course, k, i)
			moveTo(g.speed, k, i)
			moveTo(g.hdop, k, i)
			moveTo(g.offset, k, i)
			moveTo(g.quality, k, i)
			moveTo(g.order, k, i)
			moveTo(g.apart, k, i)
			moveTo(g.pass, k, i)
			k++
		}
		for part < len(g.ends) && 3*(i+1) == g.ends[part] {
			if 3*k > start {
				ends = append(ends, 3*k)
				start = 3 * k
			}
			part++
		}
	}
	g.flat, g.ends = g.flat[:3*k], ends
	g.state, g.width, g.heading, g.speed = cut(g.state, k), cut(g.width, k), cut(g.heading, k), cut(g.speed, k)
	g.course, g.hdop, g.offset, g.quality = cut(g.course, k), cut(g.hdop, k), cut(g.offset, k), cut(g.quality, k)
	g.order, g.apart, g.pass = cut(g.order, k), cut(g.apart, k), cut(g.pass, k)
}

func moveTo[T any](s []T, to, from int) {
	if s != nil {
		s[to] = s[from]
	}
}

func cut[T any](s []T, n int) []T {
	if s == nil {
		return nil
	}
	return s[:n]
}
