package turn

import (
	"context"
	"errors"
	"fmt"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// Turn is one turn judged: what it takes, and whether it can be driven.
type Turn struct {
	Kind        Kind    `json:"kind"`
	Skip        int     `json:"skip"`        // passes left for later between the two rows
	RowDistance float64 `json:"rowDistance"` // m, between the middles of the two rows
	Feasible    bool    `json:"feasible"`
	Why         string  `json:"why,omitempty"` // why not

	Depth float64 `json:"depth"` // m, ground needed beyond the row's end, the margin included: the least headland for it where the boundary runs square to the rows
	Spare float64 `json:"spare"` // m, left beyond the margin; negative: short
	// Place is where that is, on the boundary, an obstacle, or an outline beyond it; in a table, on the outline.
	Place plane.XY `json:"place"`

	Length  float64 `json:"length"`            // m driven by the rear axle, from lifting to lowering
	RunIn   float64 `json:"runIn,omitempty"`   // m of it straight in the next row's line, for the drawbar to settle
	Reverse float64 `json:"reverse,omitempty"` // m of it in reverse
	Changes int     `json:"changes,omitempty"` // of the driving direction
	Time    float64 `json:"time"`              // s; 0 = not known

	Angle      float64 `json:"angle,omitempty"`      // degrees, greatest between tractor and implement
	AngleLimit float64 `json:"angleLimit,omitempty"` // degrees, allowed
	CutIn      float64 `json:"cutIn,omitempty"`      // m, the implement's axle leaves the tractor's path by
	Swept      float64 `json:"swept,omitempty"`      // m², ground passed over; 0 = not asked for

	EntryAngle  float64 `json:"entryAngle,omitempty"`  // degrees, of the bar against the row where it comes in
	EntryOffset float64 `json:"entryOffset,omitempty"` // m, of the bar beside the row there, positive: to the right
	Missed      float64 `json:"missed,omitempty"`      // m², left standing at the row end

	// Driven is the set on the turn; nil where there is no such path.
	Driven *Driven `json:"-"`
	noGear bool    // it reverses, and the set may not or its speed is not known
}

// judge is what stays the same for all turns of a set.
type judge struct {
	driver
	steering Steering
	speeds   Speeds
	backs    bool // may be driven in reverse
}

func newJudge(im rig.Implement) (judge, error) {
	if err := Describes(im); err != nil {
		return judge{}, err
	}
	j := judge{driver: newDriver(im, Fine), steering: SteeringOf(im), speeds: SpeedsOf(im), backs: !im.Mount.Trailed || im.Mount.MayReverse}
	if err := j.steering.Validate(); err != nil {
		return judge{}, err
	}
	return j, j.speeds.Validate()
}

// fitting measures the spare metres of a turn.
type fitting func(d *Driven, margin float64) Fit

// path is the way of the rear axle for a kind of turn, with what it costs; the last
// runIn metres at least are straight in the line of the next row. Why is filled where it may not be driven; without
// a path there are no pieces.
func (j *judge) path(k Kind, l Line, runIn float64) (Turn, Path, error) {
	t := Turn{Kind: k, RowDistance: l.Distance, AngleLimit: j.im.Mount.AngleLimit()}
	rows := l.rows(j.im)
	rows.Stagger += runIn
	p, err := k.Path(rows, j.steering)
	if unfit, ok := errors.AsType[*Unfit](err); ok {
		t.Why = unfit.Why
		return t, Path{}, nil
	} else if err != nil {
		return Turn{}, Path{}, err
	}
	p.Pieces = add(p.Pieces, Arc{Length: runIn})
	if n := len(p.Pieces); n > 0 && p.Pieces[n-1].bent() == 0 {
		t.RunIn = max(0, p.Pieces[n-1].Length)
	}
	t.Length, t.Reverse, t.Changes = p.Length(), p.Reverse(), p.Changes()
	switch {
	case t.Reverse > 0 && !j.backs:
		t.Why, t.noGear = "reverses: the trailed set may not be pushed backwards", true
	case t.Reverse > 0 && j.speeds.Reversing == 0:
		t.Why, t.noGear = "reverses: turning, reverseSpeed is not given", true
	}
	if t.Reverse == 0 || j.speeds.Reversing > 0 {
		if t.Time, err = p.Time(j.speeds); err != nil {
			return Turn{}, Path{}, err
		}
	}
	return t, p, nil
}

// judge drives the set on p, with the run-in it takes to settle, and says whether it fits.
func (j *judge) judge(t Turn, p Path, l Line, fit fitting) (Turn, error) {
	d, err := j.drive(p)
	if err != nil {
		return Turn{}, err
	}
	within := func() bool { return t.AngleLimit == 0 || d.Angle <= t.AngleLimit }
	for range settlings {
		more := d.unsettled()
		if more == 0 || t.noGear || !within() {
			break
		}
		longer, q, err := j.path(t.Kind, l, t.RunIn+more)
		if err != nil {
			return Turn{}, err
		}
		if len(q.Pieces) == 0 { // no kind here stops serving for a stagger
			break
		}
		t = longer
		if d, err = j.drive(q); err != nil {
			return Turn{}, err
		}
	}
	margin := j.im.Turning.Margin
	f := fit(d, margin)
	t.Driven, t.Angle, t.Spare, t.Place = d, d.Angle, f.Spare, f.At
	t.Depth = d.Reach(l.From.At, l.From.Heading) + margin
	switch {
	case t.Why != "":
	case !within():
		t.Why = fmt.Sprintf("drawbar angle %.1f°: must be %.1f° at most", t.Angle, t.AngleLimit)
	case d.unsettled() > 0:
		t.Why = fmt.Sprintf("does not settle: the bar comes in at %.1f°", d.entry(l).Angle)
	case !f.Fits():
		t.Why = fmt.Sprintf("short by %.2f m", -f.Spare)
	}
	t.Feasible = t.Why == ""
	return t, nil
}

// whole adds what takes longer to find.
func (j *judge) whole(ctx context.Context, t Turn, l Line) (Turn, error) {
	t.CutIn, _ = t.Driven.CutIn()
	e := t.Driven.entry(l)
	t.EntryAngle, t.EntryOffset, t.Missed = e.Angle, e.Offset, e.Missed
	g, err := t.Driven.Swept(ctx)
	t.Swept = g.Area
	return t, err
}

// Judge is one turn of a kind at the end of a row, judged in a room. A trailed set is given the run-in it takes until
// its bar's ends are within the planned overlap (5 cm where none is planned) of their place when it may be lowered:
// a turn that brings it in aslant is no turn. Where the ground under the rows is driven over, the tool is lifted. Error: im lacks what
// turning needs (*Lacking); a call outside the limits. A kind that does not serve is an answer, not an error.
func Judge(ctx context.Context, k Kind, l Line, im rig.Implement, r *Room) (Turn, error) {
	j, err := newJudge(im)
	if err != nil {
		return Turn{}, err
	}
	return j.one(ctx, k, l, r.Fit)
}

func (j *judge) one(ctx context.Context, k Kind, l Line, fit fitting) (Turn, error) {
	t, p, err := j.path(k, l, 0)
	if err != nil || len(p.Pieces) == 0 {
		return t, err
	}
	if t, err = j.judge(t, p, l, fit); err != nil {
		return Turn{}, err
	}
	return j.whole(ctx, t, l)
}

// Pattern is what a set can do from one row into the next but so many.
type Pattern struct {
	Skip        int     `json:"skip"`           // passes left for later between
	RowDistance float64 `json:"rowDistance"`    // m
	Best        Kind    `json:"best,omitempty"` // the quickest that is feasible; "" where none is
	LeastDepth  float64 `json:"leastDepth"`     // m, least headland with which some kind is feasible; 0 where none is at any depth
	Turns       []Turn  `json:"turns"`          // all kinds, in the order of Kinds
}

const mostPatterns = 50 // passes left for later; farther on it is a way across the field

// Table is what a set can do on a straight headland `depth` metres deep that runs square to the rows:
// all kinds of turn for the next row, the second, up to the one behind mostSkip others; spacing is the
// credited width, m.
//
//  1. A turn feasible in one depth is feasible in every deeper one, and in exactly those of at least
//     its Depth, drawbar and gears allowing.
//  2. Where the bar is not in the tractor's middle, turns to the left and to the right differ: the one that needs more depth counts.
//
// Errors: im lacks what turning needs (*Lacking); spacing, depth or mostSkip out of range; ctx done.
func Table(ctx context.Context, im rig.Implement, spacing, depth float64, mostSkip int) ([]Pattern, error) {
	j, err := newJudge(im)
	if err != nil {
		return nil, err
	}
	if !(depth >= 0 && depth <= mostApart) {
		return nil, fmt.Errorf("headland depth %g m: must be from 0 to %g m", depth, mostApart)
	}
	if mostSkip < 0 || mostSkip > mostPatterns {
		return nil, fmt.Errorf("skip up to %d passes: must be from 0 to %d", mostSkip, mostPatterns)
	}
	straight := func(d *Driven, margin float64) Fit {
		line := lineOf(d.Path, im)
		spare := depth - d.Reach(line.At, line.Heading) - margin
		return Fit{Spare: spare, At: d.farthest(line.Heading), Cross: spare < -margin}
	}
	var all []Pattern
	for skip := range mostSkip + 1 {
		w, err := RowDistance(spacing, skip)
		if err != nil {
			return nil, err
		}
		w = nano(w)
		pat := Pattern{Skip: skip, RowDistance: w}
		for _, k := range Kinds() {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			t, err := j.worse(ctx, k, w, straight)
			if err != nil {
				return nil, err
			}
			t.Skip = skip
			pat.Turns = append(pat.Turns, t)
			pat.take(t)
		}
		all = append(all, pat)
	}
	return all, nil
}

// lineOf is where the row ends whose turn starts with p.
func lineOf(p Path, im rig.Implement) Pose { return p.From.moved(-RunOut(im), -im.Mount.BarRight, 0) }

// worse is the turn to the left, or that to the right where it differs and needs more.
func (j *judge) worse(ctx context.Context, k Kind, w float64, fit fitting) (Turn, error) {
	t, err := j.one(ctx, k, Line{Distance: w, Left: true}, fit)
	if err != nil || j.im.Mount.BarRight == 0 {
		return t, err
	}
	o, err := j.one(ctx, k, Line{Distance: w}, fit)
	if err != nil {
		return Turn{}, err
	}
	if o.Driven == nil || t.Driven != nil && (t.Feasible && !o.Feasible || t.Feasible == o.Feasible && o.Spare < t.Spare) {
		return o, nil
	}
	return t, nil
}

// take keeps the quickest feasible turn, and the least depth of those that only depth can stop.
func (p *Pattern) take(t Turn) {
	if t.Feasible {
		if best := p.best(); best == nil || t.Time < best.Time {
			p.Best = t.Kind
		}
	}
	if !t.barred() && (p.LeastDepth == 0 || t.Depth < p.LeastDepth) {
		p.LeastDepth = t.Depth
	}
}

func (p *Pattern) best() *Turn {
	for i := range p.Turns {
		if p.Turns[i].Kind == p.Best {
			return &p.Turns[i]
		}
	}
	return nil
}

// barred says that no room whatever makes a turn feasible.
func (t Turn) barred() bool {
	return t.Driven == nil || t.AngleLimit > 0 && t.Angle > t.AngleLimit || t.noGear
}
