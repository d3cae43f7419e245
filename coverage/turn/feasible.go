package turn

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/geo/plane"
)

// Turn is one turn judged: what it takes, and whether it can be driven.
type Turn struct {
	Kind        Kind    `json:"kind"`
	Side        string  `json:"side,omitempty"` // of the next row, "left" or "right"; only in a table, where it makes a difference
	Skip        int     `json:"skip"`           // passes left for later between the two rows
	RowDistance float64 `json:"rowDistance"`    // m, between the middles of the two rows
	Feasible    bool    `json:"feasible"`
	Why         string  `json:"why,omitempty"` // why not
	Reason      Reason  `json:"-"`             // what sort of Why that is

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
	least  float64 // m, the least depth at which a way of this kind is feasible; 0: at no depth
}

// Reason is a sort of reason why a turn cannot be driven.
type Reason uint8

// The reasons. Of several that hold at once the first stands.
const (
	NoReason Reason = iota // it can be driven, or its kind does not serve
	NoGear                 // it reverses, and the set may not, or its speed is not known
	Folds                  // the drawbar is turned farther than it may
	Swings                 // the bar has not settled when it comes to the line
	Short                  // there is no room
)

// judge is what stays the same for all turns of a set.
type judge struct {
	driver
	steering Steering
	speeds   Speeds
	backs    bool // may be driven in reverse
	freely   bool // as if it might, and its speed were known
	brief    bool // what whole adds is not asked for
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

// trial is a turn with the path of the rear axle; a path without pieces is none.
type trial struct {
	Turn
	path Path
}

// ways are the paths of the rear axle for a kind of turn, with what they cost: one, or of a shortest way all that are
// as long. The last runIn metres at least are straight in the line of the next row. Why is filled where one may not be
// driven, and where this kind does not serve.
func (j *judge) ways(k Kind, l Line, runIn float64) ([]trial, error) {
	t := Turn{Kind: k, RowDistance: l.Distance, AngleLimit: j.im.Mount.AngleLimit()}
	rows := l.rows(j.im)
	rows.Stagger += runIn
	paths, err := k.paths(rows, j.steering)
	if unfit, ok := errors.AsType[*Unfit](err); ok {
		t.Why = unfit.Why
		return []trial{{Turn: t}}, nil
	} else if err != nil {
		return nil, err
	}
	ways := make([]trial, len(paths))
	for i, p := range paths {
		if ways[i], err = j.costed(t, p, runIn); err != nil {
			return nil, err
		}
	}
	return ways, nil
}

func (j *judge) costed(t Turn, p Path, runIn float64) (trial, error) {
	p.Pieces = add(p.Pieces, Arc{Length: runIn})
	if n := len(p.Pieces); n > 0 && p.Pieces[n-1].bent() == 0 {
		t.RunIn = max(0, p.Pieces[n-1].Length)
	}
	t.Length, t.Reverse, t.Changes = p.Length(), p.Reverse(), p.Changes()
	switch {
	case t.Reverse == 0 || j.freely:
	case !j.backs:
		t.Why, t.Reason = "reverses: the trailed set may not be pushed backwards", NoGear
	case j.speeds.Reversing == 0:
		t.Why, t.Reason = "reverses: turning, reverseSpeed is not given", NoGear
	}
	var err error
	if t.Reverse == 0 || j.speeds.Reversing > 0 {
		t.Time, err = p.Time(j.speeds)
	}
	return trial{t, p}, err
}

// of is the best way of a kind: of those as short the one that fits, then the quicker.
func (j *judge) of(k Kind, l Line, runIn float64, fit fitting) (Turn, error) {
	ways, err := j.ways(k, l, runIn)
	if err != nil {
		return Turn{}, err
	}
	var best Turn
	least := 0.0
	for i, w := range ways {
		t, err := j.judge(w, l, fit)
		if err != nil {
			return Turn{}, err
		}
		if !t.barred() && (least == 0 || t.Depth < least) {
			least = t.Depth
		}
		if i == 0 || t.better(best) {
			best = t
		}
	}
	best.least = least
	return best, nil
}

// judge drives the set on a way, with the run-in it takes to settle, and says whether it fits.
func (j *judge) judge(w trial, l Line, fit fitting) (Turn, error) {
	if len(w.path.Pieces) == 0 {
		return w.Turn, nil
	}
	w, d, err := j.settled(w, l)
	if err != nil {
		return Turn{}, err
	}
	t, margin := w.Turn, j.im.Turning.Margin
	f := fit(d, margin)
	t.Driven, t.Angle, t.Spare, t.Place = d, d.Angle, f.Spare, f.At
	t.Depth = d.Reach(l.From.At, l.From.Heading) + margin
	switch {
	case t.Reason != NoReason:
	case t.folds():
		t.Reason, t.Why = Folds, fmt.Sprintf("drawbar angle %.1f°: must be %.1f° at most", t.Angle, t.AngleLimit)
	case d.unsettled() > 0:
		t.Reason, t.Why = Swings, fmt.Sprintf("does not settle: the bar comes in at %.1f°", d.entry(l).Angle)
	case !f.Fits():
		t.Reason, t.Why = Short, fmt.Sprintf("short by %.2f m", -Told(f.Spare))
	}
	t.Feasible = t.Why == ""
	return t, nil
}

// settled is the set on a way that ends in a run-in long enough for its bar to settle.
//
// A longer run-in changes the turn before it, so it is found in steps: what is still lacking for the turn as it
// is, or, where that shrinks slowly, what the line through the last two such lacks says. What is lacking
// falls ever more slowly, so that such a line never leads too far.
func (j *judge) settled(w trial, l Line) (trial, *Driven, error) {
	d, err := j.drive(w.path)
	if err != nil {
		return trial{}, nil, err
	}
	lacked, ran := 0.0, 0.0
	for range settlings {
		more := d.unsettled()
		if w.Angle = d.Angle; more == 0 || w.Reason == NoGear || w.folds() {
			break
		}
		step := more
		if lacked > more && w.RunIn > ran {
			step = max(more, min(more*(w.RunIn-ran)/(lacked-more), j.im.Mount.Drawbar))
		}
		lacked, ran = more, w.RunIn
		longer, err := j.ways(w.Kind, l, w.RunIn+step)
		if err != nil {
			return trial{}, nil, err
		}
		next := longer[0]
		for _, o := range longer {
			if o.path.beginsLike(w.path) {
				next = o
				break
			}
		}
		if len(next.path.Pieces) == 0 { // no kind here stops serving for a stagger
			break
		}
		w = next
		if d, err = j.drive(w.path); err != nil {
			return trial{}, nil, err
		}
	}
	return w, d, nil
}

// beginsLike says whether the first bend of both paths goes the same way in the same gear.
func (p Path) beginsLike(o Path) bool {
	first := func(p Path) (left bool, gear float64) {
		for _, a := range p.Pieces {
			if a.bent() > 0 {
				return a.From+a.To > 0, a.gear()
			}
		}
		return false, 0
	}
	left, gear := first(p)
	oLeft, oGear := first(o)
	return left == oLeft && gear == oGear
}

// folds says whether the drawbar is turned farther than it may.
func (t Turn) folds() bool { return t.AngleLimit > 0 && t.Angle > t.AngleLimit }

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
	t, err := j.of(k, l, 0, fit)
	if err != nil || t.Driven == nil || j.brief {
		return t, err
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
//  1. A turn feasible in one depth is feasible in every deeper one. Some kind is in exactly those of at
//     least LeastDepth.
//  2. Where the bar is not in the tractor's middle, turns to the left and to the right differ. Of a kind the one that needs more
//     depth is given, with its Side; LeastDepth and Best are those of rows that turn to either side in turn, each by its own kind.
//  3. It is what FieldEnds gives for a row whose end is straight and square, far from other boundaries.
//
// Errors: im lacks what turning needs (*Lacking); spacing, depth or mostSkip out of range; ctx done.
func Table(ctx context.Context, im rig.Implement, spacing, depth float64, mostSkip int) ([]Pattern, error) {
	j, err := newJudge(im)
	if err != nil {
		return nil, err
	}
	return j.table(ctx, spacing, depth, mostSkip)
}

func (j *judge) table(ctx context.Context, spacing, depth float64, mostSkip int) ([]Pattern, error) {
	if !(depth >= 0 && depth <= mostApart) {
		return nil, fmt.Errorf("headland depth %.6g m: must be from 0 to %g m", depth, mostApart)
	}
	if mostSkip < 0 || mostSkip > mostPatterns {
		return nil, fmt.Errorf("skip up to %d passes: must be from 0 to %d", mostSkip, mostPatterns)
	}
	straight := func(d *Driven, margin float64) Fit {
		line := lineOf(d.Path, j.im)
		spare := depth - d.Reach(line.At, line.Heading) - margin
		return Fit{Spare: spare, At: d.farthest(line.Heading), Cross: spare < -margin}
	}
	var all []Pattern
	for skip := range mostSkip + 1 {
		w, err := RowDistance(spacing, skip)
		if err != nil {
			return nil, err
		}
		pat, err := j.pattern(ctx, nano(w), skip, straight)
		if err != nil {
			return nil, err
		}
		all = append(all, pat)
	}
	return all, nil
}

// lineOf is where the row ends whose turn starts with p.
func lineOf(p Path, im rig.Implement) Pose { return p.From.Moved(-RunOut(im), -im.Mount.BarRight, 0) }

// pattern is all kinds of turn into a row w metres off.
func (j *judge) pattern(ctx context.Context, w float64, skip int, fit fitting) (Pattern, error) {
	p := Pattern{Skip: skip, RowDistance: w}
	var sides [2]side
	both := side{}
	for _, k := range Kinds() {
		if err := ctx.Err(); err != nil {
			return Pattern{}, err
		}
		left, right, err := j.sides(ctx, k, w, fit)
		if err != nil {
			return Pattern{}, err
		}
		left.Skip, right.Skip = skip, skip
		t := worse(left, right)
		p.Turns = append(p.Turns, t)
		sides[0].take(left)
		sides[1].take(right)
		if left.Feasible && right.Feasible {
			both.take(t)
		}
	}
	if l, r := sides[0].least, sides[1].least; l > 0 && r > 0 {
		p.LeastDepth = max(l, r)
	}
	switch l, r := sides[0].best, sides[1].best; {
	case both.best.Feasible:
		p.Best = both.best.Kind
	case l.Feasible && r.Feasible: // to each side another kind: the slower one stands for both
		if r.Time > l.Time {
			l = r
		}
		p.Best = l.Kind
		p.Turns[slices.Index(Kinds(), l.Kind)] = l
	}
	return p, nil
}

// side is what a set can do to one side.
type side struct {
	best  Turn    // the quickest feasible, if any
	least float64 // m, the least depth of all kinds that only depth can stop; 0: none
}

func (s *side) take(t Turn) {
	if t.Feasible && t.better(s.best) {
		s.best = t
	}
	if t.least > 0 && (s.least == 0 || t.least < s.least) {
		s.least = t.least
	}
}

// sides are the turns of a kind to the left and to the right; they differ where the bar is not in the tractor's middle.
func (j *judge) sides(ctx context.Context, k Kind, w float64, fit fitting) (left, right Turn, err error) {
	if left, err = j.one(ctx, k, Line{Distance: w, Left: true}, fit); err != nil || j.im.Mount.BarRight == 0 {
		return left, left, err
	}
	right, err = j.one(ctx, k, Line{Distance: w}, fit)
	left.Side, right.Side = "left", "right"
	return left, right, err
}

// worse is the turn to the left, or that to the right where it needs more.
func worse(left, right Turn) Turn {
	switch {
	case left.Driven == nil:
		return left
	case right.Driven == nil, left.Feasible && !right.Feasible, left.Feasible == right.Feasible && right.Spare < left.Spare:
		return right
	}
	return left
}

// sameTime: turns that take as long within it differ by rounding only, s.
const sameTime = 1e-6

// better: feasible before not, then by time; of infeasible ones the least short, those that no
// room makes feasible last. Of ways of one kind that take as long the one with more to spare.
func (t Turn) better(than Turn) bool {
	switch {
	case t.Feasible != than.Feasible:
		return t.Feasible
	case t.Feasible && math.Abs(t.Time-than.Time) > sameTime:
		return t.Time < than.Time
	case t.Feasible && t.Kind != than.Kind:
		return false
	case t.barred() != than.barred():
		return than.barred()
	}
	return t.Spare > than.Spare
}

// barred says that no room whatever makes a turn feasible.
func (t Turn) barred() bool { return t.Driven == nil || t.Reason != NoReason && t.Reason != Short }

// Told is room to spare as people read it, in whole centimetres rounded down: what is short by a millimetre is never told as nothing.
func Told(spare float64) float64 {
	const dust = 1e-6 // cm, of the arithmetic
	return math.Floor(100*spare+dust)/100 + 0
}

// Need is the headland that a set needs to turn at a straight row end, square to it: the least depth with which some kind of turn serves into the nearest row
// for which any does. It is what people set: whole decimetres, rounded up.
type Need struct {
	Depth float64 `json:"depth"` // m
	Skip  int     `json:"skip"`  // rows left for later between; 0: the next row
	// Least is the depth for that row of all looked at which takes least, m, and LeastSkip how many are left between then.
	Least     float64 `json:"least"`
	LeastSkip int     `json:"leastSkip"`
}

// NeedOf finds that for rows so far apart (m), up to the one behind mostSkip others; false: no turn serves, whatever the depth up to Deepest.
//
//  1. It is the first LeastDepth of Table, rounded up.
//
// Errors: those of Table.
func NeedOf(ctx context.Context, im rig.Implement, spacing float64, mostSkip int) (Need, bool, error) {
	j, err := newJudge(im)
	if err != nil {
		return Need{}, false, err
	}
	j.brief = true
	all, err := j.table(ctx, spacing, Deepest, mostSkip)
	if err != nil {
		return Need{}, false, err
	}
	var n Need
	for _, p := range all {
		depth := math.Ceil(p.LeastDepth*10) / 10
		if depth == 0 {
			continue
		}
		if n.Depth == 0 {
			n.Depth, n.Skip = depth, p.Skip
		}
		if n.Least == 0 || depth < n.Least {
			n.Least, n.LeastSkip = depth, p.Skip
		}
	}
	return n, n.Depth > 0, nil
}

const (
	Deepest   = 200.0 // m, the deepest headland that is looked at
	UsualSkip = 4     // so many rows are left between at most, where nobody says otherwise
)
