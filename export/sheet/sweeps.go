package sheet

import (
	"cmp"
	"fmt"
	"math"

	"balk/coverage/rig"
	"balk/coverage/sweeps"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// SweepsPlan is a layout of sweeps to be drawn.
type SweepsPlan struct {
	Implement rig.Implement
	Axle      float64 // m ahead of the middle of the bar: the centre of a curve lies abeam of it
}

const (
	sweepTrail = 0.55 // m of the ground drawn behind the last tip
	// sweepBeyond: states are drawn so far beyond the limit that the ribbon is seen.
	sweepBeyond = 1.5
	// ribbonSeen is the least width a ribbon is drawn in, mm.
	ribbonSeen = 0.35
	cellTitle  = 11.5 // mm
	// numberApart: numbers of sweeps stand no closer.
	numberApart = 2.6 // mm
)

var (
	bladePen = paper.Pen{Colour: paper.Black, Width: 0.55, Round: true}
	wornPen  = paper.Pen{Colour: ink, Width: 0.3, Dash: []float64{1.2, 0.8}}
	chartPen = paper.Pen{Colour: ink, Width: 0.45}
	axisPen  = paper.Pen{Colour: "#777777", Width: 0.2}
)

// Sweeps draws a layout from above, to scale: straight ahead, crabbed and in a curve somewhat beyond what it can take, with what is cut,
// lapped and left behind it; and the thinnest lap over crab angle and curvature. Errors: no layout; page is not valid.
func Sweeps(p SweepsPlan, page Page) (*paper.Leaf, error) {
	f := sweeps.Of(p.Implement.Sweeps, false)
	if len(f) == 0 {
		return nil, fmt.Errorf("no sweeps to draw")
	}
	l := page.Language
	right, left := f.Span()
	title := l.Say("%s: what its sweeps cut", cmp.Or(p.Implement.Name, l.Word("Set")))
	drawn, err := newPicture(page, title, l.Say("%d sweeps from above, travel up the page, %.2f m cut straight ahead, numbered from the left end", len(f), left-right))
	if err != nil {
		return nil, err
	}
	if page.Sweeps != nil { // in a sheet its foot stands below
		drawn.room.H, drawn.column.H = drawn.room.H-footHeight, drawn.column.H-footHeight
	}
	d := &sweepsPicture{drawn, f, sweeps.Of(p.Implement.Sweeps, true), p.Implement.Sweeps.Wears(), f.Limits(p.Axle), p.Axle}
	h := d.room.H/3 - partGap
	cell := func(row float64) paper.Box { return paper.Rect(d.room.X, d.room.Y+row*(h+1.5*partGap), d.room.W, h) }
	d.state(cell(0), l.Word("straight ahead"), sweeps.Motion{})
	says, m := d.crabbed()
	d.state(cell(1), says, m)
	says, m = d.curved()
	d.state(cell(2), says, m)
	d.sayLimits()
	top := d.y + partGap
	d.charts(paper.Rect(d.column.X, top, d.column.W, d.column.Y+d.column.H-top))
	return d.Leaf, nil
}

// sweepsPicture is a layout being drawn.
type sweepsPicture struct {
	*picture
	frame, worn sweeps.Frame
	wears       bool // worn differs from frame
	limits      sweeps.Limits
	axle        float64
}

// crabbed is the state somewhat beyond the limit of the worse side.
func (d *sweepsPicture) crabbed() (string, sweeps.Motion) {
	limit, side, says := d.limits.CrabLeft, 1.0, "turned %.1f° to the left of its way"
	if d.limits.CrabRight.Opens() && (!limit.Opens() || d.limits.CrabRight.At < limit.At) {
		limit, side, says = d.limits.CrabRight, -1, "turned %.1f° to the right of its way"
	}
	at := min(limit.At*sweepBeyond, sweeps.MostCrab)
	return d.Say(says, at*180/math.Pi), sweeps.Motion{Crab: side * at}
}

// curved is the same in a curve.
func (d *sweepsPicture) curved() (string, sweeps.Motion) {
	limit, side, says := d.limits.CurveLeft, 1.0, "in a curve to the left, radius %.1f m"
	if d.limits.CurveRight.Opens() && (!limit.Opens() || d.limits.CurveRight.At < limit.At) {
		limit, side, says = d.limits.CurveRight, -1, "in a curve to the right, radius %.1f m"
	}
	at := limit.At
	if limit.Opens() {
		right, left := d.frame.Span()
		at = min(at*sweepBeyond, 1/max(left, -right)) // no tighter than about the inner end
	}
	return d.Say(says, 1/at), sweeps.Motion{Curvature: side * at, Axle: d.axle}
}

// state draws the frame under a motion, and the ground behind it.
func (d *sweepsPicture) state(b paper.Box, says string, m sweeps.Motion) {
	cuts := d.frame.Cuts(m)
	near, box := 0.0, plane.EmptyBox() // near: m along the way, where all have passed
	for _, one := range d.frame {
		for _, p := range []plane.XY{one.Nose, one.Left, one.Right} {
			near, box = max(near, m.Far(p)), box.Extend(m.Seen(p))
		}
	}
	for _, c := range cuts {
		box = box.Extend(m.Behind(c.Right, near+sweepTrail), m.Behind(c.Left, near+sweepTrail))
	}
	size := box.Max.Sub(box.Min) // x ahead, y to the left
	room := paper.Rect(b.X, b.Y+cellTitle, b.W, b.H-cellTitle)
	scale := min(room.W/size.Y, room.H/size.X) // mm per m
	at := func(q plane.XY) orb.Point {
		return orb.Point{room.X + room.W/2 - (q.Y-(box.Min.Y+box.Max.Y)/2)*scale, room.Y + (box.Max.X-q.X)*scale}
	}
	band := func(right, left float64) []orb.LineString {
		if short := ribbonSeen/scale - (left - right); short > 0 {
			right, left = right-short/2, left+short/2
		}
		const steps = 12
		var ring orb.LineString
		for k := 0.0; k <= steps; k++ {
			ring = append(ring, at(m.Behind(right, near+sweepTrail*k/steps)))
		}
		for k := float64(steps); k >= 0; k-- {
			ring = append(ring, at(m.Behind(left, near+sweepTrail*k/steps)))
		}
		return []orb.LineString{append(ring, ring[0])}
	}
	d.figure(says, func() {
		for _, c := range cuts {
			d.Cover(band(c.Right, c.Left), onceMark)
		}
		for _, lap := range d.frame.Laps(m) {
			right, left := lap.At-math.Abs(lap.Lap)/2, lap.At+math.Abs(lap.Lap)/2
			if lap.Lap >= 0 {
				d.Cover(band(right, left), twiceMark)
				continue
			}
			d.Cover(band(right, left), missedMark)
		}
		for _, one := range d.frame {
			d.Stroke([]orb.LineString{{at(m.Seen(one.Left)), at(m.Seen(one.Nose)), at(m.Seen(one.Right))}}, bladePen)
		}
		d.bladeNumbers(m, at, scale)
	})
	d.section(b.X, b.Y+3, says)
	told := d.Word("everything is cut")
	if thin, ok := d.frame.Thinnest(m); ok && thin.Lap < 0 {
		told = d.Say("%.1f cm in ribbons, the widest %.1f cm between %d and %d", 100*d.frame.Uncut(m), -100*thin.Lap, thin.Left, thin.Right)
	} else if ok {
		told = d.Say("everything is cut; the thinnest lap is %.1f cm, between %d and %d", 100*thin.Lap, thin.Left, thin.Right)
	}
	d.Text(b.X, b.Y+6.8, paper.Lettering{Size: 7.5}, told)
}

// bladeNumbers writes them ahead of the noses, as many as there is room for.
func (d *sweepsPicture) bladeNumbers(m sweeps.Motion, at func(plane.XY) orb.Point, scale float64) {
	t := paper.Lettering{Size: 5.5, Grey: true, Align: paper.Centre}
	right, left := d.frame.Span()
	every := 1
	if apart := (left - right) / float64(len(d.frame)) * scale; apart < numberApart {
		every = 5 * int(math.Ceil(numberApart/apart/5))
	}
	for i, one := range d.frame {
		if every == 1 || i == 0 || one.Number%every == 0 {
			p := at(m.Seen(one.Nose))
			d.Text(p[0], p[1]-0.9, t, fmt.Sprint(one.Number))
		}
	}
}

// charts draw the thinnest lap over crab angle and over curvature.
func (d *sweepsPicture) charts(b paper.Box) {
	h := (b.H - partGap) / 2
	most := func(a, b sweeps.Limit, usual float64) float64 {
		far := 0.0
		for _, l := range []sweeps.Limit{a, b} {
			if l.Opens() {
				far = max(far, 2*l.At)
			} else {
				far = max(far, min(l.At, usual))
			}
		}
		return far
	}
	crab := min(most(d.limits.CrabLeft, d.limits.CrabRight, sweeps.MostCrab/3), sweeps.MostCrab)
	d.chart(paper.Rect(b.X, b.Y, b.W, h), d.Word("thinnest lap, cm, by crab angle"), crab, d.limits.CrabLeft, d.limits.CrabRight,
		func(p float64) sweeps.Motion { return sweeps.Motion{Crab: p} }, func(p float64) string { return d.Say("%.1f°", math.Abs(p)*180/math.Pi) }, d.crabTo)
	right, left := d.frame.Span()
	curve := min(most(d.limits.CurveLeft, d.limits.CurveRight, 0.2), 0.95/max(left, -right))
	d.chart(paper.Rect(b.X, b.Y+h+partGap, b.W, h), d.Word("thinnest lap, cm, by curvature (radius, m)"), curve, d.limits.CurveLeft, d.limits.CurveRight,
		func(p float64) sweeps.Motion { return sweeps.Motion{Curvature: p, Axle: d.axle} }, func(p float64) string {
			if p == 0 {
				return "∞"
			}
			return d.Say("%.0f m", 1/math.Abs(p))
		}, d.curveTo)
}

// chart draws one, to the left of its middle what is turned or bends to the left.
func (d *sweepsPicture) chart(b paper.Box, title string, most float64, left, right sweeps.Limit, motion func(float64) sweeps.Motion, label func(float64) string, to func(sweeps.Limit) string) {
	const steps = 120
	small := paper.Lettering{Size: 6.5, Grey: true, Align: paper.Centre}
	d.Text(b.X, b.Y+3, paper.Lettering{Size: 8, Bold: true}, title)
	frame := paper.Rect(b.X+8, b.Y+8, b.W-10, b.H-17)
	curve := func(f sweeps.Frame) (ps, laps []float64) {
		for k := -steps; k <= steps; k++ {
			p := most * float64(k) / steps
			if thin, ok := f.Thinnest(motion(p)); ok {
				ps, laps = append(ps, p), append(laps, 100*thin.Lap)
			}
		}
		return ps, laps
	}
	ps, laps := curve(d.frame)
	var worn []float64
	if d.wears {
		_, worn = curve(d.worn)
	}
	low, high := 0.0, 1.0
	for _, v := range append(append([]float64{}, laps...), worn...) {
		low, high = min(low, v), max(high, v)
	}
	at := func(p, v float64) orb.Point {
		return orb.Point{frame.X + frame.W*(0.5-0.5*p/most), frame.Y + frame.H*(high-v)/(high-low)}
	}
	d.Line(frame.X, at(0, 0)[1], frame.X+frame.W, at(0, 0)[1], axisPen)
	for _, v := range []float64{low, 0, high} {
		if v == 0 || math.Abs(v) > (high-low)/8 {
			t := small
			t.Align = paper.Right
			d.Text(frame.X-1, at(0, v)[1]+1, t, d.Say("%.0f", v))
		}
	}
	for _, p := range []float64{-most, -most / 2, 0, most / 2, most} {
		x := at(p, low)[0]
		d.Line(x, frame.Y+frame.H, x, frame.Y+frame.H+1, axisPen)
		d.Text(x, frame.Y+frame.H+3.6, small, label(p))
	}
	for _, one := range []struct {
		limit sweeps.Limit
		side  float64
	}{{left, 1}, {right, -1}} {
		if one.limit.Opens() && one.limit.At <= most {
			x := at(one.side*one.limit.At, 0)[0]
			d.Line(x, frame.Y, x, frame.Y+frame.H, paper.Pen{Colour: pink, Width: 0.32})
			d.Text(x, frame.Y-0.6, paper.Lettering{Size: 6.5, Align: paper.Centre, Colour: pink}, to(one.limit))
		}
	}
	line := func(laps []float64) []orb.LineString {
		var out orb.LineString
		for i, v := range laps {
			out = append(out, at(ps[i], v))
		}
		return []orb.LineString{out}
	}
	if d.wears {
		d.Stroke(line(worn), wornPen)
	}
	d.Stroke(line(laps), chartPen)
	grey := paper.Lettering{Size: 6.5, Grey: true}
	d.Text(frame.X, frame.Y+frame.H+7, grey, d.Word("to the left"))
	grey.Align = paper.Right
	d.Text(frame.X+frame.W, frame.Y+frame.H+7, grey, d.Word("to the right"))
}

// CrabTo is the largest crab angle at which everything is cut, degrees, or the largest that is judged where nothing opens; CurveTo the least radius, m: both
// rounded to the safe side.
func CrabTo(l words.Language, degrees float64, opens bool) string {
	if !opens {
		return l.Say("%.0f° and more", math.Floor(degrees+limitRounding))
	}
	return l.Say("%.1f°", math.Floor(10*degrees+limitRounding)/10)
}

// limitRounding: a limit so little below a round figure, as rounding leaves it, is that figure.
const limitRounding = 1e-9

// CurveTo is the least radius of a curve in which everything is cut, m: see CrabTo.
func CurveTo(l words.Language, radius float64) string {
	if radius < 10 {
		return l.Say("%.1f m", max(0, math.Ceil(10*radius-limitRounding))/10)
	}
	return l.Say("%.0f m", math.Ceil(radius-limitRounding))
}

func (d *sweepsPicture) crabTo(l sweeps.Limit) string {
	return CrabTo(d.Language, l.At*180/math.Pi, l.Opens())
}

func (d *sweepsPicture) curveTo(l sweeps.Limit) string { return CurveTo(d.Language, 1/l.At) }

// sayLimits writes the figures beside the drawings.
func (d *sweepsPicture) sayLimits() {
	d.heading(d.Word("Everything is cut"))
	crab, curve := d.crabTo, d.curveTo
	d.row(d.Word("up to, turned left"), crab(d.limits.CrabLeft))
	d.row(d.Word("up to, turned right"), crab(d.limits.CrabRight))
	d.row(d.Word("radius to the left from"), curve(d.limits.CurveLeft))
	d.row(d.Word("radius to the right from"), curve(d.limits.CurveRight))
	if d.wears {
		worn := d.worn.Limits(d.axle)
		d.y += 2
		d.heading(d.Word("With worn sweeps (dashed)"))
		d.row(d.Word("up to, turned left"), crab(worn.CrabLeft))
		d.row(d.Word("up to, turned right"), crab(worn.CrabRight))
		d.row(d.Word("radius to the left from"), curve(worn.CurveLeft))
		d.row(d.Word("radius to the right from"), curve(worn.CurveRight))
	}
	d.y += 3
	d.y = d.keys(d.column, d.y, []key{groundKey(d.Word("cut once"), onceMark), groundKey(d.Word("lapped by two sweeps"), twiceMark),
		groundKey(d.Word("ribbon left uncut"), missedMark)})
	d.caution(d.InTheYard())
}
