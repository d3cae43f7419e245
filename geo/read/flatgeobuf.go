package read

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"balk/geo"
	"balk/geo/crs"

	geom "github.com/twpayne/go-geom"
)

// FlatGeobuf (flatgeobuf.org, version 3; layout from memory, held against files of another writer): eight bytes of magic, a
// header, an index of places that is passed over, and features, each behind its length. Header and features are flatbuffers:
// tables whose fields stand where a table of offsets says.

// flatgeobufMagic is how a file begins; the byte behind it is a patch level.
const flatgeobufMagic = "fgb\x03fgb"

// maxFlat is the largest header or feature that is read, in bytes.
const maxFlat = 1 << 28

// flatTable is a table of a flatbuffer. Every access is held to the bytes that are there; what lies outside is absent.
type flatTable struct {
	b  []byte
	at int // -1: there is none
}

func (t flatTable) u32(at int) int {
	if at < 0 || at+4 > len(t.b) {
		return -1
	}
	return int(binary.LittleEndian.Uint32(t.b[at:]))
}

// field is the place of the value of field i; -1: it has none.
func (t flatTable) field(i int) int {
	if t.at < 0 || t.at+4 > len(t.b) {
		return -1
	}
	v := t.at - int(int32(binary.LittleEndian.Uint32(t.b[t.at:]))) // the table of offsets
	if v < 0 || v+4 > len(t.b) {
		return -1
	}
	size := int(binary.LittleEndian.Uint16(t.b[v:]))
	if o := v + 4 + 2*i; o+2 <= v+size && o+2 <= len(t.b) {
		if off := int(binary.LittleEndian.Uint16(t.b[o:])); off > 0 && t.at+off < len(t.b) {
			return t.at + off
		}
	}
	return -1
}

// scalar is the value of field i of so many bytes; other where there is none.
func (t flatTable) scalar(i, bytes int, other uint64) uint64 {
	at := t.field(i)
	if at < 0 || at+bytes > len(t.b) {
		return other
	}
	v := uint64(0)
	for k := bytes - 1; k >= 0; k-- {
		v = v<<8 | uint64(t.b[at+k])
	}
	return v
}

// follow is where field i points to; -1: nowhere.
func (t flatTable) follow(i int) int {
	at := t.field(i)
	if off := t.u32(at); off >= 0 {
		return at + off
	}
	return -1
}

func (t flatTable) table(i int) flatTable { return flatTable{t.b, t.follow(i)} }

// vector is the elements of field i, each of so many bytes.
func (t flatTable) vector(i, size int) (data []byte, n int) {
	at := t.follow(i)
	if n = t.u32(at); n <= 0 || n > (len(t.b)-at-4)/size {
		return nil, 0
	}
	return t.b[at+4 : at+4+n*size], n
}

// tables are those of a vector of tables.
func (t flatTable) tables(i int) []flatTable {
	at := t.follow(i)
	_, n := t.vector(i, 4)
	out := make([]flatTable, n)
	for k := range out {
		p := at + 4 + 4*k
		out[k] = flatTable{t.b, p + t.u32(p)}
	}
	return out
}

func (t flatTable) text(i int) string {
	b, _ := t.vector(i, 1)
	return strings.ToValidUTF8(string(b), "\uFFFD")
}

// flatgeobuf is an open file.
type flatgeobuf struct {
	r       io.Reader
	file    string
	kind    int // of all geometries; 0: each says its own
	name    string
	columns []flatColumn
	crs     flatTable
	record  int
	buf     bytes.Buffer
}

type flatColumn struct {
	name string
	kind int
}

// columns are those of field i. Names are cut: a small file can point to a long one many times.
func (t flatTable) columns(i int) []flatColumn {
	var out []flatColumn
	for k, c := range t.tables(i) {
		if k == maxColumns {
			break
		}
		name, _ := c.vector(0, 1)
		out = append(out, flatColumn{strings.ToValidUTF8(string(name[:min(len(name), 200)]), "\uFFFD"), int(c.scalar(1, 1, 0))})
	}
	return out
}

// flatSizes are the bytes of a value by the kind of its column; 0: it has its length before it.
var flatSizes = [15]int{1, 1, 1, 2, 2, 4, 4, 8, 8, 4, 8, 0, 0, 0, 0}

