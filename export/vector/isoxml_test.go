package vector

import (
	"bytes"
	"encoding/xml"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"

	"balk/geo/read"

	"github.com/paulmach/orb"
)

// isoFile is TASKDATA.XML as any reader sees it.
type isoFile struct {
	CTR []isoThing `xml:"CTR"`
	FRM []isoThing `xml:"FRM"`
	PFD []struct {
		isoThing
		PLN []isoPLN `xml:"PLN"`
		GGP []struct {
			isoThing
			GPN []struct {
				isoThing
				LSG []isoLSG `xml:"LSG"`
			} `xml:"GPN"`
		} `xml:"GGP"`
	} `xml:"PFD"`
}

type isoThing struct {
	A string `xml:"A,attr"`
	B string `xml:"B,attr"`
	C string `xml:"C,attr"`
	D string `xml:"D,attr"`
	E string `xml:"E,attr"`
	F string `xml:"F,attr"`
	I string `xml:"I,attr"`
}

type isoPLN struct {
	isoThing
	LSG []isoLSG `xml:"LSG"`
}

type isoLSG struct {
	isoThing
	PNT []isoThing `xml:"PNT"`
}

func (l isoLSG) points(t *testing.T) (out []orb.Point) {
	t.Helper()
	for _, p := range l.PNT {
		lat, err1 := strconv.ParseFloat(p.C, 64)
		lon, err2 := strconv.ParseFloat(p.D, 64)
		if err1 != nil || err2 != nil || len(p.C)-strings.IndexByte(p.C, '.') != 10 {
			t.Fatalf("point %+v: nine decimals are wanted", p)
		}
		out = append(out, orb.Point{lon, lat})
	}
	return out
}

func isoOf(t *testing.T, text []byte) (f isoFile) {
	t.Helper()
	wellFormedXML(t, "TASKDATA.XML", text)
	if err := xml.Unmarshal(text, &f); err != nil {
		t.Fatal(err)
	}
	return f
}

// Fields with names of all kinds come back from our own reader, within nine
// decimals and the areas to 1e-6.
func TestTaskDataReadsBack(t *testing.T) {
	l := named(wild)
	d := TaskData{Maker: "balk", Version: "1", Customer: "Контора & Söhne", Farm: "農場 \"Nord\""}
	for i, f := range l.Features {
		d.Fields = append(d.Fields, TaskField{Name: wild[i], Boundary: multi(f.Geometry), Area: squareMetres(f.Geometry)})
	}
	dir := t.TempDir()
	text := writtenBytes(t, func(w io.Writer) error {
		findings, err := WriteISOXML(w, d)
		if len(findings) > 0 {
			t.Errorf("findings %v", findings)
		}
		return err
	})
	if err := os.WriteFile(filepath.Join(dir, "TASKDATA.XML"), text, 0o644); err != nil {
		t.Fatal(err)
	}
	fields, findings, err := read.Fields(dir, read.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range findings {
		t.Errorf("finding %v", f)
	}
	sameFields(t, "ISO 11783-10", l, fields, 0.51e-9)
	got := isoOf(t, text)
	if got.CTR[0].A != "CTR1" || got.CTR[0].B != d.Customer || got.FRM[0].A != "FRM1" || got.FRM[0].B != d.Farm || got.FRM[0].I != "CTR1" {
		t.Errorf("customer %+v, farm %+v", got.CTR, got.FRM)
	}
	for i, f := range got.PFD {
		if f.A != "PFD"+strconv.Itoa(i+1) || f.E != "CTR1" || f.F != "FRM1" || f.C != wild[i] {
			t.Errorf("part field %d: %+v", i, f.isoThing)
		}
		if area, err := strconv.Atoi(f.D); err != nil || math.Abs(float64(area)-d.Fields[i].Area) > 0.5 {
			t.Errorf("part field %d: area %q, want %.0f", i, f.D, d.Fields[i].Area)
		}
	}
}

// In version 3 the same fields come back, and lines are LSG of type 5 of the part field, with plain points: no element of version 4 is left.
func TestTaskDataOfVersion3(t *testing.T) {
	layers, err := LayersOf(strips(9))
	if err != nil {
		t.Fatal(err)
	}
	d := TaskData{Third: true, Customer: "C", Farm: "F", Fields: []TaskField{{Name: "one", Area: 9900, Boundary: multi(layers[0].Features[0].Geometry), Zones: []Layer{layers[7]}, Guidance: []Layer{straight()}}}}
	write := func(d TaskData) string {
		return string(writtenBytes(t, func(w io.Writer) error { _, err := WriteISOXML(w, d); return err }))
	}
	third := write(d)
	d.Third = false
	fourth := write(d)
	for text, n := range map[string]int{`VersionMajor="3"`: 1, "<GGP": 0, "<GPN": 0, `<LSG A="5" B="`: strings.Count(fourth, "<GPN"), `<PLN A="2"`: strings.Count(fourth, `<PLN A="2"`), `<PNT A="6"`: 0, `<PNT A="7"`: 0, `<PNT A="9"`: 0, "<PNT": strings.Count(fourth, "<PNT")} {
		if got := strings.Count(third, text); got != n {
			t.Errorf("%s: %d times, want %d", text, got, n)
		}
	}
	if strings.Count(fourth, "<GPN") == 0 {
		t.Fatal("no line in version 4")
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "TASKDATA.XML"), []byte(third), 0o644); err != nil {
		t.Fatal(err)
	}
	fields, _, err := read.Fields(dir, read.Options{})
	if err != nil || len(fields) != 1 {
		t.Fatalf("%d fields (%v)", len(fields), err)
	}
}

