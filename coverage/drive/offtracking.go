package drive

import (
	"fmt"
	"math"

	"balk/coverage/rig"
	"balk/geo"
	"balk/geo/plane"
)

const (
	// headingBase: the tractor's heading is taken from fixes at least so far
	// before and behind. With a receiver's 2 cm it is then good to 1°, where
	// neighbouring fixes of a 10 Hz log would give 5°.
	headingBase = 1.0 // m
	// settling: a trailed set that starts at an unknown angle has lost 95 % of the
	// error after three drawbars of straight travel (e^−3, see rig.Follow).
	settling = 3.0
	// farApart: fixes a second apart are not so far apart. From there on a turn has only a few of them, and what lies between is thought of otherwise (see onesided,
	// turnsBack, alongRow and likelyLine). Common practice, no source.
	farApart = 4.0 // m
	// roundOn: two chords so long together may lie 120° apart on one bend of 4 m radius, which no tractor turns below: each spans 120° of it, 2·4·sin 60° m.
	roundOn = 13.0 // m
	// straighter: a way is straight on one side of a fix where it bends there by less than half of what it does at the fix.
	straighter = 0.5
	// folded: the drawbar stands square to the tractor, degrees.
	folded = 90.0
)

// place turns the antenna's way into the bar's: t.at becomes the middle of the
// bar, t.facing its way. Every unbroken part starts with tractor and implement in
// line. On a slope the set stands uphill of its way, as slips has it;
// where headings are logged the tractor's is known.
func (t *trail) place(w Work, slips slip) []geo.Finding {
	m := w.Mount
	if m == (rig.Mount{}) && slips == nil {
		return nil
	}
	b := placing{trail: t, mount: m, half: max(w.Width, t.whole) / 2, slips: slips, bar: make([]plane.XY, len(t.at)), faces: make([]plane.XY, len(t.at))}
	t.bent = map[int][]pose{}
	if m.Trailed {
		t.angle = make([]float64, len(t.at))
	}
	for _, part := range byBreaks(t) {
		b.part(part)
	}
	t.at, t.facing, t.turned = b.bar, b.faces, b.turns
	return t.placeFindings(m, b.seen)
}

// placing is the bar's way while it is found.
type placing struct {
	*trail
	mount      rig.Mount
	half       float64 // m, of the bar
	slips      slip
	turns      turning
	bar, faces []plane.XY // middle of the bar, and its way
	seen       manners
}

// part drives the set along an unbroken part.
func (b *placing) part(part span) {
	kept, heading := b.headings(part)
	if len(kept) < 2 {
		copy(b.bar[part.from:part.to+1], b.at[part.from:]) // never moved: no pass comes of it
		return
	}
	b.seen.parts++
	s := rig.Set{Antenna: b.at[kept[0]], Ahead: heading[0], Drawn: heading[0]}
	var slopes []plane.XY
	if b.slips != nil {
		way := make([]plane.XY, len(kept))
		for i, k := range kept {
			way[i] = b.at[k]
		}
		slopes = b.slips(way)
	}
	next := 0
	for i, k := range kept {
		last := s
		if i > 0 {
			b.seen.step(b.at[k].Sub(s.Antenna), heading[i-1], k)
			s = s.Drive(b.mount, b.at[k], heading[i-1], heading[i])
		}
		angle := s.Angle() * 180 / math.Pi
		if b.mount.Trailed {
			b.seen.angle(angle, b.mount.AngleLimit(), k)
		}
		compass := b.facing != nil && b.facing[k] == s.Ahead
		var uphill plane.XY
		if slopes != nil {
			uphill = slopes[i]
		}
		p, f := b.stands(s, compass, uphill).Bar(b.mount)
		if i > 0 {
			b.turn(s, compass, uphill, k, b.at[k].Dist(b.at[kept[i-1]]))
			at := part.from + next - 1
			if parts := partsOf(b.bar[at], b.faces[at], p, f, b.half); parts > 1 {
				for _, one := range last.Between(b.mount, b.at[k], heading[i-1], heading[i], parts) {
					at, facing := b.stands(one, compass, uphill).Bar(b.mount)
					b.bent[k] = append(b.bent[k], pose{at, facing})
				}
			}
		}
		for until := b.until(kept, i, part); next < until; next++ {
			b.bar[part.from+next], b.faces[part.from+next] = p, f // standing still
			if b.mount.Trailed {
				b.angle[part.from+next] = angle
			}
		}
	}
}

// pose is a place of the bar's middle, and the way it faces.
type pose struct{ at, facing plane.XY }

// bowed is by how much the ends of a bar may go beside the chord from one fix to the next before bars are set between these.
const bowed = 0.005 // m

// partsOf is into how many parts the way of a bar from one place to another is to be cut so that its ends, half from the middle, lie no farther than bowed
// beside the chords: an arc on which the heading turns by θ, of a chord d, lies up to d·θ/8 beside it, and 1/n² of that in each of n parts.
func partsOf(at, faced, to, faces plane.XY, half float64) int {
	turn := math.Abs(faced.AngleTo(faces))
	return int(math.Ceil(math.Sqrt((at.Dist(to) + half*turn) * turn / 8 / bowed)))
}

