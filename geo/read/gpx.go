package read

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strings"

	"balk/geo"
)

// GPXTracks reads tracks from GPX 1.0 or 1.1. file is the name for messages, and
// findings give the line as record.
//
// A trk is a track and a trkseg a part of it, never bridged. Of a trkpt are read
// lat and lon, time, speed (m/s) and course (degrees from true north) as GPX 1.0
// has them and extensions of 1.1 repeat them, fix, hdop, and the work state from extensions. Routes and waypoints
// were not driven and are left out with a finding. The file is read as a stream.
func GPXTracks(r io.Reader, file string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	notes := o.notes(file)
	g := gpx{xmlWalk: newXMLWalk(r), notes: &notes, states: newStateJudge(o), planned: o.planned}
	err := g.walk(g.start, g.end)
	return finishXML(g.tracks, &notes, &g.states, g.xmlWalk, err, "a track is a trk with trkseg and trkpt")
}

// gpx is the state of reading a GPX text.
type gpx struct {
	*xmlWalk
	notes  *tally
	states stateJudge
	tracks []*growing
	one    *growing // the track at hand; nil: none
	v      values   // of the point at hand
	at     [2]float64

	inPoint, placed bool
	ours            bool // balk wrote it
	planned         bool // routes are wanted as well
}

func (g *gpx) begin() {
	g.one = &growing{record: g.line()}
	g.tracks = append(g.tracks, g.one)
}

// isState says whether an element of a point is its work state.
func (g *gpx) isState(name string) bool {
	return g.states.column([]byte(name), columnOf([]byte(name))) == stateColumn
}

// undriven notes routes and waypoints.
func (g *gpx) undriven(layer string, lost bool, what string) {
	if g.ours {
		g.notes.leaveOwn(g.line(), layer)
		return
	}
	g.notes.count(g.line(), lost, what)
}

func (g *gpx) start(e xml.StartElement) bool {
	switch e.Name.Local {
	case "gpx":
		for _, a := range e.Attr {
			g.ours = g.ours || a.Name.Local == "creator" && a.Value == ownMark
		}
	case "trk":
		g.begin()
	case "rte":
		if g.planned {
			g.begin()
			break
		}
		g.undriven("routes", true, "a route was not driven: left out")
	case "trkseg":
		if g.one != nil {
			g.one.endPart()
		}
	case "trkpt", "rtept":
		if e.Name.Local == "rtept" && !g.planned {
			return false
		}
		if g.one == nil {
			g.begin()
		}
		g.v, g.inPoint, g.placed = values{}, true, gpxPlace(e, &g.at)
		if !g.placed {
			g.notes.count(g.line(), true, "a trkpt without lat and lon that are numbers: left out")
		}
	case "wpt":
		g.undriven("places", false, "a waypoint is no track: left out")
	case "name":
		return g.parent(1) == "trk" || g.planned && g.parent(1) == "rte"
	case "time", "speed", "course", "fix", "hdop", "ele":
		return g.inPoint
	}
	if g.inPoint {
		for _, a := range e.Attr { // as extensions may have it
			if g.within("extensions") && g.isState(a.Name.Local) {
				g.v.work(g.states.code([]byte(a.Value), g.line()))
			}
		}
	}
	return g.inPoint && g.isState(e.Name.Local)
}

func (g *gpx) end(name string, text []byte) {
	switch {
	case name == "trkpt", name == "rtept":
		if g.inPoint && g.placed {
			g.one.add(g.at[0], g.at[1], &g.v)
		}
		g.inPoint = false
	case name == "trkseg" && g.one != nil:
		g.one.endPart()
	case name == "trk", name == "rte":
		g.one = nil
	case name == "name" && text != nil && g.one != nil:
		g.one.name = strings.ToValidUTF8(string(text), "\uFFFD")
	case g.inPoint && text != nil && g.isState(name):
		g.v.work(g.states.code(text, g.line()))
	case g.inPoint && text != nil:
		gpxValue(&g.v, name, text, g.line(), g.notes)
	}
}

// finishXML gives the tracks of an XML file, whole or broken off.
func finishXML(tracks []*growing, notes *tally, states *stateJudge, w *xmlWalk, err error, hint string) ([]geo.Track, []geo.Finding, error) {
	if err != nil {
		if err := notes.brokeOff(w.line(), fixesOf(tracks), err); err != nil {
			return nil, nil, err
		}
	}
	notes.tellSpeed(tracks, "", false)
	return finishTracks(tracks, notes, states, nil, hint, false)
}

// gpxPlace reads the attributes of a point.
func gpxPlace(e xml.StartElement, at *[2]float64) bool {
	found := 0
	for _, a := range e.Attr {
		i := 0
		switch a.Name.Local {
		case "lon":
		case "lat":
			i = 1
		default:
			continue
		}
		v, _, _, ok := decimal([]byte(strings.TrimSpace(a.Value)))
		if !ok || strings.Contains(a.Value, ",") {
			return false
		}
		at[i] = v
		found |= 1 << i
	}
	return found == 3
}

// gpxValue reads an element of a point.
func gpxValue(v *values, name string, text []byte, line int, notes *tally) {
	if len(text) == 0 {
		return
	}
	c := map[string]column{"time": timeColumn, "speed": speedColumn, "course": courseColumn, "fix": qualityColumn, "hdop": hdopColumn, "ele": heightColumn}[name]
	x, zoned, ok := notes.columnText(c, text)
	if c == timeColumn && ok && !bytes.ContainsRune(text, ':') {
		ok = false // a time is a dateTime
	}
	if !ok {
		notes.countAs(line, c != heightColumn, "misread "+name, fmt.Sprintf("%s %s is not understood or out of range", name, inQuotes(text)))
		return
	}
	if !zoned {
		x = notes.unzoned(line, x)
	}
	v.set(c, x)
}
