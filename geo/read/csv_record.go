package read

import (
	"bytes"
	"fmt"
	"math"

	geom "github.com/twpayne/go-geom"
)

// record takes in the fields of a record; n is how many there are, of which the
// needed ones are in t.fields.
func (t *table) record(number, n int, last bool) {
	if !t.hasFields(number, n, last) {
		return
	}
	if t.looking {
		t.lookAround(number)
	}
	var v values
	var at [2]float64
	var shape geom.T
	from := 0
	if t.header.shape >= 0 {
		if shape = t.shape(number); shape == nil {
			return
		}
	} else {
		for i := range at {
			if !t.place(number, i, &at[i], last) {
				return
			}
		}
		from = len(at)
	}
	t.told = [len(t.told)][]byte{}
	for i := from; i < len(t.header.use); i++ {
		c := &t.header.use[i]
		if c.at >= len(t.fields) {
			continue
		}
		f := trim(t.fields[c.at])
		if isAbsent(f) && (c.column != qualityColumn || len(f) < 4) { // "none" is a quality
			continue
		}
		if !t.value(number, c, f, &v) {
			return
		}
	}
	if t.sections != nil && t.one == nil {
		t.toSection(nil)
	}
	if t.err != nil {
		return
	}
	t.notes.joinDate(number, &v)
	if shape != nil {
		t.tell()
		t.add(number, shape, v)
		return
	}
	t.fixes++
	t.tell()
	t.one.add(at[0], at[1], &v)
	if t.fixes == reserveAfter && t.sections == nil {
		t.lines.reserve(t.one)
	}
}

// hasFields says whether a record has as many fields as it must have.
func (t *table) hasFields(number, n int, last bool) bool {
	titles := len(t.header.titles)
	switch {
	case n > titles:
		t.notes.count(number, true, fmt.Sprintf("a line with more fields than the %d columns (is a decimal comma taken for a delimiter?): left out", titles))
		return false
	case n < titles && last:
		t.notes.add(number, nil, true, fmt.Sprintf("the file breaks off in this line, with %d of %d fields: left out", n, titles))
		return false
	case n < t.needed && n >= t.header.placed():
		t.notes.count(number, true, fmt.Sprintf("a line with fewer fields than the %d columns: what is there is used", titles))
	}
	return true
}

// place reads the longitude (i = 0) or the latitude of the record at hand.
func (t *table) place(number, i int, x *float64, last bool) bool {
	c := &t.header.use[i]
	var f []byte
	if c.at < len(t.fields) {
		f = trim(t.fields[c.at])
	}
	v, _, decimals, ok := decimal(f)
	if !ok && t.header.metres {
		v, _, decimals, ok = decimal(thousands(f))
	}
	switch {
	case !ok && isAbsent(f):
		t.notes.count(number, true, "a line without longitude and latitude: left out")
		return false
	case !ok:
		t.notes.count(number, true, fmt.Sprintf("%s %s is no number: left out", columnWord(c.column), inQuotes(f)))
		return false
	case last && c.at == len(t.header.titles)-1 && decimals < t.decimals[i]: // 48. is a place too, but not that of 48.13
		t.notes.add(number, nil, true, fmt.Sprintf("the file breaks off in this line, with %d of %d decimals of the %s: left out", decimals, t.decimals[i], columnWord(c.column)))
		return false
	}
	*x, t.decimals[i] = v, decimals
	return true
}

