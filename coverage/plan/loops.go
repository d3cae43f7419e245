package plan

import (
	"cmp"
	"iter"
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// besideRound: two rounds with so many numbers between them as their rings are widths apart lie beside each other, if they are
// no farther apart than so many times that. Corners that are rounded off lie farther apart than a width.
const besideRound = 1.3

// nesting notes which rounds lie inside which: those are driven before. A round goes over ground that the rounds inside it have turned on.
func (p *part) nesting(width float64) {
	p.inside = make([][]int, len(p.loops))
	var byPlace plane.Tree[int]
	deepest := 0
	for i, l := range p.loops {
		byPlace.Insert(l.ring.Bounds(), i)
		deepest = max(deepest, l.round)
	}
	for i, outer := range p.loops {
		if outer.round == deepest {
			continue
		}
		var edges plane.Edges
		edges.Add(outer.ring)
		most := besideRound * width * float64(deepest-outer.round)
		for k := range byPlace.In(outer.ring.Bounds().Grown(most)) {
			inner := p.loops[k]
			if inner.round <= outer.round {
				continue
			}
			apart := besideRound * width * float64(inner.round-outer.round)
			if slices.ContainsFunc(inner.ring, func(q plane.XY) bool { return edges.Near(q, apart) }) {
				p.inside[i] = append(p.inside[i], k)
			}
		}
		slices.Sort(p.inside[i])
	}
	p.about()
}

// island is the rounds about an obstacle that are driven by themselves: no round about anything else lies inside them.
type island struct {
	loops []int
	back  float64 // m, from there to the rounds round the rest; below 0: not asked for yet
}

// backFrom is how far it is from an island to the rounds round the rest, m.
func (p *part) backFrom(g int) float64 {
	one := &p.islands[g]
	if one.back >= 0 {
		return one.back
	}
	if p.rest == nil {
		p.rest = new(plane.Edges)
		for _, l := range p.loops {
			if l.ring.Area() >= 0 {
				p.rest.Add(l.ring)
			}
		}
	}
	one.back = math.Inf(1)
	for _, q := range p.loops[one.loops[0]].ring {
		one.back = min(one.back, p.rest.Within(q, one.back))
	}
	return one.back
}

// about finds the islands.
func (p *part) about() {
	var groups [][]int
	hole := func(i int) bool { return p.loops[i].ring.Area() < 0 }
	group := make([]int, len(p.loops)) // of each round, from 1
	free := func(i int) bool {
		return hole(i) && !slices.ContainsFunc(p.inside[i], func(k int) bool { return group[k] == 0 })
	}
	for i := range p.loops { // the innermost come first
		if !free(i) {
			continue
		}
		in := len(groups) + 1 // the first of those that it goes round
		for _, k := range p.inside[i] {
			in = min(in, group[k])
		}
		if in > len(groups) {
			groups = append(groups, nil)
		}
		groups[in-1] = append(groups[in-1], i)
		group[i] = in
	}
	p.islands, p.rest = nil, nil
	for _, loops := range groups {
		p.islands = append(p.islands, island{loops, -1})
	}
}

// farFromBest: a stop that takes so much more than another, m, is never the best, nor one of those as good as it by sameWay.
const farFromBest = 1.0

// stops says after how many blocks of a tour the rounds about each obstacle are driven: where the way there and on is least. The set
// so works them when its rows get there, and does not come back over finished ground.
func (p *part) stops(blocks []block, t tour) []int {
	at := make([]int, len(p.islands))
	ends := make([][2]plane.XY, len(t.blocks))
	for k := range t.blocks {
		ends[k][0], ends[k][1] = blocks[t.blocks[k]].ends(t.ways[k])
	}
	bounds, on := make([]float64, len(ends)), make([]float64, len(ends))
	for k := 1; k < len(ends); k++ {
		on[k] = ends[k-1][1].Dist(ends[k][0])
	}
	for g, one := range p.islands {
		ring := p.loops[one.loops[0]].ring
		away := func(q plane.XY) float64 {
			_, _, d := nearestOn(ring, q)
			return d
		}
		box := ring.Bounds()
		bound := func(k int) float64 { // the way by block k is no less
			if k == 0 {
				return box.Dist(ends[0][0])
			}
			return box.Dist(ends[k][0]) + box.Dist(ends[k-1][1]) - on[k]
		}
		way := func(k int) float64 {
			if k == 0 { // before the first block
				return away(ends[0][0])
			}
			return away(ends[k][0]) + away(ends[k-1][1]) - on[k]
		}
		near, most := 0, math.Inf(1)
		for k := range ends {
			bounds[k] = bound(k)
			if bounds[k] < bounds[near] {
				near = k
			}
		}
		if len(ends) > 0 {
			most = way(near) + farFromBest
		}
		least := math.Inf(1)
		for k := range ends {
			if bounds[k] > most { // most blocks are far off
				continue
			}
			if w := way(k); w < least-sameWay {
				at[g], least = k, w
			}
		}
		if n := len(ends); n > 0 {
			if last := away(ends[n-1][1]); last < least-sameWay && last+p.backFrom(g) < least-sameWay {
				at[g] = n
			}
		}
	}
	return at
}

// form is how a round is driven.
type form int

const (
	notYet    form = iota
	smooth         // as far as the set steers round them its corners are rounded
	toCorners      // its corners are driven to their end
)

// loops drives some headland rounds of a part, each when all rounds inside it are done, or with the headland first all outside it, and of those the nearest.
// How they are driven is noted.
func (d *drawing) loops(p *part, done []form, those iter.Seq[int]) error {
	before, step := p.inside, 1 // the rounds before each, and from its number to that of the one beside it
	if d.survey.opt.HeadlandFirst {
		before, step = make([][]int, len(p.loops)), -1
		for i, inside := range p.inside {
			for _, k := range inside {
				before[k] = append(before[k], i)
			}
		}
	}
	for {
		best, near := -1, math.Inf(1)
		for i := range those {
			l := &p.loops[i]
			if done[i] != notYet || slices.ContainsFunc(before[i], func(k int) bool { return done[k] == notYet }) {
				continue
			}
			away := 0.0
			if d.at != nil {
				_, _, away = nearestOn(l.ring, *d.at)
			}
			if best < 0 || away < near-sameWay || away <= near+sameWay && step*l.round > step*p.loops[best].round {
				best, near = i, away
			}
		}
		if best < 0 {
			return nil
		}
		l := p.loops[best]
		besideSmooth := slices.ContainsFunc(before[best], func(k int) bool { return done[k] == smooth && p.loops[k].round == l.round+step })
		var err error
		if done[best], err = d.round(l, besideSmooth); err != nil {
			return err
		}
	}
}

// round drives a round in the form that takes less, with what is rounded off at its price.
//
// Outside a rounded corner (r + w/2)² times cornerLeft stay missed. If the corner of the round beside it that is done is rounded too, (r − w/2)² times
// that are worked inside the outer of the two for the inner.
func (d *drawing) round(l loop, besideSmooth bool) (form, error) {
	at, how := d.progress.left, smooth
	expected, err := d.leastLength(l)
	if err != nil {
		return how, err
	}
	a, err := d.approach(l)
	if err != nil {
		return how, err
	}
	if l.corners == nil {
		err = d.arrive(&a)
	} else {
		a, how, err = d.either(a, besideSmooth)
	}
	if err != nil {
		return how, err
	}
	d.progress.open += a.open
	if err := d.follow(a); err != nil {
		return how, err
	}
	d.progress.left = at - expected
	return how, nil
}

// either is a round or the same driven to its corners, whichever takes less with the way to it. The one that takes less without that way comes first: where it takes no more with it than the
// other does without, the other's way, which takes longest to find, is not looked for.
func (d *drawing) either(a approach, besideSmooth bool) (approach, form, error) {
	s := d.survey
	b, err := d.approach(*a.corners)
	if err != nil {
		return a, smooth, err
	}
	if s.sharp == allCorners {
		return b, toCorners, d.arrive(&b)
	}
	outer, inner := s.turner.steer.Radius+s.width/2, 0.0
	if besideSmooth {
		inner = max(0, outer-s.width)
	}
	off := s.price(a.rounded * (outer*outer - inner*inner))
	arrive := func(a *approach, off float64) error {
		err := d.arrive(a)
		a.seconds, a.open = a.seconds+off, a.open+off
		return err
	}
	if b.least < a.least+off {
		if err := arrive(&b, 0); err != nil || a.least+off > b.seconds {
			return b, toCorners, err
		}
		err = arrive(&a, off)
	} else {
		if err := arrive(&a, off); err != nil || b.least >= a.seconds {
			return a, smooth, err
		}
		err = arrive(&b, 0)
	}
	if b.seconds < a.seconds {
		return b, toCorners, err
	}
	return a, smooth, err
}

// approach is a round that is about to be driven, and the way to it.
type approach struct {
	loop
	circuit *circuit // nil: closed
	starts  []start  // where it may begin; nil: nowhere
	least   float64  // s, what it takes whatever the way to it
	start   start
	move    Move
	cut     float64 // m, by which the pass before ends early for it
	seconds float64 // of all that, and of what it leaves
	open    float64 // s, of that: what it leaves
}

// approach is a round without the way to it.
func (d *drawing) approach(l loop) (a approach, err error) {
	a.loop = l
	if len(l.cuts) == 0 {
		a.least = d.takes(&a, 0)
		a.starts, err = d.roundStarts(l.ring)
		return a, err
	}
	if a.circuit, err = d.circuit(l); err != nil {
		return a, err
	}
	if len(a.circuit.stretches) == 0 {
		a.least = a.circuit.cost
		return a, nil
	}
	a.starts, err = d.stretchStarts(a.circuit)
	more := math.Inf(1)
	for _, s := range a.starts {
		more = min(more, s.more)
	}
	a.least = d.takes(&a, more)
	return a, err
}

// takes is what a round takes with so much more for where it begins, s, without the way to it.
func (d *drawing) takes(a *approach, more float64) float64 {
	speed := d.survey.opt.Speed.MetresPerSecond()
	if a.circuit == nil {
		return a.ring.Perimeter() / speed
	}
	return a.circuit.cost + more + a.circuit.length()/speed
}

// arrive finds the way to a round.
func (d *drawing) arrive(a *approach) (err error) {
	if a.starts == nil {
		a.seconds, a.open = a.circuit.cost, a.circuit.lost
		return nil
	}
	var found []start
	a.move, a.cut, err = d.sooner(func(d *drawing) (Move, error) {
		s, m, err := d.entered(a.starts)
		if d.survey.midway && a.circuit != nil && d.inWork && err == nil {
			s, m, err = d.cheaper(a.starts, s, m)
		}
		found = append(found, s)
		return m, err
	})
	if err != nil {
		return err
	}
	if a.start = found[0]; a.cut > 0 {
		a.start = found[len(found)-1]
	}
	a.open = d.survey.lost(a.cut)
	a.seconds = d.survey.turner.price(a.move) + a.open + d.takes(a, a.start.more)
	if a.circuit != nil {
		a.open += a.circuit.lost + a.start.lost
	}
	return nil
}

// price is what a move takes, s, with what it takes beyond its way where it does not fit.
func (t *turner) price(m Move) float64 {
	if m.Fault != nil {
		return m.Seconds + t.unfit
	}
	return m.Seconds
}

// leastLength is the least way of a round in any form, m.
func (d *drawing) leastLength(l loop) (float64, error) {
	long := l.ring.Perimeter()
	if len(l.cuts) > 0 {
		c, err := d.circuit(l)
		if err != nil {
			return 0, err
		}
		long = c.length()
	}
	if l.corners == nil {
		return long, nil
	}
	other, err := d.leastLength(*l.corners)
	return min(long, other), err
}

// A round begins where the set gets to it on the shortest way: so many places along it are looked at either
// way round, half a least radius apart, from the one nearest to the set on.
const roundStarts = 12

// start is a place where a round may begin.
type start struct {
	side    int // of the ring, or the number of the stretch
	at      plane.XY
	far     float64 // m, along the stretch
	rim     rim
	back    bool // against the ring
	heading geo.Heading
	long    float64 // m, the shortest way there; to a stretch with more
	between bool    // on a stretch, whose part before that place is driven last
	more    float64 // s, what a round in stretches takes more if it is begun there; below 0: less
	lost    float64 // s, of that: what is lost
}

// follow drives a round.
func (d *drawing) follow(a approach) error {
	d.endSooner(a.cut)
	if a.circuit != nil {
		return d.stretches(a)
	}
	if err := d.took(a.move); err != nil {
		return err
	}
	s, n := a.start, len(a.ring)
	line := []plane.XY{s.at}
	for i := range n {
		if s.back {
			line = append(line, a.ring[(s.side-i+n)%n])
		} else {
			line = append(line, a.ring[(s.side+1+i)%n])
		}
	}
	line = append(line, s.at)
	d.pass(Pass{Round: a.round, Line: line, Bends: onLine(a.bends, line)}, s.heading)
	return nil
}

// roundStarts are places where a round may begin, the nearest first.
func (d *drawing) roundStarts(ring plane.Ring) ([]start, error) {
	along := func(side int, back bool) geo.Heading {
		u := ring[(side+1)%len(ring)].Sub(ring[side])
		if back {
			u = u.Scale(-1)
		}
		return geo.Along(u)
	}
	if d.at == nil {
		side, q, _ := nearestOn(ring, middleOfLongest(ring))
		return []start{{side: side, at: q, heading: along(side, false)}}, nil
	}
	t := d.survey.turner
	from := t.axle(*d.at, d.heading)
	first, at, _ := nearestOn(ring, *d.at)
	var all []start
	for _, way := range [2]bool{false, true} {
		for k := range roundStarts {
			i, p := walked(ring, first, at, float64(k)*t.steer.Radius/2, way)
			s := start{side: i, at: p, back: way, heading: along(i, way), long: p.Dist(*d.at)}
			if d.inWork {
				w, err := turn.Dubins(from, t.axle(p, s.heading), t.runRadius())
				if err != nil {
					return nil, err
				}
				s.long = w.Length()
			}
			all = append(all, s)
		}
	}
	slices.SortStableFunc(all, func(a, b start) int { return cmp.Compare(math.Round(a.long/sameWay), math.Round(b.long/sameWay)) })
	return all, nil
}

const (
	// gentle: where the set has no room to turn into a round on its least radius, it comes to it on bends of up to so many least radii.
	// Its nose then swings out less.
	gentleLeast, gentleMost, gentleStep = runBend, 8.0, 1.6
	// mostEntered, mostReversed: so many of the places where a round may begin are tried by runs, and in reverse.
	mostEntered, mostReversed = 3, 12
)

// backing is how far a set that may reverse backs off first where it stands before a boundary, in least radii.
var backing = []float64{0, 1, 2}

// entered is the way to a round, to the nearest of some places that it gets to: by the usual ways; on a gentle bend along the edge;
// in reverse where the set may. A round along the boundary leaves the set less than its margin, so that is not asked for then.
func (d *drawing) entered(starts []start) (start, Move, error) {
	first, err := d.way(starts[0].at, starts[0].heading, false)
	if err != nil || first.Fault == nil || !d.inWork || d.from != d.part {
		return starts[0], first, err
	}
	s, m, err := d.around(starts)
	if err != nil || m.Kind == "" {
		return starts[0], first, err
	}
	if t := d.survey.turner; d.survey.midway && t.price(first)+starts[0].more <= m.Seconds+s.more {
		return starts[0], first, nil
	}
	return s, m, nil
}

// cheaper is the start of a round in stretches, and the way there, that takes least, with what the round takes more if it is begun there: one that was found, or another. The way to a start is
// looked for only where it may be short enough.
func (d *drawing) cheaper(starts []start, best start, m Move) (start, Move, error) {
	t := d.survey.turner
	least := t.price(m) + best.more
	for _, s := range starts[:min(mostEntered, len(starts))] {
		soonest, err := d.soonest(s.at, s.heading)
		if err != nil {
			return best, m, err
		}
		if soonest+s.more >= least-leastGain {
			continue
		}
		other, err := d.way(s.at, s.heading, false)
		if err != nil {
			return best, m, err
		}
		if cost := t.price(other) + s.more; cost < least-leastGain {
			best, m, least = s, other, cost
		}
	}
	return best, m, nil
}

// around is a way to a round that fits, where the usual one to its first place does not; no move: there is none.
func (d *drawing) around(starts []start) (start, Move, error) {
	edge := d.survey.turner.slimmest()
	from := edge.axle(*d.at, d.heading)
	for _, s := range starts[:min(mostReversed, len(starts))] {
		m, ok, err := edge.quickest(from, edge.axle(s.at, s.heading))
		if !ok && err == nil {
			m, ok, err = edge.outAndIn(from, edge.axle(s.at, s.heading), noRim, s.rim)
		}
		if ok || err != nil {
			return s, m, err
		}
	}
	for _, radii := range backing {
		if radii > 0 && !edge.reverses {
			break
		}
		for g := gentleLeast; g <= gentleMost; g *= gentleStep {
			for _, s := range starts {
				m, ok, err := edge.gently(from, edge.axle(s.at, s.heading), radii*edge.steer.Radius, g*edge.steer.Radius)
				if ok || err != nil {
					return s, m, err
				}
			}
		}
	}
	for _, s := range starts[1:min(mostEntered, len(starts))] {
		m, err := d.way(s.at, s.heading, false)
		if err != nil || m.Fault == nil {
			return s, m, err
		}
	}
	return start{}, Move{}, nil
}

// gently is the way straight back by some metres and from there the shortest forward on bends of a radius, if it fits and does not go round
// in circles.
func (t *turner) gently(from, to turn.Pose, back, radius float64) (Move, bool, error) {
	if t.leaves(from, to) {
		return Move{}, false, nil
	}
	p, err := turn.Dubins(from.Moved(-back, 0, 0), to, radius)
	if err != nil {
		return Move{}, false, err
	}
	if p.Length() > 2*p.From.At.Dist(to.At)+2*t.steer.Radius {
		return Move{}, false, nil
	}
	if back > 0 {
		p = turn.Path{From: from, Pieces: slices.Concat([]turn.Arc{{Length: -back}}, p.Pieces), Kind: turn.Reversing}
	}
	if ok, err := t.drives(p); !ok || err != nil {
		return Move{}, false, err
	}
	m, err := t.moveAlong(p.Kind, p)
	return m, true, err
}

// walked is the place so far along a ring from a place on one of its sides, and the side it lies on. A round begins on a
// straight, where its two ends are square, so a corner gives way to the middle of the next side.
func walked(ring plane.Ring, side int, at plane.XY, far float64, back bool) (int, plane.XY) {
	n := len(ring)
	for range 2 * n {
		end := ring[(side+1)%n]
		if back {
			end = ring[side]
		}
		if d := at.Dist(end); d > far+hair {
			at = at.Lerp(end, far/d)
			break
		} else {
			far -= min(far, d)
		}
		at = end
		if side = (side + 1) % n; back {
			side = (side - 2 + 2*n) % n
		}
	}
	if a, b := ring[side], ring[(side+1)%n]; at.Dist(a) < hair || at.Dist(b) < hair {
		return side, a.Lerp(b, 0.5)
	}
	return side, at
}

// middleOfLongest is the middle of the longest side.
func middleOfLongest(ring plane.Ring) plane.XY {
	var at plane.XY
	most := 0.0
	for _, side := range ring.Sides() {
		if l := side.A.Dist(side.B); l > most+sameWay {
			at, most = side.At(0.5), l
		}
	}
	return at
}

// nearestOn is the point of a ring nearest to p: the side it is on, and how far.
func nearestOn(ring plane.Ring, p plane.XY) (side int, at plane.XY, away float64) {
	away = math.Inf(1)
	for i, one := range ring.Sides() {
		q := one.Nearest(p)
		if d := q.Dist(p); d < away-sameWay {
			side, at, away = i, q, d
		}
	}
	return side, at, away
}
