package read

import (
	"bytes"
	"database/sql"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"balk/geo"

	geom "github.com/twpayne/go-geom"
)

// openedGeoPackage is a GeoPackage that a program has open, with fields written to it in several transactions, none of which is in the file yet but the first.
func openedGeoPackage(t testing.TB) (data, wal []byte) {
	t.Helper()
	file := writeGeoPackage(t, "w.gpkg", featureTableText("plots", "POLYGON", 4326, ", name TEXT"))
	db, err := sql.Open("sqlite", file)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	for _, text := range []string{"PRAGMA journal_mode=WAL", "PRAGMA wal_autocheckpoint=0"} {
		if _, err := db.Exec(text); err != nil {
			t.Fatal(err)
		}
	}
	square := blob(t, geom.NewPolygonFlat(geom.XY, packedSquare(10, 50, 0.001), []int{10}), 4326, 0, binary.LittleEndian)
	for i := range 40 {
		if _, err := db.Exec("INSERT INTO plots VALUES (?, ?, ?)", i, square, fmt.Sprintf("%d %s", i, bytes.Repeat([]byte{'x'}, 300))); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := db.Exec("DELETE FROM plots WHERE fid < 20"); err != nil {
		t.Fatal(err)
	}
	if data, err = os.ReadFile(file); err == nil {
		wal, err = os.ReadFile(file + walSuffix)
	}
	if err != nil {
		t.Fatal(err)
	}
	return data, wal
}

// lie writes both files into a folder of their own.
func lie(t testing.TB, data, wal []byte) (file string) {
	t.Helper()
	file = filepath.Join(t.TempDir(), "w.gpkg")
	if err := os.WriteFile(file, data, 0o444); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file+walSuffix, wal, 0o444); err != nil {
		t.Fatal(err)
	}
	return file
}

// What waits beside a GeoPackage is read as SQLite itself reads it, wherever its log breaks off, and nothing is left beside it.
func TestGeoPackageThatSomebodyHasOpen(t *testing.T) {
	data, wal := openedGeoPackage(t)
	most, fewest := 0, 100
	cuts := []int{len(wal), len(wal) - 1, 0, 10, walHead, len(wal) / 2}
	for at := walHead; at < len(wal); at += 5 * (walFrame + 4096) {
		cuts = append(cuts, at)
	}
	for i, cut := range append(cuts, -1, -2) {
		log := slices.Clone(wal[:max(0, cut)])
		if cut < 0 { // whole, with one byte wrong in a page, or of another time
			log = slices.Clone(wal)
			log[map[int]int{-1: len(wal) / 3, -2: 16}[cut]] ^= 1
		}
		file := lie(t, data, log)
		fields, _, err := Fields(file, Options{})
		if err != nil {
			fields = []geo.Field{}
		}
		list, err := os.ReadDir(filepath.Dir(file))
		if err != nil || len(list) != 2 {
			t.Errorf("case %d: %v in the folder, %v", i, list, err)
		}
		want := 0
		db, err := sql.Open("sqlite", lie(t, data, log))
		if err == nil {
			err = db.QueryRow("SELECT count(*) FROM plots").Scan(&want)
			db.Close()
		}
		if err != nil || len(fields) != want {
			t.Errorf("case %d, %d of %d bytes of the log: %d fields, SQLite has %d, %v", i, len(log), len(wal), len(fields), want, err)
		}
		most, fewest = max(most, want), min(fewest, want)
	}
	if most < 21 || fewest > 0 {
		t.Errorf("between %d and %d fields only: the cuts tell nothing", fewest, most)
	}
}

// No log makes a database larger than what was written.
func FuzzGeoPackageLog(f *testing.F) {
	data, wal := openedGeoPackage(f)
	f.Add(wal)
	f.Add(wal[:walHead+walFrame+4096])
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, wal []byte) {
		if got := withLog(slices.Clone(data), wal); len(got) > 2*(len(data)+len(wal)) {
			t.Errorf("%d bytes of %d and a log of %d", len(got), len(data), len(wal))
		}
	})
}
