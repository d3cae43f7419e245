package drive

import (
	"fmt"
	"math"
	"slices"

	"balk/geo"
	"balk/geo/plane"
)

// Evidence is by what work is told from driving with the tool lifted.
type Evidence string

const (
	EvidenceAny      Evidence = ""         // the logged work state; where a track has none but has times, as inferred; else as all
	EvidenceLogged   Evidence = "logged"   // the logged work state; a track without one is work throughout
	EvidenceInferred Evidence = "inferred" // how the set moved and where; a logged work state is not looked at
	EvidenceAll      Evidence = "all"      // every unbroken part is work
)

// validate says what is wrong with e.
func (e Evidence) validate() error {
	if known := []Evidence{EvidenceAny, EvidenceLogged, EvidenceInferred, EvidenceAll}; !slices.Contains(known, e) {
		return fmt.Errorf("working %q: must be %q, %q or %q, or left out", e, EvidenceLogged, EvidenceInferred, EvidenceAll)
	}
	return nil
}

const (
	// timedShare: a track of which fewer fixes have a time is taken as drawn.
	timedShare = 0.5
	// fastFactor: a set driving faster than this times its usual working speed has
	// its tool up, if it does so over two nodes or more (common practice, no source).
	fastFactor = 2.0
	// A set stands if it stays within standRoom for standTime: below 0.1 m/s, where
	// the slowest work goes above 0.5 m/s (common practice, no source).
	standRoom, standTime = 0.5, 5.0 // m, s
	// standJitter: the room is wider where the receiver scatters more.
	standJitter = 4.0
	// A way out of the core of the field and back that turns by more than
	// excursionTurn, and is not longer than excursionRoom and so many headland
	// depths, is a turn or a way round an obstacle; longer ones are headland rounds.
	excursionTurn   = 45.0 // degrees
	excursionRoom   = 60.0 // m
	excursionDepths = 4.0
	// steep: a pass runs across the headland, not along it, if it leaves it within
	// so many depths: at 30° or more.
	steep = 2.0
)

// Lean says which way doubtful stretches count.
type Lean uint8

const (
	AsJudged Lean = iota
	AsWork
	AsLifted
)

// verdict is what the set did and how that is known.
type verdict struct {
	activity Activity
	why      string
	doubtful bool // the rule that says so is often wrong
}

// telling is a verdict for each step of a trail.
type telling struct {
	verdicts []verdict
	of       []int32 // by the fix a step ends at
	parts    []span  // unbroken parts of the trail, before any break of ours
	ignored  bool    // a work state is logged, but was to be inferred
	lean     Lean
}

// mark gives the steps between two fixes a verdict.
func (d *telling) mark(steps span, v verdict) {
	if steps.to <= steps.from {
		return
	}
	d.verdicts = append(d.verdicts, v)
	for k := steps.from + 1; k <= steps.to; k++ {
		d.of[k] = int32(len(d.verdicts) - 1)
	}
}

func (d *telling) at(k int) verdict { return d.verdicts[d.of[k]] }

// counts is the activity that the step to fix k counts as: a doubtful one as the lean has it.
func (d *telling) counts(k int) Activity {
	v := d.at(k)
	switch {
	case v.doubtful && d.lean == AsWork:
		return ActivityWork
	case v.doubtful && d.lean == AsLifted:
		return ActivityTurn
	}
	return v.activity
}

// witness tells what the set did on one trail.
type witness struct {
	t        *trail
	inferred bool       // work is told by rules
	bar      []plane.XY // the middle of the bar, where work is inferred; else the antenna
	scene    *scene
	work     Work
	jitter   float64
	told     telling
	usual    float64 // m/s, usual working speed; NaN: not known
	zones    []zone  // of every fix, where all are asked for
}

