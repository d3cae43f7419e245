package plan

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// A small obstacle needs no rounds about it where that takes less: the row is bent past it, or the bar is lifted before it and lowered behind it, or the row ends there. What
// that leaves is missed, at its price.
//
//	         ╭──────╮           a row bent past ●: from its line to as far beside it as the bar needs
//	───────╯    ●    ╰───────   on two arcs of one radius r, along, and back
//
// Both arcs turn by θ. From the line to an offset d they get by 2r(1 − cos θ), along it by 2r·sin θ, and are 2rθ long (each arc by itself, and the two are alike). So
// cos θ = 1 − d/2r, and a bend is 4r(θ − sin θ) longer than the straight. It leaves d/2 on average while it gets there and back, and d between.
//
// Guidance holds the middle of the bar on that line, square to it. The tractor then leads: on an arc of curvature κ a rigid set is turned by asin(lead·κ) against it, since the bar runs on r and
// the axle on √(r² − lead²); the tractor of a trailed one by up to atan((drawbar + bar behind it)·κ) + atan(hitch·κ) at its hitch. Both that place and the straight one keep
// the margin from the obstacle, either way, since a row may be driven from either end.

const (
	// mostTogether: so many obstacles behind each other are passed in one bend at most.
	mostTogether = 3
	// flatStep: how soon a bend must be as far beside the line as it gets is looked for in such steps, m.
	flatStep = 0.5
)

// passing is how a straight goes past some obstacles.
type passing struct {
	from, to float64    // m along the straight
	bend     []turn.Arc // from there to there; nil: nothing is worked between
	apex     plane.XY   // of a bend
	seconds  float64    // it takes beyond the straight, with what it leaves
	of       []holeAt
}

// straight is a straight that is driven, seen along itself: obstacles are in its frame.
type straight struct {
	s     *survey
	part  int
	frame plane.Frame
	long  float64
	near  []obstacle // about it
	hit   []obstacle // of these, in the way of the set, along the straight
}

// straightOf looks for obstacles beside and in a straight.
func (s *survey) straightOf(part int, f plane.Frame, long float64) *straight {
	t := s.turner
	st := &straight{s: s, part: part, frame: f, long: long}
	beside := 4*t.barHalf() + 2*t.keeps()
	for _, o := range s.small[part] {
		m := f.To(o.middle)
		if math.Abs(m.Y) > beside+o.reach || m.X < -t.farthest()-o.reach || m.X > long+t.farthest()+o.reach {
			continue
		}
		in := obstacle{holeAt: o.holeAt, middle: m, reach: o.reach}
		for _, p := range o.points {
			in.points = append(in.points, f.To(p))
		}
		st.near = append(st.near, in)
		if st.hits(in) {
			st.hit = append(st.hit, in)
		}
	}
	slices.SortStableFunc(st.hit, func(a, b obstacle) int { return cmp.Compare(a.middle.X, b.middle.X) })
	return st
}

// hits says whether the set comes too near to an obstacle while it drives the straight, either way.
func (st *straight) hits(o obstacle) bool {
	t := st.s.turner
	return outlineAt(turn.Pose{}, t.end(), t.end(), t.barHalf()).along(st.long).nears(o, t.keeps()) ||
		outlineAt(turn.Pose{}, t.nose(), t.nose(), t.trackHalf()).along(st.long).nears(o, t.keeps())
}

// bent is the bend past some obstacles that takes least, and less than most, s; false: there is none. Farther from them than the bar must be, the tractor may be turned towards them sooner.
func (st *straight) bent(those []obstacle, most float64) (best passing, ok bool, err error) {
	box := boxAbout(those)
	left := box.Max.Y <= -box.Min.Y // the nearer side takes less, mostly
	for _, side := range [2]bool{left, !left} {
		for _, wide := range widerBy {
			p, fits, err := st.bentBy(those, side, wide, most)
			if err != nil {
				return passing{}, false, err
			}
			if fits {
				best, ok, most = p, true, p.seconds-leastGain
			}
		}
	}
	return best, ok, nil
}

// widerBy is how much farther from obstacles than it must be a bend is tried, m.
var widerBy = []float64{0, 0.5, 1}

