// Package answer says in three sentences what a check found: how much was missed, where, and whether going back is worth it. They
// stand first on the terminal, on map and sheet, on the page and in the report, and claim no more than the log can tell. Turns, plans, spot checks
// and seasons have theirs too.
//
// In: a coverage.Result, or what another room found. Out: sentences in a language.
package answer

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"balk/coverage"
	"balk/export/words"
)

// byFlag ends a sentence with the flag that decides it, which means nothing on paper.
const byFlag = ": --frame."

// inBrackets is what a flag would do.
var inBrackets = regexp.MustCompile(` \(--[^)]*\)`)

// OnPaper are sentences as paper has them: without flags.
func OnPaper(said ...string) string {
	return inBrackets.ReplaceAllString(strings.ReplaceAll(strings.Join(said, " "), byFlag, "."), "")
}

// Said is what a check found, in sentences.
type Said struct {
	Settle []string // before all else: what the log says otherwise than the set's description, a line each; none mostly
	// Three: how much, where and by which pattern, whether going back is worth it: three sentences, whatever was found. What no log can tell, and
	// would change the first the most, stands in it.
	Three []string
	Holds []string // below the balance: on what else the first of the three stands
}

// Of is what r found. Where the width does not fit the passes, that is the first of the three, and where ground was missed has to wait.
func Of(r coverage.Result, l words.Language) Said {
	a := answer{r, l}
	misfit := a.misfit()
	if r.Telling.Strips == coverage.GraspNone {
		if misfit != "" && a.tooNarrow() {
			return Said{Three: []string{misfit, a.missed(), a.Word("Settle first which width worked: until then nobody should drive by these strips.")}}
		}
		return Said{Three: []string{a.missed(), a.where(), a.next()}}
	}
	open, _ := split(r.Open, r.Telling)
	if misfit != "" {
		open.Frame = coverage.Frame{}
	}
	missed, open := a.provided(a.missed(), open)
	said := Said{Settle: First(l, r.Open, r.Balance.Missed), Holds: Holds(l, open)}
	if misfit != "" {
		said.Three = []string{misfit, missed, a.Word("Settle first which width worked: until then nobody should drive by these strips.")}
	} else {
		said.Three = []string{missed, a.where(), a.next()}
	}
	return said
}

// after is a sentence as the end of another.
func after(sentence string) string {
	first, size := utf8.DecodeRuneInString(sentence)
	return string(unicode.ToLower(first)) + sentence[size:]
}

type answer struct {
	coverage.Result
	words.Language
}

// Area is an area in words: m² below a hectare, ha above; no finer than such figures are known. There may be a trace of
// rounding below zero.
func Area(l words.Language, m2 float64) string {
	if m2 = shown(m2); m2 >= 9950 {
		return l.Say("%.2f ha", m2/1e4)
	}
	return fmt.Sprintf("%.0f m²", m2)
}

// shown is an area as far as it is shown, m².
func shown(m2 float64) float64 {
	step := 1.0
	switch m2 = max(m2, 0); {
	case m2 >= 9950:
		step = 100
	case m2 >= 100:
		step = 10
	}
	return math.Round(m2/step) * step
}

// Rest is what is left of an area from which a part was taken, so that the three of them add up as they are shown.
func Rest(l words.Language, all, part float64) string { return Area(l, shown(all)-shown(part)) }

// RestParts are the parts of what Rest says, in words: as they are shown they add up to it, since the greatest takes what rounding leaves.
func RestParts(l words.Language, all, part float64, areas []float64) []string {
	if len(areas) == 0 {
		return nil
	}
	left, greatest := shown(all)-shown(part), slices.Index(areas, slices.Max(areas))
	out := make([]string, len(areas))
	for i, a := range areas {
		left -= shown(a)
		out[i] = Area(l, a)
	}
	out[greatest] = Area(l, shown(areas[greatest])+left)
	return out
}

func (a answer) area(m2 float64) string { return Area(a.Language, m2) }

// between is a range of areas, with the unit said once.
func (a answer) between(least, most float64) string {
	from, to := a.area(least), a.area(most)
	if from == to {
		return a.Say("about %s", to)
	}
	for _, unit := range []string{" m²", " ha"} {
		if number, ok := strings.CutSuffix(from, unit); ok && strings.HasSuffix(to, unit) {
			from = number
		}
	}
	return from + a.Word(" to ") + to
}

