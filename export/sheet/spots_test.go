package sheet

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"balk/coverage/spots"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// The sheet of a walk has every place on the map and a row of blanks for each, says what it proves and what to mind, in both languages, with nothing
// beyond the paper or over other words.
func TestSpotSheet(t *testing.T) {
	walk := SpotWalk{Field: geo.Field{Name: "Long Acre", Number: 1}, Local: geo.LocalAt(orb.Point{11.57, 48.14}), Ground: []plane.Polygon{{levelRing(-150, -90, 300, 180)}}, Proves: "What it proves."}
	at := plane.XY{X: -150, Y: 0}
	for k := range 30 {
		p := spots.Place{At: plane.XY{X: -140 + 9.5*float64(k), Y: float64(37*k%160) - 80}, Why: geo.SpotDrawn, Pass: 3 + k, Bearing: 178, Section: 1 + k%4, FromLeft: 1.5 * float64(k%4), Length: 1.5}
		switch k {
		case 7:
			p = spots.Place{At: p.At, Why: geo.SpotStrip, Strip: 12}
		case 8:
			p = spots.Place{At: p.At, Why: geo.SpotGap}
		}
		walk.Places, walk.Ways, at = append(walk.Places, p), append(walk.Ways, []plane.XY{at, p.At}), p.At
	}
	walk.Ways = append(walk.Ways, []plane.XY{at, {X: -150, Y: 0}})
	for l, want := range map[words.Language][]string{
		words.English: {"Long Acre: places to kneel", "28 places drawn by chance: they count", "2 that decide something: in no share", "What it proves.", "How to look", "Nobody kneels", "gate", "Places 14 to 26", "strip 12", "log gap", "4.50 to 6.00", "page 1 of 4"},
		words.German:  {"Long Acre: Stellen zum Niederknien", "28 ausgeloste Stellen: sie zählen", "So wird geprüft", "Niemand kniet", "Stellen 14 bis 26", "Fehlstreifen 12", "4,50 bis 6,00", "Seite 1 von 4"},
	} {
		leaves, err := SpotPages(walk, Page{Language: l})
		if err != nil || len(leaves) != 4 {
			t.Fatalf("%s: %d pages, %v", l, len(leaves), err)
		}
		var all []string
		for n, leaf := range leaves {
			var boxes []paper.Box
			for _, line := range leaf.Lines() {
				all = append(all, line.Words)
				if !line.Box.Within(paper.Rect(0, 0, leaf.Width, leaf.Height).Inset(paperMargin - 1)) {
					t.Errorf("%s, page %d: %q stands beyond the margin", l, n+1, line.Words)
				}
				if n > 0 && slices.ContainsFunc(boxes, line.Box.Inset(0.4).Meets) {
					t.Errorf("%s, page %d: %q stands over other words", l, n+1, line.Words)
				}
				boxes = append(boxes, line.Box)
			}
		}
		text := strings.Join(all, " ")
		for k := range walk.Places {
			want = append(want, fmt.Sprint(k+1))
		}
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s: lacks %q in\n%s", l, w, text)
			}
		}
	}
	var a, b bytes.Buffer
	if err := SpotPDF(&a, walk, Page{}); err != nil {
		t.Fatal(err)
	}
	if err := SpotPDF(&b, walk, Page{}); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Errorf("two printings differ, %v", err)
	}
	walk.Places = nil
	if _, err := SpotPages(walk, Page{}); err == nil {
		t.Error("a sheet of no places")
	}
}
