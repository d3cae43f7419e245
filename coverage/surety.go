package coverage

import (
	"context"
	"fmt"
	"slices"

	"balk/coverage/drive"
	"balk/coverage/ground"
	"balk/geo"
	"balk/geo/plane"
)

// Surety is how sure it is that a strip was missed, given the receiver. A strip is certain in the part that is:
// Strip.Certain and Strip.Likely are the parts, in m², and the word is theirs.
type Surety string

const (
	SuretyUnknown  Surety = ""         // the pass-to-pass error beside it is not known
	SuretyCertain  Surety = "certain"  // half of it or more is certain
	SuretyLikely   Surety = "likely"   // half of it or more is likely, what is certain included
	SuretyPossible Surety = "possible" // less; a strip of which nothing is likely is summed in Noise and not listed
)

// suretyShare is how much of a strip's area must be certain, or likely, for the strip to be called so.
const suretyShare = 0.5

// judge takes the parts over that are certain and likely, m², and finds the word for them. A narrow strip, of which the error takes most of
// the width, is called less sure than the existence of a gap there is: its word stands beside the m², and says the same.
func (s *Strip) judge(certain, likely float64) {
	s.Certain = min(certain, s.Area) // drawn polygons are rounded
	s.Likely = min(max(likely, s.Certain), s.Area)
	s.Surety = SuretyOf(s.Area, s.Certain, s.Likely)
}

// SuretyOf is the word for a strip of so many m², of which so many are certain and so many likely.
func SuretyOf(area, certain, likely float64) Surety {
	switch {
	case certain >= suretyShare*area:
		return SuretyCertain
	case likely >= suretyShare*area:
		return SuretyLikely
	}
	return SuretyPossible
}

// Where a pass-to-pass error comes from.
const (
	fromGiven   = "given"
	fromQuality = "fix quality"
	fromHDOP    = "HDOP, an upper bound"
)

// Noise is what the receiver's pass-to-pass error leaves open, and the strips that
// are only possible. They are summed here and not listed.
type Noise struct {
	PassError     float64 `json:"passError,omitempty"`     // m, 95 %, the greatest used, rounding of the coordinates included; 0 = not known
	PassErrorFrom string  `json:"passErrorFrom,omitempty"` // "given", "fix quality", "HDOP, an upper bound" or "spread of the passes, an upper bound"; "" = not known
	Rounding      float64 `json:"rounding,omitempty"`      // m, 95 %, the greatest part that rounded coordinates have in it
	Pieces        int     `json:"pieces"`                  // strips of which nothing is likely ...
	Area          float64 `json:"area"`                    // ... and their m², part of Balance.Missed
	MissedBest    float64 `json:"missedBest"`              // m² of missed ground, best estimate: the receiver's error makes some that there is not; its range is Telling.Missed
	Why           string  `json:"why,omitempty"`           // why surety is not known, everywhere or beside some passes
}

