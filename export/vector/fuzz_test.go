package vector

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"io"
	"math"
	"os"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf8"

	"balk/geo/read"

	"github.com/paulmach/orb"
)

// FuzzTexts writes any name, any number and any place in every format that is text: what comes out
// is well-formed and reads back the same, but for characters that the format
// cannot hold, which become U+FFFD.
func FuzzTexts(f *testing.F) {
	for i, s := range wild {
		f.Add(s, wild[(i+1)%len(wild)], float64(i)*1.25e-3, float64(i)*17-170, 48.0)
	}
	f.Add("\x00\x0b\xff", "\r\n", math.Copysign(0, -1), 180.0, -90.0)
	f.Add("two bytes \xc3\x28\xff\xfe", "a", 1.5, 11.0, 48.0)
	f.Add("\ufffe", "", math.MaxFloat64, -180.0, 90.0)
	f.Add("'''=", strings.Repeat("ö", 33), math.SmallestNonzeroFloat64, 5e-324, 1e-9)
	f.Fuzz(func(t *testing.T, name, cause string, number, lon, lat float64) {
		l := Layer{Name: "spots", Title: name, Kind: Points, Label: "name",
			Columns:  []Property{{Name: "name", Title: cause, Holds: Words}, {Name: "cause", Holds: Words}, {Name: "number", Holds: Number, Decimals: 15}},
			Features: []Feature{{orb.Point{lon, lat}, []any{name, cause, number}}}}
		if !onEarth(orb.Point{lon, lat}) || math.IsNaN(number) || math.IsInf(number, 0) {
			dir := t.TempDir()
			for _, w := range writers() {
				if err := w.write(dir, l, io.Discard); err == nil {
					t.Errorf("%s: %v, %v: no error", w.name, number, orb.Point{lon, lat})
				}
			}
			return
		}
		fuzzTable(t, l)
		fuzzGPX(t, l)
		fuzzKML(t, l)
		fuzzTaskData(t, name, cause)
		fuzzShapefile(t, name)
	})
}

// formula is a second opinion on what gets an apostrophe.
var formula = regexp.MustCompile(`^'*[=+@\t\r-]`)

func fuzzTable(t *testing.T, l Layer) {
	for _, o := range []CSV{{}, {BOM: true, DecimalComma: true}} {
		text := bytes.TrimPrefix(writtenBytes(t, func(w io.Writer) error { return WriteCSV(w, l, o) }), []byte("\uFEFF"))
		c := csv.NewReader(bytes.NewReader(text))
		if o.DecimalComma {
			c.Comma = ';'
		}
		rows, err := c.ReadAll()
		if err != nil || len(rows) != 2 {
			t.Fatalf("%d rows of %q: %v", len(rows), text, err)
		}
		for i, v := range l.Features[0].Row[:2] {
			got := rows[1][i]
			if got != "" && strings.ContainsAny(got[:1], "=+-@\t\r") {
				t.Errorf("a spreadsheet takes %q for a formula", got)
			}
			want := wellFormed(v.(string))
			if formula.MatchString(want) {
				want = "'" + want
			}
			// That reader gives LF for CR LF.
			if want = strings.ReplaceAll(want, "\r\n", "\n"); got != want {
				t.Errorf("%q, want %q", got, want)
			}
		}
		if strings.Contains(rows[1][2], ",") != o.DecimalComma {
			t.Errorf("number %q with %+v", rows[1][2], o)
		}
	}
}

func fuzzGPX(t *testing.T, l Layer) {
	text := writtenBytes(t, func(w io.Writer) error { return WriteGPX(w, l.Title, []Layer{l}, at) })
	var g gpxFile
	if err := xml.Unmarshal(text, &g); err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	want := xmlText(l.Features[0].Row[0].(string))
	if p := g.Wpt[0]; g.Metadata.Name != want || p.Name != want || (orb.Point{p.Lon, p.Lat}) != l.Features[0].Geometry {
		t.Errorf("%+v, want %q at %v", g, want, l.Features[0].Geometry)
	}
}

