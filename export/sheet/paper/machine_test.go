package paper

import (
	"bytes"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/testdata/check"

	"github.com/go-fonts/dejavu/dejavumathtexgyre"
	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-text/typesetting/font/opentype"
	"github.com/paulmach/orb"
)

// mathA is a letter of mathematics that the sheet's own fonts lack and dejavumathtexgyre has.
const mathA = '\U0001D400'

// collection puts fonts into one file (OpenType, "ttcf").
func collection(fonts ...[]byte) []byte {
	out := binary.BigEndian.AppendUint32([]byte("ttcf\x00\x01\x00\x00"), uint32(len(fonts)))
	at := len(out) + 4*len(fonts)
	for _, f := range fonts {
		out = binary.BigEndian.AppendUint32(out, uint32(at))
		at += (len(f) + 3) &^ 3
	}
	for _, f := range fonts {
		start := uint32(len(out))
		f = append(slices.Clone(f), make([]byte, (4-len(f)%4)%4)...)
		for i := range int(binary.BigEndian.Uint16(f[4:])) {
			entry := f[12+16*i+8:]
			binary.BigEndian.PutUint32(entry, binary.BigEndian.Uint32(entry)+start)
		}
		out = append(out, f...)
	}
	return out
}

type place struct{ at, size int }

// table is where a table lies in a font, which must have it (OpenType, the directory of a font).
func table(t testing.TB, f []byte, tag string) place {
	t.Helper()
	for entry := f[12 : 12+16*int(binary.BigEndian.Uint16(f[4:]))]; len(entry) > 0; entry = entry[16:] {
		if string(entry[:4]) == tag {
			return place{int(binary.BigEndian.Uint32(entry[8:])), int(binary.BigEndian.Uint32(entry[12:]))}
		}
	}
	t.Fatalf("no table %q", tag)
	return place{}
}

// withOS2 is a font with two bytes of its table OS/2 changed.
func withOS2(t *testing.T, f []byte, at int, v uint16) []byte {
	t.Helper()
	f = slices.Clone(f)
	at += table(t, f, "OS/2").at
	binary.BigEndian.PutUint16(f[at:], v)
	return f
}

