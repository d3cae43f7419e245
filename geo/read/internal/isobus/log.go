package isobus

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"balk/geo"

	geom "github.com/twpayne/go-geom"
)

// epoch1980 is 1980-01-01 in days since 1970-01-01.
const epoch1980 = 3652

// Values of a position that say there is none (ISO 11783-7 and NMEA 2000
// practice, from memory).
const (
	noAngle = math.MaxInt32 // 214.7°
	noDOP   = 0xfe00        // from here on: error or not available
	noMS    = 86_401_000    // ms: a day and a leap second; from here on no time of day
	noDays  = 0xffff
)

// logScan is the state of reading the records of one log.
type logScan struct {
	h       Header
	im      *implementLog
	notes   Notes
	values  []logged
	roles   []logRole
	work    work
	meters  []*meter // by value; nil: no counter
	means   []*meter // those of them that are means
	flat    []float64
	gps     []float64 // s, NaN where not logged; nil: not in the records
	gpsSeen int
	state   []geo.WorkState
	width   []float64
	offset  []float64
	speed   []float64
	quality []geo.Quality
	sure    bool // a status that says something
	hdop    []float64
	height  []float64 // m
	now     float64   // speed, m/s
}

// logRole is what a value of the list is used for.
type logRole uint8

const (
	unused logRole = iota
	workRole
	speedRole
	counterRole
)

// meter adds up the rises of a counter, or takes the mean of what is no counter.
type meter struct {
	ddi      int
	mean     bool // see counters
	last     int32
	seen     bool
	sum      int64
	fixes    int // at work, over which a mean is taken
	restarts int
}

func (m *meter) take(v int32) {
	switch {
	case !m.seen:
		m.seen = true
	case v >= m.last:
		m.sum += int64(v) - int64(m.last)
	default: // it began again
		m.restarts++
		m.sum += int64(max(v, 0))
	}
	m.last = v
}

// value is by how much the counter rose, or the mean, in steps of the DDI; NaN: not logged.
func (m *meter) value() float64 {
	switch {
	case !m.seen || m.mean && m.fixes == 0:
		return math.NaN()
	case m.mean:
		return float64(m.sum) / float64(m.fixes)
	}
	return float64(m.sum)
}

// Notes takes findings on a log. Record is that of the log, 0 for all of it.
type Notes interface {
	Note(record int, lost bool, what string)
	Count(what string)               // of a record, nothing lost; it may come again
	Zoned() bool                     // the zone of the log's own clock is known
	Unzoned(seconds float64) float64 // a time of that clock, in UTC
}

// Fault is a log that cannot be used.
type Fault struct {
	Record int
	Place  string // "byte 1234"; "": none
	What   string
}

func (f *Fault) Error() string { return f.What }

// Read reads TLGnnnnn.BIN, as its header and the devices tell, into a track. Records are little-endian:
//
//	u32 ms of the day, u16 days since 1980-01-01, the position's attributes that
//	the header leaves empty, u8 number of values, then (u8 index, i32 value) each
//
// Only values that changed are there: the last one is carried forward, index by
// index. There is no mark between records, so nothing can be trusted after the
// first that cannot be one: reading ends there, with one finding.
func Read(r io.Reader, h Header, devices []Device, notes Notes, track *geo.Track) error {
	s := logScan{h: h, im: newImplementLog(h.list, devices), notes: notes, values: append([]logged(nil), h.start...), now: math.NaN()}
	s.prepare()
	w := recordWindow{r: r, buf: make([]byte, 1<<16)}
	record, stop := 0, ""
	for stop == "" && w.need(1) {
		record++
		stop = s.record(&w)
	}
	if w.err != nil && !errors.Is(w.err, io.EOF) {
		return fmt.Errorf("record %d at byte %d: %w", record, w.at(), w.err)
	}
	if len(s.flat) == 0 {
		e := &Fault{What: "no fix in it"}
		switch {
		case stop != "":
			e.Record, e.Place, e.What = record, fmt.Sprintf("byte %d", w.at()), stop
		case record == 0:
			e.What = "the log is empty"
		default:
			e.What = fmt.Sprintf("none of its %d records has a position", record)
		}
		return e
	}
	if stop != "" {
		notes.Note(record, true, fmt.Sprintf("unreadable from byte %d on, the %d records before are used: %s", w.at(), record-1, stop))
	}
	s.finish(track)
	return nil
}

