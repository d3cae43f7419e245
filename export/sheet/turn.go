package sheet

import (
	"cmp"
	"errors"
	"math"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/export/sheet/paper"
	"balk/export/words"
	"balk/geo/plane"

	"github.com/paulmach/orb"
)

// TurnPlan is a turn to be drawn: where it is asked for, how it was judged, what it sweeps.
type TurnPlan struct {
	Implement rig.Implement
	Line      turn.Line   // the row's end
	Turn      turn.Turn   // with the set driven
	Ground    turn.Ground // swept by it
	Headland  float64     // m, depth of the headland beyond the line; 0 = not known
	// Boundary is the field with its obstacles; none: a straight headland, its boundary square to the rows.
	Boundary []plane.Polygon
}

const (
	turnGutter = 21.0 // mm left and right of the turn, for dimension lines
	turnFoot   = 9.0  // mm below it, for the names of the rows
	rowTail    = 2.5  // m of the rows drawn behind what is swept
	leastTurn  = 20.0 // m, least width drawn
	wideAway   = 1e3  // m; beyond every edge of the picture
)

// How a turn is drawn. Rows have furrows: in grey the straw alone is as light as the ground swept.
var (
	rowMark       = paper.Hatching{Fill: straw, Lines: []paper.HatchLines{{Turn: 90, Apart: 1.9, With: paper.Pen{Colour: passLinePen.Colour, Width: 0.25}}}, Rim: paper.Pen{Colour: passLinePen.Colour, Width: 0.2}}
	sweptMark     = paper.Hatching{Fill: slate + "47", Rim: paper.Pen{Colour: "#33475C", Width: 0.25}}
	tractorMark   = paper.Hatching{Fill: "#FFFFFFBF", Rim: paper.Pen{Colour: ink, Width: 0.35}}
	implementMark = paper.Hatching{Fill: ink + "38", Rim: paper.Pen{Colour: ink, Width: 0.35}}

	laterPen   = paper.Pen{Colour: passLinePen.Colour, Width: 0.2, Dash: []float64{0.5, 0.8}}
	forwardPen = paper.Pen{Colour: "#111111", Width: 0.65, Round: true}
	reversePen = paper.Pen{Colour: "#111111", Width: 0.65, Dash: []float64{1.6, 1.3}}
	axlePen    = paper.Pen{Colour: pink, Width: 0.4, Round: true}
	wheelPen   = paper.Pen{Colour: "#6F6F6F", Width: 0.26, Dash: []float64{0.26, 0.8}, Round: true}
)

// turnPicture is drawn with the rows' end running across and the way out of the rows up.
type turnPicture struct {
	*picture
	view
	plan    TurnPlan
	up      plane.XY // unit, out of the rows
	tall    float64  // m, how far the ground swept reaches beyond the line
	deepest int      // the moment at which it does
}

// Turn draws one turn to scale for someone who decides whether it will do: rows, headland, the ground
// swept, the path with its direction changes, where the implement cuts in, the drawbar at its greatest
// angle, and the depth needed beside the depth there is. Errors: a turn without the set driven on it.
func Turn(p TurnPlan, page Page) (*paper.Leaf, error) {
	if p.Turn.Driven == nil || len(p.Turn.Driven.Moments) == 0 {
		return nil, errors.New("turn without a path: no drawing of it")
	}
	l := page.Language
	title := l.Say("%s, row %.2f m off: %s", cmp.Or(p.Implement.Name, l.Word("Set")), p.Line.Distance, l.Word(string(p.Turn.Kind)))
	sub := l.Say("working width %.2f m, rows %.2f m apart, least radius %.2f m", p.Implement.Width, p.Line.Distance/float64(p.Turn.Skip+1), p.Implement.TurnRadius())
	if p.Turn.Skip > 0 {
		sub += l.Say("; into the %s, %.2f m off", RowInto(l, p.Turn.Skip), p.Line.Distance)
	}
	drawn, err := newPicture(page, title, sub)
	if err != nil {
		return nil, err
	}
	d := layTurn(drawn, p)
	d.figure("", func() {
		d.grounds()
		d.sets()
		d.ways()
		d.marks()
	})
	d.scaleBar(d.frame.X, d.frame.Y+d.frame.H+6, d.frame.W/noteShare, d.view)
	d.verdict()
	return d.Leaf, nil
}

// layTurn looks for the largest scale at which the turn fits.
func layTurn(p *picture, plan TurnPlan) *turnPicture {
	d := &turnPicture{picture: p, plan: plan, up: plan.Line.From.Heading.Ahead()}
	v := plan.Turn.Driven
	var shown []plane.XY
	left, right := 0.0, 0.0
	d.tall = math.Inf(-1)
	for k := range v.Moments {
		for _, q := range append(v.Tractor(k), v.Implement(k)...) {
			shown = append(shown, q)
			from := q.Sub(plan.Line.From.At)
			if y := d.up.Dot(from); y > d.tall {
				d.tall, d.deepest = y, k
			}
			left, right = min(left, -d.up.Cross(from)), max(right, -d.up.Cross(from))
		}
	}
	if len(plan.Boundary) > 0 && math.Abs(plan.Turn.Spare) < leastTurn {
		shown = append(shown, plan.Turn.Place)
	}
	middle, half := (left+right)/2, leastTurn/2
	shown = append(shown, d.place(0, plan.Headland+2), d.place(0, d.tall+plan.Implement.Turning.Margin+2), d.place(middle-half, -rowTail), d.place(middle+half, -rowTail))
	frame := p.room
	frame.H -= 8 // for the scale bar
	inner := paper.Rect(frame.X+turnGutter, frame.Y, frame.W-2*turnGutter, frame.H-turnFoot)
	lies := lie(shown, 90-float64(plan.Line.From.Heading)*180/math.Pi, inner)
	d.view = newView(inner, lies.middle, lies.scale, lies.turn)
	d.view = newView(frame, d.back(frame.Bound().Center()), lies.scale, lies.turn)
	return d
}

