package sheet

import (
	"fmt"
	"io"
	"time"

	"balk/coverage/plan"
	"balk/export/figures"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"

	"github.com/paulmach/orb"
)

// Planned is work that is still to be done.
type Planned struct {
	Field     geo.Field
	Local     geo.Local // the plane of the plan
	Plan      plan.Plan
	Candidate plan.Candidate
	Bearing   float64 // degrees from true north, of the rows, either way
}

// PlanPDF writes the sheet of a plan to print. The same plan and page give the same bytes.
// It fails, and writes nothing, where PlanPages fails.
func PlanPDF(w io.Writer, p Planned, page Page) error {
	leaves, err := PlanPages(p, page)
	if err != nil {
		return err
	}
	return paper.PDF(w, leaves, time.Time{})
}

// PlanPages draws the sheet of a plan: the map with passes in the order driven, headland rounds, turns and runs, and
// what it all comes to; then order, turns that do not fit and cautions. It fails when the field has no
// extent, there is nothing to drive, or page is not valid.
func PlanPages(p Planned, page Page) ([]*paper.Leaf, error) {
	if len(p.Plan.Passes) == 0 {
		return nil, fmt.Errorf("plan without passes: nothing to print")
	}
	if page.Implement == "" {
		page.Implement = p.Plan.Implement.Name
	}
	base, err := setOn(p.Field, p.Local, p.Plan.Field, page)
	if err != nil {
		return nil, err
	}
	s := &planSetting{setting: base, planned: p}
	s.orient(parts{column: factsHeight, rows: []int{0}, table: func(int) float64 { return 0 }, note: s.planNote()})
	leaves := []*leaf{s.front(), s.orderPage()}
	if s.rest != "" {
		leaves = append(leaves, s.remarksPage())
	}
	if leaves, err = s.withSweeps(leaves); err != nil {
		return nil, err
	}
	return s.numbered(leaves), nil
}

// planSetting is what the pages of a plan's sheet are set from.
type planSetting struct {
	setting
	planned Planned
}

const (
	factsHeight  = 62.0 // mm
	legendHeight = 26.0 // mm, of the lines on the map
)

func (s *planSetting) front() *leaf {
	l := s.newLeaf()
	b := s.boxes()
	im := s.planned.Plan.Implement
	s.operation(l, b.head, s.Say("width %.2f m, overlap %.2f m, credited %.2f m", im.Width, im.Overlap, im.Width-im.Overlap), s.Word("Planned for"), "")
	shown := s.planMap(l)
	s.facts(l, b.column)
	s.planLegend(l, b.side, shown)
	s.remarks(l, paper.Rect(b.side.X, b.side.Y+legendHeight+partGap, b.side.W, b.side.H-legendHeight-partGap))
	return l
}

// planMap draws the field, its passes with their numbers, rounds, turns and runs, and gives how many
// passes found room for their number.
func (s *planSetting) planMap(l *leaf) (numbered int) {
	p := s.planned.Plan
	named := map[int]bool{}
	north, size := northWindow(s.views, p.Field, nil)
	for k, v := range s.views {
		l.figure("", func() {
			l.plan(v, p)
			s.grid(l, v)
			var taken []paper.Box
			if k == north {
				taken = append(taken, l.northArrow(v, p.Field, nil, size, nil))
			}
			taken = l.planPlaces(s.views, k, p, taken)
			taken = l.tightTurns(v, unfitPlaces(p), nil, taken)
			taken = l.bendMarks(v, p, taken)
			for _, n := range l.planNumbers(v, p.Passes, taken) {
				named[n] = true
			}
		})
	}
	s.underMap(l, s.planNote()+s.windowWords(len(s.views)))
	return len(named)
}

// planNote says under the map how it is drawn.
func (s *planSetting) planNote() string {
	return s.Say("The scale holds for %s printed at 100 %%. %s. Lines are those of the bar's middle on passes, of the tractor's rear axle on turns and runs. Numbers stand in the order driven; an arrow shows the way.", s.paperName(), s.northWords())
}

