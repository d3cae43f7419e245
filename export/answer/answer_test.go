package answer

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/coverage/pattern"
	"balk/export/words"

	"github.com/paulmach/orb"
)

// firm is a field of 4.7 ha of which 410 m² were missed, by a log that can tell it.
func firm() coverage.Result {
	r := coverage.Result{
		Work:    drive.Work{Width: 6, Overlap: 0.1},
		Balance: ground.Balance{Field: 47041, Missed: 410},
		Spacing: coverage.Spacing{Planned: 5.9, Width: 6, Apart: 5.88},
		Noise:   coverage.Noise{PassError: 0.03, PassErrorFrom: "fix quality", MissedBest: 398},
		Telling: coverage.Telling{Strips: coverage.GraspFirm, Error: 0.03, Undriven: true, Missed: [2]float64{375, 421}},
		Effort:  coverage.Effort{Timed: true, Working: coverage.Spent{Metres: 8360, Seconds: 3840}},
		Strips: []coverage.Strip{
			{Number: 1, At: orb.Point{11.25, 48.5}, Area: 200, Length: 217, MaxWidth: 0.69, Passes: []int{15, 16}, Cause: coverage.CauseDrift},
			{Number: 2, Area: 90, Length: 16, MaxWidth: 3.3, Passes: []int{44, 46}, Cause: coverage.CauseCorner},
			{Number: 3, Area: 60, Length: 10, MaxWidth: 6, Passes: []int{3}, Cause: coverage.CauseLift},
			{Number: 4, Area: 50, Length: 40, MaxWidth: 0.2, Passes: []int{7, 8}, Cause: coverage.CauseDrift},
			{Number: 5, Area: 10, Length: 9, MaxWidth: 0.2, Passes: []int{7, 8}, Cause: coverage.CauseObstacle},
		},
	}
	return r
}

// late has a pattern of two strips, and one that is too small to be said.
func late(r *coverage.Result) {
	r.Patterns = []pattern.Pattern{
		{Kind: pattern.Late, Area: 260, Strips: []int{1, 3}, Ground: []float64{200, 60}, Seen: 24, Of: 26, By: 2.4, Least: 0.9, Most: 4.1, Towards: 358},
		{Kind: pattern.Apart, Area: 10, Strips: []int{5}, Ground: []float64{10}, Seen: 4, Of: 9, By: 0.1},
	}
}

// sentences counts those of a text by its full stops.
func sentences(text string) int { return len(regexp.MustCompile(`[.!?]( |$)`).FindAllString(text, -1)) }

