package read

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/geo"
	"balk/geo/crs"

	geom "github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/encoding/wkb"
)

// geopackageTables are the tables every GeoPackage has, as OGC 12-128 asks.
const geopackageTables = `
PRAGMA application_id = 0x47504B47;
PRAGMA user_version = 10300;
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, srs_id INTEGER);
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL, PRIMARY KEY (table_name, column_name));
INSERT INTO gpkg_spatial_ref_sys VALUES ('undefined', -1, 'NONE', -1, 'undefined', NULL), ('undefined', 0, 'NONE', 0, 'undefined', NULL), ('WGS 84', 4326, 'EPSG', 4326, 'GEOGCS', NULL),
 ('UTM 32', 25832, 'EPSG', 25832, 'not looked at', NULL),
 ('own', 100001, 'me', 7, 'PROJCS["own",GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["latitude_of_origin",0],PARAMETER["central_meridian",10],PARAMETER["scale_factor",1],PARAMETER["false_easting",0],PARAMETER["false_northing",0],UNIT["metre",1]]', NULL),
 ('nowhere', 100002, 'me', 8, 'LOCAL_CS["x"]', NULL);`

// writeGeoPackage writes an invented GeoPackage; each statement may take one blob
// per ?.
func writeGeoPackage(t testing.TB, name string, steps ...any) string {
	t.Helper()
	dir := t.TempDir()
	file := filepath.Join(dir, name)
	plain := filepath.Join(dir, "plain.gpkg") // the driver takes what follows a ? as its own
	db, err := sql.Open("sqlite", plain)
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := db.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(plain, file); err != nil {
			t.Fatal(err)
		}
	}()
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(geopackageTables); err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(steps); {
		text := steps[i].(string)
		n := strings.Count(text, "?")
		if _, err := db.Exec(text, steps[i+1:i+1+n]...); err != nil {
			t.Fatal(text, err)
		}
		i += 1 + n
	}
	return file
}

func featureTableText(name, kind string, srs int, columns string) string {
	return fmt.Sprintf(`CREATE TABLE %s (fid INTEGER PRIMARY KEY, geom %s%s); INSERT INTO gpkg_contents VALUES ('%s', 'features', '%s', %d); INSERT INTO gpkg_geometry_columns VALUES ('%s', 'geom', '%s', %d, 0, 0)`,
		quoted(name), kind, columns, name, name, srs, name, kind, srs)
}

// blob is the GeoPackage binary form of a geometry. envelope: 0 none, 1 to 4.
func blob(t testing.TB, g geom.T, srs int32, envelope int, order binary.ByteOrder) []byte {
	t.Helper()
	b := []byte{'G', 'P', 0, byte(envelope << 1)}
	if order == binary.LittleEndian {
		b[3] |= 1
		b = binary.LittleEndian.AppendUint32(b, uint32(srs))
	} else {
		b = binary.BigEndian.AppendUint32(b, uint32(srs))
	}
	b = append(b, make([]byte, [5]int{0, 32, 48, 48, 64}[envelope])...)
	w, err := wkb.Marshal(g, order)
	if err != nil {
		t.Fatal(err)
	}
	return append(b, w...)
}

func packedSquare(x, y, side float64) []float64 {
	return []float64{x, y, x + side, y, x + side, y + side, x, y + side, x, y}
}

