package read

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"balk/geo"
)

// Columns that only tables have.
const (
	lonColumn = columns + iota
	latColumn
	sectionColumn
	orderColumn // named by hand only
	shapeColumn // a geometry as text
	apartColumn // way since the fix before, in whatever unit; only of use where there are no times
	tableColumns
)

// tableNames are the names of columns in a table, without unit: lower case, and
// whatever is no letter or digit is one "_". They are those of columnNames and
// these. Common practice, no source.
var tableNames = map[string]column{
	"lon": lonColumn, "long": lonColumn, "lng": lonColumn, "longitude": lonColumn, "gps_lon": lonColumn, "gps_longitude": lonColumn, "lon_wgs84": lonColumn,
	"lat": latColumn, "latitude": latColumn, "gps_lat": latColumn, "gps_latitude": latColumn, "lat_wgs84": latColumn,
	"utc_time": timeColumn, "epoch": timeColumn, "unix": timeColumn, "unix_time": timeColumn, "unixtime": timeColumn, "time_of_day": timeColumn, "clock": timeColumn,
	"utc_date": dateColumn, "gps_date": dateColumn,
	"heading_true": headingColumn, "true_heading": headingColumn, "gps_heading": headingColumn,
	"course_true": courseColumn, "true_course": courseColumn, "gps_course": courseColumn, "course_over_ground": courseColumn, "direction_of_travel": courseColumn,
	"velocity": speedColumn, "ground_speed": speedColumn, "groundspeed": speedColumn, "gps_speed": speedColumn, "sog": speedColumn,
	"swath": widthColumn, "swath_width": widthColumn, "swathwidth": widthColumn, "work_width": widthColumn, "workwidth": widthColumn, "implement_width": widthColumn,
	"implement_down": stateColumn, "implement_lowered": stateColumn, "implement_state": stateColumn, "tool_down": stateColumn, "lowered": stateColumn, "in_work": stateColumn,
	"distance": apartColumn, "dist": apartColumn, "distance_m": apartColumn, "distance_ft": apartColumn, "distance_in": apartColumn,
	"wkt": shapeColumn, "wkb": shapeColumn, "geom": shapeColumn, "geometry": shapeColumn, "the_geom": shapeColumn, "geom_wkt": shapeColumn, "wkt_geom": shapeColumn, "geom_wkb": shapeColumn,
	"wkb_geom": shapeColumn, "wkb_geometry": shapeColumn, "wkt_geometry": shapeColumn, "geometry_wkt": shapeColumn, "geometry_wkb": shapeColumn, "shape": shapeColumn,
	"section": sectionColumn, "section_id": sectionColumn, "section_no": sectionColumn, "section_nr": sectionColumn, "section_number": sectionColumn, "row_unit": sectionColumn, "rowunit": sectionColumn,
}

// tableUnits are the units that may follow a name, by column, with the factor
// to the unit of geo.Track. Feet and inches are international (0.3048 m).
var tableUnits = map[column]map[string]float64{
	lonColumn:     {"deg": 1, "degree": 1, "degrees": 1, "dd": 1, "grad": 1, "degrés": 1, "grados": 1, "graden": 1},
	latColumn:     {"deg": 1, "degree": 1, "degrees": 1, "dd": 1, "grad": 1, "degrés": 1, "grados": 1, "graden": 1},
	timeColumn:    {"utc": 1, "iso": 1, "s": 1, "sec": 1, "seconds": 1, "ms": 1e-3, "millis": 1e-3},
	dateColumn:    {"utc": 1},
	headingColumn: {"deg": 1, "degree": 1, "degrees": 1, "rad": 180 / math.Pi},
	courseColumn:  {"deg": 1, "degree": 1, "degrees": 1, "rad": 180 / math.Pi},
	widthColumn:   {"m": 1, "meter": 1, "meters": 1, "metre": 1, "metres": 1, "cm": 1e-2, "mm": 1e-3, "ft": 0.3048, "feet": 0.3048, "foot": 0.3048, "in": 0.0254, "inch": 0.0254, "inches": 0.0254},
	heightColumn:  {"m": 1, "meter": 1, "meters": 1, "metre": 1, "metres": 1, "msl": 1, "ft": 0.3048, "feet": 0.3048},
	speedColumn: {"m_s": 1, "ms": 1, "mps": 1, "m_per_s": 1, "km_h": 1 / geo.Kmh, "kmh": 1 / geo.Kmh, "kph": 1 / geo.Kmh, "km_per_h": 1 / geo.Kmh,
		"mph": 0.44704, "mi_h": 0.44704, "kn": 1852 / 3600., "kt": 1852 / 3600., "kts": 1852 / 3600., "knots": 1852 / 3600., "km_u": 1 / geo.Kmh, "knoten": 1852 / 3600., "nœuds": 1852 / 3600., "nudos": 1852 / 3600., "knopen": 1852 / 3600., "mm_s": 1e-3, "ft_s": 0.3048},
}

