package sheet

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"regexp"
	"strings"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/pattern"
	"balk/coverage/turn"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// A span of time names its days, the second only where it is another.
func TestSpan(t *testing.T) {
	at := time.Date(2026, 11, 25, 5, 30, 0, 0, time.UTC)
	for _, c := range []struct{ situation, got, want string }{
		{"a morning", Page{Language: words.German}.span(at, at.Add(time.Hour)), "25.11.2026 05:30 bis 06:30 UTC"},
		{"a night", Page{Language: words.German}.span(at, at.Add(20*time.Hour)), "25.11.2026 05:30 bis 26.11.2026 01:30 UTC"},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.situation, c.got, c.want)
		}
	}
	if err := (Page{Language: "fr"}).Validate(); err == nil || err.Error() != `language "fr": must be en or de` {
		t.Errorf("French: %v", err)
	}
}

// speaking are results that make the sheet say all it can, more or less.
func speaking() map[string]coverage.Result {
	all := everything()
	many := field(500, 400, 30, 400)
	causes := []coverage.Cause{coverage.CauseDrift, coverage.CauseLift, coverage.CauseCorner, coverage.CauseObstacle, coverage.CauseEdge, coverage.CausePoint, coverage.CauseUndriven, coverage.CausePlanned, coverage.CauseGap}
	for i := range many.Strips {
		s := &many.Strips[i]
		s.Cause, s.Surety = causes[i%len(causes)], []coverage.Surety{coverage.SuretyCertain, coverage.SuretyLikely, coverage.SuretyUnknown}[i%3]
		s.Passes = [][]int{nil, {31}, {31, 32}, {31, 32, 33, 34, 35, 36}}[i%4]
	}
	many.Noise.Pieces, many.Noise.Area, many.Slivers, many.SliverArea = 12, 30, 230, 12.5
	none := field(300, 200, 0, 0)
	none.Noise = coverage.Noise{}
	none.Field.Name = ""
	late := field(300, 200, -40, 3)
	late.Work.TurnRadius, late.Noise.Pieces = 0, 1
	for i := range 40 {
		late.Turns = append(late.Turns, drive.Turn{Number: i + 1, From: i + 1, To: i + 2, Seconds: 12, Radius: 3.2, Angle: 40, At: late.Local.Point(plane.XY{X: 40, Y: 40}), Tight: true})
	}
	late.Effort = coverage.Effort{Timed: true, ClockFault: 2, OnField: 100}
	late.Spacing = coverage.Spacing{Planned: 4.9, Median: 4.91, Samples: 50}
	late.Spacing.Offset.Rights, late.Spacing.Offset.Lefts, late.Spacing.Offset.Right = 5, 5, -0.12
	for i := range 60 {
		late.Findings = append(late.Findings, geo.Finding{File: "log.csv", Record: i, What: "odd"})
	}
	busy := late // as a day with many faults, in time
	busy.Spacing.Width = 5
	busy.Effort, busy.Slope = all.Effort, &coverage.Slope{Mean: 0.02, Most: coverage.Steepest{Slope: 0.05}}
	for k := range 21 {
		busy.Spacing.Laps = append(busy.Spacing.Laps, coverage.Lap{Overlap: 0.02 * float64(k), Missed: 0.003 - 1e-4*float64(k), Double: 0.004 * float64(k), Way: 1})
	}
	all.Spacing.Laps = busy.Spacing.Laps
	for i, kind := range []pattern.Kind{pattern.Late, pattern.Shifted, pattern.Slide, pattern.Aside, pattern.Section, pattern.Fan} {
		busy.Patterns = append(busy.Patterns, pattern.Pattern{Kind: kind, Area: 300 - 10*float64(i), Strips: []int{1, 2, 3}, Ground: []float64{1, 2, 3}, Passes: [2]int{3, 27}, Seen: 24, Of: 26, By: 0.4, Least: 0.2, Most: 0.6, Doubt: 0.05, Towards: 90})
	}
	far := all
	far.Layers.Outside = []plane.Polygon{{square(400, 0, 8)}}
	far.Spacing.Offset.Rights, far.Spacing.Offset.Lefts, far.Spacing.Offset.Right = 5, 5, 0.12
	return map[string]coverage.Result{"all marks": all, "many strips, turned": many, "nothing missed": none, "many turns, turned": late, "many faults": busy, "work far outside": far}
}

