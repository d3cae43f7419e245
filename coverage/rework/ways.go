package rework

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// way is how the tractor's rear axle gets from one pose to the next.
type way struct {
	paths    []turn.Path
	length   float64 // m
	reversed float64 // m of it
	time     float64 // s
	unfit    string
}

const (
	// wayBow: a bend is looked at as a line of chords that leaves it by no more than this, m. It is a twentieth of the least margin
	// kept where no other is asked for.
	wayBow = 0.05
	// unfitCost is added to the length of a way that does not fit, m. It is longer than any way across a field, so such a way is
	// avoided wherever there is another.
	unfitCost = 1e5
)

// pose is the tractor's rear axle at an end of a pass: the place on the line of the pass where the way begins or ends.
type pose struct {
	turn.Pose
	in   bool    // it lies in the field
	back float64 // m the pass goes on beyond it, outside the field: driven back in reverse
}

// mostBack is how far outside the field, in working widths, a pass may end for the set to back into
// the field again: rows that end obliquely at the boundary stand out by up to a width.
const mostBack = 2.0

// poseOf is the pose of the axle when the bar stands at the end of a pass, the axle so far ahead of the bar. inward is +1 where
// the pass begins and −1 where it ends. Rounding must not decide whether a pose on the boundary is inside, so such a pose is
// moved a centimetre into the field.
func (w *works) poseOf(at, along plane.XY, ahead, inward float64) pose {
	u := along.Unit()
	q := at.Add(u.Scale(ahead)).Add(u.Left().Scale(w.im.Mount.BarRight))
	p := pose{Pose: turn.Pose{At: q, Heading: geo.Along(u)}}
	place := func(d float64) plane.XY { return q.Add(u.Scale(inward * d)) }
	holds := func(d float64) bool { return w.ground.edges.Holds(place(d)) }
	if p.in = holds(0) && holds(-intoField); p.in {
		return p
	}
	const steps = 8 // to a width
	for k := range int(mostBack * steps) {
		out, in := w.width*float64(k)/steps, w.width*float64(k+1)/steps
		if k == 0 && holds(intoField) {
			in = intoField
		}
		if !holds(in) {
			continue
		}
		for in-out > intoField/2 {
			if middle := (in + out) / 2; holds(middle) {
				in = middle
			} else {
				out = middle
			}
		}
		p.back, p.in = in+intoField, holds(in+intoField)
		p.At = place(p.back)
		if p.back <= 3*intoField {
			p.back = 0 // no more than rounding
		}
		return p
	}
	return p
}

// reached says whether the axle can get to a pose and away from it without leaving the field.
func (w *works) reached(p pose) bool { return p.in && (p.back == 0 || w.reversing()) }

// wayTo is the shortest way found from one pose to another inside the field:
//
//  1. the shortest forward way if it fits, else the next longer of its words (Dubins 1957);
//  2. where the straight between both is blocked, round the corners on the shortest line there is;
//  3. if the set may reverse, the shortest of Reeds & Shepp's words that fits (1990), or round the corners by them;
//  4. else the shortest forward way, named as one that does not fit.
func (w *works) wayTo(from, to pose) (way, error) {
	r := w.im.TurnRadius()
	short, err := turn.Dubins(from.Pose, to.Pose, r)
	if err != nil {
		return way{}, err
	}
	if !w.reached(from) || !w.reached(to) {
		got, err := w.wayOf(short)
		got.unfit = "ends outside the boundary"
		return got, err
	}
	got, err := w.wayInside(from, to, short)
	if err != nil {
		return way{}, err
	}
	return w.backed(from, to, got)
}

// gentle is by how much a way may turn altogether, rad, to need no line-up: 15°, to which a right angle
// shrinks in the usual one; see settled.
const gentle = math.Pi / 12