func TestGeoPackageFields(t *testing.T) {
	utm, err := crs.FromEPSG(25832)
	if err != nil {
		t.Fatal(err)
	}
	x0, y0 := utm.Forward(10, 50)
	hole := append(packedSquare(x0, y0, 200), packedSquare(x0+50, y0+50, 20)...)
	two := append(packedSquare(10, 50, 0.001), packedSquare(10.002, 50, 0.001)...)
	file := writeGeoPackage(t, "fields % ? #.gpkg",
		featureTableText("plots", "POLYGON", 25832, ", name TEXT"),
		`INSERT INTO plots VALUES (7, ?, 'Long piece')`, blob(t, geom.NewPolygonFlat(geom.XY, hole, []int{10, 20}), 25832, 1, binary.LittleEndian),
		`INSERT INTO plots VALUES (8, NULL, 'no place')`,
		`INSERT INTO plots VALUES (9, ?, 'other system')`, blob(t, geom.NewPolygonFlat(geom.XY, packedSquare(10, 50, 1), []int{10}), 4326, 0, binary.LittleEndian),
		featureTableText("with \"quotes", "MULTIPOLYGON", 4326, ", Field_Name TEXT"),
		`INSERT INTO "with ""quotes" VALUES (1, ?, 'Two parts')`, blob(t, geom.NewMultiPolygonFlat(geom.XY, two, [][]int{{10}, {20}}), 4326, 4, binary.BigEndian),
		featureTableText("own", "GEOMETRY", 100001, ""),
		`INSERT INTO own VALUES (1, ?)`, blob(t, geom.NewPolygonFlat(geom.XYZ, []float64{0, 5e6, 1, 100, 5e6, 1, 100, 5000100, 1, 0, 5000100, 1, 0, 5e6, 1}, []int{15}), 100001, 0, binary.LittleEndian),
		`INSERT INTO own VALUES (2, ?)`, blob(t, geom.NewPointFlat(geom.XY, []float64{1, 2}), 100001, 0, binary.LittleEndian),
		featureTableText("nowhere", "POLYGON", 100002, ""),
		`INSERT INTO nowhere VALUES (1, ?)`, blob(t, geom.NewPolygonFlat(geom.XY, packedSquare(1, 1, 1), []int{10}), 100002, 0, binary.LittleEndian),
		featureTableText("log", "POINT", 4326, ""),
		`CREATE VIEW seen AS SELECT * FROM plots; INSERT INTO gpkg_geometry_columns VALUES ('seen', 'geom', 'POLYGON', 25832, 0, 0)`,
	)
	fields, findings, err := Fields(file, Options{Taking: Taking{Layers: []string{"plots", `with "quotes`, "own", "nowhere", "log"}}})
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, f := range fields {
		names = append(names, f.Name)
	}
	if got := fmt.Sprintf("%q", names); got != `["Long piece" "Two parts" ""]` {
		t.Fatalf("fields %s: %v", got, findings)
	}
	for i, want := range []struct{ parts, holes, ha float64 }{{1, 1, (200*200 - 20*20) / 1e4}, {2, 0, 0}, {1, 0, 1}} {
		f := fields[i]
		if len(f.Boundary) != int(want.parts) || countHoles(f.Boundary) != int(want.holes) || f.Number != i+1 {
			t.Errorf("field %d, number %d: %d parts, %d holes", i, f.Number, len(f.Boundary), countHoles(f.Boundary))
		}
		// UTM is 0.04 % short in the middle of its zone.
		if got := hectares(f.Boundary); want.ha > 0 && math.Abs(got-want.ha) > 1e-3*want.ha {
			t.Errorf("field %d: %.4f ha, want %.4f", i, got, want.ha)
		}
	}
	if p := fields[0].Boundary[0][0][0]; math.Abs(p[0]-10) > 1e-9 || math.Abs(p[1]-50) > 1e-9 {
		t.Errorf("first corner %v, want 10, 50", p)
	}
	for _, want := range []struct {
		what string
		lost bool
	}{
		{"a feature without geometry", true},
		{"a geometry in the system 4326, its table is in 25832", true},
		{"a point is no boundary", true},
		{"its system me:8 (srs_id 100002) is not read", true},
		{`table "log" of points is no boundary: not read`, false},
		{`"seen" is a view or virtual table`, true},
	} {
		if f := found(findings, want.what); f == nil || f.Lost != want.lost {
			t.Errorf("no finding %q (lost: %t) in %v", want.what, want.lost, findings)
		}
	}
	if list, err := filepath.Glob(filepath.Dir(file) + "/*"); err != nil || len(list) != 1 {
		t.Errorf("reading left files: %v", list)
	}
}

