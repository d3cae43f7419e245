package plan

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// circuit is a round with bends that the set cannot follow, driven one way round in stretches: each as far as the set
// fits into the field, then a turn, in reverse where that is allowed, and on along the next side. Where none fits, or too much is left, both go on to the corner (outright).
//
//	    ╱│ ←  the corner is left
//	   ╱ │
//	↗ ╱  │ ↓  the next stretch begins where the set can get to
//	 ╱   │
type circuit struct {
	stretches []stretch // in the order driven, the first after the last
	cost      float64   // s, of the turns, and of what is lost to them
	lost      float64   // s, of that: what is lost
	short     bool      // some stretch begins late, or is not reached
	// closing is how the end and the beginning of its only stretch join, if the round is begun somewhere between them; nil: there are more, or they do not, or it was not asked for.
	closing *closing
	asked   bool
}

// closing is the end of a stretch and its beginning after that, with the hop there, and what that hop costs, s, and of that what is lost.
type closing struct {
	end, begin stretch
	cost, lost float64
}

// circuits are those of a loop in the surveys of a search, by what they depend on beside it: whether no corner is driven outright, whether stretches go on past
// blunted ones, and whether both ways round are compared. Nil: not asked for yet.
type circuits [2][2][2]*circuit

func (c *circuits) of(s *survey) **circuit {
	at := func(is bool) int {
		if is {
			return 1
		}
		return 0
	}
	return &c[at(s.fitting)][at(s.past)][at(s.either)]
}

// stretch is one piece of a round.
type stretch struct {
	line    []plane.XY // m, of the bar's middle
	in, out geo.Heading
	hop     Move    // from the stretch before
	free    float64 // m, of its end, or where the set may not reverse of its beginning, that a neighbour works
	rim     rim     // of the field, beside the outermost round
	late    bool    // it is not worth it to get here from the stretch before

	of       piece
	from, to float64    // m, along the piece: where it begins and ends
	cut      [2]float64 // m of its beginning and its end on which the set does not fit
}

// stretches of less than so many credited widths are left out: they lie under the ends of those beside.
const leastStretch = 1.0

// piece is a stretch before it is known how much of it the set can drive. At a corner that is driven to its end it goes on beyond the
// corner at one end, and at the other so much as free is worked by its neighbour.
type piece struct {
	line []plane.XY
	free float64 // m
	over float64 // m, how far it goes on beyond the corner, at its beginning where the set may reverse, else at its end
}

// stretchesOf cuts a ring at its bends. Where the set may reverse it backs into a corner before a stretch, else it drives out of the corner at the
// end of one.
func (s *survey) stretchesOf(l loop, back bool) []piece {
	n := len(l.ring)
	var out []piece
	after := back != s.turner.reverses
	for i, b := range l.cuts {
		next := l.cuts[(i+1)%len(l.cuts)]
		to := next.from
		for to < b.to || to == b.to && len(l.cuts) == 1 {
			to += n
		}
		var line []plane.XY
		for k := b.to; k <= to; k++ {
			line = append(line, l.ring[k%n])
		}
		if back {
			slices.Reverse(line)
		}
		on, off := b, next // the bend past which the stretch goes on, and that at its other end
		if !after {
			on, off = next, b
		}
		one := piece{line: line, over: s.overBend(l.ring, on, after)}
		one.free = max(0, s.overBend(l.ring, off, after)-off.long(l.ring))
		m := len(line)
		if s.turner.reverses {
			line[0] = line[0].Add(line[0].Sub(line[1]).Unit().Scale(one.over))
		} else {
			line[m-1] = line[m-1].Add(line[m-1].Sub(line[m-2]).Unit().Scale(one.over))
		}
		out = append(out, one)
	}
	if back {
		slices.Reverse(out)
	}
	return out
}

