package paper

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"balk/testdata/check"

	"github.com/paulmach/orb"
)

// everyMark is a leaf with all that can be drawn, moved to the right by so many mm.
func everyMark(t *testing.T, by float64) *Leaf {
	t.Helper()
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	l := New(127, 76.2, f) // whole points, whole dots
	l.Title, l.Language = "Every mark, gemalt für alle", "de"
	l.Cover(Rect(5+by, 5, 50, 30).Path(), Hatching{Fill: "#5B7A99", Lines: []HatchLines{{45, 4, Pen{Colour: "#DCE5EE", Width: 1.6}}}, Rim: Pen{Colour: "#27364A", Width: 0.4}})
	hole := Rect(20+by, 12, 10, 10).Path()[0]
	hole.Reverse()
	l.Fill([]orb.LineString{Rect(12+by, 8, 26, 20).Path()[0], hole}, "#C2247F80")
	l.Group(Group{Title: "clipped", Clip: Rect(60+by, 5, 25, 25)}, func() {
		l.Fill([]orb.LineString{Ring(orb.Point{85 + by, 30}, 20)}, "#E08A1E40")
		l.Text(62+by, 20, Lettering{Size: 14, Bold: true}, "cut off at the right")
	})
	l.Fill(Rect(90+by, 5, 20, 10).Path(), "#E3CF9B") // opaque again
	l.Stroke([]orb.LineString{{{5 + by, 45}, {40 + by, 42}, {60 + by, 60}, {100 + by, 45}}}, Pen{Colour: Black, Width: 1.2, Dash: []float64{6, 3}})
	l.Stroke([]orb.LineString{{{65 + by, 40}, {75 + by, 60}, {85 + by, 38}, {65 + by, 40}}}, Pen{Colour: "#27364A", Width: 1.5, Round: true})
	l.Text(20+by, 70, Lettering{Size: 12, Align: Centre, Halo: 0.5}, "AVATAR, VA 12 m²")
	l.Text(110+by, 75, Lettering{Size: 11, Turn: 90}, "Tor, Weg")
	l.Text(100+by, 70, Lettering{Size: 12, Align: Right}, "שדה 7, حقل")
	return l
}

func pngOf(t *testing.T, l *Leaf, dpi float64) image.Image {
	t.Helper()
	var b bytes.Buffer
	if err := l.PNG(&b, dpi); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

// A leaf as PDF, drawn by poppler, and as PNG are the same picture; moved by half a millimetre they are not.
func TestBacksDrawTheSame(t *testing.T) {
	drawn := check.Poppler(t, bound(t, everyMark(t, 0)), "pdftoppm", "-r", "254", "-png", "FILE")
	want, err := png.Decode(strings.NewReader(drawn))
	if err != nil {
		t.Fatal(err)
	}
	const dots = 10                                // a mm; with fewer, each places letters on dots of its own
	off := func(img image.Image) (worst float64) { // the greatest mean difference over 4 × 4 mm, in grey levels
		if img.Bounds() != want.Bounds() {
			t.Fatalf("%v and %v", img.Bounds(), want.Bounds())
		}
		grey := func(img image.Image, x, y int) float64 {
			r, g, b, _ := img.At(x, y).RGBA()
			return float64(r+g+b) / 3 / 257
		}
		const side = 4 * dots
		for y := 0; y+side <= want.Bounds().Dy(); y += side {
			for x := 0; x+side <= want.Bounds().Dx(); x += side {
				sum := 0.0
				for k := range side * side {
					sum += math.Abs(grey(img, x+k%side, y+k/side) - grey(want, x+k%side, y+k/side))
				}
				worst = max(worst, sum/side/side)
			}
		}
		return worst
	}
	same, moved := off(pngOf(t, everyMark(t, 0), 25.4*dots)), off(pngOf(t, everyMark(t, 0.5), 25.4*dots))
	if same > 26 || moved < 3*same {
		t.Errorf("%.1f grey levels apart at worst, moved by half a millimetre %.1f", same, moved)
	}
}

// What a PDF says of itself, and what a search finds in it: kerned, turned, clipped and drawn words too.
func TestWhatAPDFSays(t *testing.T) {
	l := everyMark(t, 0)
	l.Text(5, 75, Lettering{Size: 8}, "क्षेत्र 北の田") // no font has them: their numbers
	pdf := bound(t, l)
	if info := check.Poppler(t, pdf, "pdfinfo", "FILE"); !strings.Contains(info, "Every mark, gemalt für alle\n") || strings.Contains(info, "Date") {
		t.Errorf("%s", info)
	}
	if !bytes.Contains(pdf, []byte("/Lang (de)")) {
		t.Error("the file does not say its language")
	}
	got := strings.Join(strings.Fields(check.Poppler(t, pdf, "pdftotext", "-raw", "FILE", "-")), " ")
	for _, want := range []string{"AVATAR, VA 12 m²", "Tor, Weg", "cut off at the right", "שדה", "حقل", "[U+0915 U+094D"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in %q", want, got)
		}
	}
	when := time.Date(2026, 4, 14, 8, 30, 0, 0, time.FixedZone("", 7200))
	var b bytes.Buffer
	if err := PDF(&b, []*Leaf{l}, when); err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(b.Bytes(), []byte("/CreationDate (D:20260414063000Z)")) || b.Len() != len(pdf) {
		t.Errorf("%d and %d bytes, or another date", b.Len(), len(pdf))
	}
	check.Poppler(t, b.Bytes(), "pdfinfo", "FILE") // the table of contents still holds
	if _, err := dated([]byte("%PDF"), when); err == nil {
		t.Error("no date to replace: no error")
	}
}

