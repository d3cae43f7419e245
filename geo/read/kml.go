package read

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"balk/geo"

	"github.com/paulmach/orb"
)

// KMLFields reads field boundaries from KML. file is the name for messages, and
// findings give the line of the Placemark as record.
//
// Every Placemark with polygons is a field, with the Placemark's name; the inner
// boundaries are obstacles. Heights are left out.
func KMLFields(r io.Reader, file string, o Options) ([]geo.Field, []geo.Finding, error) {
	b := boundaryRead{notes: tally{file: file}, options: o}
	k := kml{xmlWalk: newXMLWalk(r), notes: &b.notes}
	k.folders = kmlFolders{how: o.Taking, files: o.Files, reset: func() { b = boundaryRead{notes: tally{file: file}, options: o} }}
	err := k.read(func(p *placemark) {
		if layer := p.own.layer(); layer != "" {
			b.notes.leaveOwn(p.line, layer)
			return
		}
		out := newOutline(p.line, p.name)
		if n := len(p.lines) + len(p.tracks); n > 0 {
			b.notes.count(p.line, true, "a line or track is no boundary: left out")
		}
		if len(p.points) > 0 {
			b.notes.count(p.line, false, "a point is no boundary: left out")
		}
		if p.broken != nil {
			b.lose(p.line, &FileError{File: file, Record: p.line, Err: p.broken})
			return
		}
		for _, poly := range p.polygons {
			if len(poly) > 0 {
				out.Parts = append(out.Parts, len(out.Rings))
				out.Rings = append(out.Rings, poly...)
			}
		}
		if len(out.Rings) > 0 {
			b.take(out)
		} else if p.areas {
			b.notes.count(p.line, true, "an empty geometry: left out")
		}
	}, true)
	if err != nil {
		if len(b.fields) == 0 && b.first == nil {
			return nil, nil, &FileError{File: file, Record: k.line(), What: "no field boundary could be read", Err: err}
		}
		b.notes.add(k.line(), nil, true, "unreadable from here on, what comes before is used: "+err.Error())
	}
	return b.result(k.hint("a boundary is a Placemark with a Polygon"))
}

// KMLTracks reads tracks from KML. file is the name for messages, and findings
// give the line of the Placemark as record.
//
// A Placemark with LineStrings is a track with a part per LineString; one with
// gx:Track or gx:MultiTrack a track with a part per gx:Track, with the times
// (when), headings (gx:angles) and arrays (gx:SimpleArrayData, named as in a
// table) beside its positions. Points with a time, as TimeStamp or among their
// ExtendedData, are one track all together, with what else stands there under
// the names of a table. Heights of lines are left out.
func KMLTracks(r io.Reader, file string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	notes := o.notes(file)
	var tracks []*growing
	points := o.scan(strings.NewReader(""), file, "")
	var given []*growing // of balk's own states
	k := kml{xmlWalk: newXMLWalk(r), notes: &notes, states: newStateJudge(o)}
	k.folders = kmlFolders{how: o.Taking, files: o.Files, reset: func() {
		tracks, given = nil, nil
		points = o.scan(strings.NewReader(""), file, "")
		notes, k.states = o.notes(file), newStateJudge(o)
	}}
	in := map[*growing]string{}
	layerOf := func(p *placemark) string {
		if o.planned {
			return ""
		}
		return p.own.layer()
	}
	err := k.read(func(p *placemark) {
		if p.areas && layerOf(p) == "" {
			notes.count(p.line, true, "a Polygon is no track: left out")
		}
		if p.broken != nil {
			notes.count(p.line, true, p.broken.Error())
		}
		layer := layerOf(p)
		if layer != "" && layer != statesName {
			notes.leaveOwn(p.line, layer)
			return
		}
		if layer == statesName {
			given = append(given, p.given(&notes, &k.states)...)
			return
		}
		g := &growing{record: p.line, name: p.name}
		var whole values
		whole.work(p.state)
		for _, l := range p.lines {
			for _, q := range l {
				g.add(q[0], q[1], &whole)
			}
			g.endPart()
		}
		for i := range p.tracks {
			p.tracks[i].into(g, p, &notes)
		}
		if len(p.points) > 0 {
			first := points.points == nil
			p.fixes(&points, &notes)
			if first && points.points != nil {
				tracks, in[points.points] = append(tracks, points.points), p.folder
			}
		}
		if g.fixes() > 0 {
			tracks, in[g] = append(tracks, g), p.folder
		}
	}, false)
	if !o.planned {
		if err := k.folders.severalFolders(file, tracks, in); err != nil {
			return nil, nil, err
		}
	}
	return finishXML(append(tracks, given...), &notes, &k.states, k.xmlWalk, err, k.hint("a track is a Placemark with LineString or gx:Track"))
}