// Folder is a folder with files.
func folder(t *testing.T, files map[string][]byte) string {
	t.Helper()
	dir := t.TempDir()
	for name, b := range files {
		path := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// A letter that the sheet's own fonts lack is drawn where a font in a folder has it, and stays a
// number where none is fit.
func TestFontsInFolders(t *testing.T) {
	own, has := dejavusanscondensed.TTF, dejavumathtexgyre.TTF
	restricted := withOS2(t, has, 8, fontRestricted)
	for _, c := range []struct {
		situation string
		files     map[string][]byte
		found     bool
	}{
		{"no files", nil, false},
		{"a font that has it", map[string][]byte{"a.ttf": has}, true},
		{"in a folder below, with large letters in its name", map[string][]byte{"truetype/math/A.TTF": has}, true},
		{"the second of a collection", map[string][]byte{"a.ttc": collection(own, has)}, true},
		{"a font that lacks it", map[string][]byte{"a.ttf": own}, false},
		{"a font under another kind of name", map[string][]byte{"a.txt": has}, false},
		{"a font whose licence allows no use in files", map[string][]byte{"a.ttf": restricted}, false},
		{"that, and one that may be used", map[string][]byte{"a.ttf": restricted, "b.ttf": has}, true},
		{"broken files", map[string][]byte{"a.ttf": nil, "b.ttf": []byte("no font"), "c.ttf": has[:len(has)/2], "d.ttc": []byte("ttcf\x00\x01\x00\x00\xff\xff\xff\xff"), "e.ttf/f.txt": nil}, false},
		{"broken files, and a font", map[string][]byte{"a.ttf": nil, "b.ttf": []byte("no font"), "c.ttf": has[:len(has)/2], "d.ttf": has}, true},
	} {
		t.Run(c.situation, func(t *testing.T) {
			f, err := LoadFonts()
			if err != nil {
				t.Fatal(err)
			}
			name := "Field " + string(mathA)
			f.Seek([]string{filepath.Join(t.TempDir(), "nowhere"), folder(t, c.files)}, []string{name})
			l := New(100, 50, f)
			l.Text(10, 30, Lettering{Size: 20}, name)
			l.Text(10, 40, Lettering{Size: 20, Bold: true}, "Field")
			if f.Lacking == c.found {
				t.Errorf("found %t, want %t", !f.Lacking, c.found)
			}
			if !c.found {
				return
			}
			pdf := bound(t, l)
			if list := check.Poppler(t, pdf, "pdffonts", "FILE"); strings.Count(list, "\n") != 4 || strings.Count(strings.ToLower(list), "dejavusanscondensed") != 2 {
				t.Errorf("want the sheet's own two fonts in the file:\n%s", list)
			}
			if got := check.Poppler(t, pdf, "pdftotext", "FILE", "-"); strings.ContainsRune(got, mathA) {
				t.Errorf("written, not drawn: %q", got)
			}
		})
	}
}

// bound is a leaf as a PDF, which must be the same when it is written again.
func bound(t *testing.T, l *Leaf) []byte {
	t.Helper()
	var a, b bytes.Buffer
	for _, out := range []*bytes.Buffer{&a, &b} {
		if err := PDF(out, []*Leaf{l}, time.Time{}); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the same leaf twice gives other bytes")
	}
	return a.Bytes()
}

// What a font of the machine sets is drawn, not written, and stands where the letter before it ends.
func TestLettersAreDrawnInTheirPlace(t *testing.T) {
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	s := "A" + string(mathA) + "B"
	f.Seek([]string{folder(t, map[string][]byte{"a.ttf": dejavumathtexgyre.TTF})}, []string{s})
	line, _, width := f.set(Lettering{Size: 20}, s)
	if len(line) != 3 || line[1].written || !line[0].written || !line[2].written {
		t.Fatalf("%d pieces, want three, the middle one drawn", len(line))
	}
	near := func(a, b float64) bool { return math.Abs(a-b) < 0.01 }
	for i, one := range []struct {
		with *face
		r    rune
	}{{f.regular[0], 'A'}, {f.regular[1], mathA}} {
		g, _ := one.with.NominalGlyph(one.r)
		wide := float64(one.with.HorizontalAdvance(g)) * 20 * 25.4 / 72 / float64(one.with.Upem())
		if got := line[i+1].x - line[i].x; !near(got, wide) {
			t.Errorf("letter %d is %.3f mm wide, want %.3f", i+1, got, wide)
		}
	}
	box := func(out []opentype.Segment) orb.Bound {
		var all orb.MultiPoint
		for _, s := range out {
			for _, p := range s.ArgsSlice() {
				all = append(all, orb.Point{float64(p.X), float64(p.Y)})
			}
		}
		return all.Bound()
	}
	w := words{at: orb.Point{10, 30}, cos: 1, how: Lettering{Size: 20}, line: line, width: width}
	got, alone := box(w.outline(line[1])), box(line[1].face.outline(line[1].glyphs[0].id))
	unit := 20 * 25.4 / 72 / float64(line[1].face.Upem())
	if !near(got.Min[0], 10+line[1].x+alone.Min[0]*unit) || !near(got.Max[0], 10+line[1].x+alone.Max[0]*unit) || !near(got.Max[1], 30-alone.Min[1]*unit) || !near(got.Min[1], 30-alone.Max[1]*unit) {
		t.Errorf("drawn at %v, its outline is %v of %.4f mm", got, alone, unit)
	}
	w.sin, w.cos = 1, 0 // upright, read from below
	if turned := box(w.outline(line[1])); !near(turned.Max[1], 30-line[1].x-alone.Min[0]*unit) || !near(turned.Min[0], 10-alone.Max[1]*unit) {
		t.Errorf("turned, drawn at %v", turned)
	}
}

// Nothing is sought for letters that the sheet has, that show nothing, or that are nobody's.
func TestLettersThatAreSought(t *testing.T) {
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ situation, s, want string }{
		{"Latin, Greek, Cyrillic, Arabic, Hebrew", "Łąka χωράφι поле حقل שדה 12 °", ""},
		{"marks as letters of their own", "Mu\u0308ller", ""},
		{"line breaks, joiners, direction marks", "a\nb\u200dc\u200ed\u2028e", ""},
		{"private use, not a letter", "\ue000\U000f0000\ufffd", ""},
		{"Han and kana, twice", "北の田 北", "の北田"},
	} {
		var got []rune
		for r := range f.lacks([]string{c.s}) {
			got = append(got, r)
		}
		slices.Sort(got)
		if string(got) != c.want {
			t.Errorf("%s: sought %q, want %q", c.situation, string(got), c.want)
		}
	}
}

func TestWhichFaceIsTaken(t *testing.T) {
	lacking := map[rune]bool{'a': true, 'b': true, 'c': true}
	with := func(has string, unlike int) candidate { return candidate{has: []rune(has), unlike: unlike} }
	for _, c := range []struct {
		situation string
		faces     []candidate
		want      int
	}{
		{"none", nil, -1},
		{"none of the letters", []candidate{with("xyz", 0)}, -1},
		{"the one with most of them", []candidate{with("a", 0), with("abxyz", 300), with("c", 0)}, 1},
		{"among equals the plainest", []candidate{with("ab", 1000), with("bc", 300), with("ac", 0), with("ab", 0)}, 2},
	} {
		if got := best(c.faces, lacking); got != c.want {
			t.Errorf("%s: %d, want %d", c.situation, got, c.want)
		}
	}
	for _, c := range []struct {
		situation            string
		weight, width, style uint16
		family               byte // PANOSE
		want                 int
	}{
		{"plain", 400, 5, 0x40, 2, 0},
		{"says nothing of its family", 400, 5, 0, 0, 0},
		{"bold", 700, 5, 0x20, 2, 300},
		{"thin", 250, 5, 0, 2, 150},
		{"narrow", 400, 3, 0, 2, 200},
		{"italic", 400, 5, 1, 2, 1000},
		{"handwriting", 400, 5, 0, 3, 500},
	} {
		b := make([]byte, 64)
		binary.BigEndian.PutUint16(b[4:], c.weight)
		binary.BigEndian.PutUint16(b[6:], c.width)
		binary.BigEndian.PutUint16(b[62:], c.style)
		b[32] = c.family
		if got := unlikeText(b); got != c.want {
			t.Errorf("%s: %d, want %d", c.situation, got, c.want)
		}
	}
}

// scripts are names in scripts that the sheet's own fonts lack; joined says that letters of the
// name change their shapes beside each other.
var scripts = []struct {
	situation, name string
	joined          bool
}{
	{"Han and kana", "北の田んぼ", false},
	{"Devanagari", "क्षेत्र", true},
	{"Thai", "ทุ่งนา", false},
	{"Ethiopic", "ክፍል", false},
}

// fontWith is a font file of this machine that has all letters of a name; "" if there is none.
func fontWith(name string) string {
	letters := map[rune]bool{}
	for _, r := range name {
		letters[r] = true
	}
	for _, path := range fontFiles(FontFolders()) {
		faces, err := facesOf(path, letters)
		if err == nil && len(faces) > 0 && len(faces[0].has) == len(letters) && faces[0].unlike < 500 {
			return path
		}
	}
	return ""
}

// With the fonts of this machine, names in other scripts are drawn and no letter is said to be
// lacking.
func TestFontsOfThisMachine(t *testing.T) {
	for _, c := range scripts {
		t.Run(c.situation, func(t *testing.T) {
			path := fontWith(c.name)
			if path == "" {
				check.Skip(t, "no font on this machine has "+c.name)
			}
			f, err := LoadFonts()
			if err != nil {
				t.Fatal(err)
			}
			f.Seek([]string{filepath.Dir(path)}, []string{c.name})
			l := New(200, 50, f)
			l.Paragraph(10, 20, 180, 5, Lettering{Size: 10}, strings.Repeat(c.name, 20))
			if f.Lacking {
				t.Error("letters are lacking")
			}
			bound(t, l)
			line, _, width := f.set(Lettering{Size: 10}, c.name)
			single := 0.0
			for _, r := range c.name {
				single += f.Width(Lettering{Size: 10}, string(r))
			}
			if line[0].written || !(width > 0) || c.joined && width > 0.95*single {
				t.Errorf("%.2f mm in one, %.2f mm letter by letter; written %t", width, single, line[0].written)
			}
		})
	}
}

// A file that claims more than it has is refused before room is made for it.
func TestTablesBeyondTheFile(t *testing.T) {
	b := slices.Clone(dejavusanscondensed.TTF)
	binary.BigEndian.PutUint32(b[12+12:], math.MaxUint32) // the size of the first table
	if _, err := loaders(bytes.NewReader(b), int64(len(b))); err == nil || !strings.Contains(err.Error(), "ends at") {
		t.Errorf("%v", err)
	}
	list := binary.BigEndian.AppendUint32([]byte("ttcf\x00\x01\x00\x00"), math.MaxUint32)
	if _, err := loaders(bytes.NewReader(list), int64(len(list))); err == nil {
		t.Error("a collection of four milliards of fonts: no error")
	}
}

// Letters that join or stand on each other come from one font.
func TestRunsOfOneScript(t *testing.T) {
	for _, c := range []struct {
		situation, s, want string
	}{
		{"Latin and Han", "A北", "A"},
		{"Arabic and a number", "حقل 12", "حقل"},
		{"Persian with a joiner's opposite", "گندم\u200cزار پاک", "گندم\u200cزار"},
		{"Devanagari with marks and joiners", "क्\u200dषे 1", "क्\u200dषे"},
		{"a number", "12", "1"},
		{"a letter with a mark", "x\u0302y 1", "x\u0302y"},
	} {
		letters := []rune(c.s)
		if got := string(letters[:runOf(letters)]); got != c.want {
			t.Errorf("%s: %q, want %q", c.situation, got, c.want)
		}
	}
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	name := strings.Repeat("x\u0302", 20)
	for room := 3.0; room < 20; room += 0.7 {
		got := []rune(f.Fit(Lettering{Size: 8}, name, room))
		if n := len(got) - 1; n%2 != 0 { // all before the dots
			t.Errorf("%.1f mm: cut between letter and mark: %q", room, string(got))
		}
	}
}

// Where no font has all letters of a run, a mark is still drawn from the font of its letter, and what none has stands as its number.
func TestAMarkStaysWithItsLetter(t *testing.T) {
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	const unknown = '\uA7D0' // a Latin letter of Unicode 14
	if runOf([]rune{'x', '\u0302', unknown}) != 3 || holder(f.regular, unknown) != nil {
		t.Fatal("the letter is of another script, or a font has it: the test does not reach what it is for")
	}
	letters, with := f.holders("x\u0302"+string(unknown), false)
	if string(letters) != "x\u0302[U+A7D0]" || with[0] != with[1] || !f.Lacking {
		t.Errorf("%q, the mark from the same font: %v; lacking %v", string(letters), with[0] == with[1], f.Lacking)
	}
}

// Whatever bytes a file of the name of a font holds: no panic, and only letters asked for.
func FuzzFontFile(f *testing.F) {
	letters := map[rune]bool{'a': true, '北': true, mathA: true}
	small := func(parts ...string) []byte {
		b := append([]byte{0, 1, 0, 0, 0, byte(len(parts)), 0, 0, 0, 0, 0, 0}, make([]byte, 16*len(parts))...)
		for i, tag := range parts {
			entry := b[12+16*i:]
			copy(entry, tag)
			at := table(f, dejavusanscondensed.TTF, tag)
			size := min(at.size, 2000)
			binary.BigEndian.PutUint32(entry[8:], uint32(len(b)))
			binary.BigEndian.PutUint32(entry[12:], uint32(size))
			b = append(b, dejavusanscondensed.TTF[at.at:at.at+size]...)
		}
		return b
	}
	one := small("OS/2", "cmap", "glyf")
	f.Add(one)
	f.Add(collection(one, small("cmap", "glyf")))
	f.Add([]byte("ttcf\x00\x01\x00\x00\xff\xff\xff\xff"))
	groups := append([]byte{0, 0, 0, 1, 0, 3, 0, 10, 0, 0, 0, 12, 0, 12, 0, 0, 0, 0, 0, 28, 0, 0, 0, 0, 0, 0, 0, 1}, 0, 1, 0xD4, 0, 0, 1, 0xD4, 0, 0, 0, 0, 5)
	f.Add(append([]byte{0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 'c', 'm', 'a', 'p', 0, 0, 0, 0, 0, 0, 0, 28, 0, 0, 0, byte(len(groups))}, groups...))
	f.Fuzz(func(t *testing.T, b []byte) {
		faces, err := readFaces(bytes.NewReader(b), int64(len(b)), letters)
		if err != nil && faces != nil {
			t.Error("faces beside an error")
		}
		for _, one := range faces {
			for _, r := range one.has {
				if !letters[r] {
					t.Errorf("has U+%04X, which was not asked for", r)
				}
			}
		}
	})
}