// tableColumn is a column of a table that means something.
type tableColumn struct {
	column column
	at     int    // its place, from 0
	title  string // as the file has it
	unit   string // as its name says, "" if it does not
	factor float64
	untold bool // of a speed: its unit is told by places and times, see tellSpeed
}

// plainName is a column's name in lower case with one "_" for whatever is no
// letter or digit: "Speed (km/h)" is speed_km_h.
func plainName(title string) string {
	var b strings.Builder
	gap := false
	for _, r := range strings.ToLower(title) {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r > 127 {
			if gap && b.Len() > 0 {
				b.WriteByte('_')
			}
			gap = false
			b.WriteRune(r)
		} else {
			gap = true
		}
	}
	return b.String()
}

// meaning is what a column of a table is by its name; column is noColumn for
// one without meaning. A name alone is tried first, then a name with a unit.
func meaning(title string) tableColumn {
	name := plainName(title)
	known := func(s string) (column, bool) {
		if c, ok := namedColumn(s); ok {
			return c, true
		}
		switch c := columnOf([]byte(s)); c {
		case noColumn, nameColumn, speedKmhColumn:
			return c, false
		default:
			return c, true
		}
	}
	for i := 0; i < len(name); i++ { // the unit first: columnNames has width_m as one word
		if name[i] != '_' {
			continue
		}
		if c, ok := known(name[:i]); ok {
			if f, ok := tableUnits[c][name[i+1:]]; ok {
				return tableColumn{column: c, title: title, unit: name[i+1:], factor: f}
			}
		}
	}
	if c, ok := known(name); ok {
		return tableColumn{column: c, title: title, factor: 1}
	}
	return tableColumn{title: title}
}

// header is the first line of a table, understood.
type header struct {
	delimiter byte
	titles    []string
	use       []tableColumn // what the columns mean, lon and lat first
	numbered  string        // the column whose name says that it numbers the fixes; "": none
	idle      []bool        // columns without meaning, where none is known for the work state
	shape     int           // the column of a geometry, which has the places; -1: they have columns of their own
	metres    bool          // the places are not longitude and latitude but those of a map
	isData    bool          // the line is a record: all columns are named by number
}

// maxTableColumns is how many columns a table may have.
const maxTableColumns = 4096

// delimiterOf finds the delimiter of a table by its first line: that which gives
// the most columns with a meaning, then the most columns.
func delimiterOf(line []byte) (delimiter byte, titles []string, known int) {
	best := -1
	for _, d := range []byte{',', ';', '\t'} {
		fields, _ := splitRecord(nil, line, d, maxTableColumns)
		if len(fields) < 2 {
			continue
		}
		var names []string
		n := 0
		for _, f := range fields {
			title := plainText(bytes.TrimSpace(unquote(f)))
			names = append(names, title)
			if meaning(title).column != noColumn {
				n++
			}
		}
		if score := n*(maxTableColumns+1) + len(fields); score > best {
			best, delimiter, titles, known = score, d, names, n
		}
	}
	if title := plainText(bytes.TrimSpace(unquote(line))); best < 0 && meaning(title).column == shapeColumn { // a column that has it all
		return '\t', []string{title}, 1
	}
	return delimiter, titles, known
}

// isTable says whether a text may be a table: its first line has columns and
// one at least means something, or named is true and it is text of several
// columns.
func isTable(head []byte, named bool) bool {
	head = bytes.TrimLeft(bytes.TrimPrefix(head, bom), "\r\n")
	if _, rest, ok := separatorLine(head); ok {
		head = rest
	}
	line, _, _ := bytes.Cut(head, []byte{'\n'})
	if bytes.IndexByte(line, 0) >= 0 {
		return false
	}
	_, titles, known := delimiterOf(bytes.TrimSuffix(line, []byte{'\r'}))
	return known > 0 || named && len(titles) > 1
}

// separatorLine takes off a first line "sep=;", with which spreadsheets say the
// delimiter.
func separatorLine(b []byte) (delimiter byte, rest []byte, ok bool) {
	if len(b) < 5 || !bytes.EqualFold(b[:4], []byte("sep=")) {
		return 0, b, false
	}
	line, rest, _ := bytes.Cut(b, []byte{'\n'})
	if len(bytes.TrimSuffix(line, []byte{'\r'})) != 5 {
		return 0, b, false
	}
	return b[4], rest, true
}

