package read

import (
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"strings"
	"testing"

	geom "github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/encoding/ewkb"
	"github.com/twpayne/go-geom/encoding/wkt"
)

// flatShape is a geometry as text without Z and M, "empty" for none.
func flatShape(g geom.T) string {
	switch g := g.(type) {
	case nil:
		return "empty"
	case *geom.GeometryCollection:
		s := ""
		for _, one := range g.Geoms() {
			s += flatShape(one) + " + "
		}
		return "collection " + s
	default:
		if g.Empty() {
			return "empty"
		}
		flat := []float64{}
		for i := 0; i < len(g.FlatCoords()); i += g.Stride() {
			flat = append(flat, g.FlatCoords()[i:i+2]...)
		}
		ends, endss := fmt.Sprint(g.Ends()), fmt.Sprint(g.Endss())
		if _, points := g.(*geom.MultiPoint); points {
			ends, endss = "", ""
		} else if g.Stride() > 2 {
			ends, endss = "ends", "ends"
		}
		return fmt.Sprintf("%T %v %s %s", g, flat, ends, endss)
	}
}

var wktTexts = []string{
	"POINT(11.5 48.1)", "point ( 11.5   -48.1 )", "POINT EMPTY", "LINESTRING(1 2,3 4,5 6)", "LINESTRING EMPTY", "MULTIPOINT((1 2),(3 4))", "MULTIPOINT(1 2,3 4)",
	"POLYGON((0 0,4 0,4 4,0 0),(1 1,2 1,2 2,1 1))", "MULTILINESTRING((1 2,3 4),(5 6,7 8))", "MULTIPOLYGON(((0 0,4 0,4 4,0 0),(1 1,2 1,2 2,1 1)),((9 9,8 9,8 8,9 9)))",
	"GEOMETRYCOLLECTION(POINT(1 2),LINESTRING(1 2,3 4))", "GEOMETRYCOLLECTION EMPTY", "POINT(1e2 -2.5E-1)",
}

// The library that is used for WKB reads the same out of WKT, where it reads it at all.
func TestWKTAsTheLibrary(t *testing.T) {
	for _, text := range wktTexts {
		want, err := wkt.Unmarshal(text)
		if err != nil {
			t.Fatal(text, err)
		}
		if got, srid, err := shapeText([]byte(text)); err != nil || srid != 0 || flatShape(got) != flatShape(want) && !want.Empty() || (got == nil) != want.Empty() {
			t.Errorf("%s: %s, %d, %v; want %s", text, flatShape(got), srid, err, flatShape(want))
		}
	}
	for _, c := range [][2]string{ // heights and measures
		{"POINT Z (1 2 3)", "POINT(1 2)"}, {"POINTZM(1 2 3 4)", "POINT(1 2)"}, {"POINT M EMPTY", "POINT EMPTY"}, {"LINESTRING ZM (1 2 3 4,5 6 7 8)", "LINESTRING(1 2,5 6)"}, {"POLYGONZ((0 0 1,4 0 1,4 4 1,0 0 1))", "POLYGON((0 0,4 0,4 4,0 0))"},
	} {
		got, _, err1 := shapeText([]byte(c[0]))
		want, _, err2 := shapeText([]byte(c[1]))
		if err1 != nil || err2 != nil || flatShape(got) != flatShape(want) {
			t.Errorf("%s: %s, %v; want %s, %v", c[0], flatShape(got), err1, flatShape(want), err2)
		}
	}
	for _, bad := range []string{"", "POINT", "POINT(", "POINT()", "POINT(1)", "POINT(1 2", "POINT(1 2) x", "POINT(1 2,3 4)", "POINT(a b)", "CIRCLE(1 2)", "POLYGON(1 2,3 4)", "POLYGON((1 2,3 4)", "LINESTRING((1 2))", "SRID=x;POINT(1 2)", "SRID=4326 POINT(1 2)", "POINT Q (1 2)", "POINT(1 2 3 4 5)",
		strings.Repeat("GEOMETRYCOLLECTION(", 100), "01", "010100000000", "0x", "01zz000000", "LINESTRING(1 2;3 4)"} {
		if got, _, err := shapeText([]byte(bad)); err == nil {
			t.Errorf("%q was read as %s", bad, flatShape(got))
		}
	}
}

