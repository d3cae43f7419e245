package rework

import (
	"cmp"
	"context"
	"fmt"
	"math"

	"balk/coverage"
	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// Options say what is worth a visit and how the set drives. The zero value of a field
// means what its comment says.
type Options struct {
	Gate        *plane.XY `json:"gate,omitempty"`        // m on the plane, where the way begins and ends; none = the place of the boundary nearest to the first strip
	LeastArea   float64   `json:"leastArea,omitempty"`   // m²; strips smaller than it are left out
	LeastWidth  float64   `json:"leastWidth,omitempty"`  // m; strips whose greatest width is below it are left out
	CertainOnly bool      `json:"certainOnly,omitempty"` // leave out what is not certainly missed; false = likely strips and those of unknown surety too
	Value       float64   `json:"value,omitempty"`       // money per m² worked again; 0 = the way is not weighed
	PerMetre    float64   `json:"perMetre,omitempty"`    // money per metre driven
	PerHour     float64   `json:"perHour,omitempty"`     // money per hour
	Before      float64   `json:"before,omitempty"`      // m worked ahead of a strip's beginning, for the tool to reach its depth; 0 = none
	Behind      float64   `json:"behind,omitempty"`      // m worked beyond its end; 0 = none
	LineUp      float64   `json:"lineUp,omitempty"`      // m driven straight before the tool is lowered; 0 = none for a rigid set, two drawbars for a trailed one
	ForwardOnly bool      `json:"forwardOnly,omitempty"` // never reverse; false = where no forward turn fits, if the set may
	Speeds      Speeds    `json:"speeds,omitzero"`
	Approach    float64   `json:"-"`               // s, spent for coming back before the first strip; 0 = the set is there
	Take        Take      `json:"take,omitzero"`   // how many of the strips, those first that win most per minute
	First       []int     `json:"first,omitempty"` // numbers of strips that are worked whatever their size and what they win per minute
}

// Speeds are how fast the set goes. Reverse speed and the time to change direction
// are those of the implement's description.
type Speeds struct {
	Work float64 `json:"work,omitempty"` // m/s; 0 = the mean of the checked operation, if that is not known 8 km/h (common practice, no source)
	Way  float64 `json:"way,omitempty"`  // m/s with the tool lifted; 0 = as in a turn, if that is not known as at work
}

// Limits of what Options take; longer distances are typing errors.
const (
	mostExtended = 200.0       // m
	mostSpeed    = 20.0        // m/s
	usualSpeed   = 8 / geo.Kmh // m/s
	settled      = 2.0         // drawbars: a right angle between set and line shrinks to 15° on the way, tan(ψ/2) = e^−2
)

// Validate says what is wrong with o: the first limit that is broken.
func (o Options) Validate() error {
	if g := o.Gate; g != nil && !(math.Abs(g.X) <= plane.Limit && math.Abs(g.Y) <= plane.Limit) {
		return fmt.Errorf("gate at %g, %g: must be within ±%d m", g.X, g.Y, int64(plane.Limit))
	}
	for _, c := range []struct {
		name string
		v    float64
		most float64
		unit string
	}{
		{"least area", o.LeastArea, math.MaxFloat64, "m²"}, {"least width", o.LeastWidth, rig.MaxWidth, "m"},
		{"worth of ground", o.Value * 1e4, math.MaxFloat64, "per ha"}, {"cost", o.PerMetre * 1e3, math.MaxFloat64, "per km"}, {"cost", o.PerHour, math.MaxFloat64, "per hour"},
		{"worked before a strip", o.Before, mostExtended, "m"}, {"worked behind a strip", o.Behind, mostExtended, "m"},
		{"minutes", o.Take.Minutes, math.MaxFloat64, "min"}, {"approach", o.Approach / 60, math.MaxFloat64, "min"}, {"share of the missed ground", o.Take.Share * 100, 100, "%"},
		{"driven straight before lowering", o.LineUp, mostExtended, "m"}, {"working speed", o.Speeds.Work * 3.6, mostSpeed * 3.6, "km/h"}, {"speed on the way", o.Speeds.Way * 3.6, mostSpeed * 3.6, "km/h"},
	} {
		if !(c.v >= 0 && c.v <= c.most) {
			if c.most == math.MaxFloat64 {
				return fmt.Errorf("%s %.6g %s: must be 0 or more", c.name, c.v, c.unit)
			}
			return fmt.Errorf("%s %.6g %s: must be from 0 to %g %s", c.name, c.v, c.unit, c.most, c.unit)
		}
	}
	return nil
}

// Plan is the re-work of one operation.
//
//	Missed = Σ Chosen.Area + Σ Skipped.Area + Rounding = Covered + Left
//	Swath  = Covered + ExtraDouble + Unknown + Outside
type Plan struct {
	Chosen  []Visit `json:"chosen"`  // in the order of the strips' numbers
	Skipped []Skip  `json:"skipped"` // all other missed ground, and why
	Passes  []Pass  `json:"passes"`  // in the order driven, in the direction driven

	Gate     plane.XY `json:"gate"`     // m on the plane
	Route    []Piece  `json:"route"`    // from the gate over all passes and back
	Length   float64  `json:"length"`   // m
	Time     float64  `json:"time"`     // s
	Unfit    int      `json:"unfit"`    // pieces of the way, passes among them, that do not fit into the field, each named in Route
	Outlined bool     `json:"outlined"` // ways and passes are checked with the outline of the set, not of the rear axle alone

	Worth coverage.Worth `json:"worth"` // of all strips that could be chosen

	Missed      float64 `json:"missed"`      // m², before
	Covered     float64 `json:"covered"`     // m² of it that the re-work covers
	Left        float64 `json:"left"`        // m² still missed
	ExtraDouble float64 `json:"extraDouble"` // m² worked once more than needed, counted as often
	Unknown     float64 `json:"unknown"`     // m² of unknown state worked
	Outside     float64 `json:"outside"`     // m² outside the boundary or in an obstacle under the tool
	Swath       float64 `json:"swath"`       // m² of all passes at credited width
	Rounding    float64 `json:"rounding"`    // m², strips are drawn rounded to an eighth of a millimetre
}

// Visit is a strip that is worked again. Covered, Left and ExtraDouble are those of its own passes alone;
// double work of passes that serve several strips is shared out by the ground covered.
type Visit struct {
	Strip       int     `json:"strip"`  // its number in the result
	Order       int     `json:"order"`  // 1 = first on the way
	Passes      []int   `json:"passes"` // numbers of Plan.Passes, ascending
	Area        float64 `json:"area"`   // m²
	Covered     float64 `json:"covered"`
	Left        float64 `json:"left"`
	ExtraDouble float64 `json:"extraDouble"`
}

// Pass is a run of re-work between lowering and lifting.
type Pass struct {
	Number int        `json:"number"`           // 1, 2, 3 ... in the order driven
	Strips []int      `json:"strips"`           // numbers of the strips it is for, ascending
	Length float64    `json:"length"`           // m worked
	Before float64    `json:"before,omitempty"` // m of it ahead of the strip; less than asked for where the field ends
	Behind float64    `json:"behind,omitempty"` // m of it behind the strip
	LineUp float64    `json:"lineUp,omitempty"` // m driven straight before it with the tool lifted, the end of the way there; less than asked for where the field ends or the set has no room for it, none where the way there hardly turns
	Line   []plane.XY `json:"line"`             // m, middle of the worked width, in driving direction
}

// Piece is one part of the way.
type Piece struct {
	Pass     int                `json:"pass,omitempty"`     // the pass worked; 0: driven with the tool lifted
	Line     []plane.XY         `json:"line"`               // m; a pass: the middle of the worked width; else the tractor's rear axle
	Length   float64            `json:"length"`             // m driven, as long as its line
	Reversed float64            `json:"reversed,omitempty"` // m of it
	Time     float64            `json:"time"`               // s
	Unfit    string             `json:"unfit,omitempty"`    // why it cannot be driven as drawn; "" = it can
	Slope    *coverage.WaySlope `json:"slope,omitempty"`    // nil: not known
}

// Of plans the re-work of what r says was missed, with the implement im. It satisfies
//
//  1. every m² of r.Balance.Missed is in Chosen or, with a reason, in Skipped, up to Rounding;
//  2. covered + left = missed, and swath = covered + extra double + unknown + outside, from exact areas;
//  3. the way is never longer than by going to the nearest pass next, reversing and ways that do not fit counted as in
//     way.cost, as long as the rear axle's way serves for the outline of the set too;
//  4. moving and turning everything moves and turns the plan, but for what rounding decides: ways of the same length,
//     and where edges of a strip only just meet.
//
// Errors: faults of im and o; no radius to turn on; a result without field or shapes of strips; ctx done.
func Of(ctx context.Context, r coverage.Result, im rig.Implement, o Options) (Plan, error) {
	w, err := begin(r, im, o)
	if err != nil {
		return Plan{}, err
	}
	p := Plan{Missed: r.Balance.Missed}
	wanted := w.choose(&p)
	jobs, err := w.jobsOf(ctx, wanted)
	if err != nil {
		return Plan{}, fmt.Errorf("swaths: %w", err)
	}
	if err := w.route(ctx, jobs, &p); err != nil {
		return Plan{}, fmt.Errorf("way: %w", err)
	}
	if err := w.simulate(ctx, &p); err != nil {
		return Plan{}, fmt.Errorf("simulation: %w", err)
	}
	for k := range p.Route {
		if s, ok := r.WaySlope(p.Route[k].Line); ok {
			p.Route[k].Slope = &s
		}
	}
	return p, nil
}

// begin looks at what is to be planned.
func begin(r coverage.Result, im rig.Implement, o Options) (*works, error) {
	if err := im.Validate(); err != nil {
		return nil, err
	}
	if err := o.Validate(); err != nil {
		return nil, err
	}
	if im.TurnRadius() == 0 {
		return nil, &turn.Lacking{Entry: "turning, radius", Need: "the least radius the tractor can steer, m"}
	}
	return worksOf(r, im, o)
}

// works is what stays the same for all strips of one plan.
type works struct {
	r       coverage.Result
	im      rig.Implement
	o       Options
	width   float64     // m, credited
	index   map[int]int // of r.Strips, by number
	ground  *terrain
	lines   [][]plane.XY // of the passes, thinned; by number − 1
	missed  *shelf
	unknown *shelf
}

func worksOf(r coverage.Result, im rig.Implement, o Options) (*works, error) {
	if o.LineUp == 0 && im.Mount.Trailed {
		o.LineUp = settled * im.Mount.Drawbar
	}
	if o.Speeds.Work == 0 {
		if o.Speeds.Work = r.Effort.Speed.Mean; !(o.Speeds.Work > 0) {
			o.Speeds.Work = usualSpeed
		}
	}
	o.Speeds.Way = cmp.Or(o.Speeds.Way, turn.SpeedsOf(im).Turning, o.Speeds.Work)
	w := &works{r: r, im: im, o: o, width: im.Width - im.Overlap, index: map[int]int{}}
	for k, s := range r.Strips {
		if _, twice := w.index[s.Number]; twice || len(s.Shape) == 0 {
			return nil, fmt.Errorf("re-work: strip %d of the result has no shape or is listed twice", s.Number)
		}
		w.index[s.Number] = k
	}
	var err error
	if w.ground, err = terrainOf(r.Layers.Field, im); err != nil {
		return nil, err
	}
	w.lines = make([][]plane.XY, len(r.Passes))
	for k, p := range r.Passes {
		w.lines[k] = plane.Thinned(p.Line, w.width/wander)
	}
	w.missed, w.unknown = shelfOf(r.Layers.Missed), shelfOf(r.Layers.Unknown)
	return w, nil
}

// speeds are those of the ways.
func (w *works) speeds() turn.Speeds {
	v := turn.SpeedsOf(w.im)
	v.Turning = w.o.Speeds.Way
	v.Reversing = cmp.Or(v.Reversing, v.Turning/2) // common practice, no source
	return v
}

// back is how far the bar lies behind the tractor's rear axle, m.
func (w *works) back() float64 {
	m := w.im.Mount
	return m.HitchBehindAxle() + m.Drawbar + m.BarBehind
}

// reversing says whether the set may be driven backwards.
func (w *works) reversing() bool {
	return !w.o.ForwardOnly && (!w.im.Mount.Trailed || w.im.Mount.MayReverse)
}