// stands is how the set stands: on a slope uphill of its way, but for the tractor where its heading is logged.
func (b *placing) stands(s rig.Set, compass bool, uphill plane.XY) rig.Set {
	if b.slips == nil || math.IsNaN(uphill.X) {
		return s
	}
	s.Drawn = turned(s.Drawn, uphill)
	if !compass {
		s.Ahead = turned(s.Ahead, uphill)
	}
	return s
}

// turn notes how the bar was turned uphill on the step to fix k, so long, where it works.
func (b *placing) turn(s rig.Set, compass bool, uphill plane.XY, k int, length float64) {
	if b.slips == nil || b.State != nil && b.State[k] != geo.Working {
		return
	}
	b.turns.way += length
	faces := s.Ahead
	if b.mount.Trailed {
		faces = s.Drawn
	} else if compass {
		return
	}
	if math.IsNaN(uphill.X) {
		return
	}
	b.turns.turned += length
	b.turns.most = max(b.turns.most, math.Abs(uphill.Dot(faces.Left())))
}

// until is how many fixes of the part stand where kept fix i does.
func (t *trail) until(kept []int, i int, part span) int {
	if i+1 < len(kept) {
		return kept[i+1] - part.from
	}
	return part.to - part.from + 1
}

// manners is how a set was driven.
type manners struct {
	parts          int     // unbroken parts
	worst          float64 // degrees, greatest angle between tractor and implement
	worstAt        int     // its fix
	over, overAt   int     // fixes with a greater angle than the set may have; the first of them
	backs, backsAt int     // times the set was pushed back; the fix at which it was first
	backing        bool
}

func (s *manners) angle(a, limit float64, fix int) {
	if a > s.worst {
		s.worst, s.worstAt = a, fix
	}
	if limit > 0 && a > limit {
		if s.over++; s.over == 1 {
			s.overAt = fix
		}
	}
}

func (s *manners) step(step, heading plane.XY, fix int) {
	back := step.Dot(heading) < 0
	if back && !s.backing {
		if s.backs++; s.backs == 1 {
			s.backsAt = fix
		}
	}
	s.backing = back
}

// placeFindings says what the way of the bar rests on, and what the set did that
// it may not.
func (t *trail) placeFindings(m rig.Mount, seen manners) []geo.Finding {
	var out []geo.Finding
	say := func(fix int, format string, args ...any) {
		out = append(out, geo.Finding{File: t.source, Record: t.recordOf(fix), What: fmt.Sprintf(format, args...)})
	}
	if !m.Trailed || seen.parts == 0 {
		return out
	}
	say(seen.worstAt, "the drawbar's angle is not logged: taken as straight at the start of each unbroken part (%d), so the path is unsettled there for up to %.0f m", seen.parts, settling*m.Drawbar)
	if t.apart {
		return out // between fixes so far apart a set goes round by any angle, and neither its drawbar's nor its gear is seen
	}
	limit := m.AngleLimit()
	switch {
	case limit > 0 && seen.over > 0:
		say(seen.overAt, "by its drawbar of %g m the set stood at a sharper angle than it may at %d fixes: first at fix %d%s, greatest %.0f°, limit %.0f°",
			m.Drawbar, seen.over, seen.overAt+1, t.clockText(seen.overAt), seen.worst, limit)
	case limit == 0 && seen.worst > folded:
		say(seen.worstAt, "by this drawbar of %g m the set would have folded: %.0f° between tractor and implement at fix %d%s (limit 90°); check the implement's lengths",
			m.Drawbar, seen.worst, seen.worstAt+1, t.clockText(seen.worstAt))
	}
	if seen.backs > 0 && !m.MayReverse {
		say(seen.backsAt, "the set was pushed back %d times, first at fix %d%s; the implement's description does not allow it (mayReverse)", seen.backs, seen.backsAt+1, t.clockText(seen.backsAt))
	}
	return out
}

// leanFinding says what a high antenna leaves open; once for all tracks.
func leanFinding(m rig.Mount, trails []*trail) []geo.Finding {
	if m.AntennaUp == 0 || len(trails) == 0 {
		return nil
	}
	return []geo.Finding{{File: trails[0].source,
		What: fmt.Sprintf("the antenna stands %g m up: each degree the tractor leans puts it %.0f cm aside of its wheels; lean is not logged, so this is not corrected", m.AntennaUp, 100*m.AntennaUp*math.Sin(math.Pi/180))}}
}

// clockText is the time of fix k as an aside; "" where it is not logged.
func (t *trail) clockText(k int) string {
	c := geo.Instant(t.seconds[k])
	if c.IsZero() {
		return ""
	}
	return ", " + geo.Moment(c) + " UTC"
}

