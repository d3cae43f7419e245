package paper

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf16"

	"balk/testdata/check"

	"github.com/paulmach/orb"
)

// partsLeaf has every part once, and text and lines outside them.
func partsLeaf(t *testing.T, title string) *Leaf {
	t.Helper()
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	l := New(100, 80, f)
	l.Title, l.Language = title, "de"
	at := Lettering{Size: 9}
	l.As(Heading, "", func() { l.Text(5, 10, at, "Oberschrift") })
	l.Paragraph(5, 15, 40, 4, at, "Ein Absatz, der über mehrere Zeilen geht und einer bleibt, bis zu seinem Ende.")
	l.Text(5, 32, at, "für sich")
	l.Line(5, 34, 90, 34, Pen{Colour: Black, Width: 0.2})
	l.As(Figure, "Karte (mit Klammer) und ß", func() {
		l.Group(Group{Title: "g", Clip: Rect(50, 5, 30, 20)}, func() { l.Fill([]orb.LineString{Ring(orb.Point{60, 15}, 8)}, "#C2247F80") })
		l.Text(60, 15, at, "7")
	})
	for i, kind := range []Part{HeadCell, Cell} {
		l.As(Row, "", func() {
			for k, s := range []string{"links " + string(kind), "rechts " + string(kind)} {
				l.As(kind, "", func() { l.Text(5+40*float64(k), 45+5*float64(i), at, s) })
			}
		})
	}
	l.As(Subheading, "", func() { l.Text(5, 60, at, "Unterschrift") })
	l.As(Row, "", func() { l.As(Cell, "", func() { l.Text(5, 65, at, "andere Tafel") }) })
	l.Text(90, 70, Lettering{Size: 9, Align: Right}, "שדה 7, حقل")
	return l
}

// TestTagged: a PDF has its parts in the order drawn, by poppler (ISO 32000-1, 14.8), all of its text is in them, and qpdf finds its objects in order.
func TestTagged(t *testing.T) {
	var b bytes.Buffer
	if err := PDF(&b, []*Leaf{partsLeaf(t, "Erstes"), partsLeaf(t, "Zweites")}, time.Date(2026, 4, 14, 0, 0, 0, 0, time.UTC)); err != nil {
		t.Fatal(err)
	}
	qpdf(t, b.Bytes())
	if info := check.Poppler(t, b.Bytes(), "pdfinfo", "FILE"); !regexp.MustCompile(`Tagged: +yes`).MatchString(info) || !strings.Contains(info, "Erstes") || !regexp.MustCompile(`Pages: +2`).MatchString(info) || !strings.Contains(info, "2026") {
		t.Error(info)
	}
	tree := check.Poppler(t, b.Bytes(), "pdfinfo", "-struct-text", "FILE")
	page := `Sect
    H1 (block)
      "Oberschrift"
    P (block)
      "Ein Absatz, der über mehrere Zeilen geht und einer bleibt, bis zu seinem Ende."
    P (block)
      "für sich"
    Figure
      ""
      "7"
    Table
      TR
        TH
          "links TH"
        TH
          "rechts TH"
      TR
        TD
          "links TD"
        TD
          "rechts TD"
    H2 (block)
      "Unterschrift"
    Table
      TR
        TD
          "andere Tafel"
    P (block)
      "لقح ,7 הדש"
`
	norm := func(s string) string {
		return strings.Join(strings.Fields(strings.ReplaceAll(s, " (block)", "")), "")
	}
	if got := norm(tree); strings.Count(got, norm(page)) != 2 || !strings.HasPrefix(got, "DocumentSect") {
		t.Errorf("structure:\n%s\nwant twice\n%s", tree, page)
	}
	// What poppler does not show: words in place of figures, and text of several lines or of drawn letters in the order in which it is read.
	var told []string
	for _, m := range regexp.MustCompile(`/(Alt|ActualText) <FEFF([0-9A-F]+)>`).FindAllSubmatch(b.Bytes(), -1) {
		var units []uint16
		for hex := m[2]; len(hex) > 0; hex = hex[4:] {
			u, err := strconv.ParseUint(string(hex[:4]), 16, 16)
			if err != nil {
				t.Fatal(err)
			}
			units = append(units, uint16(u))
		}
		told = append(told, string(m[1])+" "+string(utf16.Decode(units)))
	}
	if want := []string{"ActualText Ein Absatz, der über mehrere Zeilen geht und einer bleibt, bis zu seinem Ende.", "Alt Karte (mit Klammer) und ß", "ActualText שדה 7, حقل"}; !slices.Equal(told, slices.Concat(want, want)) {
		t.Errorf("told %q, want %q twice", told, want)
	}
	for _, word := range strings.Fields(check.Poppler(t, b.Bytes(), "pdftotext", "FILE", "-")) {
		if !strings.ContainsAny(word, "\u202b\u202c") && !strings.Contains(norm(tree), word) {
			t.Errorf("%q stands on the page and in no part", word)
		}
	}
}

// TestTaggedFails: what is no PDF of the library is an error, and no panic.
func TestTaggedFails(t *testing.T) {
	var b bytes.Buffer
	if err := PDF(&b, []*Leaf{partsLeaf(t, "Erstes")}, time.Time{}); err != nil {
		t.Fatal(err)
	}
	good := b.Bytes()
	good = good[:bytes.Index(good, []byte("%%EOF"))+len("%%EOF\n")] // without the update
	s := new(structure)
	s.turn()
	if _, err := s.tagged(good); err != nil {
		t.Fatal(err)
	}
	for _, cut := range []string{"startxref", "/Root ", "/Type /Page\n", "/Type /Catalog"} {
		if _, err := s.tagged(bytes.ReplaceAll(good, []byte(cut), []byte(strings.ToUpper(cut)))); (err == nil) != (cut == "/Type /Catalog") {
			t.Errorf("%q spoilt: %v", cut, err)
		}
	}
	for n := 0; n < len(good); n += 997 {
		if _, err := s.tagged(good[:n]); err == nil {
			t.Errorf("the first %d of %d bytes: no error", n, len(good))
		}
	}
}

// qpdf looks over the file as a whole (qpdf --check).
func qpdf(t *testing.T, pdf []byte) {
	t.Helper()
	if _, err := exec.LookPath("qpdf"); err != nil {
		check.Skip(t, "qpdf is not installed")
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("qpdf", "--check", file).CombinedOutput(); err != nil {
		t.Errorf("qpdf: %v: %s", err, out)
	}
}
