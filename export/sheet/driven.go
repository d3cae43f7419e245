package sheet

import (
	"fmt"
	"math"
	"path/filepath"
	"strings"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/export/answer"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo"

	"github.com/paulmach/orb"
)

// drivenPages show how the operation was driven: effort, spacing of the passes, turns; below the one or the other, where there is room, what missed strips
// have in common, and findings; and the cautions in full. Where that is more than a page holds, the last three have a page of their own.
func (s *checkSetting) drivenPages() []*leaf {
	l := s.newLeaf()
	top := s.pageHead(l, s.Word("How it was driven"))
	b := s.inner()
	bottom := b.Y + b.H - s.cautionsHeight(l, b.W)
	cautions := paper.Rect(b.X, bottom, b.W, b.Y+b.H-bottom)
	left := paper.Rect(b.X, top, (b.W-2*partGap)*0.5, bottom-top-partGap)
	right := paper.Rect(left.X+left.W+2*partGap, top, left.W, left.H)
	y := s.spacing(l, paper.Rect(left.X, s.effort(l, left)+3, left.W, 0)) + 3
	rest := paper.Rect(left.X, y, left.W, left.Y+left.H-y)
	least := s.leastBelow(left.W)
	switch {
	case least <= rest.H:
	case rest.H >= 0 && s.leastTurns(right.W)+3+least <= right.H:
		right.H -= 3 + least
		rest = paper.Rect(right.X, right.Y+right.H+3, right.W, least)
	default:
		right.H = b.Y + b.H - top
		s.turns(l, right)
		more := s.newLeaf()
		s.pageHead(more, s.Word("Missed strips, data and cautions"))
		s.below(more, left)
		s.cautions(more, cautions)
		return []*leaf{l, more}
	}
	s.turns(l, right)
	s.below(l, rest)
	s.cautions(l, cautions)
	return []*leaf{l}
}

// below writes what missed strips have in common, and findings.
func (s *checkSetting) below(l *leaf, b paper.Box) {
	y := s.patterns(l, b) + 3
	s.findings(l, paper.Rect(b.X, y, b.W, b.Y+b.H-y))
}

// leastBelow is the height that below takes at least, mm.
func (s *checkSetting) leastBelow(width float64) float64 {
	h := s.patterns(s.newLeaf(), paper.Rect(0, 0, width, 0)) + 3
	if len(s.result.Findings) > 0 {
		h += 16 // heading, the first of three lines, how many more there are
	}
	return h
}

// effort writes the table of way and time, and the speeds as bars; it gives how far
// down it came.
func (s *checkSetting) effort(l *leaf, b paper.Box) float64 {
	e := s.result.Effort
	y := b.Y + 3.5
	l.section(b.X, y, s.Word("Way and time"))
	at := []float64{0, -0.55, -0.78, -1}
	l.cells(b, y+3.6, paper.Lettering{Size: 6.5, Grey: true}, at[1:], "km", s.Word("time"), s.Word("% of time"))
	y += 4
	for _, row := range []struct {
		words   string
		spent   coverage.Spent
		onField bool
	}{{s.Word("working"), e.Working, true}, {s.Word("turning"), e.Turning, true}, {s.Word("standing"), e.Standing, true},
		{s.Word("unknown (log gaps)"), e.Unknown, true}, {s.Word("road (not on the field)"), e.Road, false}} {
		y += 3.9
		cells := []string{row.words, s.Say("%.2f", row.spent.Metres/1000)}
		if e.Timed {
			cells = append(cells, words.Clock(row.spent.Seconds))
		}
		if e.Timed && row.onField {
			cells = append(cells, s.Say("%.1f", 100*row.spent.Share))
		}
		l.cells(b, y, paper.Lettering{Size: 7.5}, at, cells...)
	}
	y += 1.5
	for _, line := range s.effortWords() {
		y = l.Paragraph(b.X, y+3.5, b.W, 3.5, paper.Lettering{Size: 7.5}, line) - 3.5
	}
	return s.speeds(l, paper.Rect(b.X, y+4, b.W, 0))
}

