package vector

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	shp "github.com/jonas-p/go-shp"
	"github.com/paulmach/orb"
)

// wgs84 is the .prj text of longitude and latitude on WGS84 (WKT1 as in
// OGC 01-009; figures of the ellipsoid from NGA.STND.0036).
const wgs84 = `GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`

// Column is one column of a shapefile's table. Size and Decimals are
// characters; Decimals below 0 makes it text.
type Column struct {
	Name     string // at most 10 bytes of ASCII
	Size     uint8
	Decimals int
}

// Record is one shape with its row: Polygon or Points, degrees on WGS84. A
// value is an int, a float64 or a string, in the order of the columns.
type Record struct {
	Polygon orb.Polygon
	Point   orb.Point
	Row     []any
}

// Shapefile is a small shapefile: all polygons or all points.
type Shapefile struct {
	Points  bool
	Columns []Column
	Records []Record
	Date    time.Time // of the table's header
}

// extensions of the files of one shapefile, in the order they are packed.
var extensions = []string{".shp", ".shx", ".dbf", ".prj", ".cpg"}

// Write writes base.shp, .shx, .dbf, .prj and .cpg into dir, which must exist.
//
// go-shp v0.1.1 writes the table as "basedbf", dates it 1924 and pads it with
// NUL bytes, and it drops the errors of the disk; so the table is put right
// here and the sizes are compared with what must have been written.
func (s Shapefile) Write(dir, base string) error {
	stem := filepath.Join(dir, base)
	kind, want := shp.ShapeType(shp.POLYGON), int64(100)
	if s.Points {
		kind = shp.POINT
	}
	w, err := shp.Create(stem+".shp", kind)
	if err != nil {
		return err
	}
	fields := make([]shp.Field, len(s.Columns))
	for i, c := range s.Columns {
		if len(c.Name) > 10 {
			w.Close()
			return fmt.Errorf("%s: column name %q is longer than the 10 bytes a shapefile has", base, c.Name)
		}
		if c.Decimals < 0 {
			fields[i] = shp.StringField(c.Name, c.Size)
		} else {
			fields[i] = shp.FloatField(c.Name, c.Size, uint8(c.Decimals))
			fields[i].Fieldtype = 'N'
		}
	}
	if err := w.SetFields(fields); err != nil {
		w.Close()
		return err
	}
	for _, r := range s.Records {
		row := int(w.Write(r.shape(s.Points)))
		want += r.size(s.Points)
		for i, v := range r.Row {
			if err := w.WriteAttribute(row, i, v); err != nil {
				w.Close()
				return fmt.Errorf("%s, record %d: %w", base, row+1, err)
			}
		}
	}
	w.Close()
	for _, f := range []struct {
		name string
		size int64
	}{{".shp", want}, {".shx", 100 + 8*int64(len(s.Records))}} {
		info, err := os.Stat(stem + f.name)
		if err != nil {
			return err
		}
		if info.Size() != f.size {
			return fmt.Errorf("%s%s: %d bytes were written where %d belong", base, f.name, info.Size(), f.size)
		}
	}
	if err := s.table(stem); err != nil {
		return err
	}
	if err := os.WriteFile(stem+".prj", []byte(wgs84), 0o644); err != nil {
		return err
	}
	return os.WriteFile(stem+".cpg", []byte("UTF-8"), 0o644)
}

// table puts the .dbf right: its name, its date, blanks for NUL bytes.
func (s Shapefile) table(stem string) error {
	b, err := os.ReadFile(stem + "dbf")
	if err != nil {
		return err
	}
	header, record := 33+32*len(s.Columns), 1
	for _, c := range s.Columns {
		record += int(c.Size)
	}
	if len(b) != header+record*len(s.Records) {
		return fmt.Errorf("%s: table has %d bytes where %d belong", stem, len(b), header+record*len(s.Records))
	}
	d := s.Date.UTC()
	b[1], b[2], b[3] = byte(d.Year()-1900), byte(d.Month()), byte(d.Day())
	body := b[header:]
	for i, c := range body {
		if c == 0 {
			body[i] = ' '
		}
	}
	if err := os.WriteFile(stem+".dbf", append(b, 0x1A), 0o644); err != nil {
		return err
	}
	return os.Remove(stem + "dbf")
}

// shape is the record for go-shp. Outer rings run clockwise in a shapefile,
// holes counter-clockwise (ESRI Shapefile Technical Description, 1998).
func (r Record) shape(point bool) shp.Shape {
	if point {
		return &shp.Point{X: r.Point[0], Y: r.Point[1]}
	}
	parts := make([][]shp.Point, len(r.Polygon))
	for i, ring := range r.Polygon {
		cw := i == 0
		if (ring.Orientation() == orb.CW) != cw {
			ring = ring.Clone()
			ring.Reverse()
		}
		for _, p := range ring {
			parts[i] = append(parts[i], shp.Point{X: p[0], Y: p[1]})
		}
	}
	return (*shp.Polygon)(shp.NewPolyLine(parts))
}

// size is how many bytes the record takes in the .shp.
func (r Record) size(point bool) int64 {
	if point {
		return int64(8 + 4 + 16)
	}
	n := 8 + 4 + 32 + 8 + 4*len(r.Polygon)
	for _, ring := range r.Polygon {
		n += binary.Size(shp.Point{}) * len(ring)
	}
	return int64(n)
}

// Zip packs the shapefile base in dir into w, dated at.
func Zip(w io.Writer, dir, base string, at time.Time) error {
	z := zip.NewWriter(w)
	for _, ext := range extensions {
		b, err := os.ReadFile(filepath.Join(dir, base+ext))
		if err != nil {
			return err
		}
		f, err := z.CreateHeader(&zip.FileHeader{Name: base + ext, Method: zip.Deflate, Modified: at.UTC()})
		if err != nil {
			return err
		}
		if _, err := io.Copy(f, bytes.NewReader(b)); err != nil {
			return err
		}
	}
	return z.Close()
}
