package vector

import (
	"archive/zip"
	"fmt"
	"io"
	"time"
)

// wgs84 is the .prj text of longitude and latitude on WGS84 (WKT1 as in
// OGC 01-009; figures of the ellipsoid from NGA.STND.0036).
const wgs84 = `GEOGCS["GCS_WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],PRIMEM["Greenwich",0.0],UNIT["Degree",0.0174532925199433]]`

// Part is one of the files of a result that has several.
type Part struct {
	Name  string
	Write func(io.Writer) error
}

// Shapefile is a layer as base.shp, .shx, .dbf, .prj and .cpg. date stands in the header of the
// table, none if it is zero.
//
// Outer rings run clockwise, holes counter-clockwise (ESRI Shapefile Technical
// Description, 1998). Text is UTF-8, which the .cpg says; a text is cut to 254
// bytes (see ShapefileFindings) and loses blanks at its ends. Names have at most 10 characters (see
// WriteLegend). Numbers have the decimals of their property, times are text (a
// table of this kind has only dates). A .shp or .dbf of 2 GB or more is an error.
func Shapefile(base string, l Layer, date time.Time) ([]Part, error) {
	f, err := shapeFileOf(l, date)
	if err != nil {
		return nil, err
	}
	text := func(s string) func(io.Writer) error {
		return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
	}
	return []Part{{base + ".shp", f.shapes}, {base + ".shx", f.index}, {base + ".dbf", f.table}, {base + ".prj", text(wgs84)}, {base + ".cpg", text("UTF-8")}}, nil
}

// ZipShapefiles packs a shapefile per layer, named by the layer, and names.txt
// (see WriteLegend) into w, dated date; zero = without a date.
func ZipShapefiles(w io.Writer, layers []Layer, date time.Time) error {
	if err := checkAll(layers); err != nil {
		return err
	}
	var all []Part
	for _, l := range layers {
		parts, err := Shapefile(l.Name, l, date)
		if err != nil {
			return err
		}
		all = append(all, parts...)
	}
	return Zip(w, append(all, Part{"names.txt", func(w io.Writer) error { return WriteLegend(w, layers) }}), date)
}

// Zip packs files into w, dated date; zero = without a date.
func Zip(w io.Writer, parts []Part, date time.Time) error {
	z := zip.NewWriter(w)
	for _, part := range parts {
		f, err := z.CreateHeader(&zip.FileHeader{Name: part.Name, Method: zip.Deflate, Modified: date.UTC()})
		if err != nil {
			return err
		}
		if err := part.Write(f); err != nil {
			return fmt.Errorf("%s: %w", part.Name, err)
		}
	}
	return z.Close()
}