// prepare says what each value is used for.
func (s *logScan) prepare() {
	s.roles, s.meters = make([]logRole, len(s.values)), make([]*meter, len(s.values))
	use := func(i int) {
		if i >= 0 {
			s.roles[i] = workRole
		}
	}
	use(s.im.widthAt)
	for _, i := range s.im.stateAt {
		use(i)
	}
	for _, x := range s.im.sections {
		use(x.widthAt)
		use(x.stateAt)
	}
	done := map[int]bool{}
	twice := map[int]bool{}
	for i, l := range s.h.list {
		role := unused
		if _, is := counters[l.ddi]; is {
			role = counterRole
		} else if l.ddi == ddiSpeed {
			role = speedRole
		}
		if role == unused {
			continue
		}
		if done[l.ddi] {
			twice[l.ddi] = true
			continue
		}
		done[l.ddi] = true
		s.roles[i] = role
		if role == counterRole {
			s.meters[i] = &meter{ddi: l.ddi, mean: counters[l.ddi].mean}
			if s.meters[i].mean {
				s.means = append(s.means, s.meters[i])
			}
		}
		if s.values[i].seen {
			s.take(i, s.values[i].now)
		}
	}
	if len(twice) > 0 {
		s.notes.Note(0, false, fmt.Sprintf("DDIs %v are logged for more than one element: the first is used", slices.Sorted(maps.Keys(twice))))
	}
	s.work = s.im.now(s.values)
	if s.h.at[ptnTime] >= 0 && s.h.at[ptnDays] >= 0 {
		s.gps = []float64{}
	}
	if done[ddiSpeed] {
		s.speed = []float64{}
	}
	for _, odd := range s.im.odd {
		s.notes.Note(0, false, odd)
	}
}

// take takes a value that is no part of the implement's work.
func (s *logScan) take(i int, v int32) {
	switch m := s.meters[i]; {
	case m == nil:
		if s.now = float64(v) / 1000; math.Abs(s.now) > geo.MaxSpeed {
			s.now = math.NaN()
		}
	case m.mean:
		m.last, m.seen = v, true
	default:
		m.take(v)
	}
}

// record reads the next record. stop is why it is none, "" if it is one; the
// window then still stands at its first byte.
func (s *logScan) record(w *recordWindow) (stop string) {
	size := s.h.size
	if !w.need(size) {
		return fmt.Sprintf("it has %d bytes, at least %d are needed", w.left(), size)
	}
	b := w.buf[w.from : w.from+size]
	count := int(b[size-1])
	if count > len(s.values) {
		return fmt.Sprintf("it claims %d values, the header lists %d", count, len(s.values))
	}
	ms := binary.LittleEndian.Uint32(b)
	if ms >= noMS {
		return fmt.Sprintf("%d ms is no time of day, the limit is %d", ms, noMS-1)
	}
	if !w.need(size + 5*count) {
		return fmt.Sprintf("it has %d bytes, its %d values need %d", w.left(), count, size+5*count)
	}
	b = w.buf[w.from : w.from+size+5*count]
	for i := size; i < len(b); i += 5 {
		if int(b[i]) >= len(s.values) {
			return fmt.Sprintf("value %d has the index %d (at byte %d), the header lists %d", (i-size)/5+1, b[i], w.at()+int64(i), len(s.values))
		}
	}
	changed := false
	for i := size; i < len(b); i += 5 {
		k, v := b[i], int32(binary.LittleEndian.Uint32(b[i+1:]))
		switch role := s.roles[k]; role {
		case unused:
		case workRole:
			changed = changed || s.values[k] != logged{v, true}
			s.values[k] = logged{v, true}
		default:
			s.take(int(k), v)
		}
	}
	if changed {
		s.work = s.im.now(s.values)
	}
	s.fix(b, float64((epoch1980+int64(binary.LittleEndian.Uint16(b[4:])))*86400)+float64(ms)/1000)
	w.from += len(b)
	return ""
}

