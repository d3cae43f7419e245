package sheet

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"balk/coverage/plan"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// PlanPicture is one plan among several that are compared.
type PlanPicture struct {
	Number  int // rank, from 1
	Found   plan.Found
	Bearing float64 // degrees from true north, 0 to 180
	Weighed bool    // the curve is the sum that ranks, not hours
}

// Layout of the plans in cells, mm.
const (
	planMap   = 98.0 // height of a cell's map, where plans stand beside each other
	planCurve = 15.0 // height of the curve by direction
	planCols  = 2    // beside each other, at most
	planAlone = 0.66 // of the width is the map of a plan that stands alone; its words stand beside it, and both fill an A4 sheet
	planLine  = 4.2  // from line to line
	planName  = 4.5  // from the top of a plan's words to its name
)

var (
	planNameIn, planWordsIn = paper.Lettering{Size: 10, Bold: true}, paper.Lettering{Size: 8}
	curveWordsIn            = paper.Lettering{Size: 7, Grey: true}
)

// Plans draws plans of a field side by side, the best first: passes with the numbers of the first, rounds, turns, runs and what of them does
// not fit, with the figures that tell them apart. A plan alone fills the sheet. Errors: no plan; a field without extent; page is not valid.
func Plans(field geo.Field, plans []PlanPicture, page Page) (*paper.Leaf, error) {
	if len(plans) == 0 {
		return nil, errors.New("no plan to draw")
	}
	texts := make([]string, len(plans))
	for i, p := range plans {
		texts[i] = p.Found.Candidate.Name
	}
	cols := min(planCols, len(plans))
	title := page.Language.Say("%s: plans compared, the best first", fieldName(field, page.Language))
	if cols == 1 {
		title = page.Language.Say("%s: the plan", fieldName(field, page.Language))
	}
	f, err := page.open(append(texts, title)...)
	if err != nil {
		return nil, err
	}
	width := papers["A4"][1]
	room := width - 2*paperMargin
	w := (room - partGap*float64(cols-1)) / float64(cols)
	var drawn []plan.Plan
	for _, p := range plans {
		drawn = append(drawn, p.Found.Plan)
	}
	probe := newLeaf(width, 1, f, page.Language, title)
	keys := keyStep * float64(len(keyLines(f, room, probe.planKeys(drawn...))))
	caution := cautionLine * float64(len(f.Wrap(cautionLettering, page.Language.BeforeWork(), room)))
	foot := keys + caution + cautionLine + partGap
	rows := (len(plans) + cols - 1) / cols
	heights := make([]float64, rows) // of words
	for i, p := range plans {
		heights[i/cols] = max(heights[i/cols], probe.planWordsHeight(w, p, plans[0]))
	}
	top := paperMargin + pictureHead
	high := top + foot + paperMargin
	for _, h := range heights {
		high += planMap + h + partGap
	}
	if cols == 1 {
		high = papers["A4"][0]
	}
	l := newLeaf(width, high, f, page.Language, title)
	l.head(title, "")
	y := top
	for i, p := range plans {
		x := paperMargin + float64(i%cols)*(w+partGap)
		frame, words := paper.Rect(x, y, w, planMap), paper.Rect(x, y+planMap, w, heights[i/cols])
		if cols == 1 {
			frame = paper.Rect(x, y, planAlone*w, high-paperMargin-foot-y-partGap)
			words = paper.Rect(x+frame.W+2*partGap, y-planName+2, w-frame.W-2*partGap, frame.H)
		}
		if err := l.planCell(frame, p); err != nil {
			return nil, err
		}
		l.planWords(words, p, plans[0])
		if i%cols == cols-1 {
			y += planMap + heights[i/cols] + partGap
		}
	}
	below := paper.Rect(paperMargin, high-paperMargin-foot, room, 0)
	y = l.keys(below, below.Y-keyStep+3, l.planKeys(drawn...))
	l.Paragraph(below.X, y+cautionLine+1, room, cautionLine, cautionLettering, l.BeforeWork())
	return l.Leaf, nil
}

// planCell draws one plan.
func (l *leaf) planCell(frame paper.Box, p PlanPicture) error {
	hull, err := outlineOf(p.Found.Plan.Field)
	if err != nil {
		return err
	}
	v := viewOf(frame, hull)
	l.figure("", func() { l.planGround(frame, v, p) })
	return nil
}

