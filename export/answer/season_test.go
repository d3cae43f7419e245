package answer

import (
	"strings"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/season"
	"balk/export/words"

	"github.com/paulmach/orb"
)

// TestSeasonIsSaid: what operations did together in words, from invented figures; areas as in the sentences on one operation.
func TestSeasonIsSaid(t *testing.T) {
	strip := season.Strip{Number: 1, Length: 16.4, MaxWidth: 3.251, At: orb.Point{11.5, 48.25}, Surety: coverage.SuretyCertain}
	narrow := season.Strip{Number: 2, Length: 50, MaxWidth: 0.08, Open: 0.11, Beside: []int{0, 1}, Surety: coverage.SuretyLikely}
	r := season.Result{Field: 47041, Operations: make([]season.Single, 2),
		All:   season.Together{Operations: []int{0, 1}, Missed: 231, Unknown: 33.4, Times: []float64{1443, 45333}, Strips: []season.Strip{strip, narrow}},
		Each:  []season.Together{{Component: season.Seeds, Operations: []int{1}, Missed: -1e-9, Times: []float64{47041}}},
		Pairs: []season.Pair{{A: 0, B: 1, Both: 45333, OnlyA: 1005, OnlyB: 180, Neither: 231, Angle: 89.6, Shift: season.Shift{Doubt: 0.11}}}}
	cut := season.Since{Day: time.Date(2026, 5, 14, 0, 0, 0, 0, time.UTC), Days: 21.9, Worked: 46777, Never: 264}
	said := func(l words.Language) string {
		return strings.Join(Season(l, r, []int64{4, 7}, &cut, &season.Seeding{NeverCut: 1234, NotSeeded: 12}), "|")
	}
	for _, c := range []struct {
		name string
		l    words.Language
		do   func()
		want string
	}{
		{"as it is", words.English, func() {}, "Missed by all operations (2): 230 m² (0.5 % of the field), in 2 strips, 1 of them certain, the largest 16 m long and up to 3.25 m wide at 48.250000, 11.500000; 33 m² unknown (log gaps); worked 1 of 2 times 1440 m², 2 of 2 times 4.53 ha." +
			"|Missed by all that do this: seeds (1): 0 m² (0.0 % of the field)." +
			"|Operations 4 and 7: both 4.53 ha, only 4: 1010 m², only 7: 180 m², neither 230 m², 90° between their directions; they may lie up to 0.11 m off each other: no strip between them that is narrower is certain." +
			"|Seeded but never cut: 1230 m²; cut but not seeded: 12 m².|On 2026-05-14 the last cut was 22 days ago in the mean of the ground; never cut: 260 m²."},
		{"in German", words.German, func() {}, "in 2 Streifen, 1 davon sicher, der größte 16 m lang und bis 3,25 m breit bei 48.250000, 11.500000; 33 m² unbekannt"},
		{"the second lies off the first", words.English, func() { r.Pairs[0].Shift = season.Shift{East: 0.3, North: -0.4, Doubt: 0.1, Seen: true} }, "; all of 7 lies 0.50 m towards 143° of 4 (give or take 0.10), as another frame or receiver would put it."},
		{"no receiver tells its error", words.English, func() { r.All.Strips[0].Surety, r.All.Strips[1].Surety = "", "" }, ", in 2 strips, the largest"},
	} {
		if c.do(); !strings.Contains(said(c.l), c.want) {
			t.Errorf("%s: want %q in\n%s", c.name, c.want, said(c.l))
		}
	}
}
