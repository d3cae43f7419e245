package read

import (
	"fmt"
	"io"
	"math"
	"strings"

	"balk/geo"
)

// GeoJSONTracks reads tracks from GeoJSON. file is the name for messages.
//
// The stream is read once with a fixed buffer, or some of a few megabytes; what is kept is the columns of
// the tracks, 24 bytes per fix and 1 to 8 more per column logged.
//
//   - A LineString is a track of one part, a MultiLineString a track with a part
//     per line, bare or as a Feature or in a collection of any kind. A MultiPoint
//     is read as a LineString.
//   - All Points of the file, in its order, are one track. A changed property
//     "pass" begins a new part.
//   - Properties (see columnNames; case does not matter): time, state, width in
//     metres, offset_m (middle of the worked width right of the antenna's line),
//     heading or course in degrees from true north, speed in m/s (speed_kmh: km/h).
//     Beside a line each is one value for all its fixes or a list with one per
//     fix; coordTimes and times are such lists.
//   - A work state counts if all its values are understood; see stateJudge.
//   - Times are ISO 8601, or seconds or milliseconds since 1970-01-01 UTC.
//   - A third number of a position (height) is left out.
//   - What is JSON but no position, line or geometry is left out with a finding; the
//     file is lost only from where it is no JSON on.
//   - "crs" of the older GeoJSON is honoured or refused, never ignored.
//   - Several texts may follow each other, as a line each (newline-delimited GeoJSON, RFC 8142); one that is broken
//     loses itself only.
func GeoJSONTracks(r io.Reader, file string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	return tracksAhead(r, file, o, aheadOf())
}

// tracksAhead is GeoJSONTracks with workers of any number.
func tracksAhead(r io.Reader, file string, o TrackOptions, a ahead) ([]geo.Track, []geo.Finding, error) {
	s := o.scan(r, file, "")
	s.ahead = a
	for more := true; more; more = s.another() {
		s.features = false
		from := len(s.tracks)
		s.enter()
		s.object(true, 0)
		if fault, whole := s.leave(); whole {
			s.notes.add(s.record, nil, true, fault.Error())
		} else if fault != nil {
			s.takeBack(from)
			s.notes.add(s.record, nil, true, "left out, broken: "+fault.Error())
		}
	}
	p, what, err := s.crs.projection()
	if err != nil {
		return nil, nil, &FileError{File: file, Place: "crs", Err: err}
	}
	if what != "" {
		s.notes.add(0, nil, false, what)
	}
	if !s.crs.present && o.CRS != 0 && s.noDegrees() {
		if p, err = o.unnamed(&s.notes); err != nil {
			return nil, nil, err
		}
	}
	return s.finish(p)
}

// noDegrees says whether most of what was read cannot be longitude and latitude, which GeoJSON has by its standard.
func (s *trackScan) noDegrees() bool {
	off, all := 0, 0
	for _, g := range s.tracks {
		for i := 0; i < len(g.flat); i += 3 {
			if all++; !geo.OnEarth(g.flat[i], g.flat[i+1]) {
				off++
			}
		}
	}
	return 2*off > all
}

// trackScan is the state of one reading.
type trackScan struct {
	*pull
	notes    tally
	states   stateJudge
	tracks   []*growing
	points   *growing // the track of points, one of tracks; nil: none yet
	pass     passKey  // of the point before
	record   int
	title    string // of the whole file
	crs      geojsonCRS
	lists    [columns][]float64 // values of a list beside a line
	list     [columns]listState
	nameText []byte // the name in the feature at hand
	toldText [farmColumn - machineColumn + 1][]byte
	// room for the name and the number of a property that may be a work state
	nameless, numberText []byte
	features             bool
	ahead                ahead
	casting              casting
	senses               []sense
	planned              bool // what balk wrote is taken too
	numbering
}

// scan is a scan of tracks with these options: of a GeoJSON text r, or of rows of a table, for which r is empty.
func (o TrackOptions) scan(r io.Reader, file, title string) trackScan {
	return trackScan{pull: newPull(r), notes: o.notes(file), states: newStateJudge(o), title: title, numbering: numbering{wanted: o.Columns[orderName], section: o.Columns[sectionName]}, planned: o.planned}
}

