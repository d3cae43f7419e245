package read

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Type codes of a shapefile record (ESRI Shapefile Technical Description, 1998).
const (
	shapeNull       = 0
	shapePoint      = 1
	shapeLine       = 3
	shapePolygon    = 5
	shapeMultiPoint = 8
	shapeMultiPatch = 31
)

// flat gives the type without heights and measures; ok is false for what is no
// type. Z types lie 10, M types 20 above the flat ones.
func flat(code uint32) (kind uint32, ok bool) {
	switch code {
	case shapeNull, shapeMultiPatch:
		return code, true
	case 1, 3, 5, 8, 11, 13, 15, 18, 21, 23, 25, 28:
		return code % 10, true
	}
	return 0, false
}

// shapeGuard stands between a .shp file and the library that decodes it, which
// trusts the counts in a record: it panics on negative ones, allocates what they
// claim, loops on a negative length and loses a Z record without measures.
//
// The guard reads record by record, checks lengths, counts and parts, and gives
// out a file that is plain: records numbered from 1, without heights and
// measures, each exactly as long as its counts say. A bad record comes out as a
// null shape and is named in faults; where the file cannot be followed any
// further it ends, and end says why. Memory is bounded by the largest record
// that is really there.
type shapeGuard struct {
	r       io.Reader
	out     bytes.Buffer
	content bytes.Buffer
	at      int64 // bytes read
	length  int64 // of the file, as its header says
	records int
	kind    uint32
	faults  map[int]string // by record
	end     string         // why the file ended early, "" if it did not
	odd     string         // an oddity of the whole file that loses nothing
	err     error
}

// newShapeGuard reads the header of a .shp file.
func newShapeGuard(r io.Reader) (*shapeGuard, error) {
	g := &shapeGuard{r: r, faults: map[int]string{}}
	var h [100]byte
	n, err := io.ReadFull(r, h[:])
	g.at = int64(n)
	switch {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return nil, fmt.Errorf("the header has %d of 100 bytes", n)
	case err != nil:
		return nil, err
	}
	if magic := binary.BigEndian.Uint32(h[:]); magic != 9994 {
		return nil, fmt.Errorf("it begins with %d instead of 9994", magic)
	}
	g.length = 2 * int64(int32(binary.BigEndian.Uint32(h[24:])))
	var ok bool
	if g.kind, ok = flat(binary.LittleEndian.Uint32(h[32:])); !ok {
		return nil, fmt.Errorf("shape type %d is none", binary.LittleEndian.Uint32(h[32:]))
	}
	if g.kind == shapeMultiPatch {
		return nil, errors.New("shape type 31 (multipatch) is not read")
	}
	binary.LittleEndian.PutUint32(h[32:], g.kind)
	g.out.Write(h[:])
	return g, nil
}

// Read gives the plain file.
func (g *shapeGuard) Read(p []byte) (int, error) {
	for g.out.Len() == 0 {
		if g.err != nil {
			return 0, g.err
		}
		g.out.Reset()
		g.next()
	}
	return g.out.Read(p)
}

// stop ends the file; what is why, "" for its proper end.
func (g *shapeGuard) stop(what string) {
	g.end, g.err = what, io.EOF
}

// next reads a record and writes its plain form to out.
func (g *shapeGuard) next() {
	var h [8]byte
	from := g.at
	n, err := io.ReadFull(g.r, h[:])
	g.at += int64(n)
	switch {
	case errors.Is(err, io.EOF):
		if from < g.length {
			g.odd = fmt.Sprintf("the file has %d bytes, its header says %d", from, g.length)
		}
		g.stop("")
		return
	case errors.Is(err, io.ErrUnexpectedEOF):
		g.trailing(from, fmt.Sprintf("%d bytes at byte %d are no record", n, from))
		return
	case err != nil:
		g.err = err
		return
	}
	number := binary.BigEndian.Uint32(h[:])
	size := 2 * int64(int32(binary.BigEndian.Uint32(h[4:])))
	if from >= g.length && number != uint32(g.records+1) {
		g.trailing(from, "")
		return
	}
	if size < 4 {
		g.trailing(from, fmt.Sprintf("record %d at byte %d: its length is %d bytes, at least 4 are needed", g.records+1, from, size))
		return
	}
	g.content.Reset()
	got, err := io.CopyN(&g.content, g.r, size)
	g.at += got
	if errors.Is(err, io.EOF) {
		g.trailing(from, fmt.Sprintf("record %d at byte %d: cut off, %d of %d bytes are there", g.records+1, from, got, size))
		return
	} else if err != nil {
		g.err = err
		return
	}
	if from >= g.length && g.odd == "" {
		g.odd = fmt.Sprintf("records go on after the end at byte %d that the header names: they are used", g.length)
	}
	g.records++
	if fault := g.plain(g.content.Bytes()); fault != "" {
		g.faults[g.records] = fault
		g.record(make([]byte, 4))
	}
}