func TestTaskDataHasZonesAndGuidance(t *testing.T) {
	layers, err := LayersOf(strips(9))
	if err != nil {
		t.Fatal(err)
	}
	field, missed := layers[0], layers[7]
	var b bytes.Buffer
	findings, err := WriteISOXML(&b, TaskData{Fields: []TaskField{
		{Name: "one", Area: 9900, Boundary: multi(field.Features[0].Geometry), Zones: []Layer{missed}, Guidance: []Layer{guidance(), {Name: "none", Kind: Lines}}},
		{Area: 1.6, Boundary: multi(field.Features[0].Geometry), Guidance: []Layer{straight()}},
	}})
	if err != nil || len(findings) != 1 || findings[0].Lost || !strings.Contains(findings[0].What, "layer none has no line") {
		t.Fatal(findings, err)
	}
	f := isoOf(t, b.Bytes())
	if len(f.CTR)+len(f.FRM) > 0 || f.PFD[0].E != "" || f.PFD[0].F != "" {
		t.Error("customer or farm without a name")
	}
	boundary := f.PFD[0].PLN[0]
	if boundary.A != "1" || len(boundary.LSG) != 2 || boundary.LSG[0].A != "1" || boundary.LSG[1].A != "2" {
		t.Errorf("boundary %+v: a ring outside and one inside are wanted", boundary.isoThing)
	}
	if zones := f.PFD[0].PLN[1:]; len(zones) != 9 {
		t.Errorf("%d zones, want 9", len(zones))
	} else {
		for i, z := range zones {
			var got orb.Polygon
			for _, l := range z.LSG {
				got = append(got, l.points(t))
			}
			want := missed.Features[i].Geometry.(orb.Polygon)
			if d := apart(orb.MultiPolygon{want}, orb.MultiPolygon{got}); d > 0.51e-9 {
				t.Errorf("zone %d is %g° off", i+1, d)
			}
			if area := missed.Features[i].Row[1].(float64); z.A != "2" || z.B != "Missed strips "+strconv.Itoa(i+1) || z.C != strconv.Itoa(int(math.Round(area))) {
				t.Errorf("zone %d: %+v, area %.2f", i+1, z.isoThing, area)
			}
		}
	}
	groups := f.PFD[0].GGP
	if len(groups) != 1 || groups[0].A != "GGP1" || groups[0].B != "Guidance lines" {
		t.Fatalf("groups %+v", groups)
	}
	for i, want := range []struct{ id, name, kind, points string }{
		{"GPN1", "Guidance lines A1", "1", "67"}, {"GPN2", "Guidance lines curve", "3", "697"},
		{"GPN3", "Guidance lines two parts", "1", "67"}, {"GPN4", "Guidance lines two parts", "1", "67"},
	} {
		g := groups[0].GPN[i]
		var kinds string
		for _, p := range g.LSG[0].PNT {
			kinds += p.A
		}
		if g.A != want.id || g.B != want.name || g.C != want.kind || kinds != want.points || g.LSG[0].A != "5" {
			t.Errorf("pattern %d: %+v with points %s, want %+v", i, g.isoThing, kinds, want)
		}
	}
	if p := groups[0].GPN[1].LSG[0].points(t); p[1] != (orb.Point{11.001, 48.0025}) {
		t.Errorf("the curve goes through %v", p)
	}
	if second := f.PFD[1]; second.C != "field 2" || second.D != "2" || second.GGP[0].A != "GGP2" || second.GGP[0].GPN[0].A != "GPN5" {
		t.Errorf("second field %+v: ids go on, a designator must be there", second.isoThing)
	}
}