// circuit is how a loop with cuts is driven, the other way round only where the first does not fit, or, with survey.either, leaves some ground.
func (d *drawing) circuit(l loop) (*circuit, error) {
	known := l.circuits.of(d.survey)
	if *known != nil {
		return *known, nil
	}
	best, err := d.circuitOf(l, false)
	if err != nil {
		return nil, err
	}
	if either := d.survey.either && best.lost > leastGain; best.short || either {
		other, err := d.circuitOf(l, true)
		if err != nil {
			return nil, err
		}
		less := best.cost - other.cost
		if either {
			less += (best.length() - other.length()) / d.survey.opt.Speed.MetresPerSecond()
		}
		if less > leastGain {
			best = other
		}
	}
	*known = best
	return best, nil
}

func (d *drawing) circuitOf(l loop, back bool) (*circuit, error) {
	s := d.survey
	edge := s.turner.slimmest()
	c := new(circuit)
	for _, one := range s.stretchesOf(l, back) {
		whole := plane.Length(one.line)
		from, to, err := edge.fitted(one.line)
		if err != nil {
			return nil, err
		}
		if to-from < leastStretch*s.width {
			c.loses(s.lost(whole))
			continue
		}
		line := between(one.line, from, to)
		st := stretch{line: line, of: one, from: from, to: to, free: max(0, one.free-(whole-(to-from))), cut: [2]float64{from, whole - to}}
		if l.round == 1 {
			if st.rim = onRight; back {
				st.rim = onLeft
			}
		}
		st.in, st.out = headings(line)
		c.loses(s.lost(st.short()))
		if n := len(c.stretches); n > 0 {
			if ok, err := d.reached(c, edge, &c.stretches[n-1], &st); err != nil || !ok {
				if err != nil {
					return nil, err
				}
				continue
			}
		}
		c.stretches = append(c.stretches, st)
	}
	if n := len(c.stretches); n > 1 { // the first after the last
		if ok, err := d.reached(c, edge, &c.stretches[n-1], &c.stretches[0]); err != nil {
			return nil, err
		} else if !ok {
			c.stretches[0].late = true
		}
	}
	return c, nil
}

// close finds the closing of a round in one stretch.
func (d *drawing) close(c *circuit) error {
	if c.asked || len(c.stretches) != 1 {
		return nil
	}
	c.asked = true
	var hop circuit
	end, begin := c.stretches[0], c.stretches[0]
	if ok, err := d.reached(&hop, d.survey.turner.slimmest(), &end, &begin); err != nil || !ok {
		return err
	}
	c.closing = &closing{end, begin, hop.cost, hop.lost}
	return nil
}

// begun are the stretches in the order driven if the round is begun at a place. Where that lies on a stretch, what is before it there is driven last.
func (c *circuit) begun(s start) (out []stretch) {
	n := len(c.stretches)
	if n == 0 { // the set fits nowhere along it
		return nil
	}
	first := c.stretches[s.side]
	head, at := first, first.from+s.far
	switch {
	case s.between && c.closing != nil:
		head = c.closing.begin
		first.line, first.out = between(first.of.line, at, c.closing.end.to), c.closing.end.out
	case s.far > 0:
		first.line = between(first.line, s.far, plane.Length(first.line))
	}
	out = append(out, first)
	for k := 1; k < n; k++ {
		if st := c.stretches[(s.side+k)%n]; !st.late {
			out = append(out, st)
		}
	}
	if s.between {
		head.line = between(head.of.line, head.from, at)
		_, head.out = headings(head.line)
		out = append(out, head)
	}
	return out
}

// short is how much of its piece a stretch does not work because the set does not fit there, m, beyond what a neighbour works.
func (st *stretch) short() float64 { return max(0, st.cut[0]+st.cut[1]-st.of.free) }

// shortAt is that of its beginning, 0, or its end, 1.
func (s *survey) shortAt(st *stretch, end int) float64 {
	if s.turner.reverses == (end == 1) {
		return max(0, st.cut[end]-st.of.free)
	}
	return st.cut[end]
}

func (c *circuit) loses(seconds float64) {
	c.cost, c.lost = c.cost+seconds, c.lost+seconds
}

