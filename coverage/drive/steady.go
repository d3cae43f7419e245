package drive

import (
	"context"
	"fmt"
	"math"
	"slices"

	"balk/coverage/motion"
	"balk/geo"
	"balk/geo/plane"
	"balk/geo/workers"
)

const (
	// longWay: with noise of more than this share of the usual step the way from fix to fix is 2 % longer than it was, since
	// steps add up as √(step² + 4·noise²). It would not do for the rules that tell work from turning either.
	longWay = 0.1
	// shaky: where white noise moves an end of the bar by more than this the motion is
	// estimated. A tenth of a usual planned lap; below it a log counts as it is, byte for byte.
	shaky = 0.01 // m
	// livelyBase and livelyBend tell bends from straights: a machine that turns by more than
	// 10° over 3 m before and behind a fix is steered, one that does not is held.
	livelyBase  = 3.0 // m
	livelyBend  = 10.0
	livelyNoise = 30.0 // the base is so many times the noise at least: at 10° it would else be told from noise
	// jerkFixes: so many fixes of the bends and of the straights tell how lively the machine is there.
	jerkFixes = 8192
	// jerkStretch: stretches of fewer fixes tell too little. A bend has no more than some where a fix a second is logged, so
	// it is looked at with bendLead fixes before and behind, from which the filter comes to it.
	jerkStretch = 32
	bendLead    = 13
	jerkBlock   = 256
)

// steady takes the receiver's white noise out of a trail, where it is so large that it shakes the bar
// (see shaky), and says so. The noise of a place moves the end of the bar by as much
// as the heading it makes turns the lever between antenna and bar, or half the bar. The places of the trail
// become those of the estimate, and its way is known at each. Below a share of the usual step the noise is left in.
func (t *trail) steady(w Work, above float64) []geo.Finding {
	usual := 0.0
	if t.timed {
		usual = limitsOf(t, w).usual
	} else {
		if usual = t.beat(); usual == 0 {
			return nil
		}
		defer t.unbeat()
		above = longWay
	}
	parts := t.timedParts()
	noise := motion.Noise(sample(t.stretches(parts)))
	if !(noise > 0) {
		return nil
	}
	t.white = noise
	m := w.Mount
	lever := max(math.Abs(m.Hitch+m.BarBehind), w.Width/2)
	shake := noise * lever / max(usual, headingBase)
	if shake <= shaky || noise <= above*usual {
		return nil
	}
	manners := make([]manner, len(t.at))
	for _, p := range parts {
		t.manners(p, math.Max(livelyBase, livelyNoise*noise), manners)
	}
	straights := sample(t.inManner(parts, manners, straight, 0))
	aside, ahead := motion.Jerk(straights, noise, motion.Across), motion.Jerk(straights, noise, motion.Along)
	steered := max(aside, ahead, motion.Jerk(sample(t.inManner(parts, manners, bending, bendLead)), noise, motion.Whole))
	at := slices.Clone(t.at)
	t.velocity = make([]plane.XY, len(at))
	var along []onWay
	var jerk [2][]float64 // of the step that leads to the fix
	for _, p := range parts {
		n := p.to - p.from + 1
		along = slices.Grow(along[:0], n)[:n]
		lively := func(i int, held float64) []float64 {
			jerk[i] = slices.Grow(jerk[i][:0], n)[:n]
			for k := range n {
				if jerk[i][k] = steered; manners[p.from+k] == straight && manners[max(p.from, p.from+k-1)] == straight {
					jerk[i][k] = held
				}
			}
			return jerk[i]
		}
		_ = workers.Each(context.Background(), w.Workers, 2, func(i int) error { // nothing here fails or waits
			if i == 0 {
				t.estimate(p, noise, lively(i, ahead), motion.Along, func(k int, e motion.Estimate) { along[k] = onWay{e.At, e.Velocity, e.Speed} })
			} else { // along the way it lags behind, but the direction is right
				t.estimate(p, noise, lively(i, aside), motion.Across, func(k int, e motion.Estimate) { at[p.from+k], t.velocity[p.from+k] = e.At, e.Velocity })
			}
			return nil
		})
		for k, on := range along {
			aside, velocity := &at[p.from+k], &t.velocity[p.from+k]
			if velocity.Len() > movingFor*on.speed {
				way := velocity.Unit()
				on.at = on.at.Add(way.Left().Scale(way.Cross(aside.Sub(on.at))))
				*velocity = way.Scale(way.Dot(on.velocity))
			} else {
				*velocity = plane.XY{}
			}
			*aside = on.at
		}
	}
	t.at = at
	return []geo.Finding{{File: t.source, Record: t.tracks[0].record,
		What: fmt.Sprintf("white noise of %.2g m across the way would move the ends of the bar by up to %.2g m: the motion was estimated from all fixes instead of from neighbours", noise, 2*shake)}}
}

