package read

import (
	"bytes"
	"fmt"
	"io"
	"maps"
	"slices"
	"time"

	"balk/geo"
	"balk/geo/crs"

	geom "github.com/twpayne/go-geom"
)

// TrackOptions say how tracks are read. The zero value goes by the names in the
// file.
type TrackOptions struct {
	// Columns names the columns of a table by hand: what it means, with its unit,
	// and the column's name or its number from 1. {"lon": "X", "speed_kmh": "v",
	// "width_ft": "7"}. The meanings are the names known without being told.
	Columns map[string]string `json:"columns,omitempty"`
	// Working are the values of the work-state column that mean working; all others mean
	// lifted. None: by the words that are known.
	Working []string `json:"working,omitempty"`
	// Component is an element of task data, by name or number (DET-3), whose work state is wanted; "" = that of the implement.
	Component string `json:"component,omitempty"`
	Taking
	Files *Files `json:"-"` // opens what is read; nil = nothing is kept of it
	// Zone is that of times that name none; nil = they are taken as UTC.
	Zone *time.Location `json:"-"`
	// planned: lines to drive along are wanted, as balk writes them too; see Lines.
	planned bool
}

// notes begins the findings on a file.
func (o TrackOptions) notes(file string) tally {
	return tally{file: file, clock: localClock{zone: o.Zone}}
}

func sortedKeys(m map[string]string) []string { return slices.Sorted(maps.Keys(m)) }

// CSVTracks reads a track from a table of text, a fix per line. file is the
// name for messages, and findings give the line as record.
//
//   - The first line names the columns (tableNames and columnNames; a unit may
//     follow: swath_ft, "Speed (km/h)"). Longitude and latitude must be there, in
//     degrees on WGS84. A speed or width without unit is not used, with a finding.
//   - Comma, semicolon or tab stands between the fields, whichever gives the most
//     known names. Fields may be quoted; with a comma in a quoted number, or
//     another delimiter, the comma is a decimal point.
//   - Times are ISO 8601, seconds or milliseconds since 1970-01-01 UTC, day first
//     (31.5.2024 17:30; month first if a date cannot be read otherwise), or the
//     serial dates of spreadsheets; a date and a time of day may be two columns.
//   - Instead of longitude and latitude there may be a column with a geometry as WKT or WKB: a point is a fix, a line a track.
//   - A changed value in "pass" begins a new part; each value in "section" is a
//     track of its own (geo.Bars puts those of one time together).
//
// The stream is read once with a fixed buffer; what is kept is the columns of
// the track, 24 bytes per fix and 1 to 8 more per column logged.
func CSVTracks(r io.Reader, file string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	t := table{lines: newLines(r), notes: o.notes(file), states: newStateJudge(o), taking: o.Taking}
	first, delimiter, err := t.start()
	if err != nil {
		return nil, nil, err
	}
	if t.header, err = readHeader(first, delimiter, &t.notes, o); err != nil {
		return nil, nil, err
	}
	if layer := t.header.own(); layer != "" {
		return nil, nil, &OwnError{file, layer}
	}
	t.prepare()
	t.all(first)
	return t.finish()
}

// all takes in the lines of the file, after its first, which is taken in too if it is one of data.
func (t *table) all(first []byte) {
	if t.header.isData {
		t.line(slices.Clone(first))
	}
	for t.err == nil {
		line, ok := t.lines.next()
		if !ok {
			break
		}
		t.line(line)
	}
}

// table is the state of reading one.
type table struct {
	lines    *lines
	notes    tally
	states   stateJudge
	looking  bool // for a work state among the columns without meaning
	header   header
	needed   int  // fields of a line that are looked at
	hasTime  bool // there is a time column
	hasDate  bool // there is a date column
	fields   [][]byte
	joined   []byte
	one      *growing            // the track at hand
	sections map[string]*growing // by the value of the section column
	section  []byte
	told     [farmColumn - machineColumn + 1][]byte // of the record at hand
	tracks   []*growing
	pass     []byte
	hasPass  bool
	passes   passNumbers[string]
	srid     int // of geometries; 0: not named so far
	taking   Taking
	onShape  func(number int, shape geom.T) // takes each geometry of a table of boundaries; nil: tracks are read
	fixes    int
	decimals [2]int // of the place before, as written
	err      error
}

