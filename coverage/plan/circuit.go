package plan

import (
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// circuit is a round with bends that the set cannot follow, driven one way round in stretches: each as far as the set
// fits into the field, then a turn, in reverse where that is allowed, and on along the next side.
//
//	    ╱│ ←  the corner is left
//	   ╱ │
//	↗ ╱  │ ↓  the next stretch begins where the set can get to
//	 ╱   │
type circuit struct {
	stretches []stretch // in the order driven, the first after the last
	cost      float64   // s, of the turns, and of what is lost to them
	short     bool      // some stretch begins late, or is not reached
}

// circuits are those of a loop, the other way round only where the first does not fit; nil: not asked for yet.
type circuits struct{ best *circuit }

// stretch is one piece of a round.
type stretch struct {
	line    []plane.XY // m, of the bar's middle
	in, out geo.Heading
	hop     Move // from the stretch before
	late    bool // it is not worth it to get here from the stretch before
}

// stretches of less than so many credited widths are left out: they lie under the ends of those beside.
const leastStretch = 1.0

// stretchesOf cuts a ring at its bends.
func (l loop) stretchesOf(back bool) [][]plane.XY {
	n := len(l.ring)
	var out [][]plane.XY
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
		out = append(out, line)
	}
	if back {
		slices.Reverse(out)
		for _, line := range out {
			slices.Reverse(line)
		}
	}
	return out
}

// circuit is how a loop with cuts is driven.
func (d *drawing) circuit(l loop) (*circuit, error) {
	if l.circuits.best != nil {
		return l.circuits.best, nil
	}
	best, err := d.circuitOf(l, false)
	if err != nil {
		return nil, err
	}
	if best.short {
		other, err := d.circuitOf(l, true)
		if err != nil {
			return nil, err
		}
		if other.cost < best.cost-leastGain {
			best = other
		}
	}
	l.circuits.best = best
	return best, nil
}

func (d *drawing) circuitOf(l loop, back bool) (*circuit, error) {
	s := d.survey
	edge := s.turner.slimmest()
	c := new(circuit)
	for _, line := range l.stretchesOf(back) {
		whole := plane.Length(line)
		line, err := edge.fitted(line)
		if err != nil {
			return nil, err
		}
		if line == nil || plane.Length(line) < leastStretch*s.width {
			c.cost += s.lost(whole)
			continue
		}
		st := stretch{line: line}
		st.in, st.out = headings(line)
		c.cost += s.lost(whole - plane.Length(line))
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

// reached finds the way to a stretch, and says whether the stretch is worth it. Avoiding a way that does not fit may be worth
// more than working the stretch.
func (d *drawing) reached(c *circuit, edge *turner, before, st *stretch) (bool, error) {
	whole, both := plane.Length(st.line), plane.Length(before.line)+plane.Length(st.line)
	if err := d.hop(edge, before, st); err != nil {
		return false, err
	}
	less := both - plane.Length(before.line) - plane.Length(st.line)
	c.cost += d.survey.lost(less)
	c.short = c.short || st.hop.Fault != nil || less > 0
	if st.hop.Fault != nil {
		if left := d.survey.lost(whole); left < d.survey.turner.unfit {
			c.cost += left
			return false, nil
		}
		c.cost += d.survey.turner.unfit
	}
	c.cost += st.hop.Seconds
	return true, nil
}

// price is what it is worth to work some ground, s.
func (s *survey) price(area float64) float64 {
	return area / hectare * s.opt.MissedPrice() * secondsH
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

// fitStep is how exactly the ends of a stretch are found, m.
const fitStep = 0.5

// fitted is a line without those parts of its ends at which the set does not fit into the field; nil: it fits nowhere.
func (t *turner) fitted(line []plane.XY) ([]plane.XY, error) {
	long := plane.Length(line)
	from, to := 0.0, long
	for _, end := range []struct {
		at   *float64
		step float64
	}{{&to, -fitStep}, {&from, fitStep}} {
		for {
			if to-from < fitStep {
				return nil, nil
			}
			p, h := along(line, *end.at, end.step < 0)
			ok, err := t.stands(t.axle(p, h))
			if err != nil {
				return nil, err
			}
			if ok {
				break
			}
			*end.at += end.step
		}
	}
	return between(line, from, to), nil
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
// radii, in the order in which they are tried. In a narrow arm the set needs room on both sides to turn.
var hopsAt = [][2]float64{{0, 0}, {0, 0.5}, {0, 1}, {0, 1.5}, {1, 0}, {1, 1}, {0, 2}, {2, 0}, {2, 2}, {0, 3}, {3, 3}, {0, 4}, {4, 4}}

// hop finds the way from the end of a stretch to the next one: a turn from as near to the end to as near to the beginning as there
// is one, else a run.
func (d *drawing) hop(edge *turner, before, st *stretch) error {
	least := leastStretch * d.survey.width
	for _, radii := range hopsAt {
		left, after := radii[0]*edge.steer.Radius, radii[1]*edge.steer.Radius
		wasLong, long := plane.Length(before.line), plane.Length(st.line)
		if radii[0] > 0 && wasLong-left < least || radii[1] > 0 && long-after < least {
			continue
		}
		end, out := along(before.line, wasLong-left, true)
		p, in := along(st.line, after, false)
		m, ok, err := edge.quickest(edge.axle(end, out), edge.axle(p, in))
		if err != nil {
			return err
		}
		if !ok {
			continue
		}
		st.hop = m
		if left > 0 {
			before.line, before.out = between(before.line, 0, wasLong-left), out
		}
		if after > 0 {
			st.line, st.in = between(st.line, after, long), in
		}
		return nil
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
	c, ok, err := t.firstWord(from, to, t.reverses, func(seconds float64) float64 { return math.Round(seconds / leastGain) })
	if !ok || err != nil {
		return Move{}, false, err
	}
	m, err := t.moveAlong(c.path.Kind, c.path)
	return m, true, err
}

// stretches drives a round in stretches, from the one that the set gets to soonest.
func (d *drawing) stretches(l loop) error {
	c, err := d.circuit(l)
	if err != nil {
		return err
	}
	n := len(c.stretches)
	first, least := 0, math.Inf(1)
	for i, st := range c.stretches {
		far := -plane.Length(st.line) // from nowhere: the longest
		if d.at != nil {
			far = st.line[0].Dist(*d.at)
		}
		if d.at != nil && d.inWork && d.from == d.part {
			t := d.survey.turner
			w, err := turn.Dubins(t.axle(*d.at, d.heading), t.axle(st.line[0], st.in), t.runRadius())
			if err != nil {
				return err
			}
			far = w.Length()
		}
		if far < least-sameWay {
			first, least = i, far
		}
	}
	driven := 0
	for k := range n {
		st := c.stretches[(first+k)%n]
		if k > 0 && st.late {
			continue
		}
		if k == 0 {
			_, st.hop, err = d.entered([]start{{at: st.line[0], heading: st.in}})
		}
		if err == nil {
			err = d.took(st.hop)
		}
		if err != nil {
			return err
		}
		driven++
		d.pass(Pass{Round: l.round, Stretch: driven, Line: st.line}, st.out)
	}
	return nil
}