// effortWords says what the way and the time gave.
func (s *checkSetting) effortWords() []string {
	e := s.result.Effort
	if !e.Timed {
		return []string{s.Word("No time is logged: no times, speeds or capacities.")}
	}
	lines := []string{s.Say("On the field %s, breaks %s.", words.Clock(e.OnField), words.Clock(e.Break))}
	if e.EffectiveCapacity > 0 {
		lines = append(lines, s.Say("Working speed %.1f km/h on the mean, %.1f to %.1f for nine tenths of the time.", geo.Kmh*e.Speed.Mean, geo.Kmh*e.Speed.Q05, geo.Kmh*e.Speed.Q95),
			s.Say("Effective field capacity %.2f ha/h, field efficiency %.0f %% (ASABE EP496).", words.HaPerHour(e.EffectiveCapacity), 100*e.FieldEfficiency))
	}
	if e.ClockFault > 0 {
		lines = append(lines, s.Say("The clock of the log went back or jumped %s.", s.Count(e.ClockFault, "time")))
	}
	return lines
}

// speeds draws the working speeds as bars of time.
func (s *checkSetting) speeds(l *leaf, b paper.Box) float64 {
	classes := s.result.Effort.Classes
	if len(classes) == 0 {
		return b.Y
	}
	y := b.Y + 3
	l.section(b.X, y, s.Word("Working speed"))
	most := 0.0
	first, last := math.MaxInt, 0
	times := map[int]float64{}
	for _, c := range classes {
		k := int(math.Round(geo.Kmh * c.From))
		times[k] = c.Seconds
		most, first, last = max(most, c.Seconds), min(first, k), max(last, k)
	}
	const height = 16.0
	n := last - first + 1
	w := min(b.W/float64(n), 9)
	base := y + 3 + height
	for k := first; k <= last; k++ {
		x := b.X + float64(k-first)*w
		h := height * times[k] / most
		l.Fill(paper.Rect(x+0.15*w, base-h, 0.7*w, h).Path(), slate)
		if n <= 20 || k%5 == 0 {
			l.Text(x+w/2, base+2.8, paper.Lettering{Size: 6, Align: paper.Centre}, fmt.Sprint(k))
		}
	}
	l.Line(b.X, base, b.X+w*float64(n), base, paper.Pen{Colour: paper.Black, Width: 0.15})
	l.Text(b.X, base+5.8, paper.Lettering{Size: 6.5, Grey: true}, s.Say("km/h, each class from the number to the next; the highest bar is %s", words.Clock(most)))
	return base + 6
}

// spacing writes how far apart neighbouring passes lay.
func (s *checkSetting) spacing(l *leaf, b paper.Box) float64 {
	sp := s.result.Spacing
	y := b.Y + 3.5
	l.section(b.X, y, s.Word("Spacing of neighbouring passes"))
	words := s.Word("No neighbouring passes run side by side.")
	if sp.Samples > 0 {
		words = s.Say("Planned %.2f m, mostly about %.2f m, middle half %.2f to %.2f m, nine tenths %.2f to %.2f m. Wider than the full width at %.1f %% of the places (certainly a gap), more than 5 cm below the planned one at %.1f %%.",
			sp.Planned, sp.Median, sp.Q25, sp.Q75, sp.Q05, sp.Q95, 100*sp.Wider, 100*sp.Narrower)
		if next := answer.NextTime(s.result, s.Language); next != "" {
			words += " " + next
		}
		words = strings.TrimSpace(words + " " + answer.CheapestLap(s.result, s.page.PerHour, s.page.PerMissed, s.Language))
	}
	return s.trade(l, paper.Rect(b.X, l.Paragraph(b.X, y+4, b.W, 3.5, paper.Lettering{Size: 7.5}, words)-3.5, b.W, 0))
}

