package vector

import (
	"io"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// WriteWKB writes a layer for pipelines: a table (RFC 4180, UTF-8, decimal
// points, formulas guarded as in WriteCSV, for a table is opened in spreadsheets too) with a last column "wkb" that holds the
// geometry as well-known binary in hexadecimal digits (ISO 19125 and OGC
// 06-103r4, byte order little-endian, two dimensions, no SRID), in degrees on
// WGS84, longitude first. Databases take such text as a geometry.
func WriteWKB(w io.Writer, l Layer) error {
	if err := l.check(); err != nil {
		return err
	}
	for _, c := range l.Columns {
		if c.Name == "wkb" {
			return &LayerError{Layer: l.Name, What: `a property is called "wkb" like the column of the geometry`}
		}
	}
	return writeTable(w, l, CSV{}, func(g orb.Geometry) ([]byte, error) {
		hex, err := wkb.MarshalToHex(g)
		return []byte(hex), err
	})
}