// passKey tells one pass from another.
type passKey struct {
	text   string
	number float64
}

// listState says how a property of the feature at hand came.
type listState uint8

const (
	absent listState = iota
	single
	many
)

// feature is what the feature at hand has told so far.
type feature struct {
	values  values
	pass    passKey
	hasPass bool
	hasName bool

	section    string
	hasSection bool
	told       uint8 // bits of what toldText has of it

	place    bool       // it has a geometry, or says that it has none
	point    [3]float64 // longitude, latitude, height
	hasPoint bool
	from     int // tracks made by this feature begin here
	own      own
}

// object reads the GeoJSON object whose brace is next.
func (s *trackScan) object(top bool, depth int) {
	if depth > maxDepth {
		s.fail("collections nested deeper than %d", maxDepth)
		return
	}
	if top {
		s.record++
	}
	if s.peek() != '{' {
		s.take('{') // which says so
		return
	}
	f := feature{from: len(s.tracks)}
	clear(s.list[:])
	kind := ""
	for key := range s.members() {
		switch string(key) {
		case "type":
			kind = s.kind()
		case "features":
			s.collection(depth)
		case "geometry":
			f.place = true
			s.geometry(&f, depth+1)
		case "coordinates":
			f.place = true
			s.coordinates(&f)
		case "geometries":
			f.place = true
			s.geometries(&f, depth+1)
		case "properties":
			s.properties(&f)
		case "crs":
			s.readCRS(top)
		case "name", "title":
			if s.peek() != '"' {
				s.skip()
				break
			}
			if name := strings.ToValidUTF8(string(s.pull.text()), "\uFFFD"); top {
				s.title = name
			}
		default:
			s.skip()
		}
	}
	if top && s.features {
		return
	}
	s.noTrack(kind, f.from)
	s.close(&f)
}

// collection reads the value of a "features" member.
func (s *trackScan) collection(depth int) {
	if s.peek() != '[' {
		s.skip()
		return
	}
	s.record-- // it counts its features
	for range s.items() {
		if s.record++; s.peek() != '{' {
			s.notes.count(s.record, true, "a feature that is no object")
			s.skip()
			continue
		}
		if s.feature(depth + 1); depth == 0 {
			s.readAhead()
		}
	}
	s.features = true
}

// kind reads the value of a "type" member.
func (s *trackScan) kind() string {
	if s.peek() != '"' {
		s.skip()
		return ""
	}
	switch t := s.pull.text(); string(t) {
	case "Feature", "Point", "LineString": // of many; they are not asked for
		return ""
	default:
		return string(t[:min(len(t), 40)])
	}
}

// geometry reads the value of a "geometry" member.
func (s *trackScan) geometry(f *feature, depth int) {
	if depth > maxDepth {
		s.fail("collections nested deeper than %d", maxDepth)
		return
	}
	switch s.peek() {
	case '{':
	case 'n':
		s.literal("null")
		s.notes.count(s.record, true, "a feature without geometry")
		return
	default:
		s.skip()
		s.notes.count(s.record, true, "a geometry that is no object")
		return
	}
	kind := ""
	from := len(s.tracks)
	for key := range s.members() {
		switch string(key) {
		case "type":
			kind = s.kind()
		case "coordinates":
			if kind == "Polygon" || kind == "MultiPolygon" {
				s.skip()
				break
			}
			s.coordinates(f)
		case "geometries":
			s.geometries(f, depth+1)
		case "crs":
			s.readCRS(false)
		default:
			s.skip()
		}
	}
	s.noTrack(kind, from)
}

// noTrack takes back what the coordinates of a polygon seemed to be.
func (s *trackScan) noTrack(kind string, from int) {
	switch kind {
	case "Polygon", "MultiPolygon":
		s.takeBack(from)
		s.notes.count(s.record, true, "a "+kind+" is no track: left out")
	}
}

// takeBack takes the tracks out again that came since there were so many, but for that of points.
func (s *trackScan) takeBack(from int) {
	kept := s.tracks[:from]
	for _, g := range s.tracks[from:] {
		if g == s.points {
			kept = append(kept, g)
		}
	}
	s.tracks = kept
}

