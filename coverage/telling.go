package coverage

import (
	"math"

	"balk/coverage/drive"
)

// Grasp is how much a log can tell of missed strips.
type Grasp string

const (
	GraspFirm Grasp = "firm" // the receiver's error between passes is known, and small beside the width
	// GraspRange: how good the receiver was is not known. Passes that lie unevenly were steered so, or the receiver makes
	// them seem so: the truth lies between both.
	GraspRange Grasp = "range"
	GraspNone  Grasp = "none" // the error is so large beside the width that a strip may as well lie elsewhere, or not at all
)

// Telling is what a log can tell of missed strips, before it is asked for any.
type Telling struct {
	Strips Grasp   `json:"strips"`
	Error  float64 `json:"error,omitempty"` // m, 95 %, between neighbouring passes: the greatest known, or all of the passes' unevenness; 0 = nothing tells it
	// Uneven is by how much spacings of neighbours differ, m, 95 %, by their middle half; 0 = too few neighbours.
	Uneven float64 `json:"uneven,omitempty"`
	White  float64 `json:"white,omitempty"` // m, standard deviation of what fixes jump aside from one to the next; see drive.Log.White
	// Undriven tells whether the log can tell passes left out: the error is below half of the planned spacing.
	Undriven bool       `json:"undriven"`
	Missed   [2]float64 `json:"missed"` // m², the least and the most there may be
}

// Open says whether missed ground is a range rather than a number.
func (t Telling) Open() bool {
	return t.Strips == GraspNone || t.Strips == GraspRange && t.Missed[0] < t.Missed[1]
}

const (
	// graspShare: an error of so much of the working width moves a strip to the other side of its neighbour's middle.
	graspShare = 1. / 3
	// jumpy: fixes of a machine that works the ground jump aside by less than this from one to the next. Receivers that
	// jump farther are those of telephones and the like, whose slow error is larger still (from memory; receivers
	// for guidance jump by 1 to 5 cm).
	jumpy = 0.1 // m
	// fewPasses: the spacings of fewer bound nothing: along a pass a receiver's slow error is one and the same.
	fewPasses = 10
	// steadyShare: neighbouring passes that lie more evenly than by this share of the receiver's error do not have it. Driven 100 s apart they
	// would differ by 0.6 of it (see ground.Drawn), and their middle half by a third of that once in some hundred fields of ten passes.
	steadyShare = 1. / 5
	// fromSpread names the bound that the passes themselves give.
	fromSpread = "spread of the passes, an upper bound"
	// spreadOf95 takes half of the breadth that holds the middle half of normally distributed values to half of that which
	// holds 95 %. Rows of another breadth, such as the last one, are no part of the middle half.
	spreadOf95 = drive.In95 / 0.6745
)

// tellingOf judges the log by what is known of its receiver, else by its passes. Where nothing is known of the receiver
// its error is at most what the spacings of neighbours spread by: they would be exact were they steered exactly.
func tellingOf(n Noise, s Spacing, passes int, white, width float64) Telling {
	t := Telling{Strips: GraspFirm, Error: n.PassError, White: white}
	if s.Samples >= fewSpacings && passes >= fewPasses {
		t.Uneven = math.Max(sliver, (s.Q75-s.Q25)/2*spreadOf95)
	}
	known := n.PassErrorFrom == fromGiven || n.PassErrorFrom == fromQuality
	if !known {
		t.Strips = GraspRange
		if t.Error == 0 || t.Uneven > 0 && t.Uneven < t.Error {
			t.Error = t.Uneven
		}
		if drive.In95*white > graspShare*width {
			t.Error = math.Max(t.Error, drive.In95*white)
			known = true
		}
	}
	if t.Error > graspShare*width && (known || white > jumpy) {
		t.Strips = GraspNone
	}
	t.Undriven = t.Error < s.Planned/2
	return t
}

// steadier says whether the passes lie so evenly that the known error of the receiver cannot be in the log: it was better than its class, or the set was
// steered by it, and went astray by what the log does not show. Neither takes anything off the ground that the log shows as missed.
func (t Telling) steadier() bool {
	return t.Strips == GraspFirm && t.Uneven > 0 && t.Uneven < steadyShare*t.Error
}

// bounded puts an error that is a bound only where none is known, or a larger bound.
func bounded(runs []drive.Run, by float64) {
	for i := range runs {
		r := &runs[i]
		r.PassError, r.Slow, r.Blind, r.Bound = by, by, 0, true
		for k := range r.Parts {
			if p := &r.Parts[k]; !(p.PassError <= by) {
				p.PassError, p.Slow = by, by
			}
		}
	}
}

// tell settles what the log can tell, before strips are looked for: the noise of the runs, and where nothing is known of the
// receiver the bound that the passes give.
func (r *Result) tell(runs []drive.Run, white float64) {
	r.Noise = noiseOf(runs, r.Work)
	r.Telling = tellingOf(r.Noise, r.Spacing, len(r.Passes), white, r.Bar.Width)
	if t := r.Telling; t.Strips == GraspRange && t.Error > 0 && t.Error == t.Uneven && t.Error <= graspShare*r.Bar.Width {
		bounded(runs, t.Error)
		r.Noise.PassError, r.Noise.PassErrorFrom = t.Error, fromSpread
		r.Noise.Why = "how good the receiver is, is not logged: its error is at most what the spacings of neighbouring passes spread by; strips that are not certain even so have no surety"
	}
}

// judged says whether strips may be called certain or likely.
func (r *Result) judged() bool {
	return r.Noise.PassErrorFrom != "" && r.Telling.Strips != GraspNone && (r.Telling.Strips == GraspFirm || r.Telling.Error <= graspShare*r.Bar.Width)
}

// span settles the least and the most missed ground there may be, by all that is open.
func (r *Result) span() {
	t, missed := &r.Telling, r.Balance.Missed
	switch {
	case r.judged(): // it stands, with all readings of the log
	case t.Error == 0: // nothing bounds it
		t.Missed = [2]float64{missed, missed}
	default:
		t.Missed = [2]float64{0, missed}
	}
	if d := r.Doubt; d != nil {
		t.Missed[0] = math.Max(0, t.Missed[0]-(missed-d.Missed[0]))
		t.Missed[1] += d.Missed[1] - missed
	}
}