// fix takes the position of record b.
func (s *logScan) fix(b []byte, clock float64) {
	at := &s.h.at
	lat := int32(binary.LittleEndian.Uint32(b[at[ptnLat]:]))
	lon := int32(binary.LittleEndian.Uint32(b[at[ptnLon]:]))
	status := 15
	if i := at[ptnStatus]; i >= 0 {
		status = int(b[i])
	}
	x, y := float64(lon)*1e-7, float64(lat)*1e-7
	if lat == noAngle || lon == noAngle || !geo.OnEarth(x, y) || lat == 0 && lon == 0 {
		s.notes.Count("a record without position (not available, 0, 0 or outside ±180, ±90): no fix, its values are used")
		return
	}
	s.flat = append(s.flat, x, y, clock)
	if s.gps != nil {
		t := math.NaN()
		ms, days := binary.LittleEndian.Uint32(b[at[ptnTime]:]), binary.LittleEndian.Uint16(b[at[ptnDays]:])
		if ms < noMS && days < noDays && days > 0 {
			t = float64((epoch1980+int64(days))*86400) + float64(ms)/1000
			s.gpsSeen++
		}
		s.gps = append(s.gps, t)
	}
	s.state = append(s.state, s.work.state)
	if s.work.state != geo.Lifted {
		for _, m := range s.means {
			if m.seen {
				m.sum += int64(m.last)
				m.fixes++
			}
		}
	}
	if s.im.hasWidth {
		s.width = append(s.width, s.work.width)
	}
	if s.im.hasOffset {
		s.offset = append(s.offset, s.work.offset)
	}
	if s.speed != nil {
		s.speed = append(s.speed, s.now)
	}
	if at[ptnStatus] >= 0 {
		q := qualityOf(status)
		s.sure = s.sure || q != geo.QualityUnknown
		s.quality = append(s.quality, q)
	}
	if i := at[ptnHDOP]; i >= 0 {
		h := math.NaN()
		if v := binary.LittleEndian.Uint16(b[i:]); v < noDOP {
			h = float64(v) / 10
		}
		s.hdop = append(s.hdop, h)
	}
	if i := at[ptnUp]; i >= 0 { // millimetres above the ellipsoid
		h := float64(int32(binary.LittleEndian.Uint32(b[i:]))) / 1000
		if h < geo.LeastHeight || h > geo.MaxHeight {
			h = math.NaN()
		}
		s.height = append(s.height, h)
	}
}

// qualityOf is a position status (PTN attribute D): the numbers of NMEA 0183 GGA,
// and 14 error, 15 not available, which says nothing against the fix.
func qualityOf(status int) geo.Quality {
	if status == 14 {
		return geo.QualityNone
	}
	q, _ := geo.GGAQuality(float64(status))
	return q
}

