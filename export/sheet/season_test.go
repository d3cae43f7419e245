package sheet

import (
	"bytes"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"balk/coverage/drive"
	"balk/coverage/season"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"
	"balk/testdata/trial"
)

// seasonOf is an invented field of 100 × 60 m with so many operations, every other across the one before, a week apart; passes of 5 m
// with a metre between them.
func seasonOf(t *testing.T, n int) SeasonField {
	t.Helper()
	f := trial.Sketch{Rings: [][]plane.XY{trial.Rectangle(0, 0, 100, 60)}}.Field()
	f.Name, f.Number = "Long Acre", 1
	local := f.Local()
	monday := time.Date(2026, 4, 6, 12, 0, 0, 0, time.UTC)
	of := SeasonField{Field: f, Official: "ZZ-17", Ground: f.OnPlane(local), Day: monday.AddDate(0, 0, 7*n), Together: []string{"What they did together."}, Seen: []string{"What spot checks prove."}, Due: []string{"What is due on a day."}}
	var operations []season.Operation
	for k := range n {
		var lines [][]plane.XY
		long, wide := 100.0, 60.0
		place := func(along, across float64) plane.XY { return plane.XY{X: along, Y: across} }
		if k%2 == 1 {
			long, wide = wide, long
			place = func(along, across float64) plane.XY { return plane.XY{X: across, Y: along} }
		}
		for y := 2.5; y < wide; y += 6 {
			lines = append(lines, trial.Straight(place(0, y), place(long, y), 2))
		}
		w := drive.Work{Width: 5, PassError: 0.04}
		log, err := drive.Read(t.Context(), of.Ground, local, []geo.Track{(trial.Sketch{Lines: lines}).Track()}, w, drive.AsJudged)
		if err != nil {
			t.Fatal(err)
		}
		when := monday.AddDate(0, 0, 7*k)
		operations = append(operations, season.Operation{Name: fmt.Sprint(k + 1), Does: []season.Component{season.Cuts}, When: when, Runs: log.Runs, Work: w})
		of.Operations = append(of.Operations, SeasonOperation{Number: int64(k + 1), At: k, Begin: when, Does: []string{"cuts"}, Set: "sweeps", Area: 6000, Missed: 1000, Weather: fmt.Sprintf("The weather after operation %d, which goes on for a while.", k+1)})
	}
	var err error
	if of.Result, err = season.Of(t.Context(), f, operations, 0); err != nil {
		t.Fatal(err)
	}
	for d := range 7 * n {
		of.Weather = append(of.Weather, SeasonDay{monday.Truncate(24*time.Hour).AddDate(0, 0, d), float64(d % 4), 3})
	}
	for k, cut := range []geo.Yes{geo.IsSo, geo.NotSo, geo.NotSaid} {
		of.Checks = append(of.Checks, SeasonCheck{At: local.Point(plane.XY{X: 30 + 10*float64(k), Y: 30}), Cut: cut, Against: k == 0})
	}
	return of
}

// The season sheet has every operation by its day, number and what it does, a map of the latest, the weather after each, all sentences, and the
// keys of what it draws, in both languages, with nothing beyond the paper or over other words.
func TestSeasonSheet(t *testing.T) {
	for name, c := range map[string]struct {
		operations, sentences int
		do                    func(*SeasonField)
		want, lacks           map[words.Language][]string
		pages                 int
	}{
		"two operations": {2, 1, nil, map[words.Language][]string{
			words.English: {"Long Acre, ZZ-17: the season", "2 operations, as of 2026-04-20", "1 cuts, 2026-04-06", "2 cuts, 2026-04-13", "all together (2)", "worked by all", "by some of them", "rain, mm a day", "seen cut", "seen not cut", "against the map", "What is due", "page 1 of 1"},
			words.German:  {"Long Acre, ZZ-17: das Jahr", "2 Arbeitsgänge, Stand 20.04.2026", "2 schneidet, 13.04.2026", "alle zusammen (2)", "von manchen", "Verdunstungsanspruch", "Was ansteht", "Seite 1 von 1"},
		}, map[words.Language][]string{words.English: {"earlier"}}, 1},
		"one, no weather, no checks": {1, 1, func(f *SeasonField) { f.Weather, f.Checks, f.Operations[0].Weather = nil, nil, "" }, map[words.Language][]string{words.English: {"1 cuts", "all together (1)"}},
			map[words.Language][]string{words.English: {"by some of them", "rain, mm", "seen", "1 cuts, 2026-04-06"}}, 1},
		"nine": {9, 1, nil, map[words.Language][]string{words.English: {"9 cuts, 2026-06-01", "6 earlier without a map of their own", "and 2 earlier ones"}}, map[words.Language][]string{words.English: {"6 cuts, 2026"}}, 1},
		"one that could not be laid": {2, 1, func(f *SeasonField) {
			f.Operations = append(f.Operations, SeasonOperation{Number: 17, At: -1, Does: []string{"combs"}, Area: 6000})
		}, map[words.Language][]string{words.English: {"17", "3 operations"}}, nil, 1},
		"one loosens":                      {2, 1, func(f *SeasonField) { f.Result.Each[0].Operations = f.Result.Each[0].Operations[1:] }, map[words.Language][]string{words.English: {"all that cut (1)"}, words.German: {"alle, die schneiden (1)"}}, map[words.Language][]string{words.English: {"all together"}}, 1},
		"more sentences than a page holds": {2, 45, nil, map[words.Language][]string{words.English: {"The season, continued", "page 2 of 2"}, words.German: {"Das Jahr, Fortsetzung"}}, nil, 2},
	} {
		t.Run(name, func(t *testing.T) {
			f := seasonOf(t, c.operations)
			for k := range c.sentences - 1 {
				f.Together = append(f.Together, fmt.Sprintf("Sentence %d of what they did together.", k))
			}
			if c.do != nil {
				c.do(&f)
			}
			for l, want := range c.want {
				leaves, err := SeasonPages(t.Context(), f, Page{Language: l})
				if err != nil || len(leaves) != c.pages {
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
						if slices.ContainsFunc(boxes, line.Box.Inset(0.6).Meets) {
							t.Errorf("%s, page %d: %q stands over other words", l, n+1, line.Words)
						}
						boxes = append(boxes, line.Box.Inset(0.6))
					}
				}
				text := strings.Join(all, " ")
				for _, w := range slices.Concat(want, f.Together, f.Seen, f.Due) {
					if !strings.Contains(text, w) {
						t.Errorf("%s: lacks %q in\n%s", l, w, text)
					}
				}
				for _, w := range c.lacks[l] {
					if strings.Contains(text, w) {
						t.Errorf("%s: has %q in\n%s", l, w, text)
					}
				}
			}
		})
	}
}

