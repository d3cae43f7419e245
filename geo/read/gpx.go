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
	notes, states := o.notes(file), newStateJudge(o)
	w := newXMLWalk(r)
	var tracks []*growing
	var g *growing
	var v values
	var at [2]float64
	inPoint, placed, ours := false, false, false
	begin := func() {
		g = &growing{record: w.line()}
		tracks = append(tracks, g)
	}
	err := w.walk(func(e xml.StartElement) bool {
		switch e.Name.Local {
		case "gpx":
			for _, a := range e.Attr {
				ours = ours || a.Name.Local == "creator" && a.Value == ownMark
			}
		case "trk":
			begin()
		case "trkseg":
			if g != nil {
				g.endPart()
			}
		case "trkpt":
			if g == nil {
				begin()
			}
			v, inPoint, placed = values{}, true, gpxPlace(e, &at)
			if !placed {
				notes.count(w.line(), true, "a trkpt without lat and lon that are numbers: left out")
			}
		case "rte":
			if ours {
				notes.leaveOwn(w.line(), "routes")
				break
			}
			notes.count(w.line(), true, "a route was not driven: left out")
		case "wpt":
			if ours {
				notes.leaveOwn(w.line(), "places")
				break
			}
			notes.count(w.line(), false, "a waypoint is no track: left out")
		case "name":
			return w.parent(1) == "trk"
		case "time", "speed", "course", "fix", "hdop":
			return inPoint
		}
		return inPoint && states.column([]byte(e.Name.Local), columnOf([]byte(e.Name.Local))) == stateColumn
	}, func(name string, text []byte) {
		switch {
		case name == "trkpt":
			if inPoint && placed {
				g.add(at[0], at[1], &v)
			}
			inPoint = false
		case name == "trkseg" && g != nil:
			g.endPart()
		case name == "trk":
			g = nil
		case name == "name" && text != nil && g != nil:
			g.name = strings.ToValidUTF8(string(text), "\uFFFD")
		case inPoint && text != nil && states.column([]byte(name), columnOf([]byte(name))) == stateColumn:
			v.work(states.code(text, w.line()))
		case inPoint && text != nil:
			gpxValue(&v, name, text, w.line(), &notes)
		}
	})
	return finishXML(tracks, &notes, &states, w, err, "a track is a trk with trkseg and trkpt")
}

// finishXML gives the tracks of an XML file, whole or broken off.
func finishXML(tracks []*growing, notes *tally, states *stateJudge, w *xmlWalk, err error, hint string) ([]geo.Track, []geo.Finding, error) {
	if err != nil {
		if err := notes.brokeOff(w.line(), fixesOf(tracks), err); err != nil {
			return nil, nil, err
		}
	}
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
	c := map[string]column{"time": timeColumn, "speed": speedColumn, "course": courseColumn, "fix": qualityColumn, "hdop": hdopColumn}[name]
	x, zoned, ok := columnText(c, text)
	if c == timeColumn && ok && !bytes.ContainsRune(text, ':') {
		ok = false // a time is a dateTime
	}
	if !ok {
		notes.count(line, true, fmt.Sprintf("%s %s is not understood or out of range", name, inQuotes(text)))
		return
	}
	if !zoned {
		x = notes.unzoned(line, x)
	}
	v.set(c, x)
}
