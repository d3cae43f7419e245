package read

import (
	"bytes"
	"encoding/binary"
	"os"
	"strings"
	"testing"

	"balk/geo"

	geom "github.com/twpayne/go-geom"
)

// smallFiles are a small log or boundary of every format, invented, as they come through standard input.
func smallFiles(t testing.TB) map[string][]byte {
	point := func(lon string) string {
		return feature1(`{"time":"2024-05-31T17:30:15Z","working":true}`, `{"type":"Point","coordinates":[`+lon+`,48.1]}`)
	}
	table := "lon,lat,time\n11.5,48.1,2024-05-31T17:30:15Z\n11.6,48.2,2024-05-31T17:30:16Z\n"
	pkg, err := os.ReadFile(writeGeoPackage(t, "log.gpkg", featureTableText("log", "POINT", 4326, ", speed REAL"),
		"INSERT INTO log (geom, speed) VALUES (?, 2)", blob(t, geom.NewPointFlat(geom.XY, []float64{11.5, 48.1}), 4326, 0, binary.LittleEndian)))
	if err != nil {
		t.Fatal(err)
	}
	return map[string][]byte{
		"GeoJSON": []byte(collection(point("11.5"), point("11.6"))), "newline-delimited": []byte(point("11.5") + "\n" + point("11.6") + "\n"), "boundary": []byte(collection(feature1(`{"name":"N"}`, square))),
		"table": []byte(table), "UTF-16": append([]byte{0xff, 0xfe}, utf16Of(binary.LittleEndian, table)...), "gzip": gzipOf(t, []byte(table)), "zip": zipOf(t, "a.csv", []byte(table), "b.geojson", []byte(square)),
		"WKT":       []byte("name;wkt\nNorth;\"POLYGON((11 48,11.001 48,11.001 48.001,11 48))\"\nlog;LINESTRING(11 48,12 48)\n"),
		"shapefile": zipOf(t, "a.shp", shpFile(1, shpRecord(uint32(1), 11.5, 48.1), shpRecord(uint32(1), 11.6, 48.2)), "a.dbf", dbfTable(0x57, []string{"speed"}, []string{"2"}, []string{"3"}), "a.prj", []byte(wgs84)),
		"KML":       []byte(`<kml><Placemark><name>N</name><LineString><coordinates>11,48 12,48</coordinates></LineString><Polygon><outerBoundaryIs><LinearRing><coordinates>11,48 11.001,48 11.001,48.001 11,48</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></kml>`),
		"GPX":       []byte(`<gpx><trk><trkseg><trkpt lat="48" lon="11"><time>2024-05-31T17:30:15Z</time></trkpt><trkpt lat="48" lon="12"/></trkseg></trk></gpx>`),
		"NMEA":      []byte("$GPGLL,4916.45,N,12311.12,W,225444,A,*1D\n$GPGGA,092750.000,5321.6802,N,00630.3372,W,1,8,1.03,61.7,M,55.2,M,,*76\n"),
		"positions": []byte("%  UTC   latitude(deg) longitude(deg)  height(m)   Q  ns\n2024/05/31 17:30:15 48.1 11.5 510 1 9\n2024/05/31 17:30:16 48.2 11.5 510 2 9\n"),
		"workbook":  bookOf(t, "", "log", sheetTitles+`<row r="4"><c r="A4"><v>11</v></c><c r="B4"><v>48</v></c></row>`), "GeoPackage": pkg, "FlatGeobuf": flatgeobufOf(t, "fields"), "FlatGeobuf log": flatgeobufOf(t, "points"),
		"task data": zipOf(t, "TASKDATA/TASKDATA.XML", []byte(`<ISO11783_TaskData VersionMajor="4"><PFD A="PFD1" C="N"><PLN A="1"><LSG A="1"><PNT A="2" C="48" D="11"/><PNT A="2" C="48" D="11.001"/><PNT A="2" C="48.001" D="11.001"/></LSG></PLN></PFD></ISO11783_TaskData>`)),
	}
}

// Cut off at any byte, a file of any format gives what came before the cut, or an error.
func TestCutOffAnywhere(t *testing.T) {
	for format, whole := range smallFiles(t) {
		step := 1
		if len(whole) > 20000 {
			step = 199
		}
		read := 0
		for n := 0; n <= len(whole); n += step {
			cut := whole[:n]
			if step > 1 && n+step > len(whole) {
				cut = whole
			}
			tracks, findings, err := Tracks(StandardInput, TrackOptions{Files: &Files{Input: bytes.NewReader(cut)}})
			if what := sound(tracks, findings, err); what != "" {
				t.Errorf("%s, cut at byte %d, as tracks: %s", format, n, what)
			}
			fields, lost, err2 := Fields(StandardInput, Options{Files: &Files{Input: bytes.NewReader(cut)}})
			holdFields(t, fields, lost, err2)
			if err == nil || err2 == nil {
				read++
			}
			for _, f := range append([]geo.Finding(nil), append(findings, lost...)...) {
				if strings.TrimSpace(f.What) == "" {
					t.Errorf("%s, cut at byte %d: a finding that says nothing", format, n)
				}
			}
		}
		if read == 0 {
			t.Errorf("%s is not read even whole", format)
		}
	}
}
