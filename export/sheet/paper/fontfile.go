package paper

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"slices"
)

const (
	// mostFontSize is the largest font loaded, in bytes: some four times the usual East Asian one.
	// Larger ones are pictures in colour.
	mostFontSize = 64 << 20
	// mostCmap is the largest table of letters read, in bytes: a group of 12 for each of the 65535
	// shapes that a font may have, four times over.
	mostCmap = 4 * 12 << 16
	// mostFaces is how many fonts of a collection are looked at.
	mostFaces = 64
)

// readFaces reads which letters the fonts of a file have (OpenType 1.9, "ttcf", "cmap" and "OS/2").
func readFaces(r io.ReaderAt, letters map[rune]bool) ([]face, error) {
	head, err := readAt(r, 0, 12)
	if err != nil {
		return nil, err
	}
	starts := []uint32{0}
	if string(head[:4]) == "ttcf" {
		n := min(binary.BigEndian.Uint32(head[8:]), mostFaces)
		list, err := readAt(r, 12, 4*int(n))
		if err != nil {
			return nil, err
		}
		starts = starts[:0]
		for i := range int(n) {
			starts = append(starts, binary.BigEndian.Uint32(list[4*i:]))
		}
	}
	var out []face
	known := map[fontTable][]rune{} // the fonts of a collection mostly share a table
	for _, start := range starts {
		tables, err := tablesOf(r, start)
		if err != nil {
			return nil, err
		}
		drawn := tables.find("glyf").size > 0 || tables.find("CFF ").size > 0
		at := tables.find("cmap")
		if !drawn || at.size == 0 || at.size > mostCmap {
			continue
		}
		has, ok := known[at]
		if !ok {
			cmap, err := readAt(r, int64(at.at), int(at.size))
			if err != nil {
				return nil, err
			}
			has = lettersIn(cmap, letters)
			known[at] = has
		}
		if len(has) == 0 {
			continue
		}
		one := face{start: start, has: has}
		if os2 := tables.find("OS/2"); os2.size >= 64 {
			b, err := readAt(r, int64(os2.at), 64)
			if err != nil {
				return nil, err
			}
			one.unlike = unlikeText(b)
		}
		out = append(out, one)
	}
	return out, nil
}

// unlikeText is how far a font lies from plain upright text by its table OS/2: its weight from 400,
// widths from normal, slant, and handwriting, decoration or symbols (PANOSE) count.
func unlikeText(os2 []byte) int {
	weight, width := int(binary.BigEndian.Uint16(os2[4:])), int(binary.BigEndian.Uint16(os2[6:]))
	unlike := max(weight-400, 400-weight) + 100*max(width-5, 5-width)
	if family := os2[32]; family > 2 {
		unlike += 500
	}
	if binary.BigEndian.Uint16(os2[62:])&(1<<0|1<<9) != 0 { // italic, oblique
		unlike += 1000
	}
	return unlike
}

// fontTable is an entry in the directory of a font.
type fontTable struct {
	tag      string
	at, size uint32 // in the file, bytes
}

type fontTables []fontTable

// find is the table with a tag; of size 0 if there is none.
func (t fontTables) find(tag string) fontTable {
	for _, one := range t {
		if one.tag == tag {
			return one
		}
	}
	return fontTable{}
}

const (
	fontHead  = 12 // bytes before the directory
	fontEntry = 16 // bytes of an entry
)

// tablesOf reads the directory of a font.
func tablesOf(r io.ReaderAt, start uint32) (fontTables, error) {
	head, err := readAt(r, int64(start), fontHead)
	if err != nil {
		return nil, err
	}
	list, err := readAt(r, int64(start)+fontHead, fontEntry*int(binary.BigEndian.Uint16(head[4:])))
	if err != nil {
		return nil, err
	}
	var out fontTables
	for ; len(list) > 0; list = list[fontEntry:] {
		out = append(out, fontTable{string(list[:4]), binary.BigEndian.Uint32(list[8:]), binary.BigEndian.Uint32(list[12:])})
	}
	return out, nil
}