// onWay is a motion of which what it is along the way counts.
type onWay struct {
	at, velocity plane.XY
	speed        float64 // m/s, standard deviation
}

// estimate hands out the motion over a part, from its first fix on as jerk is, of which only what it is across, or along, the way will be taken; each fix perhaps
// several times, of which the last counts. Where that would leave a fix by more
// than farOff the machine did something livelier than elsewhere (a jolt, a receiver that jumped): there the jerk is raised
// until the estimate keeps by the fix. Where it is looked for, only as much of the part is estimated anew as a jolt tells of.
func (t *trail) estimate(p span, noise float64, jerk []float64, of motion.Part, hand func(k int, e motion.Estimate)) {
	var far []int // from the last to the first
	smoothing := motion.Smooth(t.at[p.from:p.to+1], t.seconds[p.from:p.to+1], noise, func(k int) float64 { return jerk[k] }, func(k int, e motion.Estimate) {
		off := t.at[p.from+k].Sub(e.At)
		if of == motion.Across && e.Velocity.Len() > movingFor*e.Speed {
			off = plane.XY{X: e.Velocity.Unit().Cross(off)}
		}
		if off.Len() > farOff*noise {
			far = append(far, p.from+k)
		}
		hand(k, e)
	})
	for round := 0; round < joltRounds && len(far) > 0; round++ {
		for done := p.from - 1; len(far) > 0; far = far[:len(far)-1] { // done: raised up to here in this round
			at := far[len(far)-1]
			from, to := at, at
			for from > p.from && t.seconds[at]-t.seconds[from] < jolt {
				from--
			}
			for to < p.to && t.seconds[to]-t.seconds[at] < jolt {
				to++
			}
			for i := max(from, done+1); i <= to; i++ {
				jerk[i-p.from] *= jolted
			}
			smoothing.Changed(from-p.from, to-p.from)
			done = max(done, to)
		}
		smoothing.Again()
	}
	smoothing.Exactly()
}

const (
	// farOff: no fix lies so many standard deviations of its noise off its place, but one in a million.
	farOff = 5.0
	// jolt is how long before and behind the jerk is raised, and jolted by how much a round.
	jolt       = 1.5 // s
	jolted     = 10.0
	joltRounds = 8
)

// manner is how a machine goes at a fix.
type manner uint8

const (
	straight manner = iota
	bending
	standing
)

// movingFor: a speed of so many times its error tells a way.
const movingFor = 3.0

// sample cuts stretches into blocks and takes of these so many, spread evenly, that they hold jerkFixes at most.
func sample(stretches []motion.Stretch) []motion.Stretch {
	n := 0
	var blocks []motion.Stretch
	for _, s := range stretches {
		n += len(s.At)
		for from := 0; from < len(s.At); from += jerkBlock {
			to := min(len(s.At), from+jerkBlock)
			blocks = append(blocks, motion.Stretch{At: s.At[from:to], Seconds: s.Seconds[from:to]})
		}
	}
	step := math.Max(1, float64(n)/jerkFixes)
	var out []motion.Stretch
	for x := step / 2; x < float64(len(blocks)); x += step {
		out = append(out, blocks[int(x)])
	}
	return out
}