// tell gives every step of the trails a verdict. Where work is to be inferred it sets
// a trail's state by it, and breaks the trail where the tool is up between two
// fixes that both belong to work.
func tell(trails []*trail, s *scene, w Work, lean Lean) []telling {
	all := make([]*witness, len(trails))
	for i, t := range trails {
		all[i] = hear(t, s, w)
	}
	judgeGround(all, w)
	out := make([]telling, len(trails))
	for i, d := range all {
		if d.inferred {
			d.told.lean = lean
			d.setState()
		}
		out[i] = d.told
	}
	return out
}

// hear judges one trail by itself. With a mount it puts the bar in its place for the time being, since lifting and
// lowering belong to the bar's place.
func hear(t *trail, s *scene, w Work) *witness {
	inferred := !t.assumed && (w.Working == EvidenceInferred || w.Working == EvidenceAny && t.State == nil && t.mostlyTimed())
	d := &witness{t: t, scene: s, work: w, inferred: inferred, bar: t.at, told: telling{
		verdicts: []verdict{{activity: ActivityWork}}, of: make([]int32, len(t.at)), parts: byBreaks(t), ignored: inferred && t.State != nil}}
	if inferred || w.Working == EvidenceAll {
		t.State = nil
	}
	switch {
	case inferred:
		at, facing := t.at, t.facing
		t.place(w, nil) // a crab angle is measured on working passes, so it is not known yet
		d.infer()
		d.bar = t.at
		t.at, t.facing = at, facing
	case t.State != nil:
		d.readState()
	default:
		d.told.verdicts[0].why = "every unbroken part of the track is taken as work"
	}
	return d
}

func (t *trail) mostlyTimed() bool {
	n := 0
	for _, s := range t.seconds {
		if !math.IsNaN(s) {
			n++
		}
	}
	return float64(n) >= timedShare*float64(len(t.seconds))
}

// infer judges all steps of the trail by movement and place. Later rules win.
func (d *witness) infer() {
	d.jitter = jitterOf(d.t)
	d.zones = make([]zone, len(d.t.at))
	for k, p := range d.t.at {
		d.zones[k] = d.scene.at(p)
	}
	var courses []course
	for _, part := range d.told.parts {
		c := courseOf(d.t, part, d.jitter)
		c.findBends(d.work)
		c.dropRounds(d.t, d.scene, d.work)
		courses = append(courses, c)
	}
	d.usual = d.usualSpeed(courses)
	d.told.verdicts[0].why = "on the field, at working speed"
	for n, part := range d.told.parts {
		c := &courses[n]
		for _, b := range c.bends {
			d.mark(c.fixes(b), verdict{activity: ActivityTurn, why: b.why})
		}
		d.judgeFast(c)
		d.judgePlace(part, c)
		d.judgeShort(part)
		d.judgeStanding(part)
	}
}

func (d *witness) mark(steps span, v verdict) { d.told.mark(steps, v) }

// speed is that from node i-1 to i of a course, m/s: the logged one, else that of
// the way; NaN where neither is known.
func (d *witness) speed(c *course, i int) float64 {
	a, b := c.nodes[i-1], c.nodes[i]
	if d.t.Speed != nil && d.t.Speed[b.fix] >= 0 {
		return d.t.Speed[b.fix]
	}
	if dt := d.t.seconds[b.fix] - d.t.seconds[a.fix]; dt > 0 {
		return (b.way - a.way) / dt
	}
	return math.NaN()
}

// usualSpeed is the median speed between nodes on the field that are not in a turn.
func (d *witness) usualSpeed(courses []course) float64 {
	var speeds []float64
	for n := range courses {
		c, b := &courses[n], 0
		for i := 1; i < len(c.nodes); i++ {
			for b < len(c.bends) && c.bends[b].to < i {
				b++
			}
			if b < len(c.bends) && i > c.bends[b].from || d.zone(c.nodes[i].fix) > zoneHeadland {
				continue
			}
			if v := d.speed(c, i); v > 0 {
				speeds = append(speeds, v)
			}
		}
	}
	if len(speeds) == 0 {
		return math.NaN()
	}
	return Median(speeds)
}