// reached finds the way to a stretch, and says whether the stretch is worth it. Avoiding a way that does not fit may be worth
// more than working the stretch. Where the way does not fit, or costs more, both stretches go on to the corner (outright).
func (d *drawing) reached(c *circuit, edge *turner, before, st *stretch) (bool, error) {
	s := d.survey
	was := *before
	last, first := was, *st
	whole, both := plane.Length(st.line), plane.Length(before.line)+plane.Length(st.line)
	if err := d.hop(edge, before, st); err != nil {
		return false, err
	}
	less := both - plane.Length(before.line) - plane.Length(st.line)
	if s.turner.reverses {
		less = max(0, less-before.free)
	} else {
		less = max(0, less-st.free)
	}
	lost, cost := s.lost(less), s.turner.price(st.hop)
	if short := s.lost(s.shortAt(&last, 1) + s.shortAt(&first, 0)); !s.fitting && cost+lost+short > s.turner.unfit {
		won := last.short() + first.short()
		left := s.outright(s.field[d.part], &last, &first)
		if out := s.turner.price(first.hop); out+left < cost+lost+short-leastGain {
			won -= last.short() + first.short()
			*before, *st, cost, lost = last, first, out, left-s.lost(won)
		}
	}
	c.short = c.short || st.hop.Fault != nil || less > 0
	if st.hop.Fault != nil {
		if left := s.lost(whole); left < s.turner.unfit+lost {
			*before = was
			c.loses(left)
			return false, nil
		}
	}
	c.loses(lost)
	c.cost += cost
	return true, nil
}

// noCorner is why a corner that is driven outright has a fault.
const noCorner = "corner of a round: the set has no room to turn in it"

// outright takes the end of a stretch and the beginning of the next one to their corner, as far as the bar has room, though the set does not fit
// there: the driver goes out, reverses and comes back, as where a turn between rows does not fit. It gives the price of what that leaves, s.
//
// A bar of width w that goes on by e beyond a corner by θ has its outer end on the corner of the ground at e = (w/2)·tan(θ/2), and its inner one on
// the other side at e = (w/2)·cot(θ/2).
func (s *survey) outright(ground plane.Polygon, before, st *stretch) (left float64) {
	before.to, before.cut[1] = plane.Length(before.of.line), 0
	st.from, st.cut[0] = 0, 0
	on := &st.from
	over := st.of.over
	if !s.turner.reverses {
		on, over = &before.to, before.of.over
	}
	if over > 0 {
		half := s.width / 2
		far := min(over, half*half/over)
		line := slices.Clone(st.of.line)
		if !s.turner.reverses {
			line = slices.Clone(before.of.line)
			slices.Reverse(line)
		}
		ahead := line[0].Sub(line[1]).Unit()
		if corner := line[0].Sub(ahead.Scale(over)); !s.hasRoom(ground, corner, ahead, far) {
			far = 0
		}
		if left = s.price((over - far) * half); s.turner.reverses {
			*on += over - far
		} else {
			*on -= over - far
		}
	}
	before.line, st.line = between(before.of.line, before.from, before.to), between(st.of.line, st.from, st.to)
	_, before.out = headings(before.line)
	st.in, _ = headings(st.line)
	end, begin := before.line[len(before.line)-1], st.line[0]
	st.hop = s.turner.straightRun(Run, []plane.XY{end, begin}, &Fault{At: end, Why: noCorner})
	return left
}

// hasRoom says whether a bar that goes on from a place, so far, stays on some ground, but for evened.
func (s *survey) hasRoom(ground plane.Polygon, at, ahead plane.XY, far float64) bool {
	half := s.width/2 - evened
	far -= evened
	aside, to := ahead.Left().Scale(half), at.Add(ahead.Scale(far))
	ways := [3]plane.Segment{{A: at.Add(aside), B: to.Add(aside)}, {A: at.Sub(aside), B: to.Sub(aside)}, {A: to.Add(aside), B: to.Sub(aside)}}
	for _, ring := range ground {
		for _, side := range ring.Sides() {
			if q := side.A.Sub(at); q.Dot(ahead) > 0 && q.Dot(ahead) < far && math.Abs(q.Cross(ahead)) < half {
				return false
			}
			if slices.ContainsFunc(ways[:], side.Crosses) {
				return false
			}
		}
	}
	return true
}