// readHeader understands the first line of a table.
func readHeader(line []byte, delimiter byte, notes *tally, o TrackOptions) (header, error) {
	h := header{delimiter: delimiter, shape: -1}
	if delimiter == 0 {
		h.delimiter, h.titles, _ = delimiterOf(line)
	} else {
		fields, _ := splitRecord(nil, line, delimiter, maxTableColumns)
		for _, f := range fields {
			h.titles = append(h.titles, plainText(bytes.TrimSpace(unquote(f))))
		}
	}
	m := meanings{header: &h, notes: notes, byHand: make(map[int]bool), allNumbers: len(o.Columns) > 0}
	if err := m.named(o); err != nil {
		return h, err
	}
	m.known(o)
	if m.by[timeColumn] == nil && m.by[dateColumn] == nil && m.by[stateColumn] == nil {
		if rest := h.unknown(m.byHand); len(rest) > 0 && !m.allNumbers {
			notes.add(1, nil, false, fmt.Sprintf("no column is known for the time or the work state; not understood are %s: name one as time=COLUMN or state=COLUMN", listed(rest)))
		}
	}
	m.unnamed()
	if m.by[lonColumn] == nil && m.by[latColumn] == nil && o.CRS != 0 {
		m.metres = m.pair(mapNames)
	}
	if m.by[lonColumn] == nil && m.by[latColumn] == nil && m.by[shapeColumn] == nil {
		m.pair(placeNames)
	}
	if c := m.by[shapeColumn]; c != nil && (m.by[lonColumn] == nil || m.by[latColumn] == nil) {
		h.shape, m.by[lonColumn], m.by[latColumn] = c.at, nil, nil
	}
	for _, c := range []column{latColumn, lonColumn} {
		if m.by[c] == nil && h.shape < 0 {
			hint := "say which column it is: lon=COLUMN and lat=COLUMN, by name or by number from 1"
			if m.by[lonColumn] == nil && o.CRS == 0 && m.pair(mapNames) {
				hint = "its columns are those of a map in metres: name the map's coordinate system by its EPSG code, as in --crs 25832"
			}
			return h, &FileError{File: notes.file, Record: 1, What: fmt.Sprintf("no column for the %s: there are %s", columnWord(c), listed(h.titles)), Hint: hint, other: true}
		}
	}
	order := []column{lonColumn, latColumn}
	for c := column(0); c < lonColumn; c++ {
		order = append(order, c)
	}
	for _, c := range append(order, sectionColumn, orderColumn, apartColumn) {
		if m.by[c] != nil {
			h.use = append(h.use, *m.by[c])
		}
	}
	if m.allNumbers && h.shape < 0 {
		_, _, _, ok1 := decimal([]byte(h.use[0].title))
		_, _, _, ok2 := decimal([]byte(h.use[1].title))
		h.isData = ok1 && ok2
	}
	return h, nil
}

// meanings is the state of understanding a header.
type meanings struct {
	*header
	notes      *tally
	by         [tableColumns]*tableColumn
	byHand     map[int]bool // columns that are named by hand
	allNumbers bool         // and each of them by its number
}

// named takes the columns that are named by hand.
func (m *meanings) named(o TrackOptions) error {
	for _, want := range sortedKeys(o.Columns) {
		c, place := meaning(want), o.Columns[want]
		if want == orderName {
			c.column = orderColumn
		}
		if c.column == noColumn {
			return &CallError{fmt.Sprintf("column meaning %q is not known: lon, lat, time, date, heading, course, speed_kmh, speed_ms, width_m, width_ft, state, quality, hdop, height, pass, section, order, machine, driver and farm are", want)}
		}
		if c.at = m.find(place); c.at < 0 {
			return &FileError{File: m.notes.file, Record: 1, What: fmt.Sprintf("no column %q for %s: there are %s", place, want, listed(m.titles))}
		}
		c.title = m.titles[c.at]
		if m.by[c.column] != nil {
			return &CallError{fmt.Sprintf("two columns are named for %s", columnWord(c.column))}
		}
		m.byHand[c.at], m.by[c.column] = true, &c
	}
	return nil
}

// find is the column of a name, else of one that differs by upper and lower case, else of a number from 1; -1: none.
func (m *meanings) find(place string) int {
	at := slices.Index(m.titles, place)
	if at < 0 {
		at = slices.IndexFunc(m.titles, func(t string) bool { return strings.EqualFold(t, place) })
	}
	if n, err := strconv.Atoi(place); at < 0 && err == nil && n >= 1 && n <= len(m.titles) {
		return n - 1
	}
	m.allNumbers = false
	return at
}

