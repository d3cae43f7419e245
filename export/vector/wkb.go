package vector

import (
	"bufio"
	"io"

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
	t := table{w: bufio.NewWriterSize(w, 1<<16), separator: ','}
	t.head(l)
	t.put(len(l.Columns), []byte("wkb"))
	if err := t.end(); err != nil {
		return err
	}
	for i, f := range l.Features {
		for k, v := range f.Row {
			t.put(k, t.guarded(l.Columns[k], v))
		}
		hex, err := wkb.MarshalToHex(f.Geometry)
		if err != nil {
			return &LayerError{Layer: l.Name, Feature: i + 1, What: err.Error()}
		}
		t.put(len(l.Columns), []byte(hex))
		if err := t.end(); err != nil {
			return err
		}
	}
	return t.w.Flush()
}
