package sheet

import (
	"fmt"
	"math"
	"path/filepath"

	"balk/coverage"

	"github.com/paulmach/orb"
	"github.com/tdewolff/canvas"
)

// drivenPage shows how the operation was driven: effort, spacing of the passes,
// turns, findings; and the cautions in full.
func (s *setting) drivenPage() *Leaf {
	l := newLeaf(s.w, s.h, s.fonts)
	top := s.pageHead(l, s.word("How it was driven"))
	b := s.inner()
	bottom := b.y + b.h - s.cautionsHeight(l, b.w)
	s.cautions(l, rect{b.x, bottom, b.w, b.y + b.h - bottom})
	left := rect{b.x, top, (b.w - 2*partGap) * 0.5, bottom - top - partGap}
	right := rect{left.x + left.w + 2*partGap, top, left.w, left.h}
	y := s.effort(l, left)
	y = s.spacing(l, rect{left.x, y + 3, left.w, 0})
	s.findings(l, rect{left.x, y + 3, left.w, left.y + left.h - y - 3})
	s.turns(l, right)
	return l
}

// clockWords is a time in hours and minutes.
func clockWords(seconds float64) string {
	m := int64(math.Round(seconds / 60))
	return fmt.Sprintf("%d:%02d h", m/60, m%60)
}

// effort writes the table of way and time, and the speeds as bars; it gives how far
// down it came.
func (s *setting) effort(l *Leaf, b rect) float64 {
	e := s.result.Effort
	y := b.y + 3.5
	l.text(b.x, y, lettering{size: 9, bold: true}, s.word("Way and time"))
	right := lettering{size: 7.5, align: canvas.Right}
	grey := lettering{size: 6.5, grey: true, align: canvas.Right}
	xs := []float64{b.x + b.w*0.55, b.x + b.w*0.78, b.x + b.w}
	for i, h := range []string{"km", s.word("time"), s.word("% of time")} {
		l.text(xs[i], y+3.6, grey, h)
	}
	y += 4
	for _, row := range []struct {
		words   string
		spent   coverage.Spent
		onField bool
	}{{s.word("working"), e.Working, true}, {s.word("turning"), e.Turning, true}, {s.word("standing"), e.Standing, true},
		{s.word("unknown (log gaps)"), e.Unknown, true}, {s.word("road (not on the field)"), e.Road, false}} {
		y += 3.9
		l.text(b.x, y, lettering{size: 7.5}, row.words)
		l.text(xs[0], y, right, s.say("%.2f", row.spent.Metres/1000))
		if e.Timed {
			l.text(xs[1], y, right, clockWords(row.spent.Seconds))
			if row.onField {
				l.text(xs[2], y, right, s.say("%.1f", 100*row.spent.Share))
			}
		}
	}
	y += 1.5
	for _, line := range s.effortWords() {
		y = l.paragraph(b.x, y+3.5, b.w, 3.5, lettering{size: 7.5}, line) - 3.5
	}
	return s.speeds(l, rect{b.x, y + 4, b.w, 0})
}

// effortWords says what the way and the time gave.
func (s *setting) effortWords() []string {
	e := s.result.Effort
	if !e.Timed {
		return []string{s.word("No time is logged: no times, speeds or capacities.")}
	}
	lines := []string{s.say("On the field %s, breaks %s.", clockWords(e.OnField), clockWords(e.Break))}
	if e.EffectiveCapacity > 0 {
		lines = append(lines, s.say("Working speed %.1f km/h on the mean, %.1f to %.1f for nine tenths of the time.", 3.6*e.Speed.Mean, 3.6*e.Speed.Q05, 3.6*e.Speed.Q95),
			s.say("Effective field capacity %.2f ha/h, field efficiency %.0f %% (ASABE EP496).", 0.36*e.EffectiveCapacity, 100*e.FieldEfficiency))
	}
	if e.ClockFault > 0 {
		lines = append(lines, s.say("The clock of the log went back or jumped %s.", s.count(e.ClockFault, "time")))
	}
	return lines
}

