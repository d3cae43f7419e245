package sheet

import (
	"balk/export/sheet/paper"
	"fmt"
	"strings"
	"time"

	"github.com/paulmach/orb"
)

// timeLine draws operations by their days, with the weather above the line, and gives how far down it came.
func (s *seasonSetting) timeLine(l *leaf, b paper.Box) float64 {
	zone := s.page.zone()
	from, to := s.of.Day, s.of.Day
	for _, o := range s.of.Operations {
		if !o.Begin.IsZero() && o.Begin.Before(from) {
			from = o.Begin
		}
		if o.Begin.After(to) {
			to = o.Begin
		}
	}
	const before, after = 3, 2 // days, so that nothing stands on the edge
	from, to = dayOf(from.AddDate(0, 0, -before), zone), dayOf(to.AddDate(0, 0, after), zone)
	at := func(t time.Time) float64 { return b.X + b.W*float64(t.Sub(from))/float64(to.Sub(from)) }
	y := b.Y
	if len(s.of.Weather) > 0 {
		y = s.weather(l, paper.Rect(b.X, y, b.W, weatherHeight), at, from, to)
	}
	y += 7
	l.Line(b.X, y, b.X+b.W, y, paper.Pen{Colour: paper.Black, Width: 0.3})
	s.ticks(l, y, from, to, at)
	// The day of the sheet, and operations: a number in a box over its day, beside each other where they are near.
	l.Line(at(s.of.Day), y-5, at(s.of.Day), y, paper.Pen{Colour: "#555555", Width: 0.2, Dash: []float64{0.8, 0.6}})
	if last := s.lastBegin(); at(s.of.Day)-at(last) > 2*tickRoom { // beside no operation
		l.Text(at(s.of.Day)-0.8, y-1.2, paper.Lettering{Size: 6.5, Grey: true, Align: paper.Right}, s.day(s.of.Day))
	}
	t := paper.Lettering{Size: 7, Bold: true}
	end := b.X
	for _, o := range s.of.Operations {
		if o.Begin.IsZero() {
			continue
		}
		words := s.does(o)
		w := l.Fonts.Width(t, words) + 1.6
		x := at(o.Begin)
		left := min(max(x-w/2, end), b.X+b.W-w)
		l.Line(x, y, left+w/2, y-2.4, paper.Pen{Colour: paper.Black, Width: 0.2})
		l.Fill([]orb.LineString{paper.Ring(orb.Point{x, y}, 0.8)}, paper.Black)
		l.tag(paper.Rect(left, y-5.6, w, 3.2), t, paper.Black, words)
		end = left + w + 0.6
	}
	return y + 7.5
}

// lastBegin is when the last operation began, of those before the day of the sheet.
func (s *seasonSetting) lastBegin() (last time.Time) {
	for _, o := range s.of.Operations {
		if o.Begin.After(last) {
			last = o.Begin
		}
	}
	return last
}

// does is an operation's number with what it does.
func (s *seasonSetting) does(o SeasonOperation) string {
	return fmt.Sprintf("%d %s", o.Number, s.doing(o))
}

func (s *seasonSetting) doing(o SeasonOperation) string {
	var all []string
	for _, d := range o.Does {
		all = append(all, s.Word(d))
	}
	return strings.Join(all, "+")
}

func dayOf(t time.Time, zone *time.Location) time.Time {
	t = t.In(zone)
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, zone)
}

// tickRoom is how much a date under the line takes, mm.
const tickRoom = 17.0

// ticks writes dates under the line: days, weeks or months, as there is room.
func (s *seasonSetting) ticks(l *leaf, y float64, from, to time.Time, at func(time.Time) float64) {
	day := at(from.AddDate(0, 0, 1)) - at(from)
	t := paper.Lettering{Size: 6.5, Grey: true, Align: paper.Centre}
	tick := func(d time.Time, layout string) {
		if x := at(d); x >= at(from)+tickRoom/2 && x <= at(to)-tickRoom/2 {
			l.Line(x, y, x, y+1.2, paper.Pen{Colour: paper.Black, Width: 0.2})
			l.Text(x, y+4, t, d.Format(layout))
		}
	}
	for _, step := range []int{1, 2, 7, 14} {
		if day*float64(step) >= tickRoom {
			for d := from; !d.After(to); d = d.AddDate(0, 0, step) {
				tick(d, s.Day())
			}
			return
		}
	}
	months := 1
	for ; day*30*float64(months) < tickRoom; months++ {
	}
	for d := time.Date(from.Year(), from.Month(), 1, 0, 0, 0, 0, from.Location()); !d.After(to); d = d.AddDate(0, months, 0) {
		tick(d, "01/2006")
	}
}

// weather draws rain as bars and the demand of the air as a line of steps, and gives how far down it came.
func (s *seasonSetting) weather(l *leaf, b paper.Box, at func(time.Time) float64, from, to time.Time) float64 {
	most := 5.0 // mm, least height of the scale
	for _, d := range s.of.Weather {
		most = max(most, d.Rain, d.Demand)
	}
	most = roundUp(most, 1, 2, 5)
	const gutter = 3.5 // for the words
	base, top := b.Y+b.H, b.Y+gutter
	height := func(mm float64) float64 { return (base - top) * mm / most }
	grid := paper.Pen{Colour: "#BBBBBB", Width: 0.1}
	for _, mm := range []float64{most / 2, most} {
		l.Line(b.X, base-height(mm), b.X+b.W, base-height(mm), grid)
	}
	var steps []orb.LineString
	for _, d := range s.of.Weather {
		end := d.Day.AddDate(0, 0, 1)
		if d.Day.Before(from) || end.After(to) {
			continue
		}
		x, w := at(d.Day), at(end)-at(d.Day)
		if d.Rain > 0 {
			l.Fill(paper.Rect(x+0.15*w, base-height(d.Rain), 0.7*w, height(d.Rain)).Path(), slate)
		}
		step := orb.LineString{{x, base - height(d.Demand)}, {x + w, base - height(d.Demand)}}
		if n := len(steps); n > 0 && steps[n-1][len(steps[n-1])-1][0] > x-1e-6 {
			steps[n-1] = append(steps[n-1], step...)
		} else {
			steps = append(steps, step)
		}
	}
	l.Stroke(steps, demandPen)
	for _, mm := range []float64{most / 2, most} {
		l.label(orb.Point{b.X + 0.5, base - height(mm) - 0.4}, paper.Lettering{Size: 6, Grey: true}, s.Digits(fmt.Sprintf("%g mm", mm)))
	}
	l.Line(b.X, base, b.X+b.W, base, paper.Pen{Colour: "#777777", Width: 0.15})
	keys := []key{{words: s.Word("rain, mm a day"), wide: 3, sample: func(l *leaf, x, y float64) { l.Fill(paper.Rect(x, y-2, 3, 2).Path(), slate) }},
		lineKey(s.Word("drying demand of the air, mm a day"), demandPen)}
	l.keys(paper.Rect(b.X+12, b.Y, b.W-12, gutter), b.Y-keyStep+2.4, keys)
	return base
}

var demandPen = paper.Pen{Colour: "#9A5B00", Width: 0.35}
