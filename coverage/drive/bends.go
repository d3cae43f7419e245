package drive

import (
	"fmt"
	"math"
	"slices"
)

const (
	// Bends are looked for on nodes: fixes so far apart that the receiver's jitter
	// turns the way between them by some two degrees at most (√2/40 rad).
	nodeJitter  = 40.0
	nodeClosest = 2.0  // m: the tightest turns (radius 2.5 m) still have four nodes
	nodeWidest  = 10.0 // m: bends of the usual turning radii do not slip through
	// jitterSample is how many fixes are looked at for the jitter.
	jitterSample = 4096
	// cornerTurn: a headland round has corners of 90° and a little more, a set that
	// comes back for the next pass turns by 180° (with point rows a little less).
	cornerTurn = 135.0 // degrees
	// A turn is made within some metres and some working widths: half a circle of
	// one row's spacing is π/2 widths, a bulb of 6 m radius has 14 m from 0 to 135°
	// (common practice, no source).
	turnWithin, turnWidths = 15.0, 2.5
	// cusp: the set goes back the way it came: it reverses. Between nodes farther
	// apart than cuspReach it may as well have turned.
	cusp      = 120.0 // degrees
	cuspReach = 5.0   // m
	// reverseMost is the longest way a set reverses in one turn (common practice, no source).
	reverseMost = 30.0 // m
	// bendRadius: the beginning and the end of a turn belong to it as long as they
	// are bent more than this; passes are bent less.
	bendRadius = 20.0 // m
	// roundAbout: who is seen from an obstacle to go round by so much works round it.
	// A round that is bent like a turn is no longer than roundReach each way from there.
	roundAbout = 270.0 // degrees
	roundReach = 200.0 // m
)

// node is a fix of a part, the way and the turns up to it.
type node struct {
	fix  int
	way  float64 // m from the first node
	turn float64 // degrees by which the way turns here, counter-clockwise
	sum  float64 // degrees, of all turns up to here
}

// course is the way of one unbroken part of a trail on its nodes.
type course struct {
	nodes []node
	bends []bend // turns found, in order, apart from each other
}

// bend is a turn of the set: from one node to another.
type bend struct {
	from, to int // nodes
	why      string
}

// jitterOf is the scatter of a trail's fixes across its way, in metres: how far
// fixes lie beside the middle of their neighbours. If these scatter by σ each,
// that is σ·√(1 + ¼ + ¼); the median of a normal distribution's size is 0.6745 of
// its σ.
func jitterOf(t *trail) float64 {
	var off []float64
	step := max(1, len(t.at)/jitterSample)
	for k := 1; k+1 < len(t.at); k += step {
		a, b := t.at[k-1], t.at[k+1]
		if d := a.Dist(b); d > 0 {
			off = append(off, math.Abs(b.Sub(a).Cross(t.at[k].Sub(a)))/d)
		}
	}
	if len(off) == 0 {
		return 0
	}
	return Median(off) / 0.6745 / math.Sqrt(1.5)
}

// courseOf puts nodes on a part of a trail.
func courseOf(t *trail, part span, jitter float64) course {
	apart := min(max(nodeClosest, nodeJitter*jitter), nodeWidest)
	var c course
	last := part.from
	c.nodes = append(c.nodes, node{fix: last})
	for k := part.from + 1; k <= part.to; k++ {
		d := t.at[k].Sub(t.at[last])
		square := d.Dot(d)
		if square < apart*apart {
			continue
		}
		n := len(c.nodes)
		c.nodes = append(c.nodes, node{fix: k, way: c.nodes[n-1].way + math.Sqrt(square)})
		if n > 1 {
			in := t.at[last].Sub(t.at[c.nodes[n-2].fix])
			c.nodes[n-1].turn = in.AngleTo(d) * 180 / math.Pi
			c.nodes[n-1].sum = c.nodes[n-2].sum + c.nodes[n-1].turn
		}
		c.nodes[n].sum = c.nodes[n-1].sum
		last = k
	}
	return c
}

// findBends fills in the turns: wherever the way turns by cornerTurn within the
// room of a turn, or goes back on itself, with the bent way before and after it.
func (c *course) findBends(w Work) {
	within := turnWithin + turnWidths*w.Width
	for i := 1; i+1 < len(c.nodes); i++ {
		if !c.bent(i) {
			continue
		}
		j := c.turned(i, within)
		if j < 0 {
			continue
		}
		if n := len(c.bends); n > 0 && i <= c.bends[n-1].to {
			c.bends[n-1].to = max(c.bends[n-1].to, j)
		} else {
			c.bends = append(c.bends, bend{from: i, to: j})
		}
	}
	for n := range c.bends {
		b := &c.bends[n]
		for b.from > 1 && (c.bent(b.from-1) || b.from > 2 && c.bent(b.from-2)) {
			b.from--
		}
		for b.to+2 < len(c.nodes) && (c.bent(b.to+1) || b.to+3 < len(c.nodes) && c.bent(b.to+2)) {
			b.to++
		}
	}
	c.joinBends(w)
}

// bent says whether the way is bent at node i like in a turn.
func (c *course) bent(i int) bool {
	way := (c.nodes[i+1].way - c.nodes[i-1].way) / 2
	return math.Abs(c.nodes[i].turn)*math.Pi/180 > way/bendRadius
}