// judgeFast marks the ways over two nodes or more that are driven faster than work.
func (d *witness) judgeFast(c *course) {
	fast := func(i int) bool { return d.speed(c, i) > fastFactor*d.usual }
	for i := 1; i < len(c.nodes); i++ {
		from := i - 1
		for i < len(c.nodes) && fast(i) {
			i++
		}
		if i-1-from >= 2 {
			d.mark(span{c.nodes[from].fix, c.nodes[i-1].fix}, verdict{activity: ActivityTurn, why: fmt.Sprintf("faster than twice the usual working speed (%.1f km/h)", geo.KmPerHourOf(d.usual))})
		}
	}
}

// judgePlace marks what lies outside the boundary, and the ways across the
// headland to and from a turn.
func (d *witness) judgePlace(part span, c *course) {
	for from := part.from; from <= part.to; {
		z := d.zone(from)
		to := from
		for to < part.to && sameSide(z, d.zone(to+1)) {
			to++
		}
		if z > zoneRim {
			d.markOutside(part, span{from, to})
		} else if z > zoneCore && d.work.HeadlandDepth() > 0 {
			d.judgeHeadland(part, span{from, to}, c)
		}
		from = to + 1
	}
}

// zone is that of a fix.
func (d *witness) zone(k int) zone {
	if d.zones != nil {
		return d.zones[k]
	}
	return d.scene.at(d.t.at[k])
}

// sameSide says whether both zones are the core, the headland or its rim, or
// outside.
func sameSide(a, b zone) bool {
	return (a == zoneCore) == (b == zoneCore) && (a > zoneRim) == (b > zoneRim)
}

// markOutside marks the steps to, along and from fixes outside the boundary.
func (d *witness) markOutside(part, out span) {
	v := verdict{activity: ActivityTurn, why: "outside the boundary by more than half the working width"}
	for k := out.from; k <= out.to; k++ {
		if d.zone(k) == zoneAway {
			v = verdict{activity: ActivityRoad, why: fmt.Sprintf("more than %g m outside the boundary, or on the way there", -d.scene.limits[3])}
			break
		}
	}
	d.mark(span{max(part.from, out.from-1), min(part.to, out.to+1)}, v)
}

// judgeHeadland marks a stay in the headland as turning where the set came out of
// the core and soon went back turned, and else the way between the core and a turn
// if it is short: steep to the headland.
func (d *witness) judgeHeadland(part, stay span, c *course) {
	whole := span{max(part.from, stay.from-1), min(part.to, stay.to+1)}
	way, swing := c.between(d.t, whole)
	fromCore, toCore := stay.from > part.from && d.core(stay.from-1), stay.to < part.to && d.core(stay.to+1)
	depth := d.work.HeadlandDepth()
	first, last := c.within(whole)
	if fromCore && toCore && way <= excursionRoom+excursionDepths*depth && swing >= excursionTurn && !c.roundHole(d.t, d.scene, first, last) {
		d.mark(whole, verdict{ActivityTurn, fmt.Sprintf("left the core of the field and came back, bent by %.0f°, after %.0f m", swing, way), swing < cornerTurn})
		return
	}
	why := fmt.Sprintf("across the headland of %.1f m, to or from a turn", depth)
	for _, b := range c.bendsIn(stay) {
		turn := c.fixes(b)
		if lead := (span{whole.from, turn.from}); fromCore && turn.from >= stay.from && turn.from <= stay.to {
			if way, _ := c.between(d.t, lead); way <= steep*depth {
				d.mark(lead, verdict{activity: ActivityTurn, why: why})
			}
		}
		if trail := (span{turn.to, whole.to}); toCore && turn.to >= stay.from && turn.to <= stay.to {
			if way, _ := c.between(d.t, trail); way <= steep*depth {
				d.mark(trail, verdict{activity: ActivityTurn, why: why})
			}
		}
	}
}

func (d *witness) core(k int) bool { return d.zone(k) == zoneCore }

