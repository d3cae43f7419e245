package read

import (
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	geom "github.com/twpayne/go-geom"
)

// One table of systems stands behind every format: a place in EPSG:31467 is the same wherever it comes from. 10.5° east, 48.3°
// north on WGS84 is 3611362.3381, 5352434.0869 there by PROJ (EPSG:1777, then EPSG:16263).
func TestOneTableOfSystems(t *testing.T) {
	const x, y, lon, lat = 3611362.3381, 5352434.0869, 10.5, 48.3
	prj := `PROJCS["DHDN_3_Degree_Gauss_Zone_3",GEOGCS["GCS_Deutsches_Hauptdreiecksnetz",DATUM["D_Deutsches_Hauptdreiecksnetz",SPHEROID["Bessel_1841",6377397.155,299.1528128]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]],PROJECTION["Gauss_Kruger"],PARAMETER["False_Easting",3500000.0],PARAMETER["False_Northing",0.0],PARAMETER["Central_Meridian",9.0],PARAMETER["Scale_Factor",1.0],PARAMETER["Latitude_Of_Origin",0.0],UNIT["Meter",1.0]]`
	place := number(x) + "," + number(y)
	pkg := func(srs int) []byte {
		data, err := os.ReadFile(writeGeoPackage(t, "a.gpkg", "INSERT INTO gpkg_spatial_ref_sys VALUES ('x', 31467, 'EPSG', 31467, 'undefined', NULL)", featureTableText("log", "POINT", srs, ""),
			"INSERT INTO log (geom) VALUES (?)", blob(t, geom.NewPointFlat(geom.XY, []float64{x, y}), int32(srs), 0, binary.LittleEndian)))
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	shape := shpFile(1, shpRecord(uint32(1), x, y))
	for _, c := range []struct {
		situation string
		data      []byte
		crs       int
	}{
		{"shapefile with .prj", zipOf(t, "a.shp", shape, "a.prj", []byte(prj)), 0},
		{"shapefile without", zipOf(t, "a.shp", shape), 31467},
		{"GeoJSON that names it", []byte(`{"type":"Point","coordinates":[` + place + `],"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::31467"}}}`), 0},
		{"GeoJSON that does not", []byte(`{"type":"Point","coordinates":[` + place + `]}`), 31467},
		{"GeoPackage", pkg(31467), 0},
		{"GeoPackage whose system is undefined", pkg(-1), 31467},
		{"table of metres", []byte("Rechtswert;Hochwert;Zeit\n" + strings.ReplaceAll(place, ",", ";") + ";1717176615\n"), 31467},
		{"table of x and y", []byte("x,y\n" + place + "\n"), 31467},
		{"WKT", []byte("wkt\nPOINT(" + strings.ReplaceAll(place, ",", " ") + ")\n"), 31467},
		{"WKT that names it", []byte("wkt\nSRID=31467;POINT(" + strings.ReplaceAll(place, ",", " ") + ")\n"), 0},
	} {
		path := filepath.Join(t.TempDir(), "file")
		if err := os.WriteFile(path, c.data, 0o600); err != nil {
			t.Fatal(err)
		}
		tracks, findings, err := Tracks(path, TrackOptions{Taking: Taking{CRS: c.crs}})
		if err != nil || len(tracks) != 1 {
			t.Errorf("%s: %v, %v", c.situation, tracks, err)
			continue
		}
		if at := tracks[0].Line.FlatCoords(); math.Hypot(at[0]-lon, at[1]-lat) > 2e-8 { // 2 mm
			t.Errorf("%s: %.9f, %.9f", c.situation, at[0], at[1])
		}
		said := false
		for _, f := range findings {
			said = said || strings.Contains(f.What, "EPSG:1777, which is exact to 3 m")
			if f.Lost {
				t.Errorf("%s: lost: %s", c.situation, f)
			}
		}
		if !said {
			t.Errorf("%s: nothing is said of the datum: %v", c.situation, findings)
		}
	}
	// What names its system keeps it, and what is longitude and latitude by its standard is that.
	for situation, data := range map[string]string{"GeoJSON": `{"type":"Point","coordinates":[10.5,48.3]}`, "table": "lon,lat\n10.5,48.3\n", "named": "wkt\nSRID=4326;POINT(10.5 48.3)\n"} {
		if got := inWords(Tracks(StandardInput, TrackOptions{Taking: Taking{CRS: 31467}, Files: &Files{Input: strings.NewReader(data)}})); got != "10.5,48.3;" {
			t.Errorf("%s: %s", situation, got)
		}
	}
	ring := `{"type":"Polygon","coordinates":[[[3611362,5352434],[3611462,5352434],[3611462,5352534],[3611362,5352434]]]}`
	fields, _, err := Fields(StandardInput, Options{Taking: Taking{CRS: 31467}, Files: &Files{Input: strings.NewReader(ring)}})
	if err != nil || math.Abs(fields[0].Boundary[0][0][0][0]-lon) > 1e-5 {
		t.Errorf("%v, %v", fields, err)
	}
	for crs, want := range map[int]string{99999: "unknown EPSG code", 23030: "exact to 5 m"} {
		if _, _, err := Tracks(StandardInput, TrackOptions{Taking: Taking{CRS: crs}, Files: &Files{Input: strings.NewReader("x,y\n1,2\n")}}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("--crs %d: %v", crs, err)
		}
	}
}