// price is what it is worth to work some ground, s.
func (s *survey) price(area float64) float64 {
	return area * s.turner.missed
}

// lost is what it is worth to work some metres of a round, s.
func (s *survey) lost(metres float64) float64 {
	return s.price(metres * s.width)
}

func headings(line []plane.XY) (in, out geo.Heading) {
	n := len(line)
	return geo.Along(line[1].Sub(line[0])), geo.Along(line[n-1].Sub(line[n-2]))
}

// slimmest is t as slim as it may be along a boundary: see slim.
func (t *turner) slimmest() *turner { return t.slimBy(t.mostLacking() + sampled) }

// fitStep: the ends of a stretch are looked for in such steps, m, and found to fitTo.
const fitStep, fitTo = 0.5, 0.02

// fitted is from where to where along a line, m, the set fits into the field at its ends; 0 to 0: it fits nowhere.
func (t *turner) fitted(line []plane.XY) (from, to float64, err error) {
	to = plane.Length(line)
	for _, end := range []struct {
		at   *float64
		step float64
	}{{&to, -fitStep}, {&from, fitStep}} {
		stands := func(far float64) (bool, error) {
			p, h := along(line, far, end.step < 0)
			return t.stands(t.axle(p, h))
		}
		out := *end.at // where it does not stand
		for {
			if to-from < fitStep {
				return 0, 0, nil
			}
			ok, err := stands(*end.at)
			if err != nil {
				return 0, 0, err
			}
			if ok {
				break
			}
			out = *end.at
			*end.at += end.step
		}
		for math.Abs(out-*end.at) > fitTo {
			middle := (out + *end.at) / 2
			ok, err := stands(middle)
			if err != nil {
				return 0, 0, err
			}
			if ok {
				*end.at = middle
			} else {
				out = middle
			}
		}
	}
	return from, to, nil
}

// stands says whether the set fits into the field at a pose.
func (t *turner) stands(p turn.Pose) (bool, error) {
	d, err := turn.Drive(turn.Path{From: p}, t.im, sampled)
	return err == nil && t.room.Holds(d, t.im.Turning.Margin), err
}

// along is the place so far along a line, m, and the heading of its side before or after.
func along(line []plane.XY, far float64, before bool) (plane.XY, geo.Heading) {
	for i := 1; i < len(line); i++ {
		long := line[i].Dist(line[i-1])
		if long > 0 && (far < long || far <= long+1e-9 && (before || i == len(line)-1)) {
			return line[i-1].Lerp(line[i], max(0, min(1, far/long))), geo.Along(line[i].Sub(line[i-1]))
		}
		far -= long
	}
	n := len(line)
	return line[n-1], geo.Along(line[n-1].Sub(line[n-2]))
}

// between is a line from one length along it to another.
func between(line []plane.XY, from, to float64) []plane.XY {
	a, _ := along(line, from, false)
	b, _ := along(line, to, true)
	out, far := []plane.XY{a}, 0.0
	for i := 1; i < len(line)-1; i++ {
		if far += line[i].Dist(line[i-1]); far > from+hair && far < to-hair {
			out = append(out, line[i])
		}
	}
	return append(out, b)
}

// hopsAt are how far before its end a stretch may be left, and how far after its beginning the next one may begin, in least
// radii. In a narrow arm the set needs room on both sides to turn.
var hopsAt = [][2]float64{{0, 0}, {0, 0.5}, {0.5, 0}, {0, 1}, {0, 1.5}, {1, 0}, {1, 1}, {0, 2}, {2, 0}, {2, 2}, {0, 3}, {3, 3}, {0, 4}, {4, 4}}