func TestGeoPackageTracks(t *testing.T) {
	steps := []any{featureTableText("log", "POINT", 4326, ", time DATETIME, state INTEGER, width REAL, speed_kmh REAL, pass TEXT, note TEXT")}
	for i := range 4 {
		at := time.Date(2024, 5, 1, 6, 0, i, 500e6, time.UTC).Format("2006-01-02T15:04:05.000Z")
		steps = append(steps, fmt.Sprintf(`INSERT INTO log VALUES (NULL, ?, '%s', %d, 6.0, 9, '%d', 'x')`, at, i%2, i/2), blob(t, geom.NewPointFlat(geom.XY, []float64{10 + 1e-5*float64(i), 50}), 4326, 0, binary.LittleEndian))
	}
	steps = append(steps, featureTableText("paths", "LINESTRING", 4326, ", name TEXT, width DOUBLE"),
		`INSERT INTO paths VALUES (1, ?, 'north', 3)`, blob(t, geom.NewMultiLineStringFlat(geom.XYM, []float64{10, 50, 1, 10, 51, 2, 11, 50, 3, 11, 51, 4}, []int{6, 12}), 4326, 0, binary.LittleEndian),
		featureTableText("plots", "POLYGON", 4326, ""))
	file := writeGeoPackage(t, "tracks.gpkg", steps...)
	tracks, findings, err := Tracks(file, TrackOptions{Taking: Taking{Layers: []string{"log", "paths", "plots"}}})
	if err != nil || len(tracks) != 2 {
		t.Fatalf("%d tracks, %v, %v", len(tracks), findings, err)
	}
	log := tracks[0]
	if log.Name != "log" || log.Source != file+"/log" || log.Fixes() != 4 || fmt.Sprint(log.Line.Ends()) != "[6 12]" {
		t.Errorf("%q from %q: %d fixes in %v", log.Name, log.Source, log.Fixes(), log.Line.Ends())
	}
	sameAll(t, "width", log.Width, []float64{6, 6, 6, 6})
	sameAll(t, "speed", log.Speed, []float64{2.5, 2.5, 2.5, 2.5})
	if got := fmt.Sprint(log.State); got != fmt.Sprint([]geo.WorkState{geo.Lifted, geo.Working, geo.Lifted, geo.Working}) {
		t.Errorf("states %s", got)
	}
	if at := log.Line.FlatCoords()[2]; at != 1714543200.5 {
		t.Errorf("first fix at %f, want 1714543200.5", at)
	}
	if line := tracks[1]; line.Name != "north" || line.Fixes() != 4 || fmt.Sprint(line.Line.Ends()) != "[6 12]" || !math.IsNaN(line.Line.FlatCoords()[2]) {
		t.Errorf("%q: %v", line.Name, line.Line.FlatCoords())
	}
	sameAll(t, "width", tracks[1].Width, []float64{3, 3, 3, 3})
	if f := found(findings, `table "plots" of polygons is no track`); f == nil || f.Lost || len(findings) != 1 {
		t.Errorf("findings %v", findings)
	}
}

func TestGeoPackagesRefused(t *testing.T) {
	plain := func(steps ...any) string { return writeGeoPackage(t, "x.gpkg", steps...) }
	other := plain("PRAGMA application_id = 7")
	short := filepath.Join(t.TempDir(), "short.gpkg")
	if err := os.WriteFile(short, []byte(sqliteMagic+"abc"), 0o600); err != nil {
		t.Fatal(err)
	}
	torn := plain(featureTableText("a", "POLYGON", 4326, ""))
	whole, err := os.ReadFile(torn)
	if err != nil {
		t.Fatal(err)
	}
	clear(whole[100:4096]) // the page on which the tables are named
	if err := os.WriteFile(torn, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, file, want string }{
		{"a page of zeros", torn, "no GeoPackage that can be read: its pages do not fit together: it is cut off or damaged"},
		{"another application id", other, "byte 68: an SQLite file with the application id 0x00000007, a GeoPackage has 0x47504b47"},
		{"cut in the header", short, "the header has 19 of 100 bytes"},
		{"no feature table", plain(), "no feature table in it"},
		{"a table that is not there", plain(`INSERT INTO gpkg_geometry_columns VALUES ('gone', 'geom', 'POLYGON', 4326, 0, 0)`), `the table "gone" is not there`},
		{"no geometry column", plain(featureTableText("a", "POLYGON", 4326, ""), `UPDATE gpkg_geometry_columns SET column_name = 'shape'`), `it has no column "shape"`},
		{"undefined cartesian", plain(featureTableText("a", "POLYGON", -1, ""), `INSERT INTO a VALUES (1, ?)`, blob(t, geom.NewPolygonFlat(geom.XY, packedSquare(1, 1, 1), []int{10}), -1, 0, binary.LittleEndian)), "undefined cartesian (srs_id -1)"},
		{"gpkg_geometry_columns is a view", plain(`ALTER TABLE gpkg_geometry_columns RENAME TO y; CREATE VIEW gpkg_geometry_columns AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM n) SELECT i FROM n`), "is a view or virtual table"},
	} {
		t.Run(c.name, func(t *testing.T) {
			fields, findings, err := Fields(c.file, Options{})
			if err == nil || !strings.Contains(err.Error(), c.want) || fields != nil || findings != nil {
				t.Errorf("%v, %v, want %q", fields, err, c.want)
			}
		})
	}
}

