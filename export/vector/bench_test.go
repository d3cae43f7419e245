package vector

import (
	"archive/zip"
	"bytes"
	"database/sql"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"testing"
)

// BenchmarkStrips writes the layer of 5,000 missed strips in each format, made of
// the result beforehand but for "streamed".
func BenchmarkStrips(b *testing.B) {
	const n = 5000
	r := strips(n)
	layers, err := LayersOf(r)
	if err != nil {
		b.Fatal(err)
	}
	missed := layers[7]
	places, err := Places(r, nil)
	if err != nil {
		b.Fatal(err)
	}
	count := func(mark string) func([]byte) int {
		return func(text []byte) int { return bytes.Count(text, []byte(mark)) }
	}
	for _, c := range []struct {
		name   string
		write  func(io.Writer) error
		counts func([]byte) int
	}{
		{"GeoJSON streamed", func(w io.Writer) error { return Write(w, "missed", r) }, count(`"Feature"`)},
		{"GeoJSON", func(w io.Writer) error { return WriteGeoJSON(w, missed) }, count(`"Feature"`)},
		{"KML", func(w io.Writer) error { return WriteKML(w, "farm", []Layer{missed}) }, count("<Placemark>")},
		{"GPX", func(w io.Writer) error { return WriteGPX(w, "farm", []Layer{places}, at) }, count("<wpt ")},
		{"CSV", func(w io.Writer) error { return WriteCSV(w, missed, CSV{}) }, func(t []byte) int { return bytes.Count(t, []byte("\r\n")) - 1 }},
		{"WKB", func(w io.Writer) error { return WriteWKB(w, missed) }, func(t []byte) int { return bytes.Count(t, []byte("\r\n")) - 1 }},
		{"ISO 11783-10", func(w io.Writer) error {
			_, err := WriteISOXML(w, TaskData{Fields: []TaskField{{Name: "a", Boundary: multi(layers[0].Features[0].Geometry), Zones: []Layer{missed}}}})
			return err
		}, count(`<PLN A="2"`)},
		{"shapefiles in a zip", func(w io.Writer) error { return ZipShapefiles(w, []Layer{missed}, at) }, func(text []byte) int {
			z, err := zip.NewReader(bytes.NewReader(text), int64(len(text)))
			if err != nil {
				b.Fatal(err)
			}
			return int(z.File[1].UncompressedSize64-100) / 8 // the index
		}},
	} {
		b.Run(c.name, func(b *testing.B) {
			var out bytes.Buffer
			for b.Loop() {
				out.Reset()
				if err := c.write(&out); err != nil {
					b.Fatal(err)
				}
			}
			if got := c.counts(out.Bytes()); got != n {
				b.Fatalf("%d strips written", got)
			}
			b.SetBytes(int64(out.Len()))
		})
	}
	b.Run("shapefile", func(b *testing.B) {
		dir := b.TempDir()
		for b.Loop() {
			if err := writeShapefile(dir, "missed", missed, at); err != nil {
				b.Fatal(err)
			}
		}
		if st, err := os.Stat(filepath.Join(dir, "missed.shx")); err != nil || st.Size() != 100+8*n {
			b.Fatal(st.Size(), err)
		}
	})
	b.Run("GeoPackage", func(b *testing.B) {
		dir, run := b.TempDir(), 0
		path := ""
		for b.Loop() {
			run++
			path = filepath.Join(dir, fmt.Sprint(run, ".gpkg"))
			if err := WriteGeoPackage(b.Context(), path, []Layer{missed}, at); err != nil {
				b.Fatal(err)
			}
		}
		db, err := sql.Open("sqlite", path)
		if err != nil {
			b.Fatal(err)
		}
		defer db.Close()
		var features, boxes int
		if err := db.QueryRow("SELECT (SELECT count(*) FROM missed), (SELECT count(*) FROM rtree_missed_geom)").Scan(&features, &boxes); err != nil || features != n || boxes != n {
			b.Fatal(features, boxes, err)
		}
	})
	b.Run("LayersOf", func(b *testing.B) {
		got := 0
		for b.Loop() {
			layers, err := LayersOf(r)
			if err != nil {
				b.Fatal(err)
			}
			got = len(layers[7].Features)
		}
		if got != n {
			b.Fatalf("%d strips", got)
		}
	})
}
