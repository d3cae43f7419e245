package read

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"testing/fstest"

	"balk/geo"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"
)

// holdFields checks what every reader of boundaries promises.
func holdFields(t *testing.T, fields []geo.Field, findings []geo.Finding, err error) {
	if err != nil {
		if fields != nil || findings != nil {
			t.Fatalf("an error, and %d fields, %d findings: %v", len(fields), len(findings), err)
		}
		if err.Error() == "" {
			t.Fatal("an error without text")
		}
		return
	}
	if len(fields) == 0 {
		t.Fatal("no field and no error")
	}
	for i, f := range fields {
		if f.Number != i+1 || len(f.Boundary) == 0 {
			t.Fatalf("field %d has number %d and %d parts", i, f.Number, len(f.Boundary))
		}
		for _, p := range f.Boundary {
			for k, r := range p {
				if len(r) < 4 || r[0] != r[len(r)-1] || (r.Orientation() == orb.CCW) != (k == 0) {
					t.Fatalf("ring %v", r)
				}
				for _, q := range r {
					if !geo.OnEarth(q[0], q[1]) {
						t.Fatalf("point %v", q)
					}
				}
			}
		}
	}
}

// holdTracks checks what every reader of tracks promises.
func holdTracks(t *testing.T, tracks []geo.Track, findings []geo.Finding, err error) {
	if err != nil {
		if tracks != nil || findings != nil || err.Error() == "" {
			t.Fatalf("an error, and %d tracks, %d findings: %v", len(tracks), len(findings), err)
		}
		return
	}
	if len(tracks) == 0 {
		t.Fatal("no track and no error")
	}
	for _, tr := range tracks {
		n := tr.Fixes()
		if n == 0 {
			t.Fatal("a track without fixes")
		}
		ends := tr.Line.Ends()
		if len(ends) == 0 || ends[len(ends)-1] != 3*n {
			t.Fatalf("%d fixes, parts end at %v", n, ends)
		}
		for _, l := range []int{len(tr.State), len(tr.Width), len(tr.Heading), len(tr.Speed)} {
			if l != 0 && l != n {
				t.Fatalf("a column of %d for %d fixes", l, n)
			}
		}
		c := tr.Line.FlatCoords()
		for i := 0; i < len(c); i += 3 {
			if !geo.OnEarth(c[i], c[i+1]) || math.IsInf(c[i+2], 0) {
				t.Fatalf("fix %v", c[i:i+3])
			}
		}
	}
}

func FuzzGeoJSONBoundary(f *testing.F) {
	for _, s := range []string{
		square, collection(feature1(`{"name":"N"}`, square), feature1(`{}`, `null`)), `{"type":"GeometryCollection","geometries":[` + square + `]}`,
		`{"type":"MultiPolygon","coordinates":[[` + squareRing + `,[[11.001,48.001],[11.002,48.002],[11.002,48.001],[11.001,48.001]]]]}`,
		`{"type":"Polygon","coordinates":[[[0,0],[4,4],[4,0],[0,4],[0,0]]]}`, `{"crs":{"type":"name","properties":{"name":"EPSG:25832"}},` + square[1:],
		`{"type":"Polygon","coordinates":[[[0,0],[4,0],[4,4],[0,4],[0,0],[4,0],[4,4],[0,4]],[[]],[[1e-320,1],[null]]]}`,
	} {
		f.Add([]byte(s), true)
		f.Add([]byte(s), false)
	}
	f.Fuzz(func(t *testing.T, data []byte, mend bool) {
		fields, findings, err := GeoJSONFields(bytes.NewReader(data), "fuzz", Options{Mend: mend})
		holdFields(t, fields, findings, err)
		for i, f := range fields { // what was read reads back the same
			text, err := geojson.NewGeometry(f.Boundary).MarshalJSON()
			if err != nil {
				t.Fatal(err)
			}
			again, odd, err := GeoJSONFields(bytes.NewReader(text), "again", Options{Mend: mend})
			if err != nil {
				t.Fatalf("field %d does not read back: %v", i+1, err)
			}
			if !mend && (len(odd) != 0 || !orb.Equal(again[0].Boundary, f.Boundary)) {
				t.Fatalf("field %d reads back as %v, %v; was %v", i+1, again[0].Boundary, odd, f.Boundary)
			}
		}
	})
}

