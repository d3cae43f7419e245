package plan

import (
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// mostVain: after so many runs that were of no use none is looked for any more where a turn does not fit inside a block: a field
// whose row ends have no room has none beside them either, and a run that is not found takes longest.
const mostVain = 12

// drawing is a plan that is being drawn: what is driven so far, where the set stands and where it heads.
type drawing struct {
	survey  *survey
	plan    *Plan
	part    int
	from    int       // part in which the set stands
	at      *plane.XY // bar's middle; nil: nowhere yet
	heading geo.Heading
	inWork  bool // it stands at the end of a pass
	vain    int  // runs looked for in place of a turn that does not fit, and of no use

	progress progress
	beaten   func(progress) bool // nil: never
}

// expect adds to what is left the least that some blocks and rounds will take.
func (d *drawing) expect(blocks []block, loops []loop) error {
	for i := range blocks {
		b := &blocks[i]
		for _, st := range b.strips {
			d.progress.left += st.long()
		}
		d.progress.least += float64(len(b.rows)-1) * d.survey.turner.least(b.pitch, b.span)
	}
	for _, l := range loops {
		long, err := d.leastLength(l)
		if err != nil {
			return err
		}
		d.progress.left += long
	}
	return nil
}

// block drives the passes of a block. Where the set does not get there, and that takes more than all its ground is worth, it is left.
func (d *drawing) block(b *block, w orientation) error {
	p, t := d.plan, d.survey.turner
	first, in, _ := b.line(b.at(0, w))
	m, cut, err := d.sooner(func(d *drawing) (Move, error) { return d.way(first[0], in, false) })
	if err != nil {
		return err
	}
	d.endSooner(cut)
	d.progress.open += d.survey.lost(cut)
	turns := float64(len(b.rows)-1) * t.least(b.pitch, b.span)
	if m.Fault != nil {
		work, turning := b.takes(d.survey.depth)
		if worth := min(d.survey.lost(work), d.survey.price(b.ground)); worth < t.price(m)+work/d.survey.opt.Speed.MetresPerSecond()+turning {
			d.progress.left, d.progress.least, d.progress.open = d.progress.left-work, d.progress.least-turns, d.progress.open+worth
			return nil
		}
	}
	p.Blocks++
	p.Bound += turns
	for i := range b.rows {
		st, u0, u1 := b.at(i, w)
		line, in, out := b.line(st, u0, u1)
		pieces := b.pieces(st, line)
		if i == 0 {
			if err := d.took(m); err != nil {
				return err
			}
		} else {
			if pieces[0], err = d.turn(b, i, w, pieces[0], in); err != nil {
				return err
			}
			d.progress.least -= t.least(b.pitch, b.span)
			p.Within += p.Moves[len(p.Moves)-1].Seconds
		}
		for k, piece := range pieces {
			to := in
			if k == len(pieces)-1 {
				to = out
			}
			if k > 0 {
				if err := d.lift(piece[0], in); err != nil {
					return err
				}
			}
			d.pass(Pass{Block: p.Blocks, Heading: in, Line: piece, Bends: bendsOn(st.past, piece)}, to)
		}
	}
	return nil
}

// bendsOn are those places where a row is bent past an obstacle that lie on a piece of it.
func bendsOn(past *rowPast, piece []plane.XY) []plane.XY {
	if past == nil {
		return nil
	}
	return onLine(past.apexes, piece)
}

// onLine are those of some places that lie on a line.
func onLine(places, line []plane.XY) (out []plane.XY) {
	for _, p := range places {
		for i := 1; i < len(line); i++ {
			if (plane.Segment{A: line[i-1], B: line[i]}).Dist(p) < hair {
				out = append(out, p)
				break
			}
		}
	}
	return out
}

// lift drives with the tool lifted from the end of a piece of a row past an obstacle to the next piece.
func (d *drawing) lift(to plane.XY, heading geo.Heading) error {
	t := d.survey.turner
	goal := end{Pose: t.axle(to, heading), bar: to}
	m, ok, err := t.over(d.standing(), goal)
	if !ok && err == nil {
		m, err = d.run(d.standing(), goal)
	}
	if err != nil {
		return err
	}
	m.Lifted = true
	return d.took(m)
}

// pass adds a pass that ends with a heading.
func (d *drawing) pass(one Pass, heading geo.Heading) {
	one.Number, one.Part, one.Length = len(d.plan.Passes)+1, d.part, plane.Length(one.Line)
	d.plan.Passes = append(d.plan.Passes, one)
	d.progress.worked, d.progress.left = d.progress.worked+one.Length, d.progress.left-one.Length
	end := one.Line[len(one.Line)-1]
	d.at, d.heading, d.inWork, d.from = &end, heading, true, d.part
}

// move drives to the start of a pass: by a turn if one fits, else by a run.
func (d *drawing) move(to plane.XY, heading geo.Heading) error {
	m, err := d.way(to, heading, false)
	if err != nil {
		return err
	}
	return d.took(m)
}

// turn drives to the i-th pass of a block. Where no turn fits, the bar is lifted and lowered some metres nearer to each other's rows, if that takes less (early);
// else a run is driven if one does; else the turn stays that is short of least. What of the line is driven comes back.
func (d *drawing) turn(b *block, i int, w orientation, line []plane.XY, in geo.Heading) ([]plane.XY, error) {
	m, err := d.way(line[0], in, true)
	if err != nil {
		return nil, err
	}
	if m.Fault != nil && m.Turned() && d.vain < mostVain {
		early, err := d.early(b, i, w, m, line)
		if err != nil {
			return nil, err
		}
		if early.line != nil {
			d.cut(early)
			m, line = early.move, early.line
		} else if m, err = d.instead(m, line[0], in); err != nil {
			return nil, err
		}
	}
	return line, d.took(m)
}

// instead is a run in place of a turn that does not fit, if it takes less.
func (d *drawing) instead(m Move, to plane.XY, heading geo.Heading) (Move, error) {
	t := d.survey.turner
	run, err := d.run(d.standing(), end{Pose: t.axle(to, heading), bar: to})
	if err != nil || run.Fault == nil && run.Seconds < t.price(m) {
		return run, err
	}
	d.vain++
	return m, nil
}

// way is the quickest way to the start of a pass; a turn only is one whether it fits or not, unless none serves.
func (d *drawing) way(to plane.XY, heading geo.Heading, turnOnly bool) (Move, error) {
	t := d.survey.turner
	if d.at == nil {
		return Move{Kind: None}, nil
	}
	if d.inWork && d.from == d.part {
		from, goal := t.axle(*d.at, d.heading), t.axle(to, heading)
		if turnOnly || from.At.Dist(goal.At) <= nearTurn*t.steer.Radius {
			if m, ok, err := t.turned(from, goal, turnOnly); ok || err != nil {
				return m, err
			}
		}
	}
	return d.run(d.standing(), end{Pose: t.axle(to, heading), bar: to})
}

// soonest bounds the time of the way from the end of a pass to the start of another, with its price where it does not fit, s. A way that fits is no shorter than the shortest of Dubins, or
// where the set may reverse of Reeds & Shepp, on the least radius: turns bend on it, and runs on a little more. One that does not fit may have corners. From part to part nothing is known.
func (d *drawing) soonest(to plane.XY, heading geo.Heading) (float64, error) {
	if d.from != d.part {
		return 0, nil
	}
	t := d.survey.turner
	words, err := turn.Words(t.axle(*d.at, d.heading), t.axle(to, heading), t.steer.Radius, t.reverses)
	if err != nil {
		return 0, err
	}
	fastest := t.speed.Turning
	if t.reverses {
		fastest = max(fastest, t.speed.Reversing)
	}
	return min(words[0].Length()/fastest, d.at.Dist(to)/t.speed.Turning+t.unfit), nil
}

// took adds a move. Error: errBeaten.
func (d *drawing) took(m Move) error {
	d.plan.Moves = append(d.plan.Moves, m)
	t := &d.progress
	t.moved += m.Seconds
	if m.Turned() {
		t.turns++
	}
	if m.Fault != nil {
		t.unfit++
	}
	if d.beaten != nil && d.beaten(*t) {
		return errBeaten
	}
	return nil
}

// leave drives back to the gate.
func (d *drawing) leave() error {
	if d.survey.opt.Gate == nil || len(d.plan.Passes) == 0 {
		d.plan.Moves = append(d.plan.Moves, Move{Kind: None})
		return nil
	}
	gate := *d.survey.opt.Gate
	d.part = d.survey.home
	m, err := d.run(d.standing(), end{Pose: turn.Pose{At: gate}, bar: gate, free: true})
	d.plan.Moves = append(d.plan.Moves, m)
	return err
}

// Turned says whether m is a turn of the room turn.
func (m Move) Turned() bool { return m.Kind != Run && m.Kind != Road && m.Kind != None }

// outright says whether a corner of a round is driven to its end though the set does not fit there.
func (p *Plan) outright() bool {
	return slices.ContainsFunc(p.Moves, func(m Move) bool { return m.Fault != nil && m.Fault.Why == noCorner })
}
