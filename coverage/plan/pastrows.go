package plan

import (
	"errors"
	"slices"

	"balk/coverage/turn"
	"balk/geo"
	"balk/geo/plane"
)

// errNotPast says that a plan cannot go past obstacles; which, its survey has noted.
var errNotPast = errors.New("internal: obstacles that no row or round can go past")

// rowPast is how a row goes past obstacles.
type rowPast struct {
	apexes []plane.XY   // m, where it is farthest beside its line
	lifts  [][2]float64 // m along the frame's U: from where to where the bar is lifted
	takes  takes
}

// blocksPast are blocks of a part whose rows go past all obstacles. Rows along a bent edge do so only where they are not in the way of the set.
func (s *survey) blocksPast(part int, blocks []block) (out []block, err error) {
	if len(s.small) == 0 || len(s.small[part]) == 0 {
		return blocks, nil
	}
	for _, b := range blocks {
		strips, rows := slices.Clone(b.strips), slices.Clone(b.rows)
		for k := range strips {
			if strips[k], err = s.stripPast(part, b.frame, strips[k]); err != nil {
				return nil, err
			}
		}
		for k := len(strips) - 1; k >= 0; k-- {
			if strips[k].u1-strips[k].u0 >= stub {
				continue
			}
			strips = slices.Delete(strips, k, k+1)
			rows = slices.DeleteFunc(rows, func(r int) bool { return r == k })
			for i := range rows {
				if rows[i] > k {
					rows[i]--
				}
			}
		}
		if b.strips, b.rows = strips, rows; len(rows) > 0 {
			out = append(out, b)
		}
	}
	return out, nil
}

// stripPast is a straight strip in the frame of a part's rows past all obstacles; shorter than stub where nothing is left of it.
func (s *survey) stripPast(part int, f plane.Frame, one strip) (strip, error) {
	if one.bent != nil {
		return s.bentPast(part, f, one)
	}
	st := s.straightOf(part, plane.Frame{Origin: f.From(plane.XY{X: one.u0, Y: one.v}), Ahead: f.Ahead}, one.u1-one.u0)
	if len(st.hit) == 0 {
		return one, nil
	}
	all, ok, err := st.passings(true)
	if err != nil {
		return one, err
	}
	if !ok { // not with lifts
		for _, o := range st.hit {
			s.refused[o.holeAt] = true
		}
		return one, errNotPast
	}
	from, to := one.u0, one.u1
	var past rowPast
	var bends []plane.XY
	for _, p := range all {
		past.takes.add(p)
		switch {
		case p.bend != nil:
			bend, err := st.line(p)
			if err != nil {
				return one, err
			}
			for _, q := range bend {
				bends = append(bends, f.To(q))
			}
			past.apexes = append(past.apexes, p.apex)
		default:
			if p.from <= 0 {
				from = one.u0 + p.to
			}
			if p.to >= st.long {
				to = one.u0 + p.from
			}
			if p.from > 0 && p.to < st.long {
				past.lifts = append(past.lifts, [2]float64{one.u0 + p.from, one.u0 + p.to})
			}
		}
	}
	if one.u0, one.u1 = from, max(from, to); len(bends) > 0 {
		one.bent = &bentLine{line: slices.Concat([]plane.XY{{X: from, Y: one.v}}, bends, []plane.XY{{X: to, Y: one.v}})}
	}
	one.past = &past
	return one, nil
}

// bentPast is a bent strip past all obstacles past which its sides can bend.
func (s *survey) bentPast(part int, f plane.Frame, one strip) (strip, error) {
	var line []plane.XY
	for _, p := range one.bent.line {
		line = append(line, f.From(p))
	}
	line, apexes, all, err := s.sidesPast(part, line)
	if err != nil || len(apexes) == 0 {
		return one, err
	}
	bent := *one.bent
	bent.line = nil
	for _, p := range line {
		bent.line = append(bent.line, f.To(p))
	}
	one.bent, one.past = &bent, &rowPast{apexes: apexes, takes: all}
	return one, nil
}