// share is a part of the field in per cent.
func (a answer) share(m2 float64) string {
	if p := 100 * m2 / a.Balance.Field; p < 10 {
		return a.Say("%.1f %%", p)
	} else {
		return a.Say("%.0f %%", p)
	}
}

// misfit says that another width would fit the passes.
func (a answer) misfit() string {
	s, w := a.Spacing, a.Work
	if !s.Misfit() {
		return ""
	}
	return a.Say("The passes lie %.2f m apart: a width of %.2f m with %.2f m overlap would fit; all that follows stands on %.2f m.", s.Apart, s.Apart+w.Overlap, w.Overlap, s.Width)
}

// tooNarrow says whether a log that cannot tell strips of the width given could of the one that would fit.
func (a answer) tooNarrow() bool {
	return a.Telling.Error <= a.Spacing.Apart/3
}

// missed says how much was missed, as firmly as the log can tell it.
func (a answer) missed() string {
	t, field := a.Telling, a.area(a.Balance.Field)
	if t.Strips == coverage.GraspNone {
		return a.Say("This log cannot tell missed strips of a set %.2f m wide: places are off by %.1f m or more from pass to pass (%s).", a.Spacing.Width, t.Error, a.whyNone())
	}
	most, best := a.area(t.Missed[1]), a.told()
	var s string
	switch steps := a.Open.Steps; {
	case t.Strips == coverage.GraspRange && t.Error == 0 && a.area(steps[0]) != a.area(steps[1]):
		s = a.Say("By the GPS log %s of %s were missed (%s; %s by where between its fixes rows may end); how sure that is beside it, is not known.", a.area(best), field, a.share(best), a.between(steps[0], steps[1]))
	case t.Strips == coverage.GraspRange && t.Error == 0:
		s = a.Say("By the GPS log %s of %s were missed (%s); how sure that is, is not known.", a.area(best), field, a.share(best))
	case a.area(a.best()) == a.area(0):
		s = a.Say("By the GPS log nothing of %s was missed (%s at most).", field, most)
	case a.either():
		s = a.Say("By the GPS log %s of %s were missed (%s) if its receiver is good, which it does not tell; else it may be anything from none to that, for the passes lie unevenly, by up to %.1f m.", a.area(best), field, a.share(best), t.Error)
	case t.Strips == coverage.GraspRange:
		s = a.Say("By the GPS log %s of %s were missed (%s at most): the more the better its receiver is, which it does not tell.", a.between(t.Missed[0], t.Missed[1]), field, a.share(t.Missed[1]))
	case a.area(t.Missed[0]) == a.area(t.Missed[1]):
		s = a.Say("By the GPS log about %s of %s were missed (%s).", a.area(best), field, a.share(best))
	case a.asLogged():
		s = a.Say("By the GPS log about %s of %s were missed (%s; %s; as logged %s).", a.area(best), field, a.between(t.Missed[0], t.Missed[1]), a.share(best), a.area(a.Balance.Missed))
	default:
		s = a.Say("By the GPS log about %s of %s were missed (%s; %s).", a.area(best), field, a.between(t.Missed[0], t.Missed[1]), a.share(best))
	}
	return s
}

// best is the best estimate of what was missed, m².
func (a answer) best() float64 {
	if a.Noise.PassErrorFrom != "" && a.Telling.Strips == coverage.GraspFirm {
		return a.Noise.MissedBest
	}
	return a.Balance.Missed
}

// nearBest is the part of the best estimate within which the balance's own figure is told in its place. A tenth is what best estimates of good receivers
// come near to the truth by; of differential ones the balance has twice of what was missed.
const nearBest = 0.1

// told is what people are told was missed, m²: the balance's own figure, so that one number stands on all of a sheet, where it lies within what the receiver
// leaves open and near the best estimate; else that.
func (a answer) told() float64 {
	m, best := a.Balance.Missed, a.best()
	if m >= a.Telling.Missed[0] && m <= a.Telling.Missed[1] && math.Abs(m-best) <= nearBest*best {
		return m
	}
	return best
}

// asLogged says whether another figure is told than the balance has, which places and widths of strips stand on.
func (a answer) asLogged() bool { return a.area(a.told()) != a.area(a.Balance.Missed) }

