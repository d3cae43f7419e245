package paper

import (
	"bytes"
	"compress/gzip"
	"flag"
	"os"
	"strings"
	"testing"

	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"github.com/go-text/typesetting/font/opentype"
)

var update = flag.Bool("update", false, "pack the sheet's own fonts anew out of their module")

// The fonts packed are those of their module, with its licence beside them, and may be embedded. What is done with them
// does not change them.
func TestOwnFonts(t *testing.T) {
	want := [][]byte{dejavusanscondensed.TTF, dejavusanscondensedbold.TTF}
	if *update {
		for i, name := range []string{"DejaVuSansCondensed", "DejaVuSansCondensed-Bold"} {
			var b bytes.Buffer
			z, _ := gzip.NewWriterLevel(&b, gzip.BestCompression)
			if _, err := z.Write(want[i]); err != nil || z.Close() != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile("fonts/"+name+".ttf.gz", b.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	bound(t, lettered(t))
	own, err := ownFonts()
	if err != nil || len(own) != len(want) {
		t.Fatalf("%d fonts, %v", len(own), err)
	}
	for i, f := range own {
		if !bytes.Equal(f.bytes, want[i]) {
			t.Errorf("%s is not that of its module (go test ./export/sheet/paper -update packs it anew, in a run of its own)", f.name)
		}
		fonts, err := loaders(bytes.NewReader(f.bytes), int64(len(f.bytes)))
		if err != nil {
			t.Fatal(err)
		}
		os2, err := fonts[0].RawTable(opentype.MustNewTag("OS/2"))
		if err != nil || !mayEmbed(os2) {
			t.Errorf("%v, fsType %x", err, os2[8:10])
		}
	}
}

// lettered is a leaf with letters in both of its own fonts.
func lettered(t *testing.T) *Leaf {
	t.Helper()
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	l := New(100, 50, f)
	l.Text(10, 20, Lettering{Size: 12}, "worked once")
	l.Text(10, 30, Lettering{Size: 12, Bold: true}, "missed")
	return l
}

// What is cut or broken to fit fits, and nothing gets lost by breaking.
func TestTextFitsItsRoom(t *testing.T) {
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	l := Lettering{Size: 8}
	for _, s := range []string{"", "a", "Sweep with spring tines, nine metres", "Ein-sehr-langes-Wort-ohne-jede-Luecke-darin", "حقل الشمال الكبير جدا", "北の田んぼ 北の田んぼ", "two\nlines"} {
		for _, room := range []float64{3, 10, 25, 80} {
			if got := f.Fit(l, s, room); f.Width(l, got) > room+1e-9 && got != "…" {
				t.Errorf("%q cut to %q: %.1f mm, room %.1f mm", s, got, f.Width(l, got), room)
			}
			if room < 10 {
				continue // less than the widest sign
			}
			lines := f.Wrap(l, s, room)
			for _, line := range lines {
				if f.Width(l, line) > room+1e-9 && !f.Lacking {
					t.Errorf("%q broken to %q: %.1f mm, room %.1f mm", s, line, f.Width(l, line), room)
				}
			}
			if a, b := strings.Join(strings.Fields(strings.Join(lines, "")), ""), strings.Join(strings.Fields(s), ""); a != b {
				t.Errorf("%q broken to %q", s, lines)
			}
		}
	}
}

// Runs of both directions stand in reading order: a number in a line of Arabic has
// the words before it to its right.
func TestLinesOfBothDirections(t *testing.T) {
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		situation, s string
		want         []string // from left to right
	}{
		{"from the left only", "North 12", []string{"North 12"}},
		{"from the right, with a number", "حقل 12 كبير", []string{" كبير", "12", "حقل "}},
		{"from the left, with a name from the right", "Field حقل 7", []string{"Field ", "7", "حقل "}},
		{"two scripts of one font, each shaped by its rules", "Nord поле 3", []string{"Nord ", "поле 3"}},
		{"Hebrew, with a number in brackets", "שדה (7)", []string{")", "7", "שדה ("}},
	} {
		line, _, _ := f.set(Lettering{Size: 10}, c.s)
		var got []string
		for _, p := range line {
			got = append(got, string(p.letters))
		}
		if strings.Join(got, "|") != strings.Join(c.want, "|") {
			t.Errorf("%s: %q, want %q", c.situation, got, c.want)
		}
	}
}

// In text from the right, brackets are drawn the other way round: what closes opens to the left.
func TestBracketsFromTheRight(t *testing.T) {
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	for s, want := range map[string]rune{"שדה (7)": '(', "حقل [7]": '[', "Field (7)": ')'} {
		line, _, _ := f.set(Lettering{Size: 10}, s)
		last := line[0] // of the line from the right, the first from the left
		if s[0] == 'F' {
			last = line[len(line)-1]
		}
		want, _ := f.regular[0].NominalGlyph(want)
		if got := last.glyphs[len(last.glyphs)-1].id; got != want {
			t.Errorf("%q: %q ends in the glyph %d, want %d", s, string(last.letters), got, want)
		}
	}
}

// Arabic is written from the right, its letters joined: the glyphs of the name differ
// from those of its letters one by one.
func TestArabicIsJoined(t *testing.T) {
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	name := "الحقل"
	_, _, joined := f.set(Lettering{Size: 10}, name)
	single := 0.0
	for _, r := range name {
		_, _, w := f.set(Lettering{Size: 10}, string(r))
		single += w
	}
	if !(joined > 0 && joined < 0.95*single) {
		t.Errorf("%.2f mm in one, %.2f mm letter by letter: want joined letters to take less", joined, single)
	}
	if f.Lacking {
		t.Error("the font lacks Arabic letters")
	}
}