// bentBy is the bend that stays so much farther from the obstacles; false: it does not fit, or takes most or more, s.
func (st *straight) bentBy(those []obstacle, left bool, wide, most float64) (p passing, ok bool, err error) {
	s := st.s
	t, r := s.turner, runBend*s.turner.steer.Radius
	box := boxAbout(those)
	off := box.Max.Y + t.barHalf() + t.keeps() + hair + wide
	if !left {
		off = box.Min.Y - t.barHalf() - t.keeps() - hair - wide
	}
	if (off > 0) != left || math.Abs(off) >= 2*r {
		return p, false, nil
	}
	theta := math.Acos(1 - math.Abs(off)/2/r)
	along, bent := 2*r*math.Sin(theta), math.Copysign(1/r, off)
	arc := turn.Arc{Length: r * theta, From: bent, To: bent}
	back := turn.Arc{Length: r * theta, From: -bent, To: -bent}
	middle := (box.Min.X + box.Max.X) / 2
	if middle-along < 0 || middle+along > st.long {
		return p, false, nil
	}
	takes := func(flat float64) float64 {
		return s.price(min(math.Abs(off), s.width)*(along+flat)) + 4*r*(theta-math.Sin(theta))/s.opt.Speed.MetresPerSecond()
	}
	half := (box.Max.X - box.Min.X) / 2
	if takes(2*leastFlat(half, along)) >= most {
		return p, false, nil
	}
	there, err := t.bothWays(turn.Path{From: turn.Pose{At: plane.XY{X: middle - along}}, Pieces: []turn.Arc{arc, back}})
	if err != nil {
		return p, false, err
	}
	before, ok := st.soonest(half, along, there, -1, plane.XY{X: middle, Y: off})
	if p.from = middle - before - along; !ok || p.from < 0 {
		return p, false, nil
	}
	home, err := t.bothWays(turn.Path{From: turn.Pose{At: plane.XY{X: middle, Y: off}}, Pieces: []turn.Arc{back, arc}})
	if err != nil {
		return p, false, err
	}
	after, ok := st.soonest(half, along, home[1:], 1, plane.XY{X: middle, Y: off})
	if p.to = middle + after + along; !ok || p.to > st.long {
		return p, false, nil
	}
	p.bend = []turn.Arc{arc, back, {Length: before + after}, back, arc}
	p.apex = st.frame.From(plane.XY{X: (p.from + p.to) / 2, Y: off})
	p.seconds = takes(before + after)
	if p.seconds >= most {
		return p, false, nil
	}
	line, err := st.line(p)
	return p, err == nil && !s.leavesField(s.field[st.part], line), err
}

// leastFlat is the least that half of a bend is looked for to lie beside its straight, m. One that begins within the obstacles, by along as they reach half from its middle, would meet the first on the
// straight before it.
func leastFlat(half, along float64) float64 { return max(min(half, flatStep), half-along) }

// soonest is the least way from the middle of a bend, ahead of it (1) or behind (-1), that it must lie beside its straight for the set to keep clear, m, in steps of flatStep; false: there is none with which
// it does. Its arcs are known as they lie without such a way. Much more than that may not serve: the tractor then still turns towards the obstacle when its nose gets there.
func (st *straight) soonest(half, along float64, arcs [][8]outline, ahead float64, middle plane.XY) (flat float64, ok bool) {
	t, last := st.s.turner, 0 // the place of the arcs that came too near last: it does again with the next step, mostly
	for flat := leastFlat(half, along); flat < half+t.nose()+t.keeps()+flatStep; flat += flatStep {
		near := func(place [8]outline) bool { return t.nearsAny(place[:], ahead*flat, st.near) }
		if near(arcs[last]) {
			continue
		}
		if k := slices.IndexFunc(arcs, near); k >= 0 {
			last = k
			continue
		}
		from := turn.Pose{At: plane.XY{X: min(middle.X, middle.X+ahead*flat), Y: middle.Y}}
		to := about(from.Moved(flat, 0, 0))
		on, back := t.straightOutlines(from), t.straightOutlines(to)
		if !t.nearsAny([]outline{on[0].along(flat), on[1].along(flat), back[0].along(flat), back[1].along(flat)}, 0, st.near) {
			return flat, true
		}
	}
	return 0, false
}

// line is that of a bend, on the plane.
func (st *straight) line(p passing) ([]plane.XY, error) {
	line, err := turn.Path{From: turn.Pose{At: plane.XY{X: p.from}}, Pieces: p.bend}.Line(bow)
	for i, q := range line {
		line[i] = st.frame.From(q)
	}
	return line, err
}