// fixes takes the points of a Placemark as those of a table's row.
func (p *placemark) fixes(s *trackScan, notes *tally) {
	f := feature{place: true}
	s.notes, s.record = *notes, p.line
	clear(s.list[:])
	s.columnTexts(&f, slices.DeleteFunc(p.cells, func(c cell) bool {
		meaning := s.states.column([]byte(c.column), columnOf([]byte(c.column)))
		return meaning == stateColumn || meaning == timeColumn && !math.IsNaN(p.when)
	}))
	if !math.IsNaN(p.when) {
		f.values.set(timeColumn, p.when)
	}
	s.notes.joinDate(p.line, &f.values)
	f.values.work(p.state)
	for _, q := range p.points {
		if math.IsNaN(f.values.get(timeColumn)) {
			s.notes.count(p.line, false, "a point without time is no fix: left out")
			continue
		}
		f.point = [3]float64{q[0], q[1], math.NaN()}
		s.addPoint(&f)
	}
	*notes = s.notes
}

// given are the lines of a Placemark of balk's own layer of states, with the columns that stand beside them as
// text.
func (p *placemark) given(notes *tally, states *stateJudge) []*growing {
	s := trackScan{pull: newPull(strings.NewReader("")), notes: *notes, states: *states, record: p.line}
	f := feature{place: true, own: p.own}
	s.columnTexts(&f, p.cells)
	g := s.begin()
	g.name = p.name
	var none values
	for _, l := range p.lines {
		for _, q := range l {
			g.add(q[0], q[1], &none)
		}
		g.endPart()
	}
	s.close(&f)
	*notes, *states = s.notes, s.states
	return s.tracks
}

// placemark is a Placemark as read.
type placemark struct {
	line     int
	folder   string // the layer it lies in
	name     string
	areas    bool // it has polygons
	polygons [][]orb.Ring
	lines    []orb.LineString
	points   []orb.Point
	tracks   []gxTrack
	when     float64       // of its TimeStamp, NaN for none
	broken   error         // coordinates that cannot be read
	cut      bool          // the file broke off in it
	state    geo.WorkState // code, by its ExtendedData; see stateJudge
	own      own
	cells    cells // its data that mean something at a fix
}

// kml is the state of reading a KML text.
type kml struct {
	*xmlWalk
	notes *tally
	p     *placemark
	array *gxArray
	// the work state by ExtendedData
	states  stateJudge
	data    string // name of the Data or SimpleData at hand
	datum   string // name of the Data at hand
	links   bool   // to other files
	folders kmlFolders
}

// linkText is said of links: what is behind them may be more of the same, but a file that is given is read as it is.
const linkText = "a link to another file is not followed"

// hint is what is wanted, in words.
func (k *kml) hint(wanted string) string {
	if k.links {
		return wanted + "; it links to another file, which may have one: give that"
	}
	return wanted
}