// judge says how sure each strip is, and takes those of which nothing is likely off the list.
// blind says for each strip whether it touches ground whose error is not known.
//
// With a pass-to-pass error e at a place the swaths are laid out again with every
// bar wider by e, half of it at each end, and every end of work moved outward
// along the travel by e/2, more where the log leaves open where it was (endError). A gap between two passes then shrinks by e. Let g be
// its width as logged; the error of g is normal with 95 % within ±e, so
//
//	P(true gap > x) = Φ(1.96·(g − x)/e)
//
//	│ pass 1 │← e/2 ┊  left  ┊ e/2 →│ pass 2 │     certain: left ≥ sliver at e,  P ≥ 97.5 %
//	│        │←────── gap g ───────→│        │     likely: at e/2, P ≥ Φ(0.98) = 83.6 %
//
// with x the width of a sliver: what is certain is that the true strip is one to list.
// So ground is left when a circle of the sliver's diameter fits
// into a piece of it; hairlines where edges just fail to meet do not count.
//
// These shares are those between passes of the same error. Passes of unlike errors
// e1 and e2 (one fix better than the other) are laid nearer by their mean, while g
// errs by √((e1² + e2²)/2), since one pass has 1/√2 of the error of a difference of
// two. A strip along the boundary has a pass on one side only, and shrinks by e/2; but there a place errs by more than from
// pass to pass, by ground.AgainstBoundary: ground nearer to the boundary than what of that is left counts as open.
//
//  1. Strips, slivers and Noise.Area together are Balance.Missed, as in findStrips.
//  2. Balance.Missed lies in Telling.Missed, which is of the whole field: see ground.Drawn.
//  3. More error never makes what is certainly or likely missed of a strip larger.
//  4. The sum of Certain is at most the least of Telling.Missed, and Certain at most Likely at most Area.
//  5. A strip off the list is more likely a gap than none, as g is above the sliver: P from ½ to 83.6 %.
//
// A strip that may have been worked in a log gap is likely at most; see doubtGaps.
//
// Where bars swing over each other, ground between wider ones does not always hold
// that between narrower ones. On tracks no set would drive that leaves some dm²
// where nothing was missed before: they belong to no strip and make none surer.
func (r *Result) judge(ctx context.Context, rim *plane.Edges, runs []drive.Run, blind []bool, pieces *Pieces) error {
	if !r.judged() {
		if r.Noise.PassErrorFrom != "" {
			r.Noise.Why = "the receiver's error is more than a third of the working width: the log cannot tell missed strips"
			r.Noise.MissedBest = r.Balance.Missed
		}
		return nil
	}
	// Of strips that a bound does not make certain nothing is known: the receiver may be much better.
	bound := r.Noise.PassErrorFrom == fromHDOP || r.Noise.PassErrorFrom == fromSpread
	var certain []float64
	var allWrong float64
	var err error
	if r.Noise.PassErrorFrom == fromSpread {
		certain, allWrong, err = r.allLeft(ctx, runs, pieces)
	} else {
		certain, err = r.leftAt(ctx, runs, 1, pieces, func(k int) bool { return !blind[k] })
	}
	if err != nil {
		return fmt.Errorf("at credited width + pass-to-pass error: %w", err)
	}
	likely, err := r.leftAt(ctx, runs, 0.5, pieces, func(k int) bool {
		return !blind[k] && (!bound || SuretyOf(r.Strips[k].Area, certain[k], 0) == SuretyCertain)
	})
	if err != nil {
		return fmt.Errorf("at credited width + half the pass-to-pass error: %w", err)
	}
	pieces.places = nil // not asked again; the edges of strips take much of the memory where most is missed
	for k := range r.Strips {
		if s := &r.Strips[k]; !blind[k] {
			if s.judge(certain[k], likely[k]); bound && s.Surety != SuretyCertain {
				s.Surety, s.Likely = SuretyUnknown, 0
			}
		}
	}
	r.sumNoise()
	n := &r.Noise
	most := 0.0
	if bound {
		if most, err = ground.MostOfAny(ctx, r.Layers.Field, rim, runs, r.Work, n.PassError, drive.ErrorOf(geo.QualityFixed), r.Balance.Missed); err != nil {
			return fmt.Errorf("drawn errors of any receiver: %w", err)
		}
	}
	if n.PassErrorFrom == fromSpread { // between both readings, and no estimate
		n.MissedBest, r.Telling.Missed = r.Balance.Missed, [2]float64{min(allWrong, r.Balance.Missed), most}
		return nil
	}
	shift := ground.ShiftOf(rim, runs, r.Work, n.PassError)
	drawn, err := ground.Drawn(ctx, r.Layers.Field, runs, r.Work, shift, r.Balance.Missed)
	if err != nil {
		return fmt.Errorf("drawn errors: %w", err)
	}
	n.MissedBest, r.Telling.Missed = drawn.Best, [2]float64{drawn.Least, max(drawn.Most, most)}
	if r.Telling.steadier() {
		n.MissedBest, r.Telling.Missed[1] = max(n.MissedBest, min(r.Balance.Missed, drawn.Unshifted)), max(r.Telling.Missed[1], drawn.Steered)
	}
	if r.Open.Shift, err = r.openShift(ctx, rim, runs, shift, drawn.Unshifted); err != nil {
		return fmt.Errorf("without a shift: %w", err)
	}
	sum := 0.0
	for _, s := range r.Strips {
		sum += s.Certain
	}
	least := &r.Telling.Missed[0]
	*least = max(*least, sum)
	n.MissedBest = max(n.MissedBest, *least)
	return nil
}