// openFlatGeobuf reads up to the first feature.
func openFlatGeobuf(r io.Reader, file string) (*flatgeobuf, error) {
	f := &flatgeobuf{r: r, file: file}
	fail := func(err error) (*flatgeobuf, error) {
		return nil, &FileError{File: file, What: "no FlatGeobuf that can be read", Err: err}
	}
	magic := make([]byte, len(flatgeobufMagic)+1)
	if _, err := io.ReadFull(r, magic); err != nil {
		return fail(err)
	}
	if !bytes.HasPrefix(magic, []byte(flatgeobufMagic)) {
		return fail(fmt.Errorf("it begins with %q", magic))
	}
	h, err := f.next()
	if err != nil {
		return fail(fmt.Errorf("its header: %w", err))
	}
	h.b = bytes.Clone(h.b)
	f.name, f.kind, f.crs = h.text(0), int(h.scalar(2, 1, 0)), h.table(10)
	f.columns = h.columns(7)
	// The index has a node of 40 bytes for every feature, and for every so many nodes one above them, up to a single one.
	if n, per := h.scalar(8, 8, 0), h.scalar(9, 2, 16); n > 0 && per > 0 {
		if per < 2 || n > 1<<40 {
			return fail(fmt.Errorf("an index of %d features, %d in a node", n, per))
		}
		nodes := n
		for {
			n = (n + per - 1) / per
			if nodes += n; n == 1 {
				break
			}
		}
		if got, err := io.CopyN(io.Discard, r, int64(nodes)*40); err != nil {
			return fail(fmt.Errorf("its index ends after %d of %d bytes", got, nodes*40))
		}
	}
	return f, nil
}

// next reads the next flatbuffer with its length before it; io.EOF at the end.
func (f *flatgeobuf) next() (flatTable, error) {
	var size [4]byte
	if _, err := io.ReadFull(f.r, size[:]); err != nil {
		return flatTable{}, err
	}
	n := int64(binary.LittleEndian.Uint32(size[:]))
	if n < 8 || n > maxFlat {
		return flatTable{}, fmt.Errorf("a length of %d bytes, from 8 to %d are read", n, int64(maxFlat))
	}
	f.buf.Reset()
	if got, err := io.CopyN(&f.buf, f.r, n); err != nil {
		return flatTable{}, fmt.Errorf("it ends after %d of %d bytes: %w", got, n, io.ErrUnexpectedEOF)
	}
	t := flatTable{f.buf.Bytes(), 0}
	if t.at = t.u32(0); t.at < 0 || t.at+4 > len(t.b) {
		return flatTable{}, fmt.Errorf("a table at byte %d of %d", t.at, len(t.b))
	}
	return t, nil
}

// each calls do for every feature that has a geometry.
func (f *flatgeobuf) each(notes *tally, do func(record int, shape geom.T, row cells)) error {
	for {
		t, err := f.next()
		if errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
			return nil
		}
		if f.record++; err != nil {
			return err
		}
		g := t.table(0)
		if g.at < 0 {
			notes.count(f.record, true, "a feature without geometry")
			continue
		}
		left := len(t.b)
		shape, err := g.shape(f.kind, 0, &left)
		if err != nil {
			notes.count(f.record, true, "a geometry that cannot be read: "+err.Error())
			continue
		}
		if shape == nil || shape.Empty() {
			notes.count(f.record, true, "an empty geometry")
			continue
		}
		columns := f.columns
		if own := t.columns(2); len(own) > 0 {
			columns = own
		}
		data, _ := t.vector(1, 1)
		do(f.record, shape, f.row(data, columns, notes))
	}
}

// row is the properties of a feature.
func (f *flatgeobuf) row(data []byte, columns []flatColumn, notes *tally) cells {
	var row cells
	for len(data) >= 2 {
		i := int(binary.LittleEndian.Uint16(data))
		data = data[2:]
		if i >= len(columns) || columns[i].kind >= len(flatSizes) {
			notes.count(f.record, true, "properties that are not understood: those after them are missing")
			return row
		}
		c := columns[i]
		size := flatSizes[c.kind]
		if size == 0 && len(data) >= 4 {
			n := binary.LittleEndian.Uint32(data)
			data = data[4:]
			size = int(min(uint32(len(data))+1, n))
		}
		if size > len(data) {
			notes.count(f.record, true, "properties that break off: those after them are missing")
			return row
		}
		row = append(row, cell{c.name, flatValue(c.kind, data[:size])})
		data = data[size:]
	}
	return row
}

// flatValue is a value as text.
func flatValue(kind int, b []byte) string {
	u := uint64(0)
	if flatSizes[kind] > 0 {
		for k := len(b) - 1; k >= 0; k-- {
			u = u<<8 | uint64(b[k])
		}
	}
	switch kind {
	case 0:
		return strconv.Itoa(int(int8(u)))
	case 2:
		return strconv.FormatBool(u != 0)
	case 3:
		return strconv.Itoa(int(int16(u)))
	case 5:
		return strconv.Itoa(int(int32(u)))
	case 7:
		return strconv.FormatInt(int64(u), 10)
	case 1, 4, 6, 8:
		return strconv.FormatUint(u, 10)
	case 9:
		return strconv.FormatFloat(float64(math.Float32frombits(uint32(u))), 'g', -1, 32)
	case 10:
		return strconv.FormatFloat(math.Float64frombits(u), 'g', -1, 64)
	case 14: // bytes
		return ""
	}
	return strings.ToValidUTF8(string(b), "\uFFFD")
}

