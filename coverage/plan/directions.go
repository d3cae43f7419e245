package plan

import (
	"cmp"
	"context"
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

// Sample is the estimate for one direction.
type Sample struct {
	Direction float64 `json:"direction"` // degrees clockwise from the plane's north, 0 to below 180
	Value     float64 `json:"value"`     // of the objective, rounds and missed ground left out where they are the same in every direction
	Passes    int     `json:"passes"`
}

const (
	// apartBest: of directions nearer than this one is laid out, rad.
	apartBest = 1 * math.Pi / 180
	// nearlyConvex: an interior that fills so much of its hull counts as convex.
	nearlyConvex = 0.999
	// coarse: directions are looked at so far apart at most, rad; what lies between is left
	// to critical ones and to golden sections.
	coarse = 2 * math.Pi / 180
	// sharpest: golden sections end there, rad: 1 cm on 100 m.
	sharpest = 1e-4
	// beside: a critical breadth is passed by so much, m, so that rounding does not
	// decide whether one row more is needed.
	beside = 1e-6
	// mostSides bounds the edges whose directions are looked at, the longest first.
	mostSides = 24
	// refined: golden sections begin at so many of the best directions.
	refined = 6
)

// curve is the estimate for the directions looked at.
func (s *survey) curve(ctx context.Context, goal Objective) ([]Sample, error) {
	if s.opt.Along != nil || s.opt.AlongLongest { // there is but one
		return []Sample{s.estimate(choice{heading: s.opt.Heading}, goal, false)}, nil
	}
	var out []Sample
	look := func(h float64) float64 {
		h = math.Mod(h, math.Pi)
		one := s.estimate(choice{heading: geo.Heading(h)}, goal, false)
		out = append(out, one)
		return one.Value
	}
	angles := s.critical()
	for i, h := range angles {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if i > 0 && s.halt.now() {
			angles = angles[:i]
			break
		}
		look(h)
	}
	order := make([]int, len(angles))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(out[a].Value, out[b].Value) })
	for _, k := range order[:min(refined, len(order))] {
		if s.halt.now() {
			break
		}
		n := len(angles)
		before, after := angles[(k+n-1)%n], angles[(k+1)%n]
		if before > angles[k] {
			before -= math.Pi
		}
		if after < angles[k] {
			after += math.Pi
		}
		golden(look, before, angles[k])
		golden(look, angles[k], after)
	}
	slices.SortFunc(out, func(a, b Sample) int { return cmp.Compare(a.Direction, b.Direction) })
	return slices.CompactFunc(out, func(a, b Sample) bool { return a.Direction == b.Direction }), nil
}

// golden looks between a and b by golden sections (Kiefer 1953, from memory) until
// they are sharpest apart. Every place looked at counts, so a function with steps does no harm.
func golden(f func(float64) float64, a, b float64) {
	const ratio = 0.6180339887498949 // (√5 − 1)/2
	if b-a <= sharpest {
		return
	}
	a, b = a+sharpest/2, b-sharpest/2
	c, d := b-ratio*(b-a), a+ratio*(b-a)
	fc, fd := f(c), f(d)
	for b-a > sharpest {
		if fc < fd {
			b, d, fd = d, c, fc
			c = b - ratio*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + ratio*(b-a)
			fd = f(d)
		}
	}
}

// critical are the directions that are looked at in any case, rad from 0 to π, ascending.
func (s *survey) critical() []float64 {
	out := s.directions(coarse, mostSides)
	for _, p := range s.parts {
		for _, in := range p.coarse {
			s.jumps(plane.Hull(in[0]), func(h float64) { out = append(out, halfTurn(h)) })
		}
	}
	return apartBy(out, sharpest/100) // nearer than sharpest is the same: rows of 1 km differ by 10 cm
}

// directions are those at steps, and of the longest sides of each piece of interior, rad from 0 to π, ascending.
func (s *survey) directions(step float64, most int) (out []float64) {
	for i := 0; float64(i)*step < math.Pi; i++ {
		out = append(out, float64(i)*step)
	}
	for _, p := range s.parts {
		for _, in := range p.coarse {
			sides := sidesOf(in)
			for _, d := range sides[:min(most, len(sides))] {
				out = append(out, halfTurn(math.Atan2(d.Y, d.X)))
			}
		}
	}
	return apartBy(out, sharpest/100)
}

// halfTurn is a direction from 0 to below π, either way, rad.
func halfTurn(h float64) float64 {
	if h = math.Mod(h, math.Pi); h < 0 {
		h += math.Pi
	}
	return h
}

// apartBy sorts directions, without those nearer than so much to the one before.
func apartBy(all []float64, apart float64) []float64 {
	slices.Sort(all)
	return slices.CompactFunc(all, func(a, b float64) bool { return math.Abs(a-b) < apart })
}

// sidesOf are the straights of a polygon, the longest first.
func sidesOf(p plane.Polygon) []plane.XY {
	var out []plane.XY
	for _, ring := range p {
		for _, side := range ring.Sides() {
			out = append(out, side.B.Sub(side.A))
		}
	}
	slices.SortStableFunc(out, func(a, b plane.XY) int { return cmp.Compare(b.Len(), a.Len()) })
	return out
}