// place is the place so far to the right of the row's middle and beyond its line, m.
func (d *turnPicture) place(right, beyond float64) plane.XY {
	return d.plan.Line.From.At.Add(plane.XY{X: d.up.Y, Y: -d.up.X}.Scale(right)).Add(d.up.Scale(beyond))
}

// box is a rectangle between two such places.
func (d *turnPicture) box(x0, y0, x1, y1 float64) plane.Ring {
	return plane.Ring{d.place(x0, y0), d.place(x1, y0), d.place(x1, y1), d.place(x0, y1)}
}

// nextRow is where the next row begins, to the right and beyond the line.
func (d *turnPicture) nextRow() (right, beyond float64) {
	l := d.plan.Line
	if l.Left {
		return -l.Distance, l.Stagger
	}
	return l.Distance, l.Stagger
}

// grounds draws what lies below: rows, boundary, obstacles, and the ground swept.
func (d *turnPicture) grounds() {
	d.Fill(d.frame.Path(), mapColour)
	x, y := d.nextRow()
	half := (d.plan.Implement.Width - d.plan.Implement.Overlap) / 2
	between := float64(d.plan.Turn.Skip + 1)
	for k := 0.0; k <= between; k++ { // rows left for later are only outlined
		row := []plane.Polygon{{d.box(x*k/between-half, -wideAway, x*k/between+half, y*k/between)}}
		if k == 0 || k == between {
			d.Cover(d.rings(row), rowMark)
		} else {
			d.Stroke(d.outlines(row), laterPen)
		}
	}
	beyond := []plane.Polygon{{d.box(-wideAway, d.plan.Headland, wideAway, d.plan.Headland+wideAway)}}
	if len(d.plan.Boundary) > 0 {
		around := plane.Polygon{d.box(wideAway, -wideAway, -wideAway, wideAway)} // clockwise: the field is a hole in it
		for _, poly := range d.plan.Boundary {
			around = append(around, poly[0])
		}
		beyond = append(obstacles(d.plan.Boundary), around)
	} else if d.plan.Headland == 0 {
		beyond = nil
	}
	d.Cover(d.rings(beyond), noGoMark)
	d.Stroke(d.outlines(beyond), boundaryPen)
	d.Cover(d.rings(d.plan.Ground.Both), sweptMark)
	end := []plane.XY{d.place(-wideAway, 0), d.place(wideAway, 0)}
	if y != 0 {
		end = []plane.XY{d.place(0, 0), d.place(x, y)}
	}
	d.Stroke(d.lines(end), headlandPen)
	d.Stroke(d.frame.Path(), framePen)
}

// sets draws the set at the start, where the drawbar is bent most (or halfway), where the turn is deepest,
// and where it ends.
func (d *turnPicture) sets() {
	v := d.plan.Turn.Driven
	last := len(v.Moments) - 1
	shown := []int{0, v.AngleAt, d.deepest, last}
	if !d.plan.Implement.Mount.Trailed {
		shown[1] = last / 2
	}
	for i, k := range shown {
		if i > 0 && k == shown[0] || i == 2 && k == shown[1] {
			continue
		}
		d.Cover(d.rings([]plane.Polygon{{v.Tractor(k)}}), tractorMark)
		d.Cover(d.rings([]plane.Polygon{{v.Implement(k)}}), implementMark)
		bar, _ := v.Bar(k)
		d.Stroke(d.lines([]plane.XY{v.Moments[k].Set.Antenna, v.Hitch(k), bar}), paper.Pen{Colour: ink, Width: 0.45})
	}
}

// ways draws the path of the tractor's rear axle, in reverse dashed, that of the implement's axle and its wheels.
func (d *turnPicture) ways() {
	v := d.plan.Turn.Driven
	if left, right := v.Wheels(); left != nil {
		d.Stroke(d.lines(left, right), wheelPen)
	}
	if d.plan.Implement.Mount.Trailed {
		var axle []plane.XY
		for k := range v.Moments {
			axle = append(axle, v.Axle(k))
		}
		d.Stroke(d.lines(axle), axlePen)
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
		with := forwardPen
		if reverse {
			with = reversePen
		}
		for _, part := range d.lines(line) {
			d.Stroke([]orb.LineString{part}, with)
			d.arrows(part)
		}
		from = to
	}
}

// arrows puts heads of arrows on a way.
func (d *turnPicture) arrows(way orb.LineString) {
	const every = 6.0 // m
	long := lengthOf(way)
	if long < 4 {
		return
	}
	n := max(1, math.Round(long/d.mm()/every))
	for i := 0.5; i < n; i++ {
		at, towards := along(way, long*i/n)
		d.arrow(orb.Point{at[0] + 1.9*towards[0], at[1] + 1.9*towards[1]}, towards, 1.7, "#111111")
	}
}

// WhyNot says why a turn cannot be driven.
func WhyNot(l words.Language, t turn.Turn) string {
	switch t.Reason {
	case turn.Short:
		return l.Say("short by %.2f m", -turn.Told(t.Spare))
	case turn.Folds:
		return l.Say("drawbar angle %.1f°: must be %.1f° at most", t.Angle, t.AngleLimit)
	case turn.Swings:
		return l.Say("does not settle: the bar comes in at %.1f°", t.EntryAngle)
	}
	return l.Told(t.Why)
}
