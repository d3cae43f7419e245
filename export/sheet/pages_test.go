package sheet

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/png"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/check"

	"github.com/paulmach/orb"
)

func TestSheetSaysEverything(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		check.Skip(t, "no time zones on this machine")
	}
	b := printed(t, everything(), Page{Operation: "loosening", Implement: "Five metre sweep", Driver: "A. Driver", Remarks: "The wet corner was left.", Zone: berlin})
	if info := check.Poppler(t, b, "pdfinfo", "FILE"); !regexp.MustCompile(`Pages:\s+3\n`).MatchString(info) || !regexp.MustCompile(`Title:\s+Müller & <Söhne>`).MatchString(info) {
		t.Errorf("want 3 pages and the field as title:\n%s", info)
	}
	for page, want := range map[int][]string{
		1: {"Müller & <Söhne>", "loosening", "Five metre sweep, width 5.00 m (given), overlap 0.10 m, credited 4.90 m", "A. Driver", "2026-04-14 07:30 to 08:30 CEST (UTC+02:00)",
			"1 : 1000", "North is up", "11.570° E", "48.1400° N", "worked once", "missed", "The missed strip", "1? 25.0 5 m 5.00 m", "likely", "drift between passes",
			"48.140018, 11.569503", "The wet corner was left.", "date", "signature", "The code opens strip 1 on the map", "turn too tight for the set (1)", "page 1 of 3", "Local times, zone Europe/Berlin"},
		2: {"The largest missed strip", "Strip 1?: 25.0 m², 5 m long", "1 : 75", "beside pass 1;", "to get there: along pass 1, 42 m from where it began, 3.0 m to its right", "page 2 of 3"},
		3: {"How it was driven", "2.00 0:20 h 80.0", "7.2 km/h on the mean", "2.34 ha/h, field efficiency 65 %", "Planned 4.90 m, mostly about 4.91 m", "1 turn, half within 12 s", "radius of 6.0 m", "3.2 m", "log.csv: 2 fixes merged",
			"Overhead lines", "folding", "Slopes", "rollover", "Wet ground and drains", "drawbar and axle loads", "Reversing can fold", "permits", "Bystanders", "Buried services", "no legal survey", "licensed practice"},
	} {
		got := textOf(t, b, page)
		for _, w := range want {
			if !strings.Contains(got, w) {
				t.Errorf("page %d lacks %q:\n%s", page, w, got)
			}
		}
	}
}

// What the joins say otherwise than the set's description stands before the range, what the range stands on that no log can tell below it.
func TestBarAsideOnTheSheet(t *testing.T) {
	for name, c := range map[string]struct {
		is    coverage.Aside
		words string
	}{
		"by the joins": {coverage.Aside{By: 0.2, Missed: 113, Joins: true}, "The joins say otherwise"},
		"not told":     {coverage.Aside{By: 0.1, Missed: 600}, "Were the bar 10 cm farther right"},
	} {
		r := everything()
		r.Open.Aside = c.is
		got := textOf(t, printed(t, r, Page{}), 1)
		at, missed := strings.Index(got, c.words), strings.Index(strings.ToLower(got), "by the gps log")
		if at < 0 || missed < 0 || c.is.Joins != (at < missed) {
			t.Errorf("%s: words at %d, what was missed at %d of\n%s", name, at, missed, got)
		}
	}
}

// The square metres printed must add up to those of the field, digit by digit.
func TestPrintedBalanceAddsUp(t *testing.T) {
	r := everything()
	r.Balance = ground.Balance{Field: 990_000, Missed: 2544.4, Once: 980_814.4, Twice: 3646.4, More: 449.4, Unknown: 2545.4}
	got := textOf(t, printed(t, r, Page{}), 1)
	sum := [2]float64{}
	for _, row := range []string{"worked once", "worked twice", "three times or more", "missed", `unknown \(log gap\)`} {
		m := regexp.MustCompile(row + ` ([0-9 ]+) ([0-9.]+)( |$)`).FindStringSubmatch(got)
		if m == nil {
			t.Fatalf("no row %q in:\n%s", row, got)
		}
		sum[0], sum[1] = sum[0]+number(t, strings.ReplaceAll(m[1], " ", "")), sum[1]+number(t, m[2])
	}
	if !strings.Contains(got, "field 990 000 100.00") || sum[0] != 990_000 || math.Abs(sum[1]-100) > 1e-9 {
		t.Errorf("rows add up to %.0f m² and %.2f %%, want 990000 and 100:\n%s", sum[0], sum[1], got)
	}
}

