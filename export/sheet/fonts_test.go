package sheet

import (
	"strings"
	"testing"
	"time"

	"github.com/go-fonts/dejavu/dejavumathtexgyre"
	"github.com/tdewolff/canvas"
)

func TestFurtherFontsAreTried(t *testing.T) {
	name := "Field \U0001D400" // a letter of mathematics that the sheet's own fonts lack
	r := everything()
	r.Field.Name = name
	if got := words(t, printed(t, r, Page{}), 1); !strings.HasPrefix(got, "Field [U+1D400] ") {
		t.Errorf("without a further font: %.60s", got)
	}
	got := words(t, printed(t, r, Page{Fonts: [][]byte{dejavumathtexgyre.TTF}}), 1)
	if !strings.HasPrefix(got, name+" ") || strings.Contains(got, "U+") {
		t.Errorf("with a further font: %.60s", got)
	}
}

func TestOwnFontsMayBeEmbedded(t *testing.T) {
	f, err := loadFonts(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, one := range f.bold {
		if one.SFNT.OS2.FsType&(fontRestricted|fontBitmapOnly) != 0 {
			t.Errorf("%s: fsType %#04x", one.Name(), one.SFNT.OS2.FsType)
		}
	}
}

// What is cut or broken to fit fits, and nothing gets lost by breaking.
func TestTextFitsItsRoom(t *testing.T) {
	f, err := loadFonts(nil)
	if err != nil {
		t.Fatal(err)
	}
	l := lettering{size: 8}
	for _, s := range []string{"", "a", "Sweep with spring tines, nine metres", "Ein-sehr-langes-Wort-ohne-jede-Luecke-darin", "حقل الشمال الكبير جدا", "北の田んぼ 北の田んぼ", "two\nlines"} {
		for _, room := range []float64{3, 10, 25, 80} {
			if got := f.fit(l, s, room); f.width(l, got) > room+1e-9 && got != "…" {
				t.Errorf("%q cut to %q: %.1f mm, room %.1f mm", s, got, f.width(l, got), room)
			}
			if room < 10 {
				continue // less than the widest sign
			}
			lines := f.wrap(l, s, room)
			for _, line := range lines {
				if f.width(l, line) > room+1e-9 && !f.lacking {
					t.Errorf("%q broken to %q: %.1f mm, room %.1f mm", s, line, f.width(l, line), room)
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
	f, err := loadFonts(nil)
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
		{"Hebrew, with a number in brackets", "שדה (7)", []string{")", "7", "שדה ("}},
	} {
		line, _ := f.set(lettering{size: 10}, c.s)
		var got []string
		for _, p := range line {
			got = append(got, p.text.Text)
		}
		if strings.Join(got, "|") != strings.Join(c.want, "|") {
			t.Errorf("%s: %q, want %q", c.situation, got, c.want)
		}
	}
}

// In text from the right, brackets are drawn the other way round: what closes opens to the left.
func TestBracketsFromTheRight(t *testing.T) {
	f, err := loadFonts(nil)
	if err != nil {
		t.Fatal(err)
	}
	for s, want := range map[string]rune{"שדה (7)": '(', "حقل [7]": '[', "Field (7)": ')'} {
		line, _ := f.set(lettering{size: 10}, s)
		last := line[0] // of the line from the right, the first from the left
		if s[0] == 'F' {
			last = line[len(line)-1]
		}
		var glyph uint16
		last.text.WalkSpans(func(_, _ float64, span canvas.TextSpan) { glyph = span.Glyphs[len(span.Glyphs)-1].ID })
		if glyph != f.regular[0].SFNT.GlyphIndex(want) {
			t.Errorf("%q: %q is not drawn as %q", s, last.text.Text, want)
		}
	}
}

func TestTimesInWords(t *testing.T) {
	from := time.Date(2026, 7, 1, 21, 30, 0, 0, time.UTC)
	for _, c := range []struct {
		zone *time.Location
		to   time.Time
		want string
	}{
		{nil, from.Add(time.Hour), "2026-07-01 21:30 to 22:30 UTC"},
		{time.UTC, from.Add(4 * time.Hour), "2026-07-01 21:30 to 2026-07-02 01:30 UTC"},
		{time.FixedZone("CEST", 7200), from.Add(time.Hour), "2026-07-01 23:30 to 2026-07-02 00:30 CEST (UTC+02:00)"},
		{time.FixedZone("+0545", 20700), from.Add(time.Hour), "2026-07-02 03:15 to 04:15 UTC+05:45"},
		{time.FixedZone("GMT", 0), from.Add(time.Hour), "2026-07-01 21:30 to 22:30 GMT (UTC+00:00)"},
		{nil, time.Time{}, ""},
	} {
		if got := (Page{Zone: c.zone}).span(from, c.to); got != c.want {
			t.Errorf("%v: %q, want %q", c.zone, got, c.want)
		}
	}
}
