package plan

import (
	"cmp"
	"math"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

const (
	// besideRim: corridors lie so many least radii inside boundary and obstacles where they can. A run then bends round a corner on
	// no less than its radius.
	besideRim = 1.05
	// runBend: runs bend on so many least radii. On the least radius itself a drawbar swings a little beyond the angle at which it
	// comes to rest.
	runBend = 1.02
	// mostPassedBy: a corner of a corridor that cannot be driven to is passed by for one of so many after it.
	mostPassedBy = 4
	// mostAtOnce is by how much a run turns from one pose looked at to the next on an arc, rad.
	mostAtOnce = math.Pi / 6
)

func (t *turner) runRadius() float64 { return runBend * t.steer.Radius }

// corridorDepths are the depths of the corridors, m, in the order in which they are tried: where the least radius has room beside
// corners, where the set has its margin, and where the set works the outermost round.
func (s *survey) corridorDepths() []float64 {
	t := s.turner
	near := max(s.width/2-2*corridorSlack, s.width/4)
	all := []float64{besideRim * t.steer.Radius, t.half + t.im.Turning.Margin + 2*corridorSlack, near}
	slices.SortFunc(all, func(a, b float64) int { return cmp.Compare(b, a) })
	return slices.DeleteFunc(all, func(d float64) bool { return d < near })
}

// end is where a run begins or ends.
type end struct {
	turn.Pose          // of the axle
	bar       plane.XY // m, the bar's middle
	free      bool     // the gate: the set may head anywhere, its margin does not count
}

// standing is where the set stands.
func (d *drawing) standing() end {
	if d.inWork {
		return end{Pose: d.survey.turner.axle(*d.at, d.heading), bar: *d.at}
	}
	return end{Pose: turn.Pose{At: *d.at}, bar: *d.at, free: true}
}

// run drives from one place to another with the tool lifted. The way leads along a corridor, bends on the least radius at every
// corner, and has room for the whole outline of the set. Where there is no such way the move is the line of the outermost corridor, or where that is in pieces the
// shortest in the field, with a fault.
func (d *drawing) run(from, to end) (Move, error) {
	t := d.survey.turner
	if d.from != d.part {
		m := t.straightRun(Road, []plane.XY{from.bar, to.bar}, nil)
		if given := d.survey.opt.BetweenParts; given > 0 {
			m.Seconds = given * secondsM
		}
		return m, nil
	}
	return t.known.runs.get(runAsked{d.part, from, to}, func() (Move, error) { return t.findRun(d.survey.parts[d.part].corridors, from, to) })
}

func (t *turner) findRun(corridors []corridor, from, to end) (Move, error) {
	last := len(corridors) - 1
	tried := corridors[:last]
	if can, err := t.mayRun(from, to); err != nil {
		return Move{}, err
	} else if !can {
		tried = nil
	}
	for _, c := range tried {
		a, b := from.Pose, to.Pose
		var in, out []turn.Path
		if from.free {
			p, err := t.through(c, from.At, to.At)
			if err != nil {
				return Move{}, err
			}
			in, a = []turn.Path{p}, p.End()
		}
		if to.free {
			p, err := t.through(c, to.At, from.At)
			if err != nil {
				return Move{}, err
			}
			b = about(p.End())
			out = []turn.Path{{From: b, Pieces: p.Pieces, Kind: turn.Forward}}
		}
		line := c.run(c.entered(a.At), c.entered(b.At))
		if line == nil {
			continue
		}
		hops, err := t.along(slices.Concat([]plane.XY{a.At}, line, []plane.XY{b.At}), a, b)
		if err != nil {
			return Move{}, err
		}
		if hops != nil {
			return t.moveAlong(Run, slices.Concat(in, hops, out)...)
		}
	}
	if line := corridors[last-1].run(from.bar, to.bar); line != nil {
		return t.straightRun(Run, line, &Fault{At: from.bar, Why: "run: its bends find no room"}), nil
	}
	line := corridors[last].run(from.bar, to.bar)
	if line == nil {
		line = []plane.XY{from.bar, to.bar}
	}
	return t.straightRun(Run, line, &Fault{At: from.bar, Why: "run: no way found along the rims of field and obstacles"}), nil
}

func (t *turner) straightRun(kind turn.Kind, line []plane.XY, fault *Fault) Move {
	m := Move{Kind: kind, Line: line, Length: plane.Length(line), Fault: fault}
	m.Seconds = m.Length / t.speed.Turning
	return m
}

// moveAlong is a move along paths that follow each other.
func (t *turner) moveAlong(kind turn.Kind, paths ...turn.Path) (Move, error) {
	m := Move{Kind: kind, paths: paths}
	for _, p := range paths {
		line, err := p.Line(sampled)
		if err != nil {
			return Move{}, err
		}
		s, err := p.Time(t.speed)
		if err != nil {
			return Move{}, err
		}
		m.Line, m.Length, m.Seconds = append(m.Line, line...), m.Length+p.Length(), m.Seconds+s
	}
	return m, nil
}

// along drives from pose to pose over the corners of a line between them; nil: it cannot.
func (t *turner) along(line []plane.XY, from, to turn.Pose) ([]turn.Path, error) {
	line = slices.CompactFunc(line, func(a, b plane.XY) bool { return a.Dist(b) < hair })
	if len(line) < 2 {
		return nil, nil
	}
	poses := t.poses(line)
	poses[0], poses[len(poses)-1] = from, to
	slim, err := t.slim(from, to)
	if err != nil {
		return nil, err
	}
	return slim.hops(poses)
}

// mayRun says whether the set stands in the field where a run begins, and ends; if not there is no way whatever the corridor. At the end of one a drawbar may
// be turned, so a trailed set is asked for its beginning only.
func (t *turner) mayRun(from, to end) (bool, error) {
	if from.free || to.free {
		return true, nil
	}
	slim, err := t.slim(from.Pose, to.Pose)
	if err != nil {
		return false, err
	}
	ok, err := slim.stands(from.Pose)
	if ok && !t.im.Mount.Trailed {
		ok, err = slim.stands(to.Pose)
	}
	return ok, err
}

// hop is a way from one pose to a later one.
type hop struct {
	tried
	sure bool // it fits; else only the time of its shortest word is known
}

// hops drive from the first pose to the last. They pass poses by where that is quicker, as where the set would have to drive a
// loop to get into one. Nil: there is no way. The quickest way by the shortest words is found first. A hop of it that does not
// fit, or only by a longer word, is put right, and the quickest way is found again.
func (t *turner) hops(poses []turn.Pose) ([]turn.Path, error) {
	n := len(poses)
	all := make([][]hop, n) // all[i][k−i−1] leads from pose i to pose k
	for i := range all {
		for k := i + 1; k < n && k <= i+1+mostPassedBy; k++ {
			p, err := turn.Dubins(poses[i], poses[k], t.runRadius())
			if err != nil {
				return nil, err
			}
			all[i] = append(all[i], hop{tried: tried{seconds: p.Length() / t.speed.Turning}})
		}
	}
	for {
		next, ok := quickestHops(all)
		if !ok {
			return nil, nil
		}
		paths, err := t.driven(poses, all, next)
		if paths != nil || err != nil {
			return paths, err
		}
	}
}

// quickestHops is the pose that follows each one on the quickest way to the last.
func quickestHops(all [][]hop) (next []int, ok bool) {
	n := len(all)
	next = make([]int, n)
	left := make([]float64, n) // s to the last pose
	for i := n - 2; i >= 0; i-- {
		left[i] = math.Inf(1)
		for d, h := range all[i] {
			if s := h.seconds + left[i+1+d]; s < left[i]-leastGain {
				left[i], next[i] = s, i+1+d
			}
		}
	}
	return next, !math.IsInf(left[0], 1)
}

// driven are the paths over some hops; nil where one of them takes longer than was thought, which is noted in it.
func (t *turner) driven(poses []turn.Pose, all [][]hop, next []int) ([]turn.Path, error) {
	var paths []turn.Path
	for i := 0; i < len(poses)-1; i = next[i] {
		h := &all[i][next[i]-i-1]
		if !h.sure {
			c, ok, err := t.word(poses[i], poses[next[i]])
			if err != nil {
				return nil, err
			}
			if !ok {
				c.seconds = math.Inf(1)
			}
			was := h.seconds
			if *h = (hop{c, true}); c.seconds > was+leastGain {
				return nil, nil
			}
		}
		paths = append(paths, h.path)
	}
	return paths, nil
}

// gateSteps are how many half widths farther than its length a set may have to drive until it is in the field with its width too, as from a gate in a corner.
const gateSteps = 8

// through drives straight on from the gate until the whole set is in the field. From a gate beside the corridor it drives square
// into the corridor, else towards its goal.
func (t *turner) through(c corridor, gate, to plane.XY) (turn.Path, error) {
	d := c.entered(gate).Sub(gate)
	if d.Len() < hair {
		d = to.Sub(gate)
	}
	p := turn.Path{From: turn.Pose{At: gate, Heading: geo.Along(d)}, Kind: turn.Forward}
	im := t.im
	long := max(im.Tractor.Ahead, im.Tractor.Behind, t.lead+im.Body.Behind) + im.Turning.Margin
	for k := range gateSteps {
		p.Pieces = []turn.Arc{{Length: long + float64(k)*t.half}}
		if ok, err := t.stands(p.End()); ok || err != nil {
			return p, err
		}
	}
	p.Pieces[0].Length = long // as if there were room
	return p, nil
}

// about is p turned about.
func about(p turn.Pose) turn.Pose {
	p.Heading = geo.Heading(math.Remainder(float64(p.Heading)+math.Pi, 2*math.Pi))
	return p
}

// poses are the poses in which a line is driven. At a corner the set heads half-way between the straights before and behind it.
// Of the many corners that stand for an arc only some become poses.
func (t *turner) poses(line []plane.XY) []turn.Pose {
	var out []turn.Pose
	turned := 0.0
	for i, at := range line {
		var in, on plane.XY
		if i > 0 {
			in = at.Sub(line[i-1])
		}
		if i < len(line)-1 {
			on = line[i+1].Sub(at)
		}
		if i > 0 && i < len(line)-1 {
			turned += math.Abs(in.AngleTo(on))
			if short := t.steer.Radius / 2; turned < mostAtOnce && in.Len() < short && on.Len() < short {
				continue
			}
		}
		turned = 0
		var u plane.XY
		for _, d := range [2]plane.XY{in, on} {
			if d != (plane.XY{}) {
				u = u.Add(d.Unit())
			}
		}
		out = append(out, turn.Pose{At: at, Heading: geo.Along(u)})
	}
	return out
}

// slim is t with a narrower set: without what the set lacks of its room at some poses. On a pass along the boundary the set lacks
// its margin, and what it is wider than the credited width. Between such poses it may lack as much.
func (t *turner) slim(at ...turn.Pose) (*turner, error) {
	lacks := 0.0
	for _, p := range at {
		at, err := t.known.lacks.get(standAsked{t.sizes(), p}, func() (float64, error) {
			d, err := turn.Drive(turn.Path{From: p}, t.im, sampled)
			if err != nil {
				return 0, err
			}
			return -t.room.Fit(d, t.im.Turning.Margin).Spare, nil
		})
		if err != nil {
			return nil, err
		}
		lacks = max(lacks, at)
	}
	if lacks == 0 {
		return t, nil
	}
	return t.slimBy(min(lacks, t.mostLacking()) + sampled), nil
}

// mostLacking is the most that a set lacks of its room, which is on the outermost round: its margin, and what it is wider than
// the credited width.
func (t *turner) mostLacking() float64 {
	return max(0, t.im.Turning.Margin+t.half-credited(t.im)/2)
}

func (t *turner) slimBy(lacks float64) *turner {
	s := *t
	im := &s.im
	off := 2 * max(0, lacks-im.Turning.Margin)
	im.Turning.Margin = max(0, im.Turning.Margin-lacks)
	im.Body.Width, im.Tractor.Width = max(0, cmp.Or(im.Body.Width, im.Width)-off), max(0, im.Tractor.Width-off)
	return &s
}

// word is the quickest way forward from pose to pose that fits; where there is none and the set may reverse, the quickest by Reeds & Shepp's words.
func (t *turner) word(from, to turn.Pose) (tried, bool, error) {
	for _, reversing := range []bool{false, true} {
		if reversing && !t.reverses {
			break
		}
		if c, ok, err := t.firstWord(from, to, reversing, false); ok || err != nil {
			return c, ok, err
		}
	}
	return tried{}, false, nil
}

// firstWord is the first word from pose to pose that fits, in the order of the time it takes, or of that rounded to leastGain.
func (t *turner) firstWord(from, to turn.Pose, reversing, rounded bool) (tried, bool, error) {
	w, err := t.known.words.get(wordAsked{t.sizes(), from, to, reversing, rounded}, func() (wordFound, error) {
		c, ok, err := t.findWord(from, to, reversing, rounded)
		return wordFound{c, ok}, err
	})
	return w.tried, w.ok, err
}

func (t *turner) findWord(from, to turn.Pose, reversing, rounded bool) (tried, bool, error) {
	if t.leaves(from, to) {
		return tried{}, false, nil
	}
	words, err := turn.Words(from, to, t.runRadius(), reversing)
	if err != nil {
		return tried{}, false, err
	}
	all, err := t.timed(words)
	if err != nil {
		return tried{}, false, err
	}
	key := func(seconds float64) float64 {
		if rounded {
			return math.Round(seconds / leastGain)
		}
		return seconds
	}
	slices.SortStableFunc(all, func(a, b tried) int { return cmp.Compare(key(a.seconds), key(b.seconds)) })
	for _, c := range all[:min(mostWords, len(all))] {
		if ok, err := t.drives(c.path); ok || err != nil {
			return c, ok, err
		}
	}
	return tried{}, false, nil
}