// maxSections is how many values a section column may have: more, and it is not
// a section's number but something else.
const maxSections = 256

// start gives the first line that is not empty, and the delimiter if a line
// before it says so.
func (t *table) start() (line []byte, delimiter byte, err error) {
	for {
		line, ok := t.lines.next()
		if err := t.lines.broken(); !ok && err != nil {
			return nil, 0, fmt.Errorf("read %s: %w", t.notes.file, err)
		}
		if !ok {
			return nil, 0, &FileError{File: t.notes.file, What: "no table: there is no line with text in it", other: true}
		}
		if len(line) == maxLine {
			return nil, 0, &FileError{File: t.notes.file, Record: t.lines.number, What: fmt.Sprintf("no table: the first line has %d bytes or more, the limit", maxLine)}
		}
		line = bytes.TrimSuffix(line, []byte{'\r'})
		if t.lines.number == 1 {
			line = bytes.TrimPrefix(line, bom)
		}
		if d, _, ok := separatorLine(line); ok && delimiter == 0 {
			delimiter = d
			continue
		}
		if len(line) > 0 {
			return slices.Clone(line), delimiter, nil
		}
	}
}

// lookAround shows the fields of columns without meaning to the judge of work states, as long as one may be one.
func (t *table) lookAround(number int) {
	for i, f := range t.fields {
		if i < len(t.header.idle) && t.header.idle[i] {
			t.states.other([]byte(t.header.titles[i]), trim(f), t.one.fixes())
		}
	}
	if number%64 == 0 && !t.states.looking() { // no need to cut all fields any longer
		t.looking = false
		t.needed = t.header.needed()
	}
}

func (t *table) prepare() {
	t.looking = t.header.idle != nil
	t.needed = t.header.needed()
	if t.looking {
		t.needed = len(t.header.titles)
	}
	for _, c := range t.header.use {
		if c.column == stateColumn {
			t.states.title = c.title
		}
		t.hasTime = t.hasTime || c.column == timeColumn
		t.hasDate = t.hasDate || c.column == dateColumn
		if c.column == sectionColumn {
			t.sections = map[string]*growing{}
		}
	}
	if t.sections == nil {
		t.begin()
	}
}

func (t *table) begin() {
	t.one = &growing{record: t.lines.number, came: geo.Came{Points: true, Numbered: t.header.numbered}}
	t.tracks = append(t.tracks, t.one)
}

// joinedLines is how many lines a quoted field may run over.
const joinedLines = 16

// line takes in one line of the file.
func (t *table) line(line []byte) {
	if len(line) == maxLine {
		t.notes.count(t.lines.number, true, fmt.Sprintf("a line of %d bytes or more, the limit: left out", maxLine))
		for !t.lines.whole {
			if _, ok := t.lines.next(); !ok {
				break
			}
		}
		return
	}
	if n := len(line); n > 0 && line[n-1] == '\r' {
		line = line[:n-1]
	}
	if len(line) == 0 {
		return
	}
	number := t.lines.number
	if line[0] == 0 && len(bytes.Trim(line, "\x00")) == 0 {
		t.notes.count(number, true, "a line of NUL bytes, as a lost power supply leaves it: left out")
		return
	}
	last := !t.lines.whole
	titles := len(t.header.titles)
	if bytes.IndexByte(line, '"') < 0 {
		n := bytes.Count(line, []byte{t.header.delimiter}) + 1
		for n > titles && line[len(line)-1] == t.header.delimiter { // an empty field too many does no harm
			n--
			line = line[:len(line)-1]
		}
		t.fields = cutRecord(t.fields[:0], line, t.header.delimiter, t.needed)
		t.record(number, n, last)
		return
	}
	last, ok := t.quoted(line, number, last)
	if !ok {
		return
	}
	n := len(t.fields)
	for i, f := range t.fields {
		t.fields[i] = unquote(f)
	}
	for n > titles && len(t.fields[n-1]) == 0 {
		n--
	}
	t.record(number, n, last)
}

