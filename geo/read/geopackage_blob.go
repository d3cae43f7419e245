package read

import (
	"encoding/binary"
	"errors"
	"fmt"

	geom "github.com/twpayne/go-geom"
)

// decodeGeoPackageBlob takes a geometry out of its blob (OGC 12-128, "GeoPackage
// binary format"): "GP", version 0, a byte of flags, the system, an envelope that
// is not used, and WKB. nil: the geometry is empty.
func decodeGeoPackageBlob(b []byte) (g geom.T, srs int64, err error) {
	if len(b) < 8 || b[0] != 'G' || b[1] != 'P' {
		return nil, 0, fmt.Errorf("it begins with %q, \"GP\" and 6 bytes are wanted", b[:min(len(b), 8)])
	}
	if b[2] != 0 {
		return nil, 0, fmt.Errorf("its version byte is %d, 0 is wanted", b[2])
	}
	flags := b[3]
	if flags&0x20 != 0 {
		return nil, 0, errors.New("an extended geometry type (its flag is set)")
	}
	var order binary.ByteOrder = binary.BigEndian
	if flags&1 != 0 {
		order = binary.LittleEndian
	}
	srs = int64(int32(order.Uint32(b[4:])))
	envelope := int(flags >> 1 & 7)
	if envelope > 4 {
		return nil, 0, fmt.Errorf("its envelope is of kind %d, the limit is 4", envelope)
	}
	head := 8 + [5]int{0, 32, 48, 48, 64}[envelope]
	if len(b) < head {
		return nil, 0, fmt.Errorf("it has %d bytes, its header alone needs %d", len(b), head)
	}
	if flags&0x10 != 0 {
		return nil, srs, nil
	}
	b = b[head:]
	g, _, err = shapeBytes(b)
	if err != nil {
		return nil, 0, err
	}
	return g, srs, nil
}

// Flags of the extended WKB of PostGIS (its doc/ZMSgeoms.txt, from memory).
const (
	wkbHasZ    = 0x8000_0000
	wkbHasM    = 0x4000_0000
	wkbHasSRID = 0x2000_0000
)

func wkbOrder(b byte) binary.ByteOrder {
	if b == 0 {
		return binary.BigEndian
	}
	return binary.LittleEndian
}

// checkWKB walks over a geometry and gives its length. The decoder after it
// allocates what counts claim and follows collections without a limit; here every
// count must fit into the bytes that are there. Types with flags for Z and M it writes as the standard has them. part: a part of a multi-geometry.
func checkWKB(b []byte, depth int, part bool) (int, error) {
	if depth > maxDepth {
		return 0, fmt.Errorf("collections nested deeper than %d", maxDepth)
	}
	if len(b) < 9 {
		return 0, fmt.Errorf("WKB of %d bytes, at least 9 are needed", len(b))
	}
	if b[0] > 1 {
		return 0, fmt.Errorf("WKB byte order %d, 0 or 1 is wanted", b[0])
	}
	order := wkbOrder(b[0])
	code := order.Uint32(b[1:])
	if flags := code & (wkbHasZ | wkbHasM); flags != 0 { // as the standard has it
		code = code&^flags + 1000*(flags>>31+flags>>30&1*2)
		order.PutUint32(b[1:], code)
	}
	kind, dims := code%1000, code/1000
	if dims > 3 || kind < 1 || kind > 7 {
		return 0, fmt.Errorf("WKB type %d is not read: points, lines, polygons and collections of them are", code)
	}
	if part && kind > 3 {
		return 0, fmt.Errorf("WKB type %d as a part of a multi-geometry", code)
	}
	size := [4]int{16, 24, 24, 32}[dims]
	at := 5
	count := func(least int) (int, error) {
		if len(b)-at < 4 {
			return 0, fmt.Errorf("WKB ends in a count at byte %d", at)
		}
		n := int64(order.Uint32(b[at:]))
		at += 4
		if n*int64(least) > int64(len(b)-at) {
			return 0, fmt.Errorf("WKB claims %d elements of at least %d bytes at byte %d, %d bytes are left", n, least, at-4, len(b)-at)
		}
		return int(n), nil
	}
	switch kind {
	case 1:
		if at += size; at > len(b) {
			return 0, fmt.Errorf("a WKB point of %d bytes, %d are needed", len(b), at)
		}
	case 2:
		n, err := count(size)
		if err != nil {
			return 0, err
		}
		at += n * size
	case 3:
		rings, err := count(4)
		if err != nil {
			return 0, err
		}
		for range rings {
			n, err := count(size)
			if err != nil {
				return 0, err
			}
			at += n * size
		}
	default:
		n, err := count(9)
		if err != nil {
			return 0, err
		}
		for range n {
			k, err := checkWKB(b[at:], depth+1, kind != 7)
			if err != nil {
				return 0, err
			}
			at += k
		}
	}
	return at, nil
}