// Dashes cover their share of a line, begin with ink at its beginning, and turn corners with it.
func TestDashes(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	length := func(lines []orb.LineString) (sum float64) {
		for _, l := range lines {
			for i := 1; i < len(l); i++ {
				sum += math.Hypot(l[i][0]-l[i-1][0], l[i][1]-l[i-1][1])
			}
		}
		return sum
	}
	for range 200 {
		line := orb.LineString{{0, 0}}
		for range 1 + rnd.IntN(20) {
			line = append(line, orb.Point{100 * rnd.Float64(), 100 * rnd.Float64()})
		}
		on, off := 0.1+5*rnd.Float64(), 0.1+5*rnd.Float64()
		whole := length([]orb.LineString{line})
		want := math.Floor(whole/(on+off))*on + min(on, math.Mod(whole, on+off))
		got := dashed([]orb.LineString{line}, []float64{on, off})
		if math.Abs(length(got)-want) > 1e-6 || got[0][0] != line[0] {
			t.Fatalf("dashes of %.3f and %.3f mm on %.3f mm of %v: %.6f mm, want %.6f", on, off, whole, line, length(got), want)
		}
	}
	line := []orb.LineString{{{0, 0}, {10, 0}}}
	for _, none := range [][]float64{nil, {0, 0}} {
		if got := dashed(line, none); fmt.Sprint(got) != fmt.Sprint(line) {
			t.Errorf("%v: %v", none, got)
		}
	}
}

// White lies around letters with a halo, and the letters on it.
func TestHalo(t *testing.T) {
	f, err := LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	dark := func(halo float64) (n, white int) {
		l := New(40, 20, f)
		l.Fill(Rect(0, 0, 40, 20).Path(), "#808080")
		l.Text(5, 15, Lettering{Size: 30, Halo: halo}, "lo")
		img := pngOf(t, l, 127)
		for x := range img.Bounds().Dx() {
			for y := range img.Bounds().Dy() {
				switch r, _, _, _ := img.At(x, y).RGBA(); {
				case r < 0x3000:
					n++
				case r > 0xF000:
					white++
				}
			}
		}
		return n, white
	}
	bare, none := dark(0)
	with, white := dark(0.6)
	if none > 0 || white < 300 || bare < 300 || math.Abs(float64(bare-with)) > 0.05*float64(bare) {
		t.Errorf("dots of ink %d without and %d with a halo, white %d and %d", bare, with, none, white)
	}
}

// A colour that is none is told by every form, and nothing is written.
func TestColours(t *testing.T) {
	for s, want := range map[string]string{"#12345678": "{18 52 86 120}", "#FFffFF": "{255 255 255 255}"} {
		l := &Leaf{}
		if got := l.colour(s); fmt.Sprint(got) != want || l.fault != nil {
			t.Errorf("%s: %v, %v", s, got, l.fault)
		}
	}
	for _, s := range []string{"", "red", "#FFF", "#GGGGGG", "1234567", "#12345", "#-12345"} {
		l := New(10, 10, nil)
		l.Fill(Rect(1, 1, 5, 5).Path(), s)
		var b bytes.Buffer
		if l.SVG(&b) == nil || l.PNG(&b, 100) == nil || PDF(&b, []*Leaf{l}, time.Time{}) == nil || b.Len() > 0 {
			t.Errorf("%q: no error, or %d bytes", s, b.Len())
		}
	}
}
