package sheet

import (
	"bytes"
	"compress/zlib"
	"encoding/xml"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"balk/coverage"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// box is a level rectangle, counter-clockwise; a hole if turned round.
func boxOf(x, y, w, h float64) plane.Ring {
	return plane.Ring{{X: x, Y: y}, {X: x + w, Y: y}, {X: x + w, Y: y + h}, {X: x, Y: y + h}}
}

func hole(x, y, w, h float64) plane.Ring {
	return plane.Ring{{X: x, Y: y}, {X: x, Y: y + h}, {X: x + w, Y: y + h}, {X: x + w, Y: y}}
}

// turned turns points about the origin, degrees counter-clockwise.
func turned(pts []plane.XY, deg float64) []plane.XY {
	s, c := math.Sincos(deg * math.Pi / 180)
	out := make([]plane.XY, len(pts))
	for i, p := range pts {
		out[i] = plane.XY{X: c*p.X - s*p.Y, Y: s*p.X + c*p.Y}
	}
	return out
}

// field is a result with passes side by side along x and so many strips, laid out
// around the origin and turned.
func field(w, h, deg float64, strips int) coverage.Result {
	l := geo.LocalAt(orb.Point{11.57, 48.14})
	at := time.Date(2026, 4, 14, 22, 30, 0, 0, time.UTC)
	r := coverage.Result{Field: geo.Field{Name: "Long Acre", Number: 1}, Local: l, Work: coverage.Work{Width: 6, Overlap: 0.1, TurnRadius: 6},
		Headland: coverage.HeadlandLoss{Depth: 11.8}, Noise: coverage.Noise{PassErrorFrom: "given", PassError: 0.05}}
	r.Layers.Field = []plane.Polygon{{turned(boxOf(-w/2, -h/2, w, h), deg)}}
	n := int(h / 5.9)
	for i := range n {
		y := -h/2 + (float64(i)+0.5)*h/float64(n)
		line := []plane.XY{{X: -w / 2, Y: y}, {X: w / 2, Y: y}}
		if i%2 == 1 {
			line[0], line[1] = line[1], line[0]
		}
		r.Passes = append(r.Passes, coverage.Pass{Number: i + 1, From: at.Add(time.Duration(i) * time.Minute), To: at.Add(time.Duration(i+1) * time.Minute), Line: turned(line, deg), Length: w})
	}
	missed := 0.0
	across := int(math.Ceil(math.Sqrt(float64(strips) * w / h)))
	for i := range strips {
		down := (strips + across - 1) / across
		x, y := -w/2+w*(float64(i%across)+0.5)/float64(across), -h/2+h*(float64(i/across)+0.5)/float64(down)
		long, wide := 0.6*w/float64(across), 0.3+0.2*float64(strips-i)/float64(strips)
		shape := plane.Polygon{turned(boxOf(x-long/2, y-wide/2, long, wide), deg)}
		r.Strips = append(r.Strips, coverage.Strip{Number: i + 1, Area: long * wide, Length: long, MeanWidth: wide, MaxWidth: wide, At: l.Point(turned([]plane.XY{{X: x, Y: y}}, deg)[0]),
			Passes: []int{1, 2}, Cause: coverage.CauseDrift, Surety: coverage.SuretyCertain, Shape: shape})
		r.Layers.Missed = append(r.Layers.Missed, shape)
		missed += long * wide
	}
	r.Balance = coverage.Balance{Field: w * h, Missed: missed, Once: w*h - missed}
	return r
}

// everything is worked() with passes, a tight turn, effort and spacing: every mark
// of the sheet is on it.
func everything() coverage.Result {
	r := worked()
	at := time.Date(2026, 4, 14, 5, 30, 0, 0, time.UTC)
	r.Passes[0].From, r.Passes[0].To = at, at.Add(time.Hour)
	r.Work.TurnRadius = 6
	r.Strips[0].Surety, r.Strips[0].Passes, r.Strips[0].MaxWidth = coverage.SuretyLikely, []int{1}, 5
	r.Turns = []coverage.Turn{{Number: 1, From: 1, To: 2, Seconds: 12, Radius: 3.2, At: r.Local.Point(plane.XY{X: 40, Y: 40}), Tight: true, Line: []plane.XY{{X: 38, Y: 36}, {X: 42, Y: 40}, {X: 38, Y: 44}}}}
	r.Effort = coverage.Effort{Timed: true, Working: coverage.Spent{Metres: 2000, Seconds: 1200, Share: 0.8}, Turning: coverage.Spent{Metres: 200, Seconds: 300, Share: 0.2}, OnField: 1500,
		Speed: coverage.WorkSpeed{Mean: 2, Q05: 1.8, Q95: 2.2}, Classes: []coverage.SpeedClass{{From: 6 / 3.6, Seconds: 400}, {From: 7 / 3.6, Seconds: 800}}, EffectiveCapacity: 6.5, TheoreticalCapacity: 10, FieldEfficiency: 0.65}
	r.Spacing = coverage.Spacing{Planned: 4.9, Median: 4.91, Q05: 4.8, Q25: 4.88, Q75: 4.93, Q95: 5, Samples: 50, Wider: 0.04, Narrower: 0.02}
	r.Findings = []geo.Finding{{File: "folder/log.csv", What: "2 fixes merged"}}
	return r
}

func printed(t testing.TB, r coverage.Result, p Page) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := PDF(&b, r, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// poppler runs one of its programs on a PDF and gives what it prints.
func poppler(t *testing.T, pdf []byte, program string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(program); err != nil {
		t.Skipf("skipped: %s (poppler-utils) is not installed", program)
	}
	file := filepath.Join(t.TempDir(), "sheet.pdf")
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	for i, a := range args {
		if a == "FILE" {
			args[i] = file
		}
	}
	cmd := exec.Command(program, args...)
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil || stderr.Len() > 0 {
		t.Fatalf("%s: %v: %s", program, err, stderr.String())
	}
	return string(out)
}

// words is the text of a page, blanks made one.
func words(t *testing.T, pdf []byte, page int) string {
	t.Helper()
	n := fmt.Sprint(page)
	return strings.Join(strings.Fields(poppler(t, pdf, "pdftotext", "-raw", "-f", n, "-l", n, "FILE", "-")), " ")
}

// picture is a page at 100 dots an inch.
func picture(t *testing.T, pdf []byte, page int) image.Image {
	t.Helper()
	n := fmt.Sprint(page)
	img, err := png.Decode(strings.NewReader(poppler(t, pdf, "pdftoppm", "-r", "100", "-png", "-f", n, "-l", n, "FILE")))
	if err != nil {
		t.Fatal(err)
	}
	return img
}

func TestSheetSaysEverything(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skip("skipped: no time zones on this machine")
	}
	b := printed(t, everything(), Page{Operation: "loosening", Implement: "Five metre sweep", Driver: "A. Driver", Remarks: "The wet corner was left.", Zone: berlin})
	if info := poppler(t, b, "pdfinfo", "FILE"); !regexp.MustCompile(`Pages:\s+3\n`).MatchString(info) || !regexp.MustCompile(`Title:\s+Müller & <Söhne>`).MatchString(info) {
		t.Errorf("want 3 pages and the field as title:\n%s", info)
	}
	for page, want := range map[int][]string{
		1: {"Müller & <Söhne>", "loosening", "Five metre sweep, width 5.00 m, overlap 0.10 m, credited 4.90 m", "A. Driver", "2026-04-14 07:30 to 08:30 CEST (UTC+02:00)",
			"1 : 1000", "North is up", "11.570° E", "48.1400° N", "worked once", "missed", "The missed strip", "1? 25.0 5 m 5.00 m", "likely", "drift between passes",
			"11.569503, 48.140018", "The wet corner was left.", "date", "signature", "the place of the strip", "turn too tight for the set (1)", "page 1 of 3", "Local times, zone Europe/Berlin"},
		2: {"The largest missed strip", "Strip 1?: 25.0 m², 5 m long", "1 : 75", "beside passes 1", "page 2 of 3"},
		3: {"How it was driven", "2.00 0:20 h 80.0", "7.2 km/h on the mean", "2.34 ha/h, field efficiency 65 %", "Planned 4.90 m. Median 4.91 m", "1 turn, half within 12 s", "radius of 6.0 m", "3.2 m", "log.csv: 2 fixes merged",
			"Overhead lines", "folding", "Slopes", "rollover", "Wet ground and drains", "drawbar and axle loads", "Reversing can fold", "permits", "People", "Buried services", "no legal survey", "licensed practice"},
	} {
		got := words(t, b, page)
		for _, w := range want {
			if !strings.Contains(got, w) {
				t.Errorf("page %d lacks %q:\n%s", page, w, got)
			}
		}
	}
}

// The hectares printed must add up to those of the field, digit by digit.
func TestPrintedBalanceAddsUp(t *testing.T) {
	r := everything()
	r.Balance = coverage.Balance{Field: 9900, Missed: 25.44, Once: 9808.14, Twice: 36.47, More: 4.49, Unknown: 25.46}
	got := words(t, printed(t, r, Page{}), 1)
	sum := [2]float64{}
	for _, row := range []string{"worked once", "worked twice", "three times or more", "missed", `unknown \(log gap\)`} {
		m := regexp.MustCompile(row + ` ([0-9.]+) ([0-9.]+)`).FindStringSubmatch(got)
		if m == nil {
			t.Fatalf("no row %q in:\n%s", row, got)
		}
		sum[0], sum[1] = sum[0]+number(t, m[1]), sum[1]+number(t, m[2])
	}
	if !strings.Contains(got, "field 0.9900 100.00") || math.Abs(sum[0]-0.99) > 1e-9 || math.Abs(sum[1]-100) > 1e-9 {
		t.Errorf("rows add up to %.4f ha and %.2f %%, want 0.9900 and 100:\n%s", sum[0], sum[1], got)
	}
}

func TestFontsAreEmbedded(t *testing.T) {
	list := poppler(t, printed(t, everything(), Page{}), "pdffonts", "FILE")
	lines := strings.Split(strings.TrimSpace(list), "\n")[2:]
	if len(lines) == 0 {
		t.Fatalf("no fonts:\n%s", list)
	}
	for _, line := range lines {
		if f := strings.Fields(line); f[len(f)-5] != "yes" || f[len(f)-4] != "yes" || f[len(f)-3] != "yes" {
			t.Errorf("not embedded, cut down and searchable: %s", line)
		}
	}
}

func TestNamesInAnyScript(t *testing.T) {
	for _, c := range []struct{ situation, name, want string }{
		{"Latin with marks", "Ağıl Łąka", "Ağıl Łąka"},
		{"marks as letters of their own", "Mu\u0308ller", "Müller"},
		{"Cyrillic", "Северное поле", "Северное поле"},
		{"Greek", "Κάτω χωράφι", "Κάτω χωράφι"},
		{"Armenian", "Վերին դաշտ", "Վերին դաշտ"},
		{"letters no font has", "北の田 A", "[U+5317 U+306E U+7530] A"},
		{"a line break and a bell", "North\n\aField", "North Field"},
	} {
		t.Run(c.situation, func(t *testing.T) {
			r := everything()
			r.Field.Name = c.name
			got := words(t, printed(t, r, Page{}), 1)
			if !strings.HasPrefix(got, c.want+" Operation") {
				t.Errorf("name %q, want it printed as %q:\n%s", c.name, c.want, got)
			}
			if lacking := strings.Contains(got, "letters that the fonts of this sheet lack"); lacking != strings.Contains(c.want, "U+") {
				t.Errorf("said that letters are lacking: %t", lacking)
			}
		})
	}
}

// Arabic is written from the right, its letters joined: the glyphs of the name differ
// from those of its letters one by one.
func TestArabicIsJoined(t *testing.T) {
	f, err := loadFonts(nil)
	if err != nil {
		t.Fatal(err)
	}
	name := "الحقل"
	_, joined := f.set(lettering{size: 10}, name)
	single := 0.0
	for _, r := range name {
		_, w := f.set(lettering{size: 10}, string(r))
		single += w
	}
	if !(joined > 0 && joined < 0.95*single) {
		t.Errorf("%.2f mm in one, %.2f mm letter by letter: want joined letters to take less", joined, single)
	}
	if f.lacking {
		t.Error("the font lacks Arabic letters")
	}
}

func TestSameInputSameBytes(t *testing.T) {
	p := Page{Operation: "harrowing", Zone: time.FixedZone("here", 3600)}
	first := printed(t, everything(), p)
	zone := time.Local
	defer func() { time.Local = zone }()
	time.Sleep(1100 * time.Millisecond) // until a clock that counts seconds has gone on
	for _, local := range []*time.Location{time.FixedZone("east", 5*3600), time.UTC} {
		time.Local = local
		if !bytes.Equal(first, printed(t, everything(), p)) {
			t.Error("same input, other bytes, in a machine's zone of", local)
		}
	}
	for _, f := range fontPrograms(t, first) {
		if sum := fontSum(f); sum != 0xB1B0AFBA {
			t.Errorf("a font of %d bytes adds up to %#x, want 0xB1B0AFBA", len(f), sum)
		}
	}
	if !bytes.Contains(first, []byte("/CreationDate(D:20260414063000Z)")) {
		t.Error("the date of the file is not that of the operation")
	}
	r := everything()
	r.Passes[0].From, r.Passes[0].To = time.Time{}, time.Time{}
	if b := printed(t, r, p); bytes.Contains(b, []byte("CreationDate")) || !strings.Contains(words(t, b, 1), "no time logged") {
		t.Error("an operation without time: the file has a date, or does not say that none was logged")
	}
	var a, b bytes.Buffer
	for _, out := range []*bytes.Buffer{&a, &b} {
		leaves, err := Pages(everything(), p)
		if err != nil {
			t.Fatal(err)
		}
		if err := leaves[0].SVG(out); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("same input, other SVG")
	}
}

// fontPrograms are the fonts in a PDF.
func fontPrograms(t *testing.T, pdf []byte) (fonts [][]byte) {
	t.Helper()
	for _, part := range bytes.Split(pdf, []byte("stream\n"))[1:] {
		if z, err := zlib.NewReader(bytes.NewReader(part)); err == nil {
			if b, err := io.ReadAll(z); err == nil && bytes.HasPrefix(b, []byte{0, 1, 0, 0}) {
				fonts = append(fonts, b)
			}
		}
	}
	if len(fonts) != 2 {
		t.Fatalf("%d fonts, want regular and bold", len(fonts))
	}
	return fonts
}

// Every entry of the table of contents must point at its object, whatever the
// length of the date.
func TestDateKeepsTheTableOfContents(t *testing.T) {
	leaves, err := Pages(everything(), Page{})
	if err != nil {
		t.Fatal(err)
	}
	raw, err := bind(leaves, "x")
	if err != nil {
		t.Fatal(err)
	}
	for _, when := range []time.Time{{}, time.Date(2026, 4, 14, 1, 2, 3, 0, time.UTC)} {
		b, err := timeless(raw, when)
		if err != nil {
			t.Fatal(err)
		}
		table := bytes.LastIndex(b, []byte("\nxref\n")) + 1
		if want := fmt.Sprintf("startxref\n%d\n", table); !bytes.Contains(b, []byte(want)) {
			t.Errorf("%v: no %q", when, want)
		}
		entries := regexp.MustCompile(`(?m)^(\d{10}) 00000 n $`).FindAllSubmatch(b[table:], -1)
		if len(entries) < 8 {
			t.Fatalf("%d entries", len(entries))
		}
		for i, e := range entries {
			at := int(number(t, string(e[1])))
			if want := fmt.Sprintf("%d 0 obj\n", i+1); !bytes.HasPrefix(b[at:], []byte(want)) {
				t.Errorf("%v: entry %d points at %q", when, i+1, b[at:at+10])
			}
		}
	}
	for _, bad := range []string{"", "no PDF", "\nxref\ntrailer\n", "\nxref\n9999999999 00000 n \ntrailer\nstartxref\n"} {
		if _, err := timeless([]byte(bad), time.Time{}); err == nil {
			t.Errorf("%q: no error", bad)
		}
	}
}

// grey is how light a place on the page is, averaged over a square millimetre, 0 to
// 255, and how much it varies there.
func lightness(img image.Image, at orb.Point, mm float64) (mean, spread float64) {
	dpmm := float64(img.Bounds().Dx()) / mm
	var sum, squares, n float64
	for dy := -1.4; dy <= 1.4; dy += 1 / dpmm {
		for dx := -1.4; dx <= 1.4; dx += 1 / dpmm {
			r, g, b, _ := img.At(int((at[0]+dx)*dpmm), int((at[1]+dy)*dpmm)).RGBA()
			v := (0.299*float64(r) + 0.587*float64(g) + 0.114*float64(b)) / 257
			sum, squares, n = sum+v, squares+v*v, n+1
		}
	}
	mean = sum / n
	return mean, math.Sqrt(max(0, squares/n-mean*mean))
}

// Known places on the ground must have the colours of their class, and on a grey
// print any two classes must differ by lightness or by pattern.
func TestColoursAtKnownPlaces(t *testing.T) {
	r := everything()
	r.Turns = nil
	r.Passes[0].Line = nil
	r.Layers.Triple = []plane.Polygon{{square(20, -30, 8)}} // large enough to look at
	r.Layers.Double = []plane.Polygon{{square(0, -30, 8)}}
	r.Layers.Unknown = []plane.Polygon{{square(-20, -40, 8)}}
	r.Layers.Outside = []plane.Polygon{{square(51, 0, 8)}}
	r.Layers.Missed = []plane.Polygon{{square(-40, -20, 8)}}
	r.Strips, r.Layers.Headland = nil, nil
	s, err := setUp(r, Page{})
	if err != nil {
		t.Fatal(err)
	}
	pdf := printed(t, r, Page{})
	pages := map[string]image.Image{"PDF": picture(t, pdf, 1)}
	leaves, err := Pages(r, Page{})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := leaves[0].PNG(&b, 100); err != nil {
		t.Fatal(err)
	}
	if pages["PNG"], err = png.Decode(&b); err != nil {
		t.Fatal(err)
	}
	classes := []struct {
		name   string
		at     plane.XY
		colour [3]float64 // of the ground beneath the pattern
		plain  bool
	}{
		{"once", plane.XY{X: 30, Y: 30}, [3]float64{0xE3, 0xCF, 0x9B}, true},
		{"missed", plane.XY{X: -36, Y: -16}, [3]float64{0xC2, 0x24, 0x7F}, true},
		{"twice", plane.XY{X: 4, Y: -26}, [3]float64{0x5B, 0x7A, 0x99}, false},
		{"more", plane.XY{X: 24, Y: -26}, [3]float64{0x27, 0x36, 0x4A}, false},
		{"unknown", plane.XY{X: -16, Y: -36}, [3]float64{0xF2, 0xF2, 0xF2}, false},
		{"outside", plane.XY{X: 55, Y: 4}, [3]float64{0xFF, 0xF4, 0xE3}, false},
		{"obstacle", plane.XY{X: 15, Y: 15}, [3]float64{0xFF, 0xFF, 0xFF}, false},
	}
	for form, img := range pages {
		var means, spreads []float64
		for _, c := range classes {
			at := s.view.at(c.at)
			dpmm := float64(img.Bounds().Dx()) / s.w
			near := math.Inf(1) // of the pixels around the place to the colour
			for dy := -6; dy <= 6; dy++ {
				for dx := -6; dx <= 6; dx++ {
					r, g, b, _ := img.At(int(at[0]*dpmm)+dx, int(at[1]*dpmm)+dy).RGBA()
					near = min(near, math.Abs(float64(r)/257-c.colour[0])+math.Abs(float64(g)/257-c.colour[1])+math.Abs(float64(b)/257-c.colour[2]))
				}
			}
			if near > 12 {
				t.Errorf("%s: ground %s at %v is off its colour by %.0f", form, c.name, at, near)
			}
			mean, spread := lightness(img, at, s.w)
			means, spreads = append(means, mean), append(spreads, spread)
			if (spread < 2) != c.plain {
				t.Errorf("%s: ground %s varies by %.1f grey levels, plain %t", form, c.name, spread, c.plain)
			}
		}
		for i := range classes {
			for j := range i {
				if math.Abs(means[i]-means[j]) < 25 && math.Abs(spreads[i]-spreads[j]) < 8 {
					t.Errorf("%s: %s and %s look alike in grey: %.0f and %.0f, varying by %.0f and %.0f", form, classes[i].name, classes[j].name, means[i], means[j], spreads[i], spreads[j])
				}
			}
		}
	}
}

func TestSheetsOfAllSizes(t *testing.T) {
	many := field(2000, 1500, 0, 5000)
	many.Layers.Field = append(many.Layers.Field, plane.Polygon{boxOf(1100, -200, 300, 400)})
	for i := range 60 {
		many.Layers.Field[0] = append(many.Layers.Field[0], hole(-900+180*float64(i%10), -600+220*float64(i/10), 12, 12))
	}
	for _, c := range []struct {
		situation string
		r         coverage.Result
		page      Page
		pages     int
		want      []string
	}{
		{"0.2 ha", field(50, 40, 0, 3), Page{}, 3, []string{"1 : 400", "Missed strips, all 3", "North is up"}},
		{"300 ha, 5000 strips, parts and obstacles", many, Page{}, 4, []string{"1 : 15000", "Missed strips, the 6 largest of 5000", "Not listed here: 4994 more strips", "of 5000 strips, as geo: URIs"}},
		{"300 ha on A3", many, Page{Paper: "A3"}, 4, []string{"1 : 10000", "The scale holds for A3"}},
		{"long and thin, askew", field(1200, 40, 50, 8), Page{}, 3, []string{"1 : 5000", "Turned so that north lies 50° right of up"}},
		{"no strips", field(300, 200, 0, 0), Page{}, 2, []string{"No missed strips", "Nothing more was missed."}},
		{"upright by order", field(1200, 40, 0, 8), Page{Orientation: "portrait"}, 3, []string{"1 : 7500"}},
		{"grid in metres", field(300, 200, 0, 1), Page{Grid: "metres"}, 3, []string{"100 m E", "0 m E", "100 m W"}},
		{"long remarks", field(300, 200, 0, 1), Page{Remarks: strings.Repeat("A word or two. ", 120) + "END"}, 3, []string{"continued on the last page"}},
	} {
		t.Run(c.situation, func(t *testing.T) {
			b := printed(t, c.r, c.page)
			if len(b) > 2<<20 {
				t.Errorf("%d bytes, want at most 2 MiB", len(b))
			}
			if info := poppler(t, b, "pdfinfo", "FILE"); !regexp.MustCompile(fmt.Sprintf(`Pages:\s+%d\n`, c.pages)).MatchString(info) {
				t.Errorf("want %d pages:\n%s", c.pages, info)
			}
			got := words(t, b, 1)
			for _, w := range c.want {
				if !strings.Contains(got, w) {
					t.Errorf("page 1 lacks %q:\n%s", w, got)
				}
			}
			if c.page.Remarks != "" && !strings.Contains(words(t, b, c.pages), "END") {
				t.Error("the end of the remarks is on no page")
			}
		})
	}
}

// What other results hold and these do not must not bring the drawing down.
func TestSheetsOfPoorResults(t *testing.T) {
	for _, c := range []struct {
		situation string
		spoil     func(*coverage.Result)
	}{
		{"no width", func(r *coverage.Result) { r.Work = coverage.Work{} }},
		{"a strip without shape", func(r *coverage.Result) { r.Strips[0].Shape, r.Strips[0].MaxWidth = nil, 0 }},
		{"passes without lines", func(r *coverage.Result) { r.Passes[0].Line = nil }},
		{"polygons without rings", func(r *coverage.Result) {
			r.Layers.Field, r.Layers.Missed, r.Layers.Outside = append(r.Layers.Field, nil), []plane.Polygon{nil, {nil}}, []plane.Polygon{nil, {nil}}
		}},
		{"a turn without a way", func(r *coverage.Result) { r.Turns[0].Line = nil }},
		{"a field of a hand's breadth", func(r *coverage.Result) { r.Layers.Field = []plane.Polygon{{square(0, 0, 0.1)}} }},
		{"a field of 60 km", func(r *coverage.Result) { r.Layers.Field = []plane.Polygon{{square(-30000, -30000, 60000)}} }},
		{"a name of a book's length", func(r *coverage.Result) { r.Field.Name = strings.Repeat("Long field ", 500) }},
		{"no name", func(r *coverage.Result) { r.Field.Name = "" }},
		{"200 findings", func(r *coverage.Result) {
			for i := range 200 {
				r.Findings = append(r.Findings, geo.Finding{File: "log.csv", Record: i, What: "odd"})
			}
		}},
		{"3000 tight turns", func(r *coverage.Result) {
			for i := range 3000 {
				turn := r.Turns[0]
				turn.Number = i + 1
				r.Turns = append(r.Turns, turn)
			}
		}},
	} {
		for _, o := range []string{"portrait", "landscape"} {
			r := everything()
			c.spoil(&r)
			b := printed(t, r, Page{Orientation: o})
			if len(b) > 2<<20 {
				t.Errorf("%s: %d bytes", c.situation, len(b))
			}
			poppler(t, b, "pdftotext", "FILE", "-")
		}
	}
}

// Sheets made side by side are those made one after the other.
func TestSheetsSideBySide(t *testing.T) {
	want := printed(t, everything(), Page{})
	got := make([][]byte, 4)
	var wg sync.WaitGroup
	for i := range got {
		wg.Go(func() {
			var b bytes.Buffer
			if err := PDF(&b, everything(), Page{}); err == nil {
				got[i] = b.Bytes()
			}
		})
	}
	wg.Wait()
	for i, b := range got {
		if !bytes.Equal(b, want) {
			t.Errorf("sheet %d of 4 differs", i+1)
		}
	}
}

func TestFormsOfAPage(t *testing.T) {
	leaves, err := Pages(everything(), Page{})
	if err != nil {
		t.Fatal(err)
	}
	for i, l := range leaves {
		var b bytes.Buffer
		if err := l.SVG(&b); err != nil {
			t.Fatal(err)
		}
		dec := xml.NewDecoder(&b)
		paths := 0
		for {
			token, err := dec.Token()
			if err == io.EOF {
				break
			} else if err != nil {
				t.Fatalf("page %d is no XML: %v", i+1, err)
			}
			if e, ok := token.(xml.StartElement); ok && e.Name.Local == "path" {
				paths++
			} else if ok && e.Name.Local == "text" {
				t.Errorf("page %d: text that needs a font", i+1)
			}
		}
		if paths < 30 {
			t.Errorf("page %d: %d paths", i+1, paths)
		}
		if err := l.SVG(failing{}); err == nil {
			t.Errorf("page %d as SVG to a full disk: no error", i+1)
		}
		for _, dpi := range []float64{0, 29, 1201, math.NaN()} {
			if err := l.PNG(io.Discard, dpi); err == nil {
				t.Errorf("%g dpi: no error", dpi)
			}
		}
	}
	if err := PDF(failing{}, everything(), Page{}); err == nil {
		t.Error("PDF to a full disk: no error")
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, io.ErrShortWrite }

func TestNoSheetOfWrongInput(t *testing.T) {
	unbalanced := everything()
	unbalanced.Balance.Residual = 1
	nowhere := everything()
	nowhere.Strips[0].At = orb.Point{math.NaN(), 48}
	empty := everything()
	empty.Layers.Field = nil
	for _, c := range []struct {
		situation string
		r         coverage.Result
		p         Page
	}{
		{"a balance that does not add up", unbalanced, Page{}},
		{"a field without extent", empty, Page{}},
		{"a strip nowhere", nowhere, Page{}},
		{"a paper nobody has", everything(), Page{Paper: "A0"}},
		{"an orientation that is none", everything(), Page{Orientation: "askew"}},
		{"a grid that is none", everything(), Page{Grid: "feet"}},
		{"a driver of a book's length", everything(), Page{Driver: strings.Repeat("x", 201)}},
		{"remarks of a book's length", everything(), Page{Remarks: strings.Repeat("x", 2001)}},
		{"a font that is none", everything(), Page{Fonts: [][]byte{[]byte("no font at all")}}},
		{"an empty font", everything(), Page{Fonts: [][]byte{nil}}},
	} {
		var b bytes.Buffer
		if err := PDF(&b, c.r, c.p); err == nil || b.Len() > 0 {
			t.Errorf("%s: error %v, %d bytes written", c.situation, err, b.Len())
		}
	}
}

func BenchmarkPDF(b *testing.B) {
	for _, c := range []struct {
		name   string
		w, h   float64
		strips int
	}{{"ha=0.2", 50, 40, 3}, {"ha=20", 500, 400, 200}, {"ha=300", 2000, 1500, 5000}} {
		r := field(c.w, c.h, 3, c.strips)
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if n := len(printed(b, r, Page{})); n < 20_000 {
					b.Fatalf("%d bytes", n)
				}
			}
		})
	}
}
