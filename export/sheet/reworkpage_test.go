package sheet

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/rework"
	"balk/export/words"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// reworked is a plan for the strips of a result, drawn by hand: two passes for the first strip, one for two strips, one for each of the others.
func reworked(r coverage.Result) rework.Plan {
	p := rework.Plan{Gate: plane.XY{X: 1, Y: 1}, Missed: 500, ExtraDouble: 800, Unfit: 1}
	pass := func(strips ...int) int {
		n := len(p.Passes) + 1
		y := 3 + float64(n)*2
		line := []plane.XY{{X: 20, Y: y}, {X: 60, Y: y}}
		p.Passes = append(p.Passes, rework.Pass{Number: n, Strips: strips, Length: 40, Line: line})
		p.Route = append(p.Route, rework.Piece{Line: []plane.XY{{X: 1, Y: y - 2}, {X: 10, Y: y}, {X: 20, Y: y}}, Length: 20, Time: 30, Unfit: map[bool]string{true: "no room"}[n == 1]},
			rework.Piece{Pass: n, Line: line, Length: 40, Time: 60})
		return n
	}
	visit := func(strip int, passes ...int) {
		p.Chosen = append(p.Chosen, rework.Visit{Strip: strip, Passes: passes, Covered: float64(10 * strip)})
		p.Covered += float64(10 * strip)
	}
	visit(1, pass(1), pass(1))
	n := pass(2, 3)
	visit(2, n)
	visit(3, n)
	for _, s := range r.Strips[3:] {
		visit(s.Number, pass(s.Number))
	}
	p.Length, p.Time = 60*float64(len(p.Passes)), 90*float64(len(p.Passes))
	for i, why := range []rework.Why{rework.WhyLess, rework.WhyTime, rework.WhyShare, rework.WhyWay, rework.WhySmall, rework.WhyNarrow, rework.WhyUnsure, rework.WhyNoise, rework.WhySliver} {
		p.Skipped = append(p.Skipped, rework.Skip{Pieces: i + 1, Area: 1000, Why: why})
	}
	return p
}

// What passes win adds up to what the plan covers, strips of one pass together and a strip of two passes once; the clock goes on over ways and passes.
func TestOrderOfReworkAddsUp(t *testing.T) {
	r := field(300, 200, 0, 12)
	p := reworked(r)
	rows := againOf(p)
	sum := 0.0
	for i, one := range rows {
		sum += one.won
		if want := 90 * float64(i+1); one.Number != i+1 || one.after != want {
			t.Errorf("pass %d at row %d is done after %g s, want %g", one.Number, i+1, one.after, want)
		}
	}
	if math.Abs(sum-p.Covered) > 1e-9 || rows[0].won != 10 || rows[1].won != 0 || rows[2].won != 50 {
		t.Errorf("won %g m² of %g: %g, %g, %g by the first passes", sum, p.Covered, rows[0].won, rows[1].won, rows[2].won)
	}
}

// The page of the re-work names every pass that has room in the table, says how many more there are, and cuts nothing off.
func TestReworkPage(t *testing.T) {
	sizes := []int{4, 300, 12}
	if trial.UnderRaceDetector() {
		sizes = sizes[:1] // the same code draws more of the same
	}
	for _, strips := range sizes {
		r := field(300, 200, 30, strips)
		for i := range r.Strips {
			r.Strips[i].Approach = coverage.Approach{Pass: 31 + i, Left: i%2 == 0, Along: 20}
		}
		p := reworked(r)
		for _, language := range []words.Language{words.English, words.German} {
			own := germanWords(t, "ha km UTC Long Acre m min", strings.Join(names(r), " "))
			for _, orientation := range []string{"portrait", "landscape"} {
				at := fmt.Sprintf("%d strips, %s, %s", strips, language, orientation)
				page := Page{Language: language, Orientation: orientation}
				without, err := Pages(r, page)
				if err != nil {
					t.Fatal(err)
				}
				page.Rework = &p
				leaves, err := Pages(r, page)
				if err != nil {
					t.Fatal(err)
				}
				if len(leaves) != len(without)+1 {
					t.Fatalf("%s: %d pages, without the re-work %d", at, len(leaves), len(without))
				}
				l := leaves[len(leaves)-2]
				haveRoom(t, at, leaves[len(leaves)-2:len(leaves)-1])
				along, said := 0, ""
				for _, line := range l.Lines() {
					said += line.Words + "\n"
					if strings.HasPrefix(line.Words, words.Language(language).Word("along pass %d, left")[:4]) {
						along++
					}
					for _, w := range letters.FindAllString(line.Words, -1) {
						if language == words.German && !own[w] {
							t.Errorf("%s: %q in %q", at, w, line.Words)
						}
					}
				}
				more := strings.Contains(said, "rework.json")
				if want := len(p.Passes); !more && along != want || more && (along >= want || along < 20 || !strings.Contains(said, fmt.Sprint(want-along))) {
					t.Errorf("%s: %d of %d passes in the table:\n%s", at, along, want, said)
				}
				if more != (strips == 300) {
					t.Errorf("%s: says that there are more: %v", at, more)
				}
			}
		}
	}
	// Without passes there is no page.
	none := field(300, 200, 0, 3)
	with, err := Pages(none, Page{Rework: &rework.Plan{}})
	if err != nil {
		t.Fatal(err)
	}
	without, err := Pages(none, Page{})
	if err != nil {
		t.Fatal(err)
	}
	if len(with) != len(without) {
		t.Errorf("%d pages with an empty plan, %d without", len(with), len(without))
	}
}

func names(r coverage.Result) []string { return []string{r.Field.Name} }
