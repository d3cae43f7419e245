package sheet

import (
	"errors"
	"fmt"
	"io"
	"math"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// TurnPlan is a turn to be drawn: where it is asked for, how it was judged, what it sweeps.
type TurnPlan struct {
	Title     string
	Implement rig.Implement
	Line      turn.Line   // the row's end
	Turn      turn.Turn   // with the set driven
	Ground    turn.Ground // swept by it
	Headland  float64     // m, depth of the headland beyond the line; 0 = not known
	// Boundary is the field with its obstacles; none: a straight headland, its boundary square to the rows.
	Boundary []plane.Polygon
}

const (
	turnGutter = 92.0 // pixels left and right of the turn, for dimension lines
	turnFoot   = 52.0 // pixels below it, for the scale bar
	rowTail    = 2.5  // m of the rows drawn behind what is swept
	leastTurn  = 20.0 // m, least width drawn
)

// turnCaution is the short form of the cautions for a plan that says where to drive.
const turnCaution = "Before anyone drives this: watch overhead lines when folding, slopes and rollover, wet ground and drains, " +
	"drawbar and axle loads, a drawbar that folds in reverse, people nearby, the road beyond the boundary and buried services. " +
	"Widths and lengths are those written in the machine's description. A plan is no legal survey. Local rules, the machine's manual and licensed practice come first."

// rowPattern is worked ground with its furrows: in grey the straw alone is as light as the ground swept.
const rowPattern = `<defs><pattern id="row" width="7" height="7" patternUnits="userSpaceOnUse"><rect width="7" height="7" fill="#E3CF9B"/><path d="M3.5 0V7" stroke="#A08A4E" stroke-width="1"/></pattern></defs>
`

// turnDrawing draws with the rows' end running across and the way out of the rows up.
type turnDrawing struct {
	drawing
	plan TurnPlan
	up   plane.XY // unit, out of the rows
	tall float64  // m, how far the ground swept reaches beyond the line
}

// flat takes a place of the field to the sheet's metres: right of the row's middle, beyond its line.
func (d *turnDrawing) flat(p plane.XY) plane.XY {
	p = p.Sub(d.plan.Line.From.At)
	return plane.XY{X: -d.up.Cross(p), Y: d.up.Dot(p)}
}

func (d *turnDrawing) at(p plane.XY) orb.Point { return d.pixel(d.flat(p)) }

func (d *turnDrawing) flatAll(polys []plane.Polygon) []plane.Polygon {
	out := make([]plane.Polygon, len(polys))
	for i, poly := range polys {
		for _, ring := range poly {
			r := make(plane.Ring, len(ring))
			for k, p := range ring {
				r[k] = d.flat(p)
			}
			out[i] = append(out[i], r)
		}
	}
	return out
}

// TurnSVG draws one turn to scale for someone who decides whether it will do: rows, headland, the ground
// swept, the path with its direction changes, where the implement cuts in, the drawbar at its greatest
// angle, and the depth needed beside the depth there is. Errors: a turn without the set driven on it.
func TurnSVG(w io.Writer, p TurnPlan) error {
	if p.Turn.Driven == nil || len(p.Turn.Driven.Moments) == 0 {
		return errors.New("turn without a path: no drawing of it")
	}
	d := newTurnDrawing(p)
	d.grounds()
	d.sets()
	d.ways()
	d.turnMarks()
	d.scaleBar()
	mapBody := d.take()
	bottom := d.turnPanel()
	panel := d.take()

	height := max(bottom, d.top+d.height) + margin
	return document(w, sheetWidth, height, p.heading(), patterns+rowPattern+mapClip(d.height), mapBody, panel)
}

func (p TurnPlan) heading() string {
	title := p.Title
	if title == "" {
		title = p.Implement.Name
	}
	if title == "" {
		title = "Turn"
	}
	return title + ": " + string(p.Turn.Kind)
}

func newTurnDrawing(p TurnPlan) *turnDrawing {
	sin, cos := math.Sincos(float64(p.Line.From.Heading))
	d := &turnDrawing{plan: p, up: plane.XY{X: cos, Y: sin}}
	b := plane.EmptyBox()
	for k := range p.Turn.Driven.Moments {
		for _, q := range p.Turn.Driven.Tractor(k) {
			b = b.Extend(d.flat(q))
		}
		for _, q := range p.Turn.Driven.Implement(k) {
			b = b.Extend(d.flat(q))
		}
	}
	d.tall = b.Max.Y
	b = b.Extend(plane.XY{Y: p.Headland}, plane.XY{Y: d.tall + p.Implement.Turning.Margin})
	if at := d.flat(p.Turn.Place); len(p.Boundary) > 0 && math.Abs(p.Turn.Spare) < leastTurn {
		b = b.Extend(at)
	}
	b.Min.Y -= rowTail
	b.Max.Y += 2
	if more := leastTurn - (b.Max.X - b.Min.X); more > 0 {
		b.Min.X, b.Max.X = b.Min.X-more/2, b.Max.X+more/2
	}
	size := b.Max.Sub(b.Min)
	f := frame{left: mapLeft, top: mapTop, origin: b.Min.Lerp(b.Max, 0.5), x0: mapLeft + mapWidth/2}
	f.scale = min((mapWidth-2*turnGutter)/size.X, (maxMap-turnFoot)/size.Y)
	f.height = size.Y*f.scale + turnFoot
	f.y0 = f.top + (f.height-turnFoot)/2
	d.frame = f
	return d
}

// box is a rectangle in the sheet's metres.
func box(x0, y0, x1, y1 float64) []plane.Polygon {
	return []plane.Polygon{{{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}}}
}

const wideAway = 1e3 // m; beyond every edge of the sheet

// grounds draws what lies below: field, rows, boundary, obstacles, and the ground swept.
func (d *turnDrawing) grounds() {
	fmt.Fprintf(d, `<rect x="%d" y="%d" width="%d" height="%.0f" fill="#F7F7F4" stroke="#BBBBBB"/>`+"\n", mapLeft, mapTop, mapWidth, d.height)
	d.WriteString(`<g clip-path="url(#map)" fill-rule="evenodd" stroke-linejoin="round">` + "\n")
	next := d.nextRow()
	half := (d.plan.Implement.Width - d.plan.Implement.Overlap) / 2
	between := d.plan.Turn.Skip + 1
	for k := 0; k <= between; k++ { // rows left for later are only outlined
		x := next.X * float64(k) / float64(between)
		y := next.Y * float64(k) / float64(between)
		style := `fill="none" stroke="#A08A4E" stroke-width="0.8" stroke-dasharray="2 3"`
		if k == 0 || k == between {
			style = `fill="url(#row)" stroke="#A08A4E" stroke-width="0.8"`
		}
		d.area("row", box(x-half, -wideAway, x+half, y), style)
	}
	d.bounds()
	d.area("ground swept by tractor and implement", d.flatAll(d.plan.Ground.Both), `fill="#5B7A99" fill-opacity="0.28" stroke="#33475C" stroke-width="0.9"`)
	from, to := d.pixel(plane.XY{X: -wideAway}), d.pixel(plane.XY{X: wideAway})
	if next.Y == 0 {
		fmt.Fprintf(d, `<path d="M%.1f %.1fH%.1f" stroke="#333333" stroke-width="1.3" stroke-dasharray="7 4"/>`+"\n", from[0], from[1], to[0])
	} else {
		a, b := d.pixel(plane.XY{}), d.pixel(next)
		fmt.Fprintf(d, `<path d="M%.1f %.1fL%.1f %.1f" stroke="#333333" stroke-width="1.3" stroke-dasharray="7 4"/>`+"\n", a[0], a[1], b[0], b[1])
	}
	d.WriteString("</g>\n")
}

func (d *turnDrawing) nextRow() plane.XY {
	l := d.plan.Line
	if l.Left {
		return plane.XY{X: -l.Distance, Y: l.Stagger}
	}
	return plane.XY{X: l.Distance, Y: l.Stagger}
}

// bounds draws what must not be driven on.
func (d *turnDrawing) bounds() {
	const line = `stroke="#222222" stroke-width="2.2"`
	if len(d.plan.Boundary) > 0 {
		field := d.flatAll(d.plan.Boundary)
		around := box(-wideAway, -wideAway, wideAway, wideAway)[0]
		var obstacles []plane.Polygon
		for _, poly := range field {
			around = append(around, poly[0])
			for _, hole := range poly[1:] {
				obstacles = append(obstacles, plane.Polygon{hole})
			}
		}
		d.area("beyond the boundary", []plane.Polygon{around}, `fill="url(#obstacle)" `+line)
		d.area("obstacles", obstacles, `fill="url(#obstacle)" `+line)
	} else if h := d.plan.Headland; h > 0 {
		d.area("beyond the boundary", box(-wideAway, h, wideAway, h+wideAway), `fill="url(#obstacle)" `+line)
	}
}

// sets draws the set at the start, where the drawbar is bent most (or halfway), where the turn is deepest,
// and where it ends.
func (d *turnDrawing) sets() {
	v := d.plan.Turn.Driven
	last := len(v.Moments) - 1
	deepest, most := 0, math.Inf(-1)
	for k := range v.Moments {
		for _, q := range v.Implement(k) {
			if y := d.flat(q).Y; y > most {
				deepest, most = k, y
			}
		}
		for _, q := range v.Tractor(k) {
			if y := d.flat(q).Y; y > most {
				deepest, most = k, y
			}
		}
	}
	shown := []int{0, v.AngleAt, deepest, last}
	if !d.plan.Implement.Mount.Trailed {
		shown[1] = last / 2
	}
	d.WriteString(`<g clip-path="url(#map)" stroke-linejoin="round">` + "\n")
	for i, k := range shown {
		if i > 0 && k == shown[0] || i == 2 && k == shown[1] {
			continue
		}
		d.area("tractor", d.flatAll([]plane.Polygon{{v.Tractor(k)}}), `fill="#FFFFFF" fill-opacity="0.75" stroke="#27364A" stroke-width="1.3"`)
		d.area("implement", d.flatAll([]plane.Polygon{{v.Implement(k)}}), `fill="#27364A" fill-opacity="0.22" stroke="#27364A" stroke-width="1.3"`)
		set, bar := v.Moments[k].Set, d.middleOf(k)
		d.polyline([]plane.XY{set.Antenna, v.Hitch(k), bar}, `fill="none" stroke="#27364A" stroke-width="1.6"`)
	}
	d.WriteString("</g>\n")
}

func (d *turnDrawing) middleOf(k int) plane.XY {
	at, _ := d.plan.Turn.Driven.Bar(k)
	return at
}

func (d *turnDrawing) polyline(line []plane.XY, style string) {
	pts := make(orb.LineString, len(line))
	for i, p := range line {
		pts[i] = d.at(p)
	}
	fmt.Fprintf(d, `<path %s d="`, style)
	d.line(thin(pts), false)
	d.WriteString("\"/>\n")
}

// ways draws the path of the tractor's rear axle, in reverse dashed, that of the implement's axle and its wheels.
func (d *turnDrawing) ways() {
	v := d.plan.Turn.Driven
	d.WriteString(`<g clip-path="url(#map)" stroke-linejoin="round" stroke-linecap="round">` + "\n")
	if left, right := v.Wheels(); left != nil {
		d.polyline(left, `fill="none" stroke="#6F6F6F" stroke-width="1" stroke-dasharray="1 3"`)
		d.polyline(right, `fill="none" stroke="#6F6F6F" stroke-width="1" stroke-dasharray="1 3"`)
	}
	if d.plan.Implement.Mount.Trailed {
		var axle []plane.XY
		for k := range v.Moments {
			axle = append(axle, v.Axle(k))
		}
		d.polyline(axle, `fill="none" stroke="#C2247F" stroke-width="1.5"`)
	}
	for from := 0; from < len(v.Moments)-1; {
		to := from + 1
		reverse := v.Moments[to].Reverse
		for to+1 < len(v.Moments) && v.Moments[to+1].Reverse == reverse {
			to++
		}
		var line []plane.XY
		for _, m := range v.Moments[from : to+1] {
			line = append(line, m.Set.Antenna)
		}
		style := `fill="none" stroke="#111111" stroke-width="2.4"`
		if reverse {
			style += ` stroke-dasharray="6 5"`
		}
		d.polyline(line, style)
		d.arrows(from, to)
		from = to
	}
	d.WriteString("</g>\n")
}

const arrowEvery = 6.0 // m driven between arrow heads

// arrows puts arrow heads on the path between two moments, in the direction driven.
func (d *turnDrawing) arrows(from, to int) {
	v := d.plan.Turn.Driven
	length := v.Moments[to].S - v.Moments[from].S
	n := max(1, math.Round(length/arrowEvery))
	if length*d.scale < 14 {
		return
	}
	k := from
	for i := 0.5; i < n; i++ {
		s := v.Moments[from].S + length*i/n
		for k < to-1 && v.Moments[k+1].S <= s {
			k++
		}
		a, b := v.Moments[k], v.Moments[k+1]
		p := a.Set.Antenna.Lerp(b.Set.Antenna, (s-a.S)/(b.S-a.S))
		way := d.flat(b.Set.Antenna).Sub(d.flat(a.Set.Antenna))
		way = way.Scale(1 / way.Len())
		at := d.at(p)
		// y runs down on the sheet.
		tip := orb.Point{at[0] + 7*way.X, at[1] - 7*way.Y}
		l := orb.Point{at[0] - 4*way.X - 4.5*way.Y, at[1] + 4*way.Y - 4.5*way.X}
		r := orb.Point{at[0] - 4*way.X + 4.5*way.Y, at[1] + 4*way.Y + 4.5*way.X}
		fmt.Fprintf(d, `<path d="M%.1f %.1fL%.1f %.1fL%.1f %.1fZ" fill="#111111"/>`+"\n", tip[0], tip[1], l[0], l[1], r[0], r[1])
	}
}
