package plan

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"

	"balk/coverage/rig"
	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

const (
	// sampled: the outlines of a turn are followed to so much, m: a tenth of the
	// usual margin to a boundary.
	sampled = 0.05
	// nearTurn: poses farther apart than so many least radii are no turn but a run.
	nearTurn = 12.0
	// plainer: the shortest ways are taken before the turns with a name where they save more, s.
	plainer = 0.5
	// mostWords: so many of the shortest words are tried: for each the set is driven.
	mostWords = 8
	// drawbarSlack: a drawbar turned beyond its limit by less is rounding, degrees.
	drawbarSlack = 0.01
)

// turner knows how the set turns.
type turner struct {
	im    rig.Implement
	steer turn.Steering
	speed turn.Speeds
	kinds []turn.Kind
	// reverses says whether it may.
	reverses bool
	lead     float64 // m, how far the tractor's rear axle is ahead of the bar
	half     float64 // m, half the greatest width of the set
	unfit    float64 // s, what a turn or run that does not fit takes beyond its way
	missed   float64 // s/m², what ground takes that is missed
	room     *turn.Room
	tables   map[int]*rowEnds // of row ends, by the distance of rows
	orders   map[string][]int // of rows, improved, by what the turns take and how far they may go
	known    *known           // of ways in the room
}

func turnerOf(im rig.Implement, field []plane.Polygon) (*turner, error) {
	t, err := roomless(im)
	if err != nil {
		return nil, err
	}
	t.known = newKnown()
	t.room, err = turn.NewRoom(field)
	return t, err
}

// roomless is a turner that knows nothing of the room.
func roomless(im rig.Implement) (*turner, error) {
	if err := turn.Describes(im); err != nil {
		return nil, err
	}
	t := &turner{im: im, steer: turn.SteeringOf(im), speed: turn.SpeedsOf(im)}
	if err := errors.Join(t.steer.Validate(), t.speed.Validate()); err != nil {
		return nil, err
	}
	m := im.Mount
	t.lead = m.HitchBehindAxle() + m.Drawbar + m.BarBehind
	t.half = max(cmp.Or(im.Body.Width, im.Width), im.Tractor.Width) / 2
	t.reverses = (!m.Trailed || m.MayReverse) && t.speed.Reversing > 0
	for _, k := range turn.Kinds() {
		if t.reverses || !k.Reverses() {
			t.kinds = append(t.kinds, k)
		}
	}
	return t, nil
}

// axle is the pose of the tractor when the bar's middle stands at p and the set is straight.
func (t *turner) axle(p plane.XY, h geo.Heading) turn.Pose {
	return turn.Pose{At: p, Heading: h}.Moved(t.lead, t.im.Mount.BarRight, 0)
}

// bar is where the bar's middle stands when the set is straight with its axle there.
func (t *turner) bar(p turn.Pose) plane.XY {
	return p.Moved(-t.lead, -t.im.Mount.BarRight, 0).At
}

// depth is the headland that the least plain U over whole passes needs, m: from the
// row end, where the bar stops, to the farthest the set's outline gets, margin included.
func (t *turner) depth(width float64) (float64, error) {
	const most = 10000 // passes; a plain U needs two to three radii
	for k := 1; k < most; k++ {
		from := t.axle(plane.XY{}, 0)
		p, err := turn.PlainU.Path(turn.Rows{From: from, Distance: float64(k) * width, Left: true, Stagger: -2 * t.lead}, t.steer)
		if _, unfit := errors.AsType[*turn.Unfit](err); unfit {
			continue
		}
		if err != nil {
			return 0, err
		}
		d, err := turn.Drive(p, t.im, sampled)
		if err != nil {
			return 0, err
		}
		return d.Reach(plane.XY{}, 0) + t.im.Turning.Margin, nil
	}
	return 0, fmt.Errorf("headland: no plain U over up to %d passes of %.6g m on a radius of %g m", most, width, t.steer.Radius)
}