// jumps adds the directions at which the breadth of a hull is a whole number of
// widths, on the side where it is less: there one row fewer does.
//
// Between two directions of hull edges the same two corners p and q span the breadth, |pq|·|sin(α − h)|
// with α the direction of pq. It is n widths where h = α ± asin(n·w/|pq|).
func (s *survey) jumps(hull plane.Ring, add func(float64)) {
	var turns []float64
	for _, side := range hull.Sides() {
		turns = append(turns, math.Mod(float64(geo.Along(side.B.Sub(side.A)))+2*math.Pi, math.Pi))
	}
	slices.Sort(turns)
	for i, from := range turns {
		to := turns[0] + math.Pi
		if i+1 < len(turns) {
			to = turns[i+1]
		}
		if to-from < sharpest/100 {
			continue
		}
		d := acrossHull(hull, geo.Heading((from+to)/2).Ahead().Left())
		long, alpha := d.Len(), math.Atan2(d.Y, d.X)
		for n := 1; ; n++ {
			breadth := breadthOf(n, s.width, s.opt.FullSpacing)
			if breadth >= long {
				break
			}
			bend := math.Asin(min(1, max(0, breadth-beside)/long))
			for _, h := range [2]float64{alpha - bend, alpha + math.Pi + bend} {
				if h = halfTurnsFrom(h, from); h <= to {
					add(h)
				}
			}
		}
	}
}

// halfTurnsFrom is a direction turned by half turns until it is the first from another one on, rad.
func halfTurnsFrom(h, from float64) float64 {
	for h < from {
		h += math.Pi
	}
	for h-math.Pi >= from {
		h -= math.Pi
	}
	return h
}

// acrossHull leads from the corner of a hull that lies least far in a direction to the one farthest in it.
func acrossHull(hull plane.Ring, left plane.XY) plane.XY {
	p, q := hull[0], hull[0]
	for _, c := range hull {
		if c.Dot(left) < p.Dot(left) {
			p = c
		}
		if c.Dot(left) > q.Dot(left) {
			q = c
		}
	}
	return q.Sub(p)
}

// headingOf is the heading of a bearing on the plane, 0 to below π.
func headingOf(bearing float64) geo.Heading {
	return geo.Heading(math.Mod(450-bearing, 180) * math.Pi / 180)
}

// finalists are so many of the best directions of a curve that are not too near to each other, rad.
func finalists(curve []Sample, most int, apart float64) []geo.Heading {
	order := slices.Clone(curve)
	slices.SortStableFunc(order, func(a, b Sample) int { return cmp.Compare(a.Value, b.Value) })
	var out []geo.Heading
	for _, one := range order {
		h := headingOf(one.Direction)
		if len(out) < most && !slices.ContainsFunc(out, func(o geo.Heading) bool {
			return math.Abs(math.Remainder(float64(h-o), math.Pi)) < apart
		}) {
			out = append(out, h)
		}
	}
	return out
}

// convex says whether the interior is in one piece and convex.
func (s *survey) convex() bool {
	var all []plane.Polygon
	for _, p := range s.parts {
		all = append(all, p.coarse...)
	}
	return len(all) == 1 && len(all[0]) == 1 && all[0].Area() >= nearlyConvex*plane.Hull(all[0][0]).Area()
}

// estimate is the objective for one way of the rows without turns drawn, runs routed or
// the engine asked; headland rounds and what they miss are the same in every way and left out. An exact one has the order of rows and
// blocks that a plan has, which takes ten times as long.
func (s *survey) estimate(c choice, goal Objective, exact bool) Sample {
	passes := 0
	var work, turning, metres, ground float64
	turns := 0
	t := s.turner
	var at *plane.XY
	for i := range s.parts {
		p := &s.parts[i]
		blocks := s.sweep.blocks[:0]
		for _, in := range p.coarse {
			ground += in.Area()
			blocks = s.interiorBlocks(blocks, c.guide(i, p), in, c.heading, exact)
		}
		s.sweep.blocks = blocks
		for k := range blocks {
			b := &blocks[k]
			metres, seconds := b.takes(s.depth)
			work, turning = work+metres, turning+seconds
			passes, turns = passes+len(b.rows), turns+max(0, len(b.rows)-1)
		}
		tour := tourFrom(&s.sweep.gaps, blocks, at, exact)
		metres += tour.metres
		if n := len(tour.blocks); n > 0 {
			turning += float64(n) * t.least(0, 0) // into a block the set turns as into a row
			_, end := blocks[tour.blocks[n-1]].ends(tour.ways[n-1])
			at = &end
		}
	}
	turning += metres / t.speed.Turning
	hours := (work/s.opt.Speed.MetresPerSecond() + turning) / secondsH
	_, working, lifted := s.opt.Fuel.burns(s.opt.Speed, s.im.Width)
	litres := work/s.opt.Speed.MetresPerSecond()/secondsH*working + turning/secondsH*lifted
	cost := hours*s.opt.Rates.Hour + litres*s.opt.Rates.Litre
	double := max(0, work*s.width-ground)
	open := work * s.slant.uncut(c.heading.Ahead()) / hectare * s.opt.MissedPrice()
	return Sample{bearing(c.heading), goal.value(hours+open, cost+open*(s.opt.Rates.Hour+working*s.opt.Rates.Litre), 0, double, turns), passes}
}
