package vector

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/paulmach/orb"
)

type kmlFile struct {
	Version  string `xml:"version,attr"`
	Document struct {
		Name  string `xml:"name"`
		Style []struct {
			ID   string `xml:"id,attr"`
			Line string `xml:"LineStyle>color"`
			Area string `xml:"PolyStyle>color"`
			Fill string `xml:"PolyStyle>fill"`
		} `xml:"Style"`
		Folder []struct {
			Name        string `xml:"name"`
			Description string `xml:"description"`
			Placemark   []struct {
				Name        string `xml:"name"`
				Description string `xml:"description"`
				Style       string `xml:"styleUrl"`
				Data        []struct {
					Name  string `xml:"name,attr"`
					Value string `xml:"value"`
				} `xml:"ExtendedData>Data"`
				Mode string `xml:"Polygon>altitudeMode"`
			} `xml:"Placemark"`
		} `xml:"Folder"`
	} `xml:"Document"`
}

func TestKMLHasFoldersStylesAndNumbers(t *testing.T) {
	layers, err := LayersOf(strips(3))
	if err != nil {
		t.Fatal(err)
	}
	text := writtenBytes(t, func(w io.Writer) error { return WriteKML(w, "the <farm>", append(layers, named(wild))) })
	wellFormedXML(t, "KML", text)
	var k kmlFile
	if err := xml.Unmarshal(text, &k); err != nil {
		t.Fatal(err)
	}
	d := k.Document
	if d.Name != "the <farm>" || len(d.Folder) != 9 || len(d.Style) != 9 || d.Folder[5].Name != "Unknown (log gap)" || len(d.Folder[5].Placemark) != 0 {
		t.Fatalf("name %q, %d folders, %d styles", d.Name, len(d.Folder), len(d.Style))
	}
	// #C2247F at 0.8, as aabbggrr; the boundary is not filled.
	if s := d.Style[7]; s.ID != "missed" || s.Line != "ff7f24c2" || s.Area != "cc7f24c2" {
		t.Errorf("style %+v", s)
	}
	if s := d.Style[0]; s.Fill != "0" {
		t.Errorf("the field is filled: %+v", s)
	}
	missed := d.Folder[7]
	if want := "missed in all: 20.00 m²; slivers too narrow to list: 4; their area: 0.50 m²; strips that are only possible, not listed: 0; their area: 0.00 m²"; missed.Description != want {
		t.Errorf("folder says %q, want %q", missed.Description, want)
	}
	p := missed.Placemark[1]
	if p.Name != "2" || p.Style != "#missed" || p.Mode != "clampToGround" {
		t.Errorf("placemark %+v", p)
	}
	if want := "area: 4.57 m²<br/>length: 20.00 m<br/>mean width: 0.229 m<br/>greatest width: 0.229 m<br/>bearing from true north: 72.8 °<br/>likely cause: lifted early or lowered late<br/>between passes: 1 2<br/>to get there: no pass beside it<br/>planned passes not driven: none<br/>how sure: not known<br/>certainly missed: 0.00 m²<br/>likely missed, certain included: 0.00 m²<br/>in the headland: no"; !strings.HasPrefix(p.Description, want) {
		t.Errorf("balloon %q, want %q ...", p.Description, want)
	}
	for i, q := range d.Folder[8].Placemark {
		if q.Name != wild[i] || q.Data[0].Name != "name" || q.Data[0].Value != wild[i] {
			t.Errorf("name %q, data %v, want %q", q.Name, q.Data, wild[i])
		}
		if strings.Contains(q.Description, "<b>") {
			t.Errorf("a name becomes markup: %q", q.Description)
		}
	}
	packed := writtenBytes(t, func(w io.Writer) error { return WriteKMZ(w, "the <farm>", append(layers, named(wild)), at) })
	z, err := zip.NewReader(bytes.NewReader(packed), int64(len(packed)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := z.Open("doc.kml")
	if err != nil {
		t.Fatal(err)
	}
	inside, err := io.ReadAll(f)
	if err != nil || !bytes.Equal(inside, text) || !z.File[0].Modified.Equal(at) {
		t.Errorf("KMZ: %d bytes of %v, want %d of %v (%v)", len(inside), z.File[0].Modified, len(text), at, err)
	}
}

func TestColours(t *testing.T) {
	for rgb, want := range map[string]string{"#000000": "80000000", "#FF0000": "800000ff", "#0000ff": "80ff0000", "": "80000000"} {
		if got := kmlColour(rgb, 0.5); got != want {
			t.Errorf("%q: %q, want %q", rgb, got, want)
		}
	}
	for name, s := range map[string]Style{
		"a word": {Line: "red"}, "three digits": {Line: "#FFF"}, "no digits": {Fill: "#GG0000"}, "no mark": {Fill: "FF00000"}, "a sign": {Line: "#-12345"},
		"seven digits": {Line: "#1234567"}, "a fill that covers twice": {Cover: 2}, "a width of NaN": {Width: math.NaN()}, "a negative width": {Width: -1},
	} {
		var broken *LayerError
		if err := WriteKML(io.Discard, "", []Layer{{Name: "a", Kind: Areas, Style: s}}); !errors.As(err, &broken) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

type gpxFile struct {
	Version  string `xml:"version,attr"`
	Metadata struct {
		Name   string `xml:"name"`
		Desc   string `xml:"desc"`
		Time   string `xml:"time"`
		Bounds struct {
			MinLat float64 `xml:"minlat,attr"`
			MaxLon float64 `xml:"maxlon,attr"`
		} `xml:"bounds"`
	} `xml:"metadata"`
	Wpt []gpxPoint `xml:"wpt"`
	Rte []struct {
		Name string     `xml:"name"`
		Desc string     `xml:"desc"`
		Pt   []gpxPoint `xml:"rtept"`
	} `xml:"rte"`
}

type gpxPoint struct {
	Lat  float64 `xml:"lat,attr"`
	Lon  float64 `xml:"lon,attr"`
	Time string  `xml:"time"`
	Name string  `xml:"name"`
	Desc string  `xml:"desc"`
	Type string  `xml:"type"`
}

func gpxOf(t *testing.T, name string, layers []Layer, at time.Time) (g gpxFile) {
	t.Helper()
	text := writtenBytes(t, func(w io.Writer) error { return WriteGPX(w, name, layers, at) })
	wellFormedXML(t, "GPX", text)
	if err := xml.Unmarshal(text, &g); err != nil {
		t.Fatal(err)
	}
	return g
}

func TestGPXHasWaypointsAndRoutes(t *testing.T) {
	places, err := Places(strips(4), nil)
	if err != nil {
		t.Fatal(err)
	}
	g := gpxOf(t, "Длинное & co", []Layer{guidance(), places}, at)
	if g.Version != "1.1" || g.Metadata.Name != "Длинное & co" || g.Metadata.Time != "2026-04-15T10:30:00Z" || !strings.Contains(g.Metadata.Desc, "missed in all: 20.00 m²") {
		t.Errorf("metadata %+v", g.Metadata)
	}
	if g.Metadata.Bounds.MinLat != 48 || g.Metadata.Bounds.MaxLon < 11.5 {
		t.Errorf("bounds %+v", g.Metadata.Bounds)
	}
	if len(g.Wpt) != 4 || len(g.Rte) != 4 {
		t.Fatalf("%d waypoints, %d routes: want 4 and 4", len(g.Wpt), len(g.Rte))
	}
	for i, w := range g.Wpt {
		if p := (orb.Point{w.Lon, w.Lat}); p != places.Features[i].Geometry {
			t.Errorf("waypoint %d at %v, want %v", i, p, places.Features[i].Geometry)
		}
		if w.Time != "" {
			t.Errorf("waypoint %d has the time %q, which nobody knows", i, w.Time)
		}
	}
	if w := g.Wpt[1]; w.Name != "2" || !strings.HasPrefix(w.Desc, "area: 4.57 m²; length: 20.00 m; mean width: 0.229 m") || !strings.Contains(w.Desc, "likely cause: lifted early or lowered late") {
		t.Errorf("waypoint %+v", w)
	}
	if r := g.Rte[1]; r.Name != "curve" || len(r.Pt) != 3 || r.Pt[1].Lat != 48.0025 {
		t.Errorf("route %+v", r)
	}
	if g.Rte[2].Name != "two parts" || g.Rte[3].Name != "two parts" || g.Rte[3].Pt[0].Lon != 11.002 {
		t.Errorf("routes of two parts: %+v", g.Rte[2:])
	}
	if gpxOf(t, "", nil, time.Time{}).Metadata.Time != "" {
		t.Error("a time that was not given")
	}
	timed := Layer{Name: "spots", Kind: Points, Columns: []Property{{Name: "when", Holds: Instant}}, Features: []Feature{{orb.Point{11, 48}, []any{at}}, {orb.Point{11, 48}, []any{nil}}}}
	if g := gpxOf(t, "", []Layer{timed}, time.Time{}); g.Wpt[0].Time != "2026-04-15T10:30:00Z" || g.Wpt[1].Time != "" {
		t.Errorf("times %+v", g.Wpt)
	}
}

// The characters that XML cannot hold are replaced, the rest stays.
func TestTextsSurviveXML(t *testing.T) {
	l := Layer{Name: "spots", Kind: Points, Label: "n", Columns: []Property{{Name: "n", Holds: Words}}}
	texts := append([]string{"bell \a and NUL \x00", "not UTF-8 \xff", " blanks ", "\ufffe"}, wild...)
	for _, s := range texts {
		l.Features = append(l.Features, Feature{orb.Point{11, 48}, []any{s}})
	}
	for i, w := range gpxOf(t, "", []Layer{l}, at).Wpt {
		if want := xmlText(texts[i]); w.Name != want {
			t.Errorf("%q, want %q", w.Name, want)
		}
	}
}

// xmlText is a text as XML can hold it (XML 1.0, 2.2): a second opinion for the
// escaping.
func xmlText(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\t' || r == '\n' || r == '\r' || r >= 0x20 && r <= 0xD7FF || r >= 0xE000 && r <= 0xFFFD || r >= 0x10000 {
			return r
		}
		return '\uFFFD'
	}, strings.ToValidUTF8(s, "\uFFFD"))
}