// germanWords are the words that a German sheet may hold: those of the table, and what comes
// from outside.
func germanWords(t *testing.T, more ...string) map[string]bool {
	t.Helper()
	var tables []ast.Node
	for _, name := range []string{"german", "terminal", "findings"} {
		f, err := parser.ParseFile(token.NewFileSet(), "../words/"+name+".go", nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		tables = append(tables, f)
	}
	look := func(n ast.Node) bool {
		pair, ok := n.(*ast.KeyValueExpr)
		if !ok {
			return true
		}
		ast.Inspect(pair.Value, func(n ast.Node) bool {
			if b, ok := n.(*ast.BasicLit); ok {
				more = append(more, b.Value)
			}
			return true
		})
		return false
	}
	for _, f := range tables {
		ast.Inspect(f, look)
	}
	if len(more) < 120 {
		t.Fatalf("found %d words: the test does not see the table", len(more))
	}
	out := map[string]bool{}
	for _, s := range more {
		for _, w := range letters.FindAllString(s, -1) {
			out[w] = true
		}
	}
	return out
}

var (
	letters = regexp.MustCompile(`\pL{2,}`)
	pointed = regexp.MustCompile(`\d\.\d`)
	places  = regexp.MustCompile(`\d+\.\d{6}|\d\d\.\d\d\.\d{4}`) // and dates, which keep their points
)

// On no page of a German sheet, and in no picture, stands a word that is neither German nor a name.
func TestGermanSheetSpeaksGerman(t *testing.T) {
	own := germanWords(t, "ha km log.csv fixes merged odd record Müller Söhne Long Acre MESZ UTC Loosening Sweep Driver Etc/GMT-2 A4 A3 Sweeps tines sweep reverseSpeed turning")
	for _, p := range []Page{{}, {Zone: time.FixedZone("CEST", 7200), Operation: "Loosening", Implement: "Sweep", Driver: "Driver"}} {
		p.Language = words.German
		p.Remarks = strings.Repeat("A4 ", 600)
		all := spokenPictures(t, p)
		for situation, r := range speaking() {
			leaves, err := Pages(r, p)
			if err != nil {
				t.Fatal(err)
			}
			all[situation] = leaves
		}
		for situation, leaves := range all {
			n := 0
			for i, l := range leaves {
				for _, line := range l.Lines() {
					n++
					for _, w := range letters.FindAllString(line.Words, -1) {
						if !own[w] {
							t.Errorf("%s, page %d: %q in %q", situation, i+1, w, line.Words)
						}
					}
					if pointed.MatchString(places.ReplaceAllString(line.Words, "")) {
						t.Errorf("%s, page %d: a decimal point in %q", situation, i+1, line.Words)
					}
				}
			}
			if n < 15 {
				t.Errorf("%s: %d lines: the test does not see the pages", situation, n)
			}
		}
	}
}

// Nothing is cut off, runs into other text or off the paper, in either language.
func TestTextHasItsRoom(t *testing.T) {
	orientations := []string{"portrait", "landscape"}
	if trial.UnderRaceDetector() {
		orientations = orientations[:1] // the same code draws the same words in another place
	}
	for situation, r := range speaking() {
		for _, language := range []words.Language{words.English, words.German} {
			for _, orientation := range orientations {
				at := fmt.Sprintf("%s, %s, %s", situation, language, orientation)
				leaves, err := Pages(r, Page{Language: language, Orientation: orientation, Operation: "Loosening", Implement: "Five metre sweep", Driver: "A. Driver"})
				if err != nil {
					t.Fatal(err)
				}
				haveRoom(t, at, leaves)
			}
		}
	}
	for _, language := range []words.Language{words.English, words.German} {
		for situation, leaves := range spokenPictures(t, Page{Language: language}) {
			haveRoom(t, fmt.Sprintf("%s, %s", situation, language), leaves)
		}
	}
}

func haveRoom(t *testing.T, at string, leaves []*paper.Leaf) {
	t.Helper()
	for i, l := range leaves {
		lines := l.Lines()
		for k, a := range lines {
			if strings.Contains(a.Words, "…") {
				t.Errorf("%s, page %d: cut off: %q", at, i+1, a.Words)
			}
			if !a.Box.Within(paper.Rect(0, 0, l.Width, l.Height).Inset(paperMargin - 1)) {
				t.Errorf("%s, page %d: off the page: %q", at, i+1, a.Words)
			}
			for _, b := range lines[:k] {
				if !wordy(a) || !wordy(b) {
					continue
				}
				if dx, dy := overlap(a.Box, b.Box); dx > 0.3 && dy > 0.6 {
					t.Errorf("%s, page %d: %q and %q overlap by %.1f × %.1f mm", at, i+1, a.Words, b.Words, dx, dy)
				}
			}
		}
	}
}

// wordy is text beside the maps: numbers on them may lie on each other's lines.
func wordy(l paper.Written) bool { return l.Level && letters.MatchString(l.Words) }

func overlap(a, b paper.Box) (dx, dy float64) {
	return math.Min(a.X+a.W, b.X+b.W) - math.Max(a.X, b.X), math.Min(a.Y+a.H, b.Y+b.H) - math.Max(a.Y, b.Y)
}

// spokenPictures are the pictures that stand alone, in situations that make them say all they can.
func spokenPictures(t *testing.T, page Page) map[string][]*paper.Leaf {
	t.Helper()
	out := map[string][]*paper.Leaf{}
	add := func(situation string, l *paper.Leaf, err error) {
		if err != nil {
			t.Fatalf("%s: %v", situation, err)
		}
		out[situation] = append(out[situation], l)
	}
	mixed := everything()
	mixed.Bar = drive.Bar{Width: 5, From: drive.WidthLogged, Least: 2, Most: 5, Whole: 0.8}
	l, err := Map(mixed, page)
	add("map of a mixed width", l, err)
	for situation, r := range speaking() {
		l, err := Map(r, page)
		add("map, "+situation, l, err)
	}
	for situation, p := range turnPlans(t) {
		l, err := Turn(p, page)
		add("turn, "+situation, l, err)
	}
	ends := endsPlan()
	l, err = RowEnds(t.Context(), ends, page)
	add("row ends", l, err)
	ends.Least = turn.Least{Limit: 40}
	l, err = RowEnds(t.Context(), ends, page)
	add("row ends, feasible at no depth", l, err)
	two := twoPlans()
	l, err = Plans(geo.Field{Number: 1}, two, page)
	add("two plans", l, err)
	l, err = Plans(geo.Field{Name: "Long Acre"}, two[1:], page)
	add("one plan", l, err)
	return out
}