// known takes the columns whose names are known, of two of one meaning the first.
func (m *meanings) known(o TrackOptions) {
	var untold *tableColumn
	for i, t := range m.titles {
		c := meaning(t)
		c.at = i
		switch was := m.by[c.column]; {
		case c.column == noColumn || m.byHand[i] || was != nil && o.named(c.column):
		case c.unit == "" && c.column == speedColumn:
			untold = cmp.Or(untold, &c)
		case c.unit == "" && c.column == widthColumn:
			m.notes.noUnit(t, "m, mm, ft or in")
		case was != nil:
			m.notes.add(1, nil, false, fmt.Sprintf("column %q is not used: %q means the same", c.title, was.title))
		default:
			m.by[c.column] = &c
		}
	}
	if untold != nil && m.by[speedColumn] == nil {
		untold.untold = true
		m.by[speedColumn] = untold
	}
}

// noUnit notes a column that is not used since nothing says what it is in.
func (t *tally) noUnit(title, example string) {
	t.add(1, nil, true, fmt.Sprintf("column %q says no unit (%s): not used", title, example))
}

// pair takes the first two columns of which both have the names of a pair, for the place; false: there are none such.
func (m *meanings) pair(pairs [][2]string) bool {
	for _, names := range pairs {
		var at [2]int
		for i, name := range names {
			at[i] = slices.IndexFunc(m.titles, func(t string) bool {
				n, unit, _ := strings.Cut(accents.Replace(plainName(t)), name)
				return n == "" && (unit == "" || unit == "_m" || tableUnits[lonColumn][strings.TrimPrefix(unit, "_")] == 1)
			})
		}
		if at[0] >= 0 && at[1] >= 0 {
			m.by[lonColumn] = &tableColumn{column: lonColumn, at: at[0], title: m.titles[at[0]], factor: 1}
			m.by[latColumn] = &tableColumn{column: latColumn, at: at[1], title: m.titles[at[1]], factor: 1}
			return true
		}
	}
	return false
}

// unnamed finds columns without meaning that may yet be of use: one of work states, and one that numbers the fixes.
func (m *meanings) unnamed() {
	for i, t := range m.titles {
		is := !m.byHand[i] && meaning(t).column == noColumn
		if m.by[stateColumn] == nil && m.by[sectionColumn] == nil {
			m.idle = append(m.idle, is && t != "")
		}
		if is && m.by[orderColumn] == nil && m.numbered == "" && numberNames[plainName(t)] {
			m.numbered = t
		}
	}
}

// needed is how many fields of a line are looked at.
func (h header) needed() int {
	n := h.shape + 1
	for _, c := range h.use {
		n = max(n, c.at+1)
	}
	return n
}

// placed is how many fields a line must have for a place.
func (h header) placed() int {
	if h.shape >= 0 {
		return h.shape + 1
	}
	return max(h.use[0].at, h.use[1].at) + 1
}

// own is the layer of balk's results that a table without a mark is of, by its titles; "": of none.
func (h header) own() string {
	var o own
	for _, t := range h.titles {
		o.see([]byte(t))
	}
	return o.layer()
}

// unknown are the titles that mean nothing here.
func (h header) unknown(byHand map[int]bool) []string {
	var rest []string
	for i, t := range h.titles {
		if t != "" && !byHand[i] && meaning(t).column == noColumn {
			rest = append(rest, t)
		}
	}
	return rest
}

// named says whether a column was named by hand.
func (o TrackOptions) named(c column) bool {
	for want := range o.Columns {
		if meaning(want).column == c {
			return true
		}
	}
	return false
}

// columnWord names a column of a table in messages.
func columnWord(c column) string {
	switch c {
	case lonColumn:
		return "longitude"
	case latColumn:
		return "latitude"
	case sectionColumn:
		return "section"
	case orderColumn:
		return "order"
	case shapeColumn:
		return "geometry"
	case apartColumn:
		return "distance"
	}
	return columnTitle[c]
}

// listed is the names of columns for a message.
func listed(titles []string) string {
	s := ""
	for i, t := range titles {
		if i == 30 {
			return s + fmt.Sprintf(" and %d more", len(titles)-i)
		}
		if i > 0 {
			s += ", "
		}
		if len(t) > 40 {
			t = strings.ToValidUTF8(t[:40], "") + "..."
		}
		s += strconv.Quote(t)
	}
	return s
}