// Extended WKB is that of the library.
func TestExtendedWKB(t *testing.T) {
	for _, layout := range []geom.Layout{geom.XY, geom.XYZ, geom.XYM, geom.XYZM} {
		n := layout.Stride()
		flat := make([]float64, 4*n)
		for i := range flat {
			flat[i] = float64(i)
		}
		line := geom.NewLineStringFlat(layout, flat[:2*n]).SetSRID(25832)
		several := geom.NewMultiLineStringFlat(layout, flat, []int{2 * n, 4 * n}).SetSRID(25832)
		for _, shape := range []geom.T{geom.NewPointFlat(layout, flat[:n]).SetSRID(25832), line, several} {
			for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
				raw, err := ewkb.Marshal(shape, order)
				if err != nil {
					t.Fatal(err)
				}
				got, srid, err := shapeText([]byte(strings.ToUpper(hex.EncodeToString(raw))))
				if err != nil || srid != 25832 || flatShape(got) != flatShape(shape) {
					t.Errorf("%s %v: %s, %d, %v; want %s", layout, order, flatShape(got), srid, err, flatShape(shape))
				}
			}
		}
	}
}

func TestTablesOfShapes(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"points", "WKT;time;speed_ms\nPOINT (11.5 48.1);2024-05-31T17:30:15Z;2\nPOINT(11.6 48.2);2024-05-31T17:30:16Z;3\n", "11.5,48.1@1717176615s2 11.6,48.2@1717176616s3;"},
		{"with units beside", "the_geom,Speed (km/h)\n\"POINT(11.5 48.1)\",7.2\n", "11.5,48.1s2;"},
		{"binary, with the system", "geom,speed_ms\n0101000020E610000000000000000027400000000000004840,2\n", "11.5,48s2;"},
		{"lines", "wkt,width_m\n\"LINESTRING(11 48,12 48)\",6\n\"MULTILINESTRING((11 49,12 49),(13 49,14 49))\",6\n", "11,48w6 12,48w6;11,49w6 12,49w6 | 13,49w6 14,49w6;"},
		{"a map's metres", "wkt\nSRID=25832;POINT(500000 0)\n", "9,0;"},
		{"longitude and latitude go before", "lon,lat,wkt\n1,2,POINT(3 4)\n", "1,2;"},
		{"collections", "wkt\n\"GEOMETRYCOLLECTION(POINT(1 2),POINT(3 4))\"\n", "1,2 3,4;"},
	} {
		got := fromInput([]byte(c.text))
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	fields, findings, err := CSVFields(strings.NewReader("name;wkt\nNorth;\"POLYGON((11 48,11.001 48,11.001 48.001,11 48))\"\nSouth;SRID=4326;\n;MULTIPOLYGON(((11 48,11.001 48,11.001 48.001,11 48)))\nlog;POINT(1 2)\n"), "f.csv", Options{})
	if err != nil || len(fields) != 2 || fields[0].Name != "North" || fields[1].Name != "" || fields[1].Number != 2 || len(findings) != 2 {
		t.Errorf("%v, %v, %v", fields, findings, err)
	}
	for text, want := range map[string]string{
		"lon,lat\n1,2\n": "without a column of geometries", "wkt\nPOINT(1 2)\n": "a point is no boundary", "wkt\nSRID=9999;POLYGON((0 0,1 0,1 1,0 0))\n": "9999", "wkt\nCIRCLE(1)\n": "cannot be read",
	} {
		if fields, _, err := CSVFields(strings.NewReader(text), "f.csv", Options{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, %v", text, fields, err)
		}
	}
}

func FuzzShapeText(f *testing.F) {
	for _, text := range append(wktTexts, "0101000020E610000000000000000027400000000000004840", "SRID=4326;POINT Z(1 2 3)") {
		f.Add([]byte(text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		shape, _, err := shapeText(text)
		if err != nil {
			return
		}
		theirs, err := wkt.Unmarshal(string(text))
		if err == nil && shape != nil && flatShape(shape) != flatShape(theirs) && theirs.Layout() == geom.XY {
			t.Errorf("%q is %s, the library says %s", text, flatShape(shape), flatShape(theirs))
		}
	})
}

func FuzzCSVFields(f *testing.F) {
	f.Add([]byte("name;wkt\nNorth;\"POLYGON((11 48,11.001 48,11.001 48.001,11 48))\"\n"))
	f.Add([]byte("wkt\nSRID=25832;POLYGON((500000 0,500100 0,500100 100,500000 0))\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		fields, findings, err := CSVFields(strings.NewReader(string(data)), "fuzz", Options{})
		holdFields(t, fields, findings, err)
	})
}