// nothing says whether a log that tells strips tells of nothing missed: those that it has, none of them certain, are its receiver's error.
func (a answer) nothing() bool {
	return a.Telling.Strips == coverage.GraspFirm && a.area(a.best()) == a.area(0) &&
		!slices.ContainsFunc(a.Strips, func(s coverage.Strip) bool { return s.Surety == coverage.SuretyCertain })
}

// guessed says whether a log that tells strips has none that is more than possible.
func (a answer) guessed() bool {
	return a.Telling.Strips == coverage.GraspFirm && !slices.ContainsFunc(a.Strips, func(s coverage.Strip) bool { return s.Surety != coverage.SuretyPossible })
}

// whyNone says where it is known from that the error is so large.
func (a answer) whyNone() string {
	switch t := a.Telling; {
	case a.Work.PassError > 0:
		return a.Word("as given")
	case a.Noise.PassErrorFrom != "" && a.Noise.PassError >= t.Error:
		return a.Word("by its fix quality")
	default:
		return a.Say("its places jump %.1f m aside from one to the next, as those of a telephone do", t.White)
	}
}

// lie says where ground missed by a cause lies.
func (a answer) lie(c coverage.Cause, area string) string {
	switch c {
	case coverage.CauseDrift:
		return a.Say("%s where passes drifted apart", area)
	case coverage.CausePart:
		return a.Say("%s where part of the bar was lifted", area)
	case coverage.CauseLift:
		return a.Say("%s at row ends, lifted early or lowered late", area)
	case coverage.CauseUndriven:
		return a.Say("%s where no pass was driven", area)
	case coverage.CausePlanned:
		return a.Say("%s where planned passes were not driven", area)
	case coverage.CauseCorner:
		return a.Say("%s in corners", area)
	case coverage.CausePoint:
		return a.Say("%s in wedges", area)
	case coverage.CauseEdge:
		return a.Say("%s along the boundary", area)
	case coverage.CauseObstacle:
		return a.Say("%s around obstacles", area)
	}
	return a.Say("%s where the log has holes", area)
}

const (
	// named is how many patterns and causes a sentence names; the rest is summed.
	named = 3
	// patternsSaid, patternShare: patterns are long to say. That of less ground stands in the list.
	patternsSaid = 2
	patternShare = 0.1 // of the listed strips
)

// listed is the ground of all listed strips, m².
func (a answer) listed() (sum float64) {
	for _, s := range a.Strips {
		sum += s.Area
	}
	return sum
}

// passesNamed: a strip beside more passes is found by its number.
const passesNamed = 3

// where says by which patterns and causes most of it lies, and which strip is the worst.
func (a answer) where() string {
	if a.Telling.Strips == coverage.GraspNone {
		return a.plain()
	}
	if p := a.Patches; p != nil {
		return a.inPatches(*p) + "; " + after(a.whereAtAll())
	}
	return a.whereAtAll()
}

// inPatches says what lies in patches that the call names, as the beginning of a sentence.
func (a answer) inPatches(p coverage.Patches) string {
	missed := a.area(p.Missed)
	if missed == a.area(0) {
		missed = a.Word("less than 1 m²")
	}
	switch n := len(p.Strips); {
	case n == 0:
		return a.Word("Nothing was missed in the patches given")
	case n == 1:
		return a.Say("In the patches given %s were missed, in strip %d: go there first", missed, p.Strips[0])
	case n <= named:
		return a.Say("In the patches given %s were missed, in strips %s: go there first", missed, strings.Trim(strings.ReplaceAll(fmt.Sprint(p.Strips), " ", ", "), "[]"))
	default:
		return a.Say("In the patches given %s were missed, in %d strips, most in strip %d: go there first", missed, n, p.Strips[0])
	}
}