func FuzzGeoJSONTrack(f *testing.F) {
	for _, s := range [][]byte{
		lineText(5, true), pointText(5), pointText(12), []byte(drawnPoints(rand.New(rand.NewPCG(1, 2)), 15)), []byte(`{"type":"MultiLineString","coordinates":[[[1,48],[2,48]],[[3,48]]]}`), []byte(square),
		[]byte(collection(feature1(`{"pass":1,"date":"2024-05-01","time":"10:20:30","work":"up"}`, `{"type":"Point","coordinates":[1,2]}`), feature1(`{"times":[[1],[2]],"speeds":[1,2]}`, `{"type":"MultiPoint","coordinates":[[1,2],[3,400]]}`))),
		[]byte(`{"coordinates":[[500000,0]],"type":"LineString","crs":{"type":"name","properties":{"name":"EPSG:32632"}}}`),
		[]byte(`{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[1,2]},{"coordinates":[[[[1]]]],"type":"Polygon"}]}`),
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		tracks, findings, err := geoJSONTracks(bytes.NewReader(data), "fuzz")
		holdTracks(t, tracks, findings, err)
		in := told(tracksAhead(bytes.NewReader(data), "fuzz", TrackOptions{}, ahead{workers: 2, size: 400, from: 1, wait: 1}))
		if one := told(tracks, findings, err); in != one {
			t.Errorf("in pieces\n%s\none by one\n%s", in, one)
		}
	})
}

func FuzzShapefile(f *testing.F) {
	table := dbfTable(0x57, []string{"NAME", "time"}, []string{"North", "1"}, []string{"", "2"})
	f.Add(shpFile(5, shpSquare(5)), table, wgs84, "UTF-8")
	f.Add(shpFile(15, shpSquare(15, shpBox[:2], make([]float64, 5))), table, "", "")
	f.Add(shpFile(1, shpRecord(uint32(1), []float64{11, 48}), shpRecord(uint32(0))), table, wgs84, "1252")
	f.Add(shpFile(3, shpRecord(uint32(3), shpBox, int32(1), int32(2), int32(0), []float64{11, 48, 12, 48})), []byte(nil), "", "")
	f.Add(shpFile(8, shpRecord(uint32(8), shpBox, int32(2), []float64{11, 48, 12, 48})), []byte{3}, `PROJCS["x"]`, "?")
	if dir := os.Getenv("BALK_SHARED"); dir != "" {
		list, err := filepath.Glob(filepath.Join(dir, "check", "shapefile", "*", "*.shp"))
		if err != nil {
			f.Fatal(err)
		}
		for _, name := range list {
			shp, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			dbf, _ := os.ReadFile(name[:len(name)-4] + ".dbf") // some have none
			f.Add(shp, dbf, wgs84, "")
		}
	}
	f.Fuzz(func(t *testing.T, shp, dbf []byte, prj, cpg string) {
		fsys := fstest.MapFS{"a.shp": {Data: shp}}
		for ext, data := range map[string][]byte{"dbf": dbf, "prj": []byte(prj), "cpg": []byte(cpg)} {
			if len(data) > 0 {
				fsys["a."+ext] = &fstest.MapFile{Data: data}
			}
		}
		fields, findings, err := ShapefileFields(fsys, "a.shp", "fuzz", Options{})
		holdFields(t, fields, findings, err)
		tracks, findings, err := shapefileTracks(fsys, "a.shp", "fuzz")
		holdTracks(t, tracks, findings, err)
	})
}

func FuzzZip(f *testing.F) {
	f.Add(zipOf(f, "a.shp", shpFile(5, shpSquare(5)), "a.prj", []byte(wgs84)))
	f.Add(zipOf(f, "x/a.SHP", shpFile(1, shpRecord(uint32(1), []float64{11, 48})), "../b.shp", []byte("x")))
	f.Add(zipOf(f))
	f.Fuzz(func(t *testing.T, data []byte) {
		fields, findings, err := zipFields(&source{at: bytes.NewReader(data), size: int64(len(data)), file: "fuzz"}, Options{})
		holdFields(t, fields, findings, err)
		tracks, findings, err := tracksInZip(bytes.NewReader(data), int64(len(data)), "fuzz")
		holdTracks(t, tracks, findings, err)
	})
}