// turnTo finds the turn from the end of a stretch to the next one that takes least, with what is lost for leaving early and beginning late,
// s; false: there is none that takes less than what does not fit.
func (s *survey) turnTo(edge *turner, before, st *stretch) (cost float64, ok bool, err error) {
	type place struct{ left, after, lost float64 }
	wasLong, long := plane.Length(before.line), plane.Length(st.line)
	least := leastStretch * s.width
	var places []place
	add := func(left, after float64) {
		if left > 0 && wasLong-left < least || after > 0 && long-after < least {
			return
		}
		lost := left + max(0, after-st.free)
		if edge.reverses {
			lost = max(0, left-before.free) + after
		}
		places = append(places, place{left, after, s.lost(lost)})
	}
	for _, radii := range hopsAt {
		add(radii[0]*edge.steer.Radius, radii[1]*edge.steer.Radius)
	}
	if free := before.free; edge.reverses && free > 0 {
		add(free, 0)
	} else if free := st.free; !edge.reverses && free > 0 {
		add(0, free)
	}
	slices.SortStableFunc(places, func(a, b place) int { return cmp.Compare(a.lost, b.lost) })
	cost = s.turner.unfit
	var best place
	for _, p := range places {
		if p.lost >= cost {
			break
		}
		end, out := along(before.line, wasLong-p.left, true)
		at, in := along(st.line, p.after, false)
		m, ok, err := edge.quickest(edge.axle(end, out), edge.axle(at, in))
		if !ok && err == nil {
			m, ok, err = edge.outAndIn(edge.axle(end, out), edge.axle(at, in), before.rim, st.rim)
		}
		if err != nil {
			return 0, false, err
		}
		if ok && m.Seconds+p.lost < cost-leastGain {
			cost, best, st.hop = m.Seconds+p.lost, p, m
		}
	}
	if cost >= s.turner.unfit {
		return 0, false, nil
	}
	if best.left > 0 {
		_, before.out = along(before.line, wasLong-best.left, true)
		before.line = between(before.line, 0, wasLong-best.left)
		before.to -= best.left
	}
	if best.after > 0 {
		_, st.in = along(st.line, best.after, false)
		st.line = between(st.line, best.after, long)
		st.from += best.after
	}
	return cost, true, nil
}

// hop finds the way from the end of a stretch to the next one: a turn if there is one, else a run.
func (d *drawing) hop(edge *turner, before, st *stretch) error {
	if _, ok, err := d.survey.turnTo(edge, before, st); ok || err != nil {
		return err
	}
	end := before.line[len(before.line)-1]
	here := *d // the run is driven in this part of the field
	here.from = here.part
	var err error
	st.hop, err = here.run(endAt(edge, end, before.out), endAt(edge, st.line[0], st.in))
	return err
}

func endAt(t *turner, bar plane.XY, h geo.Heading) end { return end{Pose: t.axle(bar, h), bar: bar} }

// quickest is the quickest way from pose to pose that fits, by the words of Dubins, or where the set may reverse of Reeds & Shepp.
func (t *turner) quickest(from, to turn.Pose) (Move, bool, error) {
	c, ok, err := t.firstWord(from, to, t.reverses, true)
	if !ok || err != nil {
		return Move{}, false, err
	}
	m, err := t.moveAlong(c.path.Kind, c.path)
	return m, true, err
}

// lateStarts are how far after its beginning a round in stretches may be begun, in least radii, where the set does not get to it.
var lateStarts = []float64{0, 0.5, 1, 2}

// length is the way of all stretches, m.
func (c *circuit) length() (long float64) {
	for _, st := range c.stretches {
		long += plane.Length(st.line)
	}
	return long
}

// stretches drives a round in stretches.
func (d *drawing) stretches(a approach) error {
	for k, st := range a.circuit.begun(a.start) {
		if k == 0 {
			st.hop = a.move
		}
		if err := d.took(st.hop); err != nil {
			return err
		}
		d.pass(Pass{Round: a.round, Stretch: k + 1, Line: st.line, Bends: onLine(a.bends, st.line)}, st.out)
	}
	return nil
}

