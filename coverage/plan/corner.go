package plan

import (
	"context"
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

const (
	// cutStep: corners are told apart so finely, rad, when it is asked which are driven to their end; less than leastCut none is,
	// more than mostCut all are; from steepCut on a corner is sharper than those of a rectangle, which are left by a few degrees more or less.
	cutStep  = 10 * math.Pi / 180
	leastCut = 50 * math.Pi / 180
	mostCut  = 150 * math.Pi / 180
	steepCut = 95 * math.Pi / 180
	alike    = 3 // see cutFrom
	// cornerSides: the sides of such a corner are so many times radius and width long when it is tried.
	cornerSides = 12.0
)

// cornering says which corners of rounds are driven to their end.
type cornering int

const (
	byCorner     cornering = iota // those where it pays at the corner by itself (cutFrom), and for the round too
	byRound                       // any from leastCut on, where it pays for the round: what corners near each other leave is more than each by itself
	steepByRound                  // any from steepCut on, where it pays for the round: the gentler ones beside them are rounded
	allCorners                    // any from leastCut on
	cornerings
)

// cutFrom is the angle from which it may take less to drive round k to the end of a corner, turn and go on along the next side, than to
// round the corner and work what that leaves, rad. It is asked of a corner alone; what a whole round comes to is asked when it is driven.
//
// A line on radius r leaves at most (tan(θ/2) − θ/2)·(r + w/2)² of a corner by θ (cornerLeft), and is shorter by 2·r·tan(θ/2) − r·θ. From
// the third round on corners lie so far from the boundary that they are all alike.
func (s *survey) cutFrom(k int) (float64, error) {
	switch s.sharp {
	case byCorner:
	case steepByRound:
		return steepCut, nil
	default:
		return leastCut, nil
	}
	k = min(k, alike)
	if s.cuts[k] > 0 {
		return s.cuts[k], nil
	}
	r := s.turner.steer.Radius
	outer := r + s.width/2
	angle := leastCut
	for ; angle < mostCut; angle += cutStep {
		gain := cornerLeft(angle) * (s.price(outer*outer) - 2*r/s.opt.Speed.MetresPerSecond())
		if gain <= s.turner.least(0, math.Pi-angle) {
			continue
		}
		way, err := s.pastCorner(k, angle)
		if err != nil {
			return 0, err
		}
		if way < gain {
			break
		}
	}
	s.cuts[k] = angle
	return angle, nil
}

// pastCorner is what it takes from the end of a stretch of round k to the beginning of the next one round a corner by θ, s, with what is
// lost at their ends; where no turn fits, or that takes less, the price of what does not fit, outright. It is found in a triangle with such a corner.
//
//	      ╱│
//	    ╱  │ ↑ next stretch
//	  ╱    │
//	╱______│θ
//	→ stretch
func (s *survey) pastCorner(k int, angle float64) (float64, error) {
	depth := (float64(k) - 0.5) * s.width
	long := cornerSides * (s.turner.steer.Radius + s.width)
	on := geo.Heading(angle).Ahead()
	corner := plane.XY{X: depth * math.Tan(angle/2), Y: -depth}
	ground := plane.Polygon{{{X: -long, Y: -depth}, corner, corner.Add(on.Scale(long))}}
	room, err := turn.NewRoom([]plane.Polygon{ground})
	if err != nil {
		return 0, err
	}
	edge := s.turner.slimmest()
	edge.room, edge.known = room, newKnown()
	l := loop{ring: plane.Ring{{X: -long / 2}, {}, on.Scale(long / 2)}, cuts: []bend{{0, 0, 0}, {1, 1, angle}, {2, 2, 0}}}
	var both []stretch
	lost, outright := 0.0, math.Inf(1)
	for _, one := range s.stretchesOf(l, false)[:2] {
		from, to, err := edge.fitted(one.line)
		if err != nil || to == 0 {
			return math.Inf(1), err
		}
		line := between(one.line, from, to)
		st := stretch{line: line, of: one, from: from, to: to}
		if k == 1 {
			st.rim = onRight
		}
		st.in, st.out = headings(line)
		both = append(both, st)
		gone := plane.Length(one.line) - plane.Length(line)
		lost += max(0, gone-one.free)
		both[len(both)-1].free = max(0, one.free-gone)
	}
	if !s.fitting {
		before, next := both[0], both[1]
		outright = s.outright(ground, &before, &next)
		outright += s.turner.price(next.hop)
	}
	seconds, ok, err := s.turnTo(edge, &both[0], &both[1])
	if !ok {
		seconds = s.turner.unfit
	}
	return min(outright, seconds+s.lost(lost)), err
}

// overCorner is how far a bar must go beyond a corner by θ of a round to reach the corner of the ground: (w/2)·tan(θ/2) (two right triangles). Where
// one stretch does that the other may end, or begin, as much before the corner.
func (s *survey) overCorner(angle float64) float64 {
	return s.width / 2 * math.Tan(min(math.Abs(angle), mostCut)/2)
}

// overBend is how far a bar must go beyond a bend of a round to reach the corners of the ground outside of it: the stretch after the bend before its beginning, or the one before
// it after its end. Round an obstacle there are none. Outside a corner by θ of the bend one lies (w/2)/cos(θ/2) from it, half-way between its sides. Past a bend of several corners it goes only where
// that was chosen (rounding): what it works there may take longer than it is worth.
func (s *survey) overBend(ring plane.Ring, b bend, after bool) (over float64) {
	if b.theta < 0 {
		return 0
	}
	if b.from == b.to {
		return s.overCorner(b.theta)
	}
	if !s.past {
		return 0
	}
	n := len(ring)
	end, next := ring[b.from%n], ring[(b.from+n-1)%n]
	if after {
		end, next = ring[b.to%n], ring[(b.to+1)%n]
	}
	beyond := end.Sub(next).Unit()
	for k := b.from; k <= b.to; k++ {
		at := ring[k%n]
		in, on := at.Sub(ring[(k+n-1)%n]).Unit(), ring[(k+1)%n].Sub(at).Unit()
		out := in.Add(on).Left().Scale(-1)
		if long := out.Dot(out); long > 0 {
			corner := at.Add(out.Scale(s.width / long)) // out is 2·cos(θ/2) long
			over = max(over, corner.Sub(end).Dot(beyond))
		}
	}
	return min(over, s.overCorner(mostCut)+b.long(ring))
}

// blunted says whether rounds have corners past which stretches may go on.
func (s *survey) blunted() bool {
	cut := func(l loop) bool {
		return slices.ContainsFunc(l.cuts, func(b bend) bool { return b.theta > 0 && b.from != b.to })
	}
	return slices.ContainsFunc(s.parts, func(p part) bool {
		return slices.ContainsFunc(p.loops, func(l loop) bool { return cut(l) || l.corners != nil && cut(*l.corners) })
	})
}

// cornered is the survey with other corners of rounds driven to their end, outright or only as far as the set fits, and past blunted ones or not.
func (s *survey) cornered(ctx context.Context, how cornering, fitting, past bool) (*survey, error) {
	d := *s
	d.sweep, d.parts, d.sharp, d.fitting, d.past, d.glances = sweep{}, slices.Clone(s.parts), how, fitting, past, nil
	d.refused = map[holeAt]bool{}
	if fitting != s.fitting {
		d.cuts = map[int]float64{}
	}
	for i := range d.parts {
		d.parts[i].drawn = nil
	}
	return &d, d.roundsAndCorridors(ctx)
}

// corners are what rounds off on each round whose corners may be driven to their end.
func (s *survey) corners() (out []float64) {
	for _, p := range s.parts {
		for _, l := range p.loops {
			if l.corners != nil {
				out = append(out, l.rounded)
			}
		}
	}
	return out
}

// sharper says whether some ground has a corner that is too tight for a radius and turns by more than cut.
func sharper(ground []plane.Polygon, r, cut float64) bool {
	return slices.ContainsFunc(ground, func(p plane.Polygon) bool {
		return slices.ContainsFunc(p, func(rim plane.Ring) bool {
			return slices.ContainsFunc(tightBends(rim, r), func(b bend) bool { return b.theta > cut })
		})
	})
}

// withCorners notes how the same round is driven to the end of its corners, if it is among some loops, found by place, and how much is rounded off otherwise: as
// much as by a circle of radius r, or less by the square of how much nearer to the corner the round comes.
func (l *loop) withCorners(all []loop, byPlace *plane.Tree[int], r float64) {
	at := middleOfLongest(l.ring)
	for _, i := range slices.Sorted(byPlace.In(plane.Box{Min: at, Max: at})) {
		if _, _, away := nearestOn(all[i].ring, at); away > hair || all[i].ring.Area()*l.ring.Area() < 0 {
			continue
		}
		f := 0.0
		for _, b := range all[i].cuts {
			if b.theta <= 0 {
				continue
			}
			_, _, away := nearestOn(l.ring, b.middle(all[i].ring))
			arc := r * (1/math.Cos(min(b.theta, mostCut)/2) - 1)
			f += cornerLeft(b.theta) * min(1, away*away/(arc*arc))
		}
		if f > 0 {
			l.corners, l.rounded = &all[i], f
		}
		return
	}
}

// cornerLeft is what a circle of radius 1 leaves of a corner by θ: two right triangles less a sector.
func cornerLeft(theta float64) float64 {
	theta = min(theta, mostCut)
	return math.Tan(theta/2) - theta/2
}
