package read

import (
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"strconv"

	geom "github.com/twpayne/go-geom"
	"github.com/twpayne/go-geom/encoding/wkb"
	"github.com/twpayne/go-geom/encoding/wkbcommon"
)

// shapeText reads a geometry from text: well-known text (OGC 06-103r4, 7), or well-known binary in hexadecimal digits; either
// may name its system as PostGIS writes it (SRID=25832;POINT(...)). srid is 0 where it does not. nil: the geometry is empty.
func shapeText(b []byte) (shape geom.T, srid int, err error) {
	b = trim(b)
	if len(b) > 1 && b[0] == '0' && (b[1] == '0' || b[1] == '1') {
		raw := make([]byte, hex.DecodedLen(len(b)))
		if _, err := hex.Decode(raw, b); err != nil {
			return nil, 0, fmt.Errorf("hexadecimal WKB: %w", err)
		}
		return shapeBytes(raw)
	}
	if len(b) > 5 && bytes.EqualFold(b[:5], []byte("SRID=")) {
		number, rest, found := bytes.Cut(b[5:], []byte(";"))
		if srid, err = strconv.Atoi(string(number)); err != nil || !found {
			return nil, 0, fmt.Errorf("%s: a number and a semicolon are wanted after SRID=", inQuotes(b))
		}
		b = rest
	}
	r := wktShape{text: b}
	shape, err = r.shape(0)
	if err == nil && len(trim(r.text)) > 0 {
		err = fmt.Errorf("%s after the end of its WKT", inQuotes(trim(r.text)))
	}
	return shape, srid, err
}

// shapeBytes reads a geometry from well-known binary, also as PostGIS extends it: with its system, and with flags for Z and M. It changes b.
func shapeBytes(b []byte) (shape geom.T, srid int, err error) {
	if len(b) >= 9 && b[0] <= 1 {
		order := wkbOrder(b[0])
		if code := order.Uint32(b[1:]); code&wkbHasSRID != 0 {
			srid = int(int32(order.Uint32(b[5:])))
			order.PutUint32(b[5:], code&^wkbHasSRID)
			b[4] = b[0]
			b = b[4:]
		}
	}
	n, err := checkWKB(b, 0, false)
	if err != nil {
		return nil, 0, err
	}
	if n < len(b) {
		return nil, 0, fmt.Errorf("%d bytes after the end of its WKB", len(b)-n)
	}
	shape, err = wkb.Unmarshal(b, wkbcommon.WKBOptionEmptyPointHandling(wkbcommon.EmptyPointHandlingNaN))
	return shape, srid, err
}

// wktShape is a reader of well-known text.
type wktShape struct {
	text []byte
}

// take takes c, after space.
func (r *wktShape) take(c byte) bool {
	r.text = trim(r.text)
	if len(r.text) == 0 || r.text[0] != c {
		return false
	}
	r.text = r.text[1:]
	return true
}

// word takes a word in capitals; "" where none comes.
func (r *wktShape) word() string {
	r.text = trim(r.text)
	n := 0
	for n < len(r.text) && r.text[n]|0x20 >= 'a' && r.text[n]|0x20 <= 'z' {
		n++
	}
	w := string(bytes.ToUpper(r.text[:min(n, 20)]))
	r.text = r.text[n:]
	return w
}

func (r *wktShape) fault(want string) error {
	return fmt.Errorf("WKT at %s: %s is wanted", inQuotes(r.text[:min(len(r.text), 20)]), want)
}

// wktDepths are how many brackets lie around a position of a kind of geometry.
var wktDepths = map[string]int{"POINT": 1, "LINESTRING": 1, "MULTIPOINT": 2, "POLYGON": 2, "MULTILINESTRING": 2, "MULTIPOLYGON": 3}

