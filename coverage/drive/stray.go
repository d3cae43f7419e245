package drive

import (
	"fmt"
	"math"

	"balk/coverage/motion"
	"balk/geo"
	"balk/geo/plane"
)

// A stray fix is one that its receiver put aside of the way, alone or with one of the next three, where those around it agree without it. What was thrown off by more
// than 10 m was set aside before (geo.Clean); this is about decimetres, each of which turns the bar and makes strips that were never missed.
const (
	// strayLeast: what lies off by less is left: ten times the noise of a good receiver.
	strayLeast = 0.1 // m
	// strayTail: of a normal variable two in a thousand million lie so many standard deviations off. This is the gate on a normalised innovation (Bar-Shalom,
	// Li and Kirubarajan, Estimation with Applications to Tracking and Navigation, 2001, section 5.4, from memory), with fixes behind as well as before.
	strayTail = 6.0
	// strayAgree: those beside it must agree so many times better without it. A sharp move of the machine, a jump that stays, and steps too long for its turns
	// make them disagree too.
	strayAgree = 4.0
	// swerve and surge are how fast a machine changes its acceleration across and along its way. One that steers from straight on to a circle of 6 m in 1.5 s
	// does so by 0.4 m/s³ at 7 km/h; clutch and brake make more. Common practice, no source.
	swerve, surge = 0.5, 2.5 // m/s³
	// strayAround: a part of fewer fixes tells nothing. strayHole: a step so many times as long as is usual parts them.
	strayAround = 8
	strayHole   = 3.0
	// strayPair: two strays up to so many fixes apart tell of each other, as with one of them the fixes beside the other do not agree.
	strayPair = 3
	// strayClose: of two fixes that are written within so much of a usual step, as the two of a switch are, one tells of others. Of both the speed between them
	// would be taken, and what rounding does to it carried as far as the fix that is asked about.
	strayClose = 0.5
)

// unstray puts stray fixes where those around them say that the machine was, and says so. Time and work state of such a fix stay. All others are left as
// they are.
//
//  1. A log without stray fixes is left as it is.
//  2. Read backwards, the same fixes are stray.
//  3. Three in a row and more that lie off are none: the receiver's frame stepped, and where the machine was nobody knows.
func (t *trail) unstray(local geo.Local) []geo.Finding {
	if !t.timed {
		return nil
	}
	parts, close := t.strayParts()
	across, along := t.strayNoise(parts)
	least := t.rounding / (In95 * math.Sqrt2) // the noise of rounding alone
	gate := strayGate{math.Max(across, least), math.Max(along, least)}
	var strays []stray
	for _, p := range parts {
		strays = append(strays, (&strayPart{trail: t, span: p, close: close, gate: gate}).strays()...)
	}
	if len(strays) == 0 {
		return nil
	}
	first, far := strays[0], 0.0
	for _, s := range strays {
		t.at[s.fix] = t.at[s.fix].Sub(s.off)
		far = math.Max(far, s.off.Len())
		if s.fix < first.fix {
			first = s
		}
	}
	at := local.Point(t.at[first.fix].Add(first.off))
	return []geo.Finding{{File: t.source, Record: t.recordOf(first.fix), At: &at,
		What: fmt.Sprintf("%d of %d fixes lie up to %.2g m off the way that those before and behind them tell, one or two in a row (first: %s UTC): put where these say", len(strays), len(t.at), far, geo.Moment(geo.Instant(t.seconds[first.fix])))}}
}

// stray is a fix that lies off by so much, m.
type stray struct {
	fix int
	off plane.XY
}

// strayPart is a part of a trail, and which of its fixes are known as stray.
type strayPart struct {
	*trail
	span
	close float64 // s: of fixes nearer together one tells of others
	gate  strayGate
	stray []bool // by their order in the part; nil: none is known
	known int    // how many
}

// suspects are one fix, twice, or two of which the second comes soon behind the first.
type suspects [2]int

// strays are the stray fixes of a part, ascending, and how far they lie off what the nearest fixes that are not stray tell. The ends come first, as others are guessed by them.
// Where some are found it is looked again beside them, without them: beside one that lies far off others look less so.
func (p *strayPart) strays() (all []stray) {
	for _, s := range [][]suspects{{{p.from, p.from}, {p.from, p.from + 1}}, {{p.to, p.to}, {p.to - 1, p.to}}} {
		if p.odd(s[0][0]) {
			p.know(p.first(nil, s))
		}
	}
	found := p.among(nil, p.from+1, p.to-1)
	for p.know(found); len(found) > 0; p.know(found) {
		beside := found
		found = nil
		next := p.from + 1 // to look at
		for _, k := range beside {
			to := min(k+strayPair, p.to-1)
			found = p.among(found, max(next, k-2*strayPair), to)
			next = max(next, to+1)
			if len(found) > 0 {
				next = max(next, found[len(found)-1]+1)
			}
		}
	}
	for from := p.from; from <= p.to && p.known > 0; from++ {
		to := from
		for to <= p.to && !p.good(to) {
			to++
		}
		for k := from; k < to && to-from < 3; k++ {
			all = append(all, stray{k, p.guess(k, suspects{k, k}).off})
		}
		from = to
	}
	return all
}