// quoted cuts a record with quotes, which may run over several lines. last: the file ends in it. false: its quotes do
// not end, and it is left out.
func (t *table) quoted(line []byte, number int, last bool) (_, ok bool) {
	var open bool
	t.fields, open = splitRecord(t.fields[:0], line, t.header.delimiter, maxTableColumns)
	if !open {
		return last, true
	}
	t.joined = append(t.joined[:0], line...)
	for n := 1; open && n < joinedLines && len(t.joined) < maxLine; n++ {
		more, ok := t.lines.next()
		if !ok {
			break
		}
		t.joined = append(append(t.joined, '\n'), more...)
		last = !t.lines.whole
		t.fields, open = splitRecord(t.fields[:0], bytes.TrimSuffix(t.joined, []byte{'\r'}), t.header.delimiter, maxTableColumns)
	}
	switch {
	case !open:
		return last, true
	case last && number == t.lines.number:
		t.notes.add(number, nil, true, "the file breaks off in this line: left out")
		return last, false
	}
	t.notes.count(number, true, "a quoted field that does not end: line left out")
	if _, rest, ok := bytes.Cut(t.joined, []byte{'\n'}); ok && len(rest) > 0 { // the lines after it are read once more, by themselves
		if !last {
			rest = append(rest, '\n')
		}
		t.lines.again = append(slices.Clone(rest), t.lines.again...)
		t.lines.number = number
	}
	return last, false
}

// finish gives what was read.
func (t *table) finish() ([]geo.Track, []geo.Finding, error) {
	if t.err != nil {
		return nil, nil, t.err
	}
	if err := t.lines.broken(); err != nil {
		if t.fixes == 0 {
			return nil, nil, fmt.Errorf("read %s: line %d: %w", t.notes.file, t.lines.number, err)
		}
		t.notes.add(t.lines.number, nil, true, fmt.Sprintf("unreadable from here on, the %d fixes before are used: %s", t.fixes, inOurWords(err)))
	}
	p, err := t.projection(t.taking)
	if err != nil {
		return nil, nil, err
	}
	untold := ""
	if at := slices.IndexFunc(t.header.use, func(c tableColumn) bool { return c.untold }); at >= 0 {
		untold = t.header.use[at].title
	}
	t.notes.tellSpeed(t.tracks, untold, p != nil)
	return finishTracks(t.tracks, &t.notes, &t.states, p, "a track is a line per fix with longitude and latitude", false)
}

// finishTracks gives the tracks that have fixes, taken out of p (nil: degrees already), or the error of a file
// without any (any: see tally.nothing).
func finishTracks(tracks []*growing, notes *tally, states *stateJudge, p crs.Projection, hint string, any bool) ([]geo.Track, []geo.Finding, error) {
	var out []geo.Track
	var first error
	if notes.dates.swap(notes) {
		notes.dates.turn(tracks, notes)
	}
	for _, g := range tracks {
		if g.fixes() == 0 {
			continue
		}
		t, err := g.track(notes, p)
		if err != nil {
			if first == nil {
				first = err
			}
			notes.add(g.record, nil, true, lossText(err))
			continue
		}
		out = append(out, t)
	}
	switch {
	case len(out) > 0:
		states.settle(out, notes)
		return out, notes.findings(), nil
	case first != nil:
		return nil, nil, first
	}
	return nil, nil, notes.nothing("no track in it", hint, any)
}

// brokeOff notes that a file is unreadable from a record on; an error where there is no fix before it.
func (t *tally) brokeOff(record, fixes int, err error) error {
	if fixes == 0 {
		return &FileError{File: t.file, Record: record, What: "no track could be read", Err: err}
	}
	t.add(record, nil, true, fmt.Sprintf("unreadable from here on, the %d fixes before are used: %s", fixes, inOurWords(err)))
	return nil
}