// headings keeps the fixes of a part that moved the antenna by more than a
// standing receiver does, and gives the tractor's heading at each: the logged
// one where it lies within 45° of the travel, else the tangent of the circle
// through the fixes headingBase before and behind. A set works forwards; where
// the travel turns back by more than 120° with the tool lifted, it reverses.
func (t *trail) headings(part span) (kept []int, heading []plane.XY) {
	kept = t.moved(part)
	n := len(kept)
	if n < 2 {
		return kept, nil
	}
	heading = make([]plane.XY, n)
	forward := 1.0
	back, front := 0, 0
	for i, k := range kept {
		p := t.at[k]
		for back+1 < i && t.at[kept[back+1]].Dist(p) >= headingBase {
			back++
		}
		for front = max(front, min(i+1, n-1)); front+1 < n && t.at[kept[front]].Dist(p) < headingBase && !t.turnsBack(kept, front); front++ {
		}
		in, out := p.Sub(t.at[kept[back]]), t.at[kept[front]].Sub(p)
		apex := t.turnsBack(kept, i)
		d := tangent(in, out, apex)
		if t.apart && !apex {
			d = t.onesided(kept, i, in, out, d)
		}
		if out == (plane.XY{}) { // the last fix: the tangent before, mirrored at the chord
			d = mirrored(heading[i-1].Scale(forward), p.Sub(t.at[kept[i-1]]))
		}
		if t.State != nil && t.State[k] == geo.Working {
			forward = 1
		}
		if !apex && t.velocity != nil && t.velocity[k].Dot(d) > 0 {
			d = t.velocity[k]
		}
		heading[i], forward = t.believed(k, d.Scale(forward/math.Max(d.Len(), 1e-12)), forward)
		if apex {
			forward, back = -forward, i
		}
	}
	if n > 2 && (t.facing == nil || heading[0] != t.facing[kept[0]]) {
		heading[0] = mirrored(heading[1], t.at[kept[1]].Sub(t.at[kept[0]]))
	}
	return kept, heading
}

// moved are the fixes of a part that moved the antenna by more than a standing receiver does.
func (t *trail) moved(part span) (kept []int) {
	for k := part.from; k <= part.to; k++ {
		if len(kept) == 0 || t.at[k].Dist(t.at[kept[len(kept)-1]]) >= parked {
			kept = append(kept, k)
		}
	}
	return kept
}

// tangent is that of the circle through a place by the chords that lead in and out. At the first place there is none in:
// that is put right later. At an apex, where the way turns back, it is the one before.
func tangent(in, out plane.XY, apex bool) plane.XY {
	a, b := in.Len(), out.Len()
	switch {
	case a == 0:
		return out
	case apex:
		return in
	}
	// on a circle the chords lie at ∓a/2R and b/2R from the tangent
	return in.Scale(b / a).Add(out.Scale(a / b))
}

// onesided is the tangent d at kept fix i from the side on which the way goes straight, where fixes are so far apart that one lies in a bend and the
// next on a straight: the circle through it and both neighbours is neither. Of the circles through three fixes in a row, of which it is one, the straightest
// counts (as essentially non-oscillatory schemes choose their stencils; Harten, Engquist, Osher and Chakravarthy 1987).
func (t *trail) onesided(kept []int, i int, in, out, d plane.XY) plane.XY {
	if in.Len() < farApart || out.Len() < farApart {
		return d
	}
	bend := func(a, b plane.XY) float64 { return math.Abs(a.AngleTo(b)) }
	least := straighter * bend(in, out)
	if i >= 2 {
		if before := t.at[kept[i-1]].Sub(t.at[kept[i-2]]); before.Len() >= farApart && bend(before, in) < least {
			least, d = bend(before, in), mirrored(tangent(before, in, false).Unit(), in)
		}
	}
	if i+2 < len(kept) {
		if behind := t.at[kept[i+2]].Sub(t.at[kept[i+1]]); behind.Len() >= farApart && bend(out, behind) < least {
			d = mirrored(tangent(out, behind, false).Unit(), out)
		}
	}
	return d
}

// believed is the heading at fix k, by its way d or as logged, and the gear: 1 forwards, −1 backwards.
func (t *trail) believed(k int, d plane.XY, forward float64) (heading plane.XY, gear float64) {
	if t.facing == nil || math.Abs(d.Dot(t.facing[k])) <= ownBearing {
		return d, forward
	}
	if d.Dot(t.facing[k]) < 0 && (t.State == nil || t.State[k] != geo.Working) {
		forward = -forward // the log knows better which way the tractor looks
	}
	return t.facing[k], forward
}

// turnsBack says whether the way turns by more than 120° at kept fix i. Where fixes are so far apart that a set gets round
// forwards between them, it did.
func (t *trail) turnsBack(kept []int, i int) bool {
	if i == 0 || i+1 >= len(kept) {
		return false
	}
	in, out := t.at[kept[i]].Sub(t.at[kept[i-1]]), t.at[kept[i+1]].Sub(t.at[kept[i]])
	return in.Dot(out) < backCos*in.Len()*out.Len() && !(t.apart && in.Len()+out.Len() >= roundOn)
}

// mirrored is the tangent at one end of a chord of a circle, given that at the
// other end.
func mirrored(u, chord plane.XY) plane.XY {
	c := chord.Scale(1 / chord.Len())
	if d := u.Dot(c); math.Abs(d) > 0.5 {
		return c.Scale(2 * d).Sub(u)
	}
	return c
}
