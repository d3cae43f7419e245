package sheet

import (
	"errors"
	"fmt"

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
}

// Layout of the plans in cells, mm.
const (
	planMap   = 98.0 // height of a cell's map
	planTexts = 46.0 // height of what is written below it
	planCurve = 15.0 // height of the curve by direction
	planCols  = 2    // beside each other, at most
)

// Plans draws plans of a field side by side, the best first: passes, rounds, turns and those that do not fit,
// with the figures that tell them apart. Errors: no plan; a field without extent; page is not valid.
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
	caution := len(f.Wrap(cautionLettering, page.Language.BeforeWork(), room))
	rows := float64((len(plans) + cols - 1) / cols)
	l := newLeaf(width, 2*paperMargin+pictureHead+rows*(planMap+planTexts)+8+cautionLine*float64(caution), f, page.Language, title)
	l.head(title, "")
	w := (room - partGap*float64(cols-1)) / float64(cols)
	for i, p := range plans {
		x, y := paperMargin+float64(i%cols)*(w+partGap), paperMargin+pictureHead+float64(i/cols)*(planMap+planTexts)
		if err := l.planCell(paper.Rect(x, y, w, planMap), p, plans[0]); err != nil {
			return nil, err
		}
	}
	below := paper.Rect(paperMargin, paperMargin+pictureHead+rows*(planMap+planTexts), room, 0)
	y := l.keys(below, below.Y-keyStep+3, l.planKeys(true))
	l.Paragraph(below.X, y+cautionLine+1, room, cautionLine, cautionLettering, l.BeforeWork())
	return l.Leaf, nil
}

// planCell draws one plan, with words and curve under its map.
func (l *leaf) planCell(frame paper.Box, p, first PlanPicture) error {
	hull, err := outlineOf(p.Found.Plan.Field)
	if err != nil {
		return err
	}
	v := viewOf(frame, hull)
	l.plan(v, p.Found.Plan)
	taken := []paper.Box{l.scaleBox(frame.X+1, frame.Y+frame.H-1, frame.W/4, v)}
	taken = append(taken, l.northArrow(v, p.Found.Plan.Field, nil, northSmall, taken))
	l.tightTurns(v, unfitPlaces(p.Found.Plan), nil, taken)
	c := p.Found.Candidate
	y := frame.Y + frame.H + 4.5
	name := c.Name
	if name == "" {
		name = l.Say("%.2f m", c.Width)
	}
	bold, t := paper.Lettering{Size: 10, Bold: true}, paper.Lettering{Size: 8}
	l.Text(frame.X, y, bold, l.Fonts.Fit(bold, fmt.Sprintf("%d. %s", p.Number, name), frame.W))
	for _, line := range []string{
		l.Say("rows at %.0f°, %d headland rounds, %d passes, %d turns, %d turns and runs that do not fit", p.Bearing, c.Rounds, c.Passes, c.Turns, len(c.Infeasible)),
		l.Say("%.2f h, %.2f ha/h, field efficiency %.0f %%", c.Hours, words.HaPerHour(c.Capacity), 100*c.Share),
		l.Say("missed %s ha, twice or more %s ha, headland %.1f %% of the field", l.Digits(Hectares(c.Missed)), l.Digits(Hectares(c.Double)), 100*c.HeadlandShare),
		difference(l.Language, c, first.Found.Candidate, p.Number == first.Number),
	} {
		y += 4.2
		l.Text(frame.X, y, t, l.Fonts.Fit(t, line, frame.W))
	}
	l.planCurve(paper.Rect(frame.X, y+2, frame.W, planCurve), p)
	return nil
}

// difference says how a plan differs from the first, or of the first what it takes.
func difference(l words.Language, c, first plan.Candidate, itself bool) string {
	switch {
	case l != words.German || c.Difference == "":
		return c.Difference
	case itself:
		return l.Say("%.2f h for %d passes and %d turns, %.2f ha/h", c.Hours, c.Passes, c.Turns, words.HaPerHour(c.Capacity))
	}
	return l.Say("against plan 1: %+.2f h, %+d passes, %+d turns, %+.4f ha missed", c.Hours-first.Hours, c.Passes-first.Passes, c.Turns-first.Turns, (c.Missed-first.Missed)/1e4)
}

// planCurve draws the estimated objective by direction, the direction taken marked.
func (l *leaf) planCurve(b paper.Box, p PlanPicture) {
	c := p.Found.Curve
	if len(c) < 2 {
		return
	}
	low, high := c[0].Value, c[0].Value
	for _, s := range c {
		low, high = min(low, s.Value), max(high, s.Value)
	}
	const words = 40.0 // mm
	base := b.Y + b.H - 4
	at := func(direction, value float64) orb.Point {
		return orb.Point{b.X + words + direction/180*(b.W-words-3), base - (value-low)/max(high-low, 1e-12)*(b.H-6)}
	}
	small := paper.Lettering{Size: 7, Grey: true}
	l.Text(b.X, b.Y+4, small, l.Word("by direction (estimate):"))
	l.Text(b.X, b.Y+8, small, l.Say("%.2f to %.2f", low, high))
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

var (
	passPen  = paper.Pen{Colour: "#7A6A34", Width: 0.18}
	roundPen = paper.Pen{Colour: slate, Width: 0.35}
	movePen  = paper.Pen{Colour: ink, Width: 0.16, Dash: []float64{0.9, 0.6}}
)

// plan draws a field and what is driven on it within a view. Dense passes are drawn thinner, so that they stay lines.
func (l *leaf) plan(v view, p plan.Plan) {
	l.field(v, p.Field, "#F3E7C6")
	for _, m := range p.Moves {
		l.Stroke(v.lines(m.Line), movePen)
	}
	most := max(0.05, 0.3*(p.Implement.Width-p.Implement.Overlap)*v.mm())
	for _, one := range p.Passes {
		with := passPen
		if one.Round > 0 {
			with = roundPen
		}
		with.Width = min(with.Width, most)
		l.Stroke(v.lines(one.Line), with)
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

// planKeys explain the lines of a plan; turns says that what finds no room is called a turn or run.
func (l *leaf) planKeys(turns bool) []key {
	unfit := l.Word("no room to drive it")
	if turns {
		unfit = l.Word("a turn or run that does not fit")
	}
	return []key{lineKey(l.Word("pass, tool lowered"), passPen), lineKey(l.Word("headland round, tool lowered"), roundPen), lineKey(l.Word("turn or run, tool lifted"), movePen),
		lineKey(l.Word("inner rim of the headland"), headlandPen), groundKey(l.Word("obstacle"), noGoMark), tightKey(unfit)}
}