// between is the way from one pass to the next, and the length of the line-up before that one. No line-up is needed where the way
// straight to the lowering place hardly turns, as to a strip ahead on the same line.
func (w *works) between(a, b oneWay) (way, float64, error) {
	if b.lineUp > 0 && a.exit.in && a.exit.back == 0 {
		p, err := turn.Dubins(a.exit.Pose, b.entry.Moved(b.lineUp, 0, 0), w.im.TurnRadius())
		if err != nil {
			return way{}, 0, err
		}
		turned := 0.0
		for _, piece := range p.Pieces {
			turned += math.Abs(piece.From * piece.Length)
		}
		if turned <= gentle && w.inside(p) {
			got, err := w.wayOf(p)
			return got, 0, err
		}
	}
	got, err := w.wayTo(a.exit, b.entry)
	return got, b.lineUp, err
}

// backed adds what is driven in reverse from beyond the field before a way, and what is driven in reverse to there behind it.
func (w *works) backed(from, to pose, got way) (way, error) {
	if from.back+to.back == 0 {
		return got, nil
	}
	straight := func(at turn.Pose, by float64) turn.Path {
		return turn.Path{From: at, Pieces: []turn.Arc{{Length: by}}, Kind: turn.Reversing}
	}
	paths := got.paths
	if from.back > 0 {
		paths = append([]turn.Path{straight(from.Moved(from.back, 0, 0), -from.back)}, paths...)
	}
	if to.back > 0 {
		paths = append(slices.Clip(paths), straight(to.Pose, -to.back))
	}
	whole, err := w.wayOf(paths...)
	whole.unfit = got.unfit
	return whole, err
}

// wayInside is wayTo between two poses in the field.
func (w *works) wayInside(from, to pose, short turn.Path) (way, error) {
	if w.inside(short) {
		return w.wayOf(short)
	}
	for _, reversing := range []bool{false, true} {
		if reversing && !w.reversing() {
			break
		}
		for _, find := range []func(from, to pose, reversing bool) ([]turn.Path, error){w.firstInside, w.roundCorners} {
			if paths, err := find(from, to, reversing); err != nil {
				return way{}, err
			} else if paths != nil {
				return w.wayOf(paths...)
			}
		}
	}
	got, err := w.wayOf(short)
	got.unfit = "no way found that stays inside the boundary and off obstacles"
	return got, err
}

// wayOf is a way of paths driven one after another. The set comes to it and leaves it driving forward, as on passes, so it also
// changes its direction where the way begins or ends in reverse, and between paths.
func (w *works) wayOf(paths ...turn.Path) (way, error) {
	got := way{paths: paths}
	v := w.speeds()
	changes, reverse := 0, false
	for _, p := range paths {
		t, err := p.Time(v)
		if err != nil {
			return way{}, err
		}
		got.length, got.reversed, got.time = got.length+p.Length(), got.reversed+p.Reverse(), got.time+t
		changes -= p.Changes() // these are in t
		for _, a := range p.Pieces {
			if back := a.Length < 0; a.Length != 0 && back != reverse {
				changes, reverse = changes+1, back
			}
		}
	}
	if reverse {
		changes++
	}
	got.time += float64(changes) * v.Change
	return got, nil
}

// inside says whether the axle on p, which is made of straights and circles, stays in the field, its start
// being there.
func (w *works) inside(p turn.Path) bool {
	at, h := p.From.At, float64(p.From.Heading)
	for _, a := range p.Pieces {
		sin, cos := math.Sincos(h)
		ahead := plane.XY{X: cos, Y: sin}
		if a.From == 0 {
			to := at.Add(ahead.Scale(a.Length))
			if !w.ground.clear(at, to) {
				return false
			}
			at = to
			continue
		}
		r, bend := 1/a.From, a.From*a.Length
		middle := at.Add(ahead.Left().Scale(r))
		n := int(math.Ceil(math.Abs(bend) / math.Sqrt(8*wayBow*math.Abs(a.From)))) // a chord bows by r·angle²/8
		if !w.ground.edges.Meet(plane.Box{Min: middle, Max: middle}.Grown(math.Abs(r))) {
			n = min(n, 1)
		}
		for k := 1; k <= n; k++ {
			sin, cos := math.Sincos(h + bend*float64(k)/float64(n))
			to := middle.Add(plane.XY{X: sin, Y: -cos}.Scale(r))
			if !w.ground.clear(at, to) {
				return false
			}
			at = to
		}
		h += bend
	}
	return true
}

