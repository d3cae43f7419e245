package sheet

import (
	"math"
	"strings"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/export/figures"
	"balk/export/sheet/paper"
	"balk/export/words"

	"github.com/paulmach/orb"
)

func TestWordsOfOneThing(t *testing.T) {
	strip := func(number int, s coverage.Surety) coverage.Strip {
		return coverage.Strip{Number: number, Surety: s, Certain: 1.25}
	}
	for name, c := range map[string]struct{ got, want string }{
		"a width given":                   {Width(words.English, drive.Bar{Width: 6, From: drive.WidthGiven, Least: 6, Most: 6.02}), "6.00 m (given)"},
		"a width of a file":               {bar(words.English, drive.Bar{Width: 6, From: drive.WidthFile}), "6.00 m (implement file)"},
		"a width as logged, in German":    {bar(words.German, drive.Bar{Width: 5.5, From: drive.WidthLogged}), "5,50 m (aufgezeichnet)"},
		"a mixed width":                   {Width(words.English, drive.Bar{Width: 6, From: drive.WidthLogged, Least: 3, Most: 6, Whole: 0.899}), "6.00 m (logged; 3.00 to 6.00 m, the whole bar on 89 % of the way)"},
		"a mixed width in short":          {bar(words.English, drive.Bar{Width: 6, From: drive.WidthLogged, Least: 5.96, Most: 6}), "6.00 m (logged; 5.96 to 6.00 m)"},
		"four passes":                     {passWords(words.English, []int{1, 2, 3, 4}), "1, 2, 3, 4"},
		"five passes":                     {passWords(words.English, []int{1, 2, 3, 4, 5}), "1, 2, 3, 4, 1 more"},
		"no passes":                       {passWords(words.English, nil), ""},
		"a certain strip":                 {numberOf(strip(7, coverage.SuretyCertain)), "7"},
		"a likely strip":                  {numberOf(strip(7, coverage.SuretyLikely)), "7?"},
		"a possible strip":                {numberOf(strip(7, coverage.SuretyPossible)), "7?"},
		"a strip of which that is open":   {numberOf(strip(7, coverage.SuretyUnknown)), "7"},
		"how sure, in part":               {suretyPart(words.English, strip(7, coverage.SuretyLikely)), string(coverage.SuretyLikely) + " (1.2 m² certain)"},
		"how sure, not known":             {suretyPart(words.English, strip(7, coverage.SuretyUnknown)), "not known"},
		"one strip":                       {words.English.Count(1, "strip"), "1 strip"},
		"no strips":                       {words.English.Count(0, "strip"), "0 strips"},
		"two more strips in German":       {words.German.Count(2, "more strip"), "2 weitere Streifen"},
		"the next row":                    {RowInto(words.English, 0), "next row"},
		"the 2nd row":                     {RowInto(words.English, 1), "2nd row"},
		"the 3rd row":                     {RowInto(words.English, 2), "3rd row"},
		"the 4th row":                     {RowInto(words.English, 3), "4th row"},
		"the 10th row":                    {RowInto(words.English, 9), "10th row"},
		"the 11th row":                    {RowInto(words.English, 10), "11th row"},
		"the 13th row":                    {RowInto(words.English, 12), "13th row"},
		"the 14th row":                    {RowInto(words.English, 13), "14th row"},
		"the 21st row":                    {RowInto(words.English, 20), "21st row"},
		"the 112th row":                   {RowInto(words.English, 111), "112th row"},
		"a place for a telephone":         {geoURI(orb.Point{11.5, -48.25}), "geo:-48.250000,11.500000"},
		"UTC":                             {zoneWords(words.English, time.Date(2026, 4, 14, 6, 0, 0, 0, time.UTC)), "UTC"},
		"a zone with a name":              {zoneWords(words.English, time.Date(2026, 4, 14, 6, 0, 0, 0, time.FixedZone("CEST", 7200))), "CEST (UTC+02:00)"},
		"a zone without a name":           {zoneWords(words.English, time.Date(2026, 4, 14, 6, 0, 0, 0, time.FixedZone("-03", -3*3600))), "UTC-03:00"},
		"a zone as far as UTC":            {zoneWords(words.English, time.Date(2026, 4, 14, 6, 0, 0, 0, time.FixedZone("GMT", 0))), "GMT (UTC+00:00)"},
		"a zone without a name, eastward": {zoneWords(words.English, time.Date(2026, 4, 14, 6, 0, 0, 0, time.FixedZone("+0530", 5*3600+1800))), "UTC+05:30"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", name, c.got, c.want)
		}
	}
}