// read calls do with every Placemark. areas: the coordinates of polygons are
// wanted.
func (k *kml) read(do func(p *placemark), areas bool) error {
	err := k.walk(func(e xml.StartElement) bool { return k.start(e, areas) }, func(name string, text []byte) {
		k.folders.end(name, k.parent(0), text)
		if name == "Placemark" && k.p != nil {
			do(k.p)
			k.p = nil
			return
		}
		k.end(name, text)
	})
	if err != nil && k.p != nil && !areas { // what came of a track before the file broke off
		if k.within("LineString") && k.parent(0) == "coordinates" {
			t := k.rest()
			k.lineString(t[:bytes.LastIndexAny(t, " \t\r\n")+1])
		}
		k.p.cut = true
		do(k.p)
	}
	return err
}

func (k *kml) start(e xml.StartElement, areas bool) bool {
	if k.folders.start(e, k.parent(1)) {
		return true
	}
	if e.Name.Local == "Placemark" {
		if k.p = nil; k.folders.takes() {
			k.p = &placemark{line: k.line(), folder: k.folders.name(), when: math.NaN()}
		}
		return false
	}
	if e.Name.Local == "NetworkLink" {
		k.notes.count(k.line(), false, linkText)
		k.links = true
	}
	p := k.p
	if p == nil {
		return false
	}
	inTrack := k.within("Track") && len(p.tracks) > 0
	switch e.Name.Local {
	case "name":
		return k.parent(1) == "Placemark"
	case "Polygon":
		p.areas = true
		p.polygons = append(p.polygons, nil)
	case "Track":
		p.tracks = append(p.tracks, gxTrack{})
		k.array = nil
	case "coordinates":
		return areas || !k.within("Polygon")
	case "when":
		return inTrack || k.parent(1) == "TimeStamp"
	case "coord", "angles":
		return inTrack
	case "SimpleArrayData":
		k.array = nil
		if inTrack {
			k.array = p.tracks[len(p.tracks)-1].begin(e, k.line(), k.notes, &k.states)
		}
	case "value":
		return inTrack && k.array != nil && k.parent(1) == "SimpleArrayData" || (k.data != "" || k.datum != "") && k.parent(1) == "Data"
	case "Data", "SimpleData":
		k.data, k.datum = "", ""
		for _, a := range e.Attr {
			if a.Name.Local != "name" {
				continue
			}
			c := columnOf([]byte(a.Value))
			p.own.see([]byte(a.Value))
			state := k.states.column([]byte(a.Value), c) == stateColumn
			if state {
				k.data = a.Value
			}
			if c != noColumn && (e.Name.Local == "Data" || !state) {
				k.datum = a.Value
			}
		}
		return (k.data != "" || k.datum != "") && e.Name.Local == "SimpleData"
	}
	return false
}

// end takes in an element; text is nil if it was not wanted.
func (k *kml) end(name string, text []byte) {
	p := k.p
	if p == nil || text == nil && name != "Polygon" && name != "SimpleArrayData" {
		return
	}
	var t *gxTrack
	if k.within("Track") && len(p.tracks) > 0 {
		t = &p.tracks[len(p.tracks)-1]
	}
	switch name {
	case "name":
		p.name = strings.ToValidUTF8(string(text), "\uFFFD")
	case "SimpleArrayData":
		k.array = nil
	case "coordinates":
		k.coordinates(text)
	case "when":
		if v := k.when(text); t != nil {
			t.when = append(t.when, v)
		} else {
			p.when = v
		}
	case "coord":
		t.coord = append(t.coord, k.coord(text))
	case "angles":
		h := math.NaN()
		f, _, _ := bytes.Cut(text, []byte{' '})
		if v, _, _, ok := decimal(f); ok && math.Abs(v) <= 360 {
			h = v
		}
		t.heading = append(t.heading, h)
	case "value", "SimpleData":
		k.value(p, text)
	}
}

// when reads a time; NaN: it is not understood.
func (k *kml) when(text []byte) float64 {
	v, zoned, ok := k.notes.dated(text)
	switch {
	case !ok:
		k.notes.countAs(k.line(), true, "when", fmt.Sprintf("when %s is not understood", inQuotes(text)))
		return math.NaN()
	case !zoned:
		return k.notes.unzoned(k.line(), v)
	}
	return v
}

