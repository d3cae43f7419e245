package read

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
)

// attributes is the .dbf beside a .shp: a row per record, read in step with it.
type attributes struct {
	r       *bufio.Reader
	fields  []dbfField
	row     []byte
	rows    int // read so far
	deleted bool
	ended   bool
	text    encoding.Encoding // nil: UTF-8 where it is valid, else Windows-1252
	guessed bool              // text of an unknown encoding was met
}

// dbfField is a column of the table.
type dbfField struct {
	name     string
	kind     byte // C text, N and F numbers, D date, L yes or no
	from, to int  // its bytes in a row
}

// maxColumns is the limit of columns in a table: dBase has 255 at most.
const maxColumns = 2048

// readAttributes reads the head of a .dbf. cpg is the text of the .cpg file, "" for none. odd
// is a finding, "" for none.
func readAttributes(r io.Reader, cpg string) (a *attributes, odd string, err error) {
	a = &attributes{r: bufio.NewReaderSize(r, 1<<16)}
	var h [32]byte
	if n, err := io.ReadFull(a.r, h[:]); err != nil {
		return nil, "", fmt.Errorf("the header has %d of 32 bytes", n)
	}
	head, size := int(binary.LittleEndian.Uint16(h[8:])), int(binary.LittleEndian.Uint16(h[10:]))
	if head < 33 || size < 1 {
		return nil, "", fmt.Errorf("header of %d bytes, rows of %d bytes: at least 33 and 1 are needed", head, size)
	}
	rest := make([]byte, head-32)
	if n, err := io.ReadFull(a.r, rest); err != nil {
		return nil, "", fmt.Errorf("the header has %d of %d bytes", 32+n, head)
	}
	a.text, odd = textEncoding(cpg, h[29])
	at := 1
	for i := 0; i+32 <= len(rest) && rest[i] != 0x0d; i += 32 {
		if len(a.fields) == maxColumns {
			return nil, "", fmt.Errorf("more than %d columns", maxColumns)
		}
		d := rest[i : i+32]
		f := dbfField{kind: d[11], from: at, to: at + int(d[16])}
		f.name, _ = a.decode(bytes.TrimRight(d[:11], "\x00 "))
		if z := strings.IndexByte(f.name, 0); z >= 0 {
			f.name = f.name[:z]
		}
		at = f.to
		if f.to > size {
			odd = fmt.Sprintf("column %q ends at byte %d of rows of %d bytes: it and those after it are left out", f.name, f.to, size)
			break
		}
		a.fields = append(a.fields, f)
	}
	a.row = make([]byte, size)
	return a, odd, nil
}

// next reads the next row; false: there is none.
func (a *attributes) next() (bool, error) {
	if a.ended {
		return false, nil
	}
	_, err := io.ReadFull(a.r, a.row)
	switch {
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		a.ended = true
		return false, nil
	case err != nil:
		return false, err
	}
	switch a.row[0] {
	case ' ':
		a.deleted = false
	case '*':
		a.deleted = true
	default: // 0x1a, the end mark, or something else that is no row
		a.ended = true
		return false, nil
	}
	a.rows++
	return true, nil
}

// value is the text in column i of the row at hand, without padding. Numbers
// filled with stars and all-NUL text are no value.
func (a *attributes) value(i int) string {
	f := a.fields[i]
	b := bytes.Trim(a.row[f.from:f.to], " \x00")
	if f.kind != 'C' && len(b) > 0 && len(bytes.Trim(b, "*")) == 0 {
		return ""
	}
	s, sure := a.decode(b)
	if !sure {
		a.guessed = true
	}
	return s
}

// decode takes text to UTF-8. sure is false when nothing said how.
func (a *attributes) decode(b []byte) (s string, sure bool) {
	if a.text == nil {
		return plainText(b), utf8.Valid(b)
	}
	out, err := a.text.NewDecoder().Bytes(b)
	if err != nil {
		return strings.ToValidUTF8(string(b), "\uFFFD"), false
	}
	return strings.ToValidUTF8(string(out), "\uFFFD"), true
}

