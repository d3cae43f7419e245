package sheet

import (
	"bytes"
	"math"
	"regexp"
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// The words under a map of a strip: beside which passes it lies, how one gets there, and what the map leaves out.
func TestCaptionOfAStrip(t *testing.T) {
	const partly, crowded, there = "; the map shows the stretch around its widest place", "; no room for the number of ", "; to get there: along pass "
	strip := coverage.Strip{Cause: "drift", At: orb.Point{11.5, 48.25}, Passes: []int{3, 4}}
	for name, c := range map[string]struct {
		passes     []int
		approach   coverage.Approach
		whole      bool
		left       int
		has, lacks []string
	}{
		"found by its place":     {[]int{3}, coverage.Approach{Pass: 3, Along: 41.6, Aside: 2.5}, true, 0, []string{"; at 48.250000, 11.500000" + there}, nil},
		"too narrow for a place": {[]int{3}, coverage.Approach{Pass: 3, Along: 41.6, Aside: 1.5}, true, 0, []string{"beside pass 3" + there}, []string{"11.500000"}},
		"narrow, by no pass":     {nil, coverage.Approach{Aside: 1.5}, true, 0, []string{"beside no pass; at 48.250000, 11.500000"}, nil},
		"all of it shown":        {[]int{3, 4}, coverage.Approach{}, true, 0, []string{"likely cause: drift; beside passes 3, 4; at 48.250000, 11.500000"}, []string{partly, crowded, there}},
		"a part of it shown":     {[]int{3, 4}, coverage.Approach{}, false, 0, []string{"11.500000" + partly}, []string{crowded, there}},
		"one number has no room": {[]int{3, 4}, coverage.Approach{}, true, 1, []string{crowded + "1 strip"}, []string{partly}},
		"beside no pass":         {nil, coverage.Approach{}, true, 0, []string{"beside no pass; at"}, []string{"beside passes"}},
		"on the left":            {[]int{3}, coverage.Approach{Pass: 3, Along: 41.6, Aside: 2.5, Left: true}, true, 0, []string{there + "3, 42 m from where it began, 2.5 m to its left"}, []string{"right"}},
		"on the right":           {[]int{3}, coverage.Approach{Pass: 3, Along: 41.6, Aside: 2.5}, true, 0, []string{there + "3, 42 m from where it began, 2.5 m to its right"}, []string{"left"}},
	} {
		s := &checkSetting{setting: setting{Language: words.English}}
		one := strip
		one.Passes, one.Approach = c.passes, c.approach
		one.MaxWidth = c.approach.Aside // against 2 m: twice what an unknown receiver errs by from day to day
		got := s.captionWords(one, c.whole, c.left)
		for _, want := range c.has {
			if !strings.Contains(got, want) {
				t.Errorf("%s: %q lacks %q", name, got, want)
			}
		}
		for _, not := range c.lacks {
			if strings.Contains(got, not) {
				t.Errorf("%s: %q has %q", name, got, not)
			}
		}
	}
}

// Lines of passes are on the map from 1 mm apart on, by the credited width: what laps does not part them.
func TestPassesAreShownByTheCreditedWidth(t *testing.T) {
	s := &checkSetting{}
	s.result.Work.Width, s.result.Work.Overlap = 6, 1
	for denominator, want := range map[float64]bool{4000: true, 5000: true, 5001: false, 6500: false} {
		s.view.denominator = denominator
		if s.passesShown() != want {
			t.Errorf("5 m at 1 : %g: shown %v", denominator, !want)
		}
	}
}

// The arrow to north is as wide on its left as on its right, and points along the meridian.
func TestNorthArrowIsEven(t *testing.T) {
	fonts, err := paper.LoadFonts()
	if err != nil {
		t.Fatal(err)
	}
	for _, turn := range []float64{0, 30} {
		l := newLeaf(100, 100, fonts, words.English, "")
		v := newView(paper.Rect(10, 10, 80, 80), plane.XY{}, 1000, turn)
		l.northArrow(v, nil, nil, 4, nil)
		var b bytes.Buffer
		if err := l.SVG(&b); err != nil {
			t.Fatal(err)
		}
		outline := regexp.MustCompile(`stroke-width="0.15" d="M(\S+) (\S+)L(\S+) (\S+) (\S+) (\S+) (\S+) ([0-9.]+)`).FindStringSubmatch(b.String())
		if outline == nil {
			t.Fatalf("no outline in %s", b.String())
		}
		var p [4]orb.Point // tip, left, notch, right
		for k := range p {
			p[k] = orb.Point{number(t, outline[1+2*k]), number(t, outline[2+2*k])}
		}
		long := func(a, b orb.Point) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }
		if way := math.Atan2(p[2][0]-p[0][0], p[2][1]-p[0][1]) * 180 / math.Pi; math.Abs(way-turn) > 1 {
			t.Errorf("turned %g°: points to %g°", turn, way)
		}
		if math.Abs(long(p[0], p[1])-long(p[0], p[3])) > 0.02 || math.Abs(long(p[1], p[3])-4*0.84) > 0.02 {
			t.Errorf("turned %g°: %v is askew", turn, p)
		}
	}
}

// One turn that is too tight has a mark in the key, none has none; the line of a pass that is not drawn says so.
func TestKeysOfTheMap(t *testing.T) {
	s := &checkSetting{setting: setting{Language: words.English}}
	last := func(passes bool) string {
		keys := s.mapKeys(passes)
		return keys[len(keys)-1].words
	}
	s.result.Turns = []drive.Turn{{Number: 1}}
	if drawn, not := last(true), last(false); drawn != "pass (bar centre)" || not != "pass (not on this map: too close)" {
		t.Errorf("%q, %q", drawn, not)
	}
	s.result.Turns = append(s.result.Turns, drive.Turn{Number: 2, Tight: true})
	if got := last(true); got != "turn too tight for the set (1)" {
		t.Errorf("%q", got)
	}
}