// know keeps that fixes are stray.
func (p *strayPart) know(fixes []int) {
	if p.stray == nil && len(fixes) > 0 {
		p.stray = make([]bool, p.to-p.from+1)
	}
	for _, k := range fixes {
		p.stray[k-p.from] = true
	}
	p.known += len(fixes)
}

// good says that a fix is not known as stray.
func (p *strayPart) good(k int) bool { return p.stray == nil || !p.stray[k-p.from] }

// among appends the stray fixes that suspects beginning with fixes from and to, or between, tell. The ends of the part are none of them.
func (p *strayPart) among(fixes []int, from, to int) []int {
	var all []suspects
	for k := from; k <= to; k++ {
		if !p.good(k) || !p.odd(k) {
			continue
		}
		all = all[:0]
		for last := k; last <= min(k+strayPair, p.to-1); last++ {
			if p.good(last) {
				all = append(all, suspects{k, last})
			}
		}
		n := len(fixes)
		if fixes = p.first(fixes, all); len(fixes) > n {
			k = fixes[len(fixes)-1]
		}
	}
	return fixes
}

// odd says whether a fix lies off what those around it tell; where it does not, it is no stray.
func (p *strayPart) odd(k int) bool {
	s := suspects{k, k}
	return p.gate.beyond(p.way(s), p.guess(k, s))
}

// first appends to fixes found, which are not known yet, those of the first suspects that are stray.
func (p *strayPart) first(fixes []int, all []suspects) []int {
	if p.to-p.from+1-p.known-len(fixes) < strayAround {
		return fixes
	}
	for _, s := range all {
		way := p.way(s)
		from, to := p.guess(s[0], s), p.guess(s[1], s)
		switch {
		case !p.gate.beyond(way, from) || !p.gate.beyond(way, to):
		case !p.agree(s, p.gate.most(way, from), from) || !p.agree(s, p.gate.most(way, to), to):
		case s[0] == s[1]:
			return append(fixes, s[0])
		default:
			return append(fixes, s[0], s[1])
		}
	}
	return fixes
}

// strayParts are the unbroken parts of a trail that are long enough, without holes.
// Of fixes nearer together than close, s, one tells of others.
func (t *trail) strayParts() (out []span, close float64) {
	times := t.times()
	if len(times) == 0 {
		return nil, 0
	}
	usual := Median(times)
	for _, p := range t.timedParts() {
		from := p.from
		for k := p.from + 1; k <= p.to+1; k++ {
			if k <= p.to && t.seconds[k]-t.seconds[k-1] <= strayHole*usual {
				continue
			}
			if k-from >= strayAround {
				out = append(out, span{from, k - 1})
			}
			from = k
		}
	}
	return out, strayClose * usual
}

// guess is what other fixes say of the place of one.
type guess struct {
	off   plane.XY // m, by how much it lies off
	noise float64  // standard deviation of either coordinate of off, as a multiple of a fix's
	jerk  float64  // s³: a motion whose acceleration changes by 1 m/s³ at most lies off by no more m
}

// guessed holds fix k against the cubic in time through four others (Lagrange). The difference is f[t₁, t₂, t₃, t₄, t]·Π(t − tᵢ), and this fourth divided
// difference is that of two third ones over the span of all five times. Neither of these is more than a sixth of the greatest jerk.
func (t *trail) guessed(k int, by [4]int) guess {
	at, now := t.at[k], t.seconds[k]
	g := guess{noise: 1}
	room, first, last := 1.0, now, now
	for _, i := range by {
		w, s := 1.0, t.seconds[i]
		for _, j := range by {
			if j != i {
				w *= (now - t.seconds[j]) / (s - t.seconds[j])
			}
		}
		g.off = g.off.Add(at.Sub(t.at[i]).Scale(w))
		g.noise += w * w
		room *= math.Abs(now - s)
		first, last = math.Min(first, s), math.Max(last, s)
	}
	g.noise, g.jerk = math.Sqrt(g.noise), room/(3*(last-first))
	return g
}

// guess is what those around fix k tell of it without suspects and itself. Where they are too few it lies off by nothing.
func (p *strayPart) guess(k int, s suspects) guess {
	by, ok := p.around(k, s)
	if !ok {
		return guess{noise: 1}
	}
	return p.guessed(k, by)
}

