package drive

import (
	"fmt"
	"time"

	"balk/geo"
	"balk/geo/plane"
)

// Activity is what the set did over a stretch of the log.
type Activity string

const (
	ActivityUnknown Activity = ""         // the log does not tell, or has a gap
	ActivityWork    Activity = "working"  // implement in the ground
	ActivityTurn    Activity = "turning"  // moving with the implement lifted, on the field or at its rim
	ActivityIdle    Activity = "standing" // not moving
	ActivityRoad    Activity = "road"     // moving away from the field
)

// Stretch is a run of steps of a log over which the set did one thing. Its ends
// are shared with its neighbours: the last fix of one is the first of the next.
// Its columns are nil where the log has none, else as long as Line.
type Stretch struct {
	Track    int // index of the track
	Activity Activity
	Inferred bool       // work was told from driving by rules, not logged
	Doubtful bool       // the rule is often wrong here: see Doubt
	Worked   bool       // the steps are part of a pass: their ground is worked or, in a log gap, unknown
	Pass     int        // number of the pass the steps are part of; 0 = of none that counts
	Why      string     // the rule, in words; "" when logged
	Line     []plane.XY // where the antenna went
	Logged   []plane.XY // the fixes as logged: with the receiver's white noise, where Line is estimated
	Seconds  []float64  // since 1970 UTC, NaN where not logged
	From, To time.Time  // zero where not logged
	Length   float64    // m along Line

	geo.Columns            // State is logged, without the set's delays, or, if Inferred, told by rules; Heading is nil, see Compass
	Compass     []plane.XY // unit vector of the logged heading; zero where not logged
	Angle       []float64  // degrees, between tractor and implement by the drawbar; trailed sets only
}

// whyGap is what is said about a step of unknown activity that is a log gap.
const whyGap = "log gap"

// Gap says whether the stretch is a log gap.
func (s Stretch) Gap() bool { return s.Activity == ActivityUnknown && s.Why == whyGap }

// log makes stretches of a trail's verdicts, given its passes and their numbers. Steps within a
// pass that are log gaps, or whose work state is not logged, and gaps elsewhere,
// are of unknown activity.
func (d telling) log(t *trail, passes []span, numbers []int, l limits) []Stretch {
	var out []Stretch
	n, track := 0, 0
	for _, part := range d.parts {
		from, last := part.from, statement{}
		for k := part.from + 1; k <= part.to; k++ {
			for n < len(passes) && passes[n].to < k {
				n++
			}
			for track+1 < len(t.tracks) && t.tracks[track+1].from < k {
				track++
			}
			now := d.step(t, k, n < len(passes) && passes[n].from < k, l)
			if now.worked {
				now.pass = numbers[n]
			}
			now.track = t.tracks[track].track
			if now != last && from < k-1 {
				out = append(out, t.stretch(span{from, k - 1}, last))
				from = k - 1
			}
			last = now
		}
		if from < part.to {
			out = append(out, t.stretch(span{from, part.to}, last))
		}
	}
	return out
}

// statement is what is said about a step.
type statement struct {
	verdict
	worked bool // within a pass
	pass   int  // its number
	track  int
}

// step is what is said about the step that ends at fix k.
func (d telling) step(t *trail, k int, worked bool, l limits) statement {
	v := d.at(k)
	switch {
	case t.State != nil && worked && (t.State[k] != geo.Working || t.State[k-1] != geo.Working):
		v = verdict{activity: ActivityUnknown, why: "work state not logged"}
	case l.gap(t, k):
		v = verdict{activity: ActivityUnknown, why: whyGap}
	case !worked && v.activity == ActivityWork: // all of a run without state, or too short for a pass
		v = verdict{activity: ActivityUnknown, why: "work state not logged"}
	}
	return statement{verdict: v, worked: worked}
}

func (t *trail) stretch(steps span, what statement) Stretch {
	s := Stretch{
		Track: what.track, Activity: what.activity, Inferred: t.inferred || t.assumed, Doubtful: what.doubtful, Worked: what.worked, Pass: what.pass, Why: what.why,
		Line: piece(t.calm, steps), Logged: piece(t.antenna, steps), Seconds: piece(t.seconds, steps), From: geo.Instant(t.seconds[steps.from]), To: geo.Instant(t.seconds[steps.to]),
		Columns: t.Columns.Slice(steps.from, steps.to+1), Compass: piece(t.compass, steps), Angle: piece(t.angle, steps),
	}
	if t.logged != nil {
		s.State = piece(t.logged, steps)
	}
	for k := steps.from + 1; k <= steps.to; k++ {
		s.Length += t.calm[k].Dist(t.calm[k-1])
	}
	return s
}

// piece is the part of a column that belongs to some steps; nil stays nil.
func piece[T any](column []T, steps span) []T {
	if column == nil {
		return nil
	}
	return column[steps.from : steps.to+1 : steps.to+1]
}

// inferredNote tells that work was inferred on a trail, and what came of it.
func (d telling) inferredNote(t *trail, log []Stretch) geo.Finding {
	way, doubtful := map[Activity]float64{}, 0.0
	for _, s := range log {
		way[s.Activity] += s.Length / 1000
		if s.Doubtful {
			doubtful += s.Length / 1000
		}
	}
	why := "work state not logged"
	if d.ignored {
		why = "logged work state not looked at, as asked for"
	}
	return geo.Finding{File: t.source, Record: t.tracks[0].record,
		What: fmt.Sprintf("%s: inferred for %d fixes: %.2f km working, %.2f km turning, %.2f km road, %.2f km unknown, %.2f km of all this doubtful; look at the layer states, correct it there and give it as the track to override",
			why, len(t.at), way[ActivityWork]+way[ActivityIdle], way[ActivityTurn], way[ActivityRoad], way[ActivityUnknown], doubtful)}
}

// takeLog hands the stretches of a trail on.
func (r *Log) takeLog(t *trail, told telling, passes []span, numbers []int, l limits, w Work) {
	log := told.log(t, passes, numbers, l)
	r.Stretches = append(r.Stretches, log...)
	switch {
	case t.inferred:
		r.Findings = append(r.Findings, told.inferredNote(t, log))
	case t.State == nil && w.Working == EvidenceAny:
		r.Findings = append(r.Findings, geo.Finding{File: t.source, Record: t.tracks[0].record,
			What: fmt.Sprintf("neither work state nor times are logged: all the way of %d fixes is taken as work, turns too", len(t.at))})
	}
}