// speeds draws the working speeds as bars of time.
func (s *setting) speeds(l *Leaf, b rect) float64 {
	classes := s.result.Effort.Classes
	if len(classes) == 0 {
		return b.y
	}
	y := b.y + 3
	l.text(b.x, y, lettering{size: 9, bold: true}, s.word("Working speed"))
	most := 0.0
	first, last := math.MaxInt, 0
	times := map[int]float64{}
	for _, c := range classes {
		k := int(math.Round(3.6 * c.From))
		times[k] = c.Seconds
		most, first, last = max(most, c.Seconds), min(first, k), max(last, k)
	}
	const height = 16.0
	n := last - first + 1
	w := min(b.w/float64(n), 9)
	base := y + 3 + height
	for k := first; k <= last; k++ {
		x := b.x + float64(k-first)*w
		h := height * times[k] / most
		l.fill(rect{x + 0.15*w, base - h, 0.7 * w, h}.path(), slate)
		if n <= 20 || k%5 == 0 {
			l.text(x+w/2, base+2.8, lettering{size: 6, align: canvas.Center}, fmt.Sprint(k))
		}
	}
	l.line(b.x, base, b.x+w*float64(n), base, pen{colour: black, width: 0.15})
	l.text(b.x, base+5.8, lettering{size: 6.5, grey: true}, s.say("km/h, each class from the number to the next; the highest bar is %s", clockWords(most)))
	return base + 6
}

// spacing writes how far apart neighbouring passes lay.
func (s *setting) spacing(l *Leaf, b rect) float64 {
	sp := s.result.Spacing
	y := b.y + 3.5
	l.text(b.x, y, lettering{size: 9, bold: true}, s.word("Spacing of neighbouring passes"))
	words := s.word("No neighbouring passes run side by side.")
	if sp.Samples > 0 {
		words = s.say("Planned %.2f m. Median %.2f m, middle half %.2f to %.2f m, nine tenths %.2f to %.2f m. Wider than the full width at %.1f %% of the places (certainly a gap), more than 5 cm below the planned one at %.1f %%.",
			sp.Planned, sp.Median, sp.Q25, sp.Q75, sp.Q05, sp.Q95, 100*sp.Wider, 100*sp.Narrower)
		if o := sp.Offset; o.Rights > 0 && o.Lefts > 0 {
			if o.Right < 0 {
				words += s.say(" The bar seems to lie %.2f m to the left of where it was taken (spread %.2f m).", -o.Right, o.Spread)
			} else {
				words += s.say(" The bar seems to lie %.2f m to the right of where it was taken (spread %.2f m).", o.Right, o.Spread)
			}
		}
	}
	return l.paragraph(b.x, y+4, b.w, 3.5, lettering{size: 7.5}, words) - 3.5
}

// findings writes the oddities of the data, as many as there is room for.
func (s *setting) findings(l *Leaf, b rect) {
	list := s.result.Findings
	if len(list) == 0 {
		return
	}
	y := b.y + 3.5
	l.text(b.x, y, lettering{size: 9, bold: true}, s.say("Findings on the data: %d", len(list)))
	t := lettering{size: 6.5}
	y += 3.6
	for i, f := range list {
		f.File = filepath.Base(f.File)
		lines := l.fonts.wrap(t, f.String(), b.w)
		if y+2.7*float64(len(lines)) > b.y+b.h-3 {
			l.text(b.x, y, lettering{size: 6.5, grey: true}, s.say("%d more: report.json holds all of them", len(list)-i))
			return
		}
		y = l.paragraph(b.x, y, b.w, 2.7, t, f.String()) + 0.8
	}
}

