package columns

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"io"
	"math"

	"github.com/parquet-go/parquet-go/deprecated"
	"github.com/parquet-go/parquet-go/encoding/thrift"
	"github.com/parquet-go/parquet-go/format"
)

// The part of Parquet (https://parquet.apache.org/docs/file-format/) that results need is written here, by the types and the encoding of its metadata
// in package format: pages of version 1 with plain values under gzip. The writer of that library brings 5 MB for what other files need.

// column is a column of values, as much of it as is in the group at hand.
type column struct {
	path  []string
	kind  format.Type
	of    format.LogicalType // zero: none
	as    thrift.Null[deprecated.ConvertedType]
	empty bool // values may be absent: defined says of each whether it is there
	list  bool // a row may have several: repeated says of each whether it goes on with the row before

	values            []byte // those that are there, plain
	defined, repeated levels
	n                 int // with those that are absent
	least, most       float64
	some              bool // of these
}

// levels are ones and noughts, as runs of the hybrid encoding (its varint header with a low bit of 0, then the value).
type levels struct {
	text []byte
	last byte
	run  uint64
}

func (l *levels) add(one bool) {
	v := byte(0)
	if one {
		v = 1
	}
	if v != l.last && l.run > 0 {
		l.end()
	}
	l.last = v
	l.run++
}

func (l *levels) end() {
	if l.run > 0 {
		l.text = append(binary.AppendUvarint(l.text, l.run<<1), l.last)
	}
	l.run = 0
}

// take gives all of them, with their length in front, and begins anew.
func (l *levels) take() []byte {
	l.end()
	text := append(binary.LittleEndian.AppendUint32(nil, uint32(len(l.text))), l.text...)
	*l = levels{}
	return text
}

// there notes whether a value is, where it need not.
func (c *column) there(is bool) bool {
	c.n++
	if c.empty {
		c.defined.add(is)
	}
	return is
}

func (c *column) text(s []byte, is bool) {
	if c.there(is) {
		c.values = append(binary.LittleEndian.AppendUint32(c.values, uint32(len(s))), s...)
	}
}

func (c *column) whole(v int, is bool) {
	if c.there(is) {
		c.values = binary.LittleEndian.AppendUint32(c.values, uint32(int32(v)))
	}
}

func (c *column) long(v int64, is bool) {
	if c.there(is) {
		c.values = binary.LittleEndian.AppendUint64(c.values, uint64(v))
	}
}

func (c *column) number(v float64, is bool) {
	if !c.there(is) {
		return
	}
	c.values = binary.LittleEndian.AppendUint64(c.values, math.Float64bits(v))
	if !c.some {
		c.least, c.most = v, v
	}
	c.least, c.most, c.some = min(c.least, v), max(c.most, v), true
}

// texts are a list of them; none: a list with nothing in it.
func (c *column) texts(all []string) {
	for i, s := range all {
		c.repeated.add(i > 0)
		c.text([]byte(s), true)
	}
	if len(all) == 0 {
		c.repeated.add(false)
		c.text(nil, false)
	}
}

// file is one that is written.
type file struct {
	out    io.Writer
	at     int64
	rows   int64 // in groups that are written
	groups []format.RowGroup
}

func (f *file) write(p []byte) error {
	n, err := f.out.Write(p)
	f.at += int64(n)
	return err
}

// group writes a group of rows, and empties its columns.
func (f *file) group(columns []*column, rows int) error {
	g := format.RowGroup{NumRows: int64(rows), FileOffset: f.at}
	for _, c := range columns {
		var page bytes.Buffer
		z, err := gzip.NewWriterLevel(&page, gzip.BestSpeed)
		if err != nil {
			return err
		}
		plain := 0
		var parts [][]byte
		if c.list {
			parts = append(parts, c.repeated.take())
		}
		if c.empty {
			parts = append(parts, c.defined.take())
		}
		for _, p := range append(parts, c.values) {
			plain += len(p)
			if _, err := z.Write(p); err != nil {
				return err
			}
		}
		if err := z.Close(); err != nil {
			return err
		}
		head, err := thrift.Marshal(new(thrift.CompactProtocol), &format.PageHeader{Type: format.DataPage, UncompressedPageSize: int32(plain), CompressedPageSize: int32(page.Len()),
			DataPageHeader: thrift.New(format.DataPageHeader{NumValues: int32(c.n), Encoding: format.Plain, DefinitionLevelEncoding: format.RLE, RepetitionLevelEncoding: format.RLE})})
		if err != nil {
			return err
		}
		about := format.ColumnMetaData{Type: c.kind, Encoding: []format.Encoding{format.Plain, format.RLE}, PathInSchema: c.path, Codec: format.Gzip, NumValues: int64(c.n),
			TotalUncompressedSize: int64(len(head) + plain), TotalCompressedSize: int64(len(head) + page.Len()), DataPageOffset: f.at}
		if c.some {
			about.Statistics.MinValue = binary.LittleEndian.AppendUint64(nil, math.Float64bits(c.least))
			about.Statistics.MaxValue = binary.LittleEndian.AppendUint64(nil, math.Float64bits(c.most))
		}
		g.Columns = append(g.Columns, format.ColumnChunk{MetaData: about})
		g.TotalByteSize += about.TotalUncompressedSize
		g.TotalCompressedSize += about.TotalCompressedSize
		if err := f.write(head); err != nil {
			return err
		}
		if err := f.write(page.Bytes()); err != nil {
			return err
		}
		c.values, c.n, c.some = c.values[:0], 0, false
	}
	f.rows += int64(rows)
	f.groups = append(f.groups, g)
	return nil
}

// end writes what is in the file, with a text under the key "geo".
func (f *file) end(columns []*column, schema []format.SchemaElement, geo string) error {
	about := format.FileMetaData{Version: 1, Schema: schema, NumRows: f.rows, RowGroups: f.groups, KeyValueMetadata: []format.KeyValue{{Key: "geo", Value: geo}}, CreatedBy: "balk"}
	for range columns {
		about.ColumnOrders = append(about.ColumnOrders, format.ColumnOrder{Value: new(format.TypeDefinedOrder)})
	}
	text, err := thrift.Marshal(new(thrift.CompactProtocol), &about)
	if err != nil {
		return err
	}
	return f.write(append(binary.LittleEndian.AppendUint32(text, uint32(len(text))), magic...))
}

// magic stands at the beginning and the end of a file.
const magic = "PAR1"