// trade draws what is missed between passes over the planned overlap, and below it what is worked twice, each on a scale of its own, as the one is a
// fraction of the other; nothing where that is not known.
func (s *checkSetting) trade(l *leaf, b paper.Box) float64 {
	laps := s.result.Spacing.Laps
	if len(laps) == 0 {
		return b.Y
	}
	title := s.Word("Between passes, had they been planned with another overlap and driven as unevenly")
	t := paper.Lettering{Size: 6.5, Grey: true}
	y := l.Paragraph(b.X, b.Y+3.5, b.W, 2.8, t, title)
	planned, last := s.result.Spacing.Width-s.result.Spacing.Planned, laps[len(laps)-1].Overlap
	frame := paper.Rect(b.X+9, y, b.W-34, 8)
	across := func(overlap float64) float64 { return frame.X + frame.W*overlap/last }
	l.figure(title, func() {
		for _, curve := range []struct {
			words, colour string
			of            func(coverage.Lap) float64
		}{{s.Word("missed"), pink, func(lap coverage.Lap) float64 { return lap.Missed }}, {s.Word("worked twice"), slate, func(lap coverage.Lap) float64 { return lap.Double }}} {
			high := 1e-6
			for _, lap := range laps {
				high = max(high, curve.of(lap))
			}
			var line orb.LineString
			for _, lap := range laps {
				line = append(line, orb.Point{across(lap.Overlap), frame.Y + frame.H*(1-curve.of(lap)/high)})
			}
			l.Stroke(frame.Path(), framePen)
			l.Stroke([]orb.LineString{line}, paper.Pen{Colour: curve.colour, Width: 0.4})
			l.Line(across(planned), frame.Y, across(planned), frame.Y+frame.H, paper.Pen{Colour: ink, Width: 0.2, Dash: []float64{0.6, 0.6}})
			l.Text(frame.X-1, frame.Y+1.8, paper.Lettering{Size: 6, Align: paper.Right}, s.Say("%.1f %%", 100*high))
			l.Text(frame.X-1, frame.Y+frame.H, paper.Lettering{Size: 6, Align: paper.Right}, "0")
			l.Text(frame.X+frame.W+1, frame.Y+frame.H/2+0.8, paper.Lettering{Size: 6}, curve.words)
			frame.Y += frame.H + 1.5
		}
		for o := 0.0; o <= last+1e-9; o += 0.1 {
			l.Text(across(o), frame.Y+1.4, paper.Lettering{Size: 6, Align: paper.Centre}, s.Say("%.1f", o))
		}
	})
	return l.Paragraph(b.X, frame.Y+4.6, b.W, 2.8, t, s.Say("m of overlap; the dotted line is the %.2f m that were planned", planned)) - 2.8
}

// patternsShown is how many there is room for; those with most ground stand first, and report.json has all.
const patternsShown = 4

// patterns writes what missed strips have in common, and what would prevent it.
func (s *checkSetting) patterns(l *leaf, b paper.Box) float64 {
	list := answer.Patterns(s.result.Patterns, s.Language)
	if len(list) == 0 {
		return b.Y - 3
	}
	y := b.Y + 3.5
	l.section(b.X, y, s.Word("What missed strips have in common"))
	y += 4
	for _, line := range list[:min(len(list), patternsShown)] {
		y = l.Paragraph(b.X, y, b.W, 3.5, paper.Lettering{Size: 7.5}, line)
	}
	return y - 3.5
}

// findings writes the oddities of the data, as many as there is room for.
func (s *checkSetting) findings(l *leaf, b paper.Box) {
	list := s.result.Findings
	if len(list) == 0 {
		return
	}
	y := b.Y + 3.5
	l.section(b.X, y, s.Say("Findings on the data: %d", len(list)))
	t := paper.Lettering{Size: 6.5}
	y += 3.6
	for i, f := range list {
		f.File = filepath.Base(f.File)
		lines := l.Fonts.Wrap(t, s.Finding(f), b.W)
		if y+2.7*float64(len(lines)) > b.Y+b.H-3 {
			l.Text(b.X, y, paper.Lettering{Size: 6.5, Grey: true}, s.Say("%d more: report.json holds all of them", len(list)-i))
			return
		}
		y = l.Paragraph(b.X, y, b.W, 2.7, t, s.Finding(f)) + 0.8
	}
}

const (
	leastMap = 45.0 // mm, down to which the map of turns is drawn smaller for what stands below it
	mostRows = 12   // of turns that were too tight
	underMap = 8.0  // mm, of the scale
)

// leastTurns is the height that turns take at least, mm.
func (s *checkSetting) leastTurns(width float64) float64 {
	sum := drive.TurningOf(s.result.Turns)
	if sum.Turns == 0 {
		return 8
	}
	lines := s.fonts.Wrap(paper.Lettering{Size: 7.5}, s.turnWords(sum), width)
	return 7.5 + 3.5*float64(len(lines)) + leastMap + underMap + rowHeight*float64(min(sum.Tight, 1)+2)
}

