package plan

import (
	"math"

	"balk/geo/plane"
)

// Where no turn between two rows finds room, the driver lifts before the end of a row, and lowers later in the next one. What he leaves is
// missed, at its price. That may cost less than a turn that does not fit:
//
//	boundary ──────────────
//	            ╭──╮
//	 headland   │  │
//	 ─ ─ ─ ─ ─ ─│─ │─ ─ ─ ─   rows end here
//	            ┆  ┆          left, 2·width·back
//	            │  │
const (
	earlyStep  = 0.5 // m: rows are cut by the room that the turn is short of, rounded up to so much,
	earlyTries = 3   // and by up to so many steps more, since another turn may be short of less than the first was
)

// early is a turn between two passes that end early.
type early struct {
	move        Move
	line        []plane.XY // of the next pass; nil: there is no such turn
	back, after float64    // m, that the pass before ends, and the next one begins, early
	lost        float64    // s, what is left, at its price
}

// early looks for such a turn to the i-th pass of a block in place of m. It takes less than m, or there is none.
func (d *drawing) early(b *block, i int, w orientation, m Move, line []plane.XY) (best early, err error) {
	s, t := d.survey, d.survey.turner
	before := d.plan.Passes[len(d.plan.Passes)-1].Line
	from, to := b.left(s.width, i-1, w, true), b.left(s.width, i, w, false)
	most := t.price(m)
	least := max(earlyStep, math.Ceil(m.Fault.short/earlyStep)*earlyStep)
	for k := range earlyTries {
		far := least + float64(k)*earlyStep
		for _, cut := range [...][2]float64{{far, 0}, {0, far}, {far, far}} {
			lost := s.price(from(cut[0]) + to(cut[1]))
			long, next := plane.Length(before)-cut[0], plane.Length(line)-cut[1]
			if lost >= most || min(long, next) < s.width {
				continue
			}
			end, out := along(before, long, true)
			at, in := along(line, cut[1], false)
			c, ok, err := t.inner(t.axle(end, out), t.axle(at, in))
			if err != nil {
				return best, err
			}
			if !ok || c.seconds+lost >= most-leastGain {
				continue
			}
			if best.move, err = t.moveAlong(c.path.Kind, c.path); err != nil {
				return best, err
			}
			most = c.seconds + lost
			best.line, best.back, best.after, best.lost = between(line, cut[1], plane.Length(line)), cut[0], cut[1], lost
		}
	}
	return best, nil
}

// left is what a pass of a block leaves, m², where it ends, or begins, so much early. Its end is as aslant as those of its
// neighbours: the last corner of the strip reaches farther than the first by the slant of one row.
//
//	──────┐╲      cut by c < slant: c²·width/(2·slant)
//	 width│ ╲     by more: width·(c − slant/2)
//	──────┴──╲
func (b *block) left(width float64, i int, w orientation, end bool) func(cut float64) float64 {
	k := i
	if w&reversed != 0 {
		k = len(b.rows) - 1 - i
	}
	row := b.rows[k]
	st, from, to := b.at(i, w)
	if end {
		from = to
	}
	reach := func(k int) float64 {
		if from == st.u1 {
			return b.strips[k].u1
		}
		return b.strips[k].u0
	}
	lo, hi := max(0, row-1), min(len(b.strips)-1, row+1)
	slant := math.Abs(reach(hi)-reach(lo)) / float64(max(1, hi-lo))
	return func(cut float64) float64 {
		if cut < slant {
			return cut * cut * width / (2 * slant)
		}
		return width * (cut - slant/2)
	}
}

// sooner is a way on from the last pass that is found from where the set stands, or where that does not fit from where it stands if the bar is lifted some metres before the end of
// that pass, and how many: its nose has no room beyond the end of many a last row. It is the first that takes less than what does not fit, with what the pass leaves.
func (d *drawing) sooner(find func(d *drawing) (Move, error)) (m Move, cut float64, err error) {
	if m, err = find(d); err != nil || m.Fault == nil || !d.inWork || d.from != d.part {
		return m, 0, err
	}
	s, t := d.survey, d.survey.turner
	last := d.plan.Passes[len(d.plan.Passes)-1]
	if last.Round > 0 && last.Stretch == 0 { // it ends where it began
		return m, 0, nil
	}
	edge, most := t.slimmest(), t.price(m)
	for k, tries := 1, 0; tries < earlyTries; k++ {
		cut := float64(k) * earlyStep
		if s.lost(cut) >= most || last.Length-cut < s.width {
			break
		}
		here := *d
		at, h := along(last.Line, last.Length-cut, true)
		here.at, here.heading = &at, h
		if ok, err := edge.stands(t.axle(at, h)); err != nil {
			return m, 0, err
		} else if !ok {
			continue
		}
		tries++
		other, err := find(&here)
		if err != nil {
			return m, 0, err
		}
		if t.price(other)+s.lost(cut) < most-leastGain && other.Fault == nil {
			return other, cut, nil
		}
	}
	return m, 0, nil
}

// endSooner ends the last pass early by so many metres.
func (d *drawing) endSooner(cut float64) {
	if cut > 0 {
		last := &d.plan.Passes[len(d.plan.Passes)-1]
		_, d.heading = along(last.Line, last.Length-cut, true)
		d.cut(early{back: cut})
	}
}

// cut ends the pass before early, and takes what the next one will be shorter off the way that is left.
func (d *drawing) cut(e early) {
	p := &d.plan.Passes[len(d.plan.Passes)-1]
	p.Line = between(p.Line, 0, p.Length-e.back)
	p.Length = plane.Length(p.Line)
	end := p.Line[len(p.Line)-1]
	d.at = &end
	d.progress.worked, d.progress.left = d.progress.worked-e.back, d.progress.left-e.after
	d.progress.open += e.lost
}
