package vector

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/paulmach/orb"
)

// WriteGPX writes layers as GPX 1.1 for a phone or a hand-held receiver: points
// become waypoints, lines become routes, each named by its label with its
// numbers in the description. GPX has no areas: a layer of areas is an error,
// and Places gives the points of strips.
//
// at is the time of the file, left out if zero. A waypoint has a time if its
// layer has one (the first property that holds an Instant). Degrees have as
// many digits as read back to the same number.
func WriteGPX(w io.Writer, name string, layers []Layer, at time.Time) error {
	if err := checkAll(layers); err != nil {
		return err
	}
	for _, l := range layers {
		if l.Kind == Areas {
			return &LayerError{Layer: l.Name, What: "GPX has no areas: points or lines are wanted"}
		}
	}
	g := gpx{newMarkup(w)}
	g.raw(`<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="balk">`)
	g.head(name, layers, at)
	for _, l := range layers { // the schema wants all waypoints before all routes
		if l.Kind == Points {
			g.waypoints(l)
		}
	}
	for _, l := range layers {
		if l.Kind == Lines {
			g.routes(l)
		}
	}
	g.raw("\n</gpx>\n")
	return g.close()
}

type gpx struct{ markup }

func (g gpx) head(name string, layers []Layer, at time.Time) {
	g.raw("\n<metadata>")
	g.element("name", name)
	var about []string
	var box orb.Bound
	there := false
	for _, l := range layers {
		if s := l.aboutIt(); s != "" {
			about = append(about, l.title()+": "+s)
		}
		b, ok := l.bound()
		switch {
		case ok && there:
			box = box.Union(b)
		case ok:
			box, there = b, true
		}
	}
	g.element("desc", strings.Join(about, "\n"))
	if !at.IsZero() {
		g.element("time", at.UTC().Format(time.RFC3339Nano))
	}
	if there {
		g.raw(fmt.Sprintf(`<bounds minlat="%s" minlon="%s" maxlat="%s" maxlon="%s"/>`,
			appendShortest(nil, box.Min[1]), appendShortest(nil, box.Min[0]), appendShortest(nil, box.Max[1]), appendShortest(nil, box.Max[0])))
	}
	g.raw("</metadata>")
}

func (g gpx) waypoints(l Layer) {
	for _, f := range l.Features {
		p, ok := f.Geometry.(orb.Point)
		if !ok {
			continue // check lets only points through
		}
		g.point("wpt", p)
		for i, c := range l.Columns {
			if t, ok := f.Row[i].(time.Time); ok && c.Holds == Instant {
				g.element("time", t.UTC().Format(time.RFC3339Nano))
				break
			}
		}
		g.names(l, f)
		g.raw("</wpt>")
	}
}

func (g gpx) routes(l Layer) {
	for _, f := range l.Features {
		var parts orb.MultiLineString
		switch s := f.Geometry.(type) {
		case orb.LineString:
			parts = orb.MultiLineString{s}
		case orb.MultiLineString:
			parts = s
		}
		for _, s := range parts { // a route has one part
			g.raw("\n<rte>")
			g.names(l, f)
			for _, p := range s {
				g.point("rtept", p)
				g.raw("</rtept>")
			}
			g.raw("</rte>")
		}
	}
}

// names writes name, desc and type, which have this order in both.
func (g gpx) names(l Layer, f Feature) {
	g.element("name", l.labelOf(f.Row))
	g.element("desc", strings.Join(l.sentences(f.Row), "; "))
	g.element("type", l.title())
}

func (g gpx) point(tag string, p orb.Point) {
	b := append([]byte("\n<"), tag...)
	b = appendShortest(append(b, ` lat="`...), p[1])
	b = appendShortest(append(b, `" lon="`...), p[0])
	g.bytes(append(b, `">`...))
}
