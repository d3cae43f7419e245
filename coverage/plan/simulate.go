package plan

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"balk/coverage"
	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// Candidate is what a plan comes to. Hours are hours, all else in the unit at its
// name; areas come from ground.Lay on the plan's own passes.
type Candidate struct {
	Implement int       `json:"implement,omitempty"` // its number among those compared, from 1
	Name      string    `json:"name,omitempty"`
	Width     float64   `json:"width"`          // m, working width
	Credited  float64   `json:"credited"`       // m
	Direction float64   `json:"direction"`      // degrees clockwise from the plane's north, 0 to below 180
	Bent      bool      `json:"bent,omitempty"` // rows run along a stretch of the boundary; Direction is its middle one
	Rounds    int       `json:"rounds"`         // headland rounds
	Depth     float64   `json:"depth"`          // m, headland
	Blocks    int       `json:"blocks"`
	Also      []float64 `json:"also,omitempty"`      // degrees as Direction, of rows in other arms of the field
	Passes    int       `json:"passes"`              // in the interior
	Loops     int       `json:"loops"`               // headland rounds driven, all rings
	Stretches int       `json:"stretches,omitempty"` // of rounds that are not driven in one, for a bend that the set cannot follow
	Small     int       `json:"small,omitempty"`     // obstacles without rounds about them: rows and rounds go past
	Bends     int       `json:"bends,omitempty"`     // of rows and rounds past these
	Lifts     int       `json:"lifts,omitempty"`     // of the tool in a row, to pass one or some; the runs between count as such

	Turns      int               `json:"turns"`                // in the interior, to the rounds and between them
	Kinds      map[turn.Kind]int `json:"kinds,omitempty"`      // turns by kind
	Runs       int               `json:"runs"`                 // with the tool lifted, between blocks and rounds, and between parts of the field
	Between    int               `json:"between,omitempty"`    // how many of them lead from one part of the field to another, over other ground
	Infeasible []Fault           `json:"infeasible,omitempty"` // turns that do not fit, runs that find no way
	Bound      float64           `json:"bound"`                // h, no order of the passes turns in less inside its blocks
	Within     float64           `json:"within"`               // h, what those turns take

	// Need is the headland that the set needs to turn into the nearest row that it can turn into, as turning by itself has it (turn.NeedOf); nil where it can into none of the next
	// ones; Compare.
	Need *Need `json:"need,omitempty"`

	// Least is a bound below Hours and UnfitHours, h: no plan with these rows and rounds takes less, in whatever order and by whatever turns and runs. Gap is what
	// the plan takes beyond it, as a share. LeastOfAny is what any plan takes that works as much ground, h: all of it once at the full working width, with no turn at all.
	Least      float64 `json:"least"`
	Gap        float64 `json:"gap"`
	LeastOfAny float64 `json:"leastOfAny"`

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
	// Trodden is ground on which tyres of the set run after it was cut, m²: plants pressed back root again. Only where tyres are known; Compare.
	Trodden float64 `json:"trodden,omitempty"`
	// Uncut is ground inside the passes that the implement's sweeps leave between them where rows and rounds bend, m², for every pass by itself; combs
	// at lowering and lifting are not in it. Of a set with several bars it is what any of them leaves. Only where the layout of the sweeps is known; Compare. On a hill (Options.Hill) also where it crabs: then
	// it counts in Open.
	Uncut float64 `json:"uncut,omitempty"`

	Working  Drive   `json:"working"`
	Turning  Drive   `json:"turning"`
	Idle     Drive   `json:"idle"`       // runs and roads
	Hours    float64 `json:"hours"`      // h, all of it
	Capacity float64 `json:"capacity"`   // m²/s, effective field capacity (ASABE EP496)
	Share    float64 `json:"efficiency"` // field efficiency (ASABE EP496)

	Power  float64 `json:"power,omitempty"`  // kW at the drawbar while working
	Litres float64 `json:"litres,omitempty"` // l
	Cost   float64 `json:"cost,omitempty"`
	// Open is what it takes to work what is missed, and uncut on a hill, h: Options.MissedHours for a hectare; OpenCost what that costs. They are no
	// part of Hours and Cost, and count in Value.
	Open     float64 `json:"missedHours"`
	OpenCost float64 `json:"missedCost,omitempty"`
	// CostHectare is the cost per hectare of field.
	CostHectare float64 `json:"costPerHectare,omitempty"`

	// UnfitHours is what turns and runs that do not fit take beyond their ways, h: Options.UnfitMinutes for each. It is no part of Hours
	// and Cost, and counts in Value.
	UnfitHours float64 `json:"unfitHours"`
	UnfitCost  float64 `json:"unfitCost,omitempty"`

	Value       float64     `json:"value"`                 // of the objective, Open and UnfitHours included; Compare
	Stopped     bool        `json:"stopped,omitempty"`     // the search was stopped before its end: there may be a better plan; Compare
	Spent       bool        `json:"spent,omitempty"`       // not the clock stopped it, but that one plan of this field takes thousands of ways to try: the same call gives the same plan. Without, the same call may give another; Compare
	Difference  string      `json:"difference,omitempty"`  // to the best; Compare
	Sensitivity []Deviation `json:"sensitivity,omitempty"` // Compare
	Repair      *Repair     `json:"repair,omitempty"`      // of what was missed before; Compare with Options.Before
}

