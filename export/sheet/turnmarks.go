package sheet

import (
	"fmt"
	"math"

	"balk/coverage/turn"
	"balk/export/sheet/paper"
	"balk/export/words"

	"github.com/paulmach/orb"
)

const deepPink = "#8A1459" // of words on what is missed, short or cut in

// marks draws the dimension lines and what belongs to single places.
func (d *turnPicture) marks() {
	p := d.plan
	margin := p.Implement.Turning.Margin
	f := d.frame
	left, right := f.X+11, f.X+f.W-11
	d.upright(left, -1.8, 0, d.tall+margin, d.Say("needed %.2f m", p.Turn.Depth), paper.Black)
	if margin > 0 {
		y, rim := d.height(d.tall), d.height(d.tall+margin)
		d.Line(left-1.5, y, left+1.5, y, paper.Pen{Colour: paper.Black, Width: 0.2})
		d.label(orb.Point{left + 2, (y+rim)/2 + 0.9}, paper.Lettering{Size: 7}, d.Say("margin %.2f", margin))
	}
	word := d.Say("spare %.2f m", turn.Told(p.Turn.Spare))
	if p.Turn.Spare < 0 {
		word = d.Say("short %.2f m", -turn.Told(p.Turn.Spare))
	}
	if p.Headland > 0 {
		d.upright(right, 4, 0, p.Headland, d.Say("headland %.2f m", p.Headland), paper.Black)
	}
	bold := paper.Lettering{Size: 9, Bold: true, Colour: deepPink}
	switch {
	case len(p.Boundary) > 0:
		at := d.at(p.Turn.Place)
		d.Stroke([]orb.LineString{paper.Ring(at, 1.6)}, paper.Pen{Colour: pink, Width: 0.6})
		d.aside(at, f.X+f.W/2, word, deepPink)
	case p.Headland > 0:
		d.upright(right-8, 0, p.Headland, p.Headland-p.Turn.Spare, "", pink)
		bold.Align = paper.Right
		d.label(orb.Point{right - 10.5, d.height(p.Headland-p.Turn.Spare/2) + 1.1}, bold, word)
	}
	d.cutIn()
	d.drawbarAngle()
	d.changes()
	x, y := d.nextRow()
	low := f.Y + f.H - 2
	small := paper.Lettering{Size: 8, Align: paper.Centre}
	d.label(orb.Point{d.at(d.place(0, 0))[0], low}, small, d.Word("this row"))
	d.label(orb.Point{d.at(d.place(x, y))[0], low}, small, RowInto(d.Language, p.Turn.Skip))
	if n := p.Turn.Skip; n > 0 {
		d.label(orb.Point{d.at(d.place(x/2, y/2))[0], low - 4.2}, small, d.Say("%d left for later", n))
	}
	if !p.Turn.Feasible {
		d.crossedRing(orb.Point{f.X + 6, f.Y + 6}, 3.6, true, paper.Pen{Colour: pink, Width: 0.8})
	}
}

// height is where on the page a line so many m beyond the row's end lies.
func (d *turnPicture) height(beyond float64) float64 { return d.at(d.place(0, beyond))[1] }

// upright is a dimension line between two heights, m beyond the line, with its words so many mm beside it.
func (d *turnPicture) upright(x, beside, from, to float64, words, colour string) {
	a, b := d.height(from), d.height(to)
	with := paper.Pen{Colour: colour, Width: 0.3}
	d.Line(x, a, x, b, with)
	for _, y := range [2]float64{a, b} {
		d.Line(x-2, y, x+2, y, with)
		d.Line(x-1, y+1, x+1, y-1, paper.Pen{Colour: colour, Width: 0.4})
	}
	if words != "" {
		d.label(orb.Point{x + beside, (a + b) / 2}, paper.Lettering{Size: 9, Bold: true, Colour: colour, Align: paper.Centre, Turn: 90}, words)
	}
}

