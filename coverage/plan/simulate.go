package plan

import (
	"context"
	"fmt"
	"math"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"

	"github.com/paulmach/orb"
	geom "github.com/twpayne/go-geom"
)

// Candidate is what a plan comes to. Hours are hours, all else in the unit at its
// name; areas come from coverage.Weigh on the plan's own track.
type Candidate struct {
	Name      string  `json:"name,omitempty"`
	Width     float64 `json:"width"`     // m, working width
	Credited  float64 `json:"credited"`  // m
	Direction float64 `json:"direction"` // degrees clockwise from the plane's north, 0 to below 180
	Rounds    int     `json:"rounds"`    // headland rounds
	Depth     float64 `json:"depth"`     // m, headland
	Blocks    int     `json:"blocks"`
	Passes    int     `json:"passes"`              // in the interior
	Loops     int     `json:"loops"`               // headland rounds driven, all rings
	Stretches int     `json:"stretches,omitempty"` // of rounds that are not driven in one, for a bend that the set cannot follow

	Turns      int               `json:"turns"`                // in the interior, to the rounds and between them
	Kinds      map[turn.Kind]int `json:"kinds,omitempty"`      // turns by kind
	Runs       int               `json:"runs"`                 // with the tool lifted, between blocks and rounds
	Infeasible []Fault           `json:"infeasible,omitempty"` // turns that do not fit, runs that find no way
	Bound      float64           `json:"bound"`                // h, no order of the passes turns in less inside its blocks
	Within     float64           `json:"within"`               // h, what those turns take

	Field         float64 `json:"field"`  // m²
	Missed        float64 `json:"missed"` // m²
	Interior      float64 `json:"interior"`
	InteriorLeft  float64 `json:"interiorMissed"` // m², missed outside the headland
	Double        float64 `json:"double"`         // m² worked twice or more
	Outside       float64 `json:"outside"`        // m² worked outside the boundary
	Headland      float64 `json:"headland"`       // m² of headland
	HeadlandShare float64 `json:"headlandShare"`  // of the field
	HeadlandLeft  float64 `json:"headlandMissed"` // m²
	HeadlandTwice float64 `json:"headlandTwice"`  // m²
	// HeadlandLifted is what of HeadlandLeft was driven over with the tool lifted, m².
	HeadlandLifted float64 `json:"headlandLifted"`
	// Wheelings is the headland's ground under the tractor's tyres, m², as often as driven over: metres
	// of rounds, turns and runs × tractor width × Options.Wheels.
	Wheelings float64 `json:"wheelings"`

	Working  Drive   `json:"working"`
	Turning  Drive   `json:"turning"`
	Idle     Drive   `json:"idle"`       // runs and roads
	Hours    float64 `json:"hours"`      // h, all of it
	Capacity float64 `json:"capacity"`   // m²/s, effective field capacity (ASABE EP496)
	Share    float64 `json:"efficiency"` // field efficiency (ASABE EP496)

	Power  float64 `json:"power,omitempty"`  // kW at the drawbar while working
	Litres float64 `json:"litres,omitempty"` // l
	Cost   float64 `json:"cost,omitempty"`
	// Open is what it takes to work what is missed, h: Options.MissedHours for a hectare; OpenCost what that costs. They are no
	// part of Hours and Cost, and count in Value.
	Open     float64 `json:"missedHours"`
	OpenCost float64 `json:"missedCost,omitempty"`
	// CostHectare is the cost per hectare of field.
	CostHectare float64 `json:"costPerHectare,omitempty"`

	Value       float64     `json:"value"`                 // of the objective, Open and ten minutes for each infeasible turn included; Compare
	Difference  string      `json:"difference,omitempty"`  // to the best; Compare
	Sensitivity []Deviation `json:"sensitivity,omitempty"` // Compare
}

// Drive is way and time.
type Drive struct {
	Metres float64 `json:"metres"`
	Hours  float64 `json:"hours"`
}

const (
	// atSwitch: a fix with the tool lifted so far from either end of a pass, m. Between it and the
	// working fix the engine takes the middle for the switch.
	atSwitch = 1e-3
	// turnStep is how far apart the fixes of a turn are, m: below the size of a tyre's track.
	turnStep = 1.0
	secondsH = 3600.0
	hectare  = 1e4
)

// somewhere is where simulated fields lie: the plane is metric about every
// place, so it does not matter where.
var somewhere = geo.LocalAt(orb.Point{10, 50})