// What a table of strips does not list is summed, and what is only possible or too narrow is counted.
func TestRestWords(t *testing.T) {
	r := coverage.Result{Strips: []coverage.Strip{{Area: 9, MaxWidth: 0.5}, {Area: 2, MaxWidth: 0.8}, {Area: 1, MaxWidth: 0.25}}}
	for name, c := range map[string]struct {
		rows, pieces, slivers int
		want                  string
	}{
		"all listed":        {3, 0, 0, "Nothing more was missed."},
		"one listed":        {1, 0, 0, "Not listed here: 2 more strips, 3.0 m² together, the widest 0.80 m."},
		"two listed":        {2, 0, 0, "Not listed here: 1 more strip, 1.0 m² together, the widest 0.25 m."},
		"one only possible": {3, 1, 0, "Not listed here: 1 strip only possible, 4.5 m²."},
		"one too narrow":    {3, 0, 1, "Not listed here: 1 piece too narrow to list, 0.3 m²."},
		"some of each":      {2, 2, 2, "Not listed here: 1 more strip, 1.0 m² together, the widest 0.25 m; 2 strips only possible, 4.5 m²; 2 pieces too narrow to list, 0.3 m²."},
	} {
		one := r
		one.Noise.Pieces, one.Noise.Area, one.Slivers, one.SliverArea = c.pieces, 4.5, c.slivers, 0.3
		if got := restWords(words.English, one, c.rows); got != c.want {
			t.Errorf("%s: %q, want %q", name, got, c.want)
		}
	}
	n := coverage.Noise{PassErrorFrom: "given", PassError: 0.03}
	if got := sureties(words.English, coverage.Result{Noise: n, Telling: coverage.Telling{Missed: [2]float64{100, 200}}}); len(got) != 2 || !strings.Contains(got[0], "0.030 m (95 %): missed 100 m² to 200 m²") {
		t.Errorf("%q", got)
	}
	if got := sureties(words.English, coverage.Result{}); len(got) != 1 || !strings.Contains(got[0], "not known") {
		t.Errorf("%q", got)
	}
}

// Distances of grid lines are 1, 2 or 5 × 10^n, and not below what is asked for.
func TestRoundUp(t *testing.T) {
	for v, want := range map[float64]float64{1: 1, 1.01: 2, 2: 2, 2.5: 5, 5: 5, 5.01: 10, 99: 100, 0.0021: 0.005, 0.06: 0.1} {
		if got := roundUp(v, 1, 2, 5); math.Abs(got-want) > 1e-12 {
			t.Errorf("%g: %g, want %g", v, got, want)
		}
	}
}

// A way of 3 mm to the right and 4 mm down.
func TestAlongALine(t *testing.T) {
	line := orb.LineString{{1, 1}, {4, 1}, {4, 5}}
	if got := lengthOf(line); got != 7 {
		t.Errorf("%g mm long, want 7", got)
	}
	for far, want := range map[float64][2]orb.Point{0: {{1, 1}, {1, 0}}, 2: {{3, 1}, {1, 0}}, 4: {{4, 2}, {0, 1}}, 7: {{4, 5}, {0, 1}}} {
		at, way := along(line, far)
		if math.Hypot(at[0]-want[0][0], at[1]-want[0][1]) > 1e-12 || math.Hypot(way[0]-want[1][0], way[1]-want[1][1]) > 1e-12 {
			t.Errorf("%g mm on: %v towards %v, want %v", far, at, way, want)
		}
	}
}

// Rectangles that touch do not meet, and one lies within itself.
func TestRectangles(t *testing.T) {
	r := paper.Rect(1, 2, 3, 4)
	for name, c := range map[string]struct {
		q             paper.Box
		meets, within bool // of q in r
	}{
		"itself":                {r, true, true},
		"inside":                {paper.Rect(2, 3, 1, 1), true, true},
		"beyond the right":      {paper.Rect(2, 3, 2.1, 1), true, false},
		"beyond the foot":       {paper.Rect(2, 3, 1, 3.1), true, false},
		"beyond the left":       {paper.Rect(0.9, 3, 1, 1), true, false},
		"beyond the head":       {paper.Rect(2, 1.9, 1, 1), true, false},
		"touching on the right": {paper.Rect(4, 3, 1, 1), false, false},
		"touching at the foot":  {paper.Rect(2, 6, 1, 1), false, false},
		"far off":               {paper.Rect(9, 9, 1, 1), false, false},
	} {
		if r.Meets(c.q) != c.meets || c.q.Meets(r) != c.meets || c.q.Within(r) != c.within {
			t.Errorf("%s: meets %v, within %v, want %v, %v", name, r.Meets(c.q), c.q.Within(r), c.meets, c.within)
		}
	}
	if got := r.Inset(0.5); got != (paper.Rect(1.5, 2.5, 2, 3)) {
		t.Errorf("inset by 0.5: %v", got)
	}
}

