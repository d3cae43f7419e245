package read

import (
	"bytes"
	"encoding/binary"
	"math"
	"strings"
	"testing"
	"testing/fstest"
)

// shpRecord is the content of a record: type, then whatever comes, little
// endian.
func shpRecord(parts ...any) []byte {
	var b bytes.Buffer
	for _, p := range parts {
		if err := binary.Write(&b, binary.LittleEndian, p); err != nil {
			panic(err)
		}
	}
	return b.Bytes()
}

// shpFile puts records into a file of a type.
func shpFile(kind uint32, records ...[]byte) []byte {
	h := make([]byte, 100)
	binary.BigEndian.PutUint32(h, 9994)
	binary.LittleEndian.PutUint32(h[28:], 1000)
	binary.LittleEndian.PutUint32(h[32:], kind)
	for i, r := range records {
		var rh [8]byte
		binary.BigEndian.PutUint32(rh[:], uint32(i+1))
		binary.BigEndian.PutUint32(rh[4:], uint32(len(r)/2))
		h = append(append(h, rh[:]...), r...)
	}
	binary.BigEndian.PutUint32(h[24:], uint32(len(h)/2))
	return h
}

var shpBox [4]float64

// shpSquare is a polygon record: the square of the GeoJSON tests, clockwise.
func shpSquare(kind uint32, rest ...any) []byte {
	return shpRecord(append([]any{kind, shpBox, int32(1), int32(5), int32(0), []float64{11, 48, 11, 48.004, 11.004, 48.004, 11.004, 48, 11, 48}}, rest...)...)
}

const wgs84 = `GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["Degree",0.017453292519943295]]`

// dbfTable is a .dbf with text columns of ten characters.
func dbfTable(language byte, names []string, rows ...[]string) []byte {
	h := make([]byte, 32)
	h[0], h[29] = 3, language
	binary.LittleEndian.PutUint32(h[4:], uint32(len(rows)))
	binary.LittleEndian.PutUint16(h[8:], uint16(33+32*len(names)))
	binary.LittleEndian.PutUint16(h[10:], uint16(1+24*len(names)))
	for _, n := range names {
		d := make([]byte, 32)
		copy(d, n)
		d[11], d[16] = 'C', 24
		h = append(h, d...)
	}
	h = append(h, 0x0d)
	for _, r := range rows {
		h = append(h, ' ')
		for _, v := range r {
			h = append(h, (v + strings.Repeat(" ", 24))[:24]...)
		}
	}
	return append(h, 0x1a)
}

// countRecords walks the records of a file by their lengths, as far as they lead.
func countRecords(file []byte) (n int) {
	for at := 100; at+8 <= len(file); n++ {
		size := int(int32(binary.BigEndian.Uint32(file[at+4:])))
		if size < 0 || size > len(file) {
			break
		}
		at += 8 + 2*size
	}
	return n
}