// alone is a font by itself, taken out of a collection or as it is: the library does not read the
// last one of a collection.
func alone(r io.ReaderAt, start uint32) ([]byte, error) {
	all, err := tablesOf(r, start)
	if err != nil {
		return nil, err
	}
	total := uint64(0)
	for _, t := range all {
		total += uint64(t.size)
	}
	if total > mostFontSize {
		return nil, fmt.Errorf("%d bytes: at most %d are read", total, mostFontSize)
	}
	out, err := readAt(r, int64(start), fontHead+fontEntry*len(all))
	if err != nil {
		return nil, err
	}
	for i, t := range all {
		b, err := readAt(r, int64(t.at), int(t.size))
		if err != nil {
			return nil, err
		}
		binary.BigEndian.PutUint32(out[fontHead+fontEntry*i+8:], uint32(len(out)))
		out = append(out, b...)
		out = append(out, make([]byte, (4-len(out)%4)%4)...)
	}
	return out, nil
}

func readAt(r io.ReaderAt, at int64, n int) ([]byte, error) {
	b := make([]byte, n)
	if _, err := io.ReadFull(io.NewSectionReader(r, at, int64(n)), b); err != nil {
		return nil, err
	}
	return b, nil
}

// lettersIn gives those letters that a table "cmap" has, sorted. Of its parts those for Unicode
// are read that give a letter a shape of its own: segments of 16 bits (format 4) and groups of 32 (format 12). A font
// with one shape for whole ranges (format 13) shows no letters.
func lettersIn(cmap []byte, letters map[rune]bool) []rune {
	if len(cmap) < 4 {
		return nil
	}
	has := map[rune]bool{}
	for i := range int(binary.BigEndian.Uint16(cmap[2:])) {
		if len(cmap) < 12+8*i {
			break
		}
		record := cmap[4+8*i:]
		platform, encoding, at := binary.BigEndian.Uint16(record), binary.BigEndian.Uint16(record[2:]), binary.BigEndian.Uint32(record[4:])
		unicodes := platform == 0 && encoding != 5 || platform == 3 && (encoding == 1 || encoding == 10)
		if !unicodes || uint64(at)+16 > uint64(len(cmap)) {
			continue
		}
		part := cmap[at:]
		var in func([]byte, rune) bool
		switch binary.BigEndian.Uint16(part) {
		case 4:
			in = inSegments
		case 12:
			in = inGroups
		default:
			continue
		}
		for r := range letters {
			if !has[r] && in(part, r) {
				has[r] = true
			}
		}
	}
	out := make([]rune, 0, len(has))
	for r := range has {
		out = append(out, r)
	}
	slices.Sort(out)
	return out
}

// inSegments says whether a part of format 4 has a letter.
func inSegments(b []byte, r rune) bool {
	if r > math.MaxUint16 {
		return false
	}
	word := func(at int) int {
		if at+2 > len(b) {
			return 0
		}
		return int(binary.BigEndian.Uint16(b[at:]))
	}
	twice := word(6) // twice the number of segments
	n := twice / 2
	const ends = 14
	starts, deltas, offsets := ends+twice+2, ends+2*twice+2, ends+3*twice+2
	lo, hi := 0, n
	for lo < hi { // the first segment that ends at the letter or behind it
		mid := (lo + hi) / 2
		if word(ends+2*mid) < int(r) {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	if lo == n || word(starts+2*lo) > int(r) {
		return false
	}
	glyph := int(r)
	if offset := word(offsets + 2*lo); offset != 0 {
		if glyph = word(offsets + 2*lo + offset + 2*(int(r)-word(starts+2*lo))); glyph == 0 {
			return false
		}
	}
	return (glyph+word(deltas+2*lo))&math.MaxUint16 != 0
}

// inGroups says whether a part of format 12 has a letter.
func inGroups(b []byte, r rune) bool {
	const head, group = 16, 12 // bytes
	n := min(int64(binary.BigEndian.Uint32(b[12:])), int64(len(b)-head)/group)
	lo, hi := 0, int(n)
	for lo < hi { // the first group that ends at the letter or behind it
		mid := (lo + hi) / 2
		if binary.BigEndian.Uint32(b[head+group*mid+4:]) < uint32(r) {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	if lo == int(n) {
		return false
	}
	g := b[head+group*lo:]
	start := binary.BigEndian.Uint32(g)
	return start <= uint32(r) && binary.BigEndian.Uint32(g[8:])+uint32(r)-start != 0
}