// judgeShort gives pieces of work shorter than the working width that lie between
// two ways with the tool lifted to these.
func (d *witness) judgeShort(part span) {
	t, last := d.t, -1 // the step with the tool up before
	way := 0.0
	for k := part.from + 1; k <= part.to; k++ {
		if d.told.at(k).activity == ActivityWork {
			way += t.at[k].Dist(t.at[k-1])
			continue
		}
		if last >= 0 && last < k-1 && way <= d.work.Width {
			d.mark(span{last, k - 1}, verdict{activity: ActivityTurn, why: "between two turns"})
		}
		last, way = k, 0
	}
}

// judgeStanding marks where the set stays in one place. The tool may stay in the
// ground meanwhile: see setState.
func (d *witness) judgeStanding(part span) {
	t := d.t
	room := max(standRoom, standJitter*d.jitter)
	time := standTime * room / standRoom
	for a, k := part.from, part.from+1; k <= part.to+1; k++ {
		if k <= part.to {
			if v := t.at[k].Sub(t.at[a]); v.Dot(v) < room*room {
				continue
			}
		}
		if t.seconds[k-1]-t.seconds[a] >= time {
			d.mark(span{a, k - 1}, verdict{activity: ActivityIdle, why: fmt.Sprintf("stayed within %.1f m for %.0f s", room, t.seconds[k-1]-t.seconds[a])})
		}
		a = k
	}
}

// setState makes the trail's work state of the verdicts. A stand with work before
// and after it leaves the tool in the ground, so that the pass is not broken.
func (d *witness) setState() {
	t := d.t
	t.State, t.inferred = make([]geo.WorkState, len(t.at)), true
	var breaks []int
	for _, part := range d.told.parts {
		t.State[part.from] = geo.Lifted
		before := false // the last step worked
		for k := part.from + 1; k <= part.to; {
			end := k // last step of the same activity
			for end < part.to && d.told.counts(end+1) == d.told.counts(k) {
				end++
			}
			a, ahead := d.told.counts(k), end < part.to && d.told.counts(end+1) == ActivityWork
			works := a == ActivityWork || a == ActivityIdle && before && ahead
			from, state := k, geo.Lifted
			if works {
				from, state = k-1, geo.Working
			} else if k == end && before && ahead {
				breaks = append(breaks, k) // one step: no fix of its own that could say so
			}
			for i := from; i <= end; i++ {
				t.State[i] = state
			}
			before, k = works, end+1
		}
	}
	if len(breaks) > 0 {
		t.breaks = append(slices.Clip(t.breaks), breaks...)
		slices.Sort(t.breaks)
	}
}

// readState sorts the steps with the tool lifted, of a trail with logged states,
// by movement and by where the antenna is.
func (d *witness) readState() {
	t := d.t
	d.told.verdicts[0].why = ""
	if t.assumed {
		d.told.verdicts[0].why = whyAssumed
	}
	for _, part := range d.told.parts {
		for k := part.from + 1; k <= part.to; k++ {
			if t.State[k] != geo.Lifted && t.State[k-1] != geo.Lifted {
				continue
			}
			from := k - 1
			for k < part.to && (t.State[k] == geo.Lifted || t.State[k+1] == geo.Lifted) {
				k++
			}
			d.mark(span{from, k}, verdict{activity: ActivityTurn})
			d.readOutside(span{from, k})
		}
		d.judgeStanding(part)
	}
}

// readOutside marks the way to places far outside the field within some steps.
func (d *witness) readOutside(lifted span) {
	for k := lifted.from; k <= lifted.to; k++ {
		if d.zone(k) < zoneOutside {
			continue
		}
		out := span{k, k}
		for out.to < lifted.to && d.zone(out.to+1) >= zoneOutside {
			out.to++
		}
		away := false
		for i := out.from; i <= out.to; i++ {
			away = away || d.zone(i) == zoneAway
		}
		if away {
			d.markOutside(lifted, out)
		}
		k = out.to
	}
}
