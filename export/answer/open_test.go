package answer

import (
	"strings"
	"testing"
	"time"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/export/words"
)

// What the joins say otherwise stands first, with both readings; what they cannot tell, below the range. Where neither is so, nothing is said.
func TestBarAsideInWords(t *testing.T) {
	for name, c := range map[string]struct {
		is           coverage.Aside
		first, holds map[words.Language]string
	}{
		"nothing": {},
		"by the joins, to the left": {coverage.Aside{By: -0.2, Missed: 113, Joins: true, Doubt: 0.021},
			map[words.Language]string{words.English: "the bar ran 0.20 m farther left (give or take 2 cm): missed are 800 m² as described, 110 m² by",
				words.German: "das Gerät 0,20 m weiter links (auf 2 cm genau): nicht bearbeitet sind 800 m² wie beschrieben, 110 m² nach"}, nil},
		"by the joins, to the right": {coverage.Aside{By: 0.2, Missed: 113, Joins: true, Doubt: 0.021},
			map[words.Language]string{words.English: "ran 0.20 m farther right", words.German: "0,20 m weiter rechts"}, nil},
		"not to be told, worse to the right": {coverage.Aside{By: 0.1, Missed: 600}, nil,
			map[words.Language]string{words.English: "Were the bar 10 cm farther right, which no log can tell, 600 m² would be missed: measure three joins with a tape.", words.German: "10 cm weiter rechts, wären es 600 m²"}},
		"not to be told, worse to the left": {coverage.Aside{By: -0.1, Missed: 600}, nil,
			map[words.Language]string{words.English: "10 cm farther left, ", words.German: "10 cm weiter links, "}},
	} {
		o := coverage.Open{Aside: c.is}
		for _, l := range []words.Language{words.English, words.German} {
			for what, pair := range map[string]struct {
				got  []string
				want string
			}{"first": {First(l, o, 800), c.first[l]}, "below the range": {Holds(l, o), c.holds[l]}} {
				if all := strings.Join(pair.got, "\n"); pair.want == "" && all != "" || !strings.Contains(all, pair.want) {
					t.Errorf("%s, %s, %s: %q, want %q", name, l, what, all, pair.want)
				}
			}
		}
	}
}

// What a figure stands on that no log can tell is said with it, and what is missed otherwise, once; of a range, and where the joins tell, as it was.
func TestProvided(t *testing.T) {
	aside, ends := coverage.Open{Aside: coverage.Aside{By: -0.1, Missed: 600}}, coverage.Open{Ends: coverage.Ends{Rows: 52, By: 1, Later: 540, Early: 110}}
	for _, c := range []struct {
		name string
		open coverage.Open
		can  coverage.Grasp
		l    words.Language
		want []string // in the first sentence
		left int      // sentences that stand below the balance
	}{
		{"a bar aside", aside, coverage.GraspFirm, words.English, []string{"By the GPS log about 410 m² of 4.70 ha were missed (380 to 420 m²; 0.9 %) if the bar runs as assumed, which no log tells (10 cm farther left, 600 m²: measure three joins with a tape)."}, 0},
		{"in German", aside, coverage.GraspFirm, words.German, []string{"Laut ", "(380 bis 420 m²; 0,9 %), wenn das Gerät wie angenommen läuft (10 cm weiter links 600 m²: drei Anschlüsse nachmessen)."}, 0},
		{"to the right", coverage.Open{Aside: coverage.Aside{By: 0.1, Missed: 600}}, coverage.GraspFirm, words.English, []string{"By the GPS log", "(10 cm farther right, 600 m²:"}, 0},
		{"no work state", ends, coverage.GraspFirm, words.English, []string{"If row ends lie where rules put them: by the GPS log", "; with rows 1 m shorter at all 52 ends it would be 540 m², as much longer 110 m²: no work state is logged, so look at them."}, 0},
		{"no work state, a range", ends, coverage.GraspRange, words.English, []string{"If row ends lie where rules put them: by the GPS log 380 to 420 m²"}, 1},
		{"the joins tell", coverage.Open{Aside: coverage.Aside{By: -0.1, Missed: 600, Joins: true}}, coverage.GraspFirm, words.English, []string{"By the GPS log about 410 m² of 4.70 ha were missed (380 to 420 m²; 0.9 %)."}, 0},
		{"nothing open", coverage.Open{}, coverage.GraspFirm, words.English, []string{"By the GPS log about"}, 0},
	} {
		r := firm()
		r.Telling.Strips, r.Open = c.can, c.open
		got := Of(r, c.l)
		for i, want := range c.want {
			if !strings.Contains(got.Three[0], want) || i == 0 && !strings.HasPrefix(got.Three[0], want) {
				t.Errorf("%s: %q, want %q", c.name, got.Three[0], want)
			}
		}
		if len(got.Holds) != c.left {
			t.Errorf("%s: %d sentences below, want %d: %q", c.name, len(got.Holds), c.left, got.Holds)
		}
	}
}

// Where rules tell the ends of rows, that is said below the range, with what is missed if they lie elsewhere.
func TestEndsInWords(t *testing.T) {
	o := coverage.Open{Ends: coverage.Ends{Rows: 52, By: 1, Later: 540, Early: 110}}
	for l, want := range map[words.Language]string{
		words.English: "the 52 row ends are by rule. Were all 1 m shorter, 540 m² would be missed, were they as much longer, 110 m²",
		words.German:  "Alle 1 m kürzer, wären 540 m² nicht bearbeitet, so viel länger, 110 m²",
	} {
		if got := strings.Join(Holds(l, o), " "); !strings.Contains(got, want) || len(First(l, o, 1)) > 0 {
			t.Errorf("%s: %q, want %q", l, got, want)
		}
	}
	if got := Holds(words.English, coverage.Open{}); len(got) > 0 {
		t.Errorf("of nothing: %q", got)
	}
}