// TestThreeSentences: whatever was found, and whatever the log leaves open, the answer is three sentences, each of one, in either language; what
// the log says otherwise than the set's description stands before them, one sentence each, and everything else below.
func TestThreeSentences(t *testing.T) {
	if n := sentences("One of 1.5 ha. And (a bracket). Three?"); n != 3 {
		t.Fatalf("%d sentences counted of three", n)
	}
	type change = func(*coverage.Result)
	one := []change{
		func(*coverage.Result) {},
		late,
		func(r *coverage.Result) { r.Strips = nil },
		func(r *coverage.Result) { r.Balance.Unknown = 900 },
		func(r *coverage.Result) { r.Spacing = coverage.Spacing{Planned: 2.9, Width: 3, Apart: 4.9} },
		func(r *coverage.Result) {
			r.Noise, r.Telling = coverage.Noise{}, coverage.Telling{Strips: coverage.GraspRange, Error: 3.2, Uneven: 3.2, Missed: [2]float64{0, 410}}
		},
		func(r *coverage.Result) {
			r.Noise, r.Telling = coverage.Noise{}, coverage.Telling{Strips: coverage.GraspRange, Error: 0.5, Uneven: 0.5, Missed: [2]float64{97, 410}}
		},
		func(r *coverage.Result) {
			r.Noise, r.Telling = coverage.Noise{}, coverage.Telling{Strips: coverage.GraspNone, Error: 4.6, Uneven: 4.6, White: 0.34}
		},
	}
	other := []change{
		func(*coverage.Result) {},
		func(r *coverage.Result) { r.Patches = &coverage.Patches{} },
		func(r *coverage.Result) { r.Patches = &coverage.Patches{Missed: 12, Strips: []int{2}} },
		func(r *coverage.Result) { r.Patches = &coverage.Patches{Missed: 12, Strips: []int{2, 3, 4, 5}} },
		func(r *coverage.Result) {
			r.Worth = &coverage.Worth{Rate: 9, Steps: []coverage.Won{{Count: 1, Area: 200, Time: 600}, {Count: 3, Area: 350, Time: 1600}}}
		},
		func(r *coverage.Result) {
			r.Worth = &coverage.Worth{Approach: 900, Steps: []coverage.Won{{Count: 1, Area: 200, Time: 600}}}
		},
		func(r *coverage.Result) { r.Open.Aside = coverage.Aside{By: 0.1, Missed: 600} },
		func(r *coverage.Result) { r.Open.Aside = coverage.Aside{By: -0.1, Missed: 600, Joins: true} },
		func(r *coverage.Result) {
			r.Open.Shift = coverage.Shift{East: 1, Beyond: true, Missed: 100}
			r.Open.Aside = coverage.Aside{By: 0.1, Missed: 600, Joins: true}
			r.Open.Lag = coverage.Lag{Lag: drive.Lag{Ends: 60, Metres: -2, Doubt: 0.5, Speed: 2.2, Late: 2.5, Whose: drive.LagDriver}}
		},
		func(r *coverage.Result) {
			r.Open.Lag = coverage.Lag{Lag: drive.Lag{Ends: 60, Metres: 2, Doubt: 0.5, Speed: 2.2, Favours: drive.LagMetres}}
			r.Open.Frame = coverage.Frame{Frames: drive.Frames{Told: true}, Missed: 700}
			r.Open.Ends = coverage.Ends{Rows: 60, By: 1}
		},
	}
	for i, a := range one {
		for j, b := range other {
			r := firm()
			a(&r)
			b(&r)
			for _, l := range []words.Language{words.English, words.German} {
				said := Of(r, l)
				if len(said.Three) != 3 {
					t.Errorf("%d, %d, %s: %d sentences: %q", i, j, l, len(said.Three), said.Three)
				}
				for _, s := range append(said.Settle, said.Three...) {
					if sentences(s) != 1 || !strings.HasSuffix(s, ".") {
						t.Errorf("%d, %d, %s: no sentence of one: %q", i, j, l, s)
					}
				}
				told := 0 // what the log says otherwise
				if r.Telling.Strips != coverage.GraspNone {
					for _, is := range []bool{r.Open.Aside.Joins, r.Open.Lag.Ends > 0, r.Open.Shift.Beyond} {
						if is {
							told++
						}
					}
				}
				if len(said.Settle) != told {
					t.Errorf("%d, %d, %s: %d things before the answer, want %d: %q", i, j, l, len(said.Settle), told, said.Settle)
				}
			}
		}
	}
}