// sumNoise takes strips of which nothing is likely off the list.
func (r *Result) sumNoise() {
	r.Strips = slices.DeleteFunc(r.Strips, func(s Strip) bool {
		off := s.Surety == SuretyPossible && s.Likely == 0
		if off {
			r.Noise.Pieces++
			r.Noise.Area += s.Area
		}
		return off
	})
}

// noiseOf says which error is known of the runs.
func noiseOf(runs []drive.Run, w drive.Work) Noise {
	var n Noise
	fixes, blind := 0, 0
	bound := false
	for _, one := range runs {
		bound = bound || one.Bound
		n.PassError, n.Rounding = max(n.PassError, one.PassError), max(n.Rounding, one.Rounding)
		fixes, blind = fixes+len(one.Pass.Line), blind+one.Blind
	}
	switch {
	case w.PassError > 0:
		n.PassErrorFrom, n.PassError = fromGiven, max(n.PassError, w.PassError)
	case fixes > blind && bound:
		n.PassErrorFrom = fromHDOP
		n.Why = "how fixes were won is not logged, their HDOP is: the error is at most that of an autonomous receiver, 1 m at an HDOP of 1; strips that are not certain even so have no surety"
	case fixes > blind:
		n.PassErrorFrom = fromQuality
		if blind > 0 {
			n.Why = fmt.Sprintf("the quality of %d of %d fixes is not logged, or no error is known for it: swaths there count as exact, so that least and most missed may lie farther apart, and strips beside them have no surety", blind, fixes)
		}
	default:
		n = Noise{Why: "no pass-to-pass error is given, and the log holds no fix quality for which one is known"}
	}
	return n
}

// leftAt is how much of each strip that is asked for is still missed when the swaths are wider by a share of the
// pass-to-pass error, without slivers.
func (r *Result) leftAt(ctx context.Context, runs []drive.Run, share float64, pieces *Pieces, asked func(k int) bool) ([]float64, error) {
	var shapes []plane.Polygon
	for k, s := range r.Strips {
		if asked(k) {
			shapes = append(shapes, s.Shape)
		}
	}
	// Along the boundary it is not the passes' error that counts. Of the wider one half the passes' has been taken off already.
	still, err := ground.Still(ctx, r.Layers.Field, shapes, []ground.Passes{{Runs: runs, Work: r.Work}}, share, r.Work.Workers)
	if err != nil {
		return nil, err
	}
	return pieces.Left(ctx, still, r.Work.Workers)
}

// allLeft is leftAt for all strips at the whole error, and the m² of all missed ground with slivers.
func (r *Result) allLeft(ctx context.Context, runs []drive.Run, pieces *Pieces) (left []float64, total float64, err error) {
	field, err := plane.Inset(ctx, r.Layers.Field, ground.AgainstBoundary(r.Noise.PassError)-r.Noise.PassError/2)
	if err != nil {
		return nil, 0, err
	}
	total, still, err := ground.MissedAt(ctx, field, runs, r.Work, 1, true)
	if err != nil {
		return nil, 0, err
	}
	left, err = pieces.Left(ctx, still, r.Work.Workers)
	return left, total, err
}
