package vector

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"time"

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

// Shapefile is a small shapefile whose table is laid out by hand: all polygons or
// all points. WriteShapefile lays out the table of a Layer.
type Shapefile struct {
	Points  bool
	Columns []Column
	Records []Record
	Date    time.Time // of the table's header
}

// extensions of the files of one shapefile, in the order they are packed.
var extensions = []string{".shp", ".shx", ".dbf", ".prj", ".cpg"}

// Write writes base.shp, .shx, .dbf, .prj and .cpg into dir, which must exist.
func (s Shapefile) Write(dir, base string) error {
	f := shapeFile{kind: shapeOf[Areas], n: len(s.Records), date: s.Date}
	if s.Points {
		f.kind = shapeOf[Points]
	}
	for _, c := range s.Columns {
		d := dbfColumn{name: c.Name, kind: 'C', size: int(c.Size)}
		if c.Decimals >= 0 {
			d.kind, d.decimals = 'N', c.Decimals
		}
		f.columns = append(f.columns, d)
	}
	f.shape = func(i int) orb.Geometry {
		if s.Points {
			return s.Records[i].Point
		}
		return s.Records[i].Polygon
	}
	f.cell = func(i, k int, b []byte) ([]byte, error) {
		if len(s.Records[i].Row) != len(s.Columns) {
			return nil, fmt.Errorf("%d values for %d columns", len(s.Records[i].Row), len(s.Columns))
		}
		switch v := s.Records[i].Row[k].(type) {
		case int:
			return strconv.AppendInt(b, int64(v), 10), nil
		case float64:
			return strconv.AppendFloat(b, v, 'f', max(0, s.Columns[k].Decimals), 64), nil
		case string:
			return append(b, wellFormed(v)...), nil
		default:
			return nil, fmt.Errorf("column %s: a value of type %T cannot be written", s.Columns[k].Name, v)
		}
	}
	return f.write(dir, base)
}

// WriteShapefile writes a layer as base.shp, .shx, .dbf, .prj and .cpg into dir,
// which must exist. date stands in the header of the table, none if it is zero.
//
// Outer rings run clockwise, holes counter-clockwise (ESRI Shapefile Technical
// Description, 1998). Text is UTF-8, which the .cpg says; a text is cut to 254
// bytes (see ShapefileFindings) and loses blanks at its ends. Names have at most 10 characters (see
// WriteLegend). Numbers have the decimals of their property, times are text (a
// table of this kind has only dates). A .shp or .dbf of 2 GB or more is an error,
// found before anything is written.
func WriteShapefile(dir, base string, l Layer, date time.Time) error {
	f, err := shapeFileOf(l, date)
	if err != nil {
		return err
	}
	return f.write(dir, base)
}

// ZipShapefiles packs a shapefile per layer, named by the layer, and names.txt
// (see WriteLegend) into w, dated date; zero = without a date.
func ZipShapefiles(w io.Writer, layers []Layer, date time.Time) error {
	if err := checkAll(layers); err != nil {
		return err
	}
	files := make([]shapeFile, len(layers))
	for i, l := range layers {
		var err error
		if files[i], err = shapeFileOf(l, date); err != nil {
			return err
		}
	}
	z := zip.NewWriter(w)
	pack := func(name string, write func(io.Writer) error) error {
		f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: date.UTC()})
		if err != nil {
			return err
		}
		return write(f)
	}
	for i, f := range files {
		for _, part := range f.parts() {
			name := layers[i].Name + part.extension
			if err := pack(name, part.write); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
		}
	}
	if err := pack("names.txt", func(w io.Writer) error { return WriteLegend(w, layers) }); err != nil {
		return err
	}
	return z.Close()
}

// write writes the files of a shapefile into dir.
func (f shapeFile) write(dir, base string) error {
	if err := f.check(); err != nil {
		return fmt.Errorf("%s: %w", base, err)
	}
	for _, part := range f.parts() {
		file, err := os.Create(filepath.Join(dir, base+part.extension))
		if err != nil {
			return err
		}
		if err := part.write(file); err != nil {
			return errors.Join(fmt.Errorf("%s%s: %w", base, part.extension, err), file.Close())
		}
		if err := file.Close(); err != nil {
			return err
		}
	}
	return nil
}

// Zip packs the shapefile base in dir into w, dated at.
func Zip(w io.Writer, dir, base string, at time.Time) error {
	z := zip.NewWriter(w)
	for _, ext := range extensions {
		if err := zipFile(z, filepath.Join(dir, base+ext), base+ext, at); err != nil {
			return err
		}
	}
	return z.Close()
}

func zipFile(z *zip.Writer, path, name string, at time.Time) error {
	from, err := os.Open(path)
	if err != nil {
		return err
	}
	defer from.Close()
	to, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: at.UTC()})
	if err != nil {
		return err
	}
	_, err = io.Copy(to, from)
	return err
}