// planGround draws its map.
func (l *leaf) planGround(frame paper.Box, v view, p PlanPicture) {
	l.plan(v, p.Found.Plan)
	taken := []paper.Box{l.scaleBox(frame.X+1, frame.Y+frame.H-1, frame.W/4, v)}
	taken = append(taken, l.northArrow(v, p.Found.Plan.Field, nil, northSmall, taken))
	taken = l.planPlaces([]view{v}, 0, p.Found.Plan, taken) // before what does not fit, which finds a place beside
	taken = l.tightTurns(v, unfitPlaces(p.Found.Plan), nil, taken)
	taken = l.bendMarks(v, p.Found.Plan, taken)
	l.planNumbers(v, firstPasses(p.Found.Plan), taken)
}

// planPlaces marks in window k where the set begins, where it ends, and the gate, and gives what is taken then.
func (l *leaf) planPlaces(views []view, k int, p plan.Plan, taken []paper.Box) []paper.Box {
	if len(p.Passes) == 0 {
		return taken
	}
	last := p.Passes[len(p.Passes)-1].Line
	places := []struct {
		at   plane.XY
		word string
	}{{p.Passes[0].Line[0], l.Word("start")}, {last[len(last)-1], l.Word("end")}}
	if g := p.Options.Gate; g != nil {
		places = append(places, struct {
			at   plane.XY
			word string
		}{*g, l.Word("gate")})
	}
	for _, e := range places {
		if windowOf(views, e.at) == k {
			taken = append(taken, l.placeMark(views[k], views[k].at(e.at), e.word, taken)...)
		}
	}
	return taken
}

// firstPasses are the passes whose numbers show how a plan is driven: the first ones, the first of each block and of each round.
func firstPasses(p plan.Plan) (out []plan.Pass) {
	const most = 6
	var before plan.Pass
	for i, one := range p.Passes {
		if i < most || one.Block != before.Block || one.Round != before.Round {
			out = append(out, one)
		}
		before = one
	}
	return out
}

// planNumbers writes numbers of passes beside an arrow that shows the way, where there is room, and gives which.
func (l *leaf) planNumbers(v view, passes []plan.Pass, taken []paper.Box) (named []int) {
	for _, one := range passes { // they stand in the order driven
		t := paper.Lettering{Size: 6, Colour: "#3D3414"}
		if one.Round > 0 {
			t.Bold, t.Colour = true, ink
		}
		if box, ok := l.passNumber(v, one.Line, one.Number, t, "#FFFFFF", taken); ok {
			taken, named = append(taken, box), append(named, one.Number)
		}
	}
	return named
}

// planSays are the lines under a plan's name.
func (l *leaf) planSays(p, first PlanPicture) []string {
	c := p.Found.Candidate
	rows := l.Bearings(p.Bearing, c.Also, 0)
	if c.Bent {
		rows += " " + l.Word("bent")
	}
	says := []string{
		strings.Join([]string{l.Say("rows at %s", rows), l.Count(c.Rounds, "headland round"), l.Count(c.Passes, "pass"), l.Count(c.Turns, "turn"), l.Count(c.Runs, "run"), l.unfitCount(len(c.Infeasible))}, ", "),
		l.Say("%s, %.2f ha/h, field efficiency %.0f %%", words.Clock(3600*c.Hours), words.HaPerHour(c.Capacity), 100*c.Share),
		l.Say("missed %s, twice or more %s, headland %.1f %% of the field", l.Digits(Area(c.Missed)), l.Digits(Area(c.Double)), 100*c.HeadlandShare),
	}
	if c.Small > 0 {
		says = append(says, l.Say("without rounds about small obstacles: %d; bends past them: %d, lifts of the tool: %d", c.Small, c.Bends, c.Lifts))
	}
	if c.Stopped {
		says = append(says, l.Say("its search was stopped before its end: there may be a better plan; %.0f %% above the least that its rows and rounds can take", 100*c.Gap))
	}
	if p.Number != first.Number {
		says = append(says, Difference(l.Language, c, first.Found.Candidate))
	}
	return says
}

// unfitCount is how many turns and runs do not fit, in words.
func (l *leaf) unfitCount(n int) string {
	if n == 1 {
		return l.Say("%d turn or run that does not fit", n)
	}
	return l.Say("%d turns and runs that do not fit", n)
}

// planWordsHeight is how much room planWords takes, mm.
func (l *leaf) planWordsHeight(width float64, p, first PlanPicture) float64 {
	lines := 0
	for _, line := range l.planSays(p, first) {
		lines += len(l.Fonts.Wrap(planWordsIn, line, width))
	}
	h := planName + planLine*float64(lines)
	if words := l.curveSays(p); words != "" {
		h += 2 + cautionLine*float64(len(l.Fonts.Wrap(curveWordsIn, words, width))) + planCurve
	}
	return h
}