func fuzzKML(t *testing.T, l Layer) {
	text := writtenBytes(t, func(w io.Writer) error { return WriteKML(w, l.Title, []Layer{l, named([]string{l.Title})}) })
	var k kmlFile
	if err := xml.Unmarshal(text, &k); err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	name, cause := xmlText(l.Features[0].Row[0].(string)), xmlText(l.Features[0].Row[1].(string))
	if p := k.Document.Folder[0].Placemark[0]; k.Document.Name != name || p.Name != name || p.Data[0].Value != name || p.Data[1].Value != cause {
		t.Errorf("%+v, want %q and %q", p, name, cause)
	}
	fields, _, err := read.KMLFields(bytes.NewReader(text), "fuzz.kml", read.Options{})
	if err != nil || len(fields) != 1 || fields[0].Name != trimmed(name) {
		t.Errorf("our reader has %v (%v), want the name %q", fields, err, trimmed(name))
	}
}

// trimmed is what our readers leave of a text: they take blanks and control
// characters off its ends.
func trimmed(s string) string { return strings.TrimFunc(s, func(r rune) bool { return r <= ' ' }) }

func fuzzTaskData(t *testing.T, name, customer string) {
	square := orb.MultiPolygon{{{{11, 48}, {11.01, 48}, {11.01, 48.01}, {11, 48.01}, {11, 48}}}}
	var b bytes.Buffer
	findings, err := WriteISOXML(&b, TaskData{Customer: customer, Fields: []TaskField{{Name: name, Boundary: square, Guidance: []Layer{straight()}}}})
	if err != nil {
		t.Fatal(err)
	}
	f := isoOf(t, b.Bytes())
	want := xmlText(strings.ToValidUTF8(name, "\uFFFD"))
	long := 0
	for _, s := range []string{name, customer} {
		if utf8.RuneCountInString(strings.ToValidUTF8(s, "\uFFFD")) > 32 {
			long++
		}
	}
	if len(findings) != long {
		t.Errorf("findings %v for %d long names", findings, long)
	}
	switch got := f.PFD[0].C; {
	case name == "":
		want = "field 1"
	case long > 0 && utf8.RuneCountInString(want) > 32:
		want = string([]rune(want)[:31]) + "…"
		fallthrough
	default:
		if got != want {
			t.Errorf("designator %q, want %q", got, want)
		}
	}
	fields, _, err := read.ISOXMLFields(fstest.MapFS{"TASKDATA.XML": {Data: b.Bytes()}}, "TASKDATA.XML", "TASKDATA.XML", read.Options{})
	if err != nil || len(fields) != 1 {
		t.Fatalf("our reader: %d fields (%v) of %q", len(fields), err, b.Bytes())
	}
	if got := strings.TrimSpace(want); got != "" && fields[0].Name != got {
		t.Errorf("our reader has %q, want %q", fields[0].Name, got)
	}
}

func fuzzShapefile(t *testing.T, name string) {
	dir := t.TempDir()
	want := wellFormed(name)
	if err := writeShapefile(dir, "fuzz", named([]string{name}), at); err != nil {
		t.Fatal(err)
	}
	fields, _, err := read.ShapefileFields(os.DirFS(dir), "fuzz.shp", "fuzz.shp", read.Options{})
	if len(want) > maxDBFText { // cut between letters, with "…" at its end
		if err != nil || len(fields) != 1 {
			t.Fatalf("our reader has %v (%v)", fields, err)
		}
		got, cut := strings.CutSuffix(fields[0].Name, "…")
		if !cut || !utf8.ValidString(got) || len(fields[0].Name) > maxDBFText || !strings.HasPrefix(strings.TrimSpace(want), strings.TrimSpace(got)) {
			t.Errorf("our reader has %q, want the beginning of %q", fields[0].Name, want)
		}
		return
	}
	if err != nil || len(fields) != 1 || strings.TrimSpace(fields[0].Name) != strings.TrimSpace(want) {
		t.Errorf("our reader has %v (%v), want the name %q", fields, err, want)
	}
}