// plainText is text of which nothing says how it is written: UTF-8, or Windows-1252 where it is not that.
func plainText(b []byte) string {
	if utf8.Valid(b) {
		return string(b)
	}
	out, err := charmap.Windows1252.NewDecoder().Bytes(b)
	if err != nil {
		return strings.ToValidUTF8(string(b), "\uFFFD")
	}
	return string(out)
}

// codePages are the encodings a .cpg names, in lower case without "-", "_" and
// space, and by the numbers of code pages.
var codePages = map[string]encoding.Encoding{
	"utf8": encoding.Nop, "65001": encoding.Nop,
	"1250": charmap.Windows1250, "1251": charmap.Windows1251, "1252": charmap.Windows1252, "1253": charmap.Windows1253, "1254": charmap.Windows1254,
	"1255": charmap.Windows1255, "1256": charmap.Windows1256, "1257": charmap.Windows1257, "1258": charmap.Windows1258,
	"437": charmap.CodePage437, "850": charmap.CodePage850, "852": charmap.CodePage852, "855": charmap.CodePage855, "858": charmap.CodePage858,
	"860": charmap.CodePage860, "862": charmap.CodePage862, "863": charmap.CodePage863, "865": charmap.CodePage865, "866": charmap.CodePage866,
	"88591": charmap.ISO8859_1, "88592": charmap.ISO8859_2, "88593": charmap.ISO8859_3, "88594": charmap.ISO8859_4, "88595": charmap.ISO8859_5,
	"88596": charmap.ISO8859_6, "88597": charmap.ISO8859_7, "88598": charmap.ISO8859_8, "88599": charmap.ISO8859_9, "885910": charmap.ISO8859_10,
	"885913": charmap.ISO8859_13, "885914": charmap.ISO8859_14, "885915": charmap.ISO8859_15, "885916": charmap.ISO8859_16,
	"latin1": charmap.ISO8859_1, "ascii": charmap.Windows1252, "usascii": charmap.Windows1252, "koi8r": charmap.KOI8R, "koi8u": charmap.KOI8U,
}

// driverPages are the code pages by the language byte at place 29 of a .dbf,
// from memory; 0x57 as seen in files of the mbostock/shapefile collection.
var driverPages = map[byte]string{
	0x01: "437", 0x02: "850", 0x03: "1252", 0x57: "1252", 0x58: "1252", 0x59: "1252", 0x64: "852", 0x65: "866", 0x66: "865",
	0x6b: "857", 0x78: "950", 0x79: "949", 0x7a: "936", 0x7b: "932", 0xc8: "1250", 0xc9: "1251", 0xca: "1254", 0xcb: "1253",
}

// textEncoding is how the text of a table is written: by its .cpg, else by the
// language byte of the .dbf. nil: nobody says.
func textEncoding(cpg string, driver byte) (e encoding.Encoding, odd string) {
	if name := strings.TrimSpace(strings.TrimPrefix(cpg, string(bom))); name != "" {
		key := strings.NewReplacer("-", "", "_", "", " ", "", "windows", "", "ansi", "", "oem", "", "iso", "", "cp", "").Replace(strings.ToLower(name))
		if e, ok := codePages[key]; ok {
			return e, ""
		}
		odd = fmt.Sprintf(".cpg names the encoding %q, which is not known: text is read as UTF-8 where it is that, else as Windows-1252", name)
		return nil, odd
	}
	if page, ok := driverPages[driver]; ok {
		if e, ok := codePages[page]; ok {
			return e, ""
		}
		return nil, fmt.Sprintf(".dbf names code page %s, which is not known: text is read as UTF-8 where it is that, else as Windows-1252", page)
	}
	return nil, ""
}