// Where the log cannot tell strips the table has no number that is more than about so; where it tells a range, that.
func TestTableOfWhatALogCannotTell(t *testing.T) {
	r := coverage.Result{Balance: ground.Balance{Field: 47105, Once: 23658, Twice: 12108, More: 1970, Missed: 9240, Unknown: 129, Outside: 1140}, FullMissed: 8918}
	r.Telling = coverage.Telling{Strips: coverage.GraspNone, Error: 3.5, Missed: [2]float64{0, 9240}}
	none := TableOf(r)
	for got, want := range map[Row]Row{
		none.Parts[0]:   {"worked once", "~2.4", "~24 000", "~50"},
		none.Parts[3]:   {"missed", "0.0–0.9", "0–9000", "0–20"},
		none.Outside:    {"worked outside", "~0.1", "~1000", "~2"},
		none.FullMissed: {"missed at full width", "–", "–", "–"},
		none.Thin:       {"lap thinner than planned", "–", "–", "–"},
	} {
		if got != want {
			t.Errorf("%v, want %v", got, want)
		}
	}
	r.Telling = coverage.Telling{Strips: coverage.GraspRange, Error: 0.4, Missed: [2]float64{970, 9240}}
	if got := TableOf(r); got.Parts[3] != (Row{"missed", "0.10–0.92", "970–9240", "2.1–19.6"}) || got.Parts[0] != (Row{"worked once", "~2.37", "~23 660", "~50.2"}) {
		t.Errorf("a range: %v", got.Parts)
	}
	r.Telling = coverage.Telling{Strips: coverage.GraspRange, Error: 0.4, Missed: [2]float64{360, 410}}
	if got := TableOf(r); got.Parts[3] != (Row{"missed", "0.036–0.041", "360–410", "0.8–0.9"}) {
		t.Errorf("a range whose ends are near each other: %v", got.Parts[3])
	}
	r.Telling = coverage.Telling{Strips: coverage.GraspFirm, Error: 0.03, Missed: [2]float64{9000, 9500}}
	if got := TableOf(r); got.Parts[3] != (Row{"missed", "0.9240", "9240", "19.62"}) {
		t.Errorf("a firm log: %v", got.Parts)
	}
}

// Areas on paper: square metres below a hectare, hectares to 0.01 above; thousands apart (ISO 80000-1, 7.3.1).
func TestAreasOnPaper(t *testing.T) {
	for m2, want := range map[float64]string{-1e-9: "0 m²", 0: "0 m²", 0.4: "0 m²", 406: "406 m²", 9999.4: "9999 m²", 9999.5: "1.00 ha", 47041: "4.70 ha", 1.2345e6: "123.45 ha"} {
		if got := Area(m2); got != want {
			t.Errorf("%g m²: %q, want %q", m2, got, want)
		}
	}
	for m2, want := range map[int64]string{0: "0", 9999: "9999", 10000: "10 000", 43367: "43 367", 1000000: "1 000 000", 1234567: "1 234 567"} {
		if got := figures.SquareMetres(m2); got != want {
			t.Errorf("%d: %q, want %q", m2, got, want)
		}
	}
}

// The heads of the table that is filled in by hand break at no letter, and stand in two lines at most.
func TestHeadsOfBlanksFit(t *testing.T) {
	size := papers["A4"]
	s := setting{w: size[1], h: size[0]}
	total := 0.0
	for _, c := range spotColumns {
		total += c.share
	}
	bold := paper.Lettering{Size: 7.5, Bold: true}
	for _, l := range []words.Language{words.English, words.German} {
		fonts, err := paper.LoadFonts()
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range spotColumns {
			head := l.Word(c.head)
			lines := fonts.Wrap(bold, head, s.inner().W*c.share/total-1.2)
			if len(lines) > 2 || strings.Join(lines, " ") != head {
				t.Errorf("%s: %q stands as %q", l, head, lines)
			}
		}
	}
}