// byCost sorts paths, the cheapest first; see way.cost.
func byCost(paths []turn.Path) {
	slices.SortStableFunc(paths, func(a, b turn.Path) int { return cmp.Compare(a.Length()+a.Reverse(), b.Length()+b.Reverse()) })
}

// firstInside is the cheapest word of Dubins, or with reversing of Reeds & Shepp, that stays inside; nil: there is none.
func (w *works) firstInside(from, to pose, reversing bool) ([]turn.Path, error) {
	words, err := turn.Words(from.Pose, to.Pose, w.im.TurnRadius(), reversing)
	if err != nil {
		return nil, err
	}
	byCost(words)
	if k := slices.IndexFunc(words, w.inside); k >= 0 {
		return words[k : k+1], nil
	}
	return nil, nil
}

// roundCorners drives along the shortest line round the corners between two poses; nil: it cannot. At each corner the set heads
// half-way between the directions before and behind it.
func (w *works) roundCorners(from, to pose, reversing bool) ([]turn.Path, error) {
	line := w.ground.around(from.At, to.At)
	if len(line) < 3 {
		return nil, nil
	}
	at := from
	var paths []turn.Path
	for i := 1; i < len(line); i++ {
		next := to
		if i+1 < len(line) {
			u := line[i].Sub(line[i-1]).Unit().Add(line[i+1].Sub(line[i]).Unit())
			next = pose{Pose: turn.Pose{At: line[i], Heading: geo.Along(u)}, in: true}
		}
		part, err := w.firstInside(at, next, reversing)
		if part == nil {
			return nil, err
		}
		paths = append(paths, part...)
		at = next
	}
	return paths, nil
}

// gateHeadings: at the gate the set may head anywhere; so many headings are tried,
// the first of them straight to where it goes.
const gateHeadings = 8

// gateWays are the ways between the gate and a pose, for the rear axle, by the set's heading at the gate.
func (w *works) gateWays(gate plane.XY, p pose, leaving bool) ([]way, error) {
	d := p.At.Sub(gate)
	if leaving {
		d = d.Scale(-1)
	}
	towards := math.Atan2(d.Y, d.X)
	var all []way
	for k := range gateHeadings {
		at := pose{Pose: turn.Pose{At: gate, Heading: geo.Heading(towards + 2*math.Pi*float64(k)/gateHeadings)}, in: true}
		from, to := at, p
		if leaving {
			from, to = p, at
		}
		got, err := w.wayTo(from, to)
		if err != nil {
			return nil, err
		}
		all = append(all, got)
	}
	return all, nil
}

// leastCost is the place of the way that costs least, the first of those that cost the same.
func leastCost(ways []way) int {
	best := 0
	for k, a := range ways {
		if a.cost() < ways[best].cost()-touch {
			best = k
		}
	}
	return best
}

// gateWay is the cheapest way between the gate and a pose, for the rear axle.
func (w *works) gateWay(gate plane.XY, p pose, leaving bool) (way, error) {
	all, err := w.gateWays(gate, p, leaving)
	if err != nil {
		return way{}, err
	}
	return all[leastCost(all)], nil
}

// cost is what a way counts in the order of passes, m. A metre in reverse counts as two: it takes about
// twice the time (common practice, no source).
func (a way) cost() float64 {
	cost := a.length + a.reversed
	if a.unfit != "" {
		cost += unfitCost
	}
	return cost
}