// turns draws the field with its turns and lists those that were too tight.
func (s *checkSetting) turns(l *leaf, b paper.Box) {
	sum := drive.TurningOf(s.result.Turns)
	y := b.Y + 3.5
	l.section(b.X, y, s.Word("Turns between passes"))
	if sum.Turns == 0 {
		l.Text(b.X, y+4, paper.Lettering{Size: 7.5}, s.Word("The log shows none."))
		return
	}
	y = l.Paragraph(b.X, y+4, b.W, 3.5, paper.Lettering{Size: 7.5}, s.turnWords(sum))
	room := b.Y + b.H - y - underMap - 2*rowHeight
	listed := min(sum.Tight, mostRows, max(1, int((room-leastMap)/rowHeight)))
	frame := paper.Rect(b.X, y, b.W, min(b.W, room-rowHeight*float64(listed)))
	v := turnedView(frame, s.hull, s.view.turn)
	l.field(v, s.result.Layers.Field, "#F0E6CB")
	l.Stroke(v.outlines(s.result.Layers.Headland), paper.Pen{Colour: "#888888", Width: 0.15, Dash: []float64{2, 1.2}})
	l.Stroke(v.outlines(s.result.Layers.Field), boundaryPen)
	for _, t := range s.result.Turns {
		colour := slate
		if t.Tight {
			colour = pink
		}
		l.Stroke(v.lines(t.Line), paper.Pen{Colour: colour, Width: 0.3})
	}
	l.Stroke(frame.Path(), framePen)
	north := l.northArrow(v, s.result.Layers.Field, nil, northSmall, nil)
	l.tightTurns(v, s.tight(), nil, []paper.Box{north})
	bar := l.scaleBar(frame.X, frame.Y+frame.H+6, frame.W/4, v)
	l.Text(bar.X+bar.W+4, frame.Y+frame.H+5.6, paper.Lettering{Size: 6.5, Grey: true}, s.Word("lines: the antenna's way between passes"))
	y = frame.Y + frame.H + 12
	if sum.Tight > 0 {
		s.tightTable(l, paper.Rect(b.X, y, b.W, b.Y+b.H-y), sum.Tight)
	}
}

func (s *checkSetting) turnWords(sum drive.Turning) string {
	words := s.Count(sum.Turns, "turn")
	if sum.Median > 0 {
		words += s.Say(", half within %.0f s, the longest %.0f s", sum.Median, sum.Worst)
	}
	if sum.Radius > 0 {
		words += s.Say("; least radius driven %.1f m", sum.Radius)
	}
	if sum.Angle > 0 {
		words += s.Say("; greatest angle at the drawbar %.0f°", sum.Angle)
	}
	switch limit := s.result.Work.TurnRadius; {
	case sum.Tight > 0:
		words += s.Say(". Tighter than the set may turn (ring with a cross): %d", sum.Tight)
		if limit > 0 {
			words += s.Say("; it may turn at a radius of %.1f m", limit)
		}
	case limit > 0:
		words += s.Say(". None was tighter than the set may turn (radius %.1f m)", limit)
	case s.result.Work.Mount.AngleLimit() > 0:
		words += s.Word(". None was tighter than the set may turn")
	default:
		words += s.Word(". How tight the set may turn is not given")
	}
	return words + "."
}

// tightTable lists turns that were too tight, as many as there is room for.
func (s *checkSetting) tightTable(l *leaf, b paper.Box, tight int) {
	at := []float64{-0.08, -0.26, -0.4, -0.52, -0.64, -1}
	y := b.Y
	l.cells(b, y, paper.Lettering{Size: 6.5, Grey: true}, at, s.Word("turn"), s.Word("passes"), s.Word("radius"), s.Word("angle"), s.Word("time"), s.Word("place (lat, lon)"))
	l.Line(b.X, y+1, b.X+b.W, y+1, paper.Pen{Colour: paper.Black, Width: 0.15})
	for _, t := range s.result.Turns {
		if !t.Tight {
			continue
		}
		y += rowHeight
		if y+rowHeight > b.Y+b.H && tight > 1 {
			l.Text(b.X, y, paper.Lettering{Size: 6.5, Grey: true}, s.Say("and %d more, on the map; report.json holds all of them", tight))
			return
		}
		tight--
		or := func(v float64, words string) string {
			if v == 0 {
				return "–"
			}
			return words
		}
		l.cells(b, y, paper.Lettering{Size: 7}, at, fmt.Sprint(t.Number), fmt.Sprintf("%d, %d", t.From, t.To), or(t.Radius, s.Say("%.1f m", t.Radius)), or(t.Angle, fmt.Sprintf("%.0f°", t.Angle)), or(t.Seconds, fmt.Sprintf("%.0f s", t.Seconds)),
			words.Place(t.At))
	}
}
