package vector

import (
	"fmt"
	"html"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/paulmach/orb"
)

// kmlHead opens a document of KML 2.2 (OGC 07-147r2).
const kmlHead = `<kml xmlns="http://www.opengis.net/kml/2.2">` + "\n<Document>"

// WriteKML writes layers as KML 2.2, a folder per layer with its style. Every
// feature is a Placemark named by its label; its numbers stand in the balloon and
// as Data. Shapes lie on the ground (clampToGround), longitude first, outer
// rings counter-clockwise, degrees with as many digits as read back to the same
// number. It streams.
func WriteKML(w io.Writer, name string, layers []Layer) error {
	if err := checkAll(layers); err != nil {
		return err
	}
	k := kml{markup: newMarkup(w)}
	k.raw(kmlHead)
	k.element("name", name)
	for _, l := range layers {
		k.style(l)
	}
	for _, l := range layers {
		k.folder(l)
	}
	k.raw("\n</Document>\n</kml>\n")
	return k.close()
}

// WriteKMZ writes WriteKML's file packed (doc.kml in a zip), dated at; zero = without a date.
func WriteKMZ(w io.Writer, name string, layers []Layer, at time.Time) error {
	return Zip(w, []Part{{"doc.kml", func(w io.Writer) error { return WriteKML(w, name, layers) }}}, at)
}

type kml struct {
	markup
	buf []byte
}

// style writes how a layer looks. KML has neither dashes nor patterns.
func (k *kml) style(l Layer) {
	line := kmlColour(l.Style.Line, 1)
	k.raw("\n<Style id=\"", l.Name, "\"><IconStyle><color>", line, "</color></IconStyle><LineStyle><color>", line, "</color><width>",
		strconv.FormatFloat(max(1, l.Style.Width), 'f', -1, 64), "</width></LineStyle><PolyStyle>")
	if l.Style.Fill == "" {
		k.raw("<fill>0</fill>")
	} else {
		k.raw("<color>", kmlColour(l.Style.Fill, l.Style.Cover), "</color>")
	}
	k.raw("</PolyStyle><BalloonStyle><text>&lt;b&gt;$[name]&lt;/b&gt;&lt;br/&gt;$[description]</text></BalloonStyle></Style>")
}

// kmlColour turns #RRGGBB, which check has seen, into KML's aabbggrr.
func kmlColour(rgb string, cover float64) string {
	v, _ := colour(rgb)
	return fmt.Sprintf("%02x%02x%02x%02x", int(math.Round(255*cover)), v&0xff, v>>8&0xff, v>>16)
}

func (k *kml) folder(l Layer) {
	k.raw("\n<Folder>")
	k.element("name", l.title())
	hidden := ""
	if l.Hidden {
		hidden = "<visibility>0</visibility>" // in the folder and in each of its places: programs look at either
	}
	k.raw(hidden)
	k.element("description", html.EscapeString(l.aboutIt()))
	for _, f := range l.Features {
		k.raw("\n<Placemark>")
		k.element("name", l.labelOf(f.Row))
		k.raw(hidden)
		var lines []string
		for _, s := range l.sentences(f.Row) { // a description is HTML
			lines = append(lines, strings.ReplaceAll(html.EscapeString(s), "\n", "<br/>"))
		}
		k.element("description", strings.Join(lines, "<br/>"))
		k.raw("<styleUrl>#", l.Name, "</styleUrl>")
		k.data(l, f.Row)
		k.geometry(f.Geometry)
		k.raw("</Placemark>")
	}
	k.raw("\n</Folder>")
}

func (k *kml) data(l Layer, row []any) {
	if len(row) == 0 {
		return
	}
	k.raw("<ExtendedData>")
	for i, c := range l.Columns {
		if row[i] == nil {
			continue
		}
		k.raw(`<Data name="`, c.Name, `">`)
		k.element("displayName", c.title())
		k.raw("<value>")
		k.text(c.text(row[i]))
		k.raw("</value></Data>")
	}
	k.raw("</ExtendedData>")
}

func (k *kml) geometry(g orb.Geometry) {
	switch g := g.(type) {
	case orb.Polygon:
		k.polygon(g)
	case orb.MultiPolygon:
		k.raw("<MultiGeometry>")
		for _, p := range g {
			k.polygon(p)
		}
		k.raw("</MultiGeometry>")
	case orb.LineString:
		k.line(g)
	case orb.MultiLineString:
		k.raw("<MultiGeometry>")
		for _, s := range g {
			k.line(s)
		}
		k.raw("</MultiGeometry>")
	case orb.Point:
		k.raw("<Point>", clamped)
		k.coordinates([]orb.Point{g})
		k.raw("</Point>")
	}
}

const clamped = "<altitudeMode>clampToGround</altitudeMode>"

func (k *kml) polygon(p orb.Polygon) {
	k.raw("<Polygon>", clamped)
	for i, r := range p {
		tag := "innerBoundaryIs"
		if i == 0 {
			tag = "outerBoundaryIs"
		}
		k.raw("<", tag, "><LinearRing>")
		k.coordinates(r)
		k.raw("</LinearRing></", tag, ">")
	}
	k.raw("</Polygon>")
}

func (k *kml) line(s orb.LineString) {
	k.raw("<LineString><tessellate>1</tessellate>", clamped)
	k.coordinates(s)
	k.raw("</LineString>")
}

func (k *kml) coordinates(pts []orb.Point) {
	k.raw("<coordinates>")
	for i, p := range pts {
		k.buf = k.buf[:0]
		if i > 0 {
			k.buf = append(k.buf, ' ')
		}
		k.buf = append(appendShortest(k.buf, p[0]), ',')
		k.bytes(appendShortest(k.buf, p[1]))
	}
	k.raw("</coordinates>")
}