// Simulate drives a plan and has coverage.Weigh judge it: every pass at its
// speed with the tool lowered from end to end, every move with the tool lifted.
//
//  1. The hours are those of the engine's own clock.
//  2. The field is missed + worked once, twice or more, as the engine's balance has it.
//
// Errors: those of coverage.Weigh.
func Simulate(ctx context.Context, p Plan) (Candidate, error) {
	box := plane.EmptyBox()
	for _, poly := range p.Field {
		for _, r := range poly {
			box = box.Extend(r...)
		}
	}
	l := recorder{origin: box.Min.Lerp(box.Max, 0.5), plan: &p}
	c := p.candidate()
	track, err := l.track()
	if err != nil {
		return Candidate{}, err
	}
	w := drive.Work{WidthFrom: drive.WidthLogged, Headland: p.Depth, Working: drive.EvidenceLogged, GapDist: 1e4, GapTime: 86400, Workers: p.Options.Workers}.With(p.Implement)
	w.Mount = rig.Mount{} // the track is that of the bar's middle
	r, err := coverage.Weigh(ctx, l.field(), []geo.Track{track}, w)
	if err != nil {
		return Candidate{}, fmt.Errorf("simulated work: %w", err)
	}
	b := r.Balance
	c.Field, c.Missed, c.Double, c.Outside = b.Field, b.Missed, b.Twice+b.More, b.Outside
	c.Headland, c.HeadlandLeft, c.HeadlandTwice = r.Headland.Area, r.Headland.Missed, r.Headland.Twice
	c.HeadlandLifted, c.HeadlandShare = r.Headland.Lifted, c.Headland/c.Field
	c.Interior, c.InteriorLeft = c.Field-c.Headland, max(0, c.Missed-c.HeadlandLeft)
	c.Open = p.Options.MissedPrice() * c.Missed / hectare
	c.Capacity, c.Share = r.Effort.EffectiveCapacity, r.Effort.FieldEfficiency
	c.spend(&p)
	return c, nil
}

// candidate is what the plan itself says, without areas.
func (p *Plan) candidate() Candidate {
	c := Candidate{Name: p.Implement.Name, Width: p.Implement.Width, Credited: credited(p.Implement), Rounds: p.Rounds, Depth: p.Depth,
		Blocks: p.Blocks, Kinds: map[turn.Kind]int{}, Bound: p.Bound / secondsH, Within: p.Within / secondsH}
	c.Direction = bearing(p.Options.Heading)
	for _, poly := range p.Field {
		c.Field += poly.Area()
	}
	rounds := 0.0
	for _, one := range p.Passes {
		c.Working.Metres += one.Length
		if one.Round > 0 {
			if one.Stretch <= 1 {
				c.Loops++
			}
			c.Stretches += min(one.Stretch, 1)
			rounds += one.Length
		} else {
			c.Passes++
		}
	}
	c.Working.Hours = c.Working.Metres / (p.Options.Speed / 3.6) / secondsH
	for _, m := range p.Moves {
		switch {
		case m.Kind == None:
			continue
		case m.Turned():
			c.Turns++
			c.Kinds[m.Kind]++
			c.Turning.add(m)
		default:
			c.Runs++
			c.Idle.add(m)
		}
		if m.Fault != nil {
			c.Infeasible = append(c.Infeasible, *m.Fault)
		}
	}
	c.Hours = c.Working.Hours + c.Turning.Hours + c.Idle.Hours
	c.Wheelings = (rounds + c.Turning.Metres + c.Idle.Metres) * p.Implement.Tractor.Width * or(p.Options.Wheels, usualWheels)
	return c
}

func (d *Drive) add(m Move) {
	d.Metres += m.Length
	d.Hours += m.Seconds / secondsH
}

// bearing is degrees clockwise from the plane's north, either way.
func bearing(h geo.Heading) float64 {
	b := math.Mod(90-float64(h)*180/math.Pi, 180)
	if b < 0 {
		b += 180
	}
	if b >= 180-1e-9 { // rounding of north itself
		b = 0
	}
	return b
}

// spend adds power, fuel and cost.
func (c *Candidate) spend(p *Plan) {
	power, working, turning := p.Options.Fuel.burns(p.Options.Speed, p.Implement.Width)
	c.Power = power
	c.Litres = working*c.Working.Hours + turning*(c.Turning.Hours+c.Idle.Hours)
	c.Cost = c.Hours*p.Options.Rates.Hour + c.Litres*p.Options.Rates.Litre
	c.OpenCost = c.Open * (p.Options.Rates.Hour + working*p.Options.Rates.Litre)
	c.CostHectare = c.Cost / (c.Field / hectare)
}