// Task data with zones reads back as the field it is, without a word about them.
func TestZonesReadBackQuietly(t *testing.T) {
	layers, err := LayersOf(strips(9))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	text := writtenBytes(t, func(w io.Writer) error {
		_, err := WriteISOXML(w, TaskData{Fields: []TaskField{{Name: "one", Area: 9900, Boundary: multi(layers[0].Features[0].Geometry), Zones: []Layer{layers[7]}}}})
		return err
	})
	if err := os.WriteFile(filepath.Join(dir, "TASKDATA.XML"), text, 0o644); err != nil {
		t.Fatal(err)
	}
	fields, findings, err := read.Fields(dir, read.Options{})
	if err != nil || len(fields) != 1 || len(fields[0].Boundary) != 1 || len(findings) > 0 {
		t.Errorf("%d fields, findings %v, %v", len(fields), findings, err)
	}
}

// A zone has the area of its strip where the layer has one: not a part of a strip that has several, and none that is not m² of
// 31 bits.
func TestZonesHaveTheirArea(t *testing.T) {
	square := func(x float64) orb.Polygon {
		return orb.Polygon{{{x, 48}, {x + 0.001, 48}, {x + 0.001, 48.001}, {x, 48.001}, {x, 48}}}
	}
	area := Property{Name: "area_m2", Holds: Number, Decimals: 2}
	for name, c := range map[string]struct {
		column Property
		g      orb.Geometry
		v      any
		want   []string
	}{
		"rounded up":                {area, square(11), 8.5001, []string{"9"}},
		"rounded down":              {area, square(11), 8.49, []string{"8"}},
		"none":                      {area, square(11), 0.0, []string{"0"}},
		"not known":                 {area, square(11), nil, []string{""}},
		"below nought":              {area, square(11), -1.0, []string{""}},
		"beyond 31 bits":            {area, square(11), float64(1 << 31), []string{""}},
		"of two parts together":     {area, orb.MultiPolygon{square(11), square(12)}, 8.0, []string{"", ""}},
		"of the only part":          {area, orb.MultiPolygon{square(11)}, 8.0, []string{"8"}},
		"of two that it falls into": {area, orb.Polygon{{{11, 48}, {11.002, 48}, {11.002, 48.001}, {11.001, 48.0000000002}, {11, 48.001}, {11, 48}}}, 10.0, []string{"5", "5"}},
		"another property":          {Property{Name: "length_m", Holds: Number, Decimals: 2}, square(11), 8.0, []string{""}},
		"a text called area":        {Property{Name: "area_m2", Holds: Words}, square(11), "8", []string{""}},
	} {
		l := Layer{Name: "zones", Kind: Areas, Columns: []Property{{Name: "n", Holds: Whole}, c.column}, Features: []Feature{{c.g, []any{1, c.v}}}}
		var b bytes.Buffer
		if _, err := WriteISOXML(&b, TaskData{Fields: []TaskField{{Name: "f", Boundary: orb.MultiPolygon{square(10)}, Zones: []Layer{l}}}}); err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, z := range isoOf(t, b.Bytes()).PFD[0].PLN[1:] {
			got = append(got, z.C)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: areas %q, want %q", name, got, c.want)
		}
	}
}