// planWords writes what a plan comes to, all of it, with the curve below.
func (l *leaf) planWords(b paper.Box, p, first PlanPicture) {
	c := p.Found.Candidate
	name := c.Name
	if name == "" {
		name = l.Say("%.2f m", c.Width)
	}
	y := b.Y + planName
	l.Text(b.X, y, planNameIn, l.Fonts.Fit(planNameIn, fmt.Sprintf("%d. %s", p.Number, name), b.W))
	for _, says := range l.planSays(p, first) {
		for _, line := range l.Fonts.Wrap(planWordsIn, says, b.W) {
			y += planLine
			l.Text(b.X, y, planWordsIn, line)
		}
	}
	if says := l.curveSays(p); says != "" {
		y += 2
		for _, line := range l.Fonts.Wrap(curveWordsIn, says, b.W) {
			y += cautionLine
			l.Text(b.X, y, curveWordsIn, line)
		}
		l.planCurve(paper.Rect(b.X, y+1, b.W, planCurve-1), p)
	}
}

// Difference says how a plan differs from the first, by the digits that are shown of both. What is no difference there is left out.
func Difference(l words.Language, c, first plan.Candidate) string {
	var says []string
	say := func(form string, by float64) {
		if text := l.Say(form, by); text != l.Say(form, 0.0) && text != l.Say(form, math.Copysign(0, -1)) {
			says = append(says, text)
		}
	}
	switch later := math.Round(60*c.Hours) - math.Round(60*first.Hours); { // minutes
	case later > 0:
		says = append(says, l.Say("%s longer", words.Clock(60*later)))
	case later < 0:
		says = append(says, l.Say("%s less", words.Clock(-60*later)))
	}
	count := func(one, more string, by int) {
		if by == 1 || by == -1 {
			more = one
		}
		say(more, float64(by))
	}
	count("%+.0f pass", "%+.0f passes", c.Passes-first.Passes)
	count("%+.0f turn", "%+.0f turns", c.Turns-first.Turns)
	count("%+.0f run", "%+.0f runs", c.Runs-first.Runs)
	count("%+.0f turn or run that does not fit", "%+.0f turns and runs that do not fit", len(c.Infeasible)-len(first.Infeasible))
	say("%+.0f m² missed", math.Round(c.Missed)-math.Round(first.Missed))
	say("%+.0f m² worked twice", math.Round(c.Double)-math.Round(first.Double))
	say("costs %+.2f", c.Cost-first.Cost)
	if len(says) == 0 {
		return l.Word("no difference")
	}
	return l.Say("against plan 1: %s", strings.Join(says, ", "))
}

// curveSays names the curve by direction, with its unit; without a whole curve it is empty. An estimate knows rows, their turns and the ways
// between blocks; rounds and what is missed come on top.
func (l *leaf) curveSays(p PlanPicture) string {
	c := p.Found.Curve
	if len(c) < 2 || p.Found.Candidate.Stopped { // a search that was stopped may not have looked all round
		return ""
	}
	low, high := c[0].Value, c[0].Value
	for _, s := range c {
		low, high = min(low, s.Value), max(high, s.Value)
	}
	if p.Weighed {
		return l.Say("By direction, the rows and their turns alone, rounds not included, estimated in the weights of the ranking: %.2f to %.2f", low, high)
	}
	return l.Say("By direction, the rows and their turns alone, rounds not included, estimated: %.2f h to %.2f h", low, high)
}

// planCurve draws the estimated objective by direction, the direction taken marked.
func (l *leaf) planCurve(b paper.Box, p PlanPicture) {
	c := p.Found.Curve
	low, high := c[0].Value, c[0].Value
	for _, s := range c {
		low, high = min(low, s.Value), max(high, s.Value)
	}
	base := b.Y + b.H - 4
	at := func(direction, value float64) orb.Point {
		return orb.Point{b.X + 3 + direction/180*(b.W-6), base - (value-low)/max(high-low, 1e-12)*(b.H-6)}
	}
	line := make(orb.LineString, len(c))
	for i, s := range c {
		line[i] = at(s.Direction, s.Value)
	}
	l.Stroke([]orb.LineString{line}, paper.Pen{Colour: ink, Width: 0.3})
	for degrees := 0.0; degrees <= 180; degrees += 45 {
		x := at(degrees, low)[0]
		l.Line(x, base+0.6, x, base+1.4, paper.Pen{Colour: "#777777", Width: 0.2})
		l.Text(x, base+4, paper.Lettering{Size: 6.5, Grey: true, Align: paper.Centre}, fmt.Sprintf("%.0f°", degrees))
	}
	x := at(p.Bearing, low)[0]
	l.Line(x, b.Y, x, base+0.6, paper.Pen{Colour: pink, Width: 0.32})
}