func TestAnswer(t *testing.T) {
	with := func(change func(*coverage.Result)) coverage.Result {
		r := firm()
		change(&r)
		return r
	}
	for _, c := range []struct {
		name string
		r    coverage.Result
		l    words.Language
		want []string // that the sentences begin with, in order
	}{
		{"a firm log", firm(), words.English, []string{
			"By the GPS log about 410 m² of 4.70 ha were missed (380 to 420 m²; 0.9 %).",
			"Missed are 250 m² where passes drifted apart, 90 m² in corners, 60 m² at row ends, lifted early or lowered late; the largest strip is 217 m long and up to 0.69 m wide, beside passes 15, 16.",
			"3 of 5 strips hold four fifths: ",
		}},
		{"in German", firm(), words.German, []string{
			"Laut GPS-Aufzeichnung sind etwa 410 m² von 4,70 ha nicht bearbeitet (380 bis 420 m²; 0,9 %).",
			"Es fehlen 250 m² an Anschlüssen, 90 m² in Ecken, ",
			"3 von 5 Streifen enthalten vier Fünftel: ",
		}},
		{"row ends late on one side, and half of a tenth between lines", with(late), words.English, []string{
			"By the GPS log ", "Missed are 260 m² at row ends in the north, where at 24 of 26 the tool came in 2.4 m late (0.9 to 4.1), 90 m² in corners, ", "3 of 5 strips ",
		}},
		{"the same in German", with(late), words.German, []string{
			"Laut GPS", "Es fehlen 260 m² an Reihenenden im Norden, wo bei 24 von 26 das Werkzeug 2,4 m zu spät eingesetzt wurde (0,9 bis 4,1), 90 m² in Ecken, ", "3 von 5 ",
		}},
		{"a log with holes", with(func(r *coverage.Result) { r.Balance.Unknown = 296 }), words.English, []string{
			"By the GPS log about 410 m² of 4.70 ha were missed (380 to 420 m²; 0.9 %); another 300 m² are unknown (holes in the log).", "Missed are ", "3 of 5 strips ",
		}},
		{"a hectare and more", with(func(r *coverage.Result) {
			r.Noise.MissedBest, r.Telling.Missed = 13940, [2]float64{9951, 15000}
		}), words.English, []string{"By the GPS log about 1.39 ha of 4.70 ha were missed (1.00 to 1.50 ha; 30 %; as logged 410 m²).", "", ""}},
		{"a differential receiver, whose own error makes half of what is logged", with(func(r *coverage.Result) {
			r.Noise.MissedBest, r.Telling.Missed = 210, [2]float64{0, 410}
		}), words.English, []string{
			"By the GPS log about 210 m² of 4.70 ha were missed (0 to 410 m²; 0.4 %; as logged 410 m²).",
			"As logged, missed are 250 m² where passes drifted apart, 90 m² in corners, 60 m² at row ends, lifted early or lowered late; ", "3 of 5 strips ",
		}},
		{"the same in German", with(func(r *coverage.Result) {
			r.Noise.MissedBest, r.Telling.Missed = 210, [2]float64{0, 410}
		}), words.German, []string{
			"Laut GPS-Aufzeichnung sind etwa 210 m² von 4,70 ha nicht bearbeitet (0 bis 410 m²; 0,4 %; wie aufgezeichnet 410 m²).", "Wie aufgezeichnet fehlen 250 m² an Anschlüssen, ", "3 von 5 ",
		}},
		{"a best estimate a tenth below", with(func(r *coverage.Result) { r.Noise.MissedBest, r.Telling.Missed = 376, [2]float64{350, 420} }), words.English, []string{
			"By the GPS log about 410 m² of 4.70 ha were missed (350 to 420 m²; 0.9 %).", "Missed are ", "",
		}},
		{"a best estimate more than that below", with(func(r *coverage.Result) { r.Noise.MissedBest, r.Telling.Missed = 370, [2]float64{350, 420} }), words.English, []string{
			"By the GPS log about 370 m² of 4.70 ha were missed (350 to 420 m²; 0.8 %; as logged 410 m²).", "As logged, missed are ", "",
		}},
		{"nothing missed", with(func(r *coverage.Result) {
			r.Noise.MissedBest, r.Telling.Missed, r.Strips = 0.2, [2]float64{0, 12}, nil
		}), words.English, []string{"By the GPS log nothing of 4.70 ha was missed (12 m² at most).", "No strip is wide enough to be listed.", "There is nothing to go back for."}},
		{"nothing missed, and strips that the receiver's error makes", with(func(r *coverage.Result) {
			r.Noise.MissedBest, r.Telling.Missed, r.Worth = 0.2, [2]float64{0, 780}, &coverage.Worth{Steps: []coverage.Won{{Count: 1, Area: 200, Time: 600}}}
			r.Strips[2].MaxWidth, r.Strips[1].MaxWidth = 0.07, 0.06
			r.Strips[0].MaxWidth = 0.05
			r.Strips = r.Strips[:3]
		}), words.English, []string{"By the GPS log nothing of 4.70 ha was missed (780 m² at most).", "What the log leaves open, up to 0.07 m wide, is within what its receiver errs by.", "There is nothing to go back for."}},
		{"receiver not known", with(func(r *coverage.Result) {
			r.Noise, r.Telling = coverage.Noise{}, coverage.Telling{Strips: coverage.GraspRange, Error: 0.5, Uneven: 0.5, Missed: [2]float64{97, 410}}
		}), words.English, []string{"By the GPS log 97 to 410 m² of 4.70 ha were missed (0.9 % at most): the more the better its receiver is, which it does not tell.", "Missed are ", "3 of 5 strips "}},
		{"receiver not known, and passes all over", with(func(r *coverage.Result) {
			r.Noise, r.Telling = coverage.Noise{}, coverage.Telling{Strips: coverage.GraspRange, Error: 3.2, Uneven: 3.2, Missed: [2]float64{0, 410}}
		}), words.English, []string{"By the GPS log 410 m² of 4.70 ha were missed (0.9 %) if its receiver is good, which it does not tell; else it may be anything from none to that, for the passes lie unevenly, by up to 3.2 m.", "If it is good, missed are 250 m² where ", "Kneel at strip 1 (48.500000, 11.250000): if it was worked, drive by no strip of this log; if not, 3 of 5 strips "}},
		{"receiver not known, and nothing missed", with(func(r *coverage.Result) {
			r.Noise, r.Telling, r.Strips = coverage.Noise{}, coverage.Telling{Strips: coverage.GraspRange, Error: 0.02, Uneven: 0.02, Missed: [2]float64{0, 3.3}}, nil
			r.Balance.Missed = 0.005
		}), words.English, []string{"By the GPS log nothing of 4.70 ha was missed (3 m² at most).", "No strip is wide enough to be listed.", "There is nothing to go back for."}},
		{"one strip far larger than the others", with(func(r *coverage.Result) { r.Strips[0].Area = 4000 }), words.English, []string{"By the GPS log ", "Missed are ", "1 of 5 strips holds four fifths: work it again while the set is there, or cross it with "}},
		{"one strip far larger than the others, in German", with(func(r *coverage.Result) { r.Strips[0].Area = 4000 }), words.German, []string{"Laut ", "Es fehlen ", "1 von 5 Streifen enthält vier Fünftel: diesen nacharbeiten"}},
		{"nothing bounds the error", with(func(r *coverage.Result) {
			r.Noise, r.Telling = coverage.Noise{}, coverage.Telling{Strips: coverage.GraspRange, Missed: [2]float64{410, 410}}
		}), words.English, []string{"By the GPS log 410 m² of 4.70 ha were missed (0.9 %); how sure that is, is not known.", "Missed are ", "3 of 5 strips "}},
		{"nothing bounds the error, and fixes lie far apart", with(func(r *coverage.Result) {
			r.Noise, r.Telling = coverage.Noise{}, coverage.Telling{Strips: coverage.GraspRange, Missed: [2]float64{410, 410}}
			r.Open.Steps = [2]float64{330, 460}
		}), words.English, []string{"By the GPS log 410 m² of 4.70 ha were missed (0.9 %; 330 to 460 m² by where between its fixes rows may end); how sure that is beside it, is not known.", "Missed are ", "3 of 5 strips "}},
		{"a telephone", with(func(r *coverage.Result) {
			r.Noise, r.Telling = coverage.Noise{}, coverage.Telling{Strips: coverage.GraspNone, Error: 4.6, Uneven: 4.6, White: 0.34}
		}), words.English, []string{
			"This log cannot tell missed strips of a set 6.00 m wide: places are off by 4.6 m or more from pass to pass (its places jump 0.3 m aside from one to the next, as those of a telephone do).",
			"It can tell the hours, 1:04 h of work on 8.36 km, and the area worked, 4.70 ha at the most.",
			"Do not drive by strips of this log: ",
		}},
		{"a telephone whose places jump by more than half of the width", with(func(r *coverage.Result) {
			r.Noise, r.Telling = coverage.Noise{}, coverage.Telling{Strips: coverage.GraspNone, Error: 15, White: 7.7}
		}), words.English, []string{
			"This log cannot tell missed strips of a set 6.00 m wide: places are off by 15.0 m or more from pass to pass (its places jump 7.7 m aside from one to the next, as those of a telephone do).",
			"It can tell the hours, 1:04 h of work.", "Do not drive ",
		}},
		{"an error given, below half of the spacing", with(func(r *coverage.Result) {
			r.Work.PassError, r.Telling = 2.5, coverage.Telling{Strips: coverage.GraspNone, Error: 2.5, Undriven: true}
			r.Strips[0].MaxWidth = 9
		}), words.English, []string{
			"This log cannot tell missed strips of a set 6.00 m wide: places are off by 2.5 m or more from pass to pass (as given).",
			"It can tell the hours, 1:04 h of work on 8.36 km, and the area worked, 4.70 ha at the most; 1 strip as wide as a pass and its error may be passes left out.", "Do not drive ",
		}},
		{"no pass left out, no times", with(func(r *coverage.Result) {
			r.Noise.PassError, r.Effort.Timed = 2.5, false
			r.Telling = coverage.Telling{Strips: coverage.GraspNone, Error: 2.5, Undriven: true}
		}), words.English, []string{
			"This log cannot tell missed strips of a set 6.00 m wide: places are off by 2.5 m or more from pass to pass (by its fix quality).",
			"It can tell the way, 8.36 km of work, and the area worked, 4.70 ha at the most; no pass was left out.", "Do not drive ",
		}},
		{"a width that does not fit", with(func(r *coverage.Result) {
			r.Spacing = coverage.Spacing{Planned: 2.9, Width: 3, Apart: 4.9}
		}), words.English, []string{
			"The passes lie 4.90 m apart: a width of 5.00 m with 0.10 m overlap would fit; all that follows stands on 3.00 m.", "By the GPS log ", "Settle first which width worked: ",
		}},
		{"a width so small that the log cannot tell its strips, but those of one that fits", with(func(r *coverage.Result) {
			r.Spacing, r.Noise.PassError = coverage.Spacing{Planned: 0.5, Width: 0.5, Apart: 4.9}, 0.2
			r.Work.Overlap = 0
			r.Telling = coverage.Telling{Strips: coverage.GraspNone, Error: 0.2}
		}), words.English, []string{
			"The passes lie 4.90 m apart: a width of 4.90 m with 0.00 m overlap would fit; all that follows stands on 0.50 m.", "This log cannot tell missed strips of a set 0.50 m wide: ", "Settle first which width worked: ",
		}},
		{"a width that does not fit in a log that could tell no other", with(func(r *coverage.Result) {
			r.Spacing, r.Noise.PassError = coverage.Spacing{Planned: 2.9, Width: 3, Apart: 4.9}, 2.5
			r.Telling = coverage.Telling{Strips: coverage.GraspNone, Error: 2.5}
		}), words.English, []string{"This log cannot tell missed strips of a set 3.00 m wide: ", "It can tell ", "Do not drive "}},
		{"strips that are all only possible", with(func(r *coverage.Result) {
			r.Strips = slices.Clone(r.Strips)
			for i := range r.Strips {
				r.Strips[i].Surety = coverage.SuretyPossible
			}
			r.Worth = &coverage.Worth{Steps: []coverage.Won{{Count: 1, Area: 200, Time: 600}}}
		}), words.English, []string{"By the GPS log ", "Missed are ", "The log is sure of none of its 5 strips: kneel at each before it is worked again, first at strip 1 (48.500000, 11.250000)."}},
		{"one of them likely", with(func(r *coverage.Result) {
			r.Strips = slices.Clone(r.Strips)
			for i := range r.Strips {
				r.Strips[i].Surety = coverage.SuretyPossible
			}
			r.Strips[3].Surety = coverage.SuretyLikely
		}), words.English, []string{"By the GPS log ", "Missed are ", "3 of 5 strips hold four fifths: "}},
		{"one strip, only possible, in German", with(func(r *coverage.Result) {
			r.Strips = slices.Clone(r.Strips[:1])
			r.Strips[0].Surety = coverage.SuretyPossible
		}), words.German, []string{"Laut ", "Es fehlen ", "Die Aufzeichnung ist sich ihres einen Streifens nicht sicher: dort hinknien, "}},
		{"one strip", with(func(r *coverage.Result) { r.Strips = r.Strips[:1] }), words.English, []string{
			"By the GPS log ", "Missed are 200 m² where passes drifted apart; ", "Work 1 strip again while the set is there, or cross with the next operation; kneel first at strip 1 (48.500000, 11.250000).",
		}},
	} {
		got := Of(c.r, c.l).Three
		if !slices.EqualFunc(got, c.want, strings.HasPrefix) {
			t.Errorf("%s:\n%s\nwant\n%s", c.name, strings.Join(got, "\n"), strings.Join(c.want, "\n"))
		}
		for _, s := range got {
			if len(s) > 330 || sentences(s) != 1 {
				t.Errorf("%s: %q", c.name, s)
			}
		}
	}
}
