package read

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// zipOf packs files, given as name, content, name, content ...
func zipOf(t testing.TB, files ...any) []byte {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		f, err := w.Create(files[i].(string))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write(files[i+1].([]byte)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestZip(t *testing.T) {
	prj, good, line := []byte(wgs84), shpFile(5, shpSquare(5)), shpFile(3, shpRecord(uint32(3), shpBox, int32(1), int32(2), int32(0), []float64{11, 48, 12, 48}))
	table := dbfTable(0x57, []string{"NAME"}, []string{"North"})
	lies := zipOf(t, "a.shp", good, "a.prj", prj) // its directory claims 5 GiB for a.shp
	entry := bytes.Index(lies, []byte("PK\x01\x02"))
	binary.LittleEndian.PutUint32(lies[entry+24:], 0xfffffff0)
	bomb := zipOf(t, "a.shp", append(bytes.Clone(good), make([]byte, 64<<20)...))
	for _, c := range []struct {
		situation string
		zip       []byte
		fields    []string
		findings  []string
		err       string
	}{
		{"one", zipOf(t, "a.shp", good, "a.prj", prj, "a.dbf", table), []string{"North"}, nil, ""},
		{"two in folders, upper case", zipOf(t, "x/A.SHP", good, "x/A.PRJ", prj, "x/A.DBF", table, "y/b.shp", good, "y/b.prj", prj, "__MACOSX/x/._A.shp", []byte("mac")), []string{"North", ""}, []string{"no .dbf"}, ""},
		{"one good, one broken", zipOf(t, "a.shp", good, "a.prj", prj, "a.dbf", table, "b.shp", []byte("junk")), []string{"North"}, []string{"it begins with \"junk\""}, ""},
		{"a field and a line", zipOf(t, "a.shp", good, "a.prj", prj, "a.dbf", table, "b.shp", line, "b.prj", prj), []string{"North"}, []string{"a line is no boundary"}, ""},
		{"nothing that is read", zipOf(t, "a.txt", []byte("hello")), nil, nil, "among its 1 files"},
		{"only lines", zipOf(t, "b.shp", line, "b.prj", prj), nil, nil, "a line is no boundary"},
		{"empty", zipOf(t), nil, nil, "among its 0 files"},
		{"cut off", zipOf(t, "a.shp", good)[:100], nil, nil, "no zip"},
		{"a size that is a lie", lies, nil, nil, "limit"},
		{"a bomb", bomb, nil, nil, "the limit is 200 to 1"},
	} {
		t.Run(c.situation, func(t *testing.T) {
			fields, findings, err := zipFields(&source{at: bytes.NewReader(c.zip), size: int64(len(c.zip)), file: "farm.zip"}, Options{})
			if c.err != "" {
				if err == nil || !strings.Contains(err.Error(), c.err) || fields != nil || findings != nil {
					t.Fatalf("%v, %v, %v; want an error with %q", fields, findings, err, c.err)
				}
				return
			}
			if err != nil || len(fields) != len(c.fields) || len(findings) != len(c.findings) {
				t.Fatalf("%v, %v, %v; want %q, %q", fields, findings, err, c.fields, c.findings)
			}
			for i, f := range fields {
				if f.Name != c.fields[i] || f.Number != i+1 || !strings.HasPrefix(f.Source, "farm.zip/") {
					t.Errorf("field %d is %q, number %d, from %s", i, f.Name, f.Number, f.Source)
				}
			}
			for i, f := range findings {
				if !strings.Contains(fmt.Sprint(f), c.findings[i]) {
					t.Errorf("finding %q, want %q", f, c.findings[i])
				}
			}
		})
	}
}

// A file as deep as the limit is found; one deeper is refused, before the folders are listed.
func TestZipDepth(t *testing.T) {
	square := []byte(`{"type":"Polygon","coordinates":[[[11,48],[11.001,48],[11.001,48.001],[11,48]]]}`)
	for _, c := range []struct {
		deep int
		want string
	}{{mostFolders, ""}, {mostFolders + 1, "lies 101 folders deep: the limit is 100"}, {30000, "lies 30000 folders deep"}} {
		packed := zipOf(t, strings.Repeat("a/", c.deep)+"f.geojson", square)
		fields, _, err := zipFields(&source{at: bytes.NewReader(packed), size: int64(len(packed)), file: "deep.zip"}, Options{})
		if c.want == "" && (err != nil || len(fields) != 1) || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%d folders: %d fields, %v", c.deep, len(fields), err)
		}
	}
}

// A file that unpacks to more than its budget stops there, whatever it declared.
func TestZipBudget(t *testing.T) {
	z, err := zip.NewReader(bytes.NewReader(zipOf(t, "a.shp", make([]byte, 5000))), int64(len(zipOf(t, "a.shp", make([]byte, 5000)))))
	if err != nil {
		t.Fatal(err)
	}
	b := &budgetFS{zip: z, left: 4999}
	f, err := b.Open("a.shp")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	n, err := bytes.NewBuffer(nil).ReadFrom(f)
	if err != errBudget || n > 4999 {
		t.Errorf("%d bytes, %v", n, err)
	}
}

func TestPathsOfAllFormats(t *testing.T) {
	dir := t.TempDir()
	line := shpFile(3, shpRecord(uint32(3), shpBox, int32(1), int32(2), int32(0), []float64{11, 48, 12, 48}))
	for name, data := range map[string][]byte{
		"f.geojson": []byte(square), "f.shp": shpFile(5, shpSquare(5)), "f.zip": zipOf(t, "f.shp", shpFile(5, shpSquare(5))),
		"t.geojson": []byte(`{"type":"LineString","coordinates":[[11,48],[12,48]]}`), "t.shp": line, "t.zip": zipOf(t, "t.shp", line),
	} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		if name[0] == 'f' {
			if fields, _, err := Fields(path, Options{}); err != nil || len(fields) != 1 {
				t.Errorf("%s: %v, %v", name, fields, err)
			}
			continue
		}
		if tracks, _, err := tracksOf(path); err != nil || len(tracks) != 1 || flatTrack(tracks[0]) != "11,48 12,48" {
			t.Errorf("%s: %v, %v", name, tracks, err)
		}
	}
}