// turns draws the field with its turns and lists those that were too tight.
func (s *setting) turns(l *Leaf, b rect) {
	sum := coverage.TurningOf(s.result.Turns)
	y := b.y + 3.5
	l.text(b.x, y, lettering{size: 9, bold: true}, s.word("Turns between passes"))
	if sum.Turns == 0 {
		l.text(b.x, y+4, lettering{size: 7.5}, s.word("The log shows none."))
		return
	}
	y = l.paragraph(b.x, y+4, b.w, 3.5, lettering{size: 7.5}, s.turnWords(sum))
	listed := min(float64(sum.Tight), 12)
	frame := rect{b.x, y, b.w, min(b.w, b.y+b.h-y-8-rowHeight*(listed+2))}
	v := turnedView(frame, s.hull, s.view.turn)
	l.fill(frame.path(), "#F7F7F4")
	l.fill(v.rings(s.result.Layers.Field), "#F0E6CB")
	l.stroke(v.outlines(s.result.Layers.Headland), pen{colour: "#888888", width: 0.15, dash: []float64{2, 1.2}})
	l.stroke(v.outlines(s.result.Layers.Field), boundaryPen)
	for _, t := range s.result.Turns {
		colour := slate
		if t.Tight {
			colour = pink
		}
		l.stroke(v.lines(t.Line), pen{colour: colour, width: 0.3})
	}
	l.stroke(frame.path(), pen{colour: black, width: 0.25})
	north := l.northArrow(v, s.result.Layers.Field, nil, northSmall, nil)
	var tight []orb.Point
	for _, t := range s.result.Turns {
		if at := v.at(s.result.Local.XY(t.At)); t.Tight && frame.bound().Contains(at) {
			tight = append(tight, at)
		}
	}
	l.tightTurns(v, tight, nil, []rect{north})
	bar := l.scaleBar(frame.x, frame.y+frame.h+6, frame.w/4, v)
	l.text(bar.x+bar.w+4, frame.y+frame.h+5.6, lettering{size: 6.5, grey: true}, s.word("lines: the antenna's way between passes"))
	y = frame.y + frame.h + 12
	if sum.Tight > 0 {
		s.tightTable(l, rect{b.x, y, b.w, b.y + b.h - y}, sum.Tight)
	}
}

func (s *setting) turnWords(sum coverage.Turning) string {
	words := s.count(sum.Turns, "turn")
	if sum.Median > 0 {
		words += s.say(", half within %.0f s, the longest %.0f s", sum.Median, sum.Worst)
	}
	if sum.Radius > 0 {
		words += s.say("; least radius driven %.1f m", sum.Radius)
	}
	if sum.Angle > 0 {
		words += s.say("; greatest angle at the drawbar %.0f°", sum.Angle)
	}
	switch limit := s.result.Work.TurnRadius; {
	case sum.Tight > 0:
		words += s.say(". Tighter than the set may turn (ring with a cross): %d", sum.Tight)
		if limit > 0 {
			words += s.say("; it may turn at a radius of %.1f m", limit)
		}
	case limit > 0:
		words += s.say(". None was tighter than the set may turn (radius %.1f m)", limit)
	case s.result.Work.Mount.AngleLimit() > 0:
		words += s.word(". None was tighter than the set may turn")
	default:
		words += s.word(". How tight the set may turn is not given")
	}
	return words + "."
}

// tightTable lists turns that were too tight, as many as there is room for.
func (s *setting) tightTable(l *Leaf, b rect, tight int) {
	heads := []string{s.word("turn"), s.word("passes"), s.word("radius"), s.word("angle"), s.word("time"), s.word("place (lon, lat)")}
	xs := []float64{0.08, 0.26, 0.4, 0.52, 0.64, 1}
	y := b.y
	row := func(t lettering, words []string) {
		t.align = canvas.Right
		for i, w := range words {
			l.text(b.x+b.w*xs[i], y, t, w)
		}
	}
	row(lettering{size: 6.5, grey: true}, heads)
	l.line(b.x, y+1, b.x+b.w, y+1, pen{colour: black, width: 0.15})
	for _, t := range s.result.Turns {
		if !t.Tight {
			continue
		}
		y += rowHeight
		if y+rowHeight > b.y+b.h && tight > 1 {
			l.text(b.x, y, lettering{size: 6.5, grey: true}, s.say("and %d more, on the map; report.json holds all of them", tight))
			return
		}
		tight--
		or := func(v float64, words string) string {
			if v == 0 {
				return "–"
			}
			return words
		}
		row(lettering{size: 7}, []string{fmt.Sprint(t.Number), fmt.Sprintf("%d, %d", t.From, t.To), or(t.Radius, s.say("%.1f m", t.Radius)), or(t.Angle, fmt.Sprintf("%.0f°", t.Angle)), or(t.Seconds, fmt.Sprintf("%.0f s", t.Seconds)),
			placeWords(t.At)})
	}
}