// finish puts what was read into the track.
func (s *logScan) finish(track *geo.Track) {
	s.clock()
	n := len(s.flat) / 3
	track.Line = geom.NewMultiLineStringFlat(geom.XYM, s.flat, []int{len(s.flat)})
	if len(s.im.stateAt) > 0 || s.im.states {
		track.State = s.state
	}
	track.Width, track.Speed = s.width, s.speed
	if w := s.im.whole; w > 0 && w <= geo.MaxWidth {
		track.Bar = w
	}
	track.Offset = s.sideShift()
	if s.sure {
		track.Quality = s.quality
	} else if f := strings.TrimSpace(s.h.fixed[ptnStatus]); f != "" {
		if v, err := strconv.Atoi(f); err == nil && qualityOf(v) != geo.QualityUnknown {
			track.Quality = slices.Repeat([]geo.Quality{qualityOf(v)}, n)
		}
	}
	if s.hdop != nil {
		track.HDOP = s.hdop
	} else if v, err := strconv.ParseFloat(strings.TrimSpace(s.h.fixed[ptnHDOP]), 64); err == nil && !math.IsNaN(v) && !math.IsInf(v, 0) {
		track.HDOP = slices.Repeat([]float64{v}, n)
	}
	track.Height = s.height
	track.Counted = s.counted()
	if s.im.badWidth > 0 {
		s.notes.Note(0, false, fmt.Sprintf("%d widths are not between 0 and %g m: taken as not logged", s.im.badWidth, geo.MaxWidth))
	}
	if s.im.split > 0 {
		s.notes.Note(0, false, fmt.Sprintf("%d times sections between working ones were off: the width is that of the working ones, set at their middle", s.im.split))
	}
}

// clock settles which clock the fixes go by: that of the receiver where most have it, else the record's.
func (s *logScan) clock() {
	n := len(s.flat) / 3
	switch {
	case s.gps != nil && 2*s.gpsSeen > n:
		for i, t := range s.gps {
			s.flat[3*i+2] = t
		}
		if s.gpsSeen < n {
			s.notes.Note(0, false, fmt.Sprintf("%d of %d fixes have no time from the receiver: their time is left open, the record's clock is another", n-s.gpsSeen, n))
		}
	case !s.notes.Zoned():
		s.notes.Note(0, false, "times are the clock of the producing system, local time without zone: taken as UTC (--log-zone names its zone)")
	default:
		for i := 2; i < len(s.flat); i += 3 {
			s.flat[i] = s.notes.Unzoned(s.flat[i])
		}
	}
}

// sideShift is the column of offsets; nil: all are zero, which is what is taken without it.
func (s *logScan) sideShift() []float64 {
	untold, shifted := 0, false
	for i, o := range s.offset {
		if math.IsNaN(o) {
			s.offset[i] = 0
			untold++
		}
		shifted = shifted || s.offset[i] != 0
	}
	if !shifted {
		return nil
	}
	if untold > 0 {
		s.notes.Note(0, false, fmt.Sprintf("the device description does not tell where the working sections lie at %d of %d fixes: taken as in line with the antenna", untold, len(s.offset)))
	}
	return s.offset
}

// counted is what the counters tell; nil: nothing.
func (s *logScan) counted() (counted *geo.Counted) {
	for _, m := range s.meters {
		if m == nil || !m.seen {
			continue
		}
		if counted == nil {
			none := geo.NotCounted()
			counted = &none
		}
		c := counters[m.ddi]
		if to := c.of(counted); math.IsNaN(*to) {
			*to = m.value() * c.unit
		}
		if m.restarts > 0 {
			s.notes.Note(0, false, fmt.Sprintf("the counter of %s fell %d times: taken as begun again", c.name, m.restarts))
		}
	}
	return counted
}

// recordWindow is a fixed buffer over the bytes of a log.
type recordWindow struct {
	r        io.Reader
	buf      []byte
	from, to int
	before   int64 // bytes gone from the buffer
	err      error
}

// need makes n bytes stand at buf[from:]; false: there are not so many.
func (w *recordWindow) need(n int) bool {
	if w.to-w.from >= n {
		return true
	}
	return w.fill(n)
}

func (w *recordWindow) fill(n int) bool {
	w.before += int64(w.from)
	w.to = copy(w.buf, w.buf[w.from:w.to])
	w.from = 0
	for idle := 0; w.to < n && w.err == nil; {
		k, err := w.r.Read(w.buf[w.to:])
		w.to += k
		if w.err = err; k > 0 {
			idle = 0
		} else if idle++; err == nil && idle == 100 {
			w.err = io.ErrNoProgress
		}
	}
	return w.to >= n
}

func (w *recordWindow) left() int { return w.to - w.from }
func (w *recordWindow) at() int64 { return w.before + int64(w.from) }
