package farm

import (
	"encoding/binary"
	"fmt"

	"balk/export/vector"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// blob is a place as the file has it; nil for none.
func blob(g orb.Geometry) (any, error) {
	if g == nil {
		return nil, nil
	}
	return vector.AppendBlob(nil, g)
}

// placeOf takes a place out of its blob (OGC 12-128, "GeoPackage binary format"), whoever wrote it.
func placeOf(b []byte) (orb.Geometry, error) {
	if len(b) == 0 {
		return nil, nil
	}
	if len(b) < 8 || b[0] != 'G' || b[1] != 'P' || b[2] != 0 {
		return nil, fmt.Errorf("a place begins with %q, \"GP\" and version 0 are wanted", b[:min(len(b), 3)])
	}
	order := binary.ByteOrder(binary.BigEndian)
	if b[3]&1 != 0 {
		order = binary.LittleEndian
	}
	if srs := int32(order.Uint32(b[4:])); srs != 4326 {
		return nil, fmt.Errorf("a place in the system %d: must be 4326 (WGS84, degrees)", srs)
	}
	if b[3]&0x10 != 0 {
		return nil, nil // empty
	}
	envelope := int(b[3] >> 1 & 7)
	if envelope > 4 || len(b) < 8+[5]int{0, 32, 48, 48, 64}[envelope] {
		return nil, fmt.Errorf("a place of %d bytes with a box of kind %d", len(b), envelope)
	}
	return wkb.Unmarshal(b[8+[5]int{0, 32, 48, 48, 64}[envelope]:])
}

// pointOf takes a point out of its blob; nil for none.
func pointOf(b []byte) (*orb.Point, error) {
	place, err := placeOf(b)
	if err != nil || place == nil {
		return nil, err
	}
	p, ok := place.(orb.Point)
	if !ok {
		return nil, fmt.Errorf("is a %s: must be a point", place.GeoJSONType())
	}
	return &p, nil
}