// Drive is way and time.
type Drive struct {
	Metres float64 `json:"metres"`
	Hours  float64 `json:"hours"`
}

const (
	// turnStep is how far apart the places of the bar in a turn are, m: below the size of a tyre's track.
	turnStep = 1.0
	secondsH = 3600.0
	secondsM = 60.0
	hectare  = 1e4
)

// Simulate drives a plan: the bar is lowered from end to end of every pass, and lifted on every move. The ground is laid
// and weighed as that of a log is.
//
//  1. The field is missed + worked once, twice or more.
//  2. Capacity and field efficiency are those of ASABE EP496 over all hours of the plan.
//
// Errors: those of ground.Lay.
func Simulate(ctx context.Context, p Plan) (Candidate, error) {
	c, err := p.simulated(ctx, true)
	if err != nil {
		return Candidate{}, err
	}
	t, err := turnerOf(p.Implement, p.Field)
	if err != nil {
		return Candidate{}, err
	}
	t.unfit = p.Options.UnfitPrice() * secondsM
	moves, err := p.leastBetween(t)
	if err != nil {
		return Candidate{}, err
	}
	c.Least = c.Working.Hours + moves/secondsH
	if c.Least > 0 {
		c.Gap = max(0, (c.Hours+c.UnfitHours)/c.Least-1)
	}
	return c, nil
}

// simulated is Simulate without Least and Gap, and with what is said of the headland only where it is asked for: the ground driven over with the tool lifted takes as long as all else.
func (p *Plan) simulated(ctx context.Context, withHeadland bool) (Candidate, error) {
	c := p.candidate()
	if p.Options.Hill.turns(p.Implement) {
		var err error
		if c.Uncut, err = p.uncut(ctx); err != nil {
			return Candidate{}, err
		}
		c.Open += p.Options.MissedPrice() * c.Uncut / hectare
	}
	runs, lifted, err := p.driven()
	if err != nil {
		return Candidate{}, err
	}
	im := p.Implement
	w := drive.Work{Headland: p.Depth, Workers: p.Options.Workers}.With(im)
	if !withHeadland {
		w.Headland, lifted = 0, nil
	}
	laid, err := ground.Lay(ctx, p.Field, without(p.Field, p.Options.small), runs, lifted, w, false)
	if err != nil {
		return Candidate{}, fmt.Errorf("simulated work: %w", err)
	}
	b, h := laid.Balance, laid.Headland
	c.Field, c.Missed, c.Double, c.Outside = b.Field, b.Missed, b.Twice+b.More, b.Outside
	if withHeadland {
		c.Headland, c.HeadlandLeft, c.HeadlandTwice, c.HeadlandLifted = h.Area, h.Missed, h.Twice, h.Lifted
		c.HeadlandShare = c.Headland / c.Field
		c.Interior, c.InteriorLeft = c.Field-c.Headland, max(0, c.Missed-c.HeadlandLeft)
	}
	c.LeastOfAny = (b.Once + b.Twice + b.More) / (c.Width * p.Options.Speed.MetresPerSecond()) / secondsH
	c.Open = p.Options.MissedPrice() * (c.Missed + c.Uncut) / hectare
	if c.Hours > 0 {
		c.Capacity = (b.Once + b.Twice + b.More) / (c.Hours * secondsH)
		c.Share = c.Capacity / coverage.Capacity(p.Options.Speed.MetresPerSecond(), im.Width, 1)
	}
	c.spend(p)
	return c, nil
}