// shape is the geometry of a table, of the kind of the whole file if that has one. Z, M and times are left out. left is how many
// bytes of its flatbuffer may still be read.
func (t flatTable) shape(kind, depth int, left *int) (geom.T, error) {
	if depth > maxDepth {
		return nil, fmt.Errorf("collections nested deeper than %d", maxDepth)
	}
	if kind == 0 || depth > 0 {
		kind = int(t.scalar(6, 1, uint64(kind)))
	}
	data, n := t.vector(1, 8)
	if *left -= 8 * (n + 1); *left < 0 { // a table can be pointed to any number of times
		return nil, errors.New("its parts are used more than once")
	}
	if n%2 != 0 {
		return nil, fmt.Errorf("%d numbers for its positions", n)
	}
	flat := make([]float64, n)
	for i := range flat {
		flat[i] = math.Float64frombits(binary.LittleEndian.Uint64(data[8*i:]))
	}
	ends := []int{n}
	if raw, k := t.vector(0, 4); k > 0 {
		ends = ends[:0]
		last := 0
		for i := range k {
			end := 2 * int(binary.LittleEndian.Uint32(raw[4*i:]))
			if end < last || end > n {
				return nil, fmt.Errorf("part %d ends at position %d of %d", i+1, end/2, n/2)
			}
			ends, last = append(ends, end), end
		}
		if last != n {
			return nil, fmt.Errorf("its parts hold %d of %d positions", last/2, n/2)
		}
	}
	switch kind {
	case 1:
		if n != 2 {
			return nil, fmt.Errorf("a point of %d positions", n/2)
		}
		return geom.NewPointFlat(geom.XY, flat), nil
	case 2:
		return geom.NewLineStringFlat(geom.XY, flat), nil
	case 3:
		return geom.NewPolygonFlat(geom.XY, flat, ends), nil
	case 4:
		return geom.NewMultiPointFlat(geom.XY, flat), nil
	case 5:
		return geom.NewMultiLineStringFlat(geom.XY, flat, ends), nil
	case 6, 7:
		all := geom.NewGeometryCollection()
		parts := t.tables(7)
		if len(parts) == 0 && kind == 6 && n > 0 {
			return geom.NewPolygonFlat(geom.XY, flat, ends), nil
		}
		for _, p := range parts {
			as := 0
			if kind == 6 {
				as = 3
			}
			one, err := p.shape(as, depth+1, left)
			if err != nil {
				return nil, err
			}
			if one != nil {
				if err := all.Push(one); err != nil {
					return nil, err
				}
			}
		}
		return all, nil
	}
	return nil, fmt.Errorf("a geometry of kind %d is not read: points, lines, polygons and collections of them are", kind)
}

// projection is the system of the file; nil: longitude and latitude on WGS84.
func (f *flatgeobuf) projection(notes *tally, how Taking) (crs.Projection, error) {
	if f.crs.at < 0 {
		return how.unnamed(notes)
	}
	org, code, wkt := f.crs.text(0), int(int32(f.crs.scalar(1, 4, 0))), f.crs.text(4)
	var p crs.Projection
	var err error
	switch {
	case code == 4326 && (org == "" || strings.EqualFold(org, "EPSG")):
		return nil, nil
	case code > 0 && (org == "" || strings.EqualFold(org, "EPSG")):
		p, err = crs.FromEPSG(code)
	case wkt == "":
		return how.unnamed(notes)
	}
	if p == nil && wkt != "" {
		p, err = crs.FromWKT(wkt)
	}
	if err != nil {
		return nil, &FileError{File: f.file, What: fmt.Sprintf("its system %s:%d is not read", org, code), Err: err}
	}
	note(notes, p)
	return p, nil
}

// FlatGeobufFields reads the field boundaries of a FlatGeobuf file, a boundary per feature with polygons, as geopackageFields
// does those of a table.
func FlatGeobufFields(r io.Reader, file string, o Options) ([]geo.Field, []geo.Finding, error) {
	f, err := openFlatGeobuf(r, file)
	if err != nil {
		return nil, nil, err
	}
	b := boundaryRead{notes: tally{file: file}, options: o}
	if b.projection, err = f.projection(&b.notes, o.Taking); err != nil {
		return nil, nil, err
	}
	err = f.each(&b.notes, b.row)
	if err != nil {
		b.lose(f.record, &FileError{File: file, Record: f.record, What: "unreadable from here on, what comes before is used", Err: err})
	}
	return b.result("a boundary is a feature with polygons")
}

// FlatGeobufTracks reads the tracks of a FlatGeobuf file, as geopackageTracks does those of a table.
func FlatGeobufTracks(r io.Reader, file string, o TrackOptions) ([]geo.Track, []geo.Finding, error) {
	f, err := openFlatGeobuf(r, file)
	if err != nil {
		return nil, nil, err
	}
	s := o.scan(strings.NewReader(""), file, f.name)
	p, err := f.projection(&s.notes, o.Taking)
	if err != nil {
		return nil, nil, err
	}
	if err := f.each(&s.notes, s.row); err != nil {
		if err := s.notes.brokeOff(f.record, fixesOf(s.tracks), err); err != nil {
			return nil, nil, err
		}
	}
	return s.finish(p)
}
