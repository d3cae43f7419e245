package answer

import (
	"strings"
	"testing"

	"balk/coverage/pattern"
	"balk/export/words"
)

// TestPatternWords: every kind has words and a remedy of its own in both languages, with its numbers and nothing left of a format.
func TestPatternWords(t *testing.T) {
	seen := map[string]bool{}
	for _, l := range []words.Language{words.English, words.German} {
		for kind, want := range map[pattern.Kind][]string{
			pattern.Late: {"7", "9", "2.4"}, pattern.Early: {"7", "9", "2.4"}, pattern.Short: {"7", "9", "2.4"},
			pattern.Shifted: {"12", "2.40"}, pattern.Fan: {"12", "31", "24000"}, pattern.Slide: {"12", "31", "24000"},
			pattern.Aside: {"9.60", "2.40"}, pattern.Apart: {"7", "9", "2.40"}, pattern.Section: {"2.40"},
		} {
			p := pattern.Pattern{Kind: kind, Area: 40, Passes: [2]int{12, 31}, Seen: 7, Of: 9, By: 2.4, Least: 1, Most: 3, Towards: 95}
			line := Patterns([]pattern.Pattern{p}, l)[0]
			for _, w := range append(want, "40 m²") {
				if l == words.German {
					w = strings.ReplaceAll(w, ".", ",")
				}
				if !strings.Contains(line, w) {
					t.Errorf("%s, %s: no %q in %q", l, kind, w, line)
				}
			}
			if strings.Contains(line, "%!") || seen[line] {
				t.Errorf("%s, %s: %q", l, kind, line)
			}
			seen[line] = true
			p.By = -p.By
			if kind == pattern.Aside && common(l, p, "") == common(l, pattern.Pattern{Kind: kind, By: 2.4}, "") {
				t.Errorf("%s: left and right are told alike", l)
			}
			p.By = -p.By
			for _, p.End = range []string{pattern.LeftEnd, pattern.RightEnd} {
				line := Patterns([]pattern.Pattern{p}, l)[0]
				if kind == pattern.Section && (seen[line] || !strings.Contains(line, "2"+l.Digits(".40")+" m")) {
					t.Errorf("%s, %s end: %q", l, p.End, line)
				}
				seen[line] = kind == pattern.Section || seen[line]
			}
		}
	}
	for degrees, want := range map[float64]string{0: "north", 22: "north", 23: "north-east", 359: "north", 180: "south", 270: "west"} {
		if got := compass(words.English, degrees); got != want {
			t.Errorf("%g°: %s, want %s", degrees, got, want)
		}
	}
}
