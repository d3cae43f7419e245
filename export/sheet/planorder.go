package sheet

import (
	"fmt"
	"math"

	"balk/coverage/plan"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo/plane"
)

// orderPage says in which order the field is driven, what does not fit, what comes of doing otherwise, and
// what to mind.
func (s *planSetting) orderPage() *leaf {
	l := s.newLeaf()
	y := s.pageHead(l, s.Word("Order, turns and cautions"))
	b := s.inner()
	cautions := s.cautionsHeight(l, b.W)
	bottom := b.Y + b.H - cautions - partGap
	s.cautions(l, paper.Rect(b.X, bottom+partGap, b.W, cautions))
	half := (b.W - 2*partGap) / 2
	s.orderTable(l, paper.Rect(b.X, y, half, bottom-y))
	x := b.X + half + 2*partGap
	y = s.deviations(l, paper.Rect(x, y, half, bottom-y))
	s.faults(l, paper.Rect(x, y+partGap, half, bottom-y-partGap))
	return l
}

// stage is what is driven as one: a block, or a headland round.
type stage struct {
	words       string
	first, last int // numbers of its passes
	metres      float64
	from        plane.XY
}

func (s *planSetting) stages() []stage {
	var out []stage
	block := 0
	for _, p := range s.planned.Plan.Passes {
		if len(out) > 0 && p.Block == block && (p.Round == 0 || p.Stretch > 1) {
			one := &out[len(out)-1]
			one.last, one.metres = p.Number, one.metres+p.Length
			continue
		}
		block = p.Block
		words := s.Say("headland round %d", p.Round)
		if p.Round == 0 {
			end := p.Line[len(p.Line)-1].Sub(p.Line[0])
			words = s.Say("block %d, first towards %.0f°", p.Block, math.Mod(450-math.Atan2(end.Y, end.X)*180/math.Pi, 360))
		}
		out = append(out, stage{words: words, first: p.Number, last: p.Number, metres: p.Length, from: p.Line[0]})
	}
	return out
}

const orderStep = 3.7 // mm from row to row

// orderTable lists the stages in the order driven, as many as there is room for.
func (s *planSetting) orderTable(l *leaf, b paper.Box) {
	l.section(b.X, b.Y+3.5, s.Word("In this order"))
	grey, t := paper.Lettering{Size: 6.5, Grey: true}, paper.Lettering{Size: 7}
	at := []float64{0, 0.40, -0.62, 0.66}
	y := b.Y + 7
	l.cells(b, y, grey, at, s.Word("what"), s.Word("passes"), "km", s.Word("begins at (latitude, longitude)"))
	stages := s.stages()
	room := max(1, int((b.H-9)/orderStep))
	shown := stages
	if len(stages) > room {
		shown = stages[:room-1]
	}
	for _, one := range shown {
		y += orderStep
		passes := fmt.Sprint(one.first)
		if one.last > one.first {
			passes = s.Say("%d to %d", one.first, one.last)
		}
		l.cells(b, y, t, at, l.Fonts.Fit(t, one.words, 0.40*b.W-1), passes, s.Say("%.2f", one.metres/1000), words.Place(s.local.Point(one.from)))
	}
	if n := len(stages) - len(shown); n > 0 {
		l.Text(b.X, y+orderStep, grey, s.Say("and %d more: plan.geojson holds all of them", n))
	}
}

// deviations says how the plan fares if one thing is other than planned and what its fuel rests on, and gives how far down it came.
func (s *planSetting) deviations(l *leaf, b paper.Box) float64 {
	c := s.planned.Candidate
	y := b.Y + 3.5
	l.section(b.X, y, s.Word("If it is done otherwise"))
	y += 3.5
	grey, t := paper.Lettering{Size: 6.5, Grey: true}, paper.Lettering{Size: 7}
	heads := []string{s.Word("time"), s.Word("missed m²"), s.Word("twice or more m²")}
	at := deviationColumns(l.Fonts, grey, b.W, heads)
	l.cells(b, y, grey, at[1:], heads...)
	row := func(d plan.Deviation) {
		y += orderStep
		hours := words.Clock(d.Hours * 3600)
		l.cells(b, y, t, at, l.Fonts.Fit(t, s.otherwise(d), -at[1]*b.W-l.Fonts.Width(t, hours)-apartColumns), hours, fmt.Sprintf("%.0f", d.Missed), fmt.Sprintf("%.0f", d.Double))
	}
	row(c.AsPlanned())
	for _, d := range c.Sensitivity {
		row(d)
	}
	if c.Litres > 0 {
		y = l.Paragraph(b.X, y+orderStep, b.W, 3.2, paper.Lettering{Size: 6.5, Grey: true}, s.Word("Fuel")+": "+FuelBasis(s.Language, s.planned.Plan.Options.Fuel))
	}
	return y
}

// apartColumns is the least between what stands in two columns, mm.
const apartColumns = 2.5

// deviationColumns is where columns begin, or below 0 end, as shares of a width in mm: one for what is told, and one for each head, as wide as that.
func deviationColumns(f *paper.Fonts, t paper.Lettering, width float64, heads []string) []float64 {
	at := make([]float64, 1+len(heads))
	end := width
	for k := len(heads); k > 0; k-- {
		at[k] = -end / width
		end -= f.Width(t, heads[k-1]) + apartColumns
	}
	return at
}

// otherwise says what is other than planned.
func (s *planSetting) otherwise(d plan.Deviation) string {
	switch d.Kind {
	case "":
		return s.Word("as planned")
	case plan.Wandering:
		return s.Say("driven with a pass-to-pass error of %g m", d.By)
	case plan.Narrower:
		return s.Say("%g m narrower", d.By)
	case plan.Deeper:
		return s.Word("one headland round more")
	}
	return d.What
}

// faults lists what cannot be driven as drawn, as much as there is room for.
func (s *planSetting) faults(l *leaf, b paper.Box) {
	all := s.planned.Candidate.Infeasible
	l.section(b.X, b.Y+3.5, s.Word("What finds no room"))
	y := b.Y + 4
	t := paper.Lettering{Size: 7}
	if len(all) == 0 {
		l.Text(b.X, y+orderStep, t, s.Word("Every turn and run fits, the set's margin kept."))
		return
	}
	for i, f := range all {
		at := s.local.Point(f.At)
		lines := l.Fonts.Wrap(t, s.Say("%s; at %s", s.Told(f.Why), words.Place(at)), b.W)
		last := i == len(all)-1
		if need := float64(len(lines)) * 3.2; y+need+orderStep > b.Y+b.H && !last || y+need > b.Y+b.H {
			l.Text(b.X, y+orderStep, paper.Lettering{Size: 6.5, Grey: true}, s.Say("and %d more: order.txt holds all of them", len(all)-i))
			return
		}
		for _, line := range lines {
			y += 3.2
			l.Text(b.X, y, t, line)
		}
	}
}