// trailing stops before something that is no record. Behind the end that the
// header names it is just left over.
func (g *shapeGuard) trailing(from int64, what string) {
	if from >= g.length {
		g.odd = fmt.Sprintf("bytes after the end at byte %d that the header names are left out", g.length)
		what = ""
	}
	g.stop(what)
}

// record writes a record.
func (g *shapeGuard) record(content []byte) {
	var h [8]byte
	binary.BigEndian.PutUint32(h[:], uint32(g.records))
	binary.BigEndian.PutUint32(h[4:], uint32(len(content)/2))
	g.out.Write(h[:])
	g.out.Write(content)
}

// plain checks the content of a record and writes it without heights and
// measures, or says what is wrong with it.
func (g *shapeGuard) plain(b []byte) (fault string) {
	code := binary.LittleEndian.Uint32(b)
	kind, ok := flat(code)
	if !ok || kind == shapeMultiPatch {
		return fmt.Sprintf("shape type %d is not read", code)
	}
	if kind != shapeNull && kind != g.kind {
		return fmt.Sprintf("shape type %d in a file of type %d", code, g.kind)
	}
	binary.LittleEndian.PutUint32(b, kind)
	head := 0 // bytes in front of the parts
	switch kind {
	case shapeNull:
		g.record(b[:4])
		return ""
	case shapePoint:
		if len(b) < 20 {
			return fmt.Sprintf("a point of %d bytes: at least 20 are needed", len(b))
		}
		g.record(b[:20])
		return ""
	case shapeMultiPoint:
		head = 40
	default:
		head = 44
	}
	if len(b) < head {
		return fmt.Sprintf("a record of %d bytes: at least %d are needed", len(b), head)
	}
	parts := int64(0)
	points := int64(int32(binary.LittleEndian.Uint32(b[head-4:])))
	if kind != shapeMultiPoint {
		parts = int64(int32(binary.LittleEndian.Uint32(b[36:])))
	}
	if parts < 0 || points < 0 || int64(head)+4*parts+16*points > int64(len(b)) {
		return fmt.Sprintf("it claims %d parts and %d points, which do not fit in its %d bytes", parts, points, len(b))
	}
	last := int64(-1)
	for i := range parts {
		p := int64(int32(binary.LittleEndian.Uint32(b[int64(head)+4*i:])))
		if p < 0 || p >= points || i == 0 && p != 0 || p < last {
			return fmt.Sprintf("part %d begins at point %d of %d: parts begin at 0 and go up", i+1, p, points)
		}
		last = p
	}
	if kind != shapeMultiPoint && parts == 0 && points > 0 {
		return fmt.Sprintf("%d points in no part", points)
	}
	end := int64(head) + 4*parts + 16*points
	for i := int64(head) + 4*parts; i < end; i += 8 {
		if v := math.Float64frombits(binary.LittleEndian.Uint64(b[i:])); math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Sprintf("point %d has the coordinate %g", (i-int64(head)-4*parts)/16+1, v)
		}
	}
	g.record(b[:end])
	return ""
}

// emptyTable is the .dbf of a file without attributes, with as many rows as
// anybody reads: the library wants one.
type emptyTable struct{ at int }

func (e *emptyTable) Read(p []byte) (int, error) {
	head := [33]byte{0: 3, 8: 33, 10: 1, 32: 0x0d}
	for i := range p {
		if p[i] = ' '; e.at < len(head) {
			p[i] = head[e.at]
			e.at++
		}
	}
	return len(p), nil
}