// A file that breaks off gives the features on the pages that are there.
func TestGeoPackageCutOff(t *testing.T) {
	steps := []any{featureTableText("log", "POINT", 4326, ", note TEXT")}
	for i := range 400 {
		steps = append(steps, `INSERT INTO log VALUES (NULL, ?, '`+strings.Repeat("x", 100)+`')`, blob(t, geom.NewPointFlat(geom.XY, []float64{10 + 1e-5*float64(i), 50}), 4326, 0, binary.LittleEndian))
	}
	file := writeGeoPackage(t, "cut.gpkg", steps...)
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, raw[:len(raw)-5*4096-100], 0o600); err != nil {
		t.Fatal(err)
	}
	tracks, findings, err := tracksOf(file)
	if err != nil {
		t.Fatal(err)
	}
	want := fmt.Sprintf("the file ends at byte %d, its header says %d: what is there is used", len(raw)-5*4096-100, len(raw))
	if f := found(findings, want); f == nil || !f.Lost || tracks[0].Fixes() < 100 || tracks[0].Fixes() >= 400 {
		t.Errorf("%d fixes, %v, want %q", tracks[0].Fixes(), findings, want)
	}
	if f := found(findings, "unreadable from here on"); f == nil || !f.Lost {
		t.Errorf("findings %v", findings)
	}
}

// A table is read once, however often it is listed, and pages that several tables or rows name are content of the file once.
func TestGeoPackageContentGivenOften(t *testing.T) {
	square := blob(t, geom.NewPolygonFlat(geom.XY, packedSquare(10, 50, 0.001), []int{10}), 4326, 0, binary.LittleEndian)
	table := []any{featureTableText("a", "POLYGON", 4326, ", name TEXT"), `INSERT INTO a VALUES (1, ?, 'x')`, square}
	var circle []float64
	for i := range 1001 {
		y, x := math.Sincos(2 * math.Pi * float64(i%1000) / 1000)
		circle = append(circle, 10+0.001*x, 50+0.001*y)
	}
	const twins = `PRAGMA writable_schema = ON; WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM n WHERE i < %[1]d) INSERT INTO sqlite_schema
		SELECT type, 'b' || i, 'b' || i, rootpage, replace(sql, '"a"', 'b' || i) FROM sqlite_schema, n WHERE name = 'a';
		WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM n WHERE i < %[1]d) INSERT INTO gpkg_geometry_columns SELECT 'b' || i, 'geom', 'POLYGON', 4326, 0, 0 FROM n`
	for _, c := range []struct {
		name, more string
		blobs      []any
		want       string // of the findings, or of the error
		fails      bool
		fields     int
	}{
		{"a table listed thrice", `INSERT INTO gpkg_geometry_columns VALUES ('A', 'geom', 'POLYGON', 4326, 0, 0), ('a', 'GEOM', 'POLYGON', 4326, 0, 0)`, nil, `the table "A" is listed more than once: read once (2 times, here first)`, false, 1},
		{"three tables on a page", fmt.Sprintf(twins, 2), nil, "holds 3 layers of boundaries, and none is chosen (--layer NAME):\n  a  (1 field)\n  b1  (1 field)\n  b2  (1 field)", true, 0},
		{"eleven tables", fmt.Sprintf(twins, 10), nil, "\n  b9  (1 field)\n  b10  (1 field)", true, 0},
		{"twelve tables", fmt.Sprintf(twins, 11), nil, "\n  b9  (1 field)\n  and 2 more", true, 0},
		{"forty tables on the pages of one", fmt.Sprintf(twins, 40) + `; UPDATE a SET geom = ?`, []any{blob(t, geom.NewPolygonFlat(geom.XY, circle, []int{len(circle)}), 4326, 0, binary.LittleEndian)}, "holds 3 layers of boundaries", true, 0},
		{"rows that share a long name", `WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i+1 FROM n WHERE i < 99) INSERT INTO a (geom) SELECT geom FROM a, n;
			ALTER TABLE a ADD COLUMN label TEXT DEFAULT '` + strings.Repeat("x", 20_000) + `'`, nil, "its pages are used twice", false, -1},
	} {
		t.Run(c.name, func(t *testing.T) {
			fields, findings, err := Fields(writeGeoPackage(t, "x.gpkg", slices.Concat(table, []any{c.more}, c.blobs)...), Options{})
			if c.fails {
				if err == nil || !strings.Contains(err.Error(), c.want) {
					t.Errorf("%d fields, %.300v, want %q", len(fields), err, c.want)
				}
				return
			}
			if err != nil || c.fields >= 0 && len(fields) != c.fields || found(findings, c.want) == nil {
				t.Errorf("%d fields, %v, %v, want %q", len(fields), findings, err, c.want)
			}
		})
	}
}