// The lines of a plan are told apart without colour: rounds are twice as broad as passes, turns are dotted, runs a broad line of strokes and dots.
var (
	passPen  = paper.Pen{Colour: "#7A6A34", Width: 0.18}
	roundPen = paper.Pen{Colour: slate, Width: 0.36}
	turnPen  = paper.Pen{Colour: ink, Width: 0.16, Dash: []float64{0.7, 0.6}}
	runPen   = paper.Pen{Colour: ink, Width: 0.34, Dash: []float64{2.2, 0.7, 0.4, 0.7}}
)

// plan draws a field and what is driven on it within a view. Dense passes are drawn thinner, so that they stay lines, and rounds with
// them. Ways with the tool lifted lie on top, runs on white, since they cross what is worked.
func (l *leaf) plan(v view, p plan.Plan) {
	l.field(v, p.Field, "#F3E7C6")
	thin := min(passPen.Width, max(0.05, 0.3*(p.Implement.Width-p.Implement.Overlap)*v.mm()))
	for _, one := range p.Passes {
		with := passPen
		with.Width = thin
		if one.Round > 0 {
			with = roundPen
			with.Width = 2 * thin
		}
		l.Stroke(v.lines(one.Line), with)
	}
	for _, m := range p.Moves {
		if m.Turned() {
			l.Stroke(v.lines(m.Line), turnPen)
			continue
		}
		l.Stroke(v.lines(m.Line), paper.Pen{Colour: "#FFFFFF", Width: 2 * runPen.Width})
		l.Stroke(v.lines(m.Line), runPen)
	}
	l.rims(v, p.Field, p.Interior)
}

// unfitPlaces are where turns and runs of a plan find no room.
func unfitPlaces(p plan.Plan) []plane.XY {
	var places []plane.XY
	for _, m := range p.Moves {
		if m.Fault != nil {
			places = append(places, m.Fault.At)
		}
	}
	return places
}

// planKeys explain the lines of a plan.
func (l *leaf) planKeys(plans ...plan.Plan) []key {
	keys := []key{lineKey(l.Word("pass, tool lowered"), passPen), lineKey(l.Word("headland round, tool lowered"), roundPen), lineKey(l.Word("turn, tool lifted"), turnPen), lineKey(l.Word("run, tool lifted"), runPen),
		lineKey(l.Word("inner rim of the headland"), headlandPen), groundKey(l.Word("obstacle"), noGoMark), tightKey(l.Word("a turn or run that does not fit"))}
	if slices.ContainsFunc(plans, func(p plan.Plan) bool { return len(bendsOf(p)) > 0 }) {
		keys = append(keys, key{words: l.Word("a bend past a small obstacle"), wide: 2 * bendRadius, sample: func(l *leaf, x, y float64) { l.bendMark(orb.Point{x + bendRadius, y - 1}) }})
	}
	return keys
}

// bendRadius is half a bend's mark across, mm.
const bendRadius = 0.8

// bendsOf are where rows and rounds of a plan are bent past small obstacles.
func bendsOf(p plan.Plan) (out []plane.XY) {
	for _, one := range p.Passes {
		out = append(out, one.Bends...)
	}
	return out
}

// bendMarks mark the bends of a plan past small obstacles, and give what is taken then.
func (l *leaf) bendMarks(v view, p plan.Plan, taken []paper.Box) []paper.Box {
	for _, place := range bendsOf(p) {
		at := v.at(place)
		if !v.frame.Bound().Contains(at) {
			continue
		}
		l.bendMark(at)
		taken = append(taken, paper.Rect(at[0]-bendRadius, at[1]-bendRadius, 2*bendRadius, 2*bendRadius))
	}
	return taken
}

// bendMark is a square on its corner, open, so that the line under it can be seen.
func (l *leaf) bendMark(at orb.Point) {
	x, y, r := at[0], at[1], bendRadius
	l.Stroke([]orb.LineString{{{x - r, y}, {x, y - r}, {x + r, y}, {x, y + r}, {x - r, y}}}, paper.Pen{Colour: paper.Black, Width: 0.25})
}
