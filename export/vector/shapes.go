package vector

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"github.com/paulmach/orb"
)

// shapeFile is a shapefile about to be written. Its sizes and its box are known
// before the first byte, so that every file is a stream and no disk has to seek.
// go-shp v0.1.1 was used before: it seeks for every record, drops the errors of
// the disk, and its tables had to be put right afterwards.
type shapeFile struct {
	kind    int32
	n       int
	shape   func(i int) orb.Geometry
	columns []dbfColumn
	cell    func(i, k int, b []byte) []byte // appends the text of a cell
	date    time.Time
}

// shapeOf are the shape types (ESRI Shapefile Technical Description, 1998).
var shapeOf = map[Kind]int32{Points: 1, Lines: 3, Areas: 5}

// twoGB is the size from which programs that count bytes in 32 bits fail. The
// format itself ends at twice that.
const twoGB = 1<<31 - 1

var (
	little = binary.LittleEndian
	big    = binary.BigEndian
)

// check holds the shapefile to its limits before anything is written.
func (f shapeFile) check() error {
	if err := f.checkTable(); err != nil {
		return err
	}
	if n := f.tableBytes(); n > twoGB {
		return fmt.Errorf(".dbf of %d bytes: the limit is %d (2 GB)", n, twoGB)
	}
	shapes := int64(100)
	for i := range f.n {
		shapes += 8 + f.contentBytes(f.shape(i))
	}
	return shapesFit(shapes)
}

func shapesFit(bytes int64) error {
	if bytes > twoGB {
		return fmt.Errorf(".shp of %d bytes: the limit is %d (2 GB)", bytes, twoGB)
	}
	return nil
}

// linesOf are the parts of a shape in the order and direction they are written:
// outer rings clockwise, their holes after them counter-clockwise.
func linesOf(g orb.Geometry) (parts [][]orb.Point) {
	switch g := g.(type) {
	case orb.Polygon:
		for i, r := range g {
			if (squareDegrees(r) < 0) != (i == 0) {
				r = r.Clone()
				slices.Reverse(r)
			}
			parts = append(parts, r)
		}
	case orb.MultiPolygon:
		for _, p := range g {
			parts = append(parts, linesOf(p)...)
		}
	case orb.LineString:
		parts = append(parts, g)
	case orb.MultiLineString:
		for _, s := range g {
			parts = append(parts, s)
		}
	}
	return parts
}

// contentBytes is how many bytes a record has after its header.
func (f shapeFile) contentBytes(g orb.Geometry) int64 {
	parts, points := int64(0), int64(0)
	add := func(n int) { parts, points = parts+1, points+int64(n) }
	switch g := g.(type) {
	case orb.Point:
		return 4 + 16
	case orb.Polygon:
		for _, r := range g {
			add(len(r))
		}
	case orb.MultiPolygon:
		for _, p := range g {
			for _, r := range p {
				add(len(r))
			}
		}
	case orb.LineString:
		add(len(g))
	case orb.MultiLineString:
		for _, s := range g {
			add(len(s))
		}
	}
	return 4 + 32 + 4 + 4 + 4*parts + 16*points
}

// head is the header of .shp and .shx.
func (f shapeFile) head(bytes int64) []byte {
	b := big.AppendUint32(nil, 9994)
	b = append(b, make([]byte, 20)...)
	b = big.AppendUint32(b, uint32(bytes/2))
	b = little.AppendUint32(b, 1000)
	b = little.AppendUint32(b, uint32(f.kind))
	var box orb.Bound
	for i := range f.n {
		if g := f.shape(i).Bound(); i == 0 {
			box = g
		} else {
			box = box.Union(g)
		}
	}
	b = appendBox(b, box)
	return append(b, make([]byte, 32)...) // no heights, no measures
}

func appendBox(b []byte, box orb.Bound) []byte {
	for _, v := range [4]float64{box.Min[0], box.Min[1], box.Max[0], box.Max[1]} {
		b = little.AppendUint64(b, math.Float64bits(v))
	}
	return b
}

// index writes the .shx.
func (f shapeFile) index(w io.Writer) error {
	out := bufio.NewWriterSize(w, 1<<16)
	b := f.head(100 + 8*int64(f.n))
	at := int64(100)
	for i := range f.n {
		n := f.contentBytes(f.shape(i))
		b = big.AppendUint32(b, uint32(at/2))
		b = big.AppendUint32(b, uint32(n/2))
		at += 8 + n
		if _, err := out.Write(b); err != nil {
			return err
		}
		b = b[:0]
	}
	if _, err := out.Write(b); err != nil {
		return err
	}
	return out.Flush()
}

// shapes writes the .shp.
func (f shapeFile) shapes(w io.Writer) error {
	out := bufio.NewWriterSize(w, 1<<16)
	total := int64(100)
	for i := range f.n {
		total += 8 + f.contentBytes(f.shape(i))
	}
	b := f.head(total)
	for i := range f.n {
		g := f.shape(i)
		b = big.AppendUint32(b, uint32(i+1))
		b = big.AppendUint32(b, uint32(f.contentBytes(g)/2))
		b = little.AppendUint32(b, uint32(f.kind))
		if p, ok := g.(orb.Point); ok {
			b = appendPoint(b, p)
		} else {
			b = appendParts(appendBox(b, g.Bound()), linesOf(g))
		}
		if _, err := out.Write(b); err != nil {
			return err
		}
		b = b[:0]
	}
	if _, err := out.Write(b); err != nil {
		return err
	}
	return out.Flush()
}

func appendParts(b []byte, parts [][]orb.Point) []byte {
	points := 0
	for _, p := range parts {
		points += len(p)
	}
	b = little.AppendUint32(b, uint32(len(parts)))
	b = little.AppendUint32(b, uint32(points))
	at := 0
	for _, p := range parts {
		b = little.AppendUint32(b, uint32(at))
		at += len(p)
	}
	for _, p := range parts {
		for _, q := range p {
			b = appendPoint(b, q)
		}
	}
	return b
}

func appendPoint(b []byte, p orb.Point) []byte {
	b = little.AppendUint64(b, math.Float64bits(p[0]))
	return little.AppendUint64(b, math.Float64bits(p[1]))
}