func TestShapeGuard(t *testing.T) {
	z := shpSquare(15, shpBox[:2], make([]float64, 5)) // heights, no measures
	nan := shpSquare(5)
	binary.LittleEndian.PutUint64(nan[48:], math.Float64bits(math.NaN()))
	lying := shpFile(5, shpSquare(5))
	binary.BigEndian.PutUint32(lying[24:], 50) // the header says: no records
	negative := shpFile(5, shpSquare(5), shpSquare(5))
	binary.BigEndian.PutUint32(negative[100+8+len(shpSquare(5))+4:], 0xfffffffe) // a length of -4 bytes
	for _, c := range []struct {
		situation string
		file      []byte
		fields    int
		findings  []string
		err       string
	}{
		{"a square", shpFile(5, shpSquare(5)), 1, nil, ""},
		{"the last record with heights but without measures", shpFile(15, z, z), 2, nil, ""},
		{"heights and measures", shpFile(15, shpSquare(15, shpBox[:2], make([]float64, 5), shpBox[:2], make([]float64, 5))), 1, nil, ""},
		{"measures", shpFile(25, shpSquare(25, shpBox[:2], make([]float64, 5))), 1, nil, ""},
		{"a null shape", shpFile(5, shpRecord(uint32(0)), shpSquare(5)), 1, []string{"null shape"}, ""},
		{"a count of 200 million", shpFile(5, shpRecord(uint32(5), shpBox, int32(1), int32(200_000_000), int32(0), []float64{1, 2}), shpSquare(5)), 1, []string{"claims 1 parts and 200000000 points"}, ""},
		{"a negative count", shpFile(5, shpRecord(uint32(5), shpBox, int32(-1), int32(5), int32(0), []float64{1, 2}), shpSquare(5)), 1, []string{"claims -1 parts"}, ""},
		{"parts going backwards", shpFile(5, shpRecord(uint32(5), shpBox, int32(2), int32(3), int32(2), int32(1), []float64{1, 2, 3, 4, 5, 6}), shpSquare(5)), 1, []string{"part 1 begins at point 2"}, ""},
		{"a part behind the points", shpFile(5, shpRecord(uint32(5), shpBox, int32(2), int32(2), int32(0), int32(7), []float64{1, 2, 3, 4}), shpSquare(5)), 1, []string{"part 2 begins at point 7"}, ""},
		{"a coordinate that is no number", shpFile(5, nan, shpSquare(5)), 1, []string{"coordinate NaN"}, ""},
		{"a line among polygons", shpFile(5, shpRecord(uint32(3), shpBox, int32(0), int32(0)), shpSquare(5)), 1, []string{"shape type 3 in a file of type 5"}, ""},
		{"an unknown type", shpFile(5, shpRecord(uint32(77)), shpSquare(5)), 1, []string{"shape type 77"}, ""},
		{"a record length of -4", negative, 1, []string{"its length is -4 bytes"}, ""},
		{"the last record cut off", shpFile(5, shpSquare(5), shpSquare(5))[:300], 1, []string{"record 2 at byte 236: cut off", "more rows"}, ""},
		{"a header that names too small a size", lying, 1, []string{"records go on after the end"}, ""},
		{"bytes left over", append(shpFile(5, shpSquare(5)), "garbage garbage"...), 1, []string{"bytes after the end"}, ""},
		{"no records", shpFile(5), 0, nil, "no field boundary"},
		{"points only", shpFile(1, shpRecord(uint32(1), []float64{11, 48})), 0, nil, "a point is no boundary"},
		{"multipatch", shpFile(31), 0, nil, "multipatch"},
		{"half a header", shpFile(5)[:60], 0, nil, "60 of 100 bytes"},
	} {
		t.Run(c.situation, func(t *testing.T) {
			rows := make([][]string, countRecords(c.file))
			for i := range rows {
				rows[i] = []string{"North"}
			}
			fsys := fstest.MapFS{"a.shp": {Data: c.file}, "A.PRJ": {Data: []byte(wgs84)}, "a.Dbf": {Data: dbfTable(0x57, []string{"NAME"}, rows...)}}
			fields, findings, err := ShapefileFields(fsys, "a.shp", "a.shp", Options{})
			if c.err != "" {
				if err == nil || !strings.Contains(err.Error(), c.err) || fields != nil || findings != nil {
					t.Fatalf("%v, %v, %v; want an error with %q", fields, findings, err, c.err)
				}
				return
			}
			if err != nil || len(fields) != c.fields || len(findings) != len(c.findings) {
				t.Fatalf("%d fields, %v, %v; want %d, %q", len(fields), findings, err, c.fields, c.findings)
			}
			for i, f := range findings {
				if !strings.Contains(f.What, c.findings[i]) {
					t.Errorf("finding %q, want %q", f, c.findings[i])
				}
			}
			for _, f := range fields {
				if ha := hectares(f.Boundary); math.Abs(ha-13.27) > 0.01 || f.Name != "North" {
					t.Errorf("%q has %.4f ha", f.Name, ha)
				}
			}
		})
	}
}