// whereAtAll is where, of all ground.
func (a answer) whereAtAll() string {
	if len(a.Strips) == 0 {
		return a.Word("No strip is wide enough to be listed.")
	}
	if a.nothing() {
		widest := slices.MaxFunc(a.Strips, func(x, y coverage.Strip) int { return cmp.Compare(x.MaxWidth, y.MaxWidth) })
		return a.Say("What the log leaves open, up to %.2f m wide, is within what its receiver errs by.", widest.MaxWidth)
	}
	var said []string
	of := map[int]float64{} // m² of strips that are of the patterns said
	for _, p := range a.Patterns {
		if len(said) < patternsSaid && p.Area >= patternShare*a.listed() {
			said = append(said, common(a.Language, p, a.area(p.Area)))
			for i, n := range p.Strips {
				of[n] += p.Ground[i]
			}
		}
	}
	sums := map[coverage.Cause]float64{}
	for _, s := range a.Strips {
		sums[s.Cause] += s.Area - of[s.Number]
	}
	for _, c := range slices.SortedFunc(maps.Keys(sums), func(x, y coverage.Cause) int {
		return cmp.Or(cmp.Compare(sums[y], sums[x]), cmp.Compare(x, y))
	}) {
		if len(said) < named && sums[c] >= 0.5 {
			said = append(said, a.lie(c, a.area(sums[c])))
		}
	}
	w := a.Strips[0]
	text := a.Say("The largest strip is %.0f m long and up to %.2f m wide", w.Length, w.MaxWidth)
	if len(said) > 0 {
		format := "Missed are %s; the largest strip is %.0f m long and up to %.2f m wide"
		switch {
		case a.either():
			format = "If it is good, missed are %s; the largest strip is %.0f m long and up to %.2f m wide"
		case a.asLogged():
			format = "As logged, missed are %s; the largest strip is %.0f m long and up to %.2f m wide"
		}
		text = a.Say(format, strings.Join(said, ", "), w.Length, w.MaxWidth)
	}
	if n := len(w.Passes); n == 1 {
		text += a.Say(", beside pass %d", w.Passes[0])
	} else if n > 0 && n <= passesNamed {
		text += a.Say(", beside passes %s", strings.Trim(strings.ReplaceAll(fmt.Sprint(w.Passes), " ", ", "), "[]"))
	}
	return text + "."
}

// blurred: with more white noise, as a part of the width, the way itself is no longer told. Of the demo's field with 2.8 m a set of 6 m loses
// 0.1 % of its way, with 8 m 17 % (measured).
const blurred = 0.5

// plain says what a log can tell that cannot tell strips.
func (a answer) plain() string {
	e, worked := a.Effort, math.Min(a.Effort.Working.Metres*a.Spacing.Planned, a.Balance.Field)
	if e.Timed && a.Telling.White > blurred*a.Spacing.Width { // ways smoothed out of such noise are too short
		return a.Say("It can tell the hours, %s of work", words.Clock(e.Working.Seconds)) + "."
	}
	text := a.Say("It can tell the way, %.2f km of work", e.Working.Metres/1000)
	if e.Timed {
		text = a.Say("It can tell the hours, %s of work on %.2f km", words.Clock(e.Working.Seconds), e.Working.Metres/1000)
	}
	text += a.Say(", and the area worked, %s at the most", a.area(worked))
	switch n := a.undriven(); {
	case !a.Telling.Undriven:
	case n == 0:
		text += a.Word("; no pass was left out")
	default:
		text += a.Say("; %s as wide as a pass and its error may be passes left out", a.Count(n, "strip"))
	}
	return text + "."
}

// undriven counts the places where a whole pass fits beside the error.
func (a answer) undriven() (n int) {
	for _, s := range a.Strips {
		if s.MaxWidth >= a.Spacing.Width+a.Telling.Error {
			n++
		}
	}
	return n
}

// most is the share of missed ground that the strips named for the way back hold.
const most = 0.8