// pieces are the pieces of a strip's line between which the bar is lifted, in the order driven.
func (b *block) pieces(st strip, line []plane.XY) (out [][]plane.XY) {
	if st.past == nil || len(st.past.lifts) == 0 {
		return [][]plane.XY{line}
	}
	lifts := slices.Clone(st.past.lifts)
	if b.frame.To(line[0]).X > b.frame.To(line[len(line)-1]).X {
		slices.Reverse(lifts)
		for i := range lifts {
			lifts[i][0], lifts[i][1] = lifts[i][1], lifts[i][0]
		}
	}
	// far is how far along the line it is at u: there the line is straight, and it never turns back.
	far := func(u float64) float64 {
		way := 0.0
		for i := 1; i < len(line); i++ {
			from, to, on := b.frame.To(line[i-1]).X, b.frame.To(line[i]).X, line[i].Dist(line[i-1])
			if (u-from)*(u-to) <= 0 && from != to {
				return way + on*(u-from)/(to-from)
			}
			way += on
		}
		return way
	}
	at := 0.0
	for _, l := range lifts {
		out = append(out, between(line, at, far(l[0])))
		at = far(l[1])
	}
	return append(out, between(line, at, plane.Length(line)))
}

// takes is what it takes to go past obstacles, s.
type takes map[holeAt]float64

func (t *takes) add(p passing) {
	if *t == nil {
		*t = takes{}
	}
	for _, h := range p.of {
		(*t)[h] += p.seconds / float64(len(p.of))
	}
}

func (t *takes) addAll(o takes) {
	if *t == nil {
		*t = takes{}
	}
	for h, seconds := range o {
		(*t)[h] += seconds
	}
}

// sidesPast is a line that bends as it is, with bends past all obstacles that its sides let it, where, and what that takes. Those past which it cannot bend are noted.
func (s *survey) sidesPast(part int, line []plane.XY) (out, apexes []plane.XY, all takes, err error) {
	for i := 1; i < len(line); i++ {
		a, d := line[i-1], line[i].Sub(line[i-1])
		out = append(out, a)
		if d.Len() < s.turner.steer.Radius {
			continue
		}
		st := s.straightOf(part, plane.Frame{Origin: a, Ahead: d.Unit()}, d.Len())
		st.hit = slices.DeleteFunc(st.hit, func(o obstacle) bool { return o.middle.X < 0 || o.middle.X > st.long })
		those, ok, err := st.passings(false)
		if err != nil {
			return nil, nil, nil, err
		}
		if !ok {
			for _, o := range st.hit {
				s.refused[o.holeAt] = true
			}
		}
		for _, p := range those {
			bend, err := st.line(p)
			if err != nil {
				return nil, nil, nil, err
			}
			out, apexes = append(out, bend...), append(apexes, p.apex)
			all.add(p)
		}
	}
	return append(out, line[len(line)-1]), apexes, all, nil
}

// ringPast is a round with bends past all obstacles, as sidesPast has them. Those that it comes too near to are noted.
func (s *survey) ringPast(part int, ring plane.Ring) (plane.Ring, []plane.XY, takes, error) {
	line, apexes, all, err := s.sidesPast(part, append(slices.Clone(ring), ring[0]))
	if err != nil {
		return nil, nil, nil, err
	}
	s.touches(Pass{Part: part, Line: line})
	return line[:len(line)-1], apexes, all, nil
}

// touches notes the obstacles that the set does not keep clear of on the way of a pass, as if it stood straight behind the tractor, and says whether there are any.
func (s *survey) touches(one Pass) (some bool) {
	box := plane.EmptyBox().Extend(one.Line...)
	for _, o := range s.small[one.Part] {
		if box.Dist(o.middle) <= s.turner.farthest()+o.reach+s.turner.keeps() && s.touched(o, one.Line) {
			s.refused[o.holeAt], some = true, true
		}
	}
	return some
}

func (s *survey) touched(o obstacle, line []plane.XY) bool {
	t := s.turner
	for i := 1; i < len(line); i++ {
		side := plane.Segment{A: line[i-1], B: line[i]}
		if side.A == side.B || side.Dist(o.middle) > t.farthest()+o.reach+t.keeps() {
			continue
		}
		for _, out := range t.straightOutlines(turn.Pose{At: side.A, Heading: geo.Along(side.B.Sub(side.A))}) {
			if out.along(side.A.Dist(side.B)).nears(o, max(0, t.im.Turning.Margin-rimStep/2)) {
				return true
			}
		}
	}
	return false
}
