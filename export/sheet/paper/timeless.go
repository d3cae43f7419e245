package paper

import (
	"bytes"
	"cmp"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"time"
)

// tableEntry is a line of a PDF's table of contents that gives an object's place
// (ISO 32000-1, 7.5.4).
var tableEntry = regexp.MustCompile(`(?m)^(\d{10}) 00000 n $`)

// timeless takes the machine's clock and zone out of a PDF: the library stamps them
// into the file and into each font it cuts down. The file's date becomes the one
// given, in UTC; a zero time leaves none. Objects get new places, so the table of
// contents is written anew.
func timeless(b []byte, when time.Time) ([]byte, error) {
	table := bytes.LastIndex(b, []byte("\nxref\n")) + 1
	trailer := bytes.LastIndex(b, []byte("trailer\n"))
	if table == 0 || trailer < table {
		return nil, errors.New("the PDF has no table of contents")
	}
	type object struct{ number, at int }
	var objects []object
	for i, e := range tableEntry.FindAllSubmatch(b[table:trailer], -1) {
		at, err := strconv.Atoi(string(e[1]))
		if err != nil || at > table {
			return nil, fmt.Errorf("the PDF's object %d lies at %q", i+1, e[1])
		}
		objects = append(objects, object{i + 1, at})
	}
	slices.SortFunc(objects, func(a, b object) int { return cmp.Compare(a.at, b.at) })
	places := make([]int, len(objects))
	var out bytes.Buffer
	for i, o := range objects {
		from, to := o.at, table
		if i == 0 {
			out.Write(b[:from])
		}
		if i+1 < len(objects) {
			to = objects[i+1].at
		}
		places[o.number-1] = out.Len()
		body, err := withoutClock(b[from:to], when)
		if err != nil {
			return nil, fmt.Errorf("object %d of the PDF: %w", o.number, err)
		}
		out.Write(body)
	}
	start := out.Len()
	fmt.Fprintf(&out, "xref\n0 %d\n0000000000 65535 f \n", len(places)+1)
	for _, at := range places {
		fmt.Fprintf(&out, "%010d 00000 n \n", at)
	}
	words, _, found := bytes.Cut(b[trailer:], []byte("startxref\n"))
	if !found {
		return nil, errors.New("the PDF has no end")
	}
	out.Write(words)
	fmt.Fprintf(&out, "startxref\n%d\n%%%%EOF\n", start)
	return out.Bytes(), nil
}

var (
	creationDate = regexp.MustCompile(`/CreationDate\(D:[^)]*\)`)
	flateStream  = regexp.MustCompile(`^(\d+ 0 obj\n<<[^>]*?)/Length \d+>>stream\n`)
)

// withoutClock sets the date in an object that has one, and takes it off a font.
func withoutClock(object []byte, when time.Time) ([]byte, error) {
	head := flateStream.FindSubmatchIndex(object)
	if head == nil {
		date := ""
		if !when.IsZero() {
			date = when.UTC().Format("/CreationDate(D:20060102150405Z)")
		}
		return creationDate.ReplaceAllLiteral(object, []byte(date)), nil
	}
	z, err := zlib.NewReader(bytes.NewReader(object[head[1]:]))
	if err != nil {
		return object, nil // not compressed: no font
	}
	font, err := io.ReadAll(z)
	if err != nil {
		return nil, err
	}
	if !unstamp(font) {
		return object, nil
	}
	var packed bytes.Buffer
	w := zlib.NewWriter(&packed)
	if _, err := w.Write(font); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	out := fmt.Appendf(nil, "%s/Length %d>>stream\n", object[head[2]:head[3]], packed.Len())
	out = append(out, packed.Bytes()...)
	return append(out, "\nendstream\n\nendobj\n"...), nil
}

// unstamp sets the date of change of a font to that of its making, and its sums
// accordingly (OpenType, tables "head" and directory). It says whether b is a font.
func unstamp(b []byte) bool {
	const record = 16 // bytes of a table's entry in the directory
	if len(b) < 12 || string(b[:4]) != "\x00\x01\x00\x00" && string(b[:4]) != "OTTO" {
		return false
	}
	tables := int(binary.BigEndian.Uint16(b[4:]))
	for i := range tables {
		entry := b[min(len(b), 12+i*record):]
		if len(entry) < record || string(entry[:4]) != "head" {
			continue
		}
		at, size := int(binary.BigEndian.Uint32(entry[8:])), int(binary.BigEndian.Uint32(entry[12:]))
		if at+size > len(b) || size < 54 {
			return false
		}
		head := b[at : at+size]
		copy(head[28:36], head[20:28]) // modified = created
		binary.BigEndian.PutUint32(head[8:], 0)
		binary.BigEndian.PutUint32(entry[4:], fontSum(head))
		binary.BigEndian.PutUint32(head[8:], 0xB1B0AFBA-fontSum(b))
		return true
	}
	return false
}

// fontSum adds up big-endian words; what is short of a word counts as followed by
// zeros.
func fontSum(b []byte) (sum uint32) {
	for ; len(b) >= 4; b = b[4:] {
		sum += binary.BigEndian.Uint32(b)
	}
	var last [4]byte
	copy(last[:], b)
	return sum + binary.BigEndian.Uint32(last[:])
}
