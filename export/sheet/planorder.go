package sheet

import (
	"fmt"
	"math"

	"balk/coverage/plan"
	"balk/geo/plane"

	"github.com/tdewolff/canvas"
)

// orderPage says in which order the field is driven, what does not fit, what comes of doing otherwise, and
// what to mind.
func (s *planSetting) orderPage() *Leaf {
	l := newLeaf(s.w, s.h, s.fonts)
	y := s.pageHead(l, s.word("Order, turns and cautions"))
	b := s.inner()
	cautions := s.cautionsHeight(l, b.w)
	bottom := b.y + b.h - cautions - partGap
	s.cautions(l, rect{b.x, bottom + partGap, b.w, cautions})
	half := (b.w - 2*partGap) / 2
	s.orderTable(l, rect{b.x, y, half, bottom - y})
	x := b.x + half + 2*partGap
	y = s.deviations(l, rect{x, y, half, bottom - y})
	s.faults(l, rect{x, y + partGap, half, bottom - y - partGap})
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
		words := s.say("headland round %d", p.Round)
		if p.Round == 0 {
			end := p.Line[len(p.Line)-1].Sub(p.Line[0])
			words = s.say("block %d, first towards %.0f°", p.Block, math.Mod(450-math.Atan2(end.Y, end.X)*180/math.Pi, 360))
		}
		out = append(out, stage{words: words, first: p.Number, last: p.Number, metres: p.Length, from: p.Line[0]})
	}
	return out
}

const orderStep = 3.7 // mm from row to row

// orderTable lists the stages in the order driven, as many as there is room for.
func (s *planSetting) orderTable(l *Leaf, b rect) {
	l.text(b.x, b.y+3.5, lettering{size: 9, bold: true}, s.word("In this order"))
	grey := lettering{size: 6.5, grey: true}
	passX, kmX, placeX := b.x+b.w*0.40, b.x+b.w*0.62, b.x+b.w*0.66
	y := b.y + 7
	l.text(b.x, y, grey, s.word("what"))
	l.text(passX, y, grey, s.word("passes"))
	right := grey
	right.align = canvas.Right
	l.text(kmX, y, right, "km")
	l.text(placeX, y, grey, s.word("begins at (longitude, latitude)"))
	stages := s.stages()
	room := max(1, int((b.h-9)/orderStep))
	shown := stages
	if len(stages) > room {
		shown = stages[:room-1]
	}
	t := lettering{size: 7}
	for _, one := range shown {
		y += orderStep
		passes := fmt.Sprint(one.first)
		if one.last > one.first {
			passes = s.say("%d to %d", one.first, one.last)
		}
		l.text(b.x, y, t, l.fonts.fit(t, one.words, passX-b.x-1))
		l.text(passX, y, t, passes)
		number := t
		number.align = canvas.Right
		l.text(kmX, y, number, s.say("%.2f", one.metres/1000))
		at := s.result.Local.Point(one.from)
		l.text(placeX, y, t, placeWords(at))
	}
	if n := len(stages) - len(shown); n > 0 {
		l.text(b.x, y+orderStep, grey, s.say("and %d more: plan.geojson holds all of them", n))
	}
}

// deviations says how the plan fares if one thing is other than planned, and gives how far down it came.
func (s *planSetting) deviations(l *Leaf, b rect) float64 {
	c := s.planned.Candidate
	y := b.y + 3.5
	l.text(b.x, y, lettering{size: 9, bold: true}, s.word("If it is done otherwise"))
	grey := lettering{size: 6.5, grey: true, align: canvas.Right}
	columns := []float64{b.x + b.w*0.70, b.x + b.w*0.85, b.x + b.w}
	y += 3.5
	for i, w := range []string{s.word("time"), s.word("missed, ha"), s.word("twice, ha")} {
		l.text(columns[i], y, grey, w)
	}
	row := func(d plan.Deviation) {
		y += orderStep
		t := lettering{size: 7}
		l.text(b.x, y, t, l.fonts.fit(t, s.otherwise(d), b.w*0.62))
		t.align = canvas.Right
		for i, w := range []string{clockWords(d.Hours * 3600), s.page.Language.digits(Hectares(d.Missed)), s.page.Language.digits(Hectares(d.Double))} {
			l.text(columns[i], y, t, w)
		}
	}
	row(plan.Deviation{What: s.word("as planned"), Hours: c.Hours, Missed: c.Missed, Double: c.Double})
	for _, d := range c.Sensitivity {
		row(d)
	}
	return y
}

// otherwise says what is other than planned.
func (s *planSetting) otherwise(d plan.Deviation) string {
	switch d.Kind {
	case plan.Wandering:
		return s.say("driven with a pass-to-pass error of %g m", d.By)
	case plan.Narrower:
		return s.say("%g m narrower", d.By)
	case plan.Deeper:
		return s.word("one headland round more")
	}
	return d.What
}

// faults lists what cannot be driven as drawn, as much as there is room for.
func (s *planSetting) faults(l *Leaf, b rect) {
	all := s.planned.Candidate.Infeasible
	l.text(b.x, b.y+3.5, lettering{size: 9, bold: true}, s.word("What finds no room"))
	y := b.y + 4
	t := lettering{size: 7}
	if len(all) == 0 {
		l.text(b.x, y+orderStep, t, s.word("Every turn and run fits, the set's margin kept."))
		return
	}
	for i, f := range all {
		at := s.result.Local.Point(f.At)
		lines := l.fonts.wrap(t, s.say("%s; at %s", f.Why, placeWords(at)), b.w)
		last := i == len(all)-1
		if need := float64(len(lines)) * 3.2; y+need+orderStep > b.y+b.h && !last || y+need > b.y+b.h {
			l.text(b.x, y+orderStep, lettering{size: 6.5, grey: true}, s.say("and %d more: order.txt holds all of them", len(all)-i))
			return
		}
		for _, line := range lines {
			y += 3.2
			l.text(b.x, y, t, line)
		}
	}
}