// Whoever has a sheet read to them hears its pages in order: heads, tables with their cells, words in place of every picture; and all that stands on it.
func TestSheetIsTagged(t *testing.T) {
	for _, l := range []words.Language{words.English, words.German} {
		pdf := printed(t, everything(), Page{Language: l})
		info := check.Poppler(t, pdf, "pdfinfo", "FILE")
		if !regexp.MustCompile(`Tagged: +yes`).MatchString(info) || !bytes.Contains(pdf, []byte("/Lang ("+string(l)+")")) {
			t.Errorf("%s: %s", l, info)
		}
		tree := check.Poppler(t, pdf, "pdfinfo", "-struct-text", "FILE")
		pages := strings.Count(check.Poppler(t, pdf, "pdftotext", "FILE", "-"), "\f")
		for part, least := range map[string]int{"Sect": pages, "H1": pages, "H2": pages, "Table": 2, "TR": 12, "TH": 12, "TD": 40, "Figure": 2} {
			if n := len(regexp.MustCompile(`(?m)^ +`+part+`( \(block\))?$`).FindAllString(tree, -1)); n < least {
				t.Errorf("%s: %d of %s, want %d or more", l, n, part, least)
			}
		}
		figures := regexp.MustCompile(`/S /Figure [^>]*>`).FindAll(pdf, -1)
		for _, f := range figures {
			if !bytes.Contains(f, []byte("/Alt <FEFF")) {
				t.Errorf("%s: a picture without words in its place: %s", l, f)
			}
		}
		if len(figures) < 2 {
			t.Errorf("%s: %d pictures", l, len(figures))
		}
		bare := strings.Join(strings.Fields(tree), "")
		for _, word := range strings.Fields(check.Poppler(t, pdf, "pdftotext", "-raw", "FILE", "-")) {
			if !strings.Contains(bare, word) {
				t.Errorf("%s: %q stands on a page and in no part", l, word)
			}
		}
	}
}