// next says what to do.
func (a answer) next() string {
	switch {
	case a.Telling.Strips == coverage.GraspNone:
		return a.Word("Do not drive by strips of this log: kneel where passes meet, and log the next operation with a receiver made for guidance.")
	case len(a.Strips) == 0 || a.nothing():
		return a.Word("There is nothing to go back for.")
	}
	sum, all, n := 0.0, 0.0, 0
	for _, s := range a.Strips {
		all += s.Area
	}
	for n < len(a.Strips) && sum < most*all {
		sum += a.Strips[n].Area
		n++
	}
	knee := a.Strips[0]
	if p := a.Patches; p != nil && len(p.Strips) > 0 { // there the second sentence goes first
		knee = a.Strips[slices.IndexFunc(a.Strips, func(s coverage.Strip) bool { return s.Number == p.Strips[0] })]
	}
	place := Place(a.Result, a.Language, knee)
	if a.guessed() {
		if len(a.Strips) == 1 {
			return a.Say("The log is not sure of its one strip: kneel there before it is worked again (%s).", place)
		}
		return a.Say("The log is sure of none of its %d strips: kneel at each before it is worked again, first at strip %d (%s).", len(a.Strips), knee.Number, place)
	}
	var text string
	switch {
	case a.Worth != nil && len(a.Worth.Steps) > 0:
		text = a.worth(*a.Worth)
	case n == len(a.Strips):
		text = a.Say("Work %s again while the set is there, or cross with the next operation", a.Count(n, "strip"))
	case n == 1:
		text = a.Say("1 of %d strips holds four fifths: work it again while the set is there, or cross it with the next operation", len(a.Strips))
	default:
		text = a.Say("%d of %d strips hold four fifths: work them again while the set is there, or cross them with the next operation", n, len(a.Strips))
	}
	if a.either() {
		return a.Say("Kneel at strip %d (%s): if it was worked, drive by no strip of this log; if not, ", knee.Number, place) + after(text) + "."
	}
	return text + a.Say("; kneel first at strip %d (%s).", knee.Number, place)
}

// either says whether the log may be right, or its receiver so bad that nothing was missed, and nothing in it decides.
func (a answer) either() bool {
	t := a.Telling
	return t.Strips == coverage.GraspRange && t.Error > 0 && t.Missed[0] == 0
}

// Place is where a strip of r is found: as a phone takes it, or along its pass where it is too narrow for that.
func Place(r coverage.Result, l words.Language, s coverage.Strip) string {
	if ByPass(r, s) {
		return Along(l, s)
	}
	return words.Place(s.At)
}

// ByPass says whether a strip of r is found along its pass alone: it lies beside one, and is too narrow for a place.
func ByPass(r coverage.Result, s coverage.Strip) bool { return s.Approach.Pass > 0 && r.Narrow(s) }

// Along is a strip's place along the pass beside it, and on which side of it; "" = it lies beside none.
func Along(l words.Language, s coverage.Strip) string {
	switch {
	case s.Approach.Pass == 0:
		return ""
	case s.Approach.Left:
		return l.Say("along pass %d, left", s.Approach.Pass)
	}
	return l.Say("along pass %d, right", s.Approach.Pass)
}

// worth says what going back wins, in the order of what a minute wins: while the set is there, and for coming back.
func (a answer) worth(w coverage.Worth) string {
	all, most := w.All(), w.Share(most)
	text := ""
	switch half := w.Share(0.5); {
	case all.Count == 1:
		text = a.Say("While the set is there, its strip takes %.0f min", minutes(all))
	case half.Count == most.Count || most.Count == all.Count:
		text = a.ofBest(half.Count, "While still there, the best of %d strips wins %s in %.0f min, all in %.0f", "While still there, the best %d of %d strips win %s in %.0f min, all in %.0f",
			all.Count, a.part(half, all), minutes(half), minutes(all))
	default:
		text = a.ofBest(half.Count, "While still there, the best of %d strips wins half in %.0f min, %d four fifths in %.0f, all in %.0f", "While still there, the best %d of %d strips win half in %.0f min, %d four fifths in %.0f, all in %.0f",
			all.Count, minutes(half), most.Count, minutes(most), minutes(all))
	}
	knee := w.Knee()
	if w.Approach > 0 {
		text += a.ofBest(knee.Count, "; coming back for the best one wins %.0f m² a minute", "; coming back for the best %d wins %.0f m² a minute", 60*knee.Area/(knee.Time+w.Approach))
	} else {
		text += a.Say(", at %.0f m² a minute", 60*all.Area/all.Time)
	}
	if w.Rate > 0 {
		text += a.Say(" (the operation: %.0f)", 60*w.Rate)
	}
	return text
}

// ofBest says something of the best strip, or of the n best.
func (a answer) ofBest(n int, one, more string, rest ...any) string {
	if n == 1 {
		return a.Say(one, rest...)
	}
	return a.Say(more, append([]any{n}, rest...)...)
}

func minutes(w coverage.Won) float64 { return math.Max(1, math.Round(w.Time/60)) }

// part is what is won of all: in words where it is about half, else in per cent.
func (a answer) part(w, all coverage.Won) string {
	return a.Say("%.0f %%", 100*w.Area/all.Area)
}
