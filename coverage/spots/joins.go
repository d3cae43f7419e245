package spots

import (
	"math"

	"balk/coverage/chance"
	"balk/coverage/drive"
	"balk/geo"
	"balk/geo/plane"
)

// leastJoins: so many joins of each hand say something of the bar.
const leastJoins = 3

// Joins is what laps and gaps between passes that were driven in opposite directions say of the bar.
//
//	  up │     down          both have the join at their left. A bar that works a metres farther right
//	─────┤←lap→├─────        than its description says laps 2a less there, and 2a more at joins that
//	left │     │ left        both have at their right.
type Joins struct {
	Left   int `json:"left"`   // joins that both passes have at their left,
	Right  int `json:"right"`  // ... at their right,
	Same   int `json:"same"`   // ... and of passes in one direction
	Logged int `json:"logged"` // joins of which the log tells the lap; of the others it is the planned one

	// Known: there are leastJoins of each hand, and the rest is told.
	Known     bool     `json:"known"`
	BarRight  Estimate `json:"barRight"`  // m that the bar works farther right than described: to be added to mount.barRight
	Wider     Estimate `json:"wider"`     // m that the laps are larger than told: a bar wider than described, or a log that sets passes too far apart
	PassError Estimate `json:"passError"` // m, 95 %: by which laps differ from what is told, else; in the sense of drive.Work.PassError
}

// Estimate is a value and the interval that holds it at 95 %.
type Estimate struct {
	Value float64 `json:"value"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
}

// Not says whether the interval leaves out a value.
func (e Estimate) Not(v float64) bool { return v < e.Low || v > e.High }

// joinsOf fits lap − told = wider + 2·right·hand by least squares, with hand −1 at the left, +1 at the right, 0 in one
// direction; intervals by Student's t and χ² of what is left over, of two degrees of freedom fewer than joins.
func joinsOf(checks []geo.SpotCheck, ties []Tie, t *ties, overlap float64) Joins {
	var j Joins
	var xs, ys []float64
	for _, tie := range ties {
		join := checks[tie.Check].Join
		if join == nil {
			continue
		}
		x := 2.0
		switch {
		case join.Same:
			j.Same++
			x = 0
		case join.Left:
			j.Left++
			x = -2
		default:
			j.Right++
		}
		told := overlap
		if lap, ok := t.lap(tie, join); ok {
			told = lap
			j.Logged++
		}
		xs, ys = append(xs, x), append(ys, join.Lap-told)
	}
	if j.Left < leastJoins || j.Right < leastJoins {
		return j
	}
	n := float64(len(xs))
	var mx, my, sxx, sxy float64
	for k := range xs {
		mx += xs[k] / n
		my += ys[k] / n
	}
	for k := range xs {
		sxx += (xs[k] - mx) * (xs[k] - mx)
		sxy += (xs[k] - mx) * (ys[k] - my)
	}
	right := sxy / sxx
	wider := my - right*mx
	left := n * ofRuler * ofRuler / 12 // what a ruler rounds, at the least
	for k := range xs {
		d := ys[k] - wider - right*xs[k]
		left += d * d
	}
	f := n - 2
	s2, reach := left/f, chance.WithinT(confidence, f)
	about := func(v, se float64) Estimate { return Estimate{v, v - reach*se, v + reach*se} }
	j.Known = true
	j.BarRight = about(right, math.Sqrt(s2/sxx))
	j.Wider = about(wider, math.Sqrt(s2*(1/n+mx*mx/sxx)))
	j.PassError = Estimate{drive.In95 * math.Sqrt(s2), drive.In95 * math.Sqrt(left/chance.ChiSquareQuantile((1+confidence)/2, f)), drive.In95 * math.Sqrt(left/chance.ChiSquareQuantile((1-confidence)/2, f))}
	return j
}

// lap is the lap that the log tells of a join of two passes that the check names; below 0: a gap. The lines lie on both sides
// of the place.
func (t *ties) lap(tie Tie, join *geo.SpotJoin) (float64, bool) {
	if !tie.Named || join.Other == 0 || tie.xy == (plane.XY{}) {
		return 0, false
	}
	o := &t.ops[tie.Operation]
	apart, seen := 0.0, 0
	for _, b := range t.near(tie.Operation, tie.xy, o.Width+tie.err) {
		if n := o.Passes[b.pass].Number; n == tie.Pass || n == join.Other {
			apart += b.far
			seen++
		}
	}
	return o.Width - apart, seen == 2
}