// placeMark is a dot with a word beside it, where there is room; it gives what it took.
func (l *leaf) placeMark(v view, at orb.Point, word string, taken []paper.Box) []paper.Box {
	t := paper.Lettering{Size: 7, Bold: true}
	w := l.Fonts.Width(t, word) + 1.6
	const h = 3.2
	dot := paper.Rect(at[0]-1, at[1]-1, 2, 2)
	if !v.frame.Bound().Contains(at) {
		return nil
	}
	out := []paper.Box{dot}
	if box, ok := placeBeside(at, w, h, v.frame.Inset(0.5), append(taken, dot)); ok {
		l.Line(box.X+w/2, box.Y+h/2, at[0], at[1], paper.Pen{Colour: paper.Black, Width: 0.2})
		l.tag(box, t, paper.Black, word)
		out = append(out, box)
	}
	l.Fill([]orb.LineString{paper.Ring(at, 0.9)}, paper.Black)
	l.Fill([]orb.LineString{paper.Ring(at, 0.45)}, "#FFFFFF")
	return out
}

// facts writes what the plan comes to.
func (s *planSetting) facts(l *leaf, b paper.Box) {
	c := s.planned.Candidate
	area := func(m2 float64) string { return s.Digits(Area(m2)) }
	part := func(m2 float64) string {
		return s.Say("%s, %s %%", area(m2), s.Digits(figures.Percent(m2, c.Field)))
	}
	drive := func(d plan.Drive) string {
		return s.Say("%.2f km, %s", d.Metres/1000, words.Clock(d.Hours*3600))
	}
	type row struct{ word, value string }
	rows := []row{
		{s.Word("Field"), area(c.Field)},
		{s.Word("Rows"), s.Say("at %s from true north", s.Bearings(s.planned.Bearing, c.Also, 1))},
		{s.Word("Passes"), s.Say("%d in %s", c.Passes, s.Count(c.Blocks, "block"))},
		{s.Word("Headland"), s.Say("%s, %.1f m wide, %.1f %% of the field", s.Count(c.Rounds, "round"), c.Depth, 100*c.HeadlandShare)},
		{s.Word("Turns"), s.Say("%d, of these %d that do not fit", c.Turns, s.unfit(plan.Move.Turned))},
		{s.Word("Runs, tool lifted"), s.Say("%d, of these %d that do not fit", c.Runs, s.unfit(func(m plan.Move) bool { return !m.Turned() }))},
		{s.Word("Working"), drive(c.Working)},
		{s.Word("Turning"), drive(c.Turning)},
		{s.Word("Runs and roads"), drive(c.Idle)},
		{s.Word("Time on the field"), words.Clock(c.Hours * 3600)},
		{s.Word("Field capacity"), s.Say("%.2f ha/h, efficiency %.0f %% (EP496)", words.HaPerHour(c.Capacity), 100*c.Share)},
		{s.Word("Will be missed"), part(c.Missed)},
		{s.Word("Will be worked twice"), part(c.Double)},
	}
	if c.Small > 0 {
		rows = append(rows, row{s.Word("Small obstacles"), s.Say("without rounds: %d; bends: %d, lifts: %d", c.Small, c.Bends, c.Lifts)})
	}
	if c.Between > 0 {
		rows = append(rows, row{s.Word("Ways between parts"), s.Say("%d, over ground that is not the field", c.Between)})
	}
	if c.Litres > 0 {
		rows = append(rows, row{s.Word("Fuel"), s.Say("%.0f l, %.1f l/ha", c.Litres, c.Litres/(c.Field/1e4))})
	}
	if c.Cost > 0 {
		rows = append(rows, row{s.Word("Cost"), s.Say("%.2f, %.2f per hectare", c.Cost, c.CostHectare)})
	}
	l.section(b.X, b.Y+3, s.Word("The plan"))
	step := min(4.3, (b.H-5)/float64(len(rows)))
	y := b.Y + 3.5
	for _, r := range rows {
		y += step
		l.Text(b.X, y, paper.Lettering{Size: 7.5, Grey: true}, r.word)
		t := paper.Lettering{Size: 8}
		l.Text(b.X+32, y, t, l.Fonts.Fit(t, r.value, b.W-32))
	}
}

// unfit is how many moves of a sort do not fit.
func (s *planSetting) unfit(sort func(plan.Move) bool) int {
	n := 0
	for _, m := range s.planned.Plan.Moves {
		if m.Fault != nil && sort(m) {
			n++
		}
	}
	return n
}

// planLegend explains the lines.
func (s *planSetting) planLegend(l *leaf, b paper.Box, numbered int) {
	l.section(b.X, b.Y+3, s.Word("On the map"))
	y := l.keys(b, b.Y+4, l.planKeys(s.planned.Plan))
	words := s.Word("every pass and round has its number")
	if n := len(s.planned.Plan.Passes); numbered < n {
		words = s.Say("%d of %d numbers have room; plan.geojson holds all", numbered, n)
	}
	l.Text(b.X, y+3.8, paper.Lettering{Size: 7, Grey: true}, words)
}