// value takes in a field of a column; false: the record is left out.
func (t *table) value(number int, c *tableColumn, f []byte, v *values) bool {
	switch c.column {
	case markColumn:
		if layer := string(f); layer != statesName {
			t.notes.leaveOwn(number, layer)
			return false
		}
		t.one.came.States = true
	case timeColumn, dateColumn:
		t.time(number, c, f, v)
	case stateColumn:
		v.set(stateColumn, float64(t.states.code(f, number)))
	case passColumn:
		t.toPass(f)
		v.set(passColumn, float64(t.passes.now))
	case sectionColumn:
		t.toSection(f)
	case machineColumn, driverColumn, farmColumn:
		t.told[c.column-machineColumn] = f
	case apartColumn:
		if x, _, _, ok := decimal(f); ok && !t.hasTime {
			v.set(apartColumn, x)
		}
	case orderColumn:
		x, _, _, ok := decimal(f)
		if !ok {
			t.misread(number, c, f)
			break
		}
		v.set(orderColumn, x)
	default:
		t.number(number, c, f, v)
	}
	return true
}

// time takes in a time, a day or a time of day.
func (t *table) time(number int, c *tableColumn, f []byte, v *values) {
	m, ok := t.notes.dates.read(f, c, t.hasDate, &t.notes)
	if !ok {
		t.misread(number, c, f)
		return
	}
	if c.column == dateColumn && m.kind == instant && (v.clock || math.Mod(m.seconds, 86400) == 0 && t.hasTime) {
		m = moment{86400 * math.Floor(m.seconds/86400), wholeDay, m.zoned} // "2024-05-31 00:00" beside a time of day
	}
	switch {
	case m.kind == wholeDay:
		v.date, v.hasDate, v.zoned = m.seconds, true, v.zoned || m.zoned
		return
	case c.column == dateColumn && v.has&(1<<timeColumn) != 0: // the time column has it all
		return
	case !m.zoned && m.kind == instant:
		m.seconds = t.notes.unzoned(number, m.seconds)
	}
	v.set(timeColumn, m.seconds)
	v.clock, v.zoned = m.kind == timeOfDay, v.zoned || m.zoned
}

// toPass begins a part where the value of the pass column changes.
func (t *table) toPass(f []byte) {
	if t.hasPass && bytes.Equal(t.pass, f) {
		return
	}
	if t.hasPass {
		for _, g := range t.tracks {
			g.endPart()
		}
	}
	t.pass, t.hasPass = append(t.pass[:0], f...), true
	t.passes.of(string(f))
}

// number takes in a width, speed, heading, course, quality or HDOP.
func (t *table) number(number int, c *tableColumn, f []byte, v *values) {
	x, _, _, ok := decimal(f)
	if !ok {
		x, _, ok = t.notes.columnText(c.column, f)
	} else if c.column == qualityColumn {
		x, ok = columnNumber(c.column, x)
	} else if !c.untold {
		x *= c.factor
		_, ok = columnNumber(c.column, x)
	}
	if !ok {
		t.misread(number, c, f)
		return
	}
	v.set(c.column, x)
}

// misread notes a field that is not understood. The text is that of the first
// one only, so that a bad column is one finding.
func (t *table) misread(number int, c *tableColumn, f []byte) {
	t.notes.countAs(number, true, "misread "+c.title, fmt.Sprintf("column %q: %s %s is not understood or out of range", clip(c.title), columnWord(c.column), inQuotes(f)))
}

// tell tells the track at hand what the record says of who worked with what for whom.
func (t *table) tell() {
	for i, f := range t.told {
		if f != nil {
			t.one.told.say(machineColumn+column(i), f)
		}
	}
}

// toSection makes the track of a section the one at hand.
func (t *table) toSection(f []byte) {
	if t.one != nil && bytes.Equal(f, t.section) {
		return
	}
	t.section = append(t.section[:0], f...)
	g, ok := t.sections[string(f)]
	if ok {
		t.one = g
		return
	}
	if len(t.sections) == maxSections {
		t.err = &FileError{File: t.notes.file, Record: t.lines.number, What: fmt.Sprintf("the section column has more than %d different values: it is no section's number", maxSections), Hint: "name that column otherwise, or take it out"}
		return
	}
	t.begin()
	t.sections[string(f)] = t.one
	if len(f) > 0 {
		t.one.name = "section " + clip(string(f))
		t.one.came.Section = string(f)
	}
}
