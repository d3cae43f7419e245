package sheet

import (
	"fmt"
	"math"

	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// halo keeps words readable on lines and patterns.
const halo = `paint-order="stroke" stroke="#FFFFFF" stroke-width="3.5" stroke-linejoin="round"`

// turnMarks draws the dimension lines and what belongs to single places.
func (d *turnDrawing) turnMarks() {
	p := d.plan
	margin := p.Implement.Turning.Margin
	left, right := float64(mapLeft)+44, float64(mapLeft+mapWidth)-44
	d.upright(left, 0, d.tall+margin, fmt.Sprintf("needed %.2f m", p.Turn.Depth), "")
	if margin > 0 {
		y := d.pixel(plane.XY{Y: d.tall})[1]
		d.text(left+7, (y+d.pixel(plane.XY{Y: d.tall + margin})[1])/2+3.5, 9.5, halo, fmt.Sprintf("margin %.2f", margin))
		fmt.Fprintf(d, `<path d="M%.1f %.1fh12" stroke="#222222" stroke-width="0.8"/>`+"\n", left-6, y)
	}
	word := fmt.Sprintf("spare %.2f m", p.Turn.Spare)
	if p.Turn.Spare < 0 {
		word = fmt.Sprintf("short %.2f m", -p.Turn.Spare)
	}
	if p.Headland > 0 {
		d.upright(right, 0, p.Headland, fmt.Sprintf("headland %.2f m", p.Headland), "")
	}
	switch {
	case len(p.Boundary) > 0:
		at := d.at(p.Turn.Place)
		fmt.Fprintf(d, `<circle cx="%.1f" cy="%.1f" r="6" fill="none" stroke="#C2247F" stroke-width="2.4"/>`+"\n", at[0], at[1])
		d.aside(at, orb.Point{d.x0, at[1]}, word, "#8A1459")
	case p.Headland > 0:
		d.upright(right-34, p.Headland, p.Headland-p.Turn.Spare, "", "#C2247F")
		at := d.pixel(plane.XY{Y: p.Headland - p.Turn.Spare/2})
		d.text(right-44, at[1]+4, 12.5, `text-anchor="end" font-weight="bold" fill="#8A1459" `+halo, word)
	}
	d.cutIn()
	d.drawbarAngle()
	d.changes()
	next := d.nextRow()
	low := d.top + d.height - 8
	d.label(orb.Point{d.pixel(plane.XY{})[0], low}, "this row")
	d.label(orb.Point{d.pixel(next)[0], low}, RowInto(p.Turn.Skip))
	if n := p.Turn.Skip; n > 0 {
		d.label(orb.Point{d.pixel(next.Scale(0.5))[0], low - 16}, fmt.Sprintf("%d left for later", n))
	}
	if !p.Turn.Feasible {
		x, y := float64(mapLeft)+26, d.top+26
		fmt.Fprintf(d, `<path d="M%.1f %.1fl15 15m0 -15l-15 15" stroke="#C2247F" stroke-width="3.2"/><circle cx="%.1f" cy="%.1f" r="14" fill="none" stroke="#C2247F" stroke-width="3"/>`+"\n", x-7.5, y-7.5, x, y)
	}
}

// upright is a dimension line between two heights, m beyond the line, with its words beside it.
func (d *turnDrawing) upright(x, from, to float64, words, colour string) {
	if colour == "" {
		colour = "#222222"
	}
	a, b := d.pixel(plane.XY{Y: from})[1], d.pixel(plane.XY{Y: to})[1]
	fmt.Fprintf(d, `<path d="M%.1f %.1fV%.1f" stroke="%s" stroke-width="1.2"/>`+"\n", x, a, b, colour)
	for _, y := range [2]float64{a, b} {
		fmt.Fprintf(d, `<path d="M%.1f %.1fh16" stroke="%s" stroke-width="1.2"/><path d="M%.1f %.1fl8 -8" stroke="%s" stroke-width="1.6"/>`+"\n", x-8, y, colour, x-4, y+4, colour)
	}
	middle := (a + b) / 2
	fmt.Fprintf(d, `<text x="%.1f" y="%.1f" font-size="12.5" font-weight="bold" fill="%s" text-anchor="middle" transform="rotate(-90 %.1f %.1f)" %s>%s</text>`+"\n",
		x-7, middle, colour, x-7, middle, halo, escape(words))
}

func (d *turnDrawing) label(at orb.Point, words string) {
	d.text(at[0], at[1], 11.5, `text-anchor="middle" `+halo, words)
}

// cutIn marks where the implement's axle is farthest off the tractor's path.
func (d *turnDrawing) cutIn() {
	off, k := d.plan.Turn.Driven.CutIn()
	if off == 0 {
		return
	}
	v := d.plan.Turn.Driven
	axle := v.Axle(k)
	nearest, best := v.Moments[0].Set.Antenna, math.Inf(1)
	for _, m := range v.Moments[:k+1] {
		if r := m.Set.Antenna.Dist(axle); r < best {
			nearest, best = m.Set.Antenna, r
		}
	}
	a, b := d.at(axle), d.at(nearest)
	fmt.Fprintf(d, `<path d="M%.1f %.1fL%.1f %.1f" stroke="#C2247F" stroke-width="3"/><circle cx="%.1f" cy="%.1f" r="3.2" fill="#C2247F"/>`+"\n", a[0], a[1], b[0], b[1], a[0], a[1])
	d.aside(a, b, fmt.Sprintf("cuts in %.2f m", off), "#8A1459")
}

// aside writes words on the side of a that looks away from b.
func (d *turnDrawing) aside(a, b orb.Point, words, colour string) {
	dx, anchor := 9.0, "start"
	if a[0] < b[0] {
		dx, anchor = -9, "end"
	}
	d.text(a[0]+dx, a[1]+4, 12, fmt.Sprintf(`text-anchor="%s" font-weight="bold" fill="%s" %s`, anchor, colour, halo), words)
}

// drawbarAngle marks the greatest angle between tractor and implement, at the hitch.
func (d *turnDrawing) drawbarAngle() {
	p := d.plan
	if !p.Implement.Mount.Trailed {
		return
	}
	v, k := p.Turn.Driven, p.Turn.Driven.AngleAt
	hitch, s := v.Hitch(k), v.Moments[k].Set
	reach := p.Implement.Mount.Drawbar * 0.6
	on, back := hitch.Sub(s.Ahead.Scale(reach)), hitch.Sub(s.Drawn.Scale(reach))
	a, b, c := d.at(on), d.at(hitch), d.at(back)
	sweep := 0
	if s.Ahead.Cross(s.Drawn) < 0 {
		sweep = 1
	}
	r := reach * d.scale
	fmt.Fprintf(d, `<path d="M%.1f %.1fL%.1f %.1f" stroke="#111111" stroke-width="1" stroke-dasharray="3 2"/><path d="M%.1f %.1fA%.1f %.1f 0 0 %d %.1f %.1f" fill="none" stroke="#111111" stroke-width="1.6"/>`+"\n",
		b[0], b[1], a[0], a[1], a[0], a[1], r, r, sweep, c[0], c[1])
	words := fmt.Sprintf("drawbar %.0f°", p.Turn.Angle)
	if p.Turn.AngleLimit > 0 {
		words += fmt.Sprintf(" of %.0f°", p.Turn.AngleLimit)
	}
	d.aside(a, b, words, "#111111")
}

// changes numbers the places where the driving direction changes.
func (d *turnDrawing) changes() {
	v, n := d.plan.Turn.Driven, 0
	for k := 1; k+1 < len(v.Moments); k++ {
		if v.Moments[k].Reverse == v.Moments[k+1].Reverse {
			continue
		}
		n++
		at := d.at(v.Moments[k].Set.Antenna)
		fmt.Fprintf(d, `<circle cx="%.1f" cy="%.1f" r="9" fill="#FFFFFF" stroke="#111111" stroke-width="2"/>`+"\n", at[0], at[1])
		d.text(at[0], at[1]+4, 11.5, `text-anchor="middle" font-weight="bold"`, fmt.Sprint(n))
	}
}

// turnPanel draws heading, verdict, numbers, legend and caution; it returns how far down it came, in pixels.
func (d *turnDrawing) turnPanel() float64 {
	p, t := d.plan, d.plan.Turn
	d.text(margin, 40, 21, `font-weight="bold"`, shorten(p.heading(), 88))
	sub := fmt.Sprintf("working width %.2f m, rows %.2f m apart, least radius %.2f m", p.Implement.Width, p.Line.Distance/float64(t.Skip+1), p.Implement.TurnRadius())
	if t.Skip > 0 {
		sub += fmt.Sprintf("; into the %s, %.2f m off", RowInto(t.Skip), p.Line.Distance)
	}
	d.text(margin, 63, 12.5, `fill="#333333"`, sub)
	y := float64(mapTop) + 14
	verdict, colour := "can be driven", "#222222"
	if !t.Feasible {
		verdict, colour = "cannot be driven", "#C2247F"
	}
	d.text(panelLeft, y, 17, fmt.Sprintf(`font-weight="bold" fill="%s"`, colour), verdict)
	if t.Why != "" {
		for _, line := range wrap(t.Why, 52) {
			y += 17
			d.text(panelLeft, y, 12, "", line)
		}
	}
	y += 12
	for _, row := range d.numbers() {
		y += 18
		d.text(panelLeft, y, 12, "", row[0])
		d.text(panelLeft+panelWidth, y, 12, `text-anchor="end" font-weight="bold"`, row[1])
	}
	y = d.turnLegend(y + 14)
	y += 10
	for _, line := range wrap(turnCaution, 58) {
		y += 14
		d.text(panelLeft, y, 10.5, `fill="#333333"`, line)
	}
	return y
}

// numbers are the rows of the panel: words and value with unit.
func (d *turnDrawing) numbers() [][2]string {
	p, t := d.plan, d.plan.Turn
	metres := func(v float64) string { return fmt.Sprintf("%.2f m", v) }
	rows := [][2]string{{"depth needed beyond the row's end", metres(t.Depth)}}
	if p.Headland > 0 {
		rows = append(rows, [2]string{"depth of the headland", metres(p.Headland)})
	}
	if word := "spare beyond the margin"; p.Headland > 0 || len(p.Boundary) > 0 {
		if t.Spare < 0 {
			word = "short, the margin included"
		}
		rows = append(rows, [2]string{word, metres(math.Abs(t.Spare))})
	}
	rows = append(rows, [2]string{"margin kept", metres(p.Implement.Turning.Margin)}, [2]string{"way of the rear axle", fmt.Sprintf("%.1f m", t.Length)})
	if t.Reverse > 0 {
		rows = append(rows, [2]string{"of it in reverse", fmt.Sprintf("%.1f m, %d changes", t.Reverse, t.Changes)})
	}
	if t.Time > 0 {
		rows = append(rows, [2]string{"time", fmt.Sprintf("%.0f s", t.Time)})
	}
	if p.Implement.Mount.Trailed {
		angle := fmt.Sprintf("%.1f°", t.Angle)
		if t.AngleLimit > 0 {
			angle += fmt.Sprintf(" of %.1f°", t.AngleLimit)
		}
		rows = append(rows, [2]string{"greatest drawbar angle", angle}, [2]string{"implement cuts in by", metres(t.CutIn)},
			[2]string{"straight run-in to settle", metres(t.RunIn)})
	}
	if p.Ground.Area > 0 {
		rows = append(rows, [2]string{"ground passed over", fmt.Sprintf("%.0f m²", p.Ground.Area)})
	}
	return append(rows, [2]string{"missed at the row's start", fmt.Sprintf("%.2f m²", t.Missed)})
}

// turnLegend says what the lines mean.
func (d *turnDrawing) turnLegend(y float64) float64 {
	line := func(style, words string) {
		y += 18
		fmt.Fprintf(d, `<path d="M%d %.1fh30" fill="none" %s/>`+"\n", panelLeft, y-4, style)
		d.text(panelLeft+38, y, 11.5, "", words)
	}
	patch := func(style, words string) {
		y += 18
		fmt.Fprintf(d, `<rect x="%d" y="%.1f" width="30" height="12" %s/>`+"\n", panelLeft, y-10, style)
		d.text(panelLeft+38, y, 11.5, "", words)
	}
	line(`stroke="#111111" stroke-width="2.4"`, "path of the tractor's rear axle, forward")
	if d.plan.Turn.Reverse > 0 {
		line(`stroke="#111111" stroke-width="2.4" stroke-dasharray="6 5"`, "in reverse; numbers: change of direction")
	}
	if d.plan.Implement.Mount.Trailed {
		line(`stroke="#C2247F" stroke-width="1.5"`, "path of the implement's axle")
		if d.plan.Implement.Body.Wheels > 0 {
			line(`stroke="#6F6F6F" stroke-width="1" stroke-dasharray="1 3"`, "tracks of its wheels")
		}
	}
	patch(`fill="#5B7A99" fill-opacity="0.28" stroke="#33475C" stroke-width="0.9"`, "ground swept by tractor and implement")
	patch(`fill="#FFFFFF" stroke="#27364A" stroke-width="1.3"`, "tractor, at some moments")
	patch(`fill="#27364A" fill-opacity="0.22" stroke="#27364A" stroke-width="1.3"`, "implement, at some moments")
	patch(`fill="url(#row)" stroke="#A08A4E"`, "rows worked")
	line(`stroke="#333333" stroke-width="1.3" stroke-dasharray="7 4"`, "end of the rows, headland beyond it")
	if d.plan.Headland > 0 || len(d.plan.Boundary) > 0 {
		patch(`fill="url(#obstacle)" stroke="#222222" stroke-width="1.6"`, "beyond the boundary, obstacles")
	}
	return y
}

// RowInto names the row that a turn leads into with so many left for later.
func RowInto(skip int) string {
	n := skip + 1
	switch {
	case n == 1:
		return "next row"
	case n%100 >= 11 && n%100 <= 13:
		return fmt.Sprintf("%dth row", n)
	}
	end := "th"
	if last := n % 10; last >= 1 && last <= 3 {
		end = [...]string{"st", "nd", "rd"}[last-1]
	}
	return fmt.Sprintf("%d%s row", n, end)
}