// stretchStarts are places where a round in stretches may begin, the soonest first: that of a stretch, or some metres on where the set
// gets there better than what is lost is worth, or between its ends, and then what is before that is driven last.
func (d *drawing) stretchStarts(c *circuit) (out []start, err error) {
	t, width := d.survey.turner, d.survey.width
	if d.at == nil || !d.inWork || d.from != d.part {
		for i, st := range c.stretches {
			far := -plane.Length(st.line) // from nowhere: the longest
			if d.at != nil {
				far = st.line[0].Dist(*d.at)
			}
			out = append(out, start{side: i, at: st.line[0], heading: st.in, long: far, more: -t.price(st.hop)})
		}
	} else {
		from := t.axle(*d.at, d.heading)
		add := func(s start, beside float64) error {
			w, err := turn.Dubins(from, t.axle(s.at, s.heading), t.runRadius())
			if err != nil {
				return err
			}
			s.long = w.Length() + beside*t.speed.Turning
			out = append(out, s)
			return nil
		}
		for i, st := range c.stretches {
			whole := plane.Length(st.line)
			for _, radii := range lateStarts {
				far := radii * t.steer.Radius
				if far > 0 && whole-far < leastStretch*width {
					break
				}
				s := start{side: i, at: st.line[0], heading: st.in, far: far, rim: st.rim, more: -t.price(st.hop)}
				if far > 0 {
					s.at, s.heading = along(st.line, far, false)
				}
				beside := d.survey.lost(far)
				if d.survey.midway {
					s.lost = beside
					s.more += beside
					beside = s.more
				}
				if err := add(s, beside); err != nil {
					return nil, err
				}
			}
			if !d.survey.midway {
				continue
			}
			if err := d.close(c); err != nil {
				return nil, err
			}
			for _, s := range d.betweenEnds(c, i) {
				if err := add(s, s.more); err != nil {
					return nil, err
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b start) int { return cmp.Compare(math.Round(a.long/sameWay), math.Round(b.long/sameWay)) })
	return out, nil
}

// betweenEnds are places on a stretch, half a least radius apart, about the one that is nearest to the set.
func (d *drawing) betweenEnds(c *circuit, i int) (out []start) {
	st, s := &c.stretches[i], start{side: i, rim: c.stretches[i].rim, between: true}
	from, to := 0.0, plane.Length(st.line)
	if c.closing != nil {
		from, to = c.closing.begin.from-st.from, c.closing.end.to-st.from
		s.more, s.lost = c.closing.cost, c.closing.lost
	} else if len(c.stretches) == 1 || st.late {
		return nil
	}
	least, step := leastStretch*d.survey.width, d.survey.turner.steer.Radius/2
	near := farAlong(st.line, *d.at)
	for k := -roundStarts / 2; k <= roundStarts/2; k++ {
		s.far = onSide(st.line, near+float64(k)*step)
		if s.far-from >= least && to-s.far >= least {
			s.at, s.heading = along(st.line, s.far, false)
			out = append(out, s)
		}
	}
	return out
}

// farAlong is how far along a line the place on it lies that is nearest to p, m.
func farAlong(line []plane.XY, p plane.XY) (far float64) {
	least, way := math.Inf(1), 0.0
	for i := 1; i < len(line); i++ {
		side := plane.Segment{A: line[i-1], B: line[i]}
		q := side.Nearest(p)
		if off := q.Dist(p); off < least {
			least, far = off, way+side.A.Dist(q)
		}
		way += side.A.Dist(side.B)
	}
	return far
}

// onSide is a length along a line, or where that is at a corner the one to the middle of the side behind it: there two ends are square.
func onSide(line []plane.XY, far float64) float64 {
	way := 0.0
	for i := 1; i < len(line); i++ {
		long := line[i].Dist(line[i-1])
		if far < way+long-hair {
			if far < way+hair {
				return way + long/2
			}
			return far
		}
		way += long
	}
	return far
}