// shape reads one geometry; nil: it is empty. Heights and measures are left out.
func (r *wktShape) shape(depth int) (geom.T, error) {
	if depth > maxDepth {
		return nil, fmt.Errorf("collections nested deeper than %d", maxDepth)
	}
	kind := r.word()
	if n := len(kind); n > 1 && wktDepths[kind] == 0 && kind != "GEOMETRYCOLLECTION" { // POINTZ, POINTZM
		for _, end := range []string{"ZM", "Z", "M"} {
			if k, ok := bytes.CutSuffix([]byte(kind), []byte(end)); ok {
				kind = string(k)
				break
			}
		}
	}
	brackets := wktDepths[kind]
	if brackets == 0 && kind != "GEOMETRYCOLLECTION" {
		return nil, fmt.Errorf("a geometry of the kind %.20q is not read: points, lines, polygons and collections of them are", kind)
	}
	switch w := r.word(); w {
	case "", "Z", "M", "ZM":
		if w != "" && r.word() == "EMPTY" {
			return nil, nil
		}
	case "EMPTY":
		return nil, nil
	default:
		return nil, fmt.Errorf("WKT: %.20q after %s", w, kind)
	}
	if !r.take('(') {
		return nil, r.fault("a bracket")
	}
	if kind == "GEOMETRYCOLLECTION" {
		return r.collection(depth)
	}
	var c wktCoordinates
	if err := r.list(&c, brackets, kind == "MULTIPOINT"); err != nil {
		return nil, err
	}
	switch kind {
	case "POINT":
		if len(c.flat) != 2 {
			return nil, errors.New("a WKT point of several positions")
		}
		return geom.NewPointFlat(geom.XY, c.flat), nil
	case "LINESTRING":
		return geom.NewLineStringFlat(geom.XY, c.flat), nil
	case "MULTIPOINT":
		return geom.NewMultiPointFlat(geom.XY, c.flat), nil
	case "MULTILINESTRING":
		return geom.NewMultiLineStringFlat(geom.XY, c.flat, c.ends), nil
	case "POLYGON":
		return geom.NewPolygonFlat(geom.XY, c.flat, c.ends), nil
	}
	return geom.NewMultiPolygonFlat(geom.XY, c.flat, c.endss), nil
}

func (r *wktShape) collection(depth int) (geom.T, error) {
	all := geom.NewGeometryCollection()
	for {
		one, err := r.shape(depth + 1)
		if err != nil {
			return nil, err
		}
		if one != nil {
			if err := all.Push(one); err != nil {
				return nil, err
			}
		}
		if r.take(')') {
			return all, nil
		}
		if !r.take(',') {
			return nil, r.fault("a comma or a bracket")
		}
	}
}

// wktCoordinates are positions as they are read, and where lists of them end.
type wktCoordinates struct {
	flat  []float64
	ends  []int
	endss [][]int
}

// list reads what stands in a bracket that was taken: positions, or lists that are brackets deep. loose: positions may stand
// without the innermost ones, as those of a multipoint often do.
func (r *wktShape) list(c *wktCoordinates, brackets int, loose bool) error {
	for {
		var err error
		switch {
		case brackets == 1 || loose && !r.next('('):
			err = r.position(c)
		case r.take('('):
			if err = r.list(c, brackets-1, false); err == nil {
				c.end(brackets)
			}
		case r.word() == "EMPTY":
			c.end(brackets)
		default:
			err = r.fault("a bracket")
		}
		if err != nil {
			return err
		}
		if r.take(')') {
			return nil
		}
		if !r.take(',') {
			return r.fault("a comma or a bracket")
		}
	}
}

func (r *wktShape) next(c byte) bool {
	r.text = trim(r.text)
	return len(r.text) > 0 && r.text[0] == c
}

// end ends a list that lies so many brackets above the positions.
func (c *wktCoordinates) end(brackets int) {
	if brackets == 2 {
		c.ends = append(c.ends, len(c.flat))
		return
	}
	c.endss = append(c.endss, c.ends)
	c.ends = nil
}

// position reads two to four numbers.
func (r *wktShape) position(c *wktCoordinates) error {
	n := 0
	for ; n < 4; n++ {
		r.text = trim(r.text)
		k := 0
		for k < len(r.text) && r.text[k] > ' ' && r.text[k] != ',' && r.text[k] != '(' && r.text[k] != ')' {
			k++
		}
		if k == 0 {
			break
		}
		v, _, _, ok := decimal(r.text[:k])
		if !ok {
			return r.fault("a number")
		}
		if n < 2 {
			c.flat = append(c.flat, v)
		}
		r.text = r.text[k:]
	}
	if n < 2 {
		return r.fault("a position")
	}
	return nil
}