// around are the four good fixes of a part nearest to fix k, suspects, k itself and those close to a nearer one of their side left out: two before and two behind, or
// more of one side where the other has fewer. False: the part has not four of them.
func (p *strayPart) around(k int, s suspects) (by [4]int, ok bool) {
	if p.stray == nil && s == (suspects{k, k}) && k-2 >= p.from && k+2 <= p.to && min(p.seconds[k-1]-p.seconds[k-2], p.seconds[k+2]-p.seconds[k+1]) >= p.close {
		return [4]int{k - 1, k + 1, k - 2, k + 2}, true // nearly always
	}
	free := func(i int) bool { return i != s[0] && i != s[1] && p.good(i) }
	back, front := k-1, k+1
	for n := range by {
		for back >= p.from && !free(back) {
			back--
		}
		for front <= p.to && !free(front) {
			front++
		}
		switch behind := n%2 == 1; {
		case front <= p.to && (behind || back < p.from):
			by[n] = front
			for front <= p.to && p.seconds[front]-p.seconds[by[n]] < p.close {
				front++
			}
		case back >= p.from:
			by[n] = back
			for back >= p.from && p.seconds[by[n]]-p.seconds[back] < p.close {
				back--
			}
		default:
			return by, false
		}
	}
	return by, true
}

// beside are the good fixes before and behind suspects; there are none where they lie beyond the part.
func (p *strayPart) beside(s suspects) (before, behind int) {
	before, behind = s[0]-1, s[1]+1
	for before >= p.from && !p.good(before) {
		before--
	}
	for behind <= p.to && !p.good(behind) {
		behind++
	}
	return before, behind
}

// way is the direction in which the machine passes suspects.
func (p *strayPart) way(s suspects) plane.XY {
	from, to := p.beside(s)
	switch {
	case from < p.from:
		from, to = to, to+1
	case to > p.to:
		from, to = from-1, from
	}
	way := p.at[to].Sub(p.at[from])
	if way == (plane.XY{}) {
		return plane.XY{X: 1}
	}
	return way.Unit()
}

// strayGate is the noise of fixes across and along the way, m.
type strayGate struct{ across, along float64 }

// limits are how far off noise and driving put a fix, across and along the way, m.
func (n strayGate) limits(g guess) (across, along float64) {
	return max(strayLeast, strayTail*g.noise*n.across, g.jerk*swerve), max(strayLeast, strayTail*g.noise*n.along, g.jerk*surge)
}

// beyond says whether a fix lies farther off than noise and driving put it.
func (n strayGate) beyond(way plane.XY, g guess) bool {
	across, along := n.limits(g)
	return math.Abs(way.Cross(g.off)) > across || math.Abs(way.Dot(g.off)) > along
}

// most is the direction, across the way or along it, in which a fix lies off most for what noise and driving do there.
func (n strayGate) most(way plane.XY, g guess) plane.XY {
	if across, along := n.limits(g); math.Abs(way.Dot(g.off))/along >= math.Abs(way.Cross(g.off))/across {
		return way
	}
	return way.Left()
}

// agree says whether the fixes between suspects and beside them lie far less off without these than one of these does, in a direction. The tip of a way forth and back is where the machine was.
func (p *strayPart) agree(s suspects, axis plane.XY, g guess) bool {
	first, last := s[0], s[1]
	if first-2 >= p.from && last+2 <= p.to && p.at[first-1].Sub(p.at[first-2]).Dot(p.at[last+2].Sub(p.at[last+1])) < 0 {
		return false
	}
	times := strayAgree
	if first == p.from || last == p.to { // with the second fix of a part stray the first seems to lie four times as far off as that
		times *= 1.5
	}
	agrees := func(k int) bool {
		return times*math.Abs(axis.Dot(p.guess(k, s).off)) <= math.Abs(axis.Dot(g.off))
	}
	before, behind := p.beside(s)
	switch { // what is said of the very end is too vague
	case before <= p.from:
		_, before = p.beside(suspects{first, behind})
	case behind >= p.to:
		behind, _ = p.beside(suspects{before, last})
	}
	if !agrees(before) || !agrees(behind) {
		return false
	}
	for k := first + 1; k < last; k++ {
		if p.good(k) && !agrees(k) {
			return false
		}
	}
	return true
}

// strayNoise is the noise of fixes across and along the way, m, with what driving adds to it: of what they lie off of those around them, from the median on.
func (t *trail) strayNoise(parts []span) (across, along float64) {
	n := 0
	for _, p := range parts {
		n += p.to - p.from + 1
	}
	step := 1 + n/jerkFixes
	var x, y []float64
	for _, p := range parts {
		for k := p.from + 2; k+2 <= p.to; k += step {
			g, way := t.guessed(k, [4]int{k - 2, k - 1, k + 1, k + 2}), (&strayPart{trail: t, span: p}).way(suspects{k, k})
			x, y = append(x, math.Abs(way.Cross(g.off))/g.noise), append(y, math.Abs(way.Dot(g.off))/g.noise)
		}
	}
	if len(x) == 0 {
		return math.Inf(1), math.Inf(1)
	}
	return motion.FromMAD * Median(x), motion.FromMAD * Median(y)
}