func TestShapefileBesides(t *testing.T) {
	shp := shpFile(1, shpRecord(uint32(1), []float64{11, 48}), shpRecord(uint32(1), []float64{12, 48}))
	utm := shpFile(1, shpRecord(uint32(1), []float64{500000, 0}), shpRecord(uint32(1), []float64{500000, 0}))
	columns := []string{"date", "TIME", "Work", "pass"}
	rows := [][]string{{"20240501", "10:20:30", "T", "1"}, {"20240501", "10:20:31", "F", "2"}}
	for _, c := range []struct {
		situation string
		files     map[string][]byte
		want      string
		findings  []string
		err       string
	}{
		{"columns", map[string][]byte{"t.shp": shp, "t.prj": []byte(wgs84), "t.dbf": dbfTable(0, columns, rows...)}, "11,48@1714558830+ | 12,48@1714558831-", []string{"without zone"}, ""},
		{"no .dbf, no .prj", map[string][]byte{"t.shp": shp}, "11,48 12,48", []string{"no .dbf", "no .prj"}, ""},
		{"a row too few", map[string][]byte{"t.shp": shp, "t.prj": []byte(wgs84), "t.dbf": dbfTable(0, columns, rows[0])}, "11,48@1714558830+ 12,48?", []string{"without zone", "no row for this record"}, ""},
		{"an empty .dbf", map[string][]byte{"t.shp": shp, "t.prj": []byte(wgs84), "t.dbf": nil}, "11,48 12,48", []string{"0 of 32 bytes"}, ""},
		{"metres without .prj", map[string][]byte{"t.shp": utm}, "", nil, "no .prj"},
		{"an unknown .prj", map[string][]byte{"t.shp": utm, "t.prj": []byte(`PROJCS["x"]`)}, "", nil, ".prj"},
		{"names in Greek by .cpg", map[string][]byte{"t.shp": shp, "t.prj": []byte(wgs84), "t.cpg": []byte("ISO-8859-7"), "t.dbf": dbfTable(0x57, []string{"name"}, []string{"\xe1\xe2"}, []string{""})}, "αβ: 11,48 12,48", nil, ""},
		{"names by the language byte", map[string][]byte{"t.shp": shp, "t.prj": []byte(wgs84), "t.dbf": dbfTable(0x02, []string{"name"}, []string{"Gr\x81n"}, []string{""})}, "Grün: 11,48 12,48", nil, ""},
		{"an unknown .cpg", map[string][]byte{"t.shp": shp, "t.prj": []byte(wgs84), "t.cpg": []byte("Klingon"), "t.dbf": dbfTable(0, []string{"name"}, []string{"Gr\xfcn"}, []string{""})}, "Grün: 11,48 12,48", []string{"Klingon", "nothing says"}, ""},
	} {
		t.Run(c.situation, func(t *testing.T) {
			fsys := fstest.MapFS{}
			for n, d := range c.files {
				fsys[n] = &fstest.MapFile{Data: d}
			}
			tracks, findings, err := shapefileTracks(fsys, "t.shp", "t.shp")
			if c.err != "" {
				if err == nil || !strings.Contains(err.Error(), c.err) || tracks != nil {
					t.Fatalf("%v, %v; want an error with %q", tracks, err, c.err)
				}
				return
			}
			if err != nil || len(tracks) != 1 || flatTrack(tracks[0]) != c.want {
				t.Fatalf("%v, %v; want %s", tracks, err, c.want)
			}
			if len(findings) != len(c.findings) {
				t.Fatalf("%v, want %q", findings, c.findings)
			}
			for i, f := range findings {
				if !strings.Contains(f.What, c.findings[i]) {
					t.Errorf("finding %q, want %q", f, c.findings[i])
				}
			}
		})
	}
}