// Ground on the map of all is drawn by how often it was worked: two operations at right angles leave squares that neither worked.
func TestSeasonMapsByKind(t *testing.T) {
	f := seasonOf(t, 2)
	s := &seasonSetting{of: f, laid: f.Operations}
	if err := s.draw(t.Context()); err != nil {
		t.Fatal(err)
	}
	if s.most.Component != season.Cuts || len(s.most.Operations) != 2 {
		t.Errorf("the last map is of %+v", s.most.Operations)
	}
	// Along: 10 passes of 5 m leave 10 m of 60 bare; across: 17 leave 16 m of 100 (the last lap beyond the field: 4 m from 98.5 - 2.5).
	sum := func(parts []season.Part, n int) (m2 float64) {
		for _, p := range parts[n].Ground {
			m2 += p.Area()
		}
		return m2
	}
	for _, c := range []struct {
		what      string
		got, want float64
	}{{"the first missed", sum(s.alone[0], 0), 10 * 100}, {"the second missed", sum(s.alone[1], 0), 16 * 60}, {"both missed", sum(s.all, 0), 10 * 16}, {"one worked", sum(s.all, 1), 10*84 + 16*50}, {"both worked", sum(s.all, 2), 84 * 50}} {
		if d := c.got - c.want; d > 0.5 || d < -0.5 {
			t.Errorf("%s: %.1f m², want %.1f", c.what, c.got, c.want)
		}
	}
}

// The same season gives the same bytes; one of which nothing was laid gives none.
func TestSeasonPDF(t *testing.T) {
	f := seasonOf(t, 2)
	var a, b bytes.Buffer
	if err := SeasonPDF(t.Context(), &a, []SeasonField{f, f}, Page{}); err != nil {
		t.Fatal(err)
	}
	if err := SeasonPDF(t.Context(), &b, []SeasonField{f, f}, Page{}); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Errorf("two printings differ, %v", err)
	}
	for k := range f.Operations {
		f.Operations[k].At = -1
	}
	if err := SeasonPDF(t.Context(), &b, []SeasonField{f}, Page{}); err == nil {
		t.Error("a sheet of no operation")
	}
}

// All maps of a season lie the same way, whatever their frames: one north arrow stands for all.
func TestSeasonMapsLieTheSameWay(t *testing.T) {
	for name, long := range map[string]float64{"short": 100, "long": 600, "longer": 2000} {
		for deg := 0.0; deg < 180; deg += 15 {
			sin, cos := math.Sincos(deg * math.Pi / 180)
			var hull []plane.XY
			for _, p := range levelRing(0, 0, long, 90) {
				hull = append(hull, plane.XY{X: p.X*cos - p.Y*sin, Y: p.X*sin + p.Y*cos})
			}
			s := &seasonSetting{setting: setting{hull: hull}}
			for n := range mostMaps + 1 {
				views := s.mapViews(paper.Rect(10, 40, 277, 70), n)
				if len(views) != n+1 {
					t.Fatalf("%d maps, want %d", len(views), n+1)
				}
				for k, v := range views {
					if v.turn != views[n].turn {
						t.Errorf("%s field at %g°, map %d of %d: turned by %g°, the last by %g°", name, deg, k+1, n+1, v.turn, views[n].turn)
					}
					for _, p := range hull {
						if at := v.at(p); !v.frame.Inset(-0.01).Bound().Contains(at) {
							t.Errorf("%s field at %g°, map %d of %d: %v lies beyond its frame", name, deg, k+1, n+1, at)
						}
					}
				}
			}
		}
	}
}
