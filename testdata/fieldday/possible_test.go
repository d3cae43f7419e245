package fieldday

import (
	"cmp"
	"os"
	"slices"
	"strings"
	"testing"
)

// often is the ground of so many of all, merged ones, or more.
func often(all []Scan, least int) Scan {
	out := make(Scan, len(all[0]))
	type end struct {
		at   float64
		more int
	}
	var ends []end
	for line := range out {
		ends = ends[:0]
		for _, g := range all {
			for _, s := range g[line] {
				ends = append(ends, end{s.from, 1}, end{s.to, -1})
			}
		}
		slices.SortFunc(ends, func(a, b end) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(b.more, a.more)) })
		many := 0
		for i, e := range ends {
			before := many
			many += e.more
			switch {
			case before < least && many >= least:
				out[line] = append(out[line], span{e.at, e.at})
			case before >= least && many < least:
				if last := len(out[line]) - 1; out[line][last].from < ends[i].at {
					out[line][last].to = ends[i].at
				} else { // they only touch
					out[line] = out[line][:last]
				}
			}
		}
	}
	return out
}

func TestOften(t *testing.T) {
	one := func(spans ...span) Scan { return Scan{spans} }
	all := []Scan{one(span{0, 2}, span{5, 6}), one(span{1, 3}), one(span{1.5, 5.5}, span{6, 7})}
	for least, want := range map[int][]span{1: {{0, 7}}, 2: {{1, 3}, {5, 5.5}}, 3: {{1.5, 2}}, 4: nil} {
		if got := often(all, least); !slices.Equal(got[0], want) {
			t.Errorf("in %d: %v, want %v", least, got[0], want)
		}
	}
}

// TestPossibleStrips prints what one can list who has the log of a differential receiver alone and is told how it errs (see Oracle): the ground that is
// missed with a chance or more, how many strips that is, how much of the true ones of 20 cm by 10 m lie on them by a tenth, how much ground
// is listed, and what of it is missed.
func TestPossibleStrips(t *testing.T) {
	const days = 12
	if os.Getenv("BALK_LONG") == "" {
		t.Skip("prints figures, with BALK_LONG=1")
	}
	chances := []float64{0.1, 0.2, 0.3, 0.4, 0.5, 0.7, 0.95}
	for _, s := range Situations() {
		if s.Band() != Differential || !strings.Contains(s.Name, "5 Hz") {
			continue
		}
		type sums struct{ strips, listed, ground, missed float64 }
		got := make([]sums, len(chances))
		var trues, real, area float64
		for seed := uint64(21001); seed < 21001+days; seed++ {
			day, err := Drive(s.Driving, seed)
			if err != nil {
				t.Fatal(err)
			}
			var left []Scan
			for _, one := range day.drives(s) {
				left = append(left, one)
			}
			trues, real, area = trues+float64(day.strips), real+float64(len(day.real)), area+day.area
			for i, c := range chances {
				g := often(left, max(1, int(c*oracleDraws+0.5)))
				got[i].strips += float64(g.strips())
				got[i].ground += g.Area()
				got[i].missed += g.Area() - g.less(day.missed).Area()
				for _, p := range day.real {
					if p.on(g) >= overlapsReal*p.area {
						got[i].listed++
					}
				}
			}
		}
		t.Logf("%s: %g days, %.0f true strips and %.0f m² a day, %.1f of 20 cm by 10 m", s.Name, float64(days), trues/days, area/days, real/days)
		for i, c := range chances {
			t.Logf("missed with a chance of %.0f %%: %.0f strips, %.0f %% of those listed, %.0f m², of which %.0f %% are missed", 100*c, got[i].strips/days, 100*got[i].listed/real, got[i].ground/days, 100*got[i].missed/max(got[i].ground, 1e-9))
		}
	}
}