// Reading changes nothing, not even where the file asks for it.
func TestGeoPackageIsOpenedForReadingOnly(t *testing.T) {
	file := writeGeoPackage(t, "x.gpkg", featureTableText("a", "POLYGON", 4326, ""))
	g, err := openGeoPackage(&source{file: file, path: file})
	if err != nil {
		t.Fatal(err)
	}
	defer g.close()
	if _, err := g.conn.ExecContext(context.Background(), "DELETE FROM a"); err == nil || !strings.Contains(err.Error(), "readonly") {
		t.Errorf("a write gives %v", err)
	}
}

// Counts that claim more than is there are refused before anything is allocated.
func TestLyingBlobs(t *testing.T) {
	le := func(code, count uint32) []byte {
		b := []byte{'G', 'P', 0, 1, 0xe6, 0x10, 0, 0, 1}
		b = binary.LittleEndian.AppendUint32(b, code)
		return binary.LittleEndian.AppendUint32(b, count)
	}
	deep := []byte{'G', 'P', 0, 1, 0xe6, 0x10, 0, 0}
	for range 10_000 {
		deep = append(deep, le(7, 1)[8:]...)
	}
	deep = append(deep, le(7, 0)[8:]...)
	for _, c := range []struct {
		name, want string
		b          []byte
	}{
		{"points of a line", "claims 4294967295 elements of at least 16 bytes at byte 5, 0 bytes are left", le(2, math.MaxUint32)},
		{"rings", "claims 1000000000 elements of at least 4 bytes", le(3, 1e9)},
		{"parts", "claims 1000000000 elements of at least 9 bytes", le(6, 1e9)},
		{"nesting", "nested deeper", deep},
		{"a collection in a multipolygon", "as a part of a multi-geometry", append(le(6, 1), le(7, 0)[8:]...)},
		{"a curve", "WKB type 8 is not read", le(8, 0)},
		{"bytes after the end", "3 bytes after the end", append(le(2, 0), 1, 2, 3)},
		{"another mark", `begins with "GX`, []byte("GX\x00\x01\x00\x00\x00\x00")},
		{"an extended type", "extended geometry type", []byte("GP\x00\x21\x00\x00\x00\x00")},
		{"envelope of kind 5", "kind 5, the limit is 4", []byte("GP\x00\x0b\x00\x00\x00\x00")},
		{"cut in the envelope", "its header alone needs 40", []byte("GP\x00\x03\x00\x00\x00\x00")},
	} {
		t.Run(c.name, func(t *testing.T) {
			if g, _, err := decodeGeoPackageBlob(c.b); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, %v, want %q", g, err, c.want)
			}
		})
	}
}

// The least there can be of each kind is read to its last byte: a ring or line without points is a count alone.
func TestLeastBlobs(t *testing.T) {
	wkb := func(code uint32, rest ...byte) []byte {
		return append(binary.LittleEndian.AppendUint32([]byte{1}, code), rest...)
	}
	one, none := []byte{1, 0, 0, 0}, make([]byte, 4)
	for what, b := range map[string][]byte{
		"a line of no points":        wkb(2, none...),
		"a polygon of no rings":      wkb(3, none...),
		"a polygon of an empty ring": wkb(3, append(one, none...)...),
		"an empty line in several":   wkb(5, append(one, wkb(2, none...)...)...),
	} {
		if n, err := checkWKB(b, 0, false); err != nil || n != len(b) {
			t.Errorf("%s: %d bytes, %v, want %d", what, n, err, len(b))
		}
		if n, err := checkWKB(b[:len(b)-1], 0, false); err == nil {
			t.Errorf("%s, the last byte gone: %d bytes", what, n)
		}
	}
}