// cutIn marks where the implement's axle is farthest off the tractor's path.
func (d *turnPicture) cutIn() {
	v := d.plan.Turn.Driven
	off, k := v.CutIn()
	if off == 0 {
		return
	}
	axle := v.Axle(k)
	nearest, best := v.Moments[0].Set.Antenna, math.Inf(1)
	for _, m := range v.Moments[:k+1] {
		if r := m.Set.Antenna.Dist(axle); r < best {
			nearest, best = m.Set.Antenna, r
		}
	}
	a, b := d.at(axle), d.at(nearest)
	d.Line(a[0], a[1], b[0], b[1], paper.Pen{Colour: pink, Width: 0.8})
	d.Fill([]orb.LineString{paper.Ring(a, 0.85)}, pink)
	d.aside(a, b[0], d.Say("cuts in %.2f m", off), deepPink)
}

// aside writes words on the side of a place that looks away from another x.
func (d *turnPicture) aside(a orb.Point, from float64, words, colour string) {
	t := paper.Lettering{Size: 9, Bold: true, Colour: colour}
	x := a[0] + 2.4
	if a[0] < from {
		t.Align, x = paper.Right, a[0]-2.4
	}
	d.label(orb.Point{x, a[1] + 1.1}, t, words)
}

// drawbarAngle marks the greatest angle between tractor and implement, at the hitch.
func (d *turnPicture) drawbarAngle() {
	p := d.plan
	if !p.Implement.Mount.Trailed {
		return
	}
	v, k := p.Turn.Driven, p.Turn.Driven.AngleAt
	hitch, s := v.Hitch(k), v.Moments[k].Set
	reach := p.Implement.Mount.Drawbar * 0.6
	from, to := d.at(hitch.Sub(s.Ahead.Scale(reach))), d.at(hitch.Sub(s.Drawn.Scale(reach)))
	at := d.at(hitch)
	d.Line(at[0], at[1], from[0], from[1], paper.Pen{Colour: "#111111", Width: 0.26, Dash: []float64{0.8, 0.5}})
	begin := math.Atan2(from[1]-at[1], from[0]-at[0])
	bend := math.Remainder(math.Atan2(to[1]-at[1], to[0]-at[0])-begin, 2*math.Pi)
	arc := make(orb.LineString, 25)
	for i := range arc {
		sin, cos := math.Sincos(begin + bend*float64(i)/float64(len(arc)-1))
		arc[i] = orb.Point{at[0] + reach*d.mm()*cos, at[1] + reach*d.mm()*sin}
	}
	d.Stroke([]orb.LineString{arc}, paper.Pen{Colour: "#111111", Width: 0.4})
	words := d.Say("drawbar %.0f°", p.Turn.Angle)
	if p.Turn.AngleLimit > 0 {
		words += d.Say(" of %.0f°", p.Turn.AngleLimit)
	}
	d.aside(from, at[0], words, "#111111")
}

// changes numbers the places where the driving direction changes.
func (d *turnPicture) changes() {
	v, n := d.plan.Turn.Driven, 0
	for k := 1; k+1 < len(v.Moments); k++ {
		if v.Moments[k].Reverse == v.Moments[k+1].Reverse {
			continue
		}
		n++
		at := d.at(v.Moments[k].Set.Antenna)
		d.Fill([]orb.LineString{paper.Ring(at, 2.3)}, "#FFFFFF")
		d.Stroke([]orb.LineString{paper.Ring(at, 2.3)}, paper.Pen{Colour: "#111111", Width: 0.5})
		d.Text(at[0], at[1]+1.1, paper.Lettering{Size: 8.5, Bold: true, Align: paper.Centre}, fmt.Sprint(n))
	}
}

// verdict writes whether the turn can be driven, the numbers, the keys and the caution.
func (d *turnPicture) verdict() {
	t := d.plan.Turn
	words, colour := d.Word("can be driven"), paper.Black
	if !t.Feasible {
		words, colour = d.Word("cannot be driven"), pink
	}
	d.y += 4.5
	d.Text(d.column.X, d.y, paper.Lettering{Size: 12, Bold: true, Colour: colour}, words)
	if t.Why != "" {
		d.words(paper.Lettering{Size: 8}, 4, WhyNot(d.Language, t))
	}
	d.y += 2
	d.numbers()
	d.y = d.keys(d.column, d.y+1, d.turnKeys())
	d.caution(d.BeforeWork())
}