// lifted is a stretch of a straight that is not worked, with some obstacles in it. A row that would begin or end within a width of it begins behind, or ends before it. Where
// that takes more than most by what it leaves alone, no way past is looked for.
func (st *straight) lifted(those []obstacle, most float64) (p passing, err error) {
	s := st.s
	t := s.turner
	box, far := boxAbout(those), t.end()
	track := outlineAt(turn.Pose{}, box.Max.X, -box.Min.X, t.trackHalf())
	if slices.ContainsFunc(those, func(o obstacle) bool { return track.nears(o, t.keeps()) }) {
		far = t.nose()
	}
	p.from, p.to = box.Min.X-far-t.keeps(), box.Max.X+far+t.keeps()
	begins, ends := p.from < s.width, p.to > st.long-s.width
	if begins {
		p.from = 0
	}
	if ends {
		p.to = st.long
	}
	if p.seconds = s.lost(p.to - p.from); begins || ends || p.seconds >= most {
		return p, nil
	}
	h := geo.Along(st.frame.Ahead)
	at := func(u float64) end {
		bar := st.frame.From(plane.XY{X: u})
		return end{Pose: t.axle(bar, h), bar: bar}
	}
	m, ok, err := t.over(at(p.from), at(p.to))
	if !ok {
		m.Seconds = t.unfit + (p.to-p.from)/t.speed.Turning
	}
	p.seconds += m.Seconds
	return p, err
}

// over is the quickest way with the tool lifted from a place on a row on to a later one, past what lies between: straight to it by the words of Dubins, or where the set may reverse of
// Reeds & Shepp; or over a place beside the middle, as far as the bar takes; false: none of these fits.
func (t *turner) over(from, to end) (best Move, ok bool, err error) {
	d := to.At.Sub(from.At)
	middle := turn.Pose{At: from.At.Lerp(to.At, 0.5), Heading: from.Heading}
	off := t.barHalf() + t.keeps()
	for _, via := range [...][]turn.Pose{{from.Pose, to.Pose}, {from.Pose, middle.Moved(0, off+d.Len()/4, 0), to.Pose}, {from.Pose, middle.Moved(0, -off-d.Len()/4, 0), to.Pose}} {
		var paths []turn.Path
		for i := 1; i < len(via); i++ {
			c, fits, err := t.firstWord(via[i-1], via[i], t.reverses, true)
			if err != nil {
				return Move{}, false, err
			}
			if !fits {
				break
			}
			paths = append(paths, c.path)
		}
		if len(paths) < len(via)-1 {
			continue
		}
		m, err := t.moveAlong(Run, paths...)
		if err != nil {
			return Move{}, false, err
		}
		if !ok || m.Seconds < best.Seconds-leastGain {
			best, ok = m, true
		}
	}
	return best, ok, nil
}

// passings is the list of passings that takes least past all that is hit, in the order along the straight; false: there is none. Without lifts there are bends only.
func (st *straight) passings(lifts bool) (out []passing, ok bool, err error) {
	n := len(st.hit)
	type step struct {
		seconds, at float64
		passing
		before int
	}
	best := make([]step, n+1) // past the first so many
	for i := range best {
		best[i].seconds = math.Inf(1)
	}
	best[0] = step{at: -math.Inf(1)}
	try := func(i, k int, p passing) {
		if s := best[i].seconds + p.seconds; p.from >= best[i].at && s < best[k].seconds-leastGain {
			for _, o := range st.hit[i:k] {
				p.of = append(p.of, o.holeAt)
			}
			best[k] = step{s, p.to, p, i}
		}
	}
	for i := range n {
		if math.IsInf(best[i].seconds, 1) {
			continue
		}
		for k := i + 1; k <= n; k++ {
			those := st.hit[i:k]
			if k-i <= mostTogether {
				p, ok, err := st.bent(those, best[k].seconds-best[i].seconds)
				if err != nil {
					return nil, false, err
				}
				if ok {
					try(i, k, p)
				}
			}
			if lifts {
				p, err := st.lifted(those, best[k].seconds-best[i].seconds)
				if err != nil {
					return nil, false, err
				}
				try(i, k, p)
			}
		}
	}
	if math.IsInf(best[n].seconds, 1) {
		return nil, false, nil
	}
	for k := n; k > 0; k = best[k].before {
		out = append(out, best[k].passing)
	}
	slices.Reverse(out)
	return out, true, nil
}
