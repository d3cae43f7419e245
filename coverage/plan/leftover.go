package plan

import (
	"math"

	"balk/geo"
	"balk/geo/plane"
)

// leftover is ground between headland rounds, and the direction in which it is worked, or what its passes run along.
type leftover struct {
	ground  plane.Polygon
	heading geo.Heading
	guide   *guide  // nil: they are straight
	worth   bool    // to be worked
	seconds float64 // that this takes, or what it is worth if it is left
}

const (
	// leftSides: so many of the longest sides, and stretches, of ground that rounds leave are looked at.
	leftSides = 3
	// elbow: ground that rounds leave may be cut where its rim turns by so much into it, rad, on along a side of so many widths. Rows bend along with less.
	// Within rounds a corner is an arc, which thinned to straightSide turns by 17 to 34°; at 10° one of 15 real fields and sets took 9 % more and one 30 % less.
	elbow, elbowSide = 20 * math.Pi / 180, 2
	// leftWell: nor where it takes no more than so many times what rows of its area, or along half its rim, would.
	leftWell = 1.2
	// mostElbows: nor where it has more such corners, since each is tried again in all that is left.
	mostElbows = 8
)

// leftovers is how ground that rounds leave, so deep inside the boundary, is worked: in one way, or cut at elbows where that takes less, as a lane round a corner has them.
// What is not worth its rows is left.
func (s *survey) leftovers(ground plane.Polygon, depth float64) (all []leftover) {
	d := *s.slid(0)
	d.sweep, d.depth = sweep{}, depth // not that of all rounds: these rows are the same however many there are
	open := []leftover{d.leftRows(ground, depth)}
	for len(open) > 0 {
		one := open[len(open)-1]
		open = open[:len(open)-1]
		least, cut := one.seconds-leastGain, [2]leftover{}
		for _, two := range d.elbowsOf(one) {
			if halves := [2]leftover{d.leftRows(two[0], depth), d.leftRows(two[1], depth)}; halves[0].seconds+halves[1].seconds < least {
				least, cut = halves[0].seconds+halves[1].seconds, halves
			}
		}
		switch {
		case cut[0].ground != nil:
			open = append(open, cut[1], cut[0])
		case one.worth:
			all = append(all, one)
		}
	}
	return all
}

// elbowsOf are ways to cut ground in two that is not worked well as it is: at a corner of its rim that stands into it, on along a side of that.
func (s *survey) elbowsOf(l leftover) (out [][2]plane.Polygon) {
	ring := l.ground[0]
	rows := max(l.ground.Area()/s.width, ring.Perimeter()/2) / s.opt.Speed.MetresPerSecond()
	if l.seconds <= leftWell*(rows+s.turner.least(0, 0)) {
		return nil
	}
	ring = ring.Thinned(straightSide)
	corners := 0
	for i, at := range ring {
		before, after := at.Sub(ring[(i+len(ring)-1)%len(ring)]), ring[(i+1)%len(ring)].Sub(at)
		if before.AngleTo(after) > -elbow || max(before.Len(), after.Len()) < elbowSide*s.width {
			continue
		}
		if corners++; corners > mostElbows {
			return nil
		}
		for _, side := range [2]plane.XY{before, after.Scale(-1)} {
			if side.Len() < elbowSide*s.width {
				continue
			}
			if two, _, ok := cutFrom(l.ground, at, side.Unit()); ok {
				out = append(out, two)
			}
		}
	}
	return out
}

// leftRows is how ground that rounds leave, so deep inside the boundary, is worked in the least time: in its thinnest direction, in that of
// one of its longest sides, or along one of its longest stretches, as it bends. Where working it takes longer than it is worth, it is left.
func (s *survey) leftRows(ground plane.Polygon, depth float64) leftover {
	best := leftover{ground: ground, seconds: s.price(ground.Area())}
	ways := []leftover{{ground: ground, heading: geo.Along(plane.Thinnest(ground[0]))}}
	sides := sidesOf(ground)
	for _, d := range sides[:min(leftSides, len(sides))] {
		ways = append(ways, leftover{ground: ground, heading: geo.Along(d)})
	}
	if box := ground[0].Bounds(); box.Max.Dist(box.Min) <= mostAcross {
		for _, line := range longStretches(ground[0], s.turner.steer.Radius, leftSides) {
			if g, err := guideOf(line, s.turner.steer.Radius); err == nil && g.span >= leastBend {
				ways = append(ways, leftover{ground: ground, heading: g.heading, guide: g})
			}
		}
	}
	for _, l := range ways {
		l.worth = true
		if l.seconds = s.blocksTake(s.leftBlocks(nil, l, l.heading, false), depth); l.seconds < best.seconds-leastGain {
			best = l
		}
	}
	return best
}

// leftBlocks adds the blocks of ground that rounds leave, in the direction that is nearer to h.
func (s *survey) leftBlocks(out []block, l leftover, h geo.Heading, improve bool) []block {
	if l.guide != nil {
		return s.bentBlocks(out, l.guide, l.ground, 0, improve)
	}
	along := l.heading
	if math.Cos(float64(along-h)) < 0 {
		along += math.Pi
	}
	return s.slid(0).blocksIn(out, l.ground, along, improve)
}