// numbers are the rows of the column.
func (d *turnPicture) numbers() {
	p, t := d.plan, d.plan.Turn
	metres := func(v float64) string { return d.Say("%.2f m", v) }
	known, trailed := p.Headland > 0 || len(p.Boundary) > 0, p.Implement.Mount.Trailed
	angle := d.Say("%.1f°", t.Angle)
	if t.AngleLimit > 0 {
		angle += d.Say(" of %.1f°", t.AngleLimit)
	}
	for _, row := range []struct {
		shown        bool
		words, value string
	}{
		{true, d.Word("width needed beyond the row's end"), metres(t.Depth)},
		{p.Headland > 0, d.Word("width of the headland"), metres(p.Headland)},
		{known && t.Spare >= 0, d.Word("spare beyond the margin"), metres(turn.Told(t.Spare))},
		{known && t.Spare < 0, d.Word("short, the margin included"), metres(-turn.Told(t.Spare))},
		{true, d.Word("margin kept"), metres(p.Implement.Turning.Margin)},
		{true, d.Word("way of the rear axle"), d.Say("%.1f m", t.Length)},
		{t.Reverse > 0, d.Word("of it in reverse"), d.Say("%.1f m", t.Reverse) + ", " + d.Count(t.Changes, "change")},
		{t.Time > 0, d.Word("time"), d.Say("%.0f s", t.Time)},
		{trailed, d.Word("greatest drawbar angle"), angle},
		{trailed, d.Word("implement cuts in by"), metres(t.CutIn)},
		{trailed, d.Word("straight run-in to settle"), metres(t.RunIn)},
		{p.Ground.Area > 0, d.Word("ground passed over"), d.Say("%.0f m²", p.Ground.Area)},
		{true, d.Word("missed at the row's start"), d.Say("%.2f m²", t.Missed)},
	} {
		if row.shown {
			d.row(row.words, row.value)
		}
	}
}

// turnKeys say what the lines mean.
func (d *turnPicture) turnKeys() []key {
	p := d.plan
	var keys []key
	add := func(shown bool, k key) {
		if shown {
			keys = append(keys, k)
		}
	}
	trailed := p.Implement.Mount.Trailed
	add(true, lineKey(d.Word("path of the tractor's rear axle, forward"), forwardPen))
	add(p.Turn.Reverse > 0, lineKey(d.Word("in reverse; numbers: change of direction"), reversePen))
	add(trailed, lineKey(d.Word("path of the implement's axle"), axlePen))
	add(trailed && p.Implement.Body.Wheels > 0, lineKey(d.Word("tracks of its wheels"), wheelPen))
	add(true, groundKey(d.Word("ground swept by tractor and implement"), sweptMark))
	add(true, groundKey(d.Word("tractor, at some moments"), tractorMark))
	add(true, groundKey(d.Word("implement, at some moments"), implementMark))
	add(true, groundKey(d.Word("rows worked"), rowMark))
	add(true, lineKey(d.Word("end of the rows, headland beyond it"), headlandPen))
	add(p.Headland > 0 || len(p.Boundary) > 0, groundKey(d.Word("beyond the boundary, obstacles"), noGoMark))
	return keys
}

// RowInto names the row that a turn leads into with so many left for later.
func RowInto(l words.Language, skip int) string {
	n := skip + 1
	switch {
	case n == 1:
		return l.Word("next row")
	case l == words.German:
		return fmt.Sprintf("%d. Reihe", n)
	case n%100 >= 11 && n%100 <= 13:
		return fmt.Sprintf("%dth row", n)
	}
	end := "th"
	if last := n % 10; last >= 1 && last <= 3 {
		end = [...]string{"st", "nd", "rd"}[last-1]
	}
	return fmt.Sprintf("%d%s row", n, end)
}
