package drive

import (
	"fmt"
	"math"

	"balk/coverage/motion"
	"balk/geo"
	"balk/geo/plane"
)

// A stray fix is one that its receiver put aside of the way, alone or with the next one, where those around it agree without it. What was thrown off by more
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
	parts := t.strayParts()
	across, along := t.strayNoise(parts)
	least := t.rounding / (In95 * math.Sqrt2) // the noise of rounding alone
	gate := strayGate{math.Max(across, least), math.Max(along, least)}
	var strays []stray
	for _, p := range parts {
		began := len(strays)
		for _, s := range [][2]span{{{p.from, p.from}, {p.from, p.from + 1}}, {{p.to, p.to}, {p.to - 1, p.to}}} { // others are guessed by these
			strays = t.strayIn(strays, p, s, gate)
		}
		t.putBack(strays[began:])
		ends := len(strays)
		for k := p.from + 1; k < p.to; k++ {
			n := len(strays)
			if strays = t.strayIn(strays, p, [2]span{{k, k}, {k, min(k+1, p.to-1)}}, gate); len(strays) > n {
				k = strays[len(strays)-1].fix
			}
		}
		t.putBack(strays[ends:])
	}
	if len(strays) == 0 {
		return nil
	}
	first, far := strays[0], 0.0
	for _, s := range strays {
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

// putBack puts strays where the fixes around them say.
func (t *trail) putBack(strays []stray) {
	for _, s := range strays {
		t.at[s.fix] = t.at[s.fix].Sub(s.off)
	}
}

// strayIn appends the strays of the first of two runs, of one and of two fixes, that is stray.
func (t *trail) strayIn(strays []stray, p span, runs [2]span, gate strayGate) []stray {
	for _, s := range runs {
		way := t.wayPast(p, s)
		from := t.guessed(s.from, around(p, s, s.from))
		if !gate.beyond(way, from) {
			return strays
		}
		to := t.guessed(s.to, around(p, s, s.to))
		switch {
		case !gate.beyond(way, to):
			return strays
		case !t.agree(p, s, way, from) || !t.agree(p, s, way, to):
		case s.from == s.to:
			return append(strays, stray{s.from, from.off})
		default:
			return append(strays, stray{s.from, from.off}, stray{s.to, to.off})
		}
	}
	return strays
}

// strayParts are the unbroken parts of a trail that are long enough, without holes.
func (t *trail) strayParts() (out []span) {
	times := t.times()
	if len(times) == 0 {
		return nil
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
	return out
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

// around are the four fixes of a part nearest to fix k, those of run s and k itself left out: two before and two behind, or more of one side where
// the other has fewer.
func around(p, s span, k int) (by [4]int) {
	free := func(i int) bool { return i != k && (i < s.from || i > s.to) }
	back, front := k-1, k+1
	for n := 0; n < len(by); n++ {
		for back >= p.from && !free(back) {
			back--
		}
		for front <= p.to && !free(front) {
			front++
		}
		if behind := n%2 == 1; front <= p.to && (behind || back < p.from) {
			by[n] = front
			front++
		} else {
			by[n] = back
			back--
		}
	}
	return by
}

// wayPast is the direction in which the machine passes a run.
func (t *trail) wayPast(p, s span) plane.XY {
	from, to := s.from-1, s.to+1
	switch {
	case from < p.from:
		from, to = to, to+1
	case to > p.to:
		from, to = from-1, from
	}
	way := t.at[to].Sub(t.at[from])
	if way == (plane.XY{}) {
		return plane.XY{X: 1}
	}
	return way.Unit()
}

// strayGate is the noise of fixes across and along the way, m.
type strayGate struct{ across, along float64 }

// beyond says whether a fix lies farther off than noise and driving put it.
func (n strayGate) beyond(way plane.XY, g guess) bool {
	is := func(off, noise, jerk float64) bool {
		return math.Abs(off) > max(strayLeast, strayTail*g.noise*noise, g.jerk*jerk)
	}
	return is(way.Cross(g.off), n.across, swerve) || is(way.Dot(g.off), n.along, surge)
}

// agree says whether the fixes beside a run agree far better without it, where it lies off most. The tip of a way forth and back is where the machine was.
func (t *trail) agree(p, s span, way plane.XY, g guess) bool {
	if s.from-2 >= p.from && s.to+2 <= p.to && t.at[s.from-1].Sub(t.at[s.from-2]).Dot(t.at[s.to+2].Sub(t.at[s.to+1])) < 0 {
		return false
	}
	part := way.Dot
	if math.Abs(way.Cross(g.off)) > math.Abs(way.Dot(g.off)) {
		part = way.Cross
	}
	beside, times := [2]int{s.from - 1, s.to + 1}, strayAgree
	if s.from == p.from || s.to == p.to { // with the second fix of a part stray the first seems to lie four times as far off as that
		times *= 1.5
	}
	switch { // what is said of the very end is too vague
	case beside[0] <= p.from:
		beside[0] = s.to + 2
	case beside[1] >= p.to:
		beside[1] = s.from - 2
	}
	for _, k := range beside {
		if times*math.Abs(part(t.guessed(k, around(p, s, k)).off)) > math.Abs(part(g.off)) {
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
			g, way := t.guessed(k, [4]int{k - 2, k - 1, k + 1, k + 2}), t.wayPast(p, span{k, k})
			x, y = append(x, math.Abs(way.Cross(g.off))/g.noise), append(y, math.Abs(way.Dot(g.off))/g.noise)
		}
	}
	if len(x) == 0 {
		return math.Inf(1), math.Inf(1)
	}
	return motion.FromMAD * Median(x), motion.FromMAD * Median(y)
}