func (s *trackScan) geometries(f *feature, depth int) {
	if s.peek() != '[' {
		s.skip()
		return
	}
	for range s.items() {
		had := f.hasPoint
		s.geometry(f, depth)
		if f.hasPoint && !had { // points of a collection are fixes of their own
			s.addPoint(f)
			f.hasPoint = false
		}
	}
}

// coordinates reads the value of a "coordinates" member. How deep the brackets
// go says what it is: the type may come later.
func (s *trackScan) coordinates(f *feature) {
	if s.peek() != '[' {
		s.skip()
		s.notes.count(s.record, true, "coordinates that are no list")
		return
	}
	s.pos++
	switch s.peek() {
	case ']':
		s.pos++
		s.notes.count(s.record, true, "an empty geometry")
	case '[':
		s.pos++
		if c := s.peek(); c == '[' {
			s.multiLine()
			return
		}
		g := s.begin()
		s.line(g, true)
		g.endPart()
		s.drop(g)
	case '"', '{', 't', 'f', 'n':
		s.oddFirst()
	default:
		if n := s.rest(&f.point); n < 2 {
			if s.err == nil {
				s.notes.count(s.record, true, positionFault(n))
			}
			return
		}
		f.hasPoint = true
	}
}

// oddFirst reads coordinates that begin with what is neither a number nor a list: a
// line if a list follows, which only its first position is lost of, else a point.
func (s *trackScan) oddFirst() {
	s.skip()
	if s.err != nil {
		return
	}
	s.notes.count(s.record, true, positionFault(noPosition))
	if s.peek() == ',' {
		s.pos++
	}
	if s.peek() == '[' {
		g := s.begin()
		g.add(nowhere, nowhere, &values{}) // see line
		s.line(g, false)
		g.endPart()
		return
	}
	for first := true; s.item(first); first = false {
		s.skip()
	}
}

func (s *trackScan) begin() *growing {
	g := &growing{record: s.record}
	s.tracks = append(s.tracks, g)
	return g
}

// drop takes the last track out again if nothing came into it.
func (s *trackScan) drop(g *growing) {
	if g.fixes() == 0 {
		s.tracks = s.tracks[:len(s.tracks)-1]
		s.notes.count(s.record, true, "an empty geometry")
	}
}

// line reads positions up to the closing bracket of their list. inside: the
// bracket of the first position has been taken.
func (s *trackScan) line(g *growing, inside bool) {
	var xy [3]float64
	var none, high values
	for first := true; ; first = false {
		n := 0
		if inside && first {
			n = s.rest(&xy)
		} else {
			if !s.item(first) {
				return
			}
			n = s.position(&xy)
		}
		if s.err != nil {
			return
		}
		if n < 2 {
			s.notes.count(s.record, true, positionFault(n))
			// Kept as no place on Earth, so that lists of times still fit; left out at the end.
			xy = [3]float64{nowhere, nowhere, math.NaN()}
		}
		v := &none
		if !math.IsNaN(xy[2]) {
			high.set(heightColumn, xy[2])
			v = &high
		}
		g.add(xy[0], xy[1], v)
	}
}

// positionFault says what is wrong with a position of n numbers.
func positionFault(n int) string {
	if n == noPosition {
		return "a position that is no list of numbers: longitude and latitude are wanted"
	}
	return fmt.Sprintf("a position of %d numbers: longitude and latitude are wanted", n)
}

// nowhere is a coordinate that is no place on Earth in any system.
const nowhere = 1e300

// multiLine reads a list of lines; two brackets have been taken and a third is
// next.
func (s *trackScan) multiLine() {
	s.pos++
	if s.peek() == '[' { // a MultiPolygon
		first := true
		for range 3 {
			for s.item(first) {
				s.skip()
				first = false
			}
			first = false
		}
		s.notes.count(s.record, true, "a MultiPolygon is no track: left out")
		return
	}
	g := s.begin()
	s.line(g, true)
	g.endPart()
	for s.item(false) {
		if s.peek() != '[' {
			s.skip()
			s.notes.count(s.record, true, "a line that is no list of positions")
			continue
		}
		s.pos++
		s.line(g, false)
		g.endPart()
	}
	s.drop(g)
}