// Long names are cut with a finding, rings that vanish are told as lost.
func TestTaskDataTellsWhatItCannotHold(t *testing.T) {
	long := strings.Repeat("ö", 40)
	whole := orb.MultiPolygon{{{{11, 48}, {11.01, 48}, {11.01, 48.01}, {11, 48.01}, {11, 48}}}}
	thin := Layer{Name: "thin", Kind: Areas, Features: []Feature{
		{orb.Polygon{{{11, 48}, {11.001, 48}, {11.001, 48.0000000001}, {11, 48.0000000001}, {11, 48}}}, nil}, // 11 µm
		{whole[0], nil},
		// A corner 20 µm above the long side, which nine decimals put onto it.
		{orb.Polygon{{{11, 48}, {11.002, 48}, {11.002, 48.001}, {11.001, 48.0000000002}, {11, 48.001}, {11, 48}}}, nil},
	}}
	point := Layer{Name: "point", Kind: Lines, Features: []Feature{{orb.LineString{{11, 48}, {11, 48.0000000001}}, nil}}}
	var b bytes.Buffer
	findings, err := WriteISOXML(&b, TaskData{Fields: []TaskField{{Name: long, Boundary: whole, Zones: []Layer{thin}, Guidance: []Layer{point}}}})
	if err != nil {
		t.Fatal(err)
	}
	lost := 0
	for _, f := range findings {
		if f.Lost {
			lost++
		}
	}
	if len(findings) != 4 || lost != 2 {
		t.Errorf("findings %v: a long name, two lost shapes and a group without lines are wanted", findings)
	}
	f := isoOf(t, b.Bytes())
	if name := f.PFD[0].C; utf8.RuneCountInString(name) != 32 || !strings.HasSuffix(name, "…") {
		t.Errorf("name %q", name)
	}
	if len(f.PFD[0].PLN) != 4 {
		t.Errorf("%d polygons, want the boundary, the zone that is wide enough and the two that one falls into", len(f.PFD[0].PLN))
	}
	for name, d := range map[string]TaskField{
		"no boundary":              {},
		"a negative area":          {Boundary: whole, Area: -1},
		"an area that is NaN":      {Boundary: whole, Area: math.NaN()},
		"an area beyond 31 bits":   {Boundary: whole, Area: 1 << 31},
		"a boundary that vanishes": {Boundary: orb.MultiPolygon{thin.Features[0].Geometry.(orb.Polygon)}},
		"zones that are lines":     {Boundary: whole, Zones: []Layer{straight()}},
		"guidance that is areas":   {Boundary: whole, Guidance: []Layer{thin}},
		"a boundary with NaN":      {Boundary: orb.MultiPolygon{{{{11, 48}, {math.NaN(), 48}, {11, 49}, {11, 48}}}}},
	} {
		if _, err := WriteISOXML(io.Discard, TaskData{Fields: []TaskField{d}}); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// TestCalled: a designator has 32 characters (ISO 11783-10); where title and label are longer, the label stands alone.
func TestCalled(t *testing.T) {
	l := guidance()
	for label, want := range map[string]string{
		"curve":                       "Guidance lines curve",
		"Guidance lines of one":       "Guidance lines of one",
		"seventeen letters":           "Guidance lines seventeen letters",
		"eighteen letters !":          "eighteen letters !",
		"headland round 2, stretch 1": "headland round 2, stretch 1",
		"":                            "Guidance lines",
	} {
		if got := l.called([]any{label, nil, nil}); got != want {
			t.Errorf("%q: %q, want %q", label, got, want)
		}
	}
}
