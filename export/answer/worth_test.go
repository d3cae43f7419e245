package answer

import (
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/export/words"
)

// One strip is not told as "the best 1"; the figures are invented.
func TestTheBestStripAlone(t *testing.T) {
	step := func(n int, m2, seconds float64) coverage.Won {
		return coverage.Won{Count: n, Area: m2, Time: seconds}
	}
	for name, c := range map[string]struct {
		worth           coverage.Worth
		english, german string
	}{
		"one holds half": {coverage.Worth{Steps: []coverage.Won{step(1, 50, 240), step(3, 80, 250), step(16, 100, 900)}, Rate: 5},
			"While still there, the best of 16 strips wins half in 4 min, 3 four fifths in 4, all in 15, at 7 m² a minute (the operation: 300)", "Vor Ort bringt der beste von 16 Streifen die Hälfte in 4 min, 3 vier Fünftel in 4, alle in 15, mit 7 m² je Minute (Arbeitsgang: 300)"},
		"one holds most": {coverage.Worth{Steps: []coverage.Won{step(1, 90, 240), step(4, 100, 900)}, Rate: 5},
			"the best of 4 strips wins 90 % in 4 min, all in 15, at 7 m² a minute", "bringt der beste von 4 Streifen 90 % in 4 min, alle in 15, mit 7 m² je Minute"},
		"one is worth coming back for": {coverage.Worth{Steps: []coverage.Won{step(1, 90, 240), step(4, 100, 900)}, Approach: 300},
			"; coming back for the best one wins 10 m² a minute", "; für den besten wiederzukommen bringt 10 m² je Minute"},
		"two": {coverage.Worth{Steps: []coverage.Won{step(2, 90, 240), step(4, 100, 900)}, Rate: 5},
			"the best 2 of 4 strips win 90 % in 4 min, all in 15, at 7 m² a minute", "bringen die besten 2 von 4 Streifen 90 % in 4 min, alle in 15, mit 7 m² je Minute"},
	} {
		for l, want := range map[words.Language]string{words.English: c.english, words.German: c.german} {
			if got := (answer{Language: l}).worth(c.worth); !strings.Contains(got, want) {
				t.Errorf("%s: %q, want %q in it", name, got, want)
			}
		}
	}
}

// A flag is no use on paper.
func TestOnPaper(t *testing.T) {
	if got := OnPaper(words.German.Word("These are the steepest; none is presumed safe (--steep names all from a limit on).")); got != "Das sind die steilsten; keiner gilt als sicher." {
		t.Errorf("%q", got)
	}
	for _, l := range []words.Language{words.English, words.German} {
		for _, f := range []coverage.Frame{{Frames: drive.Frames{Map: "ETRS89", Told: true, East: 1}, Missed: 700}, {Frames: drive.Frames{Map: "ETRS89", East: 1}, Most: true, Missed: 700}} {
			said := Holds(l, coverage.Open{Frame: f})
			if len(said) != 1 || !strings.HasSuffix(said[0], byFlag) {
				t.Fatalf("%s: %q", l, said)
			}
			if got := OnPaper(append([]string{"A."}, said...)...); strings.Contains(got, "--") || !strings.HasPrefix(got, "A. ") || !strings.Contains(got, "700 m²") || !strings.HasSuffix(got, ".") {
				t.Errorf("%s: on paper %q", l, got)
			}
		}
	}
}

// A range whose ends read the same is no range.
func TestRangeOfAreasInWords(t *testing.T) {
	for _, c := range []struct {
		least, most     float64
		english, german string
	}{
		{357, 412, "360 to 410 m²", "360 bis 410 m²"},
		{1196, 1204, "about 1200 m²", "etwa 1200 m²"},
		{9890, 10100, "9890 m² to 1.01 ha", "9890 m² bis 1,01 ha"},
	} {
		for l, want := range map[words.Language]string{words.English: c.english, words.German: c.german} {
			if got := (answer{Language: l}).between(c.least, c.most); got != want {
				t.Errorf("%g to %g: %q, want %q", c.least, c.most, got, want)
			}
		}
	}
}