// Pages of 65536 bytes stand as 1 in the header (SQLite file format, "The Database Header", page size).
func TestGeoPackageOfAnyPageSize(t *testing.T) {
	for _, page := range []int64{512, 4096, 65536} {
		file := writeGeoPackage(t, "x.gpkg", fmt.Sprintf("PRAGMA page_size = %d", page), "VACUUM")
		size, whole, err := (&source{file: file, path: file}).checkGeoPackage()
		if err != nil || size != whole || size%page != 0 {
			t.Errorf("pages of %d bytes: %d bytes, its header says %d, %v", page, size, whole, err)
		}
		head, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if got := binary.BigEndian.Uint16(head[16:]); got != uint16(max(page%65536, page/65536)) {
			t.Errorf("pages of %d bytes stand as %d", page, got)
		}
	}
}

func FuzzGeoPackageBlob(f *testing.F) {
	for _, g := range []geom.T{
		geom.NewPointFlat(geom.XYZM, []float64{1, 2, 3, 4}),
		geom.NewLineStringFlat(geom.XY, []float64{1, 2, 3, 4}),
		geom.NewPolygonFlat(geom.XYZ, []float64{0, 0, 0, 1, 0, 0, 1, 1, 0, 0, 0, 0}, []int{12}),
		geom.NewMultiPolygonFlat(geom.XY, append(packedSquare(0, 0, 1), packedSquare(2, 2, 1)...), [][]int{{10}, {20}}),
		geom.NewMultiLineStringFlat(geom.XYM, []float64{1, 2, 3, 4, 5, 6}, []int{3, 6}),
		geom.NewMultiPointFlat(geom.XY, []float64{1, 2, 3, 4}),
		geom.NewGeometryCollection().MustPush(geom.NewPointFlat(geom.XY, []float64{1, 2}), geom.NewLineStringFlat(geom.XY, []float64{1, 2, 3, 4})),
	} {
		f.Add(blob(f, g, 4326, 0, binary.LittleEndian))
		f.Add(blob(f, g, 25832, 1, binary.BigEndian))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		g, _, err := decodeGeoPackageBlob(b)
		if err != nil || g == nil {
			return
		}
		sc := trackScan{pull: newPull(strings.NewReader("")), notes: tally{file: "fuzz"}}
		sc.row(1, g, cells{{"width", "3"}, {"time", "2024-05-01"}})
		if n := fixesOf(sc.tracks); 16*n > len(b) {
			t.Fatalf("%d fixes of %d bytes", n, len(b))
		}
		o := newOutline(1, "")
		if o.polygons(g) {
			n := 0
			for _, r := range o.Rings {
				n += len(r)
			}
			if 16*n > len(b) {
				t.Fatalf("%d corners of %d bytes", n, len(b))
			}
			_, _, _ = o.Boundary(false)
		}
	})
}

// FuzzGeoPackage changes the bytes of a whole file.
func FuzzGeoPackage(f *testing.F) {
	file := writeGeoPackage(f, "x.gpkg", featureTableText("a", "GEOMETRY", 4326, ", name TEXT, time DATETIME"),
		`INSERT INTO a VALUES (1, ?, 'x', '2024-05-01')`, blob(f, geom.NewPolygonFlat(geom.XY, packedSquare(10, 50, 0.001), []int{10}), 4326, 0, binary.LittleEndian),
		`INSERT INTO a VALUES (2, ?, 'x', '2024-05-01')`, blob(f, geom.NewLineStringFlat(geom.XY, []float64{10, 50, 10, 50.001}), 4326, 0, binary.LittleEndian))
	raw, err := os.ReadFile(file)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(uint32(0), []byte(sqliteMagic))
	f.Add(uint32(4096), []byte{1, 2, 3, 4})
	f.Add(uint32(len(raw)-200), []byte{0xff, 0xff, 0xff, 0x7f})
	path := filepath.Join(f.TempDir(), "fuzz.gpkg")
	f.Fuzz(func(t *testing.T, at uint32, change []byte) {
		b := bytes.Clone(raw)
		if at %= uint32(len(b)); len(change) == 0 {
			b = b[:at]
		}
		copy(b[at:], change)
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		fields, findings, err := geopackageFields(&source{file: path, path: path}, Options{})
		if err != nil && (fields != nil || findings != nil) || err == nil && len(fields) == 0 {
			t.Fatalf("%d fields, %v, %v", len(fields), findings, err)
		}
		tracks, findings, err := geoPackageTracks(path)
		if err != nil && (tracks != nil || findings != nil) || err == nil && len(tracks) == 0 {
			t.Fatalf("%d tracks, %v, %v", len(tracks), findings, err)
		}
	})
}