// The other frame is said below the range: always where the boundary tells its frame, else where it matters.
func TestFrameInWords(t *testing.T) {
	is := coverage.Frame{Frames: drive.Frames{Map: "ETRS89", Day: time.Date(2026, 4, 14, 0, 0, 0, 0, time.UTC), East: 0.72, North: 0.65}, Missed: 703}
	told, most := is, is
	told.Told, most.Most = true, true
	for _, c := range []struct {
		is              coverage.Frame
		english, german string
	}{
		{told, "The boundary is in the frame of maps (ETRS89); were the log in the satellites' (0.97 m towards 48°), 700 m² would be missed", "(0,97 m nach 48°), fehlten 700 m²"},
		{most, "In two frames (log and boundary, ETRS89: 0.97 m) 700 m² are missed", "Wären es zwei Bezugssysteme (ETRS89: 0,97 m), fehlten 700 m²"},
		{is, "", ""},
	} {
		for l, want := range map[words.Language]string{words.English: c.english, words.German: c.german} {
			if got := strings.Join(Holds(l, coverage.Open{Frame: c.is}), " "); !strings.Contains(got, want) || want == "" && got != "" {
				t.Errorf("%s: %q, want %q", l, got, want)
			}
		}
	}
}

// What row ends say otherwise stands first, with both readings, what speeds favour and what to write into the set's file; lateness in one direction beside it.
func TestLagInWords(t *testing.T) {
	lag := coverage.Lag{Lag: drive.Lag{Ends: 60, Metres: 2, Doubt: 0.5, Speed: 2.2, Seconds: 0.95, Within: 0.3, Lower: 1.24, Lift: 0.57}, BySeconds: 139, ByMetres: 132}
	nearer, seconds, metres, late, set, early := lag, lag, lag, lag, lag, lag
	nearer.Metres, nearer.Lower, nearer.Lift = -2, -0.9, -0.9
	set.Begin, set.End, set.Whose = 2.4, -1.4, drive.LagSet
	early.Begin, early.End, early.Whose = 0.4, -3.6, drive.LagDriver
	begun := early
	begun.Metres, begun.Begin, begun.End = -2, -3.6, 0.4
	seconds.Favours, metres.Favours, late.Late = drive.LagSeconds, drive.LagMetres, 2.5
	for name, c := range map[string]struct {
		is              coverage.Lag
		english, german string
	}{
		"later": {lag, "rows begin 4.0 m (give or take 1.0) farther out than those beside them end, in every direction; missed are 800 m² as described, 140 m² if the bar follows the logged state by 0.9 s, 130 m² if it lies 2.0 m nearer to the antenna. On row ends: passes at other speeds do not tell which; nothing of it is applied, the set's file takes lowerDelay = 1.2 and liftDelay = 0.6, or a shorter hitch.",
			"kommt lowerDelay = 1.2 und liftDelay = 0.6 oder ein kleineres hitch"},
		"sooner":                  {nearer, "begin 4.0 m (give or take 1.0) farther in than those beside them end, in every direction; missed are 800 m² as described, 140 m² if the logged state follows the bar by 0.9 s, 130 m² if it lies 2.0 m farther from", "weiter innen"},
		"seconds":                 {seconds, "favour the delay (0.9 s, give or take 0.3)", "sprechen für die Verzögerung (0,9 s, auf 0,3 genau)"},
		"metres":                  {metres, "favour the place (0.9 s, give or take 0.3)", "sprechen für die Lage (0,9 s, auf 0,3 genau)"},
		"or a habit":              {metres, "or a shorter hitch. Or the driver ended rows early: lifted 4.0 m before the place", "Oder der Fahrer beendete Reihen früh: 4,0 m vor"},
		"or begun late":           {nearer, "or a longer hitch. Or the driver began rows late: lowered 4.0 m behind the place", "Oder der Fahrer begann Reihen spät: 4,0 m hinter"},
		"the set, by the edge":    {set, "rows begin at 2.4 m and end at -1.4 m. That lies to either side of where drivers work to, so it is the set, and no habit of the driver.", "beginnen Reihen bei 2,4 m und enden bei -1,4 m"},
		"the driver, by the edge": {early, "rows begin at 0.4 m and end at -3.6 m, ", "der Fahrer scheint aber Reihen früh beendet"},
		"begun late, by the edge": {begun, "looks as if the driver began rows late, and then the first holds. On row ends:", "der Fahrer scheint aber Reihen spät begonnen"},
		"late on one side":        {late, "In one direction rows are lowered 2.5 m later than in another", "In einer Richtung wird 2,5 m später eingesetzt"},
		"nothing to be said":      {},
	} {
		o := coverage.Open{Lag: c.is}
		for l, want := range map[words.Language]string{words.English: c.english, words.German: c.german} {
			got := strings.Join(append(First(l, o, 800), Holds(l, o)...), " ")
			if want == "" && got != "" || !strings.Contains(got, want) {
				t.Errorf("%s, %s: %q, want %q", name, l, got, want)
			}
			if strings.Contains(got, "the driver") != (c.is.Ends > 0 && c.is.Favours != drive.LagSeconds) && l == words.English {
				t.Errorf("%s: %q", name, got)
			}
			if strings.Contains(got, "2.5") != (c.is.Late > 0) && l == words.English {
				t.Errorf("%s: %q", name, got)
			}
		}
	}
}