// coord reads a position of a gx:Track. An empty one keeps the place of its time.
func (k *kml) coord(text []byte) [2]float64 {
	if len(text) > 0 {
		q, _, ok := tuple(text, ' ')
		if ok {
			return q
		}
		k.notes.countAs(k.line(), true, "coord", fmt.Sprintf("gx:coord %s is not understood", inQuotes(text)))
	}
	return [2]float64{nowhere, nowhere}
}

// value takes in a value of ExtendedData, or of an array of a gx:Track.
func (k *kml) value(p *placemark, text []byte) {
	if k.data == "" && k.datum == "" {
		if k.array != nil {
			k.array.add(text, k.line(), k.notes, &k.states)
		}
		return
	}
	if k.datum == ownMark {
		p.own.mark = string(text)
	}
	if k.datum != "" {
		p.cells = append(p.cells, cell{k.datum, string(text)})
	}
	if k.data != "" && !bytes.HasPrefix(text, []byte{'['}) { // no list of balk's
		p.state = k.states.code(text, k.line())
	}
	k.data, k.datum = "", ""
}

// coordinates takes in the text of a coordinates element.
func (k *kml) coordinates(text []byte) {
	p := k.p
	switch {
	case k.within("Polygon"):
		ring, err := tuples(text)
		if err != nil && p.broken == nil {
			p.broken = fmt.Errorf("line %d: %w", k.line(), err)
		}
		last := len(p.polygons) - 1
		if last < 0 {
			return
		}
		if poly := p.polygons[last]; k.within("innerBoundaryIs") || len(poly) == 0 {
			p.polygons[last] = append(poly, orb.Ring(ring))
		} else { // the outer ring comes first, wherever it stands in the file
			p.polygons[last] = append([]orb.Ring{ring}, poly...)
		}
	case k.within("LineString"):
		k.lineString(text)
	case k.within("Point"):
		q, err := tuples(text)
		if err != nil && p.broken == nil {
			p.broken = fmt.Errorf("line %d: %w", k.line(), err)
		}
		p.points = append(p.points, q...)
	default:
		k.notes.count(k.line(), true, fmt.Sprintf("a %s is neither boundary nor track: left out", k.parent(0)))
	}
}

// line2 takes in the positions of a LineString.
func (k *kml) lineString(text []byte) {
	l, err := tuples(text)
	if err != nil && k.p.broken == nil {
		k.p.broken = fmt.Errorf("line %d: %w", k.line(), err)
	}
	if len(l) > 0 {
		k.p.lines = append(k.p.lines, l)
	}
}

// tuples reads positions: longitude, latitude and perhaps height with commas
// between them, and space between positions. It gives what comes before a fault.
func tuples(text []byte) (out []orb.Point, err error) {
	for {
		text = trim(text)
		if len(text) == 0 {
			return out, nil
		}
		q, rest, ok := tuple(text, ',')
		if !ok {
			return out, errors.New("position " + inQuotes(bytes.Fields(text[:min(len(text), 64)])[0]) + " is not understood: longitude,latitude are wanted")
		}
		out = append(out, q)
		text = rest
	}
}

// tuple reads one position up to the next space, or to the end if mark is a
// space.
func tuple(text []byte, mark byte) (q [2]float64, rest []byte, ok bool) {
	if mark != ' ' {
		i := bytes.IndexAny(text[:min(len(text), 200)], " \t\r\n")
		if i < 0 {
			i = len(text)
		}
		text, rest = text[:i], text[i:]
	}
	for i := range q {
		f, after, more := bytes.Cut(text, []byte{mark})
		v, _, _, number := decimal(f)
		if !number || i == 0 && !more {
			return q, rest, false
		}
		q[i], text = v, trim(after)
	}
	return q, rest, true
}