// recorder writes the track that the bar's middle leaves.
type recorder struct {
	origin  plane.XY
	plan    *Plan
	seconds float64
	flat    []float64
	state   []geo.WorkState
}

func (l *recorder) field() geo.Field {
	f := geo.Field{Name: "plan", Number: 1}
	for _, p := range l.plan.Field {
		var poly orb.Polygon
		for _, r := range p {
			var ring orb.Ring
			for _, q := range r {
				ring = append(ring, somewhere.Point(q.Sub(l.origin)))
			}
			poly = append(poly, append(ring, ring[0]))
		}
		f.Boundary = append(f.Boundary, poly)
	}
	return f
}

// fix logs a place after so many seconds.
func (l *recorder) fix(p plane.XY, seconds float64, s geo.WorkState) {
	q := somewhere.Point(p.Sub(l.origin))
	l.seconds += seconds
	l.flat = append(l.flat, q[0], q[1], l.seconds)
	l.state = append(l.state, s)
}

// unfix takes the last fix back, but not its time.
func (l *recorder) unfix() {
	n := len(l.state) - 1
	l.flat, l.state = l.flat[:3*n], l.state[:n]
}

func (l *recorder) track() (geo.Track, error) {
	p := l.plan
	t, err := turnerOf(p.Implement, p.Field)
	if err != nil {
		return geo.Track{}, err
	}
	if m := p.Moves[0]; m.Kind != None {
		l.fix(m.Line[0], 0, geo.Lifted)
	}
	for i, pass := range p.Passes {
		l.move(p.Moves[i], t)
		l.pass(pass)
	}
	m := p.Moves[len(p.Moves)-1]
	if l.move(m, t); m.Kind != None {
		l.fix(m.Line[len(m.Line)-1], 0, geo.Lifted)
	}
	return geo.Track{Line: geom.NewMultiLineStringFlat(geom.XYM, l.flat, []int{len(l.flat)}), Columns: geo.Columns{State: l.state}}, nil
}

func (l *recorder) pass(p Pass) {
	speed := l.plan.Options.Speed / 3.6
	line := spaced(p.Line)
	n := len(line)
	in, out := line[1].Sub(line[0]).Unit(), line[n-1].Sub(line[n-2]).Unit()
	l.fix(line[0].Sub(in.Scale(atSwitch)), 0, geo.Lifted)
	l.fix(line[0], atSwitch/speed, geo.Working)
	for i := 1; i < n-1; i++ {
		l.fix(line[i], line[i].Dist(line[i-1])/speed, geo.Working)
	}
	l.fix(line[n-1], line[n-1].Dist(line[n-2])/speed, geo.Working)
	l.fix(line[n-1].Add(out.Scale(atSwitch)), 0, geo.Lifted)
}

// leastStep is how far apart the fixes of a round are at least where that shortens it by no more than
// cutOff, m: on a radius of 3 m the chord leaves the arc by 4 mm, and is 0.1 mm shorter.
const (
	leastStep = 0.3
	cutOff    = 2e-4
)

// spaced leaves out what lies nearer to the point before than leastStep and is no corner; both ends stay.
func spaced(line []plane.XY) []plane.XY {
	out := []plane.XY{line[0]}
	last := line[len(line)-1]
	way := 0.0 // from the last point kept
	for i, p := range line[1 : len(line)-1] {
		at := out[len(out)-1]
		way += p.Dist(line[i])
		next := line[i+2]
		near := p.Dist(at) < leastStep || p.Dist(last) < leastStep
		if near && way+next.Dist(p)-next.Dist(at) < cutOff {
			continue
		}
		out, way = append(out, p), 0
	}
	return append(out, last)
}

// move logs fixes between the passes; its last step ends where the next pass begins.
func (l *recorder) move(m Move, t *turner) {
	switch {
	case m.Kind == None:
	case len(m.paths) > 0:
		for _, p := range m.paths {
			// The paths were walked when they were made: they pass Validate, and turnStep is no fault.
			seconds, _ := p.Time(t.speed)
			if long := p.Length(); long > 0 {
				last := 0.0
				_ = p.Walk(turnStep, func(s float64, at turn.Pose, _ float64, _ bool) {
					if s > 0 {
						l.fix(t.bar(at), (s-last)/long*seconds, geo.Lifted)
					}
					last = s
				})
			}
		}
		l.unfix() // the pass begins where the last path ends
	default:
		for i := 1; i < len(m.Line); i++ {
			part := m.Line[i].Dist(m.Line[i-1]) / t.speed.Turning
			if i < len(m.Line)-1 {
				l.fix(m.Line[i], part, geo.Lifted)
			} else {
				l.seconds += part
			}
		}
	}
}
