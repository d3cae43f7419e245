package plan

import (
	"math"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// drawing is a plan that is being drawn: what is driven so far, where the set stands and where it heads.
type drawing struct {
	survey  *survey
	plan    *Plan
	part    int
	from    int       // part in which the set stands
	at      *plane.XY // bar's middle; nil: nowhere yet
	heading geo.Heading
	inWork  bool // it stands at the end of a pass

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
		if len(l.cuts) == 0 {
			d.progress.left += l.ring.Perimeter()
			continue
		}
		c, err := d.circuit(l)
		if err != nil {
			return err
		}
		for _, st := range c.stretches {
			d.progress.left += plane.Length(st.line)
		}
	}
	return nil
}

// block drives the passes of a block.
func (d *drawing) block(b *block, w orientation) error {
	p := d.plan
	p.Blocks++
	p.Bound += float64(len(b.rows)-1) * d.survey.turner.least(b.pitch, b.span)
	for i := range b.rows {
		st, u0, u1 := b.at(i, w)
		line, in, out := b.line(st, u0, u1)
		if err := d.move(line[0], in, i > 0); err != nil {
			return err
		}
		if i > 0 {
			d.progress.least -= d.survey.turner.least(b.pitch, b.span)
			p.Within += p.Moves[len(p.Moves)-1].Seconds
		}
		d.pass(Pass{Block: p.Blocks, Heading: in, Line: line}, out)
	}
	return nil
}

// pass adds a pass that ends with a heading.
func (d *drawing) pass(one Pass, heading geo.Heading) {
	one.Number, one.Part, one.Length = len(d.plan.Passes)+1, d.part, plane.Length(one.Line)
	d.plan.Passes = append(d.plan.Passes, one)
	d.progress.worked, d.progress.left = d.progress.worked+one.Length, d.progress.left-one.Length
	end := one.Line[len(one.Line)-1]
	d.at, d.heading, d.inWork, d.from = &end, heading, true, d.part
}

// move drives to the start of a pass. Inside a block that is a turn, whether the turn fits or not. Elsewhere it is a turn if one
// fits, else a run.
func (d *drawing) move(to plane.XY, heading geo.Heading, turnOnly bool) error {
	m, err := d.way(to, heading, turnOnly)
	if err != nil {
		return err
	}
	return d.took(m)
}

// moveToRound is move to a headland round. Where that does not fit, a turn along the boundary is tried, as between stretches of a
// round.
func (d *drawing) moveToRound(to plane.XY, heading geo.Heading) error {
	m, err := d.way(to, heading, false)
	if err != nil {
		return err
	}
	if m.Fault != nil && d.inWork && d.from == d.part {
		edge := d.survey.turner.slimmest()
		turned, ok, err := edge.quickest(edge.axle(*d.at, d.heading), edge.axle(to, heading))
		if err != nil {
			return err
		}
		if ok {
			m = turned
		}
	}
	return d.took(m)
}

func (d *drawing) way(to plane.XY, heading geo.Heading, turnOnly bool) (Move, error) {
	t := d.survey.turner
	if d.at == nil {
		return Move{Kind: None}, nil
	}
	if d.inWork && d.from == d.part {
		from, goal := t.axle(*d.at, d.heading), t.axle(to, heading)
		if turnOnly || from.At.Dist(goal.At) <= nearTurn*t.steer.Radius {
			c, fault, err := t.turn(from, goal, turnOnly)
			if err != nil {
				return Move{}, err
			}
			if len(c.path.Pieces) > 0 && (fault == nil || turnOnly) {
				m, err := t.moveAlong(c.path.Kind, c.path)
				m.Fault = fault
				return m, err
			}
		}
	}
	return d.run(d.standing(), end{Pose: t.axle(to, heading), bar: to})
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

// loops drives the headland rounds of a part: the innermost first, and of rounds of
// the same number the nearest.
func (d *drawing) loops(all []loop) error {
	done := make([]bool, len(all))
	for range all {
		best, near := -1, math.Inf(1)
		for i, l := range all {
			if done[i] || best >= 0 && l.round < all[best].round {
				continue
			}
			away := 0.0
			if d.at != nil {
				_, _, away = nearestOn(l.ring, *d.at)
			}
			if best < 0 || l.round > all[best].round || away < near-sameWay {
				best, near = i, away
			}
		}
		done[best] = true
		drive := d.loop
		if len(all[best].cuts) > 0 {
			drive = d.stretches
		}
		if err := drive(all[best]); err != nil {
			return err
		}
	}
	return nil
}

// A round begins where the set gets to it on the shortest way: so many places along it are looked at either
// way round, half a least radius apart, from the one nearest to the set on.
const roundStarts = 12

// loop drives one round.
func (d *drawing) loop(l loop) error {
	side, q, back, err := d.roundStart(l.ring)
	if err != nil {
		return err
	}
	n := len(l.ring)
	line := []plane.XY{q}
	for i := range n {
		if back {
			line = append(line, l.ring[(side-i+n)%n])
		} else {
			line = append(line, l.ring[(side+1+i)%n])
		}
	}
	along := l.ring[(side+1)%n].Sub(l.ring[side])
	if back {
		along = along.Scale(-1)
	}
	line = append(line, q)
	heading := geo.Along(along)
	if err := d.moveToRound(q, heading); err != nil {
		return err
	}
	d.pass(Pass{Round: l.round, Line: line}, heading)
	return nil
}

// roundStart is where a round begins, on which side of its ring, and whether it runs against it.
func (d *drawing) roundStart(ring plane.Ring) (side int, q plane.XY, back bool, err error) {
	if d.at == nil {
		side, q, _ = nearestOn(ring, middleOfLongest(ring))
		return side, q, false, nil
	}
	t := d.survey.turner
	from := t.axle(*d.at, d.heading)
	first, at, _ := nearestOn(ring, *d.at)
	least := math.Inf(1)
	for _, way := range [2]bool{false, true} {
		for k := range roundStarts {
			i, p := walked(ring, first, at, float64(k)*t.steer.Radius/2, way)
			u := ring[(i+1)%len(ring)].Sub(ring[i])
			if way {
				u = u.Scale(-1)
			}
			length := p.Dist(*d.at)
			if d.inWork {
				w, err := turn.Dubins(from, t.axle(p, geo.Along(u)), t.runRadius())
				if err != nil {
					return 0, plane.XY{}, false, err
				}
				length = w.Length()
			}
			if length < least-sameWay {
				side, q, back, least = i, p, way, length
			}
		}
	}
	return side, q, back, nil
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

// leave drives back to the gate.
func (d *drawing) leave() error {
	if d.survey.opt.Gate == nil || len(d.plan.Passes) == 0 {
		d.plan.Moves = append(d.plan.Moves, Move{Kind: None})
		return nil
	}
	gate := *d.survey.opt.Gate
	m, err := d.run(d.standing(), end{Pose: turn.Pose{At: gate}, bar: gate, free: true})
	d.plan.Moves = append(d.plan.Moves, m)
	return err
}

// Turned says whether m is a turn of the room turn.
func (m Move) Turned() bool { return m.Kind != Run && m.Kind != Road && m.Kind != None }