// candidate is what the plan itself says, without areas.
func (p *Plan) candidate() Candidate {
	c := Candidate{Name: p.Implement.Name, Width: p.Implement.Width, Credited: credited(p.Implement), Rounds: p.Rounds, Depth: p.Depth,
		Blocks: p.Blocks, Kinds: map[turn.Kind]int{}, Bound: p.Bound / secondsH, Within: p.Within / secondsH}
	c.Direction, c.Bent = bearing(p.Options.Heading), p.Options.Along != nil || p.Options.AlongLongest
	for _, r := range p.Options.Regions {
		if h := bearing(r.Heading); !slices.ContainsFunc(append(c.Also, c.Direction), func(o float64) bool { return math.Abs(math.Remainder(h-o, 180)) < leastTurned }) {
			c.Also = append(c.Also, h)
		}
	}
	c.Field = ground.AreaOf(p.Field)
	rounds := 0.0
	c.Small = len(p.Options.small)
	for _, one := range p.Passes {
		c.Working.Metres += one.Length
		c.Bends += len(one.Bends)
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
	c.Working.Hours = c.Working.Metres / p.Options.Speed.MetresPerSecond() / secondsH
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
			if m.Lifted {
				c.Lifts++
			}
			if m.Kind == Road {
				c.Between++
			}
		}
		if m.Fault != nil {
			c.Infeasible = append(c.Infeasible, *m.Fault)
		}
	}
	c.Hours, c.UnfitHours = c.Working.Hours+c.Turning.Hours+c.Idle.Hours, p.Options.unfitHours(len(c.Infeasible))
	c.Open = p.open / secondsH // until areas are known
	c.Wheelings = (rounds + c.Turning.Metres + c.Idle.Metres) * p.Implement.Tractor.Width * cmp.Or(p.Options.Wheels, usualWheels)
	return c
}

// unfitHours is what so many turns and runs that do not fit take beyond their ways, h.
func (o Options) unfitHours(n int) float64 { return float64(n) * o.UnfitPrice() * secondsM / secondsH }

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
	c.UnfitCost = c.UnfitHours * p.Options.Rates.Hour
	c.OpenCost = c.Open * (p.Options.Rates.Hour + working*p.Options.Rates.Litre)
	c.CostHectare = c.Cost / (c.Field / hectare)
}

// driven is what the bar does: its passes, and the ways of its middle between them with the tool lifted.
func (p *Plan) driven() (runs []drive.Run, lifted [][]plane.XY, err error) {
	t, err := roomless(p.Implement)
	if err != nil {
		return nil, nil, err
	}
	var end []plane.XY // of the pass before
	for i, m := range p.Moves {
		way := t.lifted(m)
		line := slices.Concat(end, way)
		if i < len(p.Passes) {
			pass := drive.Moving(spaced(p.Passes[i].Line))
			line = append(line, pass[0])
			runs = drive.Append(runs, drive.Along(pass, p.Implement.Width, 0), way)
			end = pass[len(pass)-1:]
		}
		if line = drive.Moving(line); line != nil {
			lifted = append(lifted, line)
		}
	}
	return runs, lifted, nil
}

// trodden is the ground on which tyres run after it was cut, m²; the tractor's way is taken for that of the bar's middle.
func (p *Plan) trodden() (float64, error) {
	d := coverage.NewTrodden(p.Field, drive.Work{}.With(p.Implement))
	if d == nil {
		return 0, nil
	}
	t, err := roomless(p.Implement)
	if err != nil {
		return 0, err
	}
	for i, m := range p.Moves {
		d.Drive(t.lifted(m))
		if i < len(p.Passes) {
			line := drive.Moving(spaced(p.Passes[i].Line))
			d.Work(line, drive.Along(line, p.Implement.Width, 0))
		}
	}
	return d.Area(), nil
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

// lifted is the way of the bar's middle on a move.
func (t *turner) lifted(m Move) []plane.XY {
	if len(m.paths) == 0 {
		return m.Line
	}
	var way []plane.XY
	for _, p := range m.paths {
		// The paths were walked when they were made: they pass Validate, and turnStep is no fault.
		_ = p.Walk(turnStep, func(_ float64, at turn.Pose, _ float64, _ bool) { way = append(way, t.bar(at)) })
	}
	return way
}
