package paper

import (
	"bytes"
	"encoding/binary"
	"image"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"balk/testdata/check"

	"github.com/go-fonts/dejavu/dejavumathtexgyre"
	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/tdewolff/canvas"
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

// withOS2 is a font with two bytes of its table OS/2 changed.
func withOS2(t *testing.T, f []byte, at int, v uint16) []byte {
	t.Helper()
	f = slices.Clone(f)
	tables, err := tablesOf(bytes.NewReader(f), 0)
	if err != nil || tables.find("OS/2").size < 64 {
		t.Fatalf("no table OS/2: %v", err)
	}
	binary.BigEndian.PutUint16(f[int(tables.find("OS/2").at)+at:], v)
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
			f, err := LoadFonts(nil)
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
			if list := check.Poppler(t, pdf, "pdffonts", "FILE"); strings.Count(list, "\n") != 4 || strings.Count(list, "DejaVuSansCondensed") != 2 {
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
		if err := PDF(out, []*Leaf{l}, "a leaf", time.Time{}); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the same leaf twice gives other bytes")
	}
	return a.Bytes()
}

// What is drawn is where the letter would stand, and as wide: the letter's outline by the
// library, moved there.
func TestLettersAreDrawnInTheirPlace(t *testing.T) {
	f, err := LoadFonts(nil)
	if err != nil {
		t.Fatal(err)
	}
	s := "A" + string(mathA) + "B"
	f.Seek([]string{folder(t, map[string][]byte{"a.ttf": dejavumathtexgyre.TTF})}, []string{s})
	line, width := f.set(Lettering{Size: 20}, s)
	if len(line) != 3 || !line[1].outlined || line[0].outlined || line[2].outlined {
		t.Fatalf("%d pieces, want three, the middle one drawn", len(line))
	}
	l := New(100, 50, f)
	got := &paths{}
	l.Text(10, 30, Lettering{Size: 20}, s)
	l.canvas.RenderTo(got)
	if len(got.boxes) != 2 { // the paper and the letter
		t.Fatalf("%d paths, want the paper and the letter", len(got.boxes))
	}
	outline, advance, err := f.regular[1].Face(20, canvas.Hex(Black)).ToPath(string(mathA))
	if err != nil {
		t.Fatal(err)
	}
	want, box := outline.Bounds(), got.boxes[1]
	near := func(a, b float64) bool { return a-b < 0.01 && b-a < 0.01 }
	if !near(box.X0, 10+line[1].x+want.X0) || !near(box.X1, 10+line[1].x+want.X1) || !near(box.Y0, 20+want.Y0) || !near(box.Y1, 20+want.Y1) {
		t.Errorf("drawn at %v, want %v moved by %.2f and 20 mm", box, want, 10+line[1].x)
	}
	if !near(line[2].x, line[1].x+advance) || !near(width, line[2].x+line[2].width) {
		t.Errorf("the next letter stands at %.2f mm, want %.2f mm", line[2].x, line[1].x+advance)
	}
}

// paths collects the boxes of what is drawn on a page.
type paths struct {
	boxes []canvas.Rect
}

func (p *paths) Size() (float64, float64)               { return 100, 50 }
func (p *paths) RenderImage(image.Image, canvas.Matrix) {}
func (p *paths) RenderText(*canvas.Text, canvas.Matrix) {}

func (p *paths) RenderPath(path *canvas.Path, _ canvas.Style, m canvas.Matrix) {
	p.boxes = append(p.boxes, path.Copy().Transform(m).Bounds())
}

// Nothing is sought for letters that the sheet has, that show nothing, or that are nobody's.
func TestLettersThatAreSought(t *testing.T) {
	f, err := LoadFonts(nil)
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
	with := func(has string, unlike int) face { return face{has: []rune(has), unlike: unlike} }
	for _, c := range []struct {
		situation string
		faces     []face
		want      int
	}{
		{"none", nil, -1},
		{"none of the letters", []face{with("xyz", 0)}, -1},
		{"the one with most of them", []face{with("a", 0), with("abxyz", 300), with("c", 0)}, 1},
		{"among equals the plainest", []face{with("ab", 1000), with("bc", 300), with("ac", 0), with("ab", 0)}, 2},
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

// The table of letters says what the library says (a second opinion) of the first two planes beyond Latin
// 1, below which the library reads tables of other codes too: of every letter in the fonts of the
// repository, of every eleventh in those of this machine.
func TestLettersOfAFont(t *testing.T) {
	letters := func(step rune) map[rune]bool {
		out := map[rune]bool{}
		for r := rune(unicode.MaxLatin1 + 1); r < 0x20000; r += step {
			out[r] = true
		}
		return out
	}
	type font struct {
		name    string
		b       []byte
		letters map[rune]bool
	}
	every, some := letters(1), letters(11)
	fonts := []font{{"condensed", dejavusanscondensed.TTF, every}, {"mathematics", dejavumathtexgyre.TTF, every}}
	for _, script := range scripts {
		if path := fontWith(script.name); path != "" {
			b, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			fonts = append(fonts, font{script.situation, b, some})
		}
	}
	for _, c := range fonts {
		faces, err := readFaces(bytes.NewReader(c.b), c.letters)
		if err != nil || len(faces) == 0 {
			t.Fatalf("%s: %d faces, %v", c.name, len(faces), err)
		}
		whole, err := alone(bytes.NewReader(c.b), faces[0].start)
		if err != nil {
			t.Fatal(err)
		}
		f, err := loadFont(whole)
		if err != nil {
			t.Fatal(err)
		}
		has := map[rune]bool{}
		for _, r := range faces[0].has {
			has[r] = true
		}
		wrong := 0
		for r := range c.letters {
			if want := f.SFNT.GlyphIndex(r) != 0; want != has[r] {
				if wrong++; wrong < 5 {
					t.Errorf("%s: U+%04X: has it %t, want %t", c.name, r, has[r], want)
				}
			}
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
			f, err := LoadFonts(nil)
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
			line, width := f.set(Lettering{Size: 10}, c.name)
			single := 0.0
			for _, r := range c.name {
				single += f.Width(Lettering{Size: 10}, string(r))
			}
			if !line[0].outlined || !(width > 0) || c.joined && width > 0.95*single {
				t.Errorf("%.2f mm in one, %.2f mm letter by letter; drawn %t", width, single, line[0].outlined)
			}
		})
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
	f, err := LoadFonts(nil)
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

// Whatever bytes a file of the name of a font holds: no panic, and only letters asked for.
func FuzzFontFile(f *testing.F) {
	letters := map[rune]bool{'a': true, '北': true, mathA: true}
	tables, err := tablesOf(bytes.NewReader(dejavusanscondensed.TTF), 0)
	if err != nil {
		f.Fatal(err)
	}
	small := func(parts ...string) []byte {
		b := append([]byte{0, 1, 0, 0, 0, byte(len(parts)), 0, 0, 0, 0, 0, 0}, make([]byte, 16*len(parts))...)
		for i, tag := range parts {
			entry := b[12+16*i:]
			copy(entry, tag)
			at := tables.find(tag)
			size := min(at.size, 2000)
			binary.BigEndian.PutUint32(entry[8:], uint32(len(b)))
			binary.BigEndian.PutUint32(entry[12:], size)
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
		lettersIn(b, letters)
		faces, err := readFaces(bytes.NewReader(b), letters)
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