// order is patternOf, kept: the same rows are asked for when a direction is estimated, either way, and when it is laid out. Nobody may change it.
func (t *turner) order(n int, cost []float64, furthest int, improve bool) []int {
	if !improve {
		rows, _ := patternOf(n, cost, furthest, false)
		return rows
	}
	key := make([]byte, 0, 8*(len(cost)+1))
	key = binary.LittleEndian.AppendUint64(key, uint64(furthest))
	for _, c := range cost {
		key = binary.LittleEndian.AppendUint64(key, math.Float64bits(c))
	}
	rows, known := t.orders[string(key)]
	if !known {
		rows, _ = patternOf(n, cost, furthest, true)
		if t.orders == nil {
			t.orders = map[string][]int{}
		}
		t.orders[string(key)] = rows
	}
	return rows
}

// furthest is over how many rows a turn may still gain by going farther.
func (t *turner) furthest(pitch float64) int { return 2 + int(math.Ceil(2*t.steer.Radius/pitch)) }

// least bounds the time of a turn into a row at least pitch away, s, of whatever kind
// and however the rows end.
//
// It turns by π on a curvature of 1/r at most, which takes πr; meanwhile it gets ∫|sin θ| ds = 2r to
// the side, and every metre to the side beyond that takes a metre (derived here).
//
// Bent passes whose headings span some angle may end turned by π less that angle, and what runs to the side
// then is not known: the turning alone counts.
func (t *turner) least(pitch, span float64) float64 {
	r := t.steer.Radius
	if span > 0 {
		return max(0, math.Pi-span) * r / max(t.speed.Turning, t.speed.Reversing)
	}
	return (math.Pi*r + max(0, pitch-2*r)) / max(t.speed.Turning, t.speed.Reversing)
}

// tried is a turn that was looked at.
type tried struct {
	path    turn.Path
	seconds float64
}

// timed are paths with the time they take.
func (t *turner) timed(paths []turn.Path) ([]tried, error) {
	all := make([]tried, len(paths))
	for i, p := range paths {
		s, err := p.Time(t.speed)
		if err != nil {
			return nil, err
		}
		all[i] = tried{p, s}
	}
	return all, nil
}

// drive has the set drive a path, and says whether it can. What surely leaves the room is not driven.
func (t *turner) drive(p turn.Path) (bool, error) {
	if t.room.Leaves(p, t.im, t.im.Turning.Margin, sampled) {
		return false, nil
	}
	d, err := turn.Drive(p, t.im, sampled)
	if err != nil {
		return false, err
	}
	return !t.folds(d) && t.room.Holds(d, t.im.Turning.Margin), nil
}

// leaves says that the set surely has no room where some way begins or where it ends, so that no way between the two fits: drive would say so of each.
func (t *turner) leaves(from, to turn.Pose) bool {
	return t.noRoom(from) || t.noRoom(to)
}

// noRoom says that of one pose, kept: where the set does not fit into a round hundreds of ways from one place are asked for.
func (t *turner) noRoom(at turn.Pose) bool {
	out, _ := t.known.out.get(standAsked{t.sizes(), at}, func() (bool, error) {
		return t.room.Leaves(turn.Path{From: at}, t.im, t.im.Turning.Margin, sampled), nil
	})
	return out
}

// folds says whether the drawbar is turned farther than it may.
func (t *turner) folds(d *turn.Driven) bool {
	return t.im.Mount.Trailed && d.Angle > t.im.Mount.AngleLimit()+drawbarSlack
}

// fault is why a path cannot be driven, and how much room it is short of, m.
func (t *turner) fault(d *turn.Driven) (*Fault, float64) {
	kind := d.Path.Kind
	if t.folds(d) {
		return &Fault{At: d.Moments[d.AngleAt].Set.Antenna, Why: fmt.Sprintf("%s: drawbar at %.1f°: must be %.1f° at most", kind, d.Angle, t.im.Mount.AngleLimit()), short: math.Inf(1)}, math.Inf(1)
	}
	f := t.room.Fit(d, t.im.Turning.Margin)
	return &Fault{At: f.At, Why: fmt.Sprintf("%s: short of room by %.2f m", kind, max(0, -f.Spare)), short: max(0, -f.Spare)}, -f.Spare
}