func TestFontsAreEmbedded(t *testing.T) {
	pdf := printed(t, everything(), Page{})
	list := check.Poppler(t, pdf, "pdffonts", "FILE")
	lines := strings.Split(strings.TrimSpace(list), "\n")[2:]
	if len(lines) != 2 {
		t.Fatalf("want two fonts:\n%s", list)
	}
	for _, line := range lines {
		if f := strings.Fields(line); f[len(f)-5] != "yes" || f[len(f)-3] != "yes" {
			t.Errorf("not embedded and searchable: %s", line)
		}
	}
	if len(pdf) > 200_000 { // whole, each font has 660 kB
		t.Errorf("%d bytes: are the fonts cut down?", len(pdf))
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
		{"writing turned round", "North \u202edleiF", "North �dleiF"},
		{"a line break and a bell", "North\n\aField", "North �Field"},
	} {
		t.Run(c.situation, func(t *testing.T) {
			r := everything()
			r.Field.Name = c.name
			got := textOf(t, printed(t, r, Page{}), 1)
			if !strings.HasPrefix(got, c.want+" Operation") {
				t.Errorf("name %q, want it printed as %q:\n%s", c.name, c.want, got)
			}
			if lacking := strings.Contains(got, "letters that the fonts of this sheet lack"); lacking != strings.Contains(c.want, "U+") {
				t.Errorf("said that letters are lacking: %t", lacking)
			}
		})
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
	s, err := setUp(r, Page{Paper: "A3"})
	if err != nil {
		t.Fatal(err)
	}
	pdf := printed(t, r, Page{Paper: "A3"})
	pages := map[string]image.Image{"PDF": pictureOf(t, pdf, 1)}
	leaves, err := Pages(r, Page{Paper: "A3"})
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

// What the page says of its scale holds on paper, for a field laid askew too: 1200 m
// of field are as long as 1200 m at that scale, end to end in straw.
func TestScaleHoldsOnPaper(t *testing.T) {
	for _, deg := range []float64{0, 50, -65} {
		r := field(1200, 120, deg, 0)
		r.Passes = nil
		pdf := printed(t, r, Page{Orientation: "landscape"})
		said := regexp.MustCompile(`1 : (\d+) The scale holds for A4`).FindStringSubmatch(textOf(t, pdf, 1))
		if said == nil {
			t.Fatal("no scale on the page")
		}
		scale := number(t, said[1])
		img := pictureOf(t, pdf, 1)
		dpmm := float64(img.Bounds().Dx()) / 297
		var from, to [2]int // ends of the field: straw within the frame
		for y := int(30 * dpmm); y < int(95*dpmm); y++ {
			for x := int(14 * dpmm); x < int(283*dpmm); x++ {
				r, g, b, _ := img.At(x, y).RGBA()
				if r>>8 != 0xE3 || g>>8 != 0xCF || b>>8 != 0x9B {
					continue
				}
				if to == [2]int{} || x < from[0] {
					from = [2]int{x, y}
				}
				if x > to[0] {
					to = [2]int{x, y}
				}
			}
		}
		longest := math.Hypot(float64(to[0]-from[0]), float64(to[1]-from[1])) / dpmm
		want := 1200 * 1000 / scale
		diagonal := math.Hypot(1200, 120) * 1000 / scale
		if longest < want-1 || longest > diagonal+0.5 { // a millimetre is the boundary's line and three dots
			t.Errorf("turned %.0f°: %.1f mm at 1 : %.0f, want %.1f mm", deg, longest, scale, want)
		}
	}
}

// Near a pole meridians meet: the grid must not fill the page.
func TestGridNearAPole(t *testing.T) {
	for _, lat := range []float64{-89.9995, 0, 89.9999} {
		r := everything()
		r.Local = geo.LocalAt(orb.Point{10, lat})
		r.Strips, r.Turns = nil, nil
		if n := len(printed(t, r, Page{})); n > 100_000 {
			t.Errorf("at %g° N: %d bytes", lat, n)
		}
	}
}

func TestSheetsOfAllSizes(t *testing.T) {
	many := field(2000, 1500, 0, 5000)
	many.Layers.Field = append(many.Layers.Field, plane.Polygon{levelRing(1100, -200, 300, 400)})
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
		{"300 ha, 5000 strips, parts and obstacles", many, Page{}, 4, []string{"1 : 20000", "Missed strips, the 10 largest of 5000", "Not listed here: 4990 more strips", "The code opens strip 1"}},
		{"300 ha on A3", many, Page{Paper: "A3"}, 4, []string{"1 : 10000", "The scale holds for A3"}},
		{"long and thin, askew", field(1200, 40, 50, 8), Page{}, 3, []string{"1 : 3000", "in 3 windows", "Turned so that north lies 50° right of up"}},
		{"no strips", field(300, 200, 0, 0), Page{}, 2, []string{"No missed strips", "Nothing more was missed."}},
		{"upright by order", field(1200, 40, 0, 8), Page{Orientation: "portrait"}, 4, []string{"1 : 3000", "in 3 windows"}},
		{"long remarks", field(300, 200, 0, 1), Page{Remarks: strings.Repeat("A word or two. ", 130) + "END"}, 4, []string{"continued on the last page"}},
	} {
		t.Run(c.situation, func(t *testing.T) {
			b := printed(t, c.r, c.page)
			if len(b) > 2<<20 {
				t.Errorf("%d bytes, want at most 2 MiB", len(b))
			}
			if info := check.Poppler(t, b, "pdfinfo", "FILE"); !regexp.MustCompile(fmt.Sprintf(`Pages:\s+%d\n`, c.pages)).MatchString(info) {
				t.Errorf("want %d pages:\n%s", c.pages, info)
			}
			got := textOf(t, b, 1)
			for _, w := range c.want {
				if !strings.Contains(got, w) {
					t.Errorf("page 1 lacks %q:\n%s", w, got)
				}
			}
			if c.pages == 4 && len(c.r.Strips) > 100 && !strings.Contains(textOf(t, b, 3), "strips.csv holds all strips.") {
				t.Error("the list of strips ends without a word where it goes on")
			}
			if c.page.Remarks != "" && !strings.Contains(textOf(t, b, c.pages), "END") {
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
		{"no width", func(r *coverage.Result) { r.Work = drive.Work{} }},
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
			check.Poppler(t, b, "pdftotext", "FILE", "-")
		}
	}
}

// A page as SVG says what it is and in which language, and holds its lines of text as text, each as long as it was measured.
func TestFormsOfAPage(t *testing.T) {
	leaves, err := Pages(everything(), Page{Language: words.German})
	if err != nil {
		t.Fatal(err)
	}
	for i, l := range leaves {
		var b bytes.Buffer
		if err := l.SVG(&b); err != nil {
			t.Fatal(err)
		}
		var svg struct {
			Role  string `xml:"role,attr"`
			Lang  string `xml:"lang,attr"`
			Title string `xml:"title"`
			Paths []struct {
				D string `xml:"d,attr"`
			} `xml:"path"`
			Texts []struct {
				Words  string  `xml:",chardata"`
				Length float64 `xml:"textLength,attr"`
			} `xml:"text"`
		}
		if err := xml.Unmarshal(b.Bytes(), &svg); err != nil {
			t.Fatalf("page %d is no XML: %v", i+1, err)
		}
		if svg.Role != "img" || svg.Lang != "de" || svg.Title != heading(everything().Field, words.German) {
			t.Errorf("page %d: role %q, language %q, title %q", i+1, svg.Role, svg.Lang, svg.Title)
		}
		if len(svg.Paths) < 12 {
			t.Errorf("page %d: %d paths", i+1, len(svg.Paths))
		}
		lines := l.Lines()
		if len(svg.Texts) != len(lines) {
			t.Fatalf("page %d: %d texts for %d lines", i+1, len(svg.Texts), len(lines))
		}
		for k, text := range svg.Texts {
			if one := lines[k]; text.Words != one.Words || one.Level && math.Abs(text.Length-one.Box.W) > 0.02 {
				t.Errorf("page %d: %q, %.2f mm long, for %q, %.2f mm", i+1, text.Words, text.Length, one.Words, one.Box.W)
			}
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
		{"a driver of a book's length", everything(), Page{Driver: strings.Repeat("x", 201)}},
		{"remarks of a book's length", everything(), Page{Remarks: strings.Repeat("x", 2001)}},
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
