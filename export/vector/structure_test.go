package vector

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"io"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// A collection has the box of what is in it (RFC 7946, 5): west, south, east, north; an empty one has none.
func TestGeoJSONBox(t *testing.T) {
	all := map[string][]byte{}
	for _, l := range append(sampleLayers(t), Layer{Name: "empty", Kind: Areas}) {
		all[l.Name] = writtenBytes(t, func(w io.Writer) error { return WriteGeoJSON(w, l) })
	}
	all["states"] = writtenBytes(t, func(w io.Writer) error { return writeStates(w, strips(3)) })
	boxes := 0
	for name, text := range all {
		var c struct {
			BBox     []float64
			Features []struct{ Geometry *geojson.Geometry }
		}
		if err := json.Unmarshal(text, &c); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var want []float64
		for i, f := range c.Features {
			b := f.Geometry.Geometry().Bound()
			if i > 0 {
				b = b.Union(orb.Bound{Min: orb.Point{want[0], want[1]}, Max: orb.Point{want[2], want[3]}})
			}
			want = []float64{b.Min[0], b.Min[1], b.Max[0], b.Max[1]}
		}
		if !slices.Equal(c.BBox, want) {
			t.Errorf("%s: bbox %v, want %v", name, c.BBox, want)
		}
		if c.BBox != nil {
			boxes++
		}
	}
	if boxes < 5 {
		t.Errorf("%d boxes", boxes)
	}
}

// KML says that it is 2.2, and its elements stand in the order that the schema of 2.2 (OGC 07-147r2, from memory) has them in.
func TestKMLOrder(t *testing.T) {
	order := map[string][]string{
		"Document":        {"name", "description", "Style", "Folder"},
		"Folder":          {"name", "visibility", "description", "Placemark"},
		"Placemark":       {"name", "visibility", "description", "styleUrl", "Style", "ExtendedData", "Point", "LineString", "Polygon", "MultiGeometry"},
		"Style":           {"IconStyle", "LabelStyle", "LineStyle", "PolyStyle", "BalloonStyle"},
		"LineStyle":       {"color", "colorMode", "width"},
		"PolyStyle":       {"color", "colorMode", "fill", "outline"},
		"IconStyle":       {"color", "colorMode", "scale", "heading", "Icon"},
		"Data":            {"displayName", "value"},
		"Point":           {"extrude", "altitudeMode", "coordinates"},
		"LineString":      {"extrude", "tessellate", "altitudeMode", "coordinates"},
		"Polygon":         {"extrude", "tessellate", "altitudeMode", "outerBoundaryIs", "innerBoundaryIs"},
		"outerBoundaryIs": {"LinearRing"}, "innerBoundaryIs": {"LinearRing"}, "LinearRing": {"coordinates"}, "ExtendedData": {"Data"}, "BalloonStyle": {"text"}, "kml": {"Document"},
		"MultiGeometry": {"Point", "LineString", "Polygon"},
	}
	layers := sampleLayers(t)
	layers[0].Hidden = true
	text := writtenBytes(t, func(w io.Writer) error { return WriteKML(w, "sample", layers) })
	if got, want := bytes.Count(text, []byte("<visibility>0</visibility>")), 1+len(layers[0].Features); got != want {
		t.Errorf("%d hidden, want %d", got, want)
	}
	if head := []byte(`<kml xmlns="http://www.opengis.net/kml/2.2">`); !bytes.Contains(text, head) {
		t.Errorf("it begins with %.120s", text)
	}
	type open struct {
		name string
		at   int
	}
	var path []open
	seen := map[string]int{}
	ids := map[string]bool{}
	for d := xml.NewDecoder(bytes.NewReader(text)); ; {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			name := e.Name.Local
			seen[name]++
			for _, a := range e.Attr {
				if a.Name.Local == "id" {
					if ids[a.Value] || a.Value == "" || strings.ContainsAny(a.Value[:1], "0123456789-.") {
						t.Errorf("id %q of a %s", a.Value, name)
					}
					ids[a.Value] = true
				}
			}
			if len(path) > 0 {
				in := &path[len(path)-1]
				at := slices.Index(order[in.name], name)
				if at < in.at {
					t.Fatalf("<%s> in <%s> after %d of %v", name, in.name, in.at, order[in.name])
				}
				if in.at = at; in.name == "MultiGeometry" {
					in.at = 0
				}
			}
			path = append(path, open{name, 0})
		case xml.EndElement:
			path = path[:len(path)-1]
		}
	}
	if seen["Placemark"] < 10 || seen["Polygon"] == 0 || seen["LineString"] == 0 || seen["Point"] == 0 || seen["Style"] < 5 {
		t.Errorf("seen %v", seen)
	}
}

// A name that says the layer's already is not said twice.
func TestCalledOnce(t *testing.T) {
	l := Layer{Name: "rework", Title: "Re-work", Label: "name", Columns: []Property{{Name: "name", Holds: Words}}}
	for label, want := range map[string]string{"re-work 89": "re-work 89", "89": "Re-work 89", "Re-work": "Re-work", "": "Re-work", "north": "Re-work north"} {
		if got := l.called([]any{label}); got != want {
			t.Errorf("%q: %q, want %q", label, got, want)
		}
	}
}