// timedParts are the unbroken parts whose times rise by steps short enough.
func (t *trail) timedParts() []span {
	var out []span
	for _, p := range byBreaks(t) {
		from := p.from
		for k := p.from + 1; k <= p.to+1; k++ {
			if k <= p.to {
				if dt := t.seconds[k] - t.seconds[k-1]; dt > 0 && dt <= motion.MaxStep {
					continue
				}
			}
			if k-from >= 4 {
				out = append(out, span{from, k - 1})
			}
			from = k
		}
	}
	return out
}

// manners tells how the machine goes at the fixes of a part, by the chords of a base's length before and behind.
func (t *trail) manners(p span, base float64, out []manner) {
	back, front := p.from, p.from
	for k := p.from; k <= p.to; k++ {
		for back+1 < k && t.at[back+1].Dist(t.at[k]) >= base {
			back++
		}
		for front < p.to && t.at[front].Dist(t.at[k]) < base {
			front = max(front+1, k)
		}
		in, ahead := t.at[k].Sub(t.at[back]), t.at[front].Sub(t.at[k])
		switch way := in.Len() + ahead.Len(); {
		case way < slowest*(t.seconds[front]-t.seconds[back]):
			out[k] = standing
		case in.Dot(ahead) < math.Cos(livelyBend*math.Pi/180)*in.Len()*ahead.Len():
			out[k] = bending
		}
	}
}

// slowest: below it a machine stands, and what its places do tells nothing of how it drives.
const slowest = 0.2 // m/s

// stretches are the places and times of some parts.
func (t *trail) stretches(parts []span) []motion.Stretch {
	out := make([]motion.Stretch, len(parts))
	for i, p := range parts {
		out[i] = t.over(p)
	}
	return out
}

// over are the places and times of some fixes.
func (t *trail) over(p span) motion.Stretch {
	return motion.Stretch{At: t.at[p.from : p.to+1], Seconds: t.seconds[p.from : p.to+1]}
}

// inManner are the stretches of some parts in which the machine goes so, with some fixes before and behind.
func (t *trail) inManner(parts []span, manners []manner, so manner, lead int) []motion.Stretch {
	var out []motion.Stretch
	for _, p := range parts {
		for from := p.from; from <= p.to; {
			to := from
			for to < p.to && manners[to+1] == manners[from] {
				to++
			}
			if s := (span{max(p.from, from-lead), min(p.to, to+lead)}); manners[from] == so && s.to-s.from+1 >= jerkStretch {
				out = append(out, t.over(s))
			}
			from = to + 1
		}
	}
	return out
}

const (
	// steadyHair and steadyStep: of an estimated way so many bars stand that both ends keep within a hair of
	// the way they would have gone with all.
	steadyHair = 0.002 // m
	steadyStep = 2.0   // m
)

// thinned are the stops without those of unbroken work between which the ends of the bar go straight, within hair.
func (r *Run) thinned(hair, step float64) []Stop {
	stops := r.Stops
	ends := func(s Stop) (left, right plane.XY) {
		reach := s.Left.Scale(r.Parts[s.Part].Width / 2)
		return s.At.Add(reach), s.At.Sub(reach)
	}
	straight := func(from, to int) bool {
		l0, r0 := ends(stops[from])
		l1, r1 := ends(stops[to])
		l1, r1 = l1.Sub(l0), r1.Sub(r0)
		for k := from + 1; k < to; k++ {
			l, r := ends(stops[k])
			if math.Abs(l1.Cross(l.Sub(l0))) > hair*l1.Len() || math.Abs(r1.Cross(r.Sub(r0))) > hair*r1.Len() {
				return false
			}
		}
		return true
	}
	alike := func(a, b Stop) bool {
		return a.Next == StepWorked && b.Next == StepWorked && a.Told == b.Told && (a.Part == b.Part || r.Parts[a.Part].key() == r.Parts[b.Part].key())
	}
	out := stops[:0:0]
	for from := 0; from < len(stops); {
		out = append(out, stops[from])
		to := from + 1
		for to+1 < len(stops) && alike(stops[from], stops[to]) && stops[to+1].S-stops[from].S <= step && straight(from, to+1) {
			to++
		}
		from = to
	}
	return out
}
