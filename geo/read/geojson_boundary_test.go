package read

import (
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const squareRing = `[[11,48],[11.004,48],[11.004,48.004],[11,48.004],[11,48]]`

func feature1(properties, geometry string) string {
	return `{"type":"Feature","properties":` + properties + `,"geometry":` + geometry + `}`
}

func collection(features ...string) string {
	return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`
}

const square = `{"type":"Polygon","coordinates":[` + squareRing + `]}`

func TestGeoJSONFields(t *testing.T) {
	utm := `{"type":"Polygon","coordinates":[[[500000,5316000],[500300,5316000],[500300,5316300],[500000,5316300],[500000,5316000]]]}`
	for _, c := range []struct {
		situation string
		text      string
		fields    int
		findings  []string // each is part of a finding, in order
		lost      int
		err       string // part of the error
	}{
		{"a bare polygon", square, 1, nil, 0, ""},
		{"byte order mark and space in front", "\xef\xbb\xbf \r\n" + square, 1, nil, 0, ""},
		{"a feature", feature1(`{"name":"North"}`, square), 1, nil, 0, ""},
		{"members in another order", `{"features":[{"geometry":{"coordinates":[` + squareRing + `],"type":"Polygon"},"properties":null,"type":"Feature"}],"type":"FeatureCollection"}`, 1, nil, 0, ""},
		{"a collection of polygons", `{"type":"GeometryCollection","geometries":[` + square + `]}`, 1, nil, 0, ""},
		{"heights", strings.ReplaceAll(square, `48]`, `48,512.5]`), 1, nil, 0, ""},
		{"an open ring", strings.Replace(square, `,[11,48]]`, `]`, 1), 1, []string{"is open: closed"}, 0, ""},
		{"repeated points", strings.Replace(square, `[11.004,48],`, `[11.004,48],[11.004,48],`, 1), 1, nil, 0, ""},
		{"two fields, one crossing itself", collection(feature1(`{}`, square), feature1(`{}`, `{"type":"Polygon","coordinates":[[[11,48],[11.004,48.004],[11.004,48],[11,48.004],[11,48]]]}`)), 1, []string{"does not cross itself"}, 1, ""},
		{"a field and a point", collection(feature1(`{}`, square), feature1(`{}`, `{"type":"Point","coordinates":[11,48]}`)), 1, []string{"a Point is no boundary"}, 1, ""},
		{"a feature without geometry", collection(feature1(`{}`, square), feature1(`{}`, `null`)), 1, []string{"without geometry"}, 1, ""},
		{"an empty polygon", collection(feature1(`{}`, square), feature1(`{}`, `{"type":"Polygon","coordinates":[]}`)), 1, []string{"empty geometry"}, 1, ""},
		{"null among features", collection(feature1(`{}`, square), `null`), 1, []string{"null"}, 1, ""},
		{"a position of one number", collection(feature1(`{}`, square), feature1(`{}`, strings.Replace(square, `[11.004,48]`, `[11.004]`, 1))), 1, []string{"a position of 1 numbers"}, 1, ""},
		{"an empty position", collection(feature1(`{}`, square), feature1(`{}`, strings.Replace(square, `[11.004,48]`, `[]`, 1))), 1, []string{"a position of 0 numbers"}, 1, ""},
		{"null for a number", collection(feature1(`{}`, square), feature1(`{}`, strings.Replace(square, `[11.004,48]`, `[null,48]`, 1))), 1, []string{"among coordinates"}, 1, ""},
		{"cut off after a good feature", collection(feature1(`{}`, square), feature1(`{}`, square))[:260], 1, []string{"unreadable after this record"}, 1, ""},
		{"more text after the end", collection(feature1(`{}`, square)) + "]", 1, []string{"more text after the end"}, 1, ""},
		{"crs84", `{"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:OGC:1.3:CRS84"}},` + square[1:], 1, nil, 0, ""},
		{"epsg 4326", `{"crs":{"type":"name","properties":{"name":"EPSG:4326"}},` + square[1:], 1, []string{"longitude first"}, 0, ""},
		{"crs after the geometry", collection(feature1(`{}`, utm))[:len(collection(feature1(`{}`, utm)))-1] + `,"crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::25832"}}}`, 1, []string{"taken as WGS84"}, 0, ""},
		{"a crs that is not read", `{"crs":{"type":"name","properties":{"name":"EPSG:99999"}},` + square[1:], 0, nil, 0, "99999"},
		{"a crs that is a link", `{"crs":{"type":"link","properties":{"href":"x"}},` + square[1:], 0, nil, 0, "names no system"},
		{"a crs that is null", `{"crs":null,` + square[1:], 0, nil, 0, "names no system"},
		{"a crs inside a feature", collection(`{"crs":{"type":"name","properties":{"name":"EPSG:25832"}},` + feature1(`{}`, square)[1:]), 0, nil, 0, "crs inside a feature"},
		{"a crs inside a geometry", collection(feature1(`{}`, `{"crs":{"type":"name","properties":{"name":"EPSG:25832"}},`+square[1:])), 0, nil, 0, "crs inside a feature"},
		{"crs as the name of a property", collection(feature1(`{"crs":"EPSG:25832"}`, square)), 1, nil, 0, ""},
		{"swapped", `{"type":"Polygon","coordinates":[[[48,111],[48.004,111],[48.004,111.004],[48,111]]]}`, 0, nil, 0, "swapped lat/lon"},
		{"metres", utm, 0, nil, 0, "metres of a map projection"},
		{"only a line", `{"type":"LineString","coordinates":[[11,48],[12,48]]}`, 0, nil, 0, "a LineString is no boundary"},
		{"no features", collection(), 0, nil, 0, "no field boundary"},
		{"no type", `{"a":1}`, 0, nil, 0, "no type"},
		{"unknown type", `{"type":"Cube","coordinates":[]}`, 0, nil, 0, `a geometry of the type "Cube"`},
		{"cut off at once", `{"type":"Polygon","coor`, 0, nil, 0, "byte 23: the file ends too early"},
		{"nested without end", strings.Repeat(`{"type":"GeometryCollection","geometries":[`, 5000), 0, nil, 0, "deeper than 64"},
	} {
		t.Run(c.situation, func(t *testing.T) {
			fields, findings, err := GeoJSONFields(strings.NewReader(c.text), "t.geojson", Options{})
			if c.err != "" {
				if err == nil || !strings.Contains(err.Error(), c.err) || fields != nil || findings != nil {
					t.Fatalf("%v, %v, %v; want an error with %q", fields, findings, err, c.err)
				}
				return
			}
			if err != nil || len(fields) != c.fields || len(findings) != len(c.findings) {
				t.Fatalf("%d fields, %v, %v; want %d", len(fields), findings, err, c.fields)
			}
			lost := 0
			for i, f := range findings {
				if !strings.Contains(f.What, c.findings[i]) || f.File != "t.geojson" {
					t.Errorf("finding %q, want %q", f, c.findings[i])
				}
				if f.Lost {
					lost++
				}
			}
			if lost != c.lost {
				t.Errorf("%d lost, want %d: %v", lost, c.lost, findings)
			}
			for _, f := range fields { // 9 ha in UTM, 297.9 m × 444.8 m in degrees
				if ha := hectares(f.Boundary); math.Abs(ha-9) > 0.01 && math.Abs(ha-13.27) > 0.01 {
					t.Errorf("%.4f ha", ha)
				}
			}
		})
	}
}

func TestFieldNames(t *testing.T) {
	for want, text := range map[string]string{
		"North": feature1(`{"Name":"North","id":7}`, square),
		"7":     feature1(`{"id":7,"name":""}`, square),
		"F 12":  `{"id":"F 12",` + feature1(`{"area":1}`, square)[1:],
		"Upper": feature1(`{"LABEL":" Upper "}`, square),
		"":      square,
	} {
		fields, _, err := GeoJSONFields(strings.NewReader(text), "t", Options{})
		if err != nil || fields[0].Name != want {
			t.Errorf("%v, %v; want %q", fields, err, want)
		}
	}
}

func TestFieldsAndTracksTellFaultOfCallFromFaultInFile(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return p
	}
	for _, path := range []string{"", dir} {
		if _, _, err := Fields(path, Options{}); !isA[*CallError](err) {
			t.Errorf("%q: %v", path, err)
		}
		if _, _, err := tracksOf(path); !isA[*CallError](err) {
			t.Errorf("%q: %v", path, err)
		}
	}
	if _, _, err := Fields(filepath.Join(dir, "none"), Options{}); !errors.Is(err, fs.ErrNotExist) {
		t.Error(err)
	}
	for _, path := range []string{file("empty", ""), file("text", "hello, world\n1,2\n"), file("a.geojson", "[]"), file("b.shp", "\x00\x00\x27\x0a"), file("c.zip", "PK\x03\x04"), file("d.shx", string(shpFile(5)))} {
		if _, _, err := Fields(path, Options{}); !isA[*FileError](err) || !strings.Contains(err.Error(), path) {
			t.Errorf("%q: %v", path, err)
		}
		if _, _, err := tracksOf(path); !isA[*FileError](err) {
			t.Errorf("%q: %v", path, err)
		}
	}
	fields, _, err := Fields(file("wrong.shp", square), Options{}) // by content, not by name
	if err != nil || len(fields) != 1 {
		t.Error(fields, err)
	}
}

func isA[E error](err error) bool {
	_, ok := errors.AsType[E](err)
	return ok
}