// turns are the paths from pose to pose, the fastest first: the turns with a name
// where the poses are opposite, and the words of Dubins, or where the set may reverse of Reeds & Shepp.
// The words are left out where the steering takes time, unless there is nothing else: their
// curvature jumps. Between poses that are not opposite it reverses inside a block only, where bent passes end so.
func (t *turner) turns(from, to turn.Pose, inBlock bool) ([]tried, error) {
	var paths []turn.Path
	rows, notRows := turn.Between(from, to)
	if notRows == nil {
		var err error
		if paths, err = t.named(rows); err != nil {
			return nil, err
		}
	}
	if notRows != nil || t.steer.Sharpness == 0 {
		words, err := turn.Words(from, to, t.steer.Radius, (notRows == nil || inBlock) && t.reverses)
		if err != nil {
			return nil, err
		}
		paths = append(paths, words[:min(mostWords, len(words))]...)
	}
	all, err := t.timed(paths)
	if err != nil {
		return nil, err
	}
	// A plain U into a row that ends behind is some centimetres longer than the shortest way forward.
	key := func(c tried) float64 {
		s := c.seconds
		if c.path.Kind == turn.Forward || c.path.Kind == turn.Reversing {
			s += plainer
		}
		return math.Round(s / leastGain) // rounding must not decide between a hook and its mirror
	}
	slices.SortStableFunc(all, func(a, b tried) int { return cmp.Compare(key(a), key(b)) })
	return all, nil
}

// named are the turns with a name that serve between two rows.
func (t *turner) named(rows turn.Rows) ([]turn.Path, error) {
	var paths []turn.Path
	for _, k := range t.kinds {
		if k == turn.Forward || k == turn.Reversing {
			continue // words, not turns with a name
		}
		p, err := k.Path(rows, t.steer)
		if _, unfit := errors.AsType[*turn.Unfit](err); unfit {
			continue
		}
		if err != nil {
			return nil, err
		}
		paths = append(paths, p)
	}
	return paths, nil
}

// first is the first of some ways that fits, and how many stand before it; where none fits those are all.
func (t *turner) first(all []tried) (tried, int, error) {
	for i, c := range all {
		if ok, err := t.drives(c.path); ok || err != nil {
			return c, i, err
		}
	}
	return tried{}, len(all), nil
}

// inner is the first turn from pose to pose inside a block that fits, kept; false: none does.
func (t *turner) inner(from, to turn.Pose) (tried, bool, error) {
	f, err := t.known.inner.get(turnAsked{t.sizes(), from, to, true}, func() (wordFound, error) {
		if t.leaves(from, to) {
			return wordFound{}, nil
		}
		all, err := t.turns(from, to, true)
		if err != nil {
			return wordFound{}, err
		}
		c, before, err := t.first(all)
		return wordFound{c, before < len(all)}, err
	})
	return f.tried, f.ok, err
}

// turned is the move along turn, kept; false: none serves, or outside a block none fits.
func (t *turner) turned(from, to turn.Pose, inBlock bool) (Move, bool, error) {
	f, err := t.known.turns.get(turnAsked{t.sizes(), from, to, inBlock}, func() (f turnFound, err error) {
		if !inBlock && t.leaves(from, to) {
			return f, nil
		}
		c, fault, err := t.turn(from, to, inBlock)
		if f.serve = err == nil && len(c.path.Pieces) > 0 && (fault == nil || inBlock); f.serve {
			f.move, err = t.moveAlong(c.path.Kind, c.path)
			f.move.Fault = fault
		}
		return f, err
	})
	return f.move, f.serve, err
}

// turn is the fastest way from pose to pose that fits. Where none does it is the one
// that is short of least, with its fault.
func (t *turner) turn(from, to turn.Pose, inBlock bool) (tried, *Fault, error) {
	all, err := t.turns(from, to, inBlock)
	if err != nil {
		return tried{}, nil, err
	}
	c, before, err := t.first(all)
	if err != nil || before < len(all) {
		return c, nil, err
	}
	if len(all) == 0 {
		return tried{}, &Fault{At: from.At, Why: fmt.Sprintf("no kind of turn serves on a radius of %g m", t.steer.Radius)}, nil
	}
	if !inBlock {
		return all[0], &Fault{At: from.At, Why: "no turn fits"}, nil // a run is driven instead
	}
	var least tried
	var fault *Fault
	shortest := math.Inf(1)
	for _, c := range all {
		d, err := turn.Drive(c.path, t.im, sampled)
		if err != nil {
			return tried{}, nil, err
		}
		if why, short := t.fault(d); fault == nil || short < shortest {
			least, fault, shortest = c, why, short
		}
	}
	return least, fault, nil
}