// turned is the node at which a turn that begins at node i has turned by
// cornerTurn, -1 if it does not within the given way.
func (c *course) turned(i int, within float64) int {
	if c.cusp(i) {
		return i
	}
	for j := i; j+1 < len(c.nodes) && c.nodes[j].way-c.nodes[i].way <= within; j++ {
		if math.Abs(c.nodes[j].sum-c.nodes[i-1].sum) >= cornerTurn {
			return j
		}
	}
	return -1
}

func (c *course) cusp(i int) bool {
	return math.Abs(c.nodes[i].turn) >= cusp && c.nodes[i+1].way-c.nodes[i].way <= cuspReach && c.nodes[i].way-c.nodes[i-1].way <= cuspReach
}

// joinBends makes one of turns with only a reversing way, or less than a working
// width, between them, and says how they were known.
func (c *course) joinBends(w Work) {
	var out []bend
	for _, b := range c.bends {
		n := len(out) - 1
		if n >= 0 {
			between := c.nodes[b.from].way - c.nodes[out[n].to].way
			if between <= w.Width || between <= reverseMost && c.cusps(out[n])%2 == 1 {
				out[n].to = max(out[n].to, b.to)
				continue
			}
		}
		out = append(out, b)
	}
	for n := range out {
		b := &out[n]
		way := c.nodes[b.to].way - c.nodes[b.from].way
		if n := c.cusps(*b); n > 0 {
			b.why = fmt.Sprintf("changed direction %d times within %.0f m", n, max(way, 1))
		} else {
			b.why = fmt.Sprintf("turned by %.0f° within %.0f m", c.swing(b.from-1, b.to), way)
		}
	}
	c.bends = out
}

func (c *course) cusps(b bend) int {
	n := 0
	for i := b.from; i <= b.to; i++ {
		if c.cusp(i) {
			n++
		}
	}
	return n
}

// swing is by how many degrees the directions of the way differ from one node to
// another.
func (c *course) swing(from, to int) float64 {
	lo, hi := c.nodes[from].sum, c.nodes[from].sum
	for _, n := range c.nodes[from : to+1] {
		lo, hi = min(lo, n.sum), max(hi, n.sum)
	}
	return hi - lo
}

// fixes are the first and the last fix of a bend.
func (c *course) fixes(b bend) span { return span{c.nodes[b.from].fix, c.nodes[b.to].fix} }

// dropRounds drops the bends with which the set works round an obstacle.
func (c *course) dropRounds(t *trail, s *scene, w Work) {
	reach := max(1.5*w.Width, w.HeadlandDepth()+w.Width/2)
	c.bends = slices.DeleteFunc(c.bends, func(b bend) bool {
		if c.cusps(b) > 0 {
			return false
		}
		beside := func(i int) bool {
			if max(c.nodes[b.from].way-c.nodes[i].way, c.nodes[i].way-c.nodes[b.to].way) > roundReach {
				return false
			}
			in := s.inside(t.at[c.nodes[i].fix])
			return s.rim().hole && math.Abs(in) <= reach
		}
		from, to := b.from, b.to
		for from > 0 && beside(from-1) {
			from--
		}
		for to+1 < len(c.nodes) && beside(to+1) {
			to++
		}
		return c.roundHole(t, s, from, to)
	})
}

// roundHole says whether the way from one node to another goes round the obstacle
// that its middle is beside.
func (c *course) roundHole(t *trail, s *scene, from, to int) bool {
	if to <= from {
		return false
	}
	s.inside(t.at[c.nodes[(from+to)/2].fix])
	around := s.rim()
	if !around.hole {
		return false
	}
	o, angle := around.ring[0], 0.0
	for i := from; i < to; i++ {
		a, b := t.at[c.nodes[i].fix].Sub(o), t.at[c.nodes[i+1].fix].Sub(o)
		angle += a.AngleTo(b)
	}
	return math.Abs(angle)*180/math.Pi >= roundAbout
}

// bendsIn are the bends that lie within some steps at least in part.
func (c *course) bendsIn(steps span) []bend {
	from, _ := slices.BinarySearchFunc(c.bends, steps.from, func(b bend, fix int) int { return c.nodes[b.to].fix - fix })
	to, _ := slices.BinarySearchFunc(c.bends, steps.to+1, func(b bend, fix int) int { return c.nodes[b.from].fix - fix })
	return c.bends[from:max(from, to)]
}

// within are the first and the last node of some steps; to < from: none.
func (c *course) within(steps span) (from, to int) {
	before := func(n node, fix int) int { return n.fix - fix }
	from, _ = slices.BinarySearchFunc(c.nodes, steps.from, before)
	to, _ = slices.BinarySearchFunc(c.nodes, steps.to+1, before)
	return from, to - 1
}

// between is how long the way between two fixes is, m, and by how many degrees
// the directions on it differ.
func (c *course) between(t *trail, steps span) (way, swing float64) {
	from, to := c.within(steps)
	if to < from {
		return t.at[steps.from].Dist(t.at[steps.to]), 0
	}
	way = c.nodes[to].way - c.nodes[from].way + t.at[steps.from].Dist(t.at[c.nodes[from].fix]) + t.at[steps.to].Dist(t.at[c.nodes[to].fix])
	return way, c.swing(from, to)
}
